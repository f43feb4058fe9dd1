//! Bodies that trickle in are cut off: a client that sends a byte a second holds nothing for long.

use std::future::Future;
use std::io;
use std::task::Poll;
use std::time::Duration;

use actix_web::HttpMessage;
use actix_web::body::MessageBody;
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::error::PayloadError;
use actix_web::http::Method;
use actix_web::middleware::Next;
use actix_web::rt::time::sleep;
use futures_util::{StreamExt, stream};

/// A form or facts arrive within this time (assumed: 256 kB at 10 kB a second, a poor signal).
const FORM_TIME: Duration = Duration::from_secs(30);

/// A file arrives within this time (assumed: 2 MB at 20 kB a second).
const FILE_TIME: Duration = Duration::from_secs(120);

/// Gives the body of a request a time in which it must have arrived.
///
/// # Errors
/// Those of the handler; to it a slow body is one that breaks off with [`io::ErrorKind::TimedOut`].
pub async fn bounded<B: MessageBody>(
    mut request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, actix_web::Error> {
    if *request.method() != Method::GET {
        let time = if request.path().ends_with("/import") { FILE_TIME } else { FORM_TIME };
        let (mut body, mut end) = (request.take_payload(), Box::pin(sleep(time)));
        let timed = stream::poll_fn(move |context| {
            if end.as_mut().poll(context).is_ready() {
                let late = io::Error::from(io::ErrorKind::TimedOut);
                return Poll::Ready(Some(Err(PayloadError::Io(late))));
            }
            body.poll_next_unpin(context)
        });
        request.set_payload(Payload::Stream { payload: Box::pin(timed) });
    }
    next.call(request).await
}

/// Whether a body broke off because its time was up.
#[must_use]
pub fn is_late(error: &PayloadError) -> bool {
    matches!(error, PayloadError::Io(error) if error.kind() == io::ErrorKind::TimedOut)
}
