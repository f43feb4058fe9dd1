//! The hand model, the checks and the plan as numbers, so that a phone without signal gives the
//! same answers.

use std::sync::{Arc, Mutex, PoisonError};

use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::check::CheckNumbers;
use analysis::model::{HandModel, ModelNumbers};
use analysis::plan::PlanNumbers;
use serde::Serialize;
use sha2::{Digest, Sha256};
use utoipa::ToSchema;

use super::assets::Prepared;
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, get};
use crate::error::{Kind, Problem};

const KIND: &str = "application/json";

/// Models whose numbers are kept prepared: the published one, the one in use, the one before.
const KEPT: usize = 3;

pub fn configure(service: &mut ServiceConfig) {
    service.route("/api/model", web::get().to(numbers));
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        get::<Numbers>("/api/model", "The hand model, the checks and the plan as numbers.")
            .open()
            .detail("The model in use for those signed in; published figures for everybody else."),
    );
}

#[derive(Serialize, ToSchema)]
#[schema(as = ModelNumbers)]
struct Numbers {
    /// Dimensions, covariances and populations of the hand model.
    #[schema(value_type = Object)]
    model: ModelNumbers,
    /// Rates, bounds and critical values of the checks.
    #[schema(value_type = Object)]
    checks: CheckNumbers,
    /// Weights, seconds and tolerances of the plan.
    #[schema(value_type = Object)]
    plan: PlanNumbers,
}

fn prepare(model: &HandModel) -> Result<Prepared, serde_json::Error> {
    let json = serde_json::to_vec(&Numbers {
        model: model.numbers(),
        checks: CheckNumbers::published(),
        plan: PlanNumbers::published(),
    })?;
    let hash = Sha256::digest(&json);
    Ok(Prepared::new(KIND, &hash, json))
}

/// The numbers of a model, prepared once for each of the latest few.
fn prepared(tag: &str, model: &HandModel) -> Result<Arc<Prepared>, Problem> {
    static PREPARED: Mutex<Vec<(String, Arc<Prepared>)>> = Mutex::new(Vec::new());
    let mut known = PREPARED.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, prepared)) = known.iter().find(|(of, _)| of == tag) {
        return Ok(prepared.clone());
    }
    let made = Arc::new(prepare(model).map_err(|_| Kind::Fault)?);
    known.truncate(KEPT - 1);
    known.insert(0, (tag.to_owned(), made.clone()));
    Ok(made)
}

/// Changes when the published figures or the program's numbers do.
///
/// # Errors
/// Only a fault of ours.
pub fn version(app: &App) -> Result<String, Problem> {
    Ok(prepared("", app.models.published())?.tag().to_owned())
}

/// The model in use for those signed in. Published figures for everybody else: what was learned
/// here is nobody else's.
async fn numbers(
    request: HttpRequest,
    app: Data<App>,
    signed: Result<Signed<rights::See>, Problem>,
) -> Result<HttpResponse, Problem> {
    let prepared = match signed {
        Ok(_) => {
            let in_use = app.in_use();
            prepared(&in_use.tag, &in_use.model)?
        }
        Err(_) => prepared("", app.models.published())?,
    };
    Ok(prepared.answer(&request, KIND))
}
