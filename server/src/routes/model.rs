//! The hand model, the checks and the plan as numbers, so that a phone without signal gives the
//! same answers.

use std::sync::OnceLock;

use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::check::CheckNumbers;
use analysis::model::{HandModel, ModelNumbers};
use analysis::plan::PlanNumbers;
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::assets::Prepared;
use crate::app::App;
use crate::error::{Kind, Problem};

const KIND: &str = "application/json";

pub fn configure(service: &mut ServiceConfig) {
    service.route("/api/model", web::get().to(numbers));
}

#[derive(Serialize)]
struct Numbers {
    model: ModelNumbers,
    checks: CheckNumbers,
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

fn prepared(app: &App) -> Result<&'static Prepared, Problem> {
    static PREPARED: OnceLock<Option<Prepared>> = OnceLock::new();
    let prepared = PREPARED.get_or_init(|| prepare(&app.model).ok());
    prepared.as_ref().ok_or_else(|| Kind::Fault.into())
}

/// Changes when the numbers do.
///
/// # Errors
/// Only a fault of ours.
pub fn version(app: &App) -> Result<&'static str, Problem> {
    Ok(prepared(app)?.tag())
}

/// Open to everybody: published figures, nothing of anybody measured here.
async fn numbers(request: HttpRequest, app: Data<App>) -> Result<HttpResponse, Problem> {
    Ok(prepared(&app)?.answer(&request, KIND))
}
