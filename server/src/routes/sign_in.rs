//! Signing in, by passphrase or one-time link, and out; the account's own page.

use std::net::IpAddr;

use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::http::{StatusCode, header};
use actix_web::web::{self, Data, Form, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{FieldError, form_status, in_form};
use crate::access::guard::{self, Posted, Signed, check_origin};
use crate::access::{passphrase, rights, token};
use crate::app::App;
use crate::error::{Kind, Problem};
use crate::store::audit::{self, Action};
use crate::store::{account, session};

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/sign-in")
                .route(web::get().to(sign_in_page))
                .route(web::post().to(sign_in)),
        )
        .service(
            web::resource("/sign-in/{token}")
                .route(web::get().to(link_page))
                .route(web::post().to(use_link)),
        )
        .route("/sign-out", web::post().to(sign_out))
        .service(
            web::resource("/account")
                .route(web::get().to(account_page))
                .route(web::post().to(set_passphrase)),
        )
        .route("/language", web::post().to(choose_language))
        .route("/account/sign-out-everywhere", web::post().to(sign_out_everywhere));
}

#[derive(Deserialize)]
struct Target {
    #[serde(default)]
    to: String,
}

#[derive(Serialize)]
struct SignInView<'a> {
    name: &'a str,
    to: &'a str,
    error: Option<FieldError>,
}

async fn sign_in_page(
    request: HttpRequest,
    app: Data<App>,
    query: Query<Target>,
) -> Result<HttpResponse, Problem> {
    let view = SignInView { name: "", to: local(&query.to), error: None };
    guest(&app, &request, StatusCode::OK, "sign_in.html", &view)
}

#[derive(Deserialize)]
struct SignInForm {
    #[serde(default)]
    name: String,
    #[serde(default)]
    passphrase: String,
    #[serde(default)]
    to: String,
}

async fn sign_in(
    request: HttpRequest,
    app: Data<App>,
    form: Result<Form<SignInForm>, actix_web::Error>,
) -> Result<HttpResponse, Problem> {
    check_origin(&request)?;
    let form = form.map_err(guard::form_problem)?.into_inner();
    let name = form.name.trim().to_lowercase();
    let address = request.peer_addr().map(|peer| peer.ip());
    let keys = [
        format!("account {name}"),
        format!("address {}", address.map_or_else(String::new, text_of)),
    ];
    if let Some(wait) = keys.iter().filter_map(|key| app.throttle.wait(key)).max() {
        return Err(Kind::TooManyTries(wait.as_secs() + 1).into());
    }
    let looked_up = name.clone();
    let found = app.store.read(move |c| account::by_name(c, &looked_up)).await?;
    let stored = found.as_ref().and_then(|account| account.passphrase_hash.clone());
    let typed = form.passphrase;
    let is_right = web::block(move || passphrase::verify(&typed, stored.as_deref()))
        .await
        .map_err(|_| Kind::Fault)?;
    match found.filter(|_| is_right) {
        Some(account) => {
            keys.iter().take(1).for_each(|key| app.throttle.succeeded(key));
            note(&app, &account.name, Action::SignedIn, account.id).await?;
            let cookie = guard::start_session(&app, account.id).await?;
            Ok(HttpResponse::SeeOther()
                .cookie(cookie)
                .insert_header((header::LOCATION, local(&form.to).to_owned()))
                .finish())
        }
        None => {
            keys.iter().for_each(|key| app.throttle.failed(key));
            let error = in_form(Problem::at("passphrase", "sign_in_wrong"))?;
            let view = SignInView { name: &form.name, to: local(&form.to), error: Some(error) };
            guest(&app, &request, StatusCode::UNPROCESSABLE_ENTITY, "sign_in.html", &view)
        }
    }
}

async fn note(app: &App, who: &str, action: Action, account: Uuid) -> Result<(), Problem> {
    let who = who.to_owned();
    Ok(app.store.write(move |c| audit::add(c, &who, action, Some(account))).await?)
}

fn text_of(address: IpAddr) -> String {
    address.to_string()
}

/// A target on this site, or the front page.
fn local(to: &str) -> &str {
    let is_local = to.starts_with('/') && !to.starts_with("//") && !to.contains(['\\', '\n', '\r']);
    if is_local { to } else { "/" }
}

#[derive(Serialize)]
struct LinkView {
    is_open: bool,
}

async fn link_page(
    request: HttpRequest,
    app: Data<App>,
    link: Path<String>,
) -> Result<HttpResponse, Problem> {
    let hash = token::hash(&link);
    let is_open = app.store.read(move |c| account::link_is_open(c, &hash)).await?;
    let status = if is_open { StatusCode::OK } else { StatusCode::NOT_FOUND };
    guest(&app, &request, status, "sign_in_link.html", &LinkView { is_open })
}

async fn use_link(
    request: HttpRequest,
    app: Data<App>,
    link: Path<String>,
) -> Result<HttpResponse, Problem> {
    check_origin(&request)?;
    let hash = token::hash(&link);
    match app.store.write(move |c| account::use_link(c, &hash)).await? {
        Some(account) => {
            note(&app, &account.name, Action::SignedIn, account.id).await?;
            let cookie = guard::start_session(&app, account.id).await?;
            let to = if account.passphrase_hash.is_some() { "/" } else { "/account" };
            Ok(HttpResponse::SeeOther()
                .cookie(cookie)
                .insert_header((header::LOCATION, to))
                .finish())
        }
        None => {
            let view = LinkView { is_open: false };
            guest(&app, &request, StatusCode::NOT_FOUND, "sign_in_link.html", &view)
        }
    }
}

#[derive(Deserialize)]
struct Nothing {}

async fn sign_out(
    request: HttpRequest,
    app: Data<App>,
    _posted: Posted<rights::See, Nothing>,
) -> Result<HttpResponse, Problem> {
    if let Some(hash) = guard::token_hash(&request) {
        app.store.write(move |c| session::end(c, &hash)).await?;
    }
    Ok(signed_out(&app))
}

async fn sign_out_everywhere(
    app: Data<App>,
    posted: Posted<rights::See, Nothing>,
) -> Result<HttpResponse, Problem> {
    let account = posted.session.account;
    app.store.write(move |c| session::end_all(c, account)).await?;
    Ok(signed_out(&app))
}

fn signed_out(app: &App) -> HttpResponse {
    HttpResponse::SeeOther()
        .cookie(guard::ended_cookie(app))
        .insert_header((header::LOCATION, "/sign-in"))
        .finish()
}

#[derive(Serialize)]
struct AccountView {
    shortest: usize,
    is_changed: bool,
    error: Option<FieldError>,
}

async fn account_page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::See>,
) -> Result<HttpResponse, Problem> {
    let view = AccountView { shortest: passphrase::SHORTEST, is_changed: false, error: None };
    app.pages.page(&request, &signed.session, StatusCode::OK, "account.html", &view)
}

#[derive(Deserialize)]
struct PassphraseForm {
    #[serde(default)]
    passphrase: String,
}

async fn set_passphrase(
    request: HttpRequest,
    app: Data<App>,
    posted: Posted<rights::See, PassphraseForm>,
) -> Result<HttpResponse, Problem> {
    let session = posted.session;
    let chosen = posted.form.passphrase;
    let error = match passphrase::refusal(&chosen, &session.name) {
        Some(code) => Some(in_form(
            Problem::at("passphrase", code)
                .with("least", passphrase::SHORTEST)
                .with("most", passphrase::LONGEST),
        )?),
        None => {
            let hash = web::block(move || passphrase::hash(&chosen))
                .await
                .map_err(|_| Kind::Fault)?
                .map_err(|_| Kind::Fault)?;
            let account = session.account;
            app.store.write(move |c| account::set_passphrase(c, account, &hash)).await?;
            note(&app, &session.name, Action::PassphraseSet, account).await?;
            None
        }
    };
    let status = form_status(error.as_ref());
    let view = AccountView { shortest: passphrase::SHORTEST, is_changed: error.is_none(), error };
    app.pages.page(&request, &session, status, "account.html", &view)
}

#[derive(Deserialize)]
struct LanguageForm {
    #[serde(default)]
    language: String,
}

async fn choose_language(
    app: Data<App>,
    posted: Posted<rights::See, LanguageForm>,
) -> Result<HttpResponse, Problem> {
    let wanted = posted.form.language;
    if !app.pages.words.languages().any(|language| language == wanted) {
        return Err(Problem::at("language", "not_on_the_list"));
    }
    let cookie = Cookie::build("language", wanted)
        .path("/")
        .same_site(SameSite::Lax)
        .secure(app.config.is_tls())
        .max_age(time::Duration::days(365))
        .finish();
    let mut response = super::productions::see_other("/account");
    response.add_cookie(&cookie).map_err(|_| Kind::Fault)?;
    Ok(response)
}

fn guest(
    app: &App,
    request: &HttpRequest,
    status: StatusCode,
    template: &str,
    view: &impl Serialize,
) -> Result<HttpResponse, Problem> {
    let html = app.pages.render_guest(request, template, view)?;
    Ok(HttpResponse::build(status).content_type("text/html; charset=utf-8").body(html))
}
