//! Measuring at home: a link for one performer that adds readings and reads nothing back. Plain
//! pages, one dimension a step; no script and nothing kept on the device.

use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::units::Unit;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::entry::EntryForm;
use super::measure::Step;
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::{guard, token};
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::{Kind, Problem};
use crate::facts::{self, Sender};
use crate::inputs::{Inputs, is_script};
use crate::store::audit::{self, Action};
use crate::store::consent::{self, Consent};
use crate::store::home_link;
use crate::store::performer;
use crate::store::{Conn, StoreResult};

/// Name of the cookie of a visit.
const COOKIE: &str = "home";

/// What readings taken at home are signed with.
const MEASURER: &str = "at home";

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/home/measure")
                .route(web::get().to(step_page))
                .route(web::post().to(enter)),
        )
        .service(
            web::resource("/home/{token}")
                .route(web::get().to(start_page))
                .route(web::post().to(begin)),
        );
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        post::<BeginForm, Done>("/home/{token}", "Begins a visit by a link for measuring at home.")
            .open(),
    );
    api.add(
        post::<EntryForm, Done>("/home/measure", "Adds one reading at home.")
            .open()
            .absent()
            .detail("The cookie of the visit is the key; 404 without it."),
    );
}

#[derive(Serialize)]
struct StartView {
    is_open: bool,
    /// A minor: whoever begins agrees as their guardian.
    needs_consent: bool,
    /// The workshop's own words of consent, if there are any.
    words: Option<String>,
    error: Option<FieldError>,
}

/// What the page says of a link that does not open.
const OVER: StartView =
    StartView { is_open: false, needs_consent: false, words: None, error: None };

fn start(app: &App, request: &HttpRequest, view: &StartView) -> Result<HttpResponse, Problem> {
    if !view.is_open && is_script(request) {
        return Err(Kind::NotFound.into());
    }
    let status =
        if view.is_open { form_status(view.error.as_ref()) } else { StatusCode::NOT_FOUND };
    let html = app.pages.render_guest(request, "home.html", view)?;
    Ok(HttpResponse::build(status).content_type("text/html; charset=utf-8").body(html))
}

async fn start_page(
    request: HttpRequest,
    app: Data<App>,
    link: Path<String>,
) -> Result<HttpResponse, Problem> {
    let hash = token::hash(&link);
    let view = app.store.read(move |c| open_view(c, &hash)).await?;
    start(&app, &request, &view)
}

fn open_view(c: &Conn, link: &[u8]) -> StoreResult<StartView> {
    let Some(performer) = home_link::opens_for(c, link)? else { return Ok(OVER) };
    let needs_consent = consent::is_missing(c, &performer::get(c, performer)?)?;
    Ok(StartView { is_open: true, needs_consent, words: consent::words(c)?, error: None })
}

#[derive(Default, Deserialize, ToSchema)]
#[schema(as = BeginAtHomeForm)]
struct BeginForm {
    /// Ticked by a guardian.
    #[serde(default)]
    agreed: String,
    /// The words as the page showed them.
    #[serde(default)]
    words: String,
}

async fn begin(
    request: HttpRequest,
    app: Data<App>,
    link: Path<String>,
    form: Result<Inputs<BeginForm>, Problem>,
) -> Result<HttpResponse, Problem> {
    guard::check_origin(&request)?;
    let Inputs(form) = form?;
    let words = facts::consent_words(&form.words)?;
    let hash = token::hash(&link);
    let mut view = app.store.read(move |c| open_view(c, &hash)).await?;
    if view.needs_consent && form.agreed.is_empty() {
        view.error = Some(in_form(&request, Problem::at("agreed", "consent_not_ticked"))?);
        return start(&app, &request, &view);
    }
    let needs_consent = view.needs_consent;
    let visit = token::random().map_err(|_| Kind::Fault)?;
    let (link_hash, visit_hash) = (token::hash(&link), token::hash(&visit));
    let begun = app
        .store
        .write(move |c| {
            let performer = home_link::begin_visit(c, &link_hash, &visit_hash)?;
            if needs_consent {
                consent::add(c, &agreed(performer, words))?;
                audit::add(c, MEASURER, Action::ConsentRecorded, Some(performer))?;
            }
            Ok(())
        })
        .await;
    match begun.map_err(Problem::from) {
        Ok(()) => {
            let cookie = Cookie::build(COOKIE, visit)
                .path("/home")
                .http_only(true)
                .secure(app.config.is_tls())
                .same_site(SameSite::Strict)
                .max_age(time::Duration::days(1))
                .finish();
            let mut response = see_other("/home/measure");
            response.add_cookie(&cookie).map_err(|_| Kind::Fault)?;
            Ok(response)
        }
        Err(Problem { kind: Kind::NotFound, .. }) => start(&app, &request, &OVER),
        Err(fault) => Err(fault),
    }
}

fn agreed(performer: Uuid, words: String) -> Consent {
    Consent {
        id: Uuid::now_v7(),
        performer,
        is_given: true,
        manner: "link".to_owned(),
        words,
        recorded_by: MEASURER.to_owned(),
        at_ms: 0,
    }
}

/// The performer of the visit; nothing else about them leaves this function.
async fn visited(request: &HttpRequest, app: &Data<App>) -> Result<Option<Uuid>, Problem> {
    let Some(cookie) = request.cookie(COOKIE) else { return Ok(None) };
    let hash = token::hash(cookie.value());
    Ok(app.store.read(move |c| home_link::visited(c, &hash)).await?)
}

#[derive(Serialize)]
struct StepView {
    code: String,
    side: Side,
    other_side: Side,
    step: Step,
    number: usize,
    total: usize,
    previous: Option<&'static str>,
    next: Option<&'static str>,
    units: Vec<&'static str>,
    unit: String,
    value: String,
    reading_id: Uuid,
    is_kept: bool,
    error: Option<FieldError>,
}

#[derive(Deserialize)]
struct Place {
    #[serde(default)]
    side: String,
    #[serde(default)]
    step: String,
    #[serde(default)]
    unit: String,
    #[serde(default)]
    kept: String,
}

async fn step_page(
    request: HttpRequest,
    app: Data<App>,
    place: Query<Place>,
) -> Result<HttpResponse, Problem> {
    let Some(performer) = visited(&request, &app).await? else {
        return start(&app, &request, &OVER);
    };
    let side = Side::from_key(&place.side).unwrap_or(Side::Right);
    let dimension = Dimension::from_key(&place.step).unwrap_or(Dimension::HandLength);
    let entry =
        Entry { unit: place.unit.clone(), is_kept: !place.kept.is_empty(), ..Entry::default() };
    show(&request, &app, performer, (side, dimension), entry).await
}

#[derive(Default)]
struct Entry {
    value: String,
    unit: String,
    is_kept: bool,
    error: Option<FieldError>,
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    performer: Uuid,
    (side, dimension): (Side, Dimension),
    entry: Entry,
) -> Result<HttpResponse, Problem> {
    let code = app.store.read(move |c| Ok(performer::get(c, performer)?.code)).await?;
    let key_at = |index: Option<usize>| Some(Dimension::ALL.get(index?)?.key());
    let unit = if entry.unit.is_empty() { Unit::Mm.key().to_owned() } else { entry.unit };
    let view = StepView {
        code,
        side,
        other_side: side.other(),
        step: Step::of(dimension),
        number: dimension.index() + 1,
        total: Dimension::COUNT,
        previous: key_at(dimension.index().checked_sub(1)),
        next: key_at(Some(dimension.index() + 1)),
        units: Unit::ALL.map(Unit::key).into(),
        unit,
        value: entry.value,
        reading_id: Uuid::now_v7(),
        is_kept: entry.is_kept,
        error: entry.error,
    };
    let status = form_status(view.error.as_ref());
    let html = app.pages.render_guest(request, "home_step.html", &view)?;
    Ok(HttpResponse::build(status).content_type("text/html; charset=utf-8").body(html))
}

async fn enter(
    request: HttpRequest,
    app: Data<App>,
    form: Result<Inputs<EntryForm>, Problem>,
) -> Result<HttpResponse, Problem> {
    guard::check_origin(&request)?;
    let Some(performer) = visited(&request, &app).await? else {
        return start(&app, &request, &OVER);
    };
    let Inputs(form) = form?;
    let (side, dimension) = facts::step(&form.side, &form.step)?;
    let fact = form.reading(performer.to_string());
    let sender = Sender { measurer: MEASURER.to_owned(), device: "home".to_owned(), is_home: true };
    let in_use = app.in_use();
    let outcomes =
        app.store.write(move |c| facts::store(c, &in_use.model, vec![fact], &sender)).await?;
    match outcomes.into_iter().find_map(|outcome| outcome.problem) {
        None => {
            let next = Dimension::ALL.get(dimension.index() + 1).copied();
            let (side, next) = match (next, side) {
                (Some(next), _) => (side, next),
                (None, Side::Right) => (Side::Left, Dimension::HandLength),
                (None, Side::Left) => (Side::Left, dimension),
            };
            let (side, step, unit) = (side.key(), next.key(), form.unit);
            Ok(see_other(&format!("/home/measure?side={side}&step={step}&unit={unit}&kept=1")))
        }
        Some(problem) => {
            let error = Some(in_form(&request, problem)?);
            let entry = Entry { value: form.value, unit: form.unit, is_kept: false, error };
            show(&request, &app, performer, (side, dimension), entry).await
        }
    }
}
