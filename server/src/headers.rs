//! Security headers: what a browser may do with an answer.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::middleware::Next;

/// What the pages may load: their own files and nothing else, no inline script or style.
const CONTENT_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; \
    form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// For everything.
const EVERYWHERE: [(&str, &str); 2] =
    [("x-content-type-options", "nosniff"), ("cache-control", "no-store")];

/// For whatever a browser may open as a page, or run as a worker.
const DOCUMENTS: [(&str, &str); 5] = [
    ("content-security-policy", CONTENT_POLICY),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("permissions-policy", "camera=(), geolocation=(), microphone=()"),
];

/// Adds the headers a handler has not set itself. A style sheet or a module is no document: it goes
/// without the longer ones, which would outweigh a small module on a slow line.
///
/// # Errors
/// Those of the handler.
pub async fn add<B: MessageBody>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, actix_web::Error> {
    let is_worker = request.path() == "/sw.js";
    let mut response = next.call(request).await?;
    let kind = response.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    let is_part = kind
        .is_some_and(|kind| kind.starts_with("text/css") || kind.starts_with("text/javascript"));
    let documents: &[_] = if is_part && !is_worker { &[] } else { &DOCUMENTS };
    for (name, value) in EVERYWHERE.iter().chain(documents) {
        let name = HeaderName::from_static(name);
        if !response.headers().contains_key(&name) {
            response.headers_mut().insert(name, HeaderValue::from_static(value));
        }
    }
    Ok(response)
}
