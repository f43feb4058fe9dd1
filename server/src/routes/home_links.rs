//! Making and revoking the links for measuring at home.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::codes::square;
use super::dates::moment;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::{rights, token};
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::{self, Done};
use crate::error::{Kind, Problem};
use crate::inputs::is_script;
use crate::store::audit::{self, Action};
use crate::store::home_link;
use crate::store::now_ms;
use crate::store::performer::{self, Performer};
use crate::store::session::Session;

/// Longest time a link may be valid, days (assumed: one production's rehearsals).
const MOST_DAYS: i64 = 60;

/// Most uses of a link (assumed: both hands, some days, some interruptions).
const MOST_USES: i64 = 20;

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/performers/{id}/home")
                .route(web::get().to(page))
                .route(web::post().to(make)),
        )
        .route("/performers/{id}/home/revoke", web::post().to(revoke));
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        post::<LinkForm, Done>(
            "/performers/{id}/home",
            "Makes a link for measuring at home, told this once.",
        )
        .makes(),
    );
    api.add(post::<RevokeForm, Done>(
        "/performers/{id}/home/revoke",
        "Revokes a link for measuring at home.",
    ));
}

#[derive(Serialize)]
struct LinkRow {
    id: Uuid,
    until: String,
    uses_left: i64,
}

#[derive(Serialize)]
struct LinksView {
    performer: Performer,
    links: Vec<LinkRow>,
    link: Option<String>,
    square: Option<String>,
    form: LinkForm,
    error: Option<FieldError>,
}

#[derive(Deserialize, Serialize, ToSchema)]
#[schema(as = HomeLinkForm)]
struct LinkForm {
    #[serde(default)]
    #[schema(value_type = u32, minimum = 1, maximum = 60)]
    days: String,
    #[serde(default)]
    #[schema(value_type = u32, minimum = 1, maximum = 20)]
    uses: String,
}

impl Default for LinkForm {
    fn default() -> LinkForm {
        LinkForm { days: "7".to_owned(), uses: "3".to_owned() }
    }
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Plan>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, *id, None, LinkForm::default(), None).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    link: Option<String>,
    form: LinkForm,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let (performer, links) =
        app.store.read(move |c| Ok((performer::get(c, id)?, home_link::list(c, id)?))).await?;
    let links = links
        .into_iter()
        .map(|link| LinkRow {
            id: link.id,
            until: moment(link.expires_ms),
            uses_left: link.uses_left,
        })
        .collect();
    let square = link.as_deref().map(square).transpose()?;
    let status = form_status(error.as_ref());
    let view = LinksView { performer, links, link, square, form, error };
    app.pages.page(request, session, status, "home_links.html", &view)
}

fn bounded(field: &str, text: &str, most: i64) -> Result<i64, Problem> {
    let value = text.trim().parse().ok().filter(|value| (1..=most).contains(value));
    value.ok_or_else(|| {
        Problem::at(field, "number_out_of_bounds").with("least", 1).with("most", most)
    })
}

async fn make(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, LinkForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let bounds = bounded("days", &form.days, MOST_DAYS)
        .and_then(|days| Ok((days, bounded("uses", &form.uses, MOST_USES)?)));
    let (days, uses) = match bounds {
        Ok(bounds) => bounds,
        Err(problem) => {
            let error = Some(in_form(&request, problem)?);
            return show(&request, &app, &session, id, None, form, error).await;
        }
    };
    let value = token::random().map_err(|_| Kind::Fault)?;
    let (hash, who) = (token::hash(&value), session.name.clone());
    let expires_ms = now_ms() + days * 24 * 3600 * 1000;
    let made = app
        .store
        .write(move |c| {
            performer::get(c, id)?;
            let made = home_link::add(c, &hash, id, expires_ms, uses)?;
            audit::add(c, &who, Action::LinkMade, Some(id))?;
            Ok(made)
        })
        .await?;
    let link = format!("{}/home/{value}", app.origin(&request));
    if is_script(&request) {
        let (at, id, link) = (format!("/performers/{id}/home"), Some(made), Some(link));
        return Ok(HttpResponse::Created().json(Done { at, id, link, ..Done::default() }));
    }
    show(&request, &app, &session, id, Some(link), form, None).await
}

#[derive(Deserialize, ToSchema)]
struct RevokeForm {
    #[serde(default)]
    #[schema(value_type = Uuid)]
    link: String,
}

async fn revoke(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, RevokeForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let link = Uuid::try_parse(&form.link).map_err(|_| Kind::NotFound)?;
    app.store.write(move |c| home_link::revoke(c, id, link)).await?;
    if is_script(&request) {
        return Ok(done::at(&format!("/performers/{id}/home")));
    }
    show(&request, &app, &session, id, None, LinkForm::default(), None).await
}
