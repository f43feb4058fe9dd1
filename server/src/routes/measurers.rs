//! How well the measurers of a production measure: page and JSON. A measurer sees their own
//! figures, whoever plans sees everybody's.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::dimension::Dimension;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, get};
use crate::error::{Kind, Problem};
use crate::measurers::{MeasurerReport, report};
use crate::person::Person;
use crate::store::exercise;
use crate::store::production::{self, Production};
use crate::store::session::Session;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/productions/{id}/measurers", web::get().to(page))
        .route("/api/productions/{id}/measurers", web::get().to(as_json));
}

pub(super) fn describe(api: &mut Api) {
    api.add(get::<Measurers>(
        "/api/productions/{id}/measurers",
        "How well the measurers of a production measure. A measurer is told of themselves alone.",
    ));
}

async fn make(
    app: &Data<App>,
    session: &Session,
    id: Uuid,
) -> Result<(Production, Vec<MeasurerReport>), Problem> {
    let (production, people, blind) = app
        .store
        .read(move |c| {
            Ok((production::get(c, id)?, Person::load_all(c, id)?, exercise::blind(c, id)?))
        })
        .await?;
    let model = app.model();
    let mut reports =
        web::block(move || report(&model, &people, &blind)).await.map_err(|_| Kind::Fault)?;
    if !rights::may::<rights::Plan>(session.role) {
        reports.retain(|report| report.name == session.name);
    }
    Ok((production, reports))
}

#[derive(Serialize)]
struct MeasurersView {
    production: Production,
    reports: Vec<MeasurerReport>,
    /// English names of the dimensions, in the order of the registry.
    names: serde_json::Map<String, serde_json::Value>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Measure>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (production, reports) = make(&app, &signed.session, *id).await?;
    let names = dimension_names();
    let view = MeasurersView { production, reports, names };
    app.pages.page(&request, &signed.session, StatusCode::OK, "measurers.html", &view)
}

/// Names of the dimensions for pages, by key; other languages bring their own.
pub(super) fn dimension_names() -> serde_json::Map<String, serde_json::Value> {
    Dimension::ALL.into_iter().map(|d| (d.key().to_owned(), d.name().into())).collect()
}

#[derive(Serialize, ToSchema)]
struct Measurers {
    measurers: Vec<MeasurerReport>,
}

async fn as_json(
    app: Data<App>,
    signed: Signed<rights::Measure>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (_, measurers) = make(&app, &signed.session, *id).await?;
    Ok(HttpResponse::Ok().json(Measurers { measurers }))
}
