//! The next glove of a hand: what changes zone by zone, from what to what, and why; set by hand,
//! undone, and kept as a version.

use std::collections::BTreeMap;

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::draft::{Draft, GloveOptions, draft};
use analysis::fitting::{Change, FIGURE_MAX_MM, FitZone, PerZone, Reason, Warning, warnings};
use analysis::hand::Side;
use analysis::model::{FilledHands, HandEstimate, HandModel};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::download::side_of;
use super::fittings::{Sewn, sewn};
use super::productions::see_other;
use super::{FieldError, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::batch::{DraftInputs, drafted_hands, hands_to_draft};
use crate::describe::{Api, Free, get, post};
use crate::done::Done;
use crate::draft_options::Wanted;
use crate::drafted::{self, Source};
use crate::error::{Kind, Problem};
use crate::person::{Assessed, tenth};
use crate::store::audit::{self, Action};
use crate::store::draft_version::{self, DraftVersion};
use crate::store::fabric::Fabric;
use crate::store::fitting::{self, Edit, Fitting};
use crate::store::performer::Performer;
use crate::store::production::Production;
use crate::store::session::Session;
use crate::store::{Conn, StoreResult};
use crate::wanted::{Base, to_draft};

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/performers/{id}/next/{side}")
                .route(web::get().to(page))
                .route(web::post().to(act)),
        )
        .route("/api/performers/{id}/fittings", web::get().to(as_json));
}

pub(super) fn describe(api: &mut Api) {
    let form = "Inputs: `action`, which is `set`, `undo` or `keep`; to set, `mm.ZONE` for each zone \
        that is changed.";
    api.add(
        post::<Free, Done>(
            "/performers/{id}/next/{side}",
            "Changes the next glove by hand, undoes that, or keeps the gloves as a version.",
        )
        .detail(form),
    );
    api.add(get::<Body>(
        "/api/performers/{id}/fittings",
        "Versions of a performer's gloves, the fittings in use, and the next glove of each hand.",
    ));
}

/// One zone of the next glove against the last.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = NextZone)]
struct Row {
    zone: FitZone,
    /// What the last glove measures, mm; nothing where there is no last glove or no such zone.
    before_mm: Option<f64>,
    after_mm: Option<f64>,
    step_mm: Option<f64>,
    /// Beyond the stretch test, mm.
    #[serde(flatten)]
    change: Change,
    is_changed: bool,
    is_set: bool,
}

/// The next glove of one hand.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = NextGlove)]
struct Next {
    side: Side,
    /// Number of the version it is compared with; nothing when no glove was kept yet.
    last: Option<i64>,
    rows: Vec<Row>,
    warnings: Vec<Warning>,
    /// Why it cannot be drafted, if it cannot.
    refusal: Option<String>,
}

/// A performer's gloves as everything here needs them.
struct Gloves {
    source: Source,
    versions: Vec<DraftVersion>,
    assessed: Assessed,
    base: Base,
    wanted: Wanted,
    hands: FilledHands,
}

fn gloves(c: &Conn, model: &HandModel, id: Uuid) -> StoreResult<Gloves> {
    let source = drafted::read(c, id)?;
    let assessed = source.person.assess(model);
    let base = source.base(&assessed);
    let wanted = source.wanted(&base);
    let hands = hands_to_draft(&assessed.filled, wanted.master);
    Ok(Gloves { versions: draft_version::list(c, id)?, source, assessed, base, wanted, hands })
}

type Glove = (Draft, HandEstimate, PerZone);

fn glove(hand: &HandEstimate, side: Side, options: &GloveOptions) -> Result<Glove, String> {
    let made = draft(hand, side, options).map_err(|error| error.to_string())?;
    Ok((made, *hand, *options.fitted.side(side)))
}

/// The glove a version made.
fn of_version(model: &HandModel, inputs: &str, side: Side) -> Option<Glove> {
    let performer = DraftInputs::read(inputs)?.performer();
    let (hands, _) = drafted_hands(model, &performer);
    glove(hands.side(side), side, &performer.options).ok()
}

impl Gloves {
    fn next(&self, model: &HandModel, side: Side) -> Next {
        let tried = self.source.fits.tried(side);
        // Against the glove that was tried on last, or else the last one kept.
        let judged = tried.iter().map(|t| t.glove).max();
        let last = match judged {
            Some(number) => self.versions.iter().find(|version| version.number == number),
            None => self.versions.last(),
        };
        let before = last.and_then(|version| of_version(model, &version.inputs, side));
        let hand = self.hands.side(side);
        let (after, refusal) = match glove(hand, side, &self.wanted.options) {
            Ok(after) => (Some(after), None),
            Err(refusal) => (None, Some(refusal)),
        };
        let reduction = &self.wanted.options.reduction;
        let tested = &self.base.options.reduction;
        let changes = self.source.fits.changes(side, hand, reduction, tested);
        let size = |glove: &Option<Glove>, zone| {
            glove.as_ref().and_then(|(draft, hand, own)| draft.size_mm(zone, hand, own)).map(tenth)
        };
        let rows = changes
            .iter()
            .map(|change| {
                let (before_mm, after_mm) = (size(&before, change.zone), size(&after, change.zone));
                let step_mm = after_mm.zip(before_mm).map(|(after, before)| tenth(after - before));
                Row {
                    zone: change.zone,
                    before_mm,
                    after_mm,
                    step_mm,
                    is_changed: step_mm.is_some_and(|step| step != 0.0) || change.mm != 0.0,
                    is_set: change.reason == Reason::Edited,
                    change: *change,
                }
            })
            .collect();
        let warnings = warnings(&changes, &tried);
        Next { side, last: last.map(|version| version.number), rows, warnings, refusal }
    }

    /// Inputs of the version that would be kept now, with the tag of the hand model in use.
    fn inputs(&self, model: &str) -> String {
        let fabric = self.source.fabric();
        let performer = to_draft(&self.source.person, &self.assessed, fabric, self.wanted);
        self.source.inputs(&performer, model)
    }
}

#[derive(Serialize)]
struct NextView {
    production: Production,
    performer: Performer,
    fabric: Option<Fabric>,
    side: Side,
    other_side: Side,
    next: Next,
    gloves: Vec<Sewn>,
    fittings: Vec<Fitting>,
    edits: Vec<Edit>,
    /// Whether the glove as it stands is the newest version already.
    is_kept: bool,
    form: BTreeMap<String, String>,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::See>,
    place: Path<(Uuid, String)>,
) -> Result<HttpResponse, Problem> {
    let (id, side) = place.into_inner();
    let side = side_of(&side)?;
    show(&request, &app, &signed.session, (id, side), BTreeMap::new(), None).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    (id, side): (Uuid, Side),
    form: BTreeMap<String, String>,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let in_use = app.in_use();
    let sees_names = rights::sees_names(session.role);
    let view = app
        .store
        .read(move |c| {
            let gloves = gloves(c, &in_use.model, id)?;
            let next = gloves.next(&in_use.model, side);
            let inputs = gloves.inputs(&in_use.tag);
            let Gloves { source, versions, .. } = gloves;
            let fabric = source.fabric().cloned();
            let mut performer = source.person.performer;
            if !sees_names {
                performer.name.clear();
            }
            Ok(NextView {
                gloves: sewn(c, id)?,
                is_kept: versions.last().is_some_and(|last| last.inputs == inputs),
                fittings: source.fits.fittings.into_iter().filter(|f| f.side == side).collect(),
                edits: source.fits.edits.into_iter().filter(|e| e.side == side).collect(),
                production: source.production,
                performer,
                fabric,
                side,
                other_side: side.other(),
                next,
                form,
                error,
            })
        })
        .await?;
    let status = match view.error {
        Some(_) => StatusCode::UNPROCESSABLE_ENTITY,
        None => StatusCode::OK,
    };
    app.pages.page(request, session, status, "next_glove.html", &view)
}

/// Zones of a form with a figure, mm.
fn figures(form: &BTreeMap<String, String>) -> Result<BTreeMap<FitZone, f64>, Problem> {
    let mut zones = BTreeMap::new();
    for (name, text) in form {
        let Some(zone) = name.strip_prefix("mm.").and_then(FitZone::from_key) else { continue };
        let text = text.trim().replace(',', ".").replace('\u{2212}', "-");
        if text.is_empty() {
            continue;
        }
        let figure = text
            .parse()
            .ok()
            .filter(|mm: &f64| mm.is_finite())
            .ok_or_else(|| Problem::at(name, "fitting_not_a_number"))?;
        if figure.abs() > FIGURE_MAX_MM {
            return Err(Problem::at(name, "fitting_figure").with("most", FIGURE_MAX_MM));
        }
        zones.insert(zone, figure);
    }
    Ok(zones)
}

async fn act(
    request: HttpRequest,
    app: Data<App>,
    place: Path<(Uuid, String)>,
    posted: Posted<rights::Cut, BTreeMap<String, String>>,
) -> Result<HttpResponse, Problem> {
    let (id, side) = place.into_inner();
    let side = side_of(&side)?;
    let Posted { session, form, .. } = posted;
    let who = session.name.clone();
    let action = form.get("action").map(String::as_str).unwrap_or_default();
    match action {
        "set" => match figures(&form) {
            Ok(zones) => set(&app, who, (id, side), zones).await?,
            Err(problem) => {
                let error = in_form(&request, problem)?;
                return show(&request, &app, &session, (id, side), form, Some(error)).await;
            }
        },
        "undo" => undo(&app, who, (id, side)).await?,
        "keep" => keep(&app, who, id).await?,
        _ => return Err(Kind::NotFound.into()),
    }
    Ok(see_other(&format!("/performers/{id}/next/{}", side.key())))
}

async fn set(
    app: &Data<App>,
    who: String,
    (id, side): (Uuid, Side),
    zones: BTreeMap<FitZone, f64>,
) -> Result<(), Problem> {
    Ok(app
        .store
        .write(move |c| {
            let fabric = crate::store::performer::get(c, id)?.fabric;
            fitting::edit(c, id, (side, fabric), &zones, &who)?;
            audit::add(c, &who, Action::GloveChanged, Some(id))
        })
        .await?)
}

async fn undo(app: &Data<App>, who: String, (id, side): (Uuid, Side)) -> Result<(), Problem> {
    Ok(app
        .store
        .write(move |c| {
            let fabric = crate::store::performer::get(c, id)?.fabric;
            if fitting::undo(c, id, (side, fabric))? {
                audit::add(c, &who, Action::GloveChanged, Some(id))?;
            }
            Ok(())
        })
        .await?)
}

/// Keeps the gloves as they stand as the next version.
async fn keep(app: &Data<App>, who: String, id: Uuid) -> Result<(), Problem> {
    let in_use = app.in_use();
    Ok(app
        .store
        .write(move |c| {
            drafted::keep(c, &in_use, id)?;
            audit::add(c, &who, Action::GloveKept, Some(id))
        })
        .await?)
}

#[derive(Serialize, ToSchema)]
#[schema(as = Fittings)]
struct Body {
    performer: Uuid,
    code: String,
    gloves: Vec<Sewn>,
    fittings: Vec<Fitting>,
    next: [Next; 2],
}

async fn as_json(
    app: Data<App>,
    _signed: Signed<rights::See>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let in_use = app.in_use();
    let body = app
        .store
        .read(move |c| {
            let gloves = gloves(c, &in_use.model, *id)?;
            let next = Side::BOTH.map(|side| gloves.next(&in_use.model, side));
            let source = gloves.source;
            Ok(Body {
                performer: *id,
                gloves: sewn(c, *id)?,
                next,
                code: source.person.performer.code,
                fittings: source.fits.fittings,
            })
        })
        .await?;
    Ok(HttpResponse::Ok().json(body))
}
