//! The few sizes that serve a cast: page, JSON and CSV.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::hand::Hands;
use analysis::model::{FilledHands, Population};
use analysis::sizing::curve::MOST_SIZES;
use analysis::sizing::misfit::{
    LONG_FINGER_MM, LONG_PALM_MM, LOOSE_ROOM, SHORT_FINGER_MM, SHORT_PALM_MM, TIGHT_COST,
    TIGHT_ROOM,
};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{FieldError, form_status, in_form};
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::charts::{self, CurveWords};
use crate::error::{Kind, Problem};
use crate::export::csv;
use crate::person::Person;
use crate::size_report::{SizeOrder, SizeReport, report};
use crate::store::fabric::{self, Fabric};
use crate::store::production::{self, Production};
use crate::wanted::Base;

/// Understudies taken at most.
const MOST_UNDERSTUDIES: u64 = 500;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/productions/{id}/sizes", web::get().to(page))
        .route("/productions/{id}/sizes.csv", web::get().to(as_csv))
        .route("/api/productions/{id}/sizes", web::get().to(as_json));
}

/// What is asked; an empty input means the default.
#[derive(Debug, Clone, Default, Deserialize, Serialize)]
#[serde(default)]
struct SizeForm {
    sizes: String,
    understudies: String,
    fabric: String,
}

/// A whole number within bounds, or nothing for an empty input.
fn whole(field: &str, text: &str, low: u64, high: u64) -> Result<Option<u64>, Problem> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse() {
        Ok(number) if (low..=high).contains(&number) => Ok(Some(number)),
        _ => Err(Problem::at(field, "number_out_of_bounds").with("least", low).with("most", high)),
    }
}

fn understand(
    form: &SizeForm,
    fabrics: &[Fabric],
    middle: &FilledHands,
) -> Result<SizeOrder, Problem> {
    let fabric = match form.fabric.as_str() {
        "" => None,
        id => Some(
            fabrics
                .iter()
                .find(|fabric| fabric.id.to_string() == id)
                .ok_or_else(|| Problem::at("fabric", "not_on_the_list"))?,
        ),
    };
    let sizes = whole("sizes", &form.sizes, 1, MOST_SIZES as u64)?;
    Ok(SizeOrder {
        options: Base::of(fabric.map(|fabric| &fabric.facts), middle, Population::Adults).options,
        sizes: sizes.and_then(|sizes| usize::try_from(sizes).ok()),
        understudies: whole("understudies", &form.understudies, 0, MOST_UNDERSTUDIES)?,
    })
}

struct Made {
    production: Production,
    fabrics: Vec<Fabric>,
    report: Result<Option<SizeReport>, Problem>,
}

async fn make(app: &Data<App>, id: Uuid, form: SizeForm) -> Result<Made, Problem> {
    let (production, fabrics, people) = app
        .store
        .read(move |c| {
            Ok((production::get(c, id)?, fabric::list(c, id)?, Person::load_all(c, id)?))
        })
        .await?;
    let model = app.model();
    // One ease for every size, from the middle hands of the published adults.
    let middle = model.fill(Population::Adults, &Hands::default());
    let order = understand(&form, &fabrics, &middle);
    let report = match order {
        Ok(order) => Ok(web::block(move || report(&model, &people, &order))
            .await
            .map_err(|_| Kind::Fault)?),
        Err(problem) => Err(problem),
    };
    Ok(Made { production, fabrics, report })
}

/// The weights behind the misfit, for the page.
#[derive(Serialize)]
struct Weights {
    tight_cost: f64,
    tight_percent: f64,
    loose_percent: f64,
    short_finger_mm: f64,
    long_finger_mm: f64,
    short_palm_mm: f64,
    long_palm_mm: f64,
}

impl Weights {
    const SHOWN: Weights = Weights {
        tight_cost: TIGHT_COST,
        tight_percent: TIGHT_ROOM * 100.0,
        loose_percent: LOOSE_ROOM * 100.0,
        short_finger_mm: SHORT_FINGER_MM,
        long_finger_mm: LONG_FINGER_MM,
        short_palm_mm: SHORT_PALM_MM,
        long_palm_mm: LONG_PALM_MM,
    };
}

#[derive(Serialize)]
struct SizesView {
    production: Production,
    fabrics: Vec<Fabric>,
    form: SizeForm,
    report: Option<SizeReport>,
    chart: String,
    weights: Weights,
    most_sizes: usize,
    most_understudies: u64,
    /// The other inputs as part of an address, once they are understood.
    others: String,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    form: Query<SizeForm>,
) -> Result<HttpResponse, Problem> {
    let form = form.into_inner();
    let Made { production, fabrics, report } = make(&app, *id, form.clone()).await?;
    let (report, error) = match report {
        Ok(report) => (report, None),
        Err(problem) => (None, Some(in_form(problem)?)),
    };
    let words = app.pages.words.of(app.pages.words.choose(&request));
    let word = |key: &str| words["sizes"]["chart"][key].as_str().unwrap_or_default();
    let chart = report.as_ref().map_or_else(String::new, |report| {
        let words = CurveWords {
            sizes: word("sizes"),
            misfit: word("misfit"),
            covered: word("covered"),
            knee: word("knee"),
        };
        charts::sizes(&report.curve, words)
    });
    // Both were understood: a whole number and an id, or nothing.
    let others = match &report {
        Some(_) => format!("&understudies={}&fabric={}", form.understudies.trim(), form.fabric),
        None => String::new(),
    };
    let status: StatusCode = form_status(error.as_ref());
    let view = SizesView {
        production,
        fabrics,
        form,
        report,
        chart,
        weights: Weights::SHOWN,
        most_sizes: MOST_SIZES,
        most_understudies: MOST_UNDERSTUDIES,
        others,
        error,
    };
    app.pages.page(&request, &signed.session, status, "sizes.html", &view)
}

async fn as_json(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    form: Query<SizeForm>,
) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(make(&app, *id, form.into_inner()).await?.report?))
}

async fn as_csv(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    form: Query<SizeForm>,
) -> Result<HttpResponse, Problem> {
    let report = make(&app, *id, form.into_inner()).await?.report?;
    let performers = report.map(|report| report.performers).unwrap_or_default();
    let header = [
        "code",
        "size",
        "fits",
        "misfit",
        "worst_side",
        "worst_dimension",
        "worst_percent",
        "glove_there",
        "en_size",
    ];
    let rows = performers
        .into_iter()
        .map(|performer| {
            let worst = performer.worst;
            vec![
                performer.code,
                performer.size,
                if performer.fits { "yes" } else { "no" }.to_owned(),
                performer.misfit.to_string(),
                worst.side.key().to_owned(),
                worst.dimension.key().to_owned(),
                performer.worst_percent.to_string(),
                if worst.strain < 0.0 { "too large" } else { "too small" }.to_owned(),
                performer.en,
            ]
        })
        .collect();
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header(("content-disposition", "attachment; filename=\"sizes.csv\""))
        .body(csv::table(&header, rows)))
}
