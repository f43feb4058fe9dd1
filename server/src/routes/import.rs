//! Import of a roster from CSV: a preview with errors by line first, stored when confirmed.
//!
//! Nothing waits on the server between the two: the page carries the text of the file, which can
//! be corrected in place and checked again.

use actix_multipart::{Multipart, MultipartError};
use actix_web::http::StatusCode;
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpMessage, HttpRequest, HttpResponse};
use analysis::model::Population;
use analysis::units::Unit;
use futures_util::TryStreamExt;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::ToSchema;
use uuid::Uuid;

use super::FieldError;
use super::productions::see_other;
use crate::access::guard::{self, Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, file_form, post};
use crate::enrol::enrol;
use crate::error::{Kind, Problem};
use crate::import::roster::{self, RosterPreview, RosterRow};
use crate::import::{Outcome, Problem as LineProblem};
use crate::inputs::is_script;
use crate::slow::is_late;
use crate::store::audit::{self, Action};
use crate::store::consent;
use crate::store::production::{self, Production};
use crate::store::session::Session;
use crate::store::{Conn, StoreResult, performer};

/// Largest CSV, bytes (a roster of 2,000 performers with 50 readings each is 600 kB).
pub const CSV_LIMIT: usize = 2 << 20;

/// Largest form, bytes: a CSV of [`CSV_LIMIT`] with every byte percent-encoded. As JSON it is
/// shorter.
const FORM_LIMIT: usize = 3 * CSV_LIMIT + 4096;

/// An upload beyond the limit is read and thrown away up to here, so that the browser shows the
/// answer instead of a broken connection; beyond it the connection is closed.
const READ_AWAY: usize = 256 << 20;

pub fn configure(service: &mut ServiceConfig) {
    let large_form = || web::FormConfig::default().limit(FORM_LIMIT);
    let large_json = || web::JsonConfig::default().limit(FORM_LIMIT);
    service
        .service(
            web::resource("/productions/{id}/import")
                .route(web::get().to(page))
                .route(web::post().to(upload)),
        )
        .service(
            web::resource("/productions/{id}/import/check")
                .app_data(large_form())
                .app_data(large_json())
                .route(web::post().to(check)),
        )
        .service(
            web::resource("/productions/{id}/import/store")
                .app_data(large_form())
                .app_data(large_json())
                .route(web::post().to(store)),
        );
}

pub(super) fn describe(api: &mut Api) {
    api.add(file_form::<Upload>(
        "/productions/{id}/import",
        "Shows on a page what a roster as a CSV file would store.",
    ));
    api.add(post::<CsvForm, Checked>(
        "/productions/{id}/import/check",
        "Tells what a roster would store and what it would leave out.",
    ));
    api.add(post::<CsvForm, Checked>("/productions/{id}/import/store", "Stores a roster.").makes());
}

#[derive(Serialize, ToSchema)]
#[schema(as = RosterRow)]
struct PreviewRow {
    line: u64,
    code: String,
    name: String,
    population: String,
    fabric: String,
    call: String,
    readings: usize,
}

#[derive(Serialize)]
struct ImportView {
    production: Production,
    csv: String,
    rows: Vec<PreviewRow>,
    problems: Vec<LineProblem>,
    readings: usize,
    is_refused: bool,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Plan>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let production = app.store.read(move |c| production::get(c, *id)).await?;
    let view = view(production, String::new(), RosterPreview::default());
    app.pages.page(&request, &signed.session, StatusCode::OK, "import.html", &view)
}

/// What a script is told of a roster: what is taken, and what is left out and why.
#[derive(Serialize, ToSchema)]
#[schema(as = RosterChecked)]
struct Checked {
    /// Performers taken.
    rows: Vec<PreviewRow>,
    /// Readings taken.
    readings: usize,
    /// What is left out.
    problems: Vec<LeftOut>,
    /// Whether nothing of the file can be used.
    is_refused: bool,
}

/// Something of a roster that is left out.
#[derive(Serialize, ToSchema)]
struct LeftOut {
    /// Line of the file, from 1.
    line: u64,
    /// Header of the column, where one is concerned.
    column: Option<String>,
    /// Stable code.
    code: &'static str,
    /// What is wrong and what to do.
    message: String,
    /// How much it costs.
    outcome: Outcome,
}

impl Checked {
    /// Of a preview, in the words `w` of a language.
    fn of(view: ImportView, w: &Value) -> Checked {
        let left_out = |problem: LineProblem| LeftOut {
            message: problem.message(w),
            line: problem.line,
            column: problem.column,
            code: problem.code,
            outcome: problem.outcome,
        };
        Checked {
            rows: view.rows,
            readings: view.readings,
            problems: view.problems.into_iter().map(left_out).collect(),
            is_refused: view.is_refused,
        }
    }
}

fn view(production: Production, csv: String, preview: RosterPreview) -> ImportView {
    let is_refused = preview.problems.iter().any(|problem| problem.outcome == Outcome::FileRefused);
    ImportView {
        production,
        csv,
        readings: preview.rows.iter().map(|row| row.readings.len()).sum(),
        rows: preview.rows.into_iter().map(preview_row).collect(),
        problems: preview.problems,
        is_refused,
        error: None,
    }
}

fn preview_row(row: RosterRow) -> PreviewRow {
    PreviewRow {
        line: row.line,
        population: row.population.unwrap_or(Population::Adults).key(),
        readings: row.readings.len(),
        code: row.code,
        name: row.name,
        fabric: row.fabric,
        call: row.call,
    }
}

/// The form of a page with a file.
#[derive(ToSchema)]
#[expect(dead_code, reason = "described alone: its parts are read one after the other")]
struct Upload {
    /// The session's form token.
    csrf: String,
    /// The roster.
    #[schema(value_type = String, format = Binary)]
    file: Vec<u8>,
}

/// Reads an upload: its form token and its file.
async fn upload(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Plan>,
    id: Path<Uuid>,
    mut parts: Multipart,
) -> Result<HttpResponse, Problem> {
    if !request.content_type().starts_with("multipart/") {
        return Err(Kind::WrongType.into());
    }
    let unreadable = |error: MultipartError| match error {
        MultipartError::Payload(error) if is_late(&error) => Problem::from(Kind::TooSlow),
        error => Kind::Unreadable(error.to_string()).into(),
    };
    let (mut token, mut file) = (Vec::new(), Vec::new());
    let mut taken = 0_usize;
    while let Some(mut part) = parts.try_next().await.map_err(unreadable)? {
        let is_token = part.name() == Some("csrf");
        while let Some(chunk) = part.try_next().await.map_err(unreadable)? {
            taken = taken.saturating_add(chunk.len());
            if taken > READ_AWAY {
                return Err(Kind::TooLarge(CSV_LIMIT).into());
            }
            let (kept, limit) = if is_token { (&mut token, 200) } else { (&mut file, CSV_LIMIT) };
            if kept.len() <= limit {
                kept.extend_from_slice(&chunk);
            }
        }
    }
    guard::check_token(&signed.session, &String::from_utf8_lossy(&token))?;
    if file.len() > CSV_LIMIT {
        return Err(Kind::TooLarge(CSV_LIMIT).into());
    }
    show_preview(&request, &app, &signed.session, *id, file).await
}

async fn show_preview(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    file: Vec<u8>,
) -> Result<HttpResponse, Problem> {
    let view = app
        .store
        .read(move |c| {
            let production = production::get(c, id)?;
            let mut preview = roster::read(&file, Unit::Mm);
            refuse_taken(c, id, &mut preview)?;
            refuse_without_consent(&mut preview);
            Ok(view(production, String::from_utf8_lossy(&file).into_owned(), preview))
        })
        .await?;
    if is_script(request) {
        let w = app.pages.words.for_request(request);
        return Ok(HttpResponse::Ok().json(Checked::of(view, w)));
    }
    let status = if view.is_refused { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    app.pages.page(request, session, status, "import.html", &view)
}

/// Leaves out performers whose code the production has already.
fn refuse_taken(c: &Conn, id: Uuid, preview: &mut RosterPreview) -> StoreResult<()> {
    let taken: Vec<String> = performer::list(c, id)?
        .into_iter()
        .map(|performer| performer.code.to_lowercase())
        .collect();
    let (known, new): (Vec<_>, Vec<_>) = std::mem::take(&mut preview.rows)
        .into_iter()
        .partition(|row| taken.contains(&row.code.to_lowercase()));
    preview.rows = new;
    preview.problems.extend(known.into_iter().map(|row| LineProblem {
        line: row.line,
        column: None,
        code: "performer_code_taken",
        words: "on_the_roster",
        outcome: Outcome::LineLeftOut,
        figures: json!({ "code": row.code }),
    }));
    Ok(())
}

/// Leaves out readings of minors whose line does not say how their guardian agreed.
fn refuse_without_consent(preview: &mut RosterPreview) {
    for row in &mut preview.rows {
        let is_minor = row.population.is_some_and(consent::is_minor);
        if is_minor && row.consent.is_none() && !row.readings.is_empty() {
            row.readings.clear();
            preview.problems.push(LineProblem {
                line: row.line,
                column: None,
                code: "consent_missing",
                outcome: Outcome::CellLeftOut,
                words: "consent_not_in_the_file",
                figures: json!({}),
            });
        }
    }
}

#[derive(Deserialize, ToSchema)]
#[schema(as = RosterForm)]
struct CsvForm {
    #[serde(default)]
    csv: String,
}

async fn check(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, CsvForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    show_preview(&request, &app, &session, *id, form.csv.into_bytes()).await
}

async fn store(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, CsvForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let who = session.name.clone();
    let csv = form.csv.clone();
    let (production, stored) = app
        .store
        .write(move |c| {
            let production = production::get(c, id)?;
            let mut preview = roster::read(csv.as_bytes(), Unit::Mm);
            refuse_taken(c, id, &mut preview)?;
            refuse_without_consent(&mut preview);
            enrol(c, id, &preview.rows, &who)?;
            audit::add(c, &who, Action::RosterImported, Some(id))?;
            Ok((production, preview))
        })
        .await?;
    let is_nothing = stored.rows.is_empty();
    if is_script(&request) {
        if is_nothing {
            return Err(Problem::at("csv", "import_nothing"));
        }
        let w = app.pages.words.for_request(&request);
        let checked = Checked::of(view(production, String::new(), stored), w);
        return Ok(HttpResponse::Created().json(checked));
    }
    if is_nothing {
        return show_preview(&request, &app, &session, id, form.csv.into_bytes()).await;
    }
    Ok(see_other(&format!("/productions/{id}#roster")))
}
