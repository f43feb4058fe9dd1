//! Extractors: the only way for a handler to learn who is signed in, and to read what they sent.

use std::marker::PhantomData;

use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::dev::Payload;
use actix_web::http::header;
use actix_web::{FromRequest, HttpRequest, web};
use futures_util::future::{FutureExt, LocalBoxFuture};
use serde::Deserialize;
use serde::de::DeserializeOwned;

use super::rights::{Right, may};
use super::token;
use crate::app::App;
use crate::error::{Kind, Problem};
use crate::inputs::{Inputs, json_problem};
use crate::store::account::Role;
use crate::store::session::{self, Session};

/// Name of the session cookie.
const COOKIE: &str = "handcall";

/// Header that carries the form token of a request from a script.
pub const TOKEN_HEADER: &str = "x-form-token";

/// Somebody signed in who has the right `R`.
#[derive(Debug)]
pub struct Signed<R: Right> {
    /// Their session.
    pub session: Session,
    right: PhantomData<R>,
}

/// A form, or its inputs as JSON, posted by somebody who has the right `R`, its token checked.
#[derive(Debug)]
pub struct Posted<R: Right, T> {
    /// Their session.
    pub session: Session,
    /// What they sent.
    pub form: T,
    right: PhantomData<R>,
}

/// JSON posted by somebody who has the right `R`, its token checked.
#[derive(Debug)]
pub struct PostedJson<R: Right, T> {
    /// Their session.
    pub session: Session,
    /// What they sent.
    pub json: T,
    right: PhantomData<R>,
}

#[derive(Deserialize)]
struct WithToken<T> {
    #[serde(default)]
    csrf: String,
    #[serde(flatten)]
    form: T,
}

async fn session_of<R: Right>(request: &HttpRequest) -> Result<Session, Problem> {
    let app = request.app_data::<web::Data<App>>().ok_or(Kind::Fault)?;
    let cookie = request.cookie(COOKIE).ok_or(Kind::SignInNeeded)?;
    let hash = token::hash(cookie.value());
    let looked_up = hash.clone();
    let session =
        app.store.read(move |c| session::find(c, &looked_up)).await?.ok_or(Kind::SignInNeeded)?;
    if session.is_stale {
        app.store.write(move |c| session::touch(c, &hash)).await?;
    }
    let lacks_factor = app.config.demands_second_factor
        && session.role == Role::Administrator
        && !session.has_second_factor;
    if lacks_factor && !is_own_account(request.path()) {
        return Err(Kind::SecondFactorNeeded.into());
    }
    if may::<R>(session.role) { Ok(session) } else { Err(Kind::NotAllowed.into()) }
}

/// The form token of a request from a script.
fn token_of(request: &HttpRequest) -> Option<&str> {
    request.headers().get(TOKEN_HEADER).and_then(|value| value.to_str().ok())
}

/// Addresses by which somebody sets up what they are signed in by.
fn is_own_account(path: &str) -> bool {
    path == "/account"
        || path.starts_with("/account/")
        || ["/language", "/sign-out"].contains(&path)
}

/// Refuses a form whose token is not the session's.
///
/// # Errors
/// [`Kind::FormExpired`].
pub fn check_token(session: &Session, sent: &str) -> Result<(), Problem> {
    if token::equal(&session.csrf, sent) { Ok(()) } else { Err(Kind::FormExpired.into()) }
}

impl<R: Right> FromRequest for Signed<R> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let request = request.clone();
        async move { Ok(Signed { session: session_of::<R>(&request).await?, right: PhantomData }) }
            .boxed_local()
    }
}

impl<R: Right, T: DeserializeOwned + 'static> FromRequest for Posted<R, T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let body = Inputs::<WithToken<T>>::from_request(&request, payload);
        async move {
            let session = session_of::<R>(&request).await?;
            let Inputs(WithToken { csrf, form }) = body.await?;
            check_token(&session, token_of(&request).unwrap_or(&csrf))?;
            Ok(Posted { session, form, right: PhantomData })
        }
        .boxed_local()
    }
}

impl<R: Right, T: DeserializeOwned + 'static> FromRequest for PostedJson<R, T> {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let body = web::Json::<T>::from_request(&request, payload);
        async move {
            let session = session_of::<R>(&request).await?;
            check_token(&session, token_of(&request).unwrap_or_default())?;
            let json = body.await.map_err(json_problem)?.into_inner();
            Ok(PostedJson { session, json, right: PhantomData })
        }
        .boxed_local()
    }
}

/// The session's token in a request, hashed.
#[must_use]
pub fn token_hash(request: &HttpRequest) -> Option<Vec<u8>> {
    request.cookie(COOKIE).map(|cookie| token::hash(cookie.value()))
}

/// Starts a session and gives its cookie; `by_link` when a one-time link began it.
///
/// # Errors
/// Our own faults only.
pub async fn start_session(
    app: &App,
    account: uuid::Uuid,
    by_link: bool,
) -> Result<Cookie<'static>, Problem> {
    let fault = |error: std::io::Error| {
        tracing::error!(%error, "randomness");
        Problem::from(Kind::Fault)
    };
    let value = token::random().map_err(fault)?;
    let csrf = token::random().map_err(fault)?;
    let hash = token::hash(&value);
    app.store.write(move |c| session::add(c, &hash, account, &csrf, by_link)).await?;
    Ok(cookie(app, value, session::ABSOLUTE_END_MS / 1000))
}

/// A cookie that ends the one in the browser.
#[must_use]
pub fn ended_cookie(app: &App) -> Cookie<'static> {
    cookie(app, String::new(), 0)
}

fn cookie(app: &App, value: String, seconds: i64) -> Cookie<'static> {
    Cookie::build(COOKIE, value)
        .path("/")
        .http_only(true)
        .secure(app.config.is_tls())
        .same_site(SameSite::Lax)
        .max_age(time::Duration::seconds(seconds))
        .finish()
}

/// Refuses a form that another site's page sends. For the forms of those not signed in yet, who
/// have no token: browsers say where a form comes from.
///
/// # Errors
/// [`Kind::FormExpired`] when the origin is another.
pub fn check_origin(request: &HttpRequest) -> Result<(), Problem> {
    let origin = request.headers().get(header::ORIGIN).and_then(|value| value.to_str().ok());
    let host = request.headers().get(header::HOST).and_then(|value| value.to_str().ok());
    let site = request.headers().get("sec-fetch-site").and_then(|value| value.to_str().ok());
    // A page that sends no referrer sends the origin "null": then the browser's own word counts.
    let is_same = match (origin, host) {
        (Some("null"), _) => site == Some("same-origin"),
        (Some(origin), Some(host)) => {
            origin.split_once("://").is_some_and(|(_, origin)| origin == host)
        }
        _ => true,
    };
    if is_same && matches!(site, None | Some("same-origin" | "none")) {
        Ok(())
    } else {
        Err(Kind::FormExpired.into())
    }
}
