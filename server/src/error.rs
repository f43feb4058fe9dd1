//! One table of what can go wrong: code, status, sentence, what to do next.
//!
//! Handlers return a [`Problem`]; [`present`] turns it into JSON for `/api` and into a page
//! everywhere else. Our own faults are opaque outside and whole in the log.

use actix_web::body::{BoxBody, EitherBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::{StatusCode, header};
use actix_web::middleware::Next;
use actix_web::{HttpRequest, HttpResponse, ResponseError, web};
use serde::Serialize;

use crate::app::App;
use crate::store::StoreError;

/// Why a request was not served.
#[derive(Debug, thiserror::Error)]
#[error("{kind:?}")]
pub struct Problem {
    /// The row of the table.
    pub kind: Kind,
    /// The input concerned, if one is.
    pub field: Option<String>,
}

/// Rows of the error table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kind {
    /// Nobody is signed in.
    SignInNeeded,
    /// Signed in, but the role does not allow it.
    NotAllowed,
    /// The form's token is missing or of another session.
    FormExpired,
    /// No such page or thing.
    NotFound,
    /// The address exists, the method does not.
    WrongMethod,
    /// The body cannot be read as what it should be.
    Unreadable(String),
    /// The body is larger than allowed, in bytes.
    TooLarge(usize),
    /// The body is of another type.
    WrongType,
    /// Too many tries; seconds to wait.
    TooManyTries(u64),
    /// A value is refused: stable code and sentence.
    Refused(&'static str, String),
    /// The request cannot be done in the present state.
    Conflict(&'static str, String),
    /// The server's disk is full or cannot be written.
    StorageFull,
    /// Our own fault.
    Fault,
}

struct Entry {
    code: &'static str,
    status: StatusCode,
    sentence: String,
    next: &'static str,
}

impl Kind {
    fn entry(&self) -> Entry {
        let entry = |code, status, sentence: &str, next| Entry {
            code,
            status,
            sentence: sentence.to_owned(),
            next,
        };
        match self {
            Kind::SignInNeeded => entry(
                "sign_in_needed",
                StatusCode::UNAUTHORIZED,
                "Nobody is signed in here.",
                "Sign in, then try again. Nothing that was entered on this device is lost.",
            ),
            Kind::NotAllowed => entry(
                "not_allowed",
                StatusCode::FORBIDDEN,
                "Your role does not allow this.",
                "Ask a supervisor or an administrator.",
            ),
            Kind::FormExpired => entry(
                "form_expired",
                StatusCode::FORBIDDEN,
                "This form belongs to another session.",
                "Go back, load the page again and send it once more.",
            ),
            Kind::NotFound => entry(
                "not_found",
                StatusCode::NOT_FOUND,
                "There is nothing at this address.",
                "It may have been removed, or the address may be mistyped.",
            ),
            Kind::WrongMethod => entry(
                "wrong_method",
                StatusCode::METHOD_NOT_ALLOWED,
                "This address does not take that kind of request.",
                "Start again from the list of productions.",
            ),
            Kind::Unreadable(why) => entry(
                "unreadable",
                StatusCode::BAD_REQUEST,
                &format!("What was sent cannot be read: {why}."),
                "Go back and send it once more.",
            ),
            Kind::TooLarge(bytes) => entry(
                "too_large",
                StatusCode::PAYLOAD_TOO_LARGE,
                &format!("That is more than the {} taken here.", size(*bytes)),
                "Nothing was stored and nothing changed. Send a smaller file.",
            ),
            Kind::WrongType => entry(
                "wrong_type",
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "That is not the kind of file or data taken here.",
                "Nothing was stored and nothing changed.",
            ),
            Kind::TooManyTries(seconds) => entry(
                "too_many_tries",
                StatusCode::TOO_MANY_REQUESTS,
                &format!("Too many tries. Wait {seconds} seconds."),
                "Then try again.",
            ),
            Kind::Refused(code, message) => entry(
                code,
                StatusCode::UNPROCESSABLE_ENTITY,
                message,
                "Correct it and send it again.",
            ),
            Kind::Conflict(code, message) => {
                entry(code, StatusCode::CONFLICT, message, "Nothing was changed.")
            }
            Kind::StorageFull => entry(
                "storage_full",
                StatusCode::INSUFFICIENT_STORAGE,
                "The server's disk is full or cannot be written. Nothing of this was stored.",
                "Free some space there, then send it again. What was acknowledged before is kept.",
            ),
            Kind::Fault => entry(
                "fault",
                StatusCode::INTERNAL_SERVER_ERROR,
                "Something went wrong on our side; it has been logged.",
                "What was acknowledged before is kept. Try again in a moment.",
            ),
        }
    }
}

fn size(bytes: usize) -> String {
    if bytes < 1 << 20 { format!("{} kB", bytes >> 10) } else { format!("{} MB", bytes >> 20) }
}

/// What the API answers for a problem.
#[derive(Debug, Serialize)]
pub struct ProblemBody {
    /// Stable code.
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// What to do next.
    pub next: &'static str,
    /// The input concerned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
}

impl Problem {
    /// A refused value of one input.
    #[must_use]
    pub fn refused(field: &str, code: &'static str, message: impl Into<String>) -> Problem {
        Problem { kind: Kind::Refused(code, message.into()), field: Some(field.to_owned()) }
    }

    /// The problem in the words of the API.
    #[must_use]
    pub fn body(&self) -> ProblemBody {
        let entry = self.kind.entry();
        ProblemBody {
            code: entry.code,
            message: entry.sentence,
            next: entry.next,
            field: self.field.clone(),
        }
    }
}

impl From<Kind> for Problem {
    fn from(kind: Kind) -> Problem {
        Problem { kind, field: None }
    }
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Problem {
        match error {
            StoreError::NotFound => Kind::NotFound.into(),
            StoreError::Refused { field, code, message } => Problem::refused(field, code, message),
            fault => {
                tracing::error!(%fault, "store");
                if fault.is_storage() { Kind::StorageFull.into() } else { Kind::Fault.into() }
            }
        }
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.kind.entry().status
    }

    fn error_response(&self) -> HttpResponse<BoxBody> {
        HttpResponse::build(self.status_code()).json(self.body())
    }
}

/// Middleware: every answer of 400 and above that is not a page of ours yet becomes one, or JSON.
///
/// # Errors
/// None of its own.
pub async fn present(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<EitherBody<impl MessageBody>>, actix_web::Error> {
    let response = next.call(request).await?;
    let status = response.status();
    let is_ours = response.headers().contains_key(header::CONTENT_TYPE)
        && response.response().error().is_none();
    if status.as_u16() < 400 || is_ours {
        return Ok(response.map_into_left_body());
    }
    let known = response.response().error().and_then(|error| error.as_error::<Problem>());
    let problem = match known {
        Some(problem) => Problem { kind: problem.kind.clone(), field: problem.field.clone() },
        None => of_status(status).into(),
    };
    let request = response.request().clone();
    let answer = if request.path().starts_with("/api/") {
        problem.error_response()
    } else {
        page(&request, &problem)
    };
    Ok(response.into_response(answer).map_into_right_body())
}

fn of_status(status: StatusCode) -> Kind {
    match status {
        StatusCode::UNAUTHORIZED => Kind::SignInNeeded,
        StatusCode::FORBIDDEN => Kind::NotAllowed,
        StatusCode::NOT_FOUND => Kind::NotFound,
        StatusCode::METHOD_NOT_ALLOWED => Kind::WrongMethod,
        StatusCode::PAYLOAD_TOO_LARGE => Kind::TooLarge(crate::app::JSON_LIMIT),
        StatusCode::UNSUPPORTED_MEDIA_TYPE => Kind::WrongType,
        status if status.is_server_error() => Kind::Fault,
        _ => Kind::Unreadable("it is not in the form expected".to_owned()),
    }
}

fn page(request: &HttpRequest, problem: &Problem) -> HttpResponse {
    if problem.kind == Kind::SignInNeeded && request.method() == actix_web::http::Method::GET {
        let back = request.uri().path_and_query().map_or("/", |target| target.as_str());
        return HttpResponse::SeeOther()
            .insert_header((header::LOCATION, format!("/sign-in?to={}", encode(back))))
            .finish();
    }
    let status = problem.status_code();
    let rendered = request
        .app_data::<web::Data<App>>()
        .and_then(|app| app.pages.render_guest(request, "problem.html", &problem.body()).ok());
    match rendered {
        Some(html) => {
            HttpResponse::build(status).content_type("text/html; charset=utf-8").body(html)
        }
        None => HttpResponse::build(status).body(problem.body().message),
    }
}

/// Percent-encodes everything but letters, digits and a few safe signs.
fn encode(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'-' | b'_' | b'.' => {
                char::from(byte).to_string()
            }
            byte => format!("%{byte:02X}"),
        })
        .collect()
}
