//! Fabrics of a production: list, stretch test, what follows from it, and who wears it.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::fabric::{CAPILLARY_CLOSING_MMHG, Direction, Ease, FabricFacts, StretchTest};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;
use uuid::Uuid;

use super::dates;
use super::productions::{LONGEST_NAME, see_other};
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::charts::{self, Tension, TensionWords};
use crate::describe::{Api, Free, get, post};
use crate::done::{Done, made};
use crate::error::Problem;
use crate::fabric_form::FabricForm;
use crate::inputs::Nothing;
use crate::store::audit::{self, Action};
use crate::store::fabric::{self, Fabric};
use crate::store::performer;
use crate::store::production::{self, Production};
use crate::store::session::Session;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/productions/{id}/fabrics", web::get().to(list_page))
        .service(
            web::resource("/productions/{id}/fabrics/add")
                .route(web::get().to(add_page))
                .route(web::post().to(add)),
        )
        .service(
            web::resource("/fabrics/{id}").route(web::get().to(page)).route(web::post().to(change)),
        )
        .route("/fabrics/{id}/give", web::post().to(give))
        .route("/performers/{id}/fabric", web::post().to(choose))
        .route("/api/productions/{id}/fabrics", web::get().to(as_json));
}

pub(super) fn describe(api: &mut Api) {
    let form = "Inputs: `name`, `note`, `material`, `latex`, `share` (percent of the greatest \
        extension that is used), `limit_ZONE` (mmHg); for each pull, from 0: `direction_0`, `by_0`, \
        `mass_0` (g), `strip_0`, `before_0`, `loaded_0`, `released_0` (mm).";
    api.add(
        post::<Free, Done>("/productions/{id}/fabrics/add", "Adds a fabric.").makes().detail(form),
    );
    api.add(
        post::<Free, Done>("/fabrics/{id}", "Changes a fabric, which makes its next version.")
            .detail(form),
    );
    api.add(post::<Nothing, Done>(
        "/fabrics/{id}/give",
        "Gives a fabric to every performer who has none.",
    ));
    api.add(post::<ChoiceForm, Done>(
        "/performers/{id}/fabric",
        "Chooses the fabric of a performer.",
    ));
    api.add(
        get::<FabricCard>(
            "/api/productions/{id}/fabrics",
            "The fabrics of a production with their stretch tests, by name.",
        )
        .many(),
    );
}

/// What a stretch test says, in the figures people speak of.
#[derive(Debug, Serialize, ToSchema)]
struct Tested {
    /// Usable extension round the hand, percent.
    across_percent: f64,
    /// Usable extension along the fingers, percent; nothing where that was not pulled.
    along_percent: Option<f64>,
    /// Share of the length left after a pull, percent.
    left_percent: f64,
    is_tired: bool,
    /// Tension at the usable extension, N/m, where it is known.
    tension_n_per_m: Option<f64>,
}

impl Tested {
    /// Nothing for a fabric that nobody has pulled.
    fn of(facts: &FabricFacts) -> Option<Tested> {
        let behaviour = facts.behaviour().ok().flatten()?;
        let percent = |share: f64| (share * 100.0).round();
        let is_pulled_along = facts.tests.iter().any(|t| t.direction == Direction::Crosswise);
        let tension = behaviour.curve.map(|c| c.tension_n_per_m(behaviour.usable_across).round());
        Some(Tested {
            across_percent: percent(behaviour.usable_across),
            along_percent: is_pulled_along.then(|| percent(behaviour.usable_along)),
            left_percent: percent(behaviour.left),
            is_tired: behaviour.is_tired(),
            tension_n_per_m: tension,
        })
    }
}

/// A fabric in a list.
#[derive(Debug, Serialize, ToSchema)]
struct FabricCard {
    #[serde(flatten)]
    fabric: Fabric,
    tested: Option<Tested>,
    wearers: Vec<String>,
}

impl FabricCard {
    fn of(fabric: Fabric, performers: &[performer::Performer]) -> FabricCard {
        let wears = |performer: &&performer::Performer| performer.fabric == Some(fabric.id);
        FabricCard {
            wearers: performers.iter().filter(wears).map(|p| p.code.clone()).collect(),
            tested: Tested::of(&fabric.facts),
            fabric,
        }
    }
}

async fn cards(app: &Data<App>, id: Uuid) -> Result<(Production, Vec<FabricCard>), Problem> {
    let (production, fabrics, performers) = app
        .store
        .read(move |c| Ok((production::get(c, id)?, fabric::list(c, id)?, performer::list(c, id)?)))
        .await?;
    let cards = fabrics.into_iter().map(|fabric| FabricCard::of(fabric, &performers)).collect();
    Ok((production, cards))
}

#[derive(Serialize)]
struct ListView {
    production: Production,
    fabrics: Vec<FabricCard>,
}

async fn list_page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (production, fabrics) = cards(&app, *id).await?;
    let view = ListView { production, fabrics };
    app.pages.page(&request, &signed.session, StatusCode::OK, "fabrics.html", &view)
}

async fn as_json(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (_, fabrics) = cards(&app, *id).await?;
    Ok(HttpResponse::Ok().json(fabrics))
}

/// A version in the list of versions.
#[derive(Serialize)]
struct VersionRow {
    number: i64,
    name: String,
    made_by: String,
    made: String,
    tested: Option<Tested>,
}

/// Everything the page of one fabric shows beside its form.
#[derive(Serialize)]
struct Known {
    card: FabricCard,
    chart: String,
    ease: Option<Ease>,
    versions: Vec<VersionRow>,
    /// Performers of the production who have no fabric yet.
    without: usize,
}

#[derive(Serialize)]
struct FabricView {
    production: Production,
    known: Option<Known>,
    form: FabricForm,
    capillary_mmhg: String,
    error: Option<FieldError>,
}

fn render(
    request: &HttpRequest,
    app: &App,
    session: &Session,
    (production, known): (Production, Option<Known>),
    form: FabricForm,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let status = form_status(error.as_ref());
    let view = FabricView {
        production,
        known,
        form,
        capillary_mmhg: format!("{CAPILLARY_CLOSING_MMHG:.0}"),
        error,
    };
    app.pages.page(request, session, status, "fabric.html", &view)
}

async fn add_page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    let production = app.store.read(move |c| production::get(c, id)).await?;
    render(&request, &app, &signed.session, (production, None), FabricForm::default(), None)
}

async fn add(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, FabricForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let added = match form.understand(LONGEST_NAME) {
        Ok(new) => {
            let who = session.name.clone();
            app.store
                .write(move |c| {
                    production::get(c, id)?;
                    let fabric = fabric::add(c, id, &new, &who)?;
                    audit::add(c, &who, Action::FabricAdded, Some(fabric))?;
                    Ok(fabric)
                })
                .await
                .map_err(Problem::from)
        }
        Err(problem) => Err(problem),
    };
    match added {
        Ok(fabric) => Ok(made(&format!("/fabrics/{fabric}"), fabric)),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            let production = app.store.read(move |c| production::get(c, id)).await?;
            render(&request, &app, &session, (production, None), form, Some(error))
        }
    }
}

/// The middle hand of the published adults, for figures on a page that knows nobody's hand.
fn ease_on_the_middle_hand(model: &HandModel, facts: &FabricFacts) -> Option<Ease> {
    let middle = model.fill(Population::Adults, &Hands::default());
    facts.ease(middle.side(Side::Right)).ok().flatten()
}

fn chart(facts: &FabricFacts, words: &Value) -> String {
    let Some(behaviour) = facts.behaviour().ok().flatten() else { return String::new() };
    let Some(curve) = behaviour.curve else { return String::new() };
    let pulls: Vec<(f64, f64)> = facts
        .tests
        .iter()
        .filter(|test| test.direction == Direction::Greatest)
        .filter_map(|test: &StretchTest| Some((test.extension(), test.tension_n_per_m()?)))
        .collect();
    let word = |key: &str| words["fabric"]["chart"][key].as_str().unwrap_or_default();
    let words =
        TensionWords { stretch: word("stretch"), tension: word("tension"), usable: word("usable") };
    charts::svg(&Tension { curve, pulls: &pulls, usable: behaviour.usable_across, words })
}

async fn known(
    request: &HttpRequest,
    app: &Data<App>,
    id: Uuid,
) -> Result<(Production, Known), Problem> {
    let model = app.model();
    let words = app.pages.words.of(app.pages.words.choose(request)).clone();
    let (production, fabric, versions, performers) = app
        .store
        .read(move |c| {
            let fabric = fabric::get(c, id)?;
            let performers = performer::list(c, fabric.production)?;
            Ok((
                production::get(c, fabric.production)?,
                fabric,
                fabric::versions(c, id)?,
                performers,
            ))
        })
        .await?;
    let versions = versions.into_iter().map(|version| VersionRow {
        number: version.number,
        tested: Tested::of(&version.facts),
        name: version.name,
        made_by: version.made_by,
        made: if version.made_ms > 0 { dates::moment(version.made_ms) } else { String::new() },
    });
    let known = Known {
        chart: chart(&fabric.facts, &words),
        ease: ease_on_the_middle_hand(&model, &fabric.facts),
        versions: versions.collect(),
        without: performers.iter().filter(|performer| performer.fabric.is_none()).count(),
        card: FabricCard::of(fabric, &performers),
    };
    Ok((production, known))
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (production, known) = known(&request, &app, *id).await?;
    let Fabric { name, note, facts, .. } = &known.card.fabric;
    let form = FabricForm::of(name, note, facts);
    render(&request, &app, &signed.session, (production, Some(known)), form, None)
}

async fn change(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, FabricForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let changed = match form.understand(LONGEST_NAME) {
        Ok(new) => {
            let who = session.name.clone();
            app.store
                .write(move |c| {
                    fabric::change(c, id, &new, &who)?;
                    audit::add(c, &who, Action::FabricChanged, Some(id))
                })
                .await
                .map_err(Problem::from)
        }
        Err(problem) => Err(problem),
    };
    match changed {
        Ok(()) => Ok(see_other(&format!("/fabrics/{id}"))),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            let (production, known) = known(&request, &app, id).await?;
            render(&request, &app, &session, (production, Some(known)), form, Some(error))
        }
    }
}

async fn give(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, Nothing>,
) -> Result<HttpResponse, Problem> {
    let (id, who) = (*id, posted.session.name);
    let production = app
        .store
        .write(move |c| {
            let production = fabric::get(c, id)?.production;
            performer::give_fabric(c, production, id)?;
            audit::add(c, &who, Action::FabricChosen, Some(id))?;
            Ok(production)
        })
        .await?;
    app.live.tell(production);
    Ok(see_other(&format!("/fabrics/{id}")))
}

#[derive(Deserialize, ToSchema)]
#[schema(as = FabricChoiceForm)]
struct ChoiceForm {
    #[serde(default)]
    fabric: String,
    #[serde(default)]
    #[schema(pattern = "^(left|right)?$")]
    back: String,
}

async fn choose(
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Cut, ChoiceForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let chosen = match form.fabric.as_str() {
        "" => None,
        text => Some(Uuid::try_parse(text).map_err(|_| Problem::at("fabric", "not_on_the_list"))?),
    };
    let who = session.name;
    app.store
        .write(move |c| {
            performer::set_fabric(c, id, chosen)?;
            audit::add(c, &who, Action::FabricChosen, Some(id))
        })
        .await?;
    let side = Side::from_key(&form.back).unwrap_or(Side::Right);
    Ok(see_other(&format!("/performers/{id}/draft/{}", side.key())))
}
