//! The API of the measuring form: what is known of a performer, and facts to add.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse, ResponseError};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::access::guard::{PostedJson, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, get, post};
use crate::error::Problem;
use crate::facts::{self, Outcome, Sender, Sent};
use crate::person::{Person, State};
use crate::store::audit::{self, Action};

/// Facts in one request at most; a phone sends more in several.
const FACTS_LIMIT: usize = 200;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/api/session", web::get().to(session))
        .route("/api/performers/{id}", web::get().to(state))
        .route("/api/facts", web::post().to(add_facts));
}

pub(super) fn describe(api: &mut Api) {
    api.add(get::<SessionBody>(
        "/api/session",
        "Who is signed in, and the token their forms carry.",
    ));
    api.add(get::<State>(
        "/api/performers/{id}",
        "Readings in use, flags, and every dimension measured or estimated with its 90 % interval.",
    ));
    api.add(
        post::<FactsBody, Answer>(
            "/api/facts",
            "Adds readings, withdrawals, kept flags, skipped steps, consents and fittings.",
        )
        .absent()
        .detail("Each is kept or refused on its own; nothing else is lost."),
    );
}

#[derive(Serialize, ToSchema)]
#[schema(as = Session)]
struct SessionBody {
    name: String,
    role: &'static str,
    form_token: String,
}

async fn session(signed: Signed<rights::See>) -> HttpResponse {
    let session = signed.session;
    HttpResponse::Ok().json(SessionBody {
        name: session.name,
        role: session.role.key(),
        form_token: session.csrf,
    })
}

async fn state(
    app: Data<App>,
    _signed: Signed<rights::See>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let model = app.model();
    let state = app.store.read(move |c| Ok(State::of(Person::load(c, *id)?, &model))).await?;
    Ok(HttpResponse::Ok().json(state))
}

#[derive(Deserialize, ToSchema)]
#[schema(as = Facts)]
struct FactsBody {
    #[serde(default)]
    device: String,
    #[schema(min_items = 1, max_items = 200)]
    facts: Vec<Sent>,
}

#[derive(Serialize, ToSchema)]
#[schema(as = FactsAnswer)]
struct Answer {
    results: Vec<Outcome>,
    performers: Vec<State>,
}

#[derive(Serialize)]
struct RefusedAnswer {
    #[serde(flatten)]
    problem: crate::error::ProblemBody,
    #[serde(flatten)]
    answer: Answer,
}

async fn add_facts(
    request: HttpRequest,
    app: Data<App>,
    posted: PostedJson<rights::Measure, FactsBody>,
) -> Result<HttpResponse, Problem> {
    let PostedJson { session, json: FactsBody { device, facts }, .. } = posted;
    if facts.is_empty() || facts.len() > FACTS_LIMIT {
        return Err(Problem::at("facts", "facts_count").with("most", FACTS_LIMIT));
    }
    let sender = Sender { measurer: session.name.clone(), device, is_home: false };
    let in_use = app.in_use();
    let mut results = app
        .store
        .write(move |c| {
            let kinds: Vec<_> = facts.iter().map(action).collect();
            let outcomes = facts::store(c, &in_use.model, facts, &sender)?;
            for (outcome, action) in outcomes.iter().zip(kinds) {
                if let Some(action) = action.filter(|_| outcome.problem.is_none()) {
                    audit::add(c, &sender.measurer, action, outcome.performer)?;
                }
            }
            Ok(outcomes)
        })
        .await?;
    let mut touched: Vec<Uuid> = results.iter().filter_map(|result| result.performer).collect();
    touched.sort_unstable();
    touched.dedup();
    let model = app.model();
    let (performers, productions): (Vec<State>, Vec<Uuid>) = app
        .store
        .read(move |c| {
            let mut known = Vec::new();
            for id in touched {
                let person = Person::load(c, id)?;
                let production = person.performer.production;
                known.push((State::without_expectations(person, &model), production));
            }
            Ok(known.into_iter().unzip())
        })
        .await?;
    for (state, production) in performers.iter().zip(productions) {
        app.live.measured(state.performer, &session.name);
        app.live.tell(production);
    }
    let w = app.pages.words.for_request(&request);
    results.iter_mut().for_each(|result| result.say(w));
    let first = results.iter().find_map(|result| result.problem.as_ref());
    let refused = first
        .filter(|_| results.iter().all(|result| result.problem.is_some()))
        .map(|problem| (problem.status_code(), problem.body(w)));
    let answer = Answer { results, performers };
    Ok(match refused {
        Some((status, problem)) => {
            HttpResponse::build(status).json(RefusedAnswer { problem, answer })
        }
        None => HttpResponse::Ok().json(answer),
    })
}

fn action(fact: &Sent) -> Option<Action> {
    match fact {
        Sent::Withdrawal { .. } => Some(Action::ReadingWithdrawn),
        Sent::Acceptance { .. } => Some(Action::FlagAccepted),
        Sent::Consent { is_given: true, .. } => Some(Action::ConsentRecorded),
        Sent::Consent { is_given: false, .. } => Some(Action::ConsentWithdrawn),
        Sent::Reference { .. } => Some(Action::ReferenceChanged),
        Sent::Fitting(_) => Some(Action::FittingAdded),
        Sent::FittingWithdrawal { .. } => Some(Action::FittingWithdrawn),
        Sent::Reading { .. } | Sent::Skip { .. } => None,
    }
}
