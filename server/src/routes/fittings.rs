//! Recording a fitting: on the phone, with or without signal, and as a plain form.

use std::collections::BTreeMap;

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::fitting::{FitZone, Sign, ZoneKind};
use analysis::hand::Side;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::performers::store_facts;
use super::productions::see_other;
use super::{FieldError, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::batch::DraftInputs;
use crate::describe::{Api, Free, post};
use crate::done::Done;
use crate::error::Problem;
use crate::facts::Sent;
use crate::sent_fitting::SentFitting;
use crate::store::audit::Action;
use crate::store::draft_version::{self, DraftVersion};
use crate::store::performer::{self, Performer};
use crate::store::session::Session;
use crate::store::{Conn, StoreResult};

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/performers/{id}/fitting")
                .route(web::get().to(page))
                .route(web::post().to(enter)),
        )
        .route("/performers/{id}/fittings/withdraw", web::post().to(withdraw));
}

pub(super) fn describe(api: &mut Api) {
    let form = "Inputs: `id`, a UUID version 7; `side`, `version`, `worn_minutes`, `note`; for each \
        zone `answer.ZONE` or `mm.ZONE`; `sign.SIGN` for each sign of constriction.";
    api.add(post::<Free, Done>("/performers/{id}/fitting", "Records a fitting.").detail(form));
    api.add(post::<WithdrawForm, Done>(
        "/performers/{id}/fittings/withdraw",
        "Takes a fitting out of use.",
    ));
}

/// A version of somebody's gloves that can be tried on.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Sewn {
    /// Id of the version.
    pub id: Uuid,
    /// Its number.
    pub number: i64,
    /// Date on its pieces.
    pub date: String,
    /// Name of the fabric.
    pub fabric: String,
}

impl Sewn {
    fn of(version: &DraftVersion) -> Sewn {
        let inputs = DraftInputs::read(&version.inputs);
        Sewn {
            id: version.id,
            number: version.number,
            date: version.date.clone(),
            fabric: inputs.map(|inputs| inputs.performer().fabric).unwrap_or_default(),
        }
    }
}

/// Versions of a performer's gloves, newest first.
///
/// # Errors
/// Database errors only.
pub fn sewn(c: &Conn, performer: Uuid) -> StoreResult<Vec<Sewn>> {
    Ok(draft_version::list(c, performer)?.iter().rev().map(Sewn::of).collect())
}

#[derive(Serialize)]
struct ZoneRow {
    key: &'static str,
    kind: ZoneKind,
    answer: String,
    mm: String,
}

#[derive(Serialize)]
struct FittingView {
    performer: Option<Performer>,
    gloves: Vec<Sewn>,
    version: String,
    side: Side,
    zones: Vec<ZoneRow>,
    answers: [&'static str; 5],
    signs: Vec<Sign>,
    form: BTreeMap<String, String>,
    is_kept: bool,
    id: Uuid,
    /// JSON for the script.
    data: String,
    error: Option<FieldError>,
}

/// Keys of the five answers from tight to loose.
const ANSWERS: [&str; 5] = ["much_too_tight", "too_tight", "good", "too_loose", "much_too_loose"];

impl FittingView {
    fn new(
        person: Option<(Performer, Vec<Sewn>)>,
        side: Side,
        form: BTreeMap<String, String>,
    ) -> FittingView {
        let (performer, gloves) = person.unzip();
        let gloves = gloves.unwrap_or_default();
        let said = |name: String| form.get(&name).cloned().unwrap_or_default();
        let about = performer.as_ref().map(|p| serde_json::json!({ "id": p.id, "code": p.code }));
        let data = serde_json::json!({ "performer": about, "gloves": gloves });
        FittingView {
            version: said("version".to_owned()),
            zones: FitZone::ALL
                .into_iter()
                .map(|zone| ZoneRow {
                    key: zone.key(),
                    kind: zone.kind(),
                    answer: said(format!("answer.{}", zone.key())),
                    mm: said(format!("mm.{}", zone.key())),
                })
                .collect(),
            answers: ANSWERS,
            signs: Sign::ALL.into(),
            is_kept: false,
            id: Uuid::now_v7(),
            // Nothing in the JSON may end the script element it stands in.
            data: data.to_string().replace('<', "\\u003c"),
            error: None,
            performer,
            gloves,
            side,
            form,
        }
    }
}

#[derive(Deserialize)]
struct Place {
    #[serde(default)]
    side: String,
    #[serde(default)]
    version: String,
    #[serde(default)]
    kept: String,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Measure>,
    id: Path<Uuid>,
    place: Query<Place>,
) -> Result<HttpResponse, Problem> {
    let side = Side::from_key(&place.side).unwrap_or(Side::Right);
    let form = BTreeMap::from([("version".to_owned(), place.version.clone())]);
    show(&request, &app, &signed.session, (*id, side), form, (!place.kept.is_empty(), None)).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    (id, side): (Uuid, Side),
    form: BTreeMap<String, String>,
    (is_kept, error): (bool, Option<FieldError>),
) -> Result<HttpResponse, Problem> {
    let person = app.store.read(move |c| Ok((performer::get(c, id)?, sewn(c, id)?))).await?;
    let view = FittingView { is_kept, error, ..FittingView::new(Some(person), side, form) };
    let status = match view.error {
        Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
        None => StatusCode::OK,
    };
    app.pages.page(request, session, status, "fitting.html", &view)
}

/// The page without anybody in it, for phones without signal.
///
/// # Errors
/// Our own fault when the template does not render.
pub fn shell(app: &Data<App>, request: &HttpRequest) -> Result<String, Problem> {
    let view =
        FittingView { id: Uuid::nil(), ..FittingView::new(None, Side::Right, BTreeMap::new()) };
    app.pages.render_guest(request, "fitting.html", &view)
}

/// What a plain form says of a zone: a figure beside an answer takes its direction from it.
fn said(form: &BTreeMap<String, String>, zone: FitZone) -> String {
    let of = |kind: &str| {
        form.get(&format!("{kind}.{}", zone.key())).map(|text| text.trim()).unwrap_or_default()
    };
    let (answer, mm) = (of("answer"), of("mm"));
    match mm.chars().next() {
        None => answer.to_owned(),
        Some('+' | '-' | '\u{2212}') => mm.to_owned(),
        Some(_) if answer.ends_with("loose") => format!("-{mm}"),
        Some(_) => mm.to_owned(),
    }
}

async fn enter(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, BTreeMap<String, String>>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let of = |name: &str| form.get(name).cloned().unwrap_or_default();
    let answers = FitZone::ALL.map(|zone| (zone.key().to_owned(), said(&form, zone)));
    let signs = form.keys().filter_map(|name| name.strip_prefix("sign.")).map(str::to_owned);
    let sent = SentFitting {
        id: of("id"),
        performer: id.to_string(),
        side: of("side"),
        version: of("version"),
        answers: answers.into_iter().filter(|(_, said)| !said.is_empty()).collect(),
        signs: signs.collect(),
        worn_minutes: of("worn_minutes"),
        note: of("note"),
        taken_ms: 0,
    };
    let side = Side::from_key(&sent.side).unwrap_or(Side::Right);
    let facts = vec![Sent::Fitting(Box::new(sent))];
    match store_facts(&app, &session, facts, Some((Action::FittingAdded, *id))).await {
        Ok(()) => Ok(see_other(&format!("/performers/{id}/fitting?side={}&kept=1", side.key()))),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            show(&request, &app, &session, (*id, side), form, (false, Some(error))).await
        }
    }
}

#[derive(Deserialize, ToSchema)]
#[schema(as = WithdrawFittingForm)]
struct WithdrawForm {
    #[serde(default)]
    #[schema(value_type = Uuid)]
    fitting: String,
    #[serde(default)]
    #[schema(value_type = Side)]
    side: String,
}

async fn withdraw(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, WithdrawForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let reason = String::new();
    let fact = Sent::FittingWithdrawal { performer: id.to_string(), fitting: form.fitting, reason };
    store_facts(&app, &session, vec![fact], Some((Action::FittingWithdrawn, *id))).await?;
    let side = Side::from_key(&form.side).unwrap_or(Side::Right);
    Ok(see_other(&format!("/performers/{id}/next/{}", side.key())))
}
