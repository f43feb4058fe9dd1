//! One table of what can go wrong: code and status. The sentence of a code and what to do next stand
//! with the words of the pages, by language.
//!
//! Handlers return a [`Problem`]; [`crate::present`] turns it into JSON for `/api` and into a page
//! everywhere else. Our own faults are opaque outside and whole in the log.

use actix_web::body::BoxBody;
use actix_web::http::StatusCode;
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;

use crate::store::StoreError;
use crate::words;

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
    /// An administrator must set up a second factor first.
    SecondFactorNeeded,
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
    /// The body did not arrive in time.
    TooSlow,
    /// The body is of another type.
    WrongType,
    /// Too many tries; seconds to wait.
    TooManyTries(u64),
    /// A value is refused: stable code, and the figures of its sentence.
    Refused(&'static str, Figures),
    /// The request cannot be done in the present state.
    Conflict(&'static str, Figures),
    /// The server's disk is full or cannot be written.
    StorageFull,
    /// Our own fault.
    Fault,
}

/// What a sentence quotes, by name: numbers, and texts as they were typed.
pub type Figures = Vec<(&'static str, Value)>;

impl Kind {
    /// Stable code, status, and which of the words `next` says what to do; the sentence of a code
    /// stands in `web/words`, by language.
    fn entry(&self) -> (&'static str, StatusCode, &'static str) {
        let entry = |code, status| (code, status, code);
        match self {
            Kind::SignInNeeded => entry("sign_in_needed", StatusCode::UNAUTHORIZED),
            Kind::NotAllowed => entry("not_allowed", StatusCode::FORBIDDEN),
            Kind::SecondFactorNeeded => entry("second_factor_needed", StatusCode::FORBIDDEN),
            Kind::FormExpired => entry("form_expired", StatusCode::FORBIDDEN),
            Kind::NotFound => entry("not_found", StatusCode::NOT_FOUND),
            Kind::WrongMethod => entry("wrong_method", StatusCode::METHOD_NOT_ALLOWED),
            Kind::Unreadable(_) => entry("unreadable", StatusCode::BAD_REQUEST),
            Kind::TooLarge(_) => entry("too_large", StatusCode::PAYLOAD_TOO_LARGE),
            Kind::TooSlow => entry("too_slow", StatusCode::REQUEST_TIMEOUT),
            Kind::WrongType => entry("wrong_type", StatusCode::UNSUPPORTED_MEDIA_TYPE),
            Kind::TooManyTries(_) => entry("too_many_tries", StatusCode::TOO_MANY_REQUESTS),
            Kind::Refused(code, _) => (code, StatusCode::UNPROCESSABLE_ENTITY, "refused"),
            Kind::Conflict(code, _) => (code, StatusCode::CONFLICT, "conflict"),
            Kind::StorageFull => entry("storage_full", StatusCode::INSUFFICIENT_STORAGE),
            Kind::Fault => entry("fault", StatusCode::INTERNAL_SERVER_ERROR),
        }
    }

    /// What the sentence quotes.
    fn figures(&self) -> Value {
        match self {
            Kind::Unreadable(why) => json!({ "why": why }),
            Kind::TooLarge(bytes) => json!({ "size": size(*bytes) }),
            Kind::TooManyTries(seconds) => json!({ "seconds": seconds }),
            Kind::Refused(_, figures) | Kind::Conflict(_, figures) => {
                figures.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect()
            }
            _ => Value::Null,
        }
    }
}

fn size(bytes: usize) -> String {
    if bytes < 1 << 20 { format!("{} kB", bytes >> 10) } else { format!("{} MB", bytes >> 20) }
}

/// What the API answers for a problem.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Problem)]
pub struct ProblemBody {
    /// Stable code.
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// What to do next.
    pub next: String,
    /// The input concerned.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
}

impl Problem {
    /// A refused value of one input; [`Problem::with`] adds what its sentence quotes.
    #[must_use]
    pub fn at(field: &str, code: &'static str) -> Problem {
        Problem { kind: Kind::Refused(code, Figures::new()), field: Some(field.to_owned()) }
    }

    /// A request that the present state does not allow.
    #[must_use]
    pub fn conflict(code: &'static str) -> Problem {
        Kind::Conflict(code, Figures::new()).into()
    }

    /// Adds a figure to the sentence of a refusal or a conflict.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: impl Into<Value>) -> Problem {
        if let Kind::Refused(_, figures) | Kind::Conflict(_, figures) = &mut self.kind {
            figures.push((name, value.into()));
        }
        self
    }

    /// A refused value of one input, its sentence given in English where the words of the pages
    /// have none for the code.
    #[must_use]
    pub fn refused(field: &str, code: &'static str, message: impl Into<String>) -> Problem {
        Problem::at(field, code).with("message", message.into())
    }

    /// Stable code.
    #[must_use]
    pub fn code(&self) -> &'static str {
        self.kind.entry().0
    }

    /// What the sentence quotes.
    #[must_use]
    pub fn figures(&self) -> Value {
        self.kind.figures()
    }

    /// The problem in the words of a language.
    #[must_use]
    pub fn body(&self, w: &Value) -> ProblemBody {
        let (code, _, next) = self.kind.entry();
        ProblemBody {
            code,
            message: words::error(w, code, &self.kind.figures()),
            next: w["next"][next].as_str().unwrap_or_default().to_owned(),
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
        self.kind.entry().1
    }

    fn error_response(&self) -> HttpResponse<BoxBody> {
        HttpResponse::build(self.status_code()).json(self.body(words::all().of(words::FALLBACK)))
    }
}

/// Percent-encodes everything but letters, digits and a few safe signs.
#[must_use]
pub fn encode(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'-' | b'_' | b'.' => {
                char::from(byte).to_string()
            }
            byte => format!("%{byte:02X}"),
        })
        .collect()
}
