//! The few sizes that serve a cast: page, JSON and CSV.

use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, Query, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::hand::Hands;
use analysis::model::Population;
use analysis::sizing::curve::MOST_SIZES;
use analysis::sizing::en;
use analysis::sizing::misfit::{
    LONG_FINGER_MM, LONG_PALM_MM, LOOSE_ROOM, SHORT_FINGER_MM, SHORT_PALM_MM, TIGHT_COST,
    TIGHT_ROOM,
};
use serde::Serialize;
use uuid::Uuid;

use super::dates::today;
use super::{FieldError, form_status, in_form};
use crate::access::guard::Signed;
use crate::access::rights;
use crate::app::App;
use crate::charts::{self, Curve, CurveWords};
use crate::describe::{Api, get};
use crate::draft_options::{DraftForm, Wanted};
use crate::error::{Kind, Problem};
use crate::export::csv;
use crate::export::pdf::Paper;
use crate::measurers;
use crate::person::Person;
use crate::size_form::{MOST_UNDERSTUDIES, SizeForm};
use crate::sizing::SizeOrder;
use crate::sizing::print::{PrintLabels, Printed, print};
use crate::sizing::report::report;
use crate::sizing::rows::{SizeDimension, SizeReport};
use crate::store::exercise;
use crate::store::fabric::{self, Fabric};
use crate::store::production::{self, Production};
use crate::wanted::Base;
use crate::words;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/productions/{id}/sizes", web::get().to(page))
        .route("/productions/{id}/sizes.csv", web::get().to(as_csv))
        .route("/productions/{id}/sizes.pdf", web::get().to(as_pdf))
        .route("/productions/{id}/size-hands.csv", web::get().to(hands_as_csv))
        .route("/api/productions/{id}/sizes", web::get().to(as_json));
}

pub(super) fn describe(api: &mut Api) {
    api.add(
        get::<SizeReport>("/api/productions/{id}/sizes", "Which few sizes serve, and whom.")
            .detail("Null while there is nobody to choose for.")
            .or_null()
            .asks::<SizeForm>(),
    );
}

pub(super) struct Asked {
    pub(super) production: Production,
    pub(super) fabrics: Vec<Fabric>,
    pub(super) people: Vec<Person>,
    pub(super) order: Result<Ordered, Problem>,
}

/// A form that is understood.
pub(super) struct Ordered {
    pub(super) order: SizeOrder,
    /// What the production's choices make of the gloves, or why no size can be drafted so.
    pub(super) wanted: Result<Wanted, Problem>,
}

pub(super) async fn asked(app: &Data<App>, id: Uuid, form: &SizeForm) -> Result<Asked, Problem> {
    let (production, fabrics, people) = app
        .store
        .read(move |c| {
            Ok((production::get(c, id)?, fabric::list(c, id)?, Person::load_all(c, id)?))
        })
        .await?;
    let codes: Vec<&str> = people.iter().map(|person| person.performer.code.as_str()).collect();
    // One ease for every size, from the middle hands of the published adults.
    let middle = app.model().fill(Population::Adults, &Hands::default());
    let order = form.fabric(&fabrics).and_then(|fabric| {
        let facts = fabric.map(|fabric| &fabric.facts);
        let base = Base::of(facts, &middle, Population::Adults);
        let wanted = base.wanted(&DraftForm::kept(&production.choices));
        let options = wanted.as_ref().map_or(base.options, |wanted| wanted.options);
        Ok(Ordered { order: form.order(options, &codes)?, wanted })
    });
    Ok(Asked { production, fabrics, people, order })
}

async fn made(
    app: &Data<App>,
    people: Vec<Person>,
    order: SizeOrder,
) -> Result<Option<SizeReport>, Problem> {
    let model = app.model();
    Ok(web::block(move || report(&model, &people, &order)).await.map_err(|_| Kind::Fault)?)
}

/// The report of a form that is understood.
async fn understood(
    app: &Data<App>,
    id: Uuid,
    form: &SizeForm,
) -> Result<Option<SizeReport>, Problem> {
    let Asked { people, order, .. } = asked(app, id, form).await?;
    made(app, people, order?.order).await
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

/// A size of the European chart, for the page.
#[derive(Serialize)]
struct EuropeanSize {
    address: String,
    name: String,
    girth_mm: f64,
    length_mm: f64,
}

impl EuropeanSize {
    fn of((number, girth_mm, length_mm): (u8, f64, f64)) -> EuropeanSize {
        let (address, name) = (format!("EN-{number}"), format!("EN {number}"));
        EuropeanSize { address, name, girth_mm, length_mm }
    }
}

#[derive(Serialize)]
struct SizesView {
    production: Production,
    fabrics: Vec<Fabric>,
    /// Keys and names of the populations to choose from.
    populations: Vec<(String, String)>,
    /// Names of the populations whose coverage is shown.
    covered: Vec<String>,
    /// Name of the population the sizes are for, where they are for stock.
    stock: Option<String>,
    /// Codes of the performers whose gloves the sizes are, to be kept.
    codes: String,
    form: SizeForm,
    report: Option<SizeReport>,
    chart: String,
    weights: Weights,
    papers: Vec<(String, String)>,
    /// The sizes of the European chart.
    european: Vec<EuropeanSize>,
    most_sizes: usize,
    most_understudies: u64,
    /// Every input as part of an address, and every one but the number of sizes.
    all: String,
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
    let Asked { production, fabrics, people, order } = asked(&app, *id, &form).await?;
    let (report, error) = match order {
        Ok(asked) => (made(&app, people, asked.order).await?, None),
        Err(problem) => (None, Some(in_form(&request, problem)?)),
    };
    let words = app.pages.words.for_request(&request);
    let chart = report.as_ref().map_or_else(String::new, |report| {
        charts::svg(&Curve { points: &report.curve, words: CurveWords::of(words) })
    });
    let named = |population: Population| {
        let key = population.key();
        let name = words::population(words, &key);
        (key, name)
    };
    let covered = report.iter().flat_map(|report| &report.coverage);
    let stock = report.as_ref().filter(|report| report.chosen_for != "cast");
    let drafted_for = report.iter().flat_map(|report| &report.chosen);
    let codes: Vec<&str> = drafted_for.filter_map(|size| size.drafted_for.as_deref()).collect();
    // Empty inputs stay out, so that a link can add its own.
    let address = |form: &SizeForm| {
        let all = serde_urlencoded::to_string(form).unwrap_or_default();
        all.split('&').filter(|pair| !pair.ends_with('=')).collect::<Vec<_>>().join("&")
    };
    let status: StatusCode = form_status(error.as_ref());
    let view = SizesView {
        populations: Population::all().into_iter().map(named).collect(),
        covered: covered.map(|found| words::population(words, &found.population)).collect(),
        stock: stock.map(|report| words::population(words, &report.chosen_for)),
        codes: codes.join(" "),
        all: address(&form),
        others: address(&SizeForm { sizes: String::new(), ..form.clone() }),
        production,
        fabrics,
        form,
        report,
        chart,
        weights: Weights::SHOWN,
        papers: Paper::SHEETS.iter().map(|paper| (paper.key(), paper.name())).collect(),
        european: en::ROWS.into_iter().map(EuropeanSize::of).collect(),
        most_sizes: MOST_SIZES,
        most_understudies: MOST_UNDERSTUDIES,
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
    Ok(HttpResponse::Ok().json(understood(&app, *id, &form).await?))
}

fn csv_file(name: &str, header: &[&str], rows: Vec<Vec<String>>) -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8")
        .insert_header(("content-disposition", format!("attachment; filename=\"{name}\"")))
        .body(csv::table(header, rows))
}

async fn as_csv(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    form: Query<SizeForm>,
) -> Result<HttpResponse, Problem> {
    let report = understood(&app, *id, &form).await?;
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
        "en_by_girth",
        "en_by_length",
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
                performer.en.by_girth,
                performer.en.by_length,
            ]
        })
        .collect();
    Ok(csv_file("sizes.csv", &header, rows))
}

async fn as_pdf(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    form: Query<SizeForm>,
) -> Result<HttpResponse, Problem> {
    let Asked { production, people, order, .. } = asked(&app, *id, &form).await?;
    let (order, model) = (order?.order, app.model());
    let words = app.pages.words.for_request(&request).clone();
    let id = *id;
    let may_plan = rights::may::<rights::Plan>(signed.session.role);
    let blind = app.store.read(move |c| exercise::blind(c, id)).await?;
    let pdf = web::block(move || {
        // Measurers' figures are for whoever plans, as on their page.
        let measurers =
            if may_plan { measurers::report(&model, &people, &blind) } else { Vec::new() };
        let printed = Printed { people: &people, order: &order, measurers: &measurers };
        let (production, date) = (production.name.as_str(), today());
        let labels = PrintLabels { production, date: &date, words: &words };
        print(&model, &printed, &labels, Paper::A4)
    })
    .await
    .map_err(|_| Kind::Fault)?
    .map_err(|error| {
        tracing::error!(%error, "report");
        Kind::Fault
    })?;
    Ok(HttpResponse::Ok()
        .content_type("application/pdf")
        .insert_header(("content-disposition", "inline; filename=\"sizes.pdf\""))
        .body(pdf))
}

/// The hands of the sizes as a roster: imported into a production, each is drafted and cut like a
/// performer's.
async fn hands_as_csv(
    app: Data<App>,
    _signed: Signed<rights::Cut>,
    id: Path<Uuid>,
    form: Query<SizeForm>,
) -> Result<HttpResponse, Problem> {
    let report = understood(&app, *id, &form).await?;
    let chosen = report.map(|report| report.chosen).unwrap_or_default();
    let mut header = vec!["code".to_owned()];
    let column = |one: &SizeDimension| format!("{}_{}_mm", one.side.key(), one.dimension.key());
    if let Some(size) = chosen.first() {
        header.extend(size.hands.iter().map(column));
    }
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let rows = chosen.iter().map(|size| {
        let values = size.hands.iter().map(|one| one.mm.to_string());
        std::iter::once(format!("SIZE {}", size.name)).chain(values).collect()
    });
    Ok(csv_file("size-hands.csv", &header, rows.collect()))
}
