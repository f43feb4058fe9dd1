//! Starting a batch, from its page and from the API.

use std::collections::HashMap;

use actix_web::web::{Data, Path};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::batches::{Prepared, prepare, show};
use super::dates::today;
use super::download::paper_of;
use super::{again, batch_jobs, in_form};
use crate::access::guard::{Posted, PostedJson};
use crate::access::rights;
use crate::app::App;
use crate::batch::stems;
use crate::calls;
use crate::done::made;
use crate::draft_options::DraftForm;
use crate::error::{Kind, Problem};
use crate::export::pdf::Paper;
use crate::export::pdf::paper::ROLL_WIDTHS_MM;
use crate::job;
use crate::start;
use crate::store::audit::{self, Action};
use crate::store::batch::{self as batches, NewItem};
use crate::store::session::Session;
use crate::store::{draft_version, performer, production};

/// Bytes of one decision in a form: "&for-", an id, "=" and the longest word, rounded up.
const DECISION_BYTES: usize = 48;

/// Largest form, bytes: a decision about everybody of the largest production, and the other inputs.
pub(super) const FORM_LIMIT: usize =
    performer::PRODUCTION_LIMIT as usize * DECISION_BYTES + start::FORM_LIMIT;

#[derive(Default, Deserialize, ToSchema)]
#[schema(as = BatchForm)]
pub(super) struct StartForm {
    #[serde(default)]
    #[schema(pattern = "^(a4|letter|a3|tabloid|roll)$")]
    pub(super) paper: String,
    /// Width of a roll, mm, where the paper is one.
    #[serde(default)]
    pub(super) roll_width: String,
    /// `changed` drafts only whoever is not drafted yet with the same inputs.
    #[serde(default)]
    #[schema(pattern = "^(changed)?$")]
    pub(super) which: String,
    /// Only whoever is called with this call; everybody where it is empty.
    #[serde(default)]
    pub(super) call: String,
    /// Whether it was decided for each performer; without it everybody is drafted but whoever is to be
    /// measured again.
    #[serde(default)]
    decided: String,
    #[serde(flatten)]
    pub(super) choices: DraftForm,
    /// `for-ID` for each performer: `draft`, `again`, `still` (asked to be measured again before) or
    /// `out`. Whoever is not named is left out.
    #[serde(flatten)]
    decisions: HashMap<String, String>,
}

/// What is decided about a performer before a batch runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Decision {
    /// Their gloves are drafted from what is known.
    Draft,
    /// They are left out and measured again.
    Again,
    /// They are left out.
    Out,
}

impl Decision {
    /// What the form shows before anybody has decided. Nobody's hands are not drafted unless asked.
    pub(super) fn at_first(prepared: &Prepared) -> Decision {
        match (prepared.is_again, prepared.is_measured()) {
            (true, _) => Decision::Again,
            (false, true) => Decision::Draft,
            (false, false) => Decision::Out,
        }
    }
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

    fn said(&self, prepared: &Prepared) -> Option<&str> {
        self.decisions.get(&format!("for-{}", prepared.id)).map(String::as_str)
    }

    /// What was decided. Somebody who was measured since the page was made is drafted where the page
    /// still said that they are to be measured again.
    pub(super) fn decision(&self, prepared: &Prepared) -> Decision {
        match self.said(prepared) {
            Some("draft") => Decision::Draft,
            Some("again") => Decision::Again,
            Some("still") | None if prepared.is_again => Decision::Again,
            Some("still") => Decision::Draft,
            None if self.decided.is_empty() => Decision::Draft,
            _ => Decision::Out,
        }
    }

    /// Whom to measure again, and of whom that is taken back: only where it was decided now.
    fn again(&self, all: &[Prepared]) -> Vec<(Uuid, bool)> {
        let decided = |one: &&Prepared| self.said(one).is_some();
        let asked = |one: &Prepared| (one.id, self.decision(one) == Decision::Again);
        all.iter().filter(decided).map(asked).collect()
    }

    /// Lines of the call sheet for those who are called to be measured again.
    fn called_again(&self, all: &[Prepared]) -> Result<Vec<(Uuid, String)>, Problem> {
        let is_asked =
            |one: &&Prepared| self.is_called(one) && self.decision(one) == Decision::Again;
        let line = |one: &Prepared| {
            let line = serde_json::to_string(&one.called()).map_err(|_| Kind::Fault)?;
            Ok((one.id, line))
        };
        all.iter().filter(is_asked).map(line).collect()
    }

    fn is_called(&self, prepared: &Prepared) -> bool {
        self.call.is_empty() || calls::is_same(&self.call, &prepared.performer.call)
    }

    fn takes(&self, prepared: &Prepared) -> bool {
        self.decision(prepared) == Decision::Draft
            && self.is_called(prepared)
            && (self.which != "changed" || prepared.is_changed())
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
        Ok(batch) => Ok(made(&format!("/productions/{id}/batches"), batch)),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            show(&request, &app, &session, id, form, Some(error)).await
        }
    }
}

/// A batch as a script asks for it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BatchOrder {
    /// "a4", "letter", "a3", "tabloid" or "roll-914".
    paper: String,
    /// Only whoever is not drafted yet with the same inputs.
    #[serde(default)]
    only_changed: bool,
    /// Only whoever is called with this call.
    #[serde(default)]
    call: String,
    /// Performers to draft; where it is absent, everybody but whoever is to be measured again.
    performers: Option<Vec<Uuid>>,
    /// Performers to leave out and measure again.
    #[serde(default)]
    measure_again: Vec<Uuid>,
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
        let decided = flag(order.performers.is_some(), "1");
        let said = |word: &'static str| move |id: Uuid| (format!("for-{id}"), word.to_owned());
        let drafted = order.performers.unwrap_or_default().into_iter().map(said("draft"));
        let again = order.measure_again.into_iter().map(said("again"));
        StartForm {
            paper,
            roll_width,
            which: flag(order.only_changed, "changed"),
            call: order.call,
            decided,
            choices: order.options,
            decisions: drafted.chain(again).collect(),
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
    if !all.iter().any(|one| form.is_called(one)) {
        return Err(Problem::at("call", "batch_nobody_called"));
    }
    let again = form.again(&all);
    let called = form.called_again(&all)?;
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
            for (performer, is_asked) in again {
                again::note(c, performer, is_asked, &who)?;
            }
            let codes: Vec<&str> = taken.iter().map(|one| one.performer.code.as_str()).collect();
            let mut items = Vec::with_capacity(taken.len());
            for (one, stem) in taken.iter().zip(stems(&codes)) {
                let version = draft_version::issue(c, one.id, &one.inputs, &today())?.id;
                let call = one.performer.call.clone();
                items.push(NewItem { version, stem, call });
            }
            let batch = batches::start(c, id, &paper.key(), &items, &who)?;
            batches::keep_again(c, batch, &called)?;
            audit::add(c, &who, Action::BatchStarted, Some(batch))?;
            Ok(batch)
        })
        .await?;
    app.live.tell(id);
    // Not awaited: the page asks how far it is.
    job::start(app, batch).map_err(|error| {
        tracing::error!(%error, "batch thread");
        Problem::from(Kind::Fault)
    })?;
    Ok(batch)
}
