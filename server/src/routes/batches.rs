//! Batches: drafts of a whole production, made in the background, fetched as one ZIP.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::check::Phrase;
use analysis::dimension::Dimension;
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::batch_jobs::BatchState;
use super::batch_start::{self, BatchOrder, Decision, StartForm};
use super::dates;
use super::{FieldError, form_status};
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::batch::{BatchPerformer, Called, DraftInputs, FEW_READINGS};
use crate::calls;
use crate::describe::{Api, get, post};
use crate::done::Done;
use crate::draft_options::{DraftForm, Wanted};
use crate::error::Problem;
use crate::export::pdf::Paper;
use crate::fits::{Fits, Known};
use crate::models::InUse;
use crate::person::{Person, Step};
use crate::store::batch::Batch;
use crate::store::draft_version::{self, DraftVersion};
use crate::store::production::{self, Production};
use crate::store::session::Session;
use crate::store::{Conn, StoreResult, batch as batches, fabric};
use crate::wanted::{Base, kept, to_draft};

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/productions/{id}/batches")
                .app_data(web::FormConfig::default().limit(batch_start::FORM_LIMIT))
                .route(web::get().to(page))
                .route(web::post().to(batch_start::by_form)),
        )
        .service(
            web::resource("/api/productions/{id}/batches")
                .route(web::get().to(list))
                .route(web::post().to(batch_start::by_api)),
        );
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        get::<Batch>("/api/productions/{id}/batches", "Batches of a production, newest first.")
            .many(),
    );
    api.add(
        post::<StartForm, Done>(
            "/productions/{id}/batches",
            "Starts a batch of drafts of a production.",
        )
        .makes(),
    );
    api.add(
        post::<BatchOrder, BatchState>(
            "/api/productions/{id}/batches",
            "Starts a batch for performers named by id.",
        )
        .makes(),
    );
}

#[derive(Serialize)]
struct PaperChoice {
    key: String,
    name: String,
}

#[derive(Serialize)]
struct BatchCard {
    #[serde(flatten)]
    batch: Batch,
    started: String,
    /// Whether a thread is at it; a running batch without one waits for the server's next start.
    is_at_work: bool,
}

/// How ready a performer is to be drafted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
enum Readiness {
    /// Nothing measured.
    NotMeasured,
    /// A flag is open.
    Flagged,
    /// Most rests on estimates.
    MostlyEstimated,
    /// Measured well enough.
    Ready,
}

/// A performer before the batch runs.
#[derive(Serialize)]
struct Candidate {
    id: Uuid,
    code: String,
    call: String,
    readiness: Readiness,
    measured: usize,
    of: usize,
    flags: Vec<Vec<Phrase>>,
    /// The one reading that would help most, where something is odd or most rests on estimates.
    next: Option<Step>,
    /// Whether measuring again is a choice: it is not where everything is measured and nothing odd.
    may_again: bool,
    /// Whether somebody decided so before.
    is_again: bool,
    /// `draft`, `again` or `out`, as the form shows it.
    decision: Decision,
    /// Version that the gloves would carry, and whether it is a new one.
    version: i64,
    is_changed: bool,
    has_own: bool,
    /// What is missing for the choices, where something is.
    problem: Option<String>,
}

#[derive(Serialize)]
struct BatchesView {
    production: Production,
    candidates: Vec<Candidate>,
    changed: usize,
    batches: Vec<BatchCard>,
    papers: Vec<PaperChoice>,
    paper: String,
    roll_width: String,
    /// Every call of the roster, the one chosen, and whether only those changed are taken.
    calls: Vec<String>,
    call: String,
    which: String,
    /// What is drafted for everybody who has no choices of their own.
    form: DraftForm,
    error: Option<FieldError>,
}

/// A performer with everything a batch needs to know.
pub(super) struct Prepared {
    pub(super) id: Uuid,
    pub(super) performer: BatchPerformer,
    flags: Vec<Vec<Phrase>>,
    next: Option<Step>,
    is_settled: bool,
    /// Whether somebody decided that they are to be measured again.
    pub(super) is_again: bool,
    pub(super) inputs: String,
    latest: Option<DraftVersion>,
    /// Why the choices cannot be drafted for them.
    pub(super) problem: Option<Problem>,
    /// Whether choices were kept for them alone.
    has_own: bool,
}

impl Prepared {
    pub(super) fn is_changed(&self) -> bool {
        self.latest.as_ref().is_none_or(|latest| latest.inputs != self.inputs)
    }

    /// Their line of a call sheet, when they are called without being drafted.
    pub(super) fn called(&self) -> Called {
        Called {
            call: self.performer.call.clone(),
            code: self.performer.code.clone(),
            fabric: self.performer.fabric.clone(),
            measured: self.performer.hands.measured(),
            helps_most: self.next.map(|step| (step.side, step.dimension)),
        }
    }

    pub(super) fn is_measured(&self) -> bool {
        self.performer.hands.measured() > 0
    }

    /// `w` are the words of a language.
    fn candidate(&self, w: &Value, decision: Decision) -> Candidate {
        let (measured, of) = (self.performer.hands.measured(), 2 * Dimension::COUNT);
        let readiness = match measured {
            0 => Readiness::NotMeasured,
            _ if !self.flags.is_empty() => Readiness::Flagged,
            few if few < FEW_READINGS => Readiness::MostlyEstimated,
            _ => Readiness::Ready,
        };
        let latest = self.latest.as_ref().map_or(0, |latest| latest.number);
        Candidate {
            id: self.id,
            code: self.performer.code.clone(),
            call: self.performer.call.clone(),
            readiness,
            measured,
            of,
            flags: self.flags.clone(),
            next: self.next,
            may_again: readiness != Readiness::Ready || !self.is_settled || self.is_again,
            is_again: self.is_again,
            decision,
            version: latest + i64::from(self.is_changed()),
            is_changed: self.is_changed(),
            has_own: self.has_own,
            problem: self.problem.as_ref().map(|problem| problem.body(w).message),
        }
    }
}

/// Everybody of a production, as they would be drafted now.
/// `choices` stand for those kept for everybody, where given.
pub(super) fn prepare(
    c: &Conn,
    in_use: &InUse,
    id: Uuid,
    choices: Option<DraftForm>,
) -> StoreResult<(Production, Vec<Prepared>)> {
    let mut production = production::get(c, id)?;
    if let Some(choices) = choices {
        production.choices = choices.apart_from(&DraftForm::of_the_house()).to_keep();
    }
    let fabrics = fabric::list(c, id)?;
    let known: Vec<Known> =
        fabrics.iter().map(|fabric| Known::of(c, fabric)).collect::<StoreResult<_>>()?;
    let mut all = Vec::new();
    for person in Person::load_all(c, id)? {
        let fabric = fabrics.iter().find(|f| Some(f.id) == person.performer.fabric);
        let assessed = person.assess(&in_use.model);
        let facts = fabric.map(|fabric| &fabric.facts);
        let known = known.iter().find(|known| Some(known.fabric) == person.performer.fabric);
        let base = Base::of(facts, &assessed.filled, person.performer.population)
            .with_fits(&assessed.filled, Fits::load(c, person.performer.id, known)?);
        let chosen = kept(&production, &person.performer);
        let (wanted, problem) = match base.wanted(&chosen) {
            Ok(wanted) => (wanted, None),
            Err(problem) => (Wanted { options: base.options, master: None }, Some(problem)),
        };
        let performer = to_draft(&person, &assessed, fabric, wanted);
        let flags: Vec<_> = assessed.open_flags().map(|flag| flag.says.clone()).collect();
        let is_short = performer.hands.measured() < FEW_READINGS;
        let is_asked = is_short || !flags.is_empty() || person.is_to_measure_again;
        let next = is_asked.then(|| person.helps_most(&in_use.model, &assessed)).flatten();
        all.push(Prepared {
            problem,
            has_own: !person.performer.choices.is_empty(),
            id: person.performer.id,
            is_settled: person.is_settled(&assessed.hands),
            is_again: person.is_to_measure_again,
            flags,
            inputs: DraftInputs::of(&production.name, &performer).with_model(&in_use.tag).text(),
            latest: draft_version::latest(c, person.performer.id)?,
            next,
            performer,
        });
    }
    Ok((production, all))
}

async fn list(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let all = app.store.read(move |c| {
        production::get(c, *id)?;
        batches::list(c, *id)
    });
    Ok(HttpResponse::Ok().json(all.await?))
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, *id, StartForm::blank(), None).await
}

pub(super) async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    sent: StartForm,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let in_use = app.in_use();
    let choices = error.is_some().then(|| sent.choices.clone());
    let (production, prepared, batches) = app
        .store
        .read(move |c| {
            let (production, prepared) = prepare(c, &in_use, id, choices)?;
            Ok((production, prepared, batches::list(c, id)?))
        })
        .await?;
    let papers = Paper::SHEETS
        .iter()
        .map(|paper| PaperChoice { key: paper.key(), name: paper.name() })
        .collect();
    let batches = batches
        .into_iter()
        .map(|batch| BatchCard {
            started: dates::moment(batch.started_ms),
            is_at_work: app.jobs.get(batch.id).is_some(),
            batch,
        })
        .collect();
    let status = form_status(error.as_ref());
    let w = app.pages.words.for_request(request);
    // A form that was refused comes back as it was sent.
    let decision = |one: &Prepared| match &error {
        Some(_) => sent.decision(one),
        None => Decision::at_first(one),
    };
    let candidates: Vec<Candidate> =
        prepared.iter().map(|one| one.candidate(w, decision(one))).collect();
    let changed = candidates.iter().filter(|candidate| candidate.is_changed).count();
    let form = DraftForm::kept(&production.choices).over(&DraftForm::of_the_house());
    let calls = calls::distinct(candidates.iter().map(|candidate| candidate.call.as_str()));
    let StartForm { paper, roll_width, call, which, .. } = sent;
    let view = BatchesView {
        production,
        candidates,
        changed,
        batches,
        papers,
        paper,
        roll_width,
        calls,
        call,
        which,
        form,
        error,
    };
    app.pages.page(request, session, status, "batches.html", &view)
}
