//! The hand model and the checks as numbers, so that a phone without signal gives the same answers.

use std::sync::OnceLock;

use actix_web::http::header;
use actix_web::web::{self, Bytes, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::check::CheckNumbers;
use analysis::model::{HandModel, ModelNumbers};
use analysis::plan::PlanNumbers;
use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::app::App;
use crate::error::{Kind, Problem};

pub fn configure(service: &mut ServiceConfig) {
    service.route("/api/model", web::get().to(numbers));
}

#[derive(Serialize)]
struct Numbers {
    model: ModelNumbers,
    checks: CheckNumbers,
    plan: PlanNumbers,
}

#[derive(Debug)]
struct Answer {
    tag: String,
    json: Bytes,
}

impl Answer {
    fn of(model: &HandModel) -> Result<Answer, serde_json::Error> {
        let numbers = Numbers {
            model: model.numbers(),
            checks: CheckNumbers::published(),
            plan: PlanNumbers::published(),
        };
        let json = serde_json::to_vec(&numbers)?;
        let hash = Sha256::digest(&json);
        let tag: String = hash.iter().take(12).map(|byte| format!("{byte:02x}")).collect();
        Ok(Answer { tag: format!("\"{tag}\""), json: json.into() })
    }
}

fn answer(app: &App) -> Result<&'static Answer, Problem> {
    static ANSWER: OnceLock<Option<Answer>> = OnceLock::new();
    let answer = ANSWER.get_or_init(|| Answer::of(&app.model).ok());
    answer.as_ref().ok_or_else(|| Kind::Fault.into())
}

/// Changes when the numbers do.
///
/// # Errors
/// Only a fault of ours.
pub fn version(app: &App) -> Result<&'static str, Problem> {
    Ok(&answer(app)?.tag)
}

/// Open to everybody: published figures, nothing of anybody measured here.
async fn numbers(request: HttpRequest, app: Data<App>) -> Result<HttpResponse, Problem> {
    let answer = answer(&app)?;
    let known = request.headers().get(header::IF_NONE_MATCH).and_then(|v| v.to_str().ok());
    // Kept, and asked after each time: the numbers change with the program.
    let caching = (header::CACHE_CONTROL, "no-cache");
    if known.is_some_and(|known| known.contains(&answer.tag)) {
        return Ok(HttpResponse::NotModified().insert_header(caching).finish());
    }
    Ok(HttpResponse::Ok()
        .insert_header(caching)
        .insert_header((header::ETAG, answer.tag.clone()))
        .content_type("application/json")
        .body(answer.json.clone()))
}
