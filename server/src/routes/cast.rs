//! The cast described: page, JSON and two CSV.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::Basis;
use analysis::sizing::curve::MOST_SIZES;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::IntoParams;
use uuid::Uuid;

use super::{FieldError, form_status, in_form};
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::charts::{self, Histogram, HistogramWords, ScatterChart};
use crate::describe::{Api, get};
use crate::error::{Kind, Problem};
use crate::export::csv;
use crate::person::Person;
use crate::size_form::{unknown, whole};
use crate::sizing::SizeOrder;
use crate::sizing::cast::{self, CastOrder, CastReport, axis, entries};
use crate::store::production::{self, Production};
use crate::words;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/productions/{id}/cast", web::get().to(page))
        .route("/productions/{id}/cast.csv", web::get().to(figures_as_csv))
        .route("/productions/{id}/hands.csv", web::get().to(hands_as_csv))
        .route("/api/productions/{id}/cast", web::get().to(as_json));
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        get::<CastReport>(
            "/api/productions/{id}/cast",
            "The cast described; null while nobody is measured.",
        )
        .or_null()
        .asks::<CastForm>(),
    );
}

/// What is asked; an empty input means the default.
#[derive(Debug, Clone, Default, Deserialize, Serialize, IntoParams)]
#[serde(default)]
struct CastForm {
    /// Which hand is drawn.
    side: String,
    /// Key of the dimension drawn as a histogram.
    dimension: String,
    /// Key of the dimension drawn along.
    along: String,
    /// Key of the dimension drawn up.
    up: String,
    /// How many sizes have their boxes drawn.
    sizes: String,
}

impl CastForm {
    /// The form as it shows this order.
    fn of(order: &CastOrder, sizes: &str) -> CastForm {
        CastForm {
            side: order.side.key().to_owned(),
            dimension: order.dimension.key().to_owned(),
            along: order.pair[0].key().to_owned(),
            up: order.pair[1].key().to_owned(),
            sizes: sizes.to_owned(),
        }
    }

    fn understood(&self) -> Result<CastOrder, Problem> {
        let standard = CastOrder::default();
        let dimension = |field: &str, key: &str, standard: Dimension| match key {
            "" => Ok(standard),
            key => Dimension::from_key(key).ok_or_else(|| unknown(field)),
        };
        let side = match self.side.as_str() {
            "" => standard.side,
            key => Side::from_key(key).ok_or_else(|| unknown("side"))?,
        };
        let [along, up] = standard.pair;
        let sizes = whole("sizes", &self.sizes, 1, MOST_SIZES as u64)?;
        Ok(CastOrder {
            side,
            dimension: dimension("dimension", &self.dimension, standard.dimension)?,
            pair: [dimension("along", &self.along, along)?, dimension("up", &self.up, up)?],
            sizes: SizeOrder {
                sizes: sizes.and_then(|sizes| usize::try_from(sizes).ok()),
                ..SizeOrder::default()
            },
        })
    }
}

async fn read(app: &Data<App>, id: Uuid) -> Result<(Production, Vec<Person>), Problem> {
    let people = app.store.read(move |c| Ok((production::get(c, id)?, Person::load_all(c, id)?)));
    Ok(people.await?)
}

async fn make(
    app: &Data<App>,
    people: Vec<Person>,
    order: CastOrder,
) -> Result<Option<CastReport>, Problem> {
    let model = app.model();
    Ok(web::block(move || cast::describe(&model, &people, &order))
        .await
        .map_err(|_| Kind::Fault)?)
}

#[derive(Serialize)]
struct CastView {
    production: Production,
    form: CastForm,
    /// Keys of the dimensions in measuring order.
    dimensions: Vec<&'static str>,
    report: Option<CastReport>,
    /// Names of the populations the cast is compared with, and how many performers each.
    populations: Vec<(String, usize)>,
    /// Names of the ellipses.
    ellipses: Vec<String>,
    histogram: String,
    scatter: String,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    form: Query<CastForm>,
) -> Result<HttpResponse, Problem> {
    let mut form = form.into_inner();
    let (production, people) = read(&app, *id).await?;
    let (report, error) = match form.understood() {
        Ok(order) => {
            form = CastForm::of(&order, form.sizes.trim());
            (make(&app, people, order).await?, None)
        }
        Err(problem) => (None, Some(in_form(&request, problem)?)),
    };
    let words = app.pages.words.for_request(&request);
    let populations = report.iter().flat_map(|report| &report.populations);
    let populations = populations
        .map(|counted| (words::population(words, &counted.population), counted.performers))
        .collect();
    let ellipses: Vec<String> = report
        .iter()
        .flat_map(|report| &report.pair.ellipses)
        .map(|ellipse| words::population(words, &ellipse.population))
        .collect();
    let drawn = report.as_ref().map(|report| draw(report, words, &ellipses));
    let (histogram, scatter) = drawn.unwrap_or_default();
    let status: StatusCode = form_status(error.as_ref());
    let view = CastView {
        production,
        form,
        dimensions: Dimension::ALL.map(Dimension::key).to_vec(),
        report,
        populations,
        ellipses,
        histogram,
        scatter,
        error,
    };
    app.pages.page(&request, &signed.session, status, "cast.html", &view)
}

fn draw(report: &CastReport, words: &Value, ellipses: &[String]) -> (String, String) {
    let histogram = Histogram {
        bins: &report.shown.bins,
        words: HistogramWords {
            along: &axis(words, report.shown.dimension),
            up: words["cast"]["performers"].as_str().unwrap_or_default(),
        },
    };
    let scatter = ScatterChart {
        pair: &report.pair,
        names: ellipses,
        along: &axis(words, report.pair.along),
        up: &axis(words, report.pair.up),
    };
    (charts::svg(&histogram), charts::svg(&scatter))
}

async fn as_json(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    form: Query<CastForm>,
) -> Result<HttpResponse, Problem> {
    let (_, people) = read(&app, *id).await?;
    let order = form.understood()?;
    Ok(HttpResponse::Ok().json(make(&app, people, order).await?))
}

fn csv_file(name: &str, header: &[&str], rows: Vec<Vec<String>>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header(("content-disposition", format!("attachment; filename=\"{name}\"")))
        .body(csv::table(header, rows))
}

fn or_nothing(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

async fn figures_as_csv(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (_, people) = read(&app, *id).await?;
    let report = make(&app, people, CastOrder::default()).await?;
    let rows = report.map(|report| report.rows).unwrap_or_default();
    let header = [
        "side",
        "dimension",
        "measured",
        "estimated",
        "mean_mm",
        "sd_mm",
        "min_mm",
        "p5_mm",
        "p25_mm",
        "median_mm",
        "p75_mm",
        "p95_mm",
        "max_mm",
        "median_percentile",
        "ks_distance",
        "ks_p",
    ];
    let rows = rows.into_iter().map(|row| {
        let of = |pick: fn(&analysis::sizing::describe::Spread) -> f64| {
            or_nothing(row.figures.as_ref().map(pick))
        };
        vec![
            row.side.key().to_owned(),
            row.dimension.key().to_owned(),
            row.measured.to_string(),
            row.estimated.to_string(),
            of(|f| f.mean),
            or_nothing(row.figures.and_then(|figures| figures.sd)),
            of(|f| f.min),
            of(|f| f.p5),
            of(|f| f.p25),
            of(|f| f.p50),
            of(|f| f.p75),
            of(|f| f.p95),
            of(|f| f.max),
            or_nothing(row.percentile),
            or_nothing(row.distance),
            or_nothing(row.p),
        ]
    });
    Ok(csv_file("cast.csv", &header, rows.collect()))
}

async fn hands_as_csv(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let (_, people) = read(&app, *id).await?;
    let model = app.model();
    let entries = web::block(move || entries(&model, &people)).await.map_err(|_| Kind::Fault)?;
    let header = ["code", "population", "side", "dimension", "mm", "basis", "percentile"];
    let rows = entries.into_iter().map(|entry| {
        let basis = if entry.value.basis == Basis::Measured { "measured" } else { "estimated" };
        vec![
            entry.code,
            entry.population,
            entry.side.key().to_owned(),
            entry.dimension.key().to_owned(),
            format!("{:.1}", entry.value.mm),
            basis.to_owned(),
            format!("{:.1}", entry.value.percentile),
        ]
    });
    Ok(csv_file("hands.csv", &header, rows.collect()))
}
