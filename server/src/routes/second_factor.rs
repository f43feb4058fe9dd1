//! The second factor: set up, asked for when signing in, removed.

use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::http::header;
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::codes::square;
use super::productions::see_other;
use super::sign_in::{Target, local, throttle_keys};
use super::{FieldError, form_status, in_form};
use crate::access::guard::{self, Posted, Signed, check_origin};
use crate::access::{rights, token, totp};
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::{Kind, Problem};
use crate::inputs::{Inputs, Nothing, is_script};
use crate::store::account;
use crate::store::audit::{self, Action};
use crate::store::second_factor;
use crate::store::session::Session;

/// Name of the cookie between passphrase and code.
const COOKIE: &str = "half";

/// Recovery codes made at a time (assumed: enough for years of lost phones).
const RECOVERY_CODES: usize = 8;

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/second-factor")
                .route(web::get().to(ask_page))
                .route(web::post().to(answer)),
        )
        .service(
            web::resource("/account/second-factor")
                .route(web::get().to(page))
                .route(web::post().to(begin)),
        )
        .route("/account/second-factor/confirm", web::post().to(confirm))
        .route("/account/second-factor/remove", web::post().to(remove))
        .route("/accounts/{id}/second-factor/remove", web::post().to(remove_of));
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        post::<AskForm, Done>(
            "/second-factor",
            "Answers the code asked for after passphrase or link.",
        )
        .open()
        .slowed()
        .may_conflict(),
    );
    api.add(post::<Nothing, Done>(
        "/account/second-factor",
        "Begins to set up a second factor; the page shows the secret.",
    ));
    api.add(
        post::<CodeForm, Done>(
            "/account/second-factor/confirm",
            "Switches the second factor on by a first code.",
        )
        .slowed()
        .detail("The recovery codes are told this once."),
    );
    api.add(
        post::<CodeForm, Done>(
            "/account/second-factor/remove",
            "Removes one's own second factor by a code.",
        )
        .slowed(),
    );
    api.add(post::<Nothing, Done>(
        "/accounts/{id}/second-factor/remove",
        "Removes the second factor of an account.",
    ));
}

/// Passphrase or link was right: signs in, or asks for a code where one is needed.
///
/// # Errors
/// Our own faults only.
pub(super) async fn go_on(
    app: &App,
    found: account::Account,
    by_link: bool,
    to: &str,
) -> Result<HttpResponse, Problem> {
    let id = found.id;
    if !app.store.read(move |c| second_factor::is_on(c, id)).await? {
        return enter(app, found, by_link, to).await;
    }
    let value = token::random().map_err(|_| Kind::Fault)?;
    let hash = token::hash(&value);
    app.store.write(move |c| second_factor::await_code(c, &hash, id, by_link)).await?;
    let mut response = see_other(&format!("/second-factor?to={}", crate::error::encode(to)));
    response.add_cookie(&half_cookie(app, value, 600)).map_err(|_| Kind::Fault)?;
    Ok(response)
}

async fn enter(
    app: &App,
    found: account::Account,
    by_link: bool,
    to: &str,
) -> Result<HttpResponse, Problem> {
    let (id, who) = (found.id, found.name);
    app.store.write(move |c| audit::add(c, &who, Action::SignedIn, Some(id))).await?;
    let cookie = guard::start_session(app, id, by_link).await?;
    let to = if by_link && found.passphrase_hash.is_none() { "/account" } else { to };
    Ok(HttpResponse::SeeOther()
        .cookie(cookie)
        .cookie(half_cookie(app, String::new(), 0))
        .insert_header((header::LOCATION, to.to_owned()))
        .finish())
}

fn half_cookie(app: &App, value: String, seconds: i64) -> Cookie<'static> {
    Cookie::build(COOKIE, value)
        .path("/second-factor")
        .http_only(true)
        .secure(app.config.is_tls())
        .same_site(SameSite::Strict)
        .max_age(time::Duration::seconds(seconds))
        .finish()
}

#[derive(Serialize)]
struct AskView<'a> {
    to: &'a str,
    error: Option<FieldError>,
}

async fn ask_page(
    request: HttpRequest,
    app: Data<App>,
    query: Query<Target>,
) -> Result<HttpResponse, Problem> {
    if awaited(&request, &app).await?.is_none() {
        return Ok(see_other("/sign-in"));
    }
    ask(&request, &app, local(&query.to), None)
}

fn ask(
    request: &HttpRequest,
    app: &App,
    to: &str,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let status = form_status(error.as_ref());
    let html = app.pages.render_guest(request, "second_factor_ask.html", &AskView { to, error })?;
    Ok(HttpResponse::build(status).content_type("text/html; charset=utf-8").body(html))
}

async fn awaited(
    request: &HttpRequest,
    app: &Data<App>,
) -> Result<Option<(Vec<u8>, Uuid, bool)>, Problem> {
    let Some(cookie) = request.cookie(COOKIE) else { return Ok(None) };
    let hash = token::hash(cookie.value());
    let looked_up = hash.clone();
    let found = app.store.read(move |c| second_factor::awaited(c, &looked_up)).await?;
    Ok(found.map(|(account, by_link)| (hash, account, by_link)))
}

#[derive(Deserialize, ToSchema)]
#[schema(as = CodeAtSignInForm)]
struct AskForm {
    #[serde(default)]
    code: String,
    #[serde(default)]
    to: String,
}

async fn answer(
    request: HttpRequest,
    app: Data<App>,
    form: Result<Inputs<AskForm>, Problem>,
) -> Result<HttpResponse, Problem> {
    check_origin(&request)?;
    let Inputs(form) = form?;
    let Some((hash, id, by_link)) = awaited(&request, &app).await? else {
        // A page begins anew; a script that was told so would think itself signed in.
        if is_script(&request) {
            return Err(Problem::conflict("code_not_awaited"));
        }
        return Ok(see_other("/sign-in"));
    };
    let keys = throttle_keys(&request, &format!("code {id}"));
    app.throttle.check(&keys)?;
    let typed = form.code;
    let (found, fits) = app
        .store
        .write(move |c| {
            let found = account::get(c, id)?;
            let fits = second_factor::take(c, id, &typed)?;
            if fits {
                second_factor::end_wait(c, &hash)?;
            } else {
                audit::add(c, &found.name, Action::CodeRefused, Some(id))?;
            }
            Ok((found, fits))
        })
        .await?;
    if fits {
        keys.iter().take(1).for_each(|key| app.throttle.succeeded(key));
        return enter(&app, found, by_link, local(&form.to)).await;
    }
    keys.iter().for_each(|key| app.throttle.failed(key));
    ask(&request, &app, local(&form.to), Some(wrong_code(&request)?))
}

fn wrong_code(request: &HttpRequest) -> Result<FieldError, Problem> {
    in_form(request, Problem::at("code", "code_wrong"))
}

#[derive(Default, Serialize)]
struct FactorView {
    is_on: bool,
    recovery_left: i64,
    /// While it is set up: the secret as a square and as text.
    square: Option<String>,
    secret: Option<String>,
    /// Shown once, when it has been set up.
    recovery: Vec<String>,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::See>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, FactorView::default()).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    view: FactorView,
) -> Result<HttpResponse, Problem> {
    let account = session.account;
    let (factor, recovery_left) = app
        .store
        .read(move |c| {
            Ok((second_factor::get(c, account)?, second_factor::recovery_left(c, account)?))
        })
        .await?;
    let begun = factor.as_ref().filter(|factor| !factor.is_confirmed);
    let address = begun.map(|factor| totp::address(&session.name, &factor.secret));
    let view = FactorView {
        is_on: factor.as_ref().is_some_and(|factor| factor.is_confirmed),
        recovery_left,
        square: address.as_deref().map(square).transpose()?,
        secret: begun.map(|factor| totp::base_32(&factor.secret)),
        ..view
    };
    let status = form_status(view.error.as_ref());
    app.pages.page(request, session, status, "second_factor.html", &view)
}

async fn begin(
    app: Data<App>,
    posted: Posted<rights::See, Nothing>,
) -> Result<HttpResponse, Problem> {
    let account = posted.session.account;
    let secret = totp::new_secret().map_err(|_| Kind::Fault)?;
    app.store.write(move |c| second_factor::begin(c, account, &secret)).await?;
    Ok(see_other("/account/second-factor"))
}

#[derive(Deserialize, ToSchema)]
struct CodeForm {
    #[serde(default)]
    code: String,
}

async fn confirm(
    request: HttpRequest,
    app: Data<App>,
    posted: Posted<rights::See, CodeForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let account = session.account;
    let keys = throttle_keys(&request, &format!("code {account}"));
    app.throttle.check(&keys)?;
    let codes = (0..RECOVERY_CODES)
        .map(|_| totp::recovery_code())
        .collect::<Result<Vec<_>, _>>()
        .map_err(|_| Kind::Fault)?;
    let hashes: Vec<_> = codes.iter().map(|code| totp::recovery_hash(code)).collect();
    let who = session.name.clone();
    let fits = app
        .store
        .write(move |c| {
            // Codes that are in force are not made anew by a second confirmation.
            let fits = !second_factor::is_on(c, account)?
                && second_factor::confirm(c, account, &form.code, &hashes)?;
            if fits {
                audit::add(c, &who, Action::SecondFactorSet, Some(account))?;
            }
            Ok(fits)
        })
        .await?;
    let view = if fits && is_script(&request) {
        let at = "/account/second-factor".to_owned();
        return Ok(HttpResponse::Ok().json(Done { at, recovery: codes, ..Done::default() }));
    } else if fits {
        FactorView { recovery: codes, ..FactorView::default() }
    } else {
        keys.iter().for_each(|key| app.throttle.failed(key));
        FactorView { error: Some(wrong_code(&request)?), ..FactorView::default() }
    };
    show(&request, &app, &session, view).await
}

async fn remove(
    request: HttpRequest,
    app: Data<App>,
    posted: Posted<rights::See, CodeForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let account = session.account;
    let keys = throttle_keys(&request, &format!("code {account}"));
    app.throttle.check(&keys)?;
    let who = session.name.clone();
    let fits = app
        .store
        .write(move |c| {
            let fits = second_factor::take(c, account, &form.code)?;
            if fits {
                second_factor::remove(c, account)?;
                audit::add(c, &who, Action::SecondFactorRemoved, Some(account))?;
            }
            Ok(fits)
        })
        .await?;
    if fits {
        return Ok(see_other("/account/second-factor"));
    }
    keys.iter().for_each(|key| app.throttle.failed(key));
    let view = FactorView { error: Some(wrong_code(&request)?), ..FactorView::default() };
    show(&request, &app, &session, view).await
}

/// An administrator helps somebody whose phone and recovery codes are gone.
async fn remove_of(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Administer, Nothing>,
) -> Result<HttpResponse, Problem> {
    let (id, who) = (*id, posted.session.name);
    app.store
        .write(move |c| {
            account::get(c, id)?;
            second_factor::remove(c, id)?;
            audit::add(c, &who, Action::SecondFactorRemoved, Some(id))
        })
        .await?;
    Ok(see_other("/accounts"))
}
