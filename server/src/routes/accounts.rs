//! Accounts: who may sign in, and a new sign-in link for one of them.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{FieldError, form_status, in_form, line};
use crate::access::guard::{Posted, Signed};
use crate::access::{rights, token};
use crate::app::{App, LINK_LASTS_MS};
use crate::describe::{Api, get, post};
use crate::done::Done;
use crate::error::{Kind, Problem};
use crate::inputs::{Nothing, is_script};
use crate::store::account::{self, Account, Role};
use crate::store::audit::{self, Action};
use crate::store::now_ms;
use crate::store::session::Session;

/// Longest name of an account, characters.
const LONGEST_NAME: usize = 40;

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(web::resource("/accounts").route(web::get().to(page)).route(web::post().to(add)))
        .route("/accounts/{id}/link", web::post().to(new_link))
        .route("/api/accounts", web::get().to(list));
}

pub(super) fn describe(api: &mut Api) {
    api.add(get::<AccountRow>("/api/accounts", "Every account.").many());
    api.add(
        post::<AccountForm, Done>("/accounts", "Adds an account, with a link to sign in by.")
            .makes(),
    );
    api.add(
        post::<Nothing, Done>(
            "/accounts/{id}/link",
            "Makes a link for an account to sign in by, once within a day.",
        )
        .makes(),
    );
}

#[derive(Serialize, ToSchema)]
#[schema(as = Account)]
struct AccountRow {
    id: Uuid,
    name: String,
    role: &'static str,
    has_passphrase: bool,
    has_second_factor: bool,
}

impl From<Account> for AccountRow {
    fn from(account: Account) -> AccountRow {
        AccountRow {
            id: account.id,
            name: account.name,
            role: account.role.key(),
            has_passphrase: account.passphrase_hash.is_some(),
            has_second_factor: account.has_second_factor,
        }
    }
}

#[derive(Default, Serialize)]
struct AccountsView {
    accounts: Vec<AccountRow>,
    roles: Vec<&'static str>,
    form: AccountForm,
    link: Option<String>,
    link_for: String,
    error: Option<FieldError>,
}

#[derive(Default, Deserialize, Serialize, ToSchema)]
struct AccountForm {
    #[serde(default)]
    #[schema(min_length = 1, max_length = 40)]
    name: String,
    #[serde(default)]
    #[schema(pattern = "^(administrator|supervisor|cutter|measurer)$")]
    role: String,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Administer>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, AccountsView::default()).await
}

async fn list(
    app: Data<App>,
    _signed: Signed<rights::Administer>,
) -> Result<HttpResponse, Problem> {
    let accounts = app.store.read(account::list).await?;
    let rows: Vec<AccountRow> = accounts.into_iter().map(AccountRow::from).collect();
    Ok(HttpResponse::Ok().json(rows))
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    view: AccountsView,
) -> Result<HttpResponse, Problem> {
    let accounts = app.store.read(account::list).await?;
    let view = AccountsView {
        accounts: accounts.into_iter().map(AccountRow::from).collect(),
        roles: Role::ALL.map(Role::key).into(),
        ..view
    };
    let status = form_status(view.error.as_ref());
    app.pages.page(request, session, status, "accounts.html", &view)
}

async fn add(
    request: HttpRequest,
    app: Data<App>,
    posted: Posted<rights::Administer, AccountForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let added = async {
        let name = line("name", &form.name, LONGEST_NAME, true)?;
        let role =
            Role::from_key(&form.role).ok_or_else(|| Problem::at("role", "not_on_the_list"))?;
        let who = session.name.clone();
        let added = app.store.write(move |c| {
            let id = account::add(c, &name, role)?;
            audit::add(c, &who, Action::AccountAdded, Some(id))?;
            Ok((id, name))
        });
        Ok::<_, Problem>(added.await?)
    };
    match added.await {
        Ok(account) => give_link(&request, &app, &session, account).await,
        Err(problem) => {
            let error = Some(in_form(&request, problem)?);
            show(&request, &app, &session, AccountsView { form, error, ..AccountsView::default() })
                .await
        }
    }
}

async fn new_link(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Administer, Nothing>,
) -> Result<HttpResponse, Problem> {
    let session = posted.session;
    let id = *id;
    let account = app.store.read(move |c| account::get(c, id)).await?;
    give_link(&request, &app, &session, (id, account.name)).await
}

/// Makes a link to sign in by and tells it, this once.
async fn give_link(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    (account, name): (Uuid, String),
) -> Result<HttpResponse, Problem> {
    let value = token::random().map_err(|_| Kind::Fault)?;
    let hash = token::hash(&value);
    let who = session.name.clone();
    app.store
        .write(move |c| {
            account::add_link(c, &hash, account, now_ms() + LINK_LASTS_MS)?;
            audit::add(c, &who, Action::LinkMade, Some(account))
        })
        .await?;
    let link = Some(format!("{}/sign-in/{value}", app.origin(request)));
    if is_script(request) {
        let (at, id) = ("/accounts".to_owned(), Some(account));
        return Ok(HttpResponse::Created().json(Done { at, id, link, ..Done::default() }));
    }
    let view = AccountsView { link, link_for: name, ..AccountsView::default() };
    show(request, app, session, view).await
}
