//! Every address of the server, one file a resource. Handlers are thin: they read what was sent,
//! call the store or `analysis`, and render.

mod accounts;
mod again;
mod assets;
mod batch_jobs;
mod batch_start;
mod batches;
mod bundle;
mod calls;
mod cast;
pub mod codes;
mod consent;
mod download;
mod drafts;
mod entry;
mod exercise;
mod export;
mod fabrics;
mod fittings;
mod home;
mod home_links;
pub mod import;
mod keeping;
mod lays;
mod live;
mod measure;
mod measurers;
mod memory;
mod model;
mod next_glove;
mod offline;
mod openapi;
mod performers;
mod productions;
mod second_factor;
mod sign_in;
mod size_gloves;
mod sizes;
mod state;
mod subject;
mod trust;
mod workshop_model;

use actix_web::HttpRequest;
use actix_web::http::StatusCode;
use actix_web::web::ServiceConfig;
use serde::Serialize;
use serde_json::Value;

use crate::dates;
use crate::describe::Api;
use crate::error::{Kind, Problem};
use crate::inputs::is_script;
use crate::typed::line;

/// The route table.
pub fn configure(service: &mut ServiceConfig) {
    assets::configure(service);
    sign_in::configure(service);
    second_factor::configure(service);
    accounts::configure(service);
    productions::configure(service);
    export::configure(service);
    keeping::configure(service);
    import::configure(service);
    performers::configure(service);
    subject::configure(service);
    calls::configure(service);
    again::configure(service);
    drafts::configure(service);
    fabrics::configure(service);
    batches::configure(service);
    batch_jobs::configure(service);
    lays::configure(service);
    sizes::configure(service);
    size_gloves::configure(service);
    cast::configure(service);
    measure::configure(service);
    measurers::configure(service);
    exercise::configure(service);
    workshop_model::configure(service);
    fittings::configure(service);
    next_glove::configure(service);
    memory::configure(service);
    model::configure(service);
    state::configure(service);
    live::configure(service);
    codes::configure(service);
    consent::configure(service);
    home::configure(service);
    home_links::configure(service);
    offline::configure(service);
    openapi::configure(service);
    trust::configure(service);
}

/// The addresses for scripts, described.
pub(crate) fn described() -> Api {
    let mut api = Api::default();
    sign_in::describe(&mut api);
    second_factor::describe(&mut api);
    accounts::describe(&mut api);
    productions::describe(&mut api);
    keeping::describe(&mut api);
    import::describe(&mut api);
    performers::describe(&mut api);
    subject::describe(&mut api);
    calls::describe(&mut api);
    again::describe(&mut api);
    drafts::describe(&mut api);
    fabrics::describe(&mut api);
    batches::describe(&mut api);
    batch_jobs::describe(&mut api);
    lays::describe(&mut api);
    sizes::describe(&mut api);
    cast::describe(&mut api);
    measure::describe(&mut api);
    measurers::describe(&mut api);
    exercise::describe(&mut api);
    workshop_model::describe(&mut api);
    fittings::describe(&mut api);
    next_glove::describe(&mut api);
    memory::describe(&mut api);
    model::describe(&mut api);
    state::describe(&mut api);
    live::describe(&mut api);
    consent::describe(&mut api);
    home::describe(&mut api);
    home_links::describe(&mut api);
    openapi::describe(&mut api);
    api
}

/// Answers every other address.
///
/// # Errors
/// Always [`Kind::NotFound`].
pub async fn nothing_here() -> Result<&'static str, Problem> {
    Err(Kind::NotFound.into())
}

/// What is wrong with one input of a form, for the page that shows it again.
#[derive(Debug, Clone, Serialize)]
pub struct FieldError {
    /// The input.
    pub field: String,
    /// Stable code.
    pub code: &'static str,
    /// What the sentence quotes; the page is rendered with its `message` in the language asked for.
    pub figures: Value,
}

/// Splits a problem into one to show in the form and one to answer with: a script has no form to be
/// shown again.
fn in_form(request: &HttpRequest, problem: Problem) -> Result<FieldError, Problem> {
    match (&problem.kind, &problem.field) {
        (Kind::Refused(..), Some(field)) if !is_script(request) => Ok(FieldError {
            field: field.clone(),
            code: problem.code(),
            figures: problem.figures(),
        }),
        _ => Err(problem),
    }
}

/// Status of a form shown again because of an input.
fn form_status(error: Option<&FieldError>) -> StatusCode {
    if error.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK }
}
