//! The draft of one glove: on the page, and as SVG or PDF at true size.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::draft::{Draft, DraftError, GloveOptions, draft};
use analysis::hand::Side;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::dates::today;
use super::{FieldError, in_form};
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::batch::DraftInputs;
use crate::draft_options::DraftForm;
use crate::error::{Kind, Problem};
use crate::export::SheetLabels;
use crate::export::pdf::{self, CAUTION, Paper};
use crate::export::svg::{self, SvgUse};
use crate::person::{Assessed, Person};
use crate::store::audit::{self, Action};
use crate::store::draft_version::{self, DraftVersion};
use crate::store::fabric::{self, Fabric};
use crate::store::performer::Performer;
use crate::store::production::{self, Production};
use crate::store::{Conn, StoreResult};
use crate::wanted::{base_options, with_options};

/// Written instead of a number on a draft that no batch has issued as a version.
const TRIAL: &str = "trial";

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/performers/{id}/draft/{side}", web::get().to(page))
        .route("/performers/{id}/draft/{side}/glove.svg", web::get().to(as_svg))
        .route("/performers/{id}/draft/{side}/glove.pdf", web::get().to(as_pdf));
}

struct Source {
    person: Person,
    production: Production,
    fabric: Option<Fabric>,
    latest: Option<DraftVersion>,
}

impl Source {
    fn base_options(&self, assessed: &Assessed) -> GloveOptions {
        base_options(self.fabric.as_ref().map(|fabric| &fabric.facts), &assessed.filled)
            .worn_by(self.person.performer.population)
    }
}

fn read(c: &Conn, id: Uuid) -> StoreResult<Source> {
    let person = Person::load(c, id)?;
    let production = production::get(c, person.performer.production)?;
    let fabric = match person.performer.fabric {
        Some(fabric) => Some(fabric::get(c, fabric)?),
        None => None,
    };
    let latest = draft_version::latest(c, id)?;
    Ok(Source { person, production, fabric, latest })
}

/// Labels with the number and date of the version that has these very inputs, if there is one.
fn labels(
    source: &Source,
    assessed: &Assessed,
    options: &GloveOptions,
    model: &str,
) -> SheetLabels {
    let performer = with_options(&source.person, assessed, source.fabric.as_ref(), *options);
    let inputs = DraftInputs::of(&source.production.name, &performer).with_model(model).text();
    let issued = source.latest.as_ref().filter(|latest| latest.inputs == inputs);
    let (version, date) = match issued {
        Some(issued) => (issued.number.to_string(), issued.date.clone()),
        None => (TRIAL.to_owned(), today()),
    };
    SheetLabels {
        production: source.production.name.clone(),
        performer_code: performer.code,
        fabric: performer.fabric,
        version,
        date,
    }
}

fn side_of(key: &str) -> Result<Side, Problem> {
    Ok(Side::from_key(key).ok_or(Kind::NotFound)?)
}

fn draft_problem(error: DraftError) -> Problem {
    match error {
        DraftError::Option(outside) => {
            Problem::refused(outside.option, "option_out_of_bounds", outside.to_string())
        }
        other => Problem::refused("draft", "hand_not_draftable", other.to_string()),
    }
}

#[derive(Serialize)]
struct ZoneRow {
    zone: String,
    hand_mm: f64,
    glove_mm: f64,
    extension_percent: f64,
    is_over: bool,
}

#[derive(Serialize)]
struct CrotchRow {
    between: String,
    stand_off_mm: f64,
    spread_deg: f64,
}

#[derive(Serialize)]
struct Forecast {
    zones: Vec<ZoneRow>,
    crotches: Vec<CrotchRow>,
    wrist_passing_percent: f64,
    advice: String,
}

impl Forecast {
    fn of(draft: &Draft, options: &GloveOptions) -> Forecast {
        let forecast = &draft.forecast;
        Forecast {
            zones: forecast
                .zones
                .iter()
                .map(|zone| ZoneRow {
                    zone: zone.zone.to_string(),
                    hand_mm: zone.hand_mm.round(),
                    glove_mm: zone.glove_mm.round(),
                    extension_percent: (zone.extension() * 100.0).round(),
                    is_over: zone.extension() > options.usable_extension,
                })
                .collect(),
            crotches: forecast
                .crotches
                .iter()
                .map(|crotch| CrotchRow {
                    between: format!("{} / {}", crotch.near.name(), crotch.far.name()),
                    stand_off_mm: crotch.stand_off_mm.round(),
                    spread_deg: crotch.spread_deg.round(),
                })
                .collect(),
            wrist_passing_percent: (forecast.wrist_passing_extension * 100.0).round(),
            advice: forecast.advice.clone(),
        }
    }
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
    fabric: Option<String>,
    side: Side,
    other_side: Side,
    measured: usize,
    estimated: usize,
    flags: usize,
    form: DraftForm,
    query: String,
    svg: Option<String>,
    forecast: Option<Forecast>,
    remarks: Vec<String>,
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
    let form = query.into_inner();
    let in_use = app.in_use();
    let sees_names = rights::sees_names(signed.session.role);
    let query = request.query_string().to_owned();
    let (view, problem) = app
        .store
        .read(move |c| {
            let source = read(c, id)?;
            let assessed = source.person.assess(&in_use.model);
            let base = source.base_options(&assessed);
            let options = form.options(base);
            let form = options.as_ref().map_or(form, DraftForm::of);
            let drawn = options.and_then(|options| {
                let made = draft(assessed.hand(side), side, &options).map_err(draft_problem)?;
                Ok((made, options))
            });
            let (made, problem) = match drawn {
                Ok(made) => (Some(made), None),
                Err(problem) => (None, Some(problem)),
            };
            let measured = assessed.hands.side(side).values().flatten().count();
            let options = made.as_ref().map_or(base, |(_, options)| *options);
            let labels = labels(&source, &assessed, &options, &in_use.tag);
            let mut performer = source.person.performer;
            if !sees_names {
                performer.name.clear();
            }
            let view = DraftView {
                svg: made.as_ref().map(|(made, _)| svg::render(made, &labels, SvgUse::Inline)),
                forecast: made.as_ref().map(|(made, options)| Forecast::of(made, options)),
                form,
                remarks: made.map(|(made, _)| made.remarks).unwrap_or_default(),
                production: source.production,
                fabric: source.fabric.map(|fabric| fabric.name),
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
    let error = problem.map(in_form).transpose()?;
    let status = if error.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    app.pages.page(&request, &signed.session, status, "draft.html", &DraftView { error, ..view })
}

/// Drafts for a download: labels and drawing.
async fn drawn(
    app: &Data<App>,
    id: Uuid,
    side: Side,
    form: DraftForm,
) -> Result<(Draft, SheetLabels), Problem> {
    let in_use = app.in_use();
    let source = app.store.read(move |c| read(c, id)).await?;
    web::block(move || {
        let assessed = source.person.assess(&in_use.model);
        let options = form.options(source.base_options(&assessed))?;
        let made = draft(assessed.hand(side), side, &options).map_err(draft_problem)?;
        let labels = labels(&source, &assessed, &options, &in_use.tag);
        Ok((made, labels))
    })
    .await
    .map_err(|_| Kind::Fault)?
}

async fn note_download(app: &Data<App>, who: String, id: Uuid) -> Result<(), Problem> {
    Ok(app.store.write(move |c| audit::add(c, &who, Action::DraftDownloaded, Some(id))).await?)
}

/// A file name of letters, digits and hyphens: the code, the side, the version or "trial".
fn file_name(labels: &SheetLabels, side: Side, ending: &str) -> String {
    let code: String = labels
        .performer_code
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let version = &labels.version;
    let version = if version == TRIAL { version.clone() } else { format!("v{version}") };
    format!("attachment; filename=\"{code}-{}-{version}.{ending}\"", side.key())
}

async fn as_svg(
    app: Data<App>,
    signed: Signed<rights::Cut>,
    place: Path<(Uuid, String)>,
    query: Query<DraftForm>,
) -> Result<HttpResponse, Problem> {
    let (id, side) = place.into_inner();
    let side = side_of(&side)?;
    let (made, labels) = drawn(&app, id, side, query.into_inner()).await?;
    note_download(&app, signed.session.name, id).await?;
    Ok(HttpResponse::Ok()
        .content_type("image/svg+xml")
        .insert_header(("content-disposition", file_name(&labels, side, "svg")))
        .body(svg::render(&made, &labels, SvgUse::Download)))
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
    let (made, labels) = drawn(&app, id, side, query.into_inner()).await?;
    note_download(&app, signed.session.name, id).await?;
    let disposition = file_name(&labels, side, "pdf");
    let bytes = web::block(move || pdf::render(&made, &labels, paper))
        .await
        .map_err(|_| Kind::Fault)?
        .map_err(|error| {
            tracing::error!(%error, %id, "pdf");
            Kind::Fault
        })?;
    Ok(HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header(("content-disposition", disposition))
        .body(bytes))
}

/// The paper with this key; A4 when none is named.
pub(super) fn paper_of(key: &str) -> Result<Paper, Problem> {
    if key.is_empty() {
        return Ok(Paper::A4);
    }
    Paper::from_key(key).ok_or_else(|| Problem::at("paper", "not_on_the_list"))
}
