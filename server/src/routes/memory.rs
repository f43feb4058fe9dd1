//! A fabric's memory: what the stretch test predicted, what fittings taught, how many test gloves a
//! glove needs; begun anew, or copied with what was learned.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::draft::GirthReduction;
use analysis::fitting::{FitZone, Learned, Memory, Needed, ZoneKind, gloves_needed};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::productions::see_other;
use super::{FieldError, in_form, line};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, get, post};
use crate::done::{self, Done};
use crate::error::{Kind, Problem};
use crate::fits;
use crate::store::audit::{self, Action};
use crate::store::fabric::{self, Fabric, NewFabric};
use crate::store::fitting;
use crate::store::production::{self, Production};
use crate::store::session::Session;
use crate::store::{Conn, StoreResult};

/// Hands in each row of the table over time (assumed: few enough to show a trend within one cast).
const HANDS_A_ROW: usize = 10;

/// Longest name of a fabric, characters.
const LONGEST_NAME: usize = 60;

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/fabrics/{id}/memory")
                .route(web::get().to(page))
                .route(web::post().to(act)),
        )
        .route("/api/fabrics/{id}/memory", web::get().to(as_json));
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        post::<CopyForm, Done>(
            "/fabrics/{id}/memory",
            "Begins a fabric's memory anew, or copies the fabric with what was learned.",
        )
        .may_make(),
    );
    api.add(
        get::<Body>("/api/fabrics/{id}/memory", "What fittings in a fabric taught.")
            .detail("Ease beyond its stretch test, and how many test gloves hands needed in it."),
    );
}

/// One zone as it is shown: percent of girth, or mm, with their signs.
#[derive(Serialize)]
struct Row {
    zone: FitZone,
    unit: &'static str,
    predicted: Option<String>,
    learned: String,
    low: String,
    high: String,
    performers: usize,
    answers: usize,
}

impl Row {
    fn of(learned: &Learned, tested: Option<GirthReduction>) -> Row {
        let zone = learned.zone;
        let (unit, scale) = match zone.kind() {
            ZoneKind::Girth => ("%", 100.0),
            ZoneKind::Length | ZoneKind::Crotch => ("mm", 1.0),
        };
        let text = |ease: f64| format!("{:+.1}", ease * scale + 0.0);
        // Elsewhere nothing is predicted: the draft follows the bare hand or the layout.
        let predicted = tested
            .filter(|_| zone.kind() == ZoneKind::Girth && !zone.is_root())
            .map(|tested| text(-zone.reduction(&tested)));
        Row {
            zone,
            unit,
            predicted,
            learned: text(learned.ease),
            low: text(learned.low),
            high: text(learned.high),
            performers: learned.performers,
            answers: learned.answers,
        }
    }
}

/// How many test gloves hands needed: a fabric's, or ten hands of one in their order.
#[derive(Serialize, ToSchema)]
struct NeededRow {
    fabric: String,
    from: usize,
    to: usize,
    hands: usize,
    settled: usize,
    mean: Option<f64>,
    at_once: usize,
    bar: String,
}

impl NeededRow {
    fn of(fabric: &str, (from, to): (usize, usize), needed: &[Needed]) -> NeededRow {
        let settled: Vec<usize> = needed.iter().filter_map(|n| n.settled_after).collect();
        let mean = settled.iter().sum::<usize>() as f64 / settled.len().max(1) as f64;
        NeededRow {
            fabric: fabric.to_owned(),
            from,
            to,
            hands: needed.len(),
            settled: settled.len(),
            mean: (!settled.is_empty()).then_some((mean * 10.0).round() / 10.0),
            at_once: settled.iter().filter(|gloves| **gloves == 1).count(),
            bar: "\u{25cf}".repeat((mean.round() as usize).min(12)),
        }
    }
}

#[derive(Serialize)]
struct MemoryView {
    production: Production,
    productions: Vec<Production>,
    fabric: Fabric,
    rows: Vec<Row>,
    fittings: usize,
    performers: usize,
    /// Answers it was copied with.
    inherited: usize,
    needed: Vec<NeededRow>,
    form: CopyForm,
    error: Option<FieldError>,
}

/// The reduction the stretch test asks for on the median hand of what was fitted; without a fitting
/// or a test, the house's.
fn predicted(fabric: &Fabric, fittings: &[fitting::Fitting]) -> Option<GirthReduction> {
    let hand = fittings.get(fittings.len() / 2)?.glove.hand();
    Some(fits::tested(fabric, &hand))
}

/// How many gloves each hand needed in a fabric, in the order they were first tried.
fn needed(c: &Conn, fabric: Uuid) -> StoreResult<Vec<Needed>> {
    let all = fitting::of_fabric(c, fabric, 0)?;
    let judged = all.iter().map(|f| ((f.performer.as_u128(), f.side), f.tried()));
    Ok(gloves_needed(judged))
}

fn needed_rows(c: &Conn, fabrics: &[Fabric], own: Uuid) -> StoreResult<Vec<NeededRow>> {
    let mut rows = Vec::new();
    for fabric in fabrics {
        let needed = needed(c, fabric.id)?;
        if needed.is_empty() {
            continue;
        }
        rows.push(NeededRow::of(&fabric.name, (0, 0), &needed));
        if fabric.id == own && needed.len() > HANDS_A_ROW {
            for (i, ten) in needed.chunks(HANDS_A_ROW).enumerate() {
                let first = i * HANDS_A_ROW;
                rows.push(NeededRow::of(&fabric.name, (first + 1, first + ten.len()), ten));
            }
        }
    }
    Ok(rows)
}

#[derive(Debug, Clone, Default, Deserialize, Serialize, ToSchema)]
#[schema(as = MemoryForm)]
struct CopyForm {
    #[serde(default)]
    #[schema(pattern = "^(reset|copy)$")]
    action: String,
    #[serde(default)]
    name: String,
    #[serde(default)]
    production: String,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::See>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, *id, CopyForm::default(), None).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    form: CopyForm,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let view = app
        .store
        .read(move |c| {
            let fabric = fabric::get(c, id)?;
            let beginning = fitting::beginning(c, id)?;
            let fittings = fitting::of_fabric(c, id, beginning.since_ms)?;
            let memory = fits::memory(c, &fabric)?;
            let tested = predicted(&fabric, &fittings);
            let mut performers: Vec<Uuid> = fittings.iter().map(|f| f.performer).collect();
            performers.sort_unstable();
            performers.dedup();
            let inherited = beginning.inherited.iter().flat_map(|memory| &memory.zones);
            Ok(MemoryView {
                rows: memory.zones.iter().map(|learned| Row::of(learned, tested)).collect(),
                fittings: fittings.len(),
                performers: performers.len(),
                inherited: inherited.map(|learned| learned.answers).sum(),
                needed: needed_rows(c, &fabric::list(c, fabric.production)?, id)?,
                production: production::get(c, fabric.production)?,
                productions: production::list(c)?,
                fabric,
                form,
                error,
            })
        })
        .await?;
    let status = match view.error {
        Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
        None => StatusCode::OK,
    };
    app.pages.page(request, session, status, "memory.html", &view)
}

async fn act(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, CopyForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let who = session.name.clone();
    match form.action.as_str() {
        "reset" => {
            app.store
                .write(move |c| {
                    fabric::get(c, id)?;
                    fitting::begin(c, id, None, &who)?;
                    audit::add(c, &who, Action::MemoryBegun, Some(id))
                })
                .await?;
            Ok(see_other(&format!("/fabrics/{id}/memory")))
        }
        "copy" => match copy(&app, who, id, &form).await {
            Ok(made) => Ok(done::made(&format!("/fabrics/{made}/memory"), made)),
            Err(problem) => {
                let error = in_form(&request, problem)?;
                show(&request, &app, &session, id, form, Some(error)).await
            }
        },
        _ => Err(Kind::NotFound.into()),
    }
}

/// Copies a fabric as it stands with what was learned of it; of no one person.
async fn copy(app: &Data<App>, who: String, id: Uuid, form: &CopyForm) -> Result<Uuid, Problem> {
    let name = line("name", &form.name, LONGEST_NAME, true)?;
    let production = Uuid::try_parse(&form.production).map_err(|_| Kind::NotFound)?;
    Ok(app
        .store
        .write(move |c| {
            production::get(c, production)?;
            let source = fabric::get(c, id)?;
            let memory = fits::memory(c, &source)?;
            let new = NewFabric { name, note: source.note, facts: source.facts };
            let made = fabric::add(c, production, &new, &who)?;
            fitting::begin(c, made, Some(&memory), &who)?;
            audit::add(c, &who, Action::MemoryBegun, Some(made))?;
            Ok(made)
        })
        .await?)
}

#[derive(Serialize, ToSchema)]
#[schema(as = FabricMemory)]
struct Body {
    fabric: Uuid,
    name: String,
    memory: Memory,
    needed: Vec<NeededRow>,
}

async fn as_json(
    app: Data<App>,
    _signed: Signed<rights::See>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let body = app
        .store
        .read(move |c| {
            let fabric = fabric::get(c, *id)?;
            Ok(Body {
                memory: fits::memory(c, &fabric)?,
                needed: needed_rows(c, std::slice::from_ref(&fabric), *id)?,
                fabric: *id,
                name: fabric.name,
            })
        })
        .await?;
    Ok(HttpResponse::Ok().json(body))
}
