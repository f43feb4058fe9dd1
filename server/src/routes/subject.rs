//! Everything kept about one performer: fetched, or erased.

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::keeping::forget;
use super::performers::show_refused;
use super::productions::see_other;
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::Done;
use crate::error::Problem;
use crate::export::csv;
use crate::store::audit::{self, Action};
use crate::store::performer;
use crate::store::reading::Reading;
use crate::store::subject;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/performers/{id}/export.json", web::get().to(export))
        .route("/performers/{id}/readings.csv", web::get().to(export_readings))
        .route("/performers/{id}/erase", web::post().to(erase));
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<EraseForm, Done>(
        "/performers/{id}/erase",
        "Erases a performer; their code confirms it.",
    ));
}

/// Everything about a performer, noted in the audit trail as handed out.
async fn handed_out(app: &Data<App>, id: Uuid, who: String) -> Result<subject::Subject, Problem> {
    let subject = app.store.read(move |c| subject::everything(c, id)).await?;
    app.store.write(move |c| audit::add(c, &who, Action::PerformerExported, Some(id))).await?;
    Ok(subject)
}

async fn export(
    app: Data<App>,
    id: Path<Uuid>,
    signed: Signed<rights::Administer>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    let subject = handed_out(&app, id, signed.session.name).await?;
    Ok(HttpResponse::Ok()
        .insert_header((
            "content-disposition",
            format!("attachment; filename=\"performer-{id}.json\""),
        ))
        .json(subject))
}

/// Every reading of a performer as a table, those taken out of use included.
async fn export_readings(
    app: Data<App>,
    id: Path<Uuid>,
    signed: Signed<rights::Administer>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    let subject = handed_out(&app, id, signed.session.name).await?;
    let header = [
        "side",
        "dimension",
        "typed",
        "unit",
        "mm",
        "instrument",
        "origin",
        "measurer",
        "device",
        "taken_ms",
        "withdrawn_because",
    ];
    let line = |reading: &Reading, withdrawn: &str| {
        let mm = reading.mm.to_string();
        let taken = reading.taken_ms.to_string();
        [
            reading.side.key(),
            reading.dimension.key(),
            &reading.typed,
            &reading.unit,
            &mm,
            &reading.instrument,
            &reading.origin,
            &reading.measurer,
            &reading.device,
            &taken,
            withdrawn,
        ]
        .map(csv::guarded)
        .to_vec()
    };
    let in_use = subject.readings.iter().map(|reading| line(reading, ""));
    let withdrawn = subject.withdrawn.iter().map(|one| {
        let reason = if one.reason.is_empty() { "withdrawn" } else { &one.reason };
        line(&one.reading, reason)
    });
    let name = format!("attachment; filename=\"performer-{id}.csv\"");
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header(("content-disposition", name))
        .body(csv::table(&header, in_use.chain(withdrawn).collect())))
}

#[derive(Deserialize, ToSchema)]
#[schema(as = ErasePerformerForm)]
struct EraseForm {
    #[serde(default)]
    code: String,
}

async fn erase(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Administer, EraseForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let performer = app.store.read(move |c| performer::get(c, id)).await?;
    if form.code.trim() != performer.code {
        let problem = Problem::at("erase_code", "code_differs");
        return show_refused(&request, &app, &session, id, problem).await;
    }
    let who = session.name.clone();
    let batches = app
        .store
        .write(move |c| {
            let batches = subject::erase(c, id)?;
            audit::add(c, &who, Action::PerformerErased, Some(id))?;
            Ok(batches)
        })
        .await?;
    forget(&app, batches).await?;
    Ok(see_other(&format!("/productions/{}", performer.production)))
}
