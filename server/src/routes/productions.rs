//! Productions, and the roster board of one.

use actix_web::http::{StatusCode, header};
use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::Population;
use analysis::reference::children::{OLDEST, YOUNGEST};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::calls::TogetherForm;
use super::{FieldError, form_status, in_form, line};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::calls::{self, LONGEST_CALL};
use crate::describe::{Api, get, post};
use crate::done::{Done, made};
use crate::error::Problem;
use crate::person::{MeasureAgain, Person};
use crate::store::audit::{self, Action};
use crate::store::fabric::{self, Fabric};
use crate::store::performer::{self, NewPerformer};
use crate::store::production::{self, Production};
use crate::store::session::Session;

/// Longest name of anything, characters.
pub(super) const LONGEST_NAME: usize = 80;

/// Longest performer code, characters: it must fit on every piece.
pub const LONGEST_CODE: usize = 20;

pub fn configure(service: &mut ServiceConfig) {
    service
        .service(
            web::resource("/")
                .route(web::get().to(list_page))
                .route(web::post().to(add_production)),
        )
        .route("/productions/{id}", web::get().to(board_page))
        .route("/productions/{id}/performers", web::post().to(add_performer))
        .route("/api/productions", web::get().to(list))
        .route("/api/productions/{id}/board", web::get().to(board));
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<ProductionForm, Done>("/", "Adds a production.").makes());
    api.add(
        post::<PerformerForm, Done>("/productions/{id}/performers", "Adds a performer.").makes(),
    );
    api.add(get::<Production>("/api/productions", "Every production.").many());
    api.add(get::<Board>(
        "/api/productions/{id}/board",
        "Who is done, who is flagged, who is missing.",
    ));
}

#[derive(Serialize)]
struct ListView {
    productions: Vec<Production>,
    name: String,
    error: Option<FieldError>,
}

async fn list_page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::See>,
) -> Result<HttpResponse, Problem> {
    let productions = app.store.read(production::list).await?;
    let view = ListView { productions, name: String::new(), error: None };
    app.pages.page(&request, &signed.session, StatusCode::OK, "productions.html", &view)
}

async fn list(app: Data<App>, _signed: Signed<rights::See>) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(app.store.read(production::list).await?))
}

#[derive(Deserialize, ToSchema)]
struct ProductionForm {
    #[serde(default)]
    #[schema(min_length = 1, max_length = 80)]
    name: String,
}

async fn add_production(
    request: HttpRequest,
    app: Data<App>,
    posted: Posted<rights::Plan, ProductionForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let added = match line("name", &form.name, LONGEST_NAME, true) {
        Ok(name) => {
            let who = session.name.clone();
            app.store
                .write(move |c| {
                    let id = production::add(c, &name)?;
                    audit::add(c, &who, Action::ProductionAdded, Some(id))?;
                    Ok(id)
                })
                .await
                .map_err(Problem::from)
        }
        Err(problem) => Err(problem),
    };
    match added {
        Ok(id) => Ok(made(&format!("/productions/{id}"), id)),
        Err(problem) => {
            let error = in_form(&request, problem)?;
            let productions = app.store.read(production::list).await?;
            let status = form_status(Some(&error));
            let view = ListView { productions, name: form.name, error: Some(error) };
            app.pages.page(&request, &session, status, "productions.html", &view)
        }
    }
}

pub(super) fn see_other(to: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((header::LOCATION, to.to_owned())).finish()
}

/// One line of the roster board.
#[derive(Debug, Serialize, ToSchema)]
struct BoardRow {
    id: Uuid,
    code: String,
    name: String,
    call: String,
    fabric: Option<String>,
    left: usize,
    right: usize,
    estimated: usize,
    flags: usize,
    /// `untouched`, `begun`, `flagged` or `complete`.
    state: &'static str,
    /// Where they are to be measured again, with what.
    measure_again: Option<MeasureAgain>,
    /// Still to be measured, and nobody is at it: the first of these is next in the call order.
    is_due: bool,
    /// Who measures them just now.
    measurer: Option<String>,
}

#[derive(Debug, Serialize, ToSchema)]
struct Board {
    rows: Vec<BoardRow>,
    performers: usize,
    complete: usize,
    flagged: usize,
    untouched: usize,
    measure_again: usize,
}

async fn read_board(app: &Data<App>, id: Uuid, session: &Session) -> Result<Board, Problem> {
    let model = app.model();
    let sees_names = rights::sees_names(session.role);
    let mut rows = app
        .store
        .read(move |c| {
            let fabrics = fabric::list(c, id)?;
            let people = Person::load_all(c, id)?;
            Ok(people
                .into_iter()
                .map(|person| row(person, &fabrics, &model, sees_names))
                .collect::<Vec<_>>())
        })
        .await?;
    for row in &mut rows {
        row.measurer = app.live.measurer(row.id);
        let is_short = matches!(row.state, "untouched" | "begun");
        row.is_due = row.measurer.is_none() && (is_short || row.measure_again.is_some());
    }
    let count = |state: &str| rows.iter().filter(|row| row.state == state).count();
    Ok(Board {
        performers: rows.len(),
        complete: count("complete"),
        flagged: count("flagged"),
        untouched: count("untouched"),
        measure_again: rows.iter().filter(|row| row.measure_again.is_some()).count(),
        rows,
    })
}

fn row(
    person: Person,
    fabrics: &[Fabric],
    model: &analysis::model::HandModel,
    sees_names: bool,
) -> BoardRow {
    let assessed = person.assess(model);
    let measured = |side| assessed.hands.side(side).values().flatten().count();
    let (left, right) = (measured(Side::Left), measured(Side::Right));
    let flags = assessed.open_flags().count();
    let measure_again = person.measure_again(model, &assessed);
    let state = if flags > 0 {
        "flagged"
    } else if left + right == 0 {
        "untouched"
    } else if person.is_settled(&assessed.hands) {
        "complete"
    } else {
        "begun"
    };
    let performer = person.performer;
    BoardRow {
        id: performer.id,
        code: performer.code,
        name: if sees_names { performer.name } else { String::new() },
        fabric: fabrics.iter().find(|f| Some(f.id) == performer.fabric).map(|f| f.name.clone()),
        left,
        right,
        estimated: 2 * Dimension::COUNT - left - right,
        flags,
        state,
        call: performer.call,
        measure_again,
        is_due: false,
        measurer: None,
    }
}

#[derive(Debug, Default, Deserialize, Serialize, ToSchema)]
pub(super) struct PerformerForm {
    #[serde(default)]
    #[schema(min_length = 1, max_length = 20)]
    code: String,
    #[serde(default)]
    name: String,
    #[serde(default)]
    #[schema(pattern = "^(women|men|adults|girl|boy|child)$")]
    population: String,
    #[serde(default)]
    age: String,
    #[serde(default)]
    fabric: String,
    #[serde(default)]
    call: String,
    #[serde(default)]
    note: String,
}

/// What was typed into the forms of the board.
#[derive(Debug, Default, Serialize)]
pub(super) struct BoardForms {
    pub(super) form: PerformerForm,
    pub(super) together: TogetherForm,
}

#[derive(Serialize)]
struct BoardView {
    production: Production,
    board: Board,
    fabrics: Vec<Fabric>,
    /// Every call of the roster.
    calls: Vec<String>,
    #[serde(flatten)]
    forms: BoardForms,
    error: Option<FieldError>,
    dimensions: usize,
}

async fn board_page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::See>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show_board(&request, &app, &signed.session, *id, BoardForms::default(), None).await
}

pub(super) async fn show_board(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    forms: BoardForms,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let (production, fabrics) =
        app.store.read(move |c| Ok((production::get(c, id)?, fabric::list(c, id)?))).await?;
    let board = read_board(app, id, session).await?;
    let status = form_status(error.as_ref());
    let dimensions = Dimension::COUNT;
    let calls = calls::distinct(board.rows.iter().map(|row| row.call.as_str()));
    let view = BoardView { production, board, fabrics, calls, forms, error, dimensions };
    app.pages.page(request, session, status, "production.html", &view)
}

async fn board(
    app: Data<App>,
    signed: Signed<rights::See>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    let id = *id;
    app.store.read(move |c| production::get(c, id)).await?;
    Ok(HttpResponse::Ok().json(read_board(&app, id, &signed.session).await?))
}

async fn add_performer(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, PerformerForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let added = match understand(&form) {
        Ok(new) => {
            let who = session.name.clone();
            app.store
                .write(move |c| {
                    production::get(c, id)?;
                    let performer = performer::add(c, id, &new)?;
                    audit::add(c, &who, Action::PerformerAdded, Some(performer))?;
                    Ok(performer)
                })
                .await
                .map_err(Problem::from)
        }
        Err(problem) => Err(problem),
    };
    match added {
        Ok(performer) => {
            app.live.tell(id);
            Ok(made(&format!("/productions/{id}#roster"), performer))
        }
        Err(problem) => {
            let error = in_form(&request, problem)?;
            show_board(
                &request,
                &app,
                &session,
                id,
                BoardForms { form, ..BoardForms::default() },
                Some(error),
            )
            .await
        }
    }
}

fn understand(form: &PerformerForm) -> Result<NewPerformer, Problem> {
    let fabric = match form.fabric.as_str() {
        "" => None,
        id => Some(Uuid::try_parse(id).map_err(|_| Problem::at("fabric", "not_on_the_list"))?),
    };
    Ok(NewPerformer {
        code: line("code", &form.code, LONGEST_CODE, true)?,
        name: line("name", &form.name, LONGEST_NAME, false)?,
        population: population_of(&form.population, &form.age)?,
        fabric,
        call: line("call", &form.call, LONGEST_CALL, false)?,
        note: line("note", &form.note, 300, false)?,
    })
}

/// The published people chosen; children by their age in completed years, which is all that is asked.
fn population_of(chosen: &str, age: &str) -> Result<Population, Problem> {
    let is_child = matches!(chosen, "girl" | "boy" | "child");
    let key = if is_child { format!("{chosen}_{}", age.trim()) } else { chosen.to_owned() };
    Population::from_key(&key).ok_or_else(|| match is_child {
        true => Problem::at("age", "age_unknown").with("least", YOUNGEST).with("most", OLDEST),
        false => Problem::at("population", "not_on_the_list"),
    })
}
