//! Signing in, by passphrase or one-time link, and out; the account's own page.

use actix_web::cookie::{Cookie, SameSite, time};
use actix_web::http::{StatusCode, header};
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::dates::moment;
use super::second_factor::go_on;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{self, Posted, Signed, check_origin};
use crate::access::passphrase::{self, Strength};
use crate::access::{rights, token};
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::{self, Done};
use crate::error::{Kind, Problem};
use crate::inputs::{Inputs, Nothing, is_script};
use crate::store::account;
use crate::store::audit::{self, Action, Entry};
use crate::store::session::{self, Session};

/// Lines of what happened with the account (assumed: as many as are read).
const EVENTS: i64 = 8;

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

/// What the answer of a sign-in may be.
const CODE: &str = "Where the answer is at /second-factor, a code is asked for there.";

pub(super) fn describe(api: &mut Api) {
    api.add(
        post::<SignInForm, Done>("/sign-in", "Signs in with name and passphrase.")
            .open()
            .slowed()
            .detail(CODE),
    );
    api.add(
        post::<Nothing, Done>("/sign-in/{token}", "Signs in by a link, which opens once.")
            .open()
            .detail(CODE),
    );
    api.add(post::<Nothing, Done>("/sign-out", "Ends this session."));
    api.add(post::<PassphraseForm, Done>("/account", "Changes one's own passphrase.").slowed());
    api.add(post::<LanguageForm, Done>(
        "/language",
        "Chooses the language of the pages and messages, kept in a cookie.",
    ));
    api.add(post::<Nothing, Done>(
        "/account/sign-out-everywhere",
        "Ends every session of the account.",
    ));
}

#[derive(Deserialize)]
pub(super) struct Target {
    #[serde(default)]
    pub(super) to: String,
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

#[derive(Deserialize, ToSchema)]
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
    form: Result<Inputs<SignInForm>, Problem>,
) -> Result<HttpResponse, Problem> {
    check_origin(&request)?;
    let Inputs(form) = form?;
    let name = form.name.trim().to_lowercase();
    let keys = throttle_keys(&request, &format!("account {name}"));
    app.throttle.check(&keys)?;
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
            go_on(&app, account, false, local(&form.to)).await
        }
        None => {
            keys.iter().for_each(|key| app.throttle.failed(key));
            // The name that was tried is an account's, or a slip: perhaps a passphrase. It is not
            // written down.
            app.store.write(|c| audit::add(c, "", Action::SignInRefused, None)).await?;
            let error = in_form(&request, Problem::at("passphrase", "sign_in_wrong"))?;
            let view = SignInView { name: &form.name, to: local(&form.to), error: Some(error) };
            guest(&app, &request, StatusCode::UNPROCESSABLE_ENTITY, "sign_in.html", &view)
        }
    }
}

/// What failed tries are counted by: first the thing tried, then where the tries come from.
pub(super) fn throttle_keys(request: &HttpRequest, tried: &str) -> [String; 2] {
    let address = request.peer_addr().map(|peer| peer.ip().to_string());
    [tried.to_owned(), format!("address {}", address.unwrap_or_default())]
}

/// A target on this site, or the front page.
pub(super) fn local(to: &str) -> &str {
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
        Some(account) => go_on(&app, account, true, "/").await,
        None if is_script(&request) => Err(Kind::NotFound.into()),
        None => {
            let view = LinkView { is_open: false };
            guest(&app, &request, StatusCode::NOT_FOUND, "sign_in_link.html", &view)
        }
    }
}

async fn sign_out(
    request: HttpRequest,
    app: Data<App>,
    posted: Posted<rights::See, Nothing>,
) -> Result<HttpResponse, Problem> {
    let (account, who) = (posted.session.account, posted.session.name);
    let hash = guard::token_hash(&request).unwrap_or_default();
    app.store
        .write(move |c| {
            session::end(c, &hash)?;
            audit::add(c, &who, Action::SignedOut, Some(account))
        })
        .await?;
    Ok(signed_out(&app))
}

async fn sign_out_everywhere(
    app: Data<App>,
    posted: Posted<rights::See, Nothing>,
) -> Result<HttpResponse, Problem> {
    let (account, who) = (posted.session.account, posted.session.name);
    app.store
        .write(move |c| {
            session::end_all(c, account)?;
            audit::add(c, &who, Action::SignedOut, Some(account))
        })
        .await?;
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
    /// Whether the passphrase in force is asked for.
    asks_current: bool,
    is_changed: bool,
    /// Of the passphrase that was just sent.
    strength: Option<Strength>,
    events: Vec<Event>,
    error: Option<FieldError>,
}

/// Something that happened with the account, for its holder to recognise.
#[derive(Serialize)]
struct Event {
    at: String,
    action: String,
    /// In English, for a language that lacks the action.
    words: &'static str,
}

/// What became of a form of the account page.
#[derive(Default)]
struct Sent {
    is_changed: bool,
    strength: Option<Strength>,
    error: Option<FieldError>,
}

async fn account_page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::See>,
) -> Result<HttpResponse, Problem> {
    show_account(&request, &app, &signed.session, Sent::default()).await
}

async fn show_account(
    request: &HttpRequest,
    app: &App,
    session: &Session,
    Sent { is_changed, strength, error }: Sent,
) -> Result<HttpResponse, Problem> {
    let status = form_status(error.as_ref());
    let account = session.account;
    let entries = app.store.read(move |c| audit::about_account(c, account, EVENTS)).await?;
    let event = |entry: Entry| Event {
        at: moment(entry.at_ms),
        words: Action::words_of(&entry.action),
        action: entry.action,
    };
    let view = AccountView {
        shortest: passphrase::SHORTEST,
        asks_current: asks_current(session),
        is_changed,
        strength,
        events: entries.into_iter().map(event).collect(),
        error,
    };
    app.pages.page(request, session, status, "account.html", &view)
}

/// A passphrase is changed by whoever knows it, or has just come by a link of an administrator.
fn asks_current(session: &Session) -> bool {
    session.has_passphrase && !session.by_link
}

#[derive(Deserialize, ToSchema)]
struct PassphraseForm {
    #[serde(default)]
    current: String,
    #[serde(default)]
    passphrase: String,
    /// `judge` sets nothing and says how strong it is.
    #[serde(default)]
    only: String,
}

async fn set_passphrase(
    request: HttpRequest,
    app: Data<App>,
    posted: Posted<rights::See, PassphraseForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let strength = Some(passphrase::strength(&form.passphrase, &session.name));
    if form.only == "judge" {
        if is_script(&request) {
            let at = "/account".to_owned();
            return Ok(HttpResponse::Ok().json(Done { at, strength, ..Done::default() }));
        }
        let sent = Sent { strength, ..Sent::default() };
        return show_account(&request, &app, &session, sent).await;
    }
    let set = async {
        if asks_current(&session) {
            check_current(&request, &app, &session, form.current).await?;
        }
        if let Some(code) = passphrase::refusal(&form.passphrase, &session.name) {
            return Err(Problem::at("passphrase", code)
                .with("least", passphrase::SHORTEST)
                .with("most", passphrase::LONGEST));
        }
        let hash = web::block(move || passphrase::hash(&form.passphrase))
            .await
            .map_err(|_| Kind::Fault)?
            .map_err(|_| Kind::Fault)?;
        let (account, who) = (session.account, session.name.clone());
        let kept = guard::token_hash(&request).unwrap_or_default();
        app.store
            .write(move |c| {
                account::set_passphrase(c, account, &hash)?;
                session::end_others(c, account, &kept)?;
                audit::add(c, &who, Action::PassphraseSet, Some(account))
            })
            .await?;
        Ok(())
    };
    match set.await {
        Ok(()) if is_script(&request) => Ok(done::at("/account")),
        Ok(()) => {
            let sent = Sent { is_changed: true, strength, error: None };
            show_account(&request, &app, &session, sent).await
        }
        Err(problem) => {
            let error = Some(in_form(&request, problem)?);
            // Whether a wrong one is strong is no answer to somebody who may not change it.
            let strength =
                strength.filter(|_| error.as_ref().is_some_and(|e| e.field != "current"));
            show_account(&request, &app, &session, Sent { error, strength, is_changed: false })
                .await
        }
    }
}

/// Refuses a change of the passphrase by somebody who does not know the one in force.
async fn check_current(
    request: &HttpRequest,
    app: &App,
    session: &Session,
    typed: String,
) -> Result<(), Problem> {
    let account = session.account;
    let keys = throttle_keys(request, &format!("current {account}"));
    app.throttle.check(&keys)?;
    let stored = app.store.read(move |c| Ok(account::get(c, account)?.passphrase_hash)).await?;
    let is_right = web::block(move || passphrase::verify(&typed, stored.as_deref()))
        .await
        .map_err(|_| Kind::Fault)?;
    if is_right {
        return Ok(());
    }
    keys.iter().for_each(|key| app.throttle.failed(key));
    Err(Problem::at("current", "passphrase_wrong"))
}

#[derive(Deserialize, ToSchema)]
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
