//! What is answered when something was done: a browser is sent on to the page that shows it, a
//! script is told the page and what was made.

use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::access::passphrase::Strength;
use crate::error::{Kind, Problem};

/// What a script is told when something was done.
#[derive(Debug, Clone, Default, Serialize, ToSchema)]
pub struct Done {
    /// Address of the page that shows it.
    pub at: String,
    /// Id of what was made, if something was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<Uuid>,
    /// A link that is told this once.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub link: Option<String>,
    /// How strong a passphrase is that was only to be judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strength: Option<Strength>,
    /// Recovery codes of the second factor, told this once.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub recovery: Vec<String>,
}

/// Id of what was made, for the script that is told of it.
struct Made(Uuid);

/// Sends a browser on to the page that shows what was made.
#[must_use]
pub fn made(to: &str, id: Uuid) -> HttpResponse {
    let mut response = HttpResponse::SeeOther().insert_header((header::LOCATION, to)).finish();
    response.extensions_mut().insert(Made(id));
    response
}

/// Tells a script what a browser sees on the page it is on.
#[must_use]
pub fn at(page: &str) -> HttpResponse {
    HttpResponse::Ok().json(Done { at: page.to_owned(), ..Done::default() })
}

/// For a script, what sends a browser on: where to, what was made, and every cookie.
#[must_use]
pub fn for_script(sent_on: &HttpResponse<impl Sized>) -> HttpResponse {
    let to = sent_on.headers().get(header::LOCATION).and_then(|to| to.to_str().ok());
    let Some(to) = to else { return Problem::from(Kind::Fault).error_response() };
    let id = sent_on.extensions().get::<Made>().map(|made| made.0);
    let status = if id.is_some() { StatusCode::CREATED } else { StatusCode::OK };
    let mut told = HttpResponse::build(status);
    for cookie in sent_on.headers().get_all(header::SET_COOKIE) {
        told.append_header((header::SET_COOKIE, cookie));
    }
    told.json(Done { at: to.to_owned(), id, ..Done::default() })
}
