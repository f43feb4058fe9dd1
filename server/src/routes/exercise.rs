//! The repeat exercise: a measurer measures some hands, then all of them again without sight of
//! the first values. What comes of it is shown at the end and counted on the measurers' page.

use std::collections::HashMap;

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::units::Unit;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::measurers::dimension_names;
use super::performers::DESK;
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, Free, get, post};
use crate::done::Done;
use crate::error::{Kind, Problem};
use crate::facts::{self, Sender, Sent};
use crate::inputs::is_script;
use crate::measurers::{MeasurerReport, report};
use crate::person::Person;
use crate::store::exercise::{self, Exercise};
use crate::store::performer::{self, Performer};
use crate::store::production::{self, Production};
use crate::store::session::Session;

/// Hands of an exercise as it is proposed, and at most: ten give the technical error to some 22 %.
const HANDS: usize = 10;
const MOST_HANDS: usize = 40;
/// Dimensions at most: what fits on one screen of a phone.
const MOST_DIMENSIONS: usize = 8;
/// What is proposed: one of each instrument and of each kind of place.
const PROPOSED: [Dimension; 5] = [
    Dimension::HandLength,
    Dimension::HandGirth,
    Dimension::WristGirth,
    Dimension::MiddleLength,
    Dimension::MiddleKnuckleGirth,
];

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/productions/{id}/exercise")
                .route(web::get().to(page))
                .route(web::post().to(start)),
        )
        .route("/productions/{id}/exercise/hand", web::post().to(enter))
        .route("/productions/{id}/exercise/leave", web::post().to(leave_out))
        .route("/api/productions/{id}/exercise", web::get().to(as_json));
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        post::<Free, Done>("/productions/{id}/exercise", "Starts a repeat exercise.")
            .detail("Inputs: `hand-ID-SIDE` for each hand, `dimension-KEY` for each dimension."),
    );
    let hand = "Inputs: `round`, `performer`, `side`, `unit`, and for each dimension `value-KEY` and \
        `id-KEY`, a UUID version 7. Any hand but the one whose turn it is conflicts.";
    api.add(
        post::<Free, Done>("/productions/{id}/exercise/hand", "Enters the values of one hand.")
            .may_conflict()
            .detail(hand),
    );
    api.add(get::<State>(
        "/api/productions/{id}/exercise",
        "How far one's own latest exercise is, and whose turn it is.",
    ));
    api.add(post::<LeaveForm, Done>(
        "/productions/{id}/exercise/leave",
        "Leaves a hand out of the exercise.",
    ));
}

/// One input of the hand that is measured now.
#[derive(Serialize, ToSchema)]
#[schema(as = ExerciseField)]
struct Field {
    dimension: Dimension,
    /// Id of the reading to be.
    id: String,
    value: String,
}

/// The hand to be measured now.
#[derive(Serialize, ToSchema)]
#[schema(as = ExerciseTurn)]
struct Turn {
    round: u8,
    number: usize,
    performer: Uuid,
    code: String,
    side: Side,
    fields: Vec<Field>,
    unit: &'static str,
    units: Vec<&'static str>,
}

/// A hand of the exercise and how often it was measured.
#[derive(Serialize, ToSchema)]
#[schema(as = ExerciseHand)]
struct HandLine {
    code: String,
    side: Side,
    measured: usize,
}

/// How far an exercise is.
#[derive(Serialize, ToSchema)]
#[schema(as = Exercise)]
struct State {
    /// Null when there is none.
    exercise: Option<Uuid>,
    /// Its hands in their order.
    hands: Vec<HandLine>,
    /// Null when there is none or it is over.
    turn: Option<Turn>,
}

async fn as_json(
    app: Data<App>,
    signed: Signed<rights::Measure>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (id, who) = (*id, signed.session.name);
    let exercise = app
        .store
        .read(move |c| {
            production::get(c, id)?;
            exercise::latest(c, id, &who)
        })
        .await?;
    let turn = exercise.as_ref().and_then(|exercise| turn(exercise, None));
    let hands = exercise.as_ref().map(lines).unwrap_or_default();
    Ok(HttpResponse::Ok().json(State { exercise: exercise.map(|one| one.id), hands, turn }))
}

#[derive(Serialize)]
struct ExerciseView {
    production: Production,
    performers: Vec<Performer>,
    dimensions: Vec<Dimension>,
    names: serde_json::Map<String, serde_json::Value>,
    /// Ticked in the form that starts one.
    ticked: Vec<String>,
    exercise: Option<Uuid>,
    hands: Vec<HandLine>,
    turn: Option<Turn>,
    /// The measurer's figures, once the exercise is over.
    report: Option<MeasurerReport>,
    most_hands: usize,
    most_dimensions: usize,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Measure>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, *id, None, None).await
}

/// Key of a tick for a hand.
fn hand_tick(performer: Uuid, side: Side) -> String {
    format!("hand-{performer}-{}", side.key())
}

/// Key of a tick for a dimension.
fn dimension_tick(dimension: Dimension) -> String {
    format!("dimension-{}", dimension.key())
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    sent: Option<HashMap<String, String>>,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let who = session.name.clone();
    let (production, performers, exercise, people, blind) = app
        .store
        .read(move |c| {
            let exercise = exercise::latest(c, id, &who)?;
            let is_over = exercise.as_ref().is_some_and(|e| e.next().is_none());
            let people = if is_over { Person::load_all(c, id)? } else { Vec::new() };
            let performers = performer::list(c, id)?;
            let blind = exercise::blind(c, id)?;
            Ok((production::get(c, id)?, performers, exercise, people, blind))
        })
        .await?;
    let turn = exercise.as_ref().and_then(|e| turn(e, sent.as_ref()));
    let report = match (&exercise, &turn) {
        (Some(_), None) => {
            report(&app.model(), &people, &blind).into_iter().find(|r| r.name == session.name)
        }
        _ => None,
    };
    let ticked = match &sent {
        Some(sent) => sent.keys().cloned().collect(),
        None => performers
            .iter()
            .take(HANDS)
            .map(|p| hand_tick(p.id, Side::Right))
            .chain(PROPOSED.map(dimension_tick))
            .collect(),
    };
    let hands = exercise.as_ref().map(lines).unwrap_or_default();
    let status = form_status(error.as_ref());
    let view = ExerciseView {
        production,
        performers,
        dimensions: Dimension::ALL.into(),
        names: dimension_names(),
        ticked,
        exercise: exercise.map(|e| e.id),
        hands,
        turn,
        report,
        most_hands: MOST_HANDS,
        most_dimensions: MOST_DIMENSIONS,
        error,
    };
    app.pages.page(request, session, status, "exercise.html", &view)
}

fn lines(exercise: &Exercise) -> Vec<HandLine> {
    let line = |(performer, code, side): &(Uuid, String, Side)| HandLine {
        code: code.clone(),
        side: *side,
        measured: [1, 2].iter().filter(|r| exercise.is_measured(**r, *performer, *side)).count(),
    };
    exercise.hands.iter().map(line).collect()
}

fn turn(exercise: &Exercise, sent: Option<&HashMap<String, String>>) -> Option<Turn> {
    let (round, (performer, code, side)) = exercise.next()?;
    let of = |prefix: &str, dimension: Dimension| {
        sent.and_then(|sent| sent.get(&format!("{prefix}-{}", dimension.key()))).cloned()
    };
    let field = |dimension: &Dimension| Field {
        dimension: *dimension,
        id: of("id", *dimension).unwrap_or_else(|| Uuid::now_v7().to_string()),
        value: of("value", *dimension).unwrap_or_default(),
    };
    let number = exercise.hands.iter().position(|hand| hand.0 == *performer && hand.2 == *side);
    let unit = sent.and_then(|sent| sent.get("unit")).map_or(Unit::Mm.key(), String::as_str);
    Some(Turn {
        round,
        number: number.unwrap_or(0) + 1,
        performer: *performer,
        code: code.clone(),
        side: *side,
        fields: exercise.dimensions.iter().map(field).collect(),
        unit: Unit::ALL.map(Unit::key).into_iter().find(|key| *key == unit).unwrap_or("mm"),
        units: Unit::ALL.map(Unit::key).into(),
    })
}

/// Forms of this page: ticks and values by key.
#[derive(Deserialize)]
struct AnyForm {
    #[serde(flatten)]
    sent: HashMap<String, String>,
}

async fn start(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, AnyForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form: AnyForm { sent }, .. } = posted;
    let id = *id;
    let performers = app
        .store
        .read(move |c| {
            production::get(c, id)?;
            performer::list(c, id)
        })
        .await?;
    let is_ticked = |key: String| sent.contains_key(&key);
    let dimensions: Vec<Dimension> =
        Dimension::ALL.into_iter().filter(|d| is_ticked(dimension_tick(*d))).collect();
    let hands: Vec<(Uuid, Side)> = performers
        .iter()
        .flat_map(|p| Side::BOTH.map(|side| (p.id, side)))
        .filter(|(performer, side)| is_ticked(hand_tick(*performer, *side)))
        .collect();
    let problem = if hands.len() < 2 || hands.len() > MOST_HANDS {
        Some(Problem::at("hands", "exercise_hands").with("most", MOST_HANDS))
    } else if dimensions.is_empty() || dimensions.len() > MOST_DIMENSIONS {
        Some(Problem::at("dimensions", "exercise_dimensions").with("most", MOST_DIMENSIONS))
    } else {
        None
    };
    if let Some(problem) = problem {
        let error = in_form(&request, problem)?;
        return show(&request, &app, &session, id, Some(sent), Some(error)).await;
    }
    let who = session.name.clone();
    app.store.write(move |c| exercise::start(c, id, &who, &dimensions, &hands)).await?;
    Ok(see_other(&format!("/productions/{id}/exercise")))
}

async fn enter(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, AnyForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form: AnyForm { sent }, .. } = posted;
    let id = *id;
    let who = session.name.clone();
    let exercise = app
        .store
        .read(move |c| {
            production::get(c, id)?;
            exercise::latest(c, id, &who)
        })
        .await?
        .ok_or(Kind::NotFound)?;
    let back = || see_other(&format!("/productions/{id}/exercise"));
    let of = |key: &str| sent.get(key).map_or("", String::as_str);
    // Sent twice, or after a step back in the browser: that hand has its values already.
    let elsewhere = || {
        if is_script(&request) { Err(Problem::conflict("exercise_elsewhere")) } else { Ok(back()) }
    };
    let Some((round, (performer, _, side))) = exercise.next() else { return elsewhere() };
    let place = (round.to_string(), performer.to_string(), side.key());
    let expected = (place.0.as_str(), place.1.as_str(), place.2);
    if (of("round"), of("performer"), of("side")) != expected {
        return elsewhere();
    }
    let understood = exercise.dimensions.iter().try_fold(Vec::new(), |mut facts, dimension| {
        let key = |prefix: &str| format!("{prefix}-{}", dimension.key());
        let value = of(&key("value"));
        facts::length(value, of("unit"))
            .map_err(|problem| Problem { field: Some(key("value")), ..problem })?;
        facts.push(Sent::Reading {
            id: of(&key("id")).to_owned(),
            performer: place.1.clone(),
            side: side.key().to_owned(),
            dimension: dimension.key().to_owned(),
            value: value.to_owned(),
            unit: of("unit").to_owned(),
            is_repair: false,
            taken_ms: 0,
        });
        Ok(facts)
    });
    let kept = match understood {
        Ok(facts) => keep(&app, &session, (exercise.id, round), facts).await,
        Err(problem) => Err(problem),
    };
    match kept {
        Ok(()) => {
            app.live.tell(id);
            Ok(back())
        }
        Err(problem) => {
            let error = in_form(&request, problem)?;
            show(&request, &app, &session, id, Some(sent), Some(error)).await
        }
    }
}

async fn keep(
    app: &Data<App>,
    session: &Session,
    (exercise, round): (Uuid, u8),
    facts: Vec<Sent>,
) -> Result<(), Problem> {
    let sender = Sender { measurer: session.name.clone(), device: DESK.to_owned(), is_home: false };
    let in_use = app.in_use();
    app.store
        .write(move |c| {
            let outcomes = facts::store(c, &in_use.model, facts, &sender)?;
            let kept: Vec<Uuid> = outcomes
                .iter()
                .filter(|outcome| outcome.problem.is_none())
                .filter_map(|outcome| Uuid::try_parse(outcome.id.as_deref()?).ok())
                .collect();
            exercise::mark(c, exercise, round, &kept)?;
            Ok(outcomes.into_iter().find_map(|outcome| outcome.problem))
        })
        .await?
        .map_or(Ok(()), Err)
}

#[derive(Deserialize, ToSchema)]
#[schema(as = LeaveHandForm)]
struct LeaveForm {
    #[serde(default)]
    #[schema(value_type = Uuid)]
    performer: String,
    #[serde(default)]
    #[schema(value_type = Side)]
    side: String,
}

async fn leave_out(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Measure, LeaveForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let performer = Uuid::try_parse(&form.performer).map_err(|_| Kind::NotFound)?;
    let side = Side::from_key(&form.side).ok_or(Kind::NotFound)?;
    app.store
        .write(move |c| {
            production::get(c, id)?;
            if let Some(exercise) = exercise::latest(c, id, &session.name)? {
                exercise::leave_out(c, exercise.id, performer, side)?;
            }
            Ok(())
        })
        .await?;
    Ok(see_other(&format!("/productions/{id}/exercise")))
}
