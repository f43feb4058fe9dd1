//! Starting a batch, from its page and from the API.

use std::collections::HashMap;

use actix_web::web::{Data, Path};
use actix_web::{HttpRequest, HttpResponse};
use serde::Deserialize;
use uuid::Uuid;

use super::batches::{Prepared, prepare, show};
use super::dates::today;
use super::drafts::paper_of;
use super::productions::see_other;
use super::{batch_jobs, in_form};
use crate::access::guard::{Posted, PostedJson};
use crate::access::rights;
use crate::app::App;
use crate::batch::stems;
use crate::draft_options::DraftForm;
use crate::error::{Kind, Problem};
use crate::export::pdf::Paper;
use crate::export::pdf::paper::ROLL_WIDTHS_MM;
use crate::job;
use crate::store::audit::{self, Action};
use crate::store::batch::{self as batches, NewItem};
use crate::store::session::Session;
use crate::store::{draft_version, production};

#[derive(Default, Deserialize)]
pub(super) struct StartForm {
    #[serde(default)]
    pub(super) paper: String,
    /// Width of a roll, mm, where the paper is one.
    #[serde(default)]
    roll_width: String,
    /// `changed` drafts only whoever is not drafted yet with the same inputs.
    #[serde(default)]
    which: String,
    /// Whether performers were ticked; without it everybody is taken.
    #[serde(default)]
    chosen: String,
    #[serde(flatten)]
    pub(super) choices: DraftForm,
    /// `take-ID` for each performer ticked.
    #[serde(flatten)]
    ticks: HashMap<String, String>,
}

impl StartForm {
    /// The form as it is first shown.
    pub(super) fn blank() -> StartForm {
        StartForm { paper: "a4".to_owned(), ..StartForm::default() }
    }

    fn paper(&self) -> Result<Paper, Problem> {
        if self.paper != "roll" {
            return paper_of(&self.paper);
        }
        let (least, most) = (ROLL_WIDTHS_MM.start(), ROLL_WIDTHS_MM.end());
        Paper::from_key(&format!("roll-{}", self.roll_width.trim().replace(',', "."))).ok_or_else(
            || Problem::at("roll_width", "roll_width").with("least", *least).with("most", *most),
        )
    }

    fn takes(&self, prepared: &Prepared) -> bool {
        let is_ticked =
            self.chosen.is_empty() || self.ticks.contains_key(&format!("take-{}", prepared.id));
        is_ticked && (self.which != "changed" || prepared.is_changed())
    }
}

pub(super) async fn by_form(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, StartForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    match begin(&app, &session, id, &form).await {
        Ok(_) => Ok(see_other(&format!("/productions/{id}/batches"))),
        Err(problem) => {
            let error = in_form(problem)?;
            show(&request, &app, &session, id, form, Some(error)).await
        }
    }
}

/// A batch as a script asks for it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct BatchOrder {
    /// "a4", "letter", "a3", "tabloid" or "roll-914".
    paper: String,
    /// Only whoever is not drafted yet with the same inputs.
    #[serde(default)]
    only_changed: bool,
    /// Performers to draft; everybody where it is absent.
    performers: Option<Vec<Uuid>>,
    /// Options of the drafts; those kept where it is absent.
    #[serde(default)]
    options: DraftForm,
}

impl From<BatchOrder> for StartForm {
    fn from(order: BatchOrder) -> StartForm {
        let flag = |is_set: bool, word: &str| if is_set { word.to_owned() } else { String::new() };
        let (paper, roll_width) = match order.paper.strip_prefix("roll-") {
            Some(width) => ("roll".to_owned(), width.to_owned()),
            None => (order.paper, String::new()),
        };
        let tick = |id: Uuid| (format!("take-{id}"), "1".to_owned());
        StartForm {
            paper,
            roll_width,
            which: flag(order.only_changed, "changed"),
            chosen: flag(order.performers.is_some(), "1"),
            choices: order.options,
            ticks: order.performers.unwrap_or_default().into_iter().map(tick).collect(),
        }
    }
}

pub(super) async fn by_api(
    app: Data<App>,
    id: Path<Uuid>,
    posted: PostedJson<rights::Cut, BatchOrder>,
) -> Result<HttpResponse, Problem> {
    let batch = begin(&app, &posted.session, *id, &posted.json.into()).await?;
    Ok(HttpResponse::Created().json(batch_jobs::state_of(&app, batch).await?))
}

/// Refuses choices that cannot be drafted for somebody taken: a missing forearm with the codes of
/// those who need one, anything else at its input.
fn refuse_problems(taken: &[Prepared]) -> Result<(), Problem> {
    let is_forearm = |field: &str| field == "forearm" || field == "forearm_half";
    let other = taken.iter().find_map(|one| {
        let problem = one.problem.as_ref()?;
        let field = problem.field.clone().filter(|field| !is_forearm(field))?;
        Some(Problem { kind: problem.kind.clone(), field: Some(field) })
    });
    if let Some(problem) = other {
        return Err(problem);
    }
    let has_problem = |one: &&Prepared| one.problem.is_some();
    let codes: Vec<&str> =
        taken.iter().filter(has_problem).map(|one| one.performer.code.as_str()).collect();
    if codes.is_empty() {
        return Ok(());
    }
    Err(Problem::at("cuff", "forearm_missing").with("codes", codes.join(", ")))
}

async fn begin(
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    form: &StartForm,
) -> Result<Uuid, Problem> {
    let paper = form.paper()?;
    let in_use = app.in_use();
    // A request without any options, as scripts may send it, leaves the kept ones as they are.
    let choices = Some(form.choices.clone()).filter(|choices| *choices != DraftForm::default());
    let (production, all) = app.store.read(move |c| prepare(c, &in_use, id, choices)).await?;
    if all.is_empty() {
        return Err(Problem::at("paper", "batch_nobody"));
    }
    if all.iter().all(|prepared| prepared.performer.hands.measured() == 0) {
        return Err(Problem::at("paper", "batch_nobody_measured"));
    }
    let taken: Vec<Prepared> = all.into_iter().filter(|one| form.takes(one)).collect();
    if taken.is_empty() {
        let is_changed = form.which == "changed";
        let code = if is_changed { "batch_nobody_changed" } else { "batch_nobody_taken" };
        return Err(Problem::at("paper", code));
    }
    refuse_problems(&taken)?;
    let who = session.name.clone();
    let batch = app
        .store
        .write(move |c| {
            production::keep_choices(c, id, &production.choices)?;
            let codes: Vec<&str> = taken.iter().map(|one| one.performer.code.as_str()).collect();
            let mut items = Vec::with_capacity(taken.len());
            for (one, stem) in taken.iter().zip(stems(&codes)) {
                let version = draft_version::issue(c, one.id, &one.inputs, &today())?.id;
                items.push(NewItem { version, stem });
            }
            let batch = batches::start(c, id, &paper.key(), &items, &who)?;
            audit::add(c, &who, Action::BatchStarted, Some(batch))?;
            Ok(batch)
        })
        .await?;
    // Not awaited: the page asks how far it is.
    job::start(app, batch).map_err(|error| {
        tracing::error!(%error, "batch thread");
        Problem::from(Kind::Fault)
    })?;
    Ok(batch)
}
