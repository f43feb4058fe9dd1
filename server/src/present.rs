//! Gives answers the form for whoever asked: a script is told in JSON what was done or went wrong, a
//! browser is sent on or shown a page.

use actix_web::body::{EitherBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::{Method, StatusCode, header};
use actix_web::middleware::Next;
use actix_web::{HttpRequest, HttpResponse, ResponseError, web};
use serde_json::Value;

use crate::app::{App, JSON_LIMIT};
use crate::done;
use crate::error::{Kind, Problem, encode};
use crate::inputs::is_script;
use crate::words;

/// Middleware: every answer of 400 and above that is not a page of ours yet becomes one, or JSON;
/// what sends a browser on after a form tells a script the same.
///
/// # Errors
/// None of its own.
pub async fn present(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<EitherBody<impl MessageBody>>, actix_web::Error> {
    let response = next.call(request).await?;
    let status = response.status();
    let is_post = response.request().method() == Method::POST;
    if status == StatusCode::SEE_OTHER && is_post && is_script(response.request()) {
        let answer = done::for_script(response.response());
        return Ok(response.into_response(answer).map_into_right_body());
    }
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
    let w = words::all().for_request(&request);
    let answer = if is_script(&request) {
        HttpResponse::build(problem.status_code()).json(problem.body(w))
    } else {
        page(&request, &problem, w)
    };
    Ok(response.into_response(answer).map_into_right_body())
}

fn of_status(status: StatusCode) -> Kind {
    match status {
        StatusCode::UNAUTHORIZED => Kind::SignInNeeded,
        StatusCode::FORBIDDEN => Kind::NotAllowed,
        StatusCode::NOT_FOUND => Kind::NotFound,
        StatusCode::METHOD_NOT_ALLOWED => Kind::WrongMethod,
        StatusCode::PAYLOAD_TOO_LARGE => Kind::TooLarge(JSON_LIMIT),
        StatusCode::REQUEST_TIMEOUT => Kind::TooSlow,
        StatusCode::UNSUPPORTED_MEDIA_TYPE => Kind::WrongType,
        status if status.is_server_error() => Kind::Fault,
        _ => Kind::Unreadable("it is not in the form expected".to_owned()),
    }
}

fn page(request: &HttpRequest, problem: &Problem, w: &Value) -> HttpResponse {
    if problem.kind == Kind::SignInNeeded && request.method() == Method::GET {
        let back = request.uri().path_and_query().map_or("/", |target| target.as_str());
        return HttpResponse::SeeOther()
            .insert_header((header::LOCATION, format!("/sign-in?to={}", encode(back))))
            .finish();
    }
    if problem.kind == Kind::SecondFactorNeeded && request.method() == Method::GET {
        let place = (header::LOCATION, "/account/second-factor");
        return HttpResponse::SeeOther().insert_header(place).finish();
    }
    let status = problem.status_code();
    let rendered = request
        .app_data::<web::Data<App>>()
        .and_then(|app| app.pages.render_guest(request, "problem.html", &problem.body(w)).ok());
    match rendered {
        Some(html) => {
            HttpResponse::build(status).content_type("text/html; charset=utf-8").body(html)
        }
        None => HttpResponse::build(status).body(problem.body(w).message),
    }
}
