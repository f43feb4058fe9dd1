//! One performer: both hands, what was measured and estimated, and what to do about the flags.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::{Basis, Population};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::keeping::backups_gone;
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::calls;
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::Problem;
use crate::facts::{self, Sender, Sent};
use crate::person::{MeasureAgain, Person, SeenFlag, tenth};
use crate::store::audit::{self, Action};
use crate::store::consent;
use crate::store::fabric;
use crate::store::performer::{self, Performer};
use crate::store::production::{self, Production};
use crate::store::reading::Reading;
use crate::store::session::Session;
use crate::words;

/// Name of the device in readings entered at a desk.
pub(super) const DESK: &str = "page";

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/performers/{id}", web::get().to(page))
        .route("/performers/{id}/accept", web::post().to(accept))
        .route("/performers/{id}/repair", web::post().to(repair))
        .route("/performers/{id}/withdraw", web::post().to(withdraw))
        .route("/performers/{id}/reference", web::post().to(compare));
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<AcceptForm, Done>("/performers/{id}/accept", "Keeps a flag with a reason."));
    api.add(
        post::<RepairForm, Done>("/performers/{id}/repair", "Takes a repair that a flag offers.")
            .may_conflict(),
    );
    api.add(post::<WithdrawForm, Done>("/performers/{id}/withdraw", "Takes a reading out of use."));
    api.add(post::<ReferenceForm, Done>(
        "/performers/{id}/reference",
        "Compares with other published people.",
    ));
}

#[derive(Serialize)]
struct Cell {
    side: Side,
    basis: Basis,
    mm: f64,
    low_mm: f64,
    high_mm: f64,
    readings: Vec<Reading>,
    is_flagged: bool,
    is_left_out: bool,
}

#[derive(Serialize)]
struct Row {
    dimension: Dimension,
    name: &'static str,
    cells: Vec<Cell>,
}

#[derive(Serialize)]
struct PerformerView {
    production: Production,
    performer: Performer,
    fabric: Option<String>,
    is_minor: bool,
    needs_consent: bool,
    measure_again: Option<MeasureAgain>,
    /// About when the last backup that holds what is erased now is gone, if there are backups.
    backups_gone: Option<String>,
    rows: Vec<Row>,
    flags: Vec<SeenFlag>,
    kept: Vec<SeenFlag>,
    measured: usize,
    estimated: usize,
    reason: String,
    reason_for: String,
    references: Vec<String>,
    /// Every call of the production.
    calls: Vec<String>,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::See>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, *id, None, None).await
}

/// The page again, with what was refused at its input.
pub(super) async fn show_refused(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    problem: Problem,
) -> Result<HttpResponse, Problem> {
    show(request, app, session, id, None, Some(in_form(request, problem)?)).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    form: Option<AcceptForm>,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let model = app.model();
    let sees_names = rights::sees_names(session.role);
    let backups_gone = backups_gone(app);
    let (reason_for, reason) = form.map_or_else(Default::default, |f| (f.flag, f.reason));
    let status = form_status(error.as_ref());
    let view = app
        .store
        .read(move |c| {
            let person = Person::load(c, id)?;
            let production = production::get(c, person.performer.production)?;
            let fabric = match person.performer.fabric {
                Some(fabric) => Some(fabric::get(c, fabric)?.name),
                None => None,
            };
            let roster = performer::list(c, production.id)?;
            let calls = calls::distinct(roster.iter().map(|one| one.call.as_str()));
            let assessed = person.assess(&model);
            let rows = Dimension::ALL.map(|dimension| Row {
                dimension,
                name: dimension.name(),
                cells: Side::BOTH.map(|side| cell(&person, &assessed, side, dimension)).into(),
            });
            let measured = assessed.hands.measured();
            let measure_again = person.measure_again(&model, &assessed);
            let (kept, flags) = assessed.flags.into_iter().partition(|flag| flag.kept.is_some());
            let needs_consent = person.needs_consent();
            let mut performer = person.performer;
            if !sees_names {
                performer.name.clear();
            }
            Ok(PerformerView {
                production,
                is_minor: consent::is_minor(performer.population),
                needs_consent,
                measure_again,
                backups_gone,
                performer,
                fabric,
                rows: rows.into(),
                flags,
                kept,
                measured,
                estimated: 2 * Dimension::COUNT - measured,
                reason,
                reason_for,
                calls,
                references: Population::all().into_iter().map(Population::key).collect(),
                error,
            })
        })
        .await?;
    app.pages.page(request, session, status, "performer.html", &view)
}

fn cell(
    person: &Person,
    assessed: &crate::person::Assessed,
    side: Side,
    dimension: Dimension,
) -> Cell {
    let estimate = assessed.hand(side).get(dimension);
    let concerns = |flag: &SeenFlag| {
        flag.dimension == Some(dimension) && flag.side.is_none_or(|flagged| flagged == side)
    };
    Cell {
        side,
        basis: estimate.basis,
        mm: tenth(estimate.mm),
        low_mm: tenth(estimate.low_mm),
        high_mm: tenth(estimate.high_mm),
        readings: person
            .readings
            .iter()
            .filter(|reading| reading.side == side && reading.dimension == dimension)
            .cloned()
            .collect(),
        is_flagged: assessed.open_flags().any(concerns),
        is_left_out: assessed.hands.side(side)[dimension].is_some()
            && estimate.basis == Basis::Estimated,
    }
}

/// Stores facts for a form: the first refusal is the form's problem.
pub(super) async fn store_facts(
    app: &Data<App>,
    session: &Session,
    facts: Vec<Sent>,
    note: Option<(Action, Uuid)>,
) -> Result<(), Problem> {
    let sender = Sender { measurer: session.name.clone(), device: DESK.to_owned(), is_home: false };
    let who = session.name.clone();
    let in_use = app.in_use();
    let outcomes = app
        .store
        .write(move |c| {
            let outcomes = facts::store(c, &in_use.model, facts, &sender)?;
            if let Some((action, object)) =
                note.filter(|_| outcomes.iter().all(|o| o.problem.is_none()))
            {
                audit::add(c, &who, action, Some(object))?;
            }
            Ok(outcomes)
        })
        .await?;
    match outcomes.into_iter().find_map(|outcome| outcome.problem) {
        Some(problem) => Err(problem),
        None => Ok(()),
    }
}

#[derive(Debug, Deserialize, ToSchema)]
struct AcceptForm {
    #[serde(default)]
    flag: String,
    #[serde(default)]
    reason: String,
    #[serde(default)]
    back: String,
}

async fn accept(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, AcceptForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let fact = Sent::Acceptance {
        id: String::new(),
        performer: id.to_string(),
        flag: form.flag.clone(),
        reason: form.reason.clone(),
    };
    match store_facts(&app, &session, vec![fact], Some((Action::FlagAccepted, *id))).await {
        Ok(()) => Ok(see_other(&back(*id, &form.back))),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            show(&request, &app, &session, *id, Some(form), Some(error)).await
        }
    }
}

#[derive(Deserialize, ToSchema)]
struct RepairForm {
    #[serde(default)]
    flag: String,
    /// Place of the repair in the flag's list. Text, since a number does not pass through the
    /// form's flattened token.
    #[serde(default)]
    #[schema(value_type = u32)]
    repair: String,
    #[serde(default)]
    back: String,
}

async fn repair(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, RepairForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let model = app.model();
    let person = app.store.read(move |c| Person::load(c, id)).await?;
    let assessed = person.assess(&model);
    let chosen = assessed
        .flags
        .into_iter()
        .find(|flag| flag.key == form.flag)
        .and_then(|flag| flag.repairs.into_iter().nth(form.repair.parse().ok()?));
    let Some(repair) = chosen else {
        return Err(Problem::conflict("repair_outdated"));
    };
    let why = words::sentence(app.pages.words.for_request(&request), &repair.says);
    let mut facts = Vec::new();
    for (side, dimension, mm) in repair.values {
        let outdated =
            person.readings.iter().filter(|r| r.side == side && r.dimension == dimension);
        facts.extend(outdated.map(|reading| Sent::Withdrawal {
            performer: id.to_string(),
            reading: reading.id.to_string(),
            reason: why.clone(),
        }));
        facts.push(Sent::Reading {
            id: Uuid::now_v7().to_string(),
            performer: id.to_string(),
            side: side.key().to_owned(),
            dimension: dimension.key().to_owned(),
            value: tenth(mm).to_string(),
            unit: "mm".to_owned(),
            is_repair: true,
            taken_ms: 0,
        });
    }
    store_facts(&app, &session, facts, Some((Action::ReadingWithdrawn, id))).await?;
    Ok(see_other(&back(id, &form.back)))
}

#[derive(Deserialize, ToSchema)]
#[schema(as = WithdrawReadingForm)]
struct WithdrawForm {
    #[serde(default)]
    #[schema(value_type = Uuid)]
    reading: String,
    #[serde(default)]
    reason: String,
    #[serde(default)]
    back: String,
}

async fn withdraw(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, WithdrawForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let fact =
        Sent::Withdrawal { performer: id.to_string(), reading: form.reading, reason: form.reason };
    store_facts(&app, &session, vec![fact], Some((Action::ReadingWithdrawn, *id))).await?;
    Ok(see_other(&back(*id, &form.back)))
}

#[derive(Deserialize, ToSchema)]
struct ReferenceForm {
    #[serde(default)]
    population: String,
}

/// Compares with other published people. From a child to an adult only for whoever plans: a
/// measurer in a hurry must not lose sight of the age that consent hangs on.
async fn compare(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, ReferenceForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let action = Action::ReferenceChanged;
    let done = match Population::from_key(&form.population) {
        Some(population) if rights::may::<rights::Plan>(session.role) => {
            let who = session.name.clone();
            app.store
                .write(move |c| {
                    performer::set_population(c, id, population)?;
                    audit::add(c, &who, action, Some(id))
                })
                .await
                .map_err(Problem::from)
        }
        _ => {
            let fact = Sent::Reference {
                id: String::new(),
                performer: id.to_string(),
                population: form.population,
            };
            store_facts(&app, &session, vec![fact], Some((action, id))).await
        }
    };
    match done {
        Ok(()) => Ok(see_other(&format!("/performers/{id}"))),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            show(&request, &app, &session, id, None, Some(error)).await
        }
    }
}

/// Where a form of a performer leads back to: the step it stood in, or the performer's page.
fn back(id: Uuid, step: &str) -> String {
    match step.split_once('.').map(|(side, dimension)| facts::step(side, dimension)) {
        Some(Ok((side, dimension))) => {
            format!("/performers/{id}/measure?side={}&step={}", side.key(), dimension.key())
        }
        _ => format!("/performers/{id}"),
    }
}
