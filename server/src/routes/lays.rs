//! The gloves of a batch laid on cloth: how much to buy, and drawings to cut from.

use actix_web::web::{self, Data, Json, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::dates;
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, get, post};
use crate::done::{Done, made};
use crate::error::{Kind, Problem};
use crate::inputs::Nothing;
use crate::lay_job;
use crate::store::audit::{self, Action};
use crate::store::batch::{self as batches, Batch};
use crate::store::lay::{self as lays, LayOrder, Laying};
use crate::store::production::{self, Production};
use crate::store::session::Session;

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/batches/{id}/lay")
                .route(web::get().to(page))
                .route(web::post().to(start)),
        )
        .route("/lays/{id}/cancel", web::post().to(cancel))
        .route("/lays/{id}/{drawing}", web::get().to(drawing))
        .route("/api/batches/{id}/lays", web::get().to(list))
        .route("/api/lays/{id}", web::get().to(state));
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        post::<LayForm, Done>("/batches/{id}/lay", "Lays the gloves of a finished batch on cloth.")
            .makes()
            .may_conflict(),
    );
    api.add(post::<Nothing, Done>("/lays/{id}/cancel", "Cancels a lay that runs."));
    api.add(get::<LayState>("/api/batches/{id}/lays", "The lays of a batch, newest first.").many());
    api.add(get::<LayState>(
        "/api/lays/{id}",
        "How far a lay is, and what to buy once it is done.",
    ));
}

/// A lay as the API tells of it.
#[derive(Serialize, ToSchema)]
struct LayState {
    #[serde(flatten)]
    laying: Laying,
    /// Share of the time that is gone while it runs; 1 when it has ended.
    share_done: f64,
}

impl LayState {
    fn of(app: &App, laying: Laying) -> LayState {
        let job = app.jobs.get(laying.batch).filter(|_| laying.state == "running");
        let share_done = match job {
            Some(job) => job.done() as f64 / lay_job::PARTS as f64,
            None => 1.0,
        };
        LayState { laying, share_done }
    }
}

#[derive(Serialize)]
struct LayCard {
    #[serde(flatten)]
    state: LayState,
    started: String,
}

/// The form as it was entered.
#[derive(Clone, Deserialize, Serialize, ToSchema)]
struct LayForm {
    #[schema(value_type = f64, minimum = 100, maximum = 3000)]
    width_mm: String,
    #[schema(value_type = f64, minimum = 0, maximum = 50)]
    gap_mm: String,
    /// `1` where no piece may lie head down.
    #[serde(default)]
    is_one_way: String,
    #[schema(value_type = u32, maximum = 20)]
    spare_pairs: String,
    #[schema(value_type = u32, minimum = 1, maximum = 600)]
    seconds: String,
}

impl Default for LayForm {
    fn default() -> LayForm {
        let text = str::to_owned;
        LayForm {
            width_mm: text("1400"),
            gap_mm: text("3"),
            is_one_way: String::new(),
            spare_pairs: text("0"),
            seconds: text("30"),
        }
    }
}

impl LayForm {
    fn order(&self) -> Result<LayOrder, Problem> {
        let number = |field: &str, text: &str| {
            text.trim().replace(',', ".").parse::<f64>().map_err(|_| refused(field))
        };
        let whole =
            |field: &str, text: &str| text.trim().parse::<u32>().map_err(|_| refused(field));
        checked(LayOrder {
            width_mm: number("width_mm", &self.width_mm)?,
            gap_mm: number("gap_mm", &self.gap_mm)?,
            is_one_way: !self.is_one_way.is_empty(),
            spare_pairs: whole("spare_pairs", &self.spare_pairs)?,
            seconds: whole("seconds", &self.seconds)?,
        })
    }
}

/// What each input may be (assumed: the widest cloth for sale, a gap wider than any cutter asks,
/// more test gloves than anybody sews, patience).
const BOUNDS: [(&str, f64, f64); 4] = [
    ("width_mm", 100.0, 3000.0),
    ("gap_mm", 0.0, 50.0),
    ("spare_pairs", 0.0, 20.0),
    ("seconds", 1.0, 600.0),
];

fn refused(field: &str) -> Problem {
    let (low, high) = BOUNDS
        .iter()
        .find(|(of, ..)| *of == field)
        .map_or((0.0, 0.0), |(_, low, high)| (*low, *high));
    Problem::at(field, "lay_number").with("least", low).with("most", high)
}

fn checked(order: LayOrder) -> Result<LayOrder, Problem> {
    let values =
        [order.width_mm, order.gap_mm, f64::from(order.spare_pairs), f64::from(order.seconds)];
    for ((field, low, high), value) in BOUNDS.iter().zip(values) {
        if !(*low..=*high).contains(&value) {
            return Err(refused(field));
        }
    }
    Ok(order)
}

#[derive(Serialize)]
struct LayView {
    production: Production,
    batch: Batch,
    lays: Vec<LayCard>,
    form: LayForm,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, *id, LayForm::default(), None).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    form: LayForm,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let (production, batch, all) = app
        .store
        .read(move |c| {
            let batch = batches::get(c, id)?;
            Ok((production::get(c, batch.production)?, batch, lays::list(c, id)?))
        })
        .await?;
    let lays = all
        .into_iter()
        .map(|laying| LayCard {
            started: dates::moment(laying.started_ms),
            state: LayState::of(app, laying),
        })
        .collect();
    let status = form_status(error.as_ref());
    let view = LayView { production, batch, lays, form, error };
    app.pages.page(request, session, status, "lay.html", &view)
}

async fn start(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, LayForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let begun = match form.order() {
        Ok(order) => begin(&app, &session, id, order).await,
        Err(problem) => Err(problem),
    };
    match begun {
        Ok(laying) => Ok(made(&format!("/batches/{id}/lay"), laying.id)),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            show(&request, &app, &session, id, form, Some(error)).await
        }
    }
}

async fn begin(
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    order: LayOrder,
) -> Result<Laying, Problem> {
    let batch = app.store.read(move |c| batches::get(c, id)).await?;
    if batch.state != "done" {
        return Err(Problem::conflict("batch_not_done"));
    }
    if app.jobs.get(id).is_some() {
        return Err(Problem::conflict("lay_runs"));
    }
    let who = session.name.clone();
    let laying = app
        .store
        .write(move |c| {
            let laying = lays::start(c, id, &order, &who)?;
            audit::add(c, &who, Action::LayStarted, Some(id))?;
            lays::get(c, laying)
        })
        .await?;
    lay_job::start(app, laying.clone()).map_err(|error| {
        tracing::error!(%error, "lay thread");
        Problem::from(Kind::Fault)
    })?;
    Ok(laying)
}

async fn list(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<Json<Vec<LayState>>, Problem> {
    let all = app.store.read(move |c| {
        batches::get(c, *id)?;
        lays::list(c, *id)
    });
    Ok(Json(all.await?.into_iter().map(|laying| LayState::of(&app, laying)).collect()))
}

async fn state(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<Json<LayState>, Problem> {
    let laying = app.store.read(move |c| lays::get(c, *id)).await?;
    Ok(Json(LayState::of(&app, laying)))
}

async fn cancel(
    app: Data<App>,
    id: Path<Uuid>,
    _posted: Posted<rights::Cut, Nothing>,
) -> Result<HttpResponse, Problem> {
    let laying = app.store.read(move |c| lays::get(c, *id)).await?;
    if laying.state == "running" && !app.jobs.cancel(laying.batch) {
        let id = laying.id;
        app.store.write(move |c| lays::end(c, id, ("cancelled", ""), &[])).await?;
    }
    Ok(see_other(&format!("/batches/{}/lay", laying.batch)))
}

/// A drawing: `1.svg`, `1.dxf` or `1.pdf`, numbered by fabric.
async fn drawing(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    path: Path<(Uuid, String)>,
) -> Result<HttpResponse, Problem> {
    let (id, name) = path.into_inner();
    let (number, extension) = name.split_once('.').ok_or(Kind::NotFound)?;
    let number: usize = number.parse().map_err(|_| Kind::NotFound)?;
    let content_type = match extension {
        "svg" => "image/svg+xml",
        "dxf" => "application/dxf",
        "pdf" => "application/pdf",
        _ => return Err(Kind::NotFound.into()),
    };
    let laying = app.store.read(move |c| lays::get(c, id)).await?;
    if laying.state != "done" || !(1..=laying.cloths.len()).contains(&number) {
        return Err(Kind::NotFound.into());
    }
    let file = lay_job::drawing(&app.config, &laying, number - 1, extension);
    let read = web::block(move || std::fs::read(file)).await.map_err(|_| Kind::Fault)?;
    let bytes = read.map_err(|_| Kind::NotFound)?;
    let disposition = format!("inline; filename=\"lay-{number}.{extension}\"");
    Ok(HttpResponse::Ok()
        .content_type(content_type)
        .insert_header(("content-disposition", disposition))
        .body(bytes))
}
