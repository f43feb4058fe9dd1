//! The draft of one glove: on the page, and as SVG or PDF at true size.

use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::fabric::Ease;
use analysis::hand::Side;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::download::{Download, paper_of, side_of};
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::batch::CutPiece;
use crate::describe::{Api, get, post};
use crate::done::Done;
use crate::draft_options::DraftForm;
use crate::drafted::{TRIAL, make, read};
use crate::error::{Kind, Problem};
use crate::export::SheetLabels;
use crate::export::pdf::{CAUTION, Paper};
use crate::export::svg::{self, SvgUse};
use crate::forecast_view::{self, ForecastView};
use crate::inputs::is_script;
use crate::store::audit::{self, Action};
use crate::store::fabric::Fabric;
use crate::store::performer::{self, Performer};
use crate::store::production::{self, Production};
use crate::store::session::Session;
use crate::words;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/performers/{id}/draft/{side}", web::get().to(page))
        .route("/performers/{id}/draft/{side}/glove.svg", web::get().to(as_svg))
        .route("/performers/{id}/draft/{side}/glove.pdf", web::get().to(as_pdf))
        .route("/performers/{id}/choices", web::post().to(keep))
        .route("/api/performers/{id}/draft", web::get().to(as_json));
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<KeepForm, Done>(
        "/performers/{id}/choices",
        "Keeps choices of the draft for a performer or for everybody.",
    ));
    api.add(
        get::<DraftState>("/api/performers/{id}/draft", "The draft of one glove in figures.")
            .asks::<SideQuery>()
            .asks::<DraftForm>()
            .detail("Options in the query count over those that were kept."),
    );
}

#[derive(Serialize)]
struct PaperChoice {
    key: String,
    name: String,
}

#[derive(Serialize)]
struct DraftView {
    production: Production,
    performer: Performer,
    fabrics: Vec<Fabric>,
    fabric: Option<String>,
    is_pulled: bool,
    ease: Option<Ease>,
    side: Side,
    other_side: Side,
    measured: usize,
    estimated: usize,
    flags: usize,
    form: DraftForm,
    /// Whether choices were kept for this performer.
    has_own: bool,
    is_master: bool,
    asks_master: bool,
    query: String,
    svg: Option<String>,
    forecast: Option<ForecastView>,
    forecast_svg: Option<String>,
    remarks: Vec<String>,
    /// Zones that fittings change, one's own or those in the fabric.
    fitted: usize,
    caution: &'static str,
    papers: Vec<PaperChoice>,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    place: Path<(Uuid, String)>,
    query: Query<DraftForm>,
) -> Result<HttpResponse, Problem> {
    let (id, side) = place.into_inner();
    let side = side_of(&side)?;
    let query_text = request.query_string().to_owned();
    show(&request, &app, &signed.session, (id, side), query.into_inner(), query_text).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    (id, side): (Uuid, Side),
    form: DraftForm,
    query: String,
) -> Result<HttpResponse, Problem> {
    let in_use = app.in_use();
    let w = words::all().for_request(request);
    let sees_names = rights::sees_names(session.role);
    let (view, problem) = app
        .store
        .read(move |c| {
            let source = read(c, id)?;
            let assessed = source.person.assess(&in_use.model);
            let base = source.base(&assessed);
            let chosen = source.chosen(form);
            let (made, problem) = match make(&assessed, side, &base, &chosen) {
                Ok(made) => (Some(made), None),
                Err(problem) => (None, Some(problem)),
            };
            let measured = assessed.hands.side(side).values().flatten().count();
            let drawing = made.as_ref().map(|made| {
                let labels = source.labels(&assessed, made.wanted, &in_use.tag);
                svg::render(&made.draft, &labels, SvgUse::Inline)
            });
            let fabric = source.fabric();
            let (fabric_name, is_pulled) =
                (fabric.map(|fabric| fabric.name.clone()), base.ease.is_some());
            let mut performer = source.person.performer;
            if !sees_names {
                performer.name.clear();
            }
            let view = DraftView {
                svg: drawing,
                forecast: made
                    .as_ref()
                    .map(|made| ForecastView::of(&made.draft, &made.wanted.options, w)),
                forecast_svg: made
                    .as_ref()
                    .map(|made| forecast_view::drawing(&made.draft, &made.wanted.options, w)),
                is_master: made.as_ref().is_some_and(|made| made.is_master),
                asks_master: made.as_ref().is_some_and(|made| made.wanted.master.is_some()),
                fitted: made.as_ref().map_or(0, |made| {
                    let changes = made.wanted.options.fitted.side(side);
                    changes.iter().filter(|(_, mm)| *mm != 0.0).count()
                }),
                remarks: made
                    .map(|made| forecast_view::remarks(&made.draft, w))
                    .unwrap_or_default(),
                form: chosen.over(&base.form),
                has_own: !performer.choices.is_empty(),
                production: source.production,
                fabrics: source.fabrics,
                fabric: fabric_name,
                is_pulled,
                ease: base.ease,
                performer,
                side,
                other_side: side.other(),
                measured,
                estimated: analysis::dimension::Dimension::COUNT - measured,
                flags: assessed.open_flags().count(),
                query,
                caution: CAUTION,
                papers: Paper::SHEETS
                    .iter()
                    .map(|paper| PaperChoice { key: paper.key(), name: paper.name() })
                    .collect(),
                error: None,
            };
            Ok((view, problem))
        })
        .await?;
    let error = problem.map(|problem| in_form(request, problem)).transpose()?;
    let status = form_status(error.as_ref());
    app.pages.page(request, session, status, "draft.html", &DraftView { error, ..view })
}

/// Choices to keep, and for whom.
#[derive(Deserialize, ToSchema)]
#[schema(as = ChoicesForm)]
struct KeepForm {
    /// `performer`, `everybody`, or `nobody` to forget the performer's own.
    #[serde(default)]
    #[schema(pattern = "^(performer|everybody|nobody)$")]
    keep: String,
    #[serde(default)]
    #[schema(value_type = Side)]
    side: String,
    #[serde(flatten)]
    choices: DraftForm,
}

async fn keep(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, KeepForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form: KeepForm { keep, side, choices }, .. } = posted;
    let id = *id;
    let side = side_of(&side)?;
    let in_use = app.in_use();
    let sent = choices.clone();
    let checked = app
        .store
        .read(move |c| {
            let source = read(c, id)?;
            let assessed = source.person.assess(&in_use.model);
            let base = source.base(&assessed);
            let for_all = DraftForm::kept(&source.production.choices).over(&base.form);
            let own = sent.clone().apart_from(&for_all);
            let mut all = sent.clone().apart_from(&base.form);
            // A forearm is one person's.
            all.forearm.clear();
            all.forearm_half.clear();
            Ok(base.wanted(&sent).map(|_| (source.production.id, own, all)))
        })
        .await?;
    let (home, own, all) = match checked {
        Ok(kept) => kept,
        Err(problem) if is_script(&request) => return Err(problem),
        // Nothing is kept of what cannot be drafted; the page says why, with everything in place.
        Err(_) => return show(&request, &app, &session, (id, side), choices, String::new()).await,
    };
    let who = session.name;
    app.store
        .write(move |c| {
            match keep.as_str() {
                "everybody" => production::keep_choices(c, home, &all.to_keep())?,
                "performer" => performer::keep_choices(c, id, &own.to_keep())?,
                _ => performer::keep_choices(c, id, "")?,
            }
            audit::add(c, &who, Action::ChoicesKept, Some(id))
        })
        .await?;
    Ok(see_other(&format!("/performers/{id}/draft/{}", side.key())))
}

/// What the API says of a draft.
#[derive(Serialize, ToSchema)]
#[schema(as = DraftFigures)]
struct DraftState {
    side: Side,
    options: analysis::draft::GloveOptions,
    master: Option<f64>,
    is_master: bool,
    form: DraftForm,
    ease: Option<Ease>,
    forecast: ForecastView,
    remarks: Vec<String>,
    pieces: Vec<CutPiece>,
}

#[derive(Deserialize, IntoParams)]
struct SideQuery {
    /// `left` or `right`; right if left out.
    #[serde(default)]
    side: String,
}

async fn as_json(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    query: Query<DraftForm>,
    side: Query<SideQuery>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    let side = Side::from_key(&side.side).unwrap_or(Side::Right);
    let in_use = app.in_use();
    let source = app.store.read(move |c| read(c, id)).await?;
    let w = words::all().of(words::FALLBACK);
    let state = web::block(move || {
        let assessed = source.person.assess(&in_use.model);
        let base = source.base(&assessed);
        let chosen = source.chosen(query.into_inner());
        let made = make(&assessed, side, &base, &chosen)?;
        Ok::<_, Problem>(DraftState {
            side,
            options: made.wanted.options,
            master: made.wanted.master,
            is_master: made.is_master,
            form: chosen.over(&base.form),
            ease: base.ease,
            forecast: ForecastView::of(&made.draft, &made.wanted.options, w),
            pieces: made.draft.pieces.iter().map(CutPiece::of).collect(),
            remarks: forecast_view::remarks(&made.draft, w),
        })
    })
    .await
    .map_err(|_| Kind::Fault)??;
    Ok(HttpResponse::Ok().json(state))
}

/// Drafts for a download: labels and drawing.
async fn drawn(
    app: &Data<App>,
    id: Uuid,
    side: Side,
    form: DraftForm,
) -> Result<Download, Problem> {
    let in_use = app.in_use();
    let source = app.store.read(move |c| read(c, id)).await?;
    web::block(move || {
        let assessed = source.person.assess(&in_use.model);
        let base = source.base(&assessed);
        let made = make(&assessed, side, &base, &source.chosen(form))?;
        let labels = source.labels(&assessed, made.wanted, &in_use.tag);
        let name = file_name(&labels, side);
        Ok(Download { draft: made.draft, labels, name })
    })
    .await
    .map_err(|_| Kind::Fault)?
}

/// A file name of letters, digits and hyphens: the code, the side, the version or "trial".
fn file_name(labels: &SheetLabels, side: Side) -> String {
    let code: String = labels
        .performer_code
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let version = &labels.version;
    let version = if version == TRIAL { version.clone() } else { format!("v{version}") };
    format!("{code}-{}-{version}", side.key())
}

async fn as_svg(
    app: Data<App>,
    signed: Signed<rights::Cut>,
    place: Path<(Uuid, String)>,
    query: Query<DraftForm>,
) -> Result<HttpResponse, Problem> {
    let (id, side) = place.into_inner();
    let side = side_of(&side)?;
    let glove = drawn(&app, id, side, query.into_inner()).await?;
    glove.into_svg(&app, signed.session.name, id).await
}

#[derive(Deserialize)]
struct PaperQuery {
    #[serde(default)]
    paper: String,
}

async fn as_pdf(
    app: Data<App>,
    signed: Signed<rights::Cut>,
    place: Path<(Uuid, String)>,
    query: Query<DraftForm>,
    paper: Query<PaperQuery>,
) -> Result<HttpResponse, Problem> {
    let (id, side) = place.into_inner();
    let side = side_of(&side)?;
    let paper = paper_of(&paper.paper)?;
    let glove = drawn(&app, id, side, query.into_inner()).await?;
    glove.into_pdf(&app, signed.session.name, id, paper).await
}
