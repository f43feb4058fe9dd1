//! Batches: drafts of a whole production, made in the background, fetched as one ZIP.

use std::fs::File;
use std::io::BufWriter;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::dates::{self, today};
use super::drafts::{VERSION, base_options, paper_of};
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::batch::{self, BatchOrder, BatchPerformer, ZipSink};
use crate::error::{Kind, Problem};
use crate::export::pdf::Paper;
use crate::person::Person;
use crate::store::audit::{self, Action};
use crate::store::batch::Batch;
use crate::store::production::{self, Production};
use crate::store::session::Session;
use crate::store::{Conn, Store, StoreResult, batch as batches, fabric};

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/productions/{id}/batches")
                .route(web::get().to(page))
                .route(web::post().to(start)),
        )
        .route("/api/batches/{id}", web::get().to(state))
        .route("/batches/{id}/gloves.zip", web::get().to(download));
}

#[derive(Serialize)]
struct PaperChoice {
    key: String,
    name: String,
}

#[derive(Serialize)]
struct BatchCard {
    #[serde(flatten)]
    batch: Batch,
    started: String,
}

#[derive(Serialize)]
struct BatchesView {
    production: Production,
    batches: Vec<BatchCard>,
    papers: Vec<PaperChoice>,
    paper: String,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, *id, "a4".to_owned(), None).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    paper: String,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let (production, batches) =
        app.store.read(move |c| Ok((production::get(c, id)?, batches::list(c, id)?))).await?;
    let papers = Paper::SHEETS
        .iter()
        .map(|paper| PaperChoice { key: paper.key(), name: paper.name() })
        .collect();
    let batches = batches
        .into_iter()
        .map(|batch| BatchCard { started: dates::moment(batch.started_ms), batch })
        .collect();
    let status = form_status(error.as_ref());
    let view = BatchesView { production, batches, papers, paper, error };
    app.pages.page(request, session, status, "batches.html", &view)
}

#[derive(Deserialize)]
struct StartForm {
    #[serde(default)]
    paper: String,
}

async fn start(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, StartForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    match begin(&app, &session, id, &form.paper).await {
        Ok(()) => Ok(see_other(&format!("/productions/{id}/batches"))),
        Err(problem) => {
            let error = in_form(problem)?;
            show(&request, &app, &session, id, form.paper, Some(error)).await
        }
    }
}

async fn begin(app: &Data<App>, session: &Session, id: Uuid, paper: &str) -> Result<(), Problem> {
    let paper = paper_of(paper)?;
    let order = app.store.read(move |c| order(c, id, paper)).await?;
    if order.performers.is_empty() {
        let message = "There is nobody to draft for. Add performers first.";
        return Err(Problem::refused("paper", "batch_nobody", message));
    }
    if order.performers.iter().all(|performer| performer.hands.measured() == 0) {
        let message =
            "Nobody of this production has been measured yet. Measure at least one hand first.";
        return Err(Problem::refused("paper", "batch_nobody_measured", message));
    }
    let who = session.name.clone();
    let total = i64::try_from(order.performers.len()).unwrap_or(i64::MAX);
    let batch = app
        .store
        .write(move |c| {
            let batch = batches::start(c, id, &paper.key(), total, &who)?;
            audit::add(c, &who, Action::BatchStarted, Some(batch))?;
            Ok(batch)
        })
        .await?;
    let app = app.clone();
    // Not awaited: the page asks how far it is.
    std::thread::Builder::new()
        .name("batch".to_owned())
        .spawn(move || run(&app, batch, &order))
        .map_err(|error| {
            tracing::error!(%error, "batch thread");
            Kind::Fault
        })?;
    Ok(())
}

fn order(c: &Conn, id: Uuid, paper: Paper) -> StoreResult<BatchOrder> {
    let production = production::get(c, id)?;
    let fabrics = fabric::list(c, id)?;
    let performers = Person::load_all(c, id)?
        .into_iter()
        .map(|person| {
            let fabric = fabrics.iter().find(|f| Some(f.id) == person.performer.fabric);
            let hands = person.hands();
            BatchPerformer {
                kept_flags: person.kept_flags(&hands).into_iter().map(|(key, _)| key).collect(),
                hands,
                code: person.performer.code,
                population: person.performer.population,
                fabric: fabric.map(|fabric| fabric.name.clone()).unwrap_or_default(),
                options: base_options(fabric),
            }
        })
        .collect();
    Ok(BatchOrder {
        production: production.name,
        version: VERSION.to_owned(),
        date: today(),
        paper,
        performers,
    })
}

/// Runs a batch to its file; what happens is noted in the store.
fn run(app: &App, id: Uuid, order: &BatchOrder) {
    let path = file_of(app, id);
    let failure = write_zip(app, id, order, &path).err();
    if let Some(message) = &failure {
        tracing::error!(%message, %id, "batch");
        // Half a ZIP is of no use to anybody; that it cannot be removed changes nothing.
        let _ = std::fs::remove_file(&path);
    }
    note(&app.store, move |c| batches::end(c, id, failure.as_deref()));
}

fn write_zip(app: &App, id: Uuid, order: &BatchOrder, path: &PathBuf) -> Result<(), String> {
    let told = |error: &dyn std::error::Error| error.to_string();
    let file = File::create(path).map_err(|error| told(&error))?;
    let mut sink = ZipSink::new(BufWriter::new(file));
    let store = app.store.clone();
    let progress = move |done: usize, _: usize| {
        let done = i64::try_from(done).unwrap_or(i64::MAX);
        note(&store, move |c| batches::advance(c, id, done));
    };
    batch::run(&app.model, order, &mut sink, &progress, &AtomicBool::new(false))
        .map_err(|error| told(&error))?;
    let file = sink
        .finish()
        .and_then(|buffer| buffer.into_inner().map_err(std::io::IntoInnerError::into_error))
        .map_err(|error| told(&error))?;
    file.sync_all().map_err(|error| told(&error))
}

fn note(store: &Store, write: impl FnOnce(&Conn) -> StoreResult<()> + Send + 'static) {
    if let Err(error) = store.write_now(write) {
        tracing::error!(%error, "batch progress");
    }
}

fn file_of(app: &App, id: Uuid) -> PathBuf {
    app.config.batches().join(format!("{id}.zip"))
}

async fn state(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(app.store.read(move |c| batches::get(c, *id)).await?))
}

async fn download(
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (id, who) = (*id, signed.session.name);
    let batch = app.store.read(move |c| batches::get(c, id)).await?;
    if batch.state != "done" {
        let message = "This batch is not finished.".to_owned();
        return Err(Kind::Conflict("batch_not_done", message).into());
    }
    let path = file_of(&app, id);
    let bytes = web::block(move || std::fs::read(path))
        .await
        .map_err(|_| Kind::Fault)?
        .map_err(|_| Kind::NotFound)?;
    app.store.write(move |c| audit::add(c, &who, Action::BatchDownloaded, Some(id))).await?;
    Ok(HttpResponse::build(StatusCode::OK)
        .content_type("application/zip")
        .insert_header(("content-disposition", "attachment; filename=\"gloves.zip\""))
        .body(bytes))
}
