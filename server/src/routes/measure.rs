//! The measuring form: one dimension a step. It works as plain form posts; with scripts the page
//! takes the steps over and sends facts to `/api/facts`.

use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::units::Unit;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

use super::entry::EntryForm;
use super::performers::store_facts;
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::Problem;
use crate::facts::{Sent, instrument_key};
use crate::person::{Person, SeenFlag, State};
use crate::store::consent;
use crate::store::performer::Performer;
use crate::store::reading::Reading;
use crate::store::session::Session;
use crate::words;

/// Name of the cookie that remembers the unit.
const UNIT_COOKIE: &str = "unit";

pub fn configure(service: &mut ServiceConfig) {
    service.service(
        web::resource("/performers/{id}/measure")
            .route(web::get().to(page))
            .route(web::post().to(enter)),
    );
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<EntryForm, Done>(
        "/performers/{id}/measure",
        "Adds one reading, or skips one step.",
    ));
}

/// One step as the page and its script know it; its name stands with the words.
#[derive(Debug, Clone, Serialize)]
pub struct Step {
    /// Key of the dimension.
    pub key: &'static str,
    /// Key of the instrument.
    pub instrument: &'static str,
}

impl Step {
    /// The step of a dimension.
    #[must_use]
    pub fn of(dimension: Dimension) -> Step {
        Step { key: dimension.key(), instrument: instrument_key(dimension.instrument()) }
    }
}

#[derive(Serialize)]
struct MeasureView {
    performer: Performer,
    side: Side,
    other_side: Side,
    step: Step,
    number: usize,
    steps: Vec<Step>,
    previous: Option<&'static str>,
    next: Option<&'static str>,
    units: Vec<&'static str>,
    unit: &'static str,
    value: String,
    reading_id: Uuid,
    readings: Vec<Reading>,
    flags: Vec<SeenFlag>,
    is_kept: bool,
    /// Whether this hand is known well enough for a draft.
    is_enough: bool,
    error: Option<FieldError>,
    /// JSON for the script.
    data: String,
    /// Words for the script.
    script_words: String,
}

#[derive(Deserialize)]
struct Place {
    #[serde(default)]
    side: String,
    #[serde(default)]
    step: String,
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
    let step = Dimension::from_key(&place.step);
    let entry = Entry { is_kept: !place.kept.is_empty(), ..Entry::default() };
    show(&request, &app, &signed.session, *id, (side, step), entry).await
}

#[derive(Default)]
struct Entry {
    value: String,
    unit: Option<Unit>,
    is_kept: bool,
    error: Option<FieldError>,
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    (side, step): (Side, Option<Dimension>),
    entry: Entry,
) -> Result<HttpResponse, Problem> {
    let model = app.model();
    let (performer, state) = app
        .store
        .read(move |c| {
            let person = Person::load(c, id)?;
            Ok((person.performer.clone(), State::of(person, &model)))
        })
        .await?;
    if state.needs_consent {
        return Ok(see_other(&format!("/performers/{id}/consent")));
    }
    let step = step.unwrap_or_else(|| first_open(&state, side));
    let remembered = request.cookie(UNIT_COOKIE).and_then(|cookie| unit_of(cookie.value()));
    let unit = entry.unit.or(remembered).unwrap_or(Unit::Mm);
    let steps: Vec<Step> = Dimension::ALL.into_iter().map(Step::of).collect();
    let key_at = |index: Option<usize>| Some(steps.get(index?)?.key);
    let view = MeasureView {
        data: script_data(&performer, &state, &steps),
        script_words: script_words(app.pages.words.of(app.pages.words.choose(request))),
        side,
        other_side: side.other(),
        number: step.index() + 1,
        previous: key_at(step.index().checked_sub(1)),
        next: key_at(Some(step.index() + 1)),
        step: Step::of(step),
        units: Unit::ALL.map(Unit::key).into(),
        unit: unit.key(),
        value: entry.value,
        reading_id: Uuid::now_v7(),
        readings: state
            .readings
            .into_iter()
            .filter(|reading| reading.side == side && reading.dimension == step)
            .collect(),
        flags: state
            .flags
            .into_iter()
            .filter(|flag| flag.kept.is_none())
            .filter(|flag| flag.dimension.is_none_or(|dimension| dimension == step))
            .filter(|flag| flag.side.is_none_or(|flagged| flagged == side))
            .collect(),
        is_kept: entry.is_kept,
        is_enough: state.enough.contains(&side),
        error: entry.error,
        steps,
        performer,
    };
    let status = form_status(view.error.as_ref());
    let mut response = app.pages.page(request, session, status, "measure.html", &view)?;
    // Failing to remember the unit is no reason to lose the page.
    let _ = response.add_cookie(&unit_cookie(app, unit));
    Ok(response)
}

fn first_open(state: &State, side: Side) -> Dimension {
    let is_open = |dimension: &Dimension| {
        let is_measured =
            state.readings.iter().any(|r| r.side == side && r.dimension == *dimension);
        !is_measured && !state.skipped.contains(&(side, *dimension))
    };
    Dimension::ALL.into_iter().find(is_open).unwrap_or(Dimension::HandLength)
}

fn unit_of(key: &str) -> Option<Unit> {
    Unit::ALL.into_iter().find(|unit| unit.key() == key)
}

fn unit_cookie(app: &App, unit: Unit) -> Cookie<'static> {
    Cookie::build(UNIT_COOKIE, unit.key())
        .path("/")
        .same_site(SameSite::Lax)
        .secure(app.config.is_tls())
        .max_age(time::Duration::days(180))
        .finish()
}

fn script_data(performer: &Performer, state: &State, steps: &[Step]) -> String {
    let data = serde_json::json!({ "performer": performer, "state": state, "steps": steps });
    inside_page(&data)
}

fn script_words(words: &Value) -> String {
    let groups = [
        "measure",
        "side",
        "on_side",
        "unit",
        "instrument",
        "dimension",
        "population",
        "slip",
        "say",
    ];
    let mut chosen: serde_json::Map<String, Value> =
        groups.iter().map(|group| ((*group).to_owned(), words[*group].clone())).collect();
    // The script refuses lengths; every other refusal is the server's.
    let is_length = |code: &str| code.starts_with("value_") || code == "unit_unknown";
    let errors = words["error"].as_object().into_iter().flatten();
    let lengths = errors.filter(|(code, _)| is_length(code));
    chosen.insert("error".to_owned(), lengths.map(|(k, v)| (k.clone(), v.clone())).collect());
    inside_page(&Value::Object(chosen))
}

/// JSON that may stand inside a page: no `<`, so that no text in it can end its element.
fn inside_page(data: &Value) -> String {
    data.to_string().replace('<', "\\u003c")
}

/// The page without anybody's data, for a phone to keep: its script finds the performer.
///
/// # Errors
/// As [`crate::pages::Pages::render_guest`].
pub(super) async fn shell(app: &App, request: &HttpRequest) -> Result<String, Problem> {
    let steps: Vec<Step> = Dimension::ALL.into_iter().map(Step::of).collect();
    // A phone without signal asks for consent itself, by the workshop's own words if there are any.
    let own = app.store.read(consent::words).await?;
    let w = words::all().for_request(request);
    let consent = serde_json::json!({ "words": w["consent"], "text": own });
    let data =
        serde_json::json!({ "performer": null, "state": null, "steps": steps, "consent": consent });
    let view = serde_json::json!({
        "performer": { "id": "", "code": "", "name": "" },
        "side": Side::Right, "other_side": Side::Left,
        "step": Step::of(Dimension::HandLength), "number": 1,
        "previous": null, "next": Dimension::PalmLength.key(),
        "units": Unit::ALL.map(Unit::key), "unit": Unit::Mm.key(),
        "value": "", "reading_id": "", "readings": [], "flags": [], "is_kept": false, "is_enough": false,
        "error": null,
        "data": inside_page(&data),
        "script_words": script_words(app.pages.words.of(app.pages.words.choose(request))),
        "steps": steps,
    });
    app.pages.render_guest(request, "measure.html", &view)
}

async fn enter(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, EntryForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let performer = id.to_string();
    let (side, dimension) = crate::facts::step(&form.side, &form.step)?;
    let is_skip = form.action == "skip";
    let fact = if is_skip {
        let (side, dimension, reason) = (form.side, form.step, String::new());
        Sent::Skip { id: String::new(), performer, side, dimension, reason }
    } else {
        form.reading(performer)
    };
    let at = |dimension: Dimension, tail: &str| {
        let (side, step) = (side.key(), dimension.key());
        format!("/performers/{id}/measure?side={side}&step={step}{tail}")
    };
    match store_facts(&app, &session, vec![fact], None).await {
        Ok(()) if is_skip => {
            let next = Dimension::ALL.get(dimension.index() + 1).copied();
            Ok(see_other(&next.map_or_else(|| format!("/performers/{id}"), |next| at(next, ""))))
        }
        Ok(()) => {
            let mut response = see_other(&at(dimension, "&kept=1"));
            if let Some(unit) = unit_of(&form.unit) {
                let _ = response.add_cookie(&unit_cookie(&app, unit));
            }
            Ok(response)
        }
        Err(problem) => {
            let entry = Entry {
                value: form.value,
                unit: unit_of(&form.unit),
                is_kept: false,
                error: Some(in_form(&request, problem)?),
            };
            show(&request, &app, &session, *id, (side, Some(dimension)), entry).await
        }
    }
}
