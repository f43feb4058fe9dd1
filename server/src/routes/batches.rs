//! Batches: drafts of a whole production, made in the background, fetched as one ZIP.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::check::Phrase;
use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::plan::{DEFAULT_TOLERANCE_MM, plan};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::batch_start::{self, StartForm};
use super::dates;
use super::{FieldError, form_status};
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::batch::{BatchPerformer, DraftInputs, FEW_READINGS};
use crate::draft_options::{DraftForm, Wanted};
use crate::error::Problem;
use crate::export::pdf::Paper;
use crate::fits::{Fits, Known};
use crate::models::InUse;
use crate::person::Person;
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
                .route(web::get().to(page))
                .route(web::post().to(batch_start::by_form)),
        )
        .route("/api/productions/{id}/batches", web::post().to(batch_start::by_api));
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
    readiness: Readiness,
    measured: usize,
    of: usize,
    flags: Vec<Vec<Phrase>>,
    /// The one reading that would help the draft most, while most rests on estimates.
    next: Option<NextReading>,
    /// Version that the gloves would carry, and whether it is a new one.
    version: i64,
    is_changed: bool,
    is_taken: bool,
    has_own: bool,
    /// What is missing for the choices, where something is.
    problem: Option<String>,
}

/// A reading to take.
#[derive(Clone, Serialize)]
struct NextReading {
    side: &'static str,
    dimension: &'static str,
}

#[derive(Serialize)]
struct BatchesView {
    production: Production,
    candidates: Vec<Candidate>,
    changed: usize,
    batches: Vec<BatchCard>,
    papers: Vec<PaperChoice>,
    paper: String,
    /// What is drafted for everybody who has no choices of their own.
    form: DraftForm,
    error: Option<FieldError>,
}

/// A performer with everything a batch needs to know.
pub(super) struct Prepared {
    pub(super) id: Uuid,
    pub(super) performer: BatchPerformer,
    flags: Vec<Vec<Phrase>>,
    next: Option<NextReading>,
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

    /// `w` are the words of a language.
    fn candidate(&self, w: &Value) -> Candidate {
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
            readiness,
            measured,
            of,
            flags: self.flags.clone(),
            next: self.next.clone(),
            version: latest + i64::from(self.is_changed()),
            is_changed: self.is_changed(),
            is_taken: measured > 0,
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
        let is_short = performer.hands.measured() < FEW_READINGS;
        let next = is_short.then(|| best_next(in_use, &performer, &assessed.trusted)).flatten();
        all.push(Prepared {
            problem,
            has_own: !person.performer.choices.is_empty(),
            id: person.performer.id,
            flags: assessed.open_flags().map(|flag| flag.says.clone()).collect(),
            inputs: DraftInputs::of(&production.name, &performer).with_model(&in_use.tag).text(),
            latest: draft_version::latest(c, person.performer.id)?,
            next,
            performer,
        });
    }
    Ok((production, all))
}

fn best_next(in_use: &InUse, performer: &BatchPerformer, trusted: &Hands) -> Option<NextReading> {
    let population = performer.population;
    let plan = plan(&in_use.model, population, trusted, &Side::BOTH, DEFAULT_TOLERANCE_MM);
    let best = plan.next.first()?;
    Some(NextReading { side: best.side.key(), dimension: best.dimension.key() })
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
    let candidates: Vec<Candidate> = prepared.iter().map(|one| one.candidate(w)).collect();
    let changed = candidates.iter().filter(|candidate| candidate.is_changed).count();
    let form = DraftForm::kept(&production.choices).over(&DraftForm::of_the_house());
    let paper = sent.paper;
    let view = BatchesView { production, candidates, changed, batches, papers, paper, form, error };
    app.pages.page(request, session, status, "batches.html", &view)
}
