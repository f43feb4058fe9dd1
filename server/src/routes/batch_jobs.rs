//! A batch at work: how far it is, cancelling it, going on with it, fetching what it made.

use std::fs::File;
use std::io::Read;
use std::time::Duration;

use actix_web::http::header::ContentEncoding;
use actix_web::rt::time::sleep;
use actix_web::web::{self, Bytes, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse, HttpResponseBuilder};
use futures_util::stream;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::productions::see_other;
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::batch::{BatchReport, labels_pdf};
use crate::describe::{Api, get, post, stream};
use crate::done::Done;
use crate::error::{Kind, Problem};
use crate::export::pdf::{Paper, PdfError};
use crate::inputs::Nothing;
use crate::job;
use crate::store::audit::{self, Action};
use crate::store::batch::{self as batches, Batch, End};
use crate::store::production;

/// How often the state is looked at for a page that follows a batch.
const LOOK: Duration = Duration::from_millis(250);

/// How long cancelling waits for the performers at hand to be finished.
const PATIENCE: Duration = Duration::from_secs(5);

/// Bytes of a ZIP sent at a time.
const PIECE_BYTES: usize = 256 * 1024;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/api/batches/{id}", web::get().to(state))
        .route("/api/batches/{id}/events", web::get().to(events))
        .route("/batches/{id}/cancel", web::post().to(cancel))
        .route("/batches/{id}/continue", web::post().to(go_on))
        .route("/batches/{id}/labels.pdf", web::get().to(labels))
        .route("/batches/{id}/gloves.zip", web::get().to(download));
}

pub(super) fn describe(api: &mut Api) {
    api.add(get::<BatchState>("/api/batches/{id}", "How far a batch is."));
    api.add(stream(
        "/api/batches/{id}/events",
        "The state of a batch whenever it changes, until it has ended.",
    ));
    api.add(post::<Nothing, Done>(
        "/batches/{id}/cancel",
        "Cancels a batch that runs; nothing it made stays.",
    ));
    api.add(post::<Nothing, Done>(
        "/batches/{id}/continue",
        "Goes on with a batch that failed or waits.",
    ));
}

/// What the API says of a batch.
#[derive(Serialize, ToSchema)]
pub(super) struct BatchState {
    #[serde(flatten)]
    batch: Batch,
    /// At the pace so far; nothing before the first performer is done.
    seconds_left: Option<u64>,
}

pub(super) async fn state_of(app: &App, id: Uuid) -> Result<BatchState, Problem> {
    let mut batch = app.store.read(move |c| batches::get(c, id)).await?;
    let job = app.jobs.get(id).filter(|_| batch.state == "running");
    if let Some(job) = &job {
        batch.done = i64::try_from(job.done()).unwrap_or(i64::MAX);
    }
    let total = usize::try_from(batch.total).unwrap_or(0);
    Ok(BatchState { seconds_left: job.and_then(|job| job.seconds_left(total)), batch })
}

async fn state(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(state_of(&app, *id).await?))
}

/// The state as server-sent events, one whenever it changes, until the batch has ended.
async fn events(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    state_of(&app, id).await?;
    let follow = move |seen: Option<(String, bool)>| {
        let app = app.clone();
        async move {
            let (last, is_over) = seen.unwrap_or_default();
            if is_over {
                return None;
            }
            loop {
                let state = state_of(&app, id).await.ok()?;
                let text = serde_json::to_string(&state).ok()?;
                if text != last {
                    let is_over = state.batch.state != "running";
                    let event = Bytes::from(format!("data: {text}\n\n"));
                    return Some((Ok::<_, actix_web::Error>(event), Some((text, is_over))));
                }
                sleep(LOOK).await;
            }
        }
    };
    Ok(unpacked(HttpResponse::Ok())
        .content_type("text/event-stream")
        .streaming(stream::unfold(None, follow)))
}

/// An answer that must not be packed: packing holds it back, or a ZIP is packed already.
fn unpacked(mut response: HttpResponseBuilder) -> HttpResponseBuilder {
    response.insert_header(ContentEncoding::Identity);
    response
}

async fn cancel(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, Nothing>,
) -> Result<HttpResponse, Problem> {
    let batch = stop(&app, *id, posted.session.name).await?;
    Ok(see_other(&format!("/productions/{}/batches", batch.production)))
}

/// Stops a batch that runs; nothing it made stays.
async fn stop(app: &Data<App>, id: Uuid, who: String) -> Result<Batch, Problem> {
    let batch = app.store.read(move |c| batches::get(c, id)).await?;
    if batch.state == "running" {
        app.store.write(move |c| audit::add(c, &who, Action::BatchCancelled, Some(id))).await?;
        if app.jobs.get(id).is_some() {
            app.jobs.stop(id, PATIENCE).await;
        } else {
            app.store.write(move |c| batches::end(c, id, &End::Cancelled)).await?;
            let config = app.config.clone();
            let removed = web::block(move || job::remove_files(&config, id)).await;
            if !matches!(removed, Ok(Ok(()))) {
                tracing::error!(%id, "files of a batch not removed");
            }
        }
    }
    Ok(batch)
}

async fn go_on(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, Nothing>,
) -> Result<HttpResponse, Problem> {
    let batch = resume(&app, *id, posted.session.name).await?;
    Ok(see_other(&format!("/productions/{}/batches", batch.production)))
}

/// Goes on with a batch that failed or lost its thread.
async fn resume(app: &Data<App>, id: Uuid, who: String) -> Result<Batch, Problem> {
    let (batch, goes_on) = app
        .store
        .write(move |c| {
            let batch = batches::get(c, id)?;
            let goes_on = batches::go_on(c, id)?;
            if goes_on {
                audit::add(c, &who, Action::BatchStarted, Some(id))?;
            }
            Ok((batch, goes_on))
        })
        .await?;
    // One that runs without a thread lost it when the database took no more.
    if goes_on || batch.state == "running" {
        job::start(app, id).map_err(|error| {
            tracing::error!(%error, "batch thread");
            Kind::Fault
        })?;
    }
    Ok(batch)
}

async fn download(
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (id, who) = (*id, signed.session.name);
    let batch = app.store.read(move |c| batches::get(c, id)).await?;
    if batch.state != "done" {
        return Err(Problem::conflict("batch_not_done"));
    }
    let path = job::zip_of(&app.config, id);
    let opened = web::block(move || File::open(path).and_then(|f| Ok((f.metadata()?.len(), f))))
        .await
        .map_err(|_| Kind::Fault)?;
    let (length, file) = opened.map_err(|_| Kind::NotFound)?;
    app.store.write(move |c| audit::add(c, &who, Action::BatchDownloaded, Some(id))).await?;
    let pieces = stream::unfold(Some(file), |file| async move {
        let mut file = file?;
        let read = web::block(move || {
            let mut piece = Vec::new();
            let size = PIECE_BYTES as u64;
            let read = (&mut file).take(size).read_to_end(&mut piece);
            read.map(|_| (file, piece))
        });
        match read.await {
            Ok(Ok((_, piece))) if piece.is_empty() => None,
            Ok(Ok((file, piece))) => Some((Ok(Bytes::from(piece)), Some(file))),
            Ok(Err(error)) => Some((Err(actix_web::Error::from(error)), None)),
            Err(error) => Some((Err(actix_web::Error::from(error)), None)),
        }
    });
    Ok(unpacked(HttpResponse::Ok())
        .content_type("application/zip")
        .insert_header(("content-disposition", "attachment; filename=\"gloves.zip\""))
        .no_chunking(length)
        .streaming(pieces))
}

/// Labels for the bags of a finished batch, each with a code that leads to the performer's page.
async fn labels(
    request: HttpRequest,
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (id, origin) = (*id, app.origin(&request));
    let (batch, production, items) = app
        .store
        .read(move |c| {
            let batch = batches::get(c, id)?;
            let production = production::get(c, batch.production)?;
            Ok((batch, production.name, batches::items(c, id)?))
        })
        .await?;
    let paper = Paper::from_key(&batch.paper).unwrap_or(Paper::A4);
    let date = super::dates::moment(batch.started_ms).chars().take(10).collect::<String>();
    let made = web::block(move || {
        let (mut performers, mut results) = (Vec::new(), Vec::new());
        for item in items {
            let result = item.result.and_then(|text| serde_json::from_str(&text).ok());
            if let Some(result) = result {
                performers.push(item.performer);
                results.push(result);
            }
        }
        let link = |place: usize| {
            performers.get(place).map(|performer| format!("{origin}/performers/{performer}"))
        };
        labels_pdf((&production, &date), &BatchReport { results, again: Vec::new() }, paper, &link)
    });
    match made.await.map_err(|_| Kind::Fault)? {
        Ok(bytes) => Ok(HttpResponse::Ok()
            .content_type("application/pdf")
            .insert_header(("content-disposition", "attachment; filename=\"labels.pdf\""))
            .body(bytes)),
        Err(PdfError::Empty) => Err(Problem::conflict("batch_no_labels")),
        Err(error) => {
            tracing::error!(%error, %id, "labels");
            Err(Kind::Fault.into())
        }
    }
}
