//! How long data are kept: a production's last day, its export and erasure; and the page of the
//! administrator: backups, words of consent, the audit trail.

use std::time::Duration;

use actix_web::web::{self, Data, Path, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::dates::moment;
use super::productions::see_other;
use super::{FieldError, form_status, in_form};
use crate::access::guard::{Posted, Signed};
use crate::access::rights;
use crate::app::App;
use crate::describe::{Api, post};
use crate::done::{self, Done};
use crate::error::{Kind, Problem};
use crate::facts::consent_words;
use crate::inputs::is_script;
use crate::job;
use crate::store::audit::{self, Action};
use crate::store::production::{self, Production};
use crate::store::session::Session;
use crate::store::{consent, now_ms, subject};

/// How long erasing waits for a batch at work to end.
const PATIENCE: Duration = Duration::from_secs(60);

/// Entries of the audit trail on the page.
const ENTRIES: usize = 100;

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/keeping", web::get().to(page))
        .route("/keeping/consent", web::post().to(set_words))
        .service(
            web::resource("/productions/{id}/keeping")
                .route(web::get().to(production_page))
                .route(web::post().to(keep)),
        )
        .route("/productions/{id}/export.json", web::get().to(export))
        .route("/productions/{id}/erase", web::post().to(erase));
}

pub(super) fn describe(api: &mut Api) {
    api.add(post::<WordsForm, Done>("/keeping/consent", "Sets the words of consent."));
    api.add(post::<KeepForm, Done>(
        "/productions/{id}/keeping",
        "Sets the day until which a production is kept.",
    ));
    api.add(post::<EraseForm, Done>(
        "/productions/{id}/erase",
        "Erases a production with everybody in it; its name confirms it.",
    ));
}

#[derive(Serialize)]
struct BackupRow {
    name: String,
    made: String,
    gone: String,
    megabytes: f64,
}

#[derive(Serialize)]
struct BackupsView {
    folder: String,
    hours: f64,
    kept: usize,
    rows: Vec<BackupRow>,
    failure: Option<String>,
}

#[derive(Serialize)]
struct EntryRow {
    at: String,
    actor: String,
    action: String,
    /// In English, for a language that lacks the action.
    words: &'static str,
    object: String,
}

#[derive(Serialize)]
struct KeepingView {
    backups: Option<BackupsView>,
    erased: subject::Erased,
    words: String,
    is_saved: bool,
    entries: Vec<EntryRow>,
    error: Option<FieldError>,
}

async fn page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Administer>,
) -> Result<HttpResponse, Problem> {
    show(&request, &app, &signed.session, None, false, None).await
}

async fn show(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    typed: Option<String>,
    is_saved: bool,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let status = form_status(error.as_ref());
    let backups = backups_view(app);
    let view = app
        .store
        .read(move |c| {
            let entries = audit::list(c)?.into_iter().take(ENTRIES).map(|entry| EntryRow {
                at: moment(entry.at_ms),
                actor: entry.actor,
                words: Action::words_of(&entry.action),
                action: entry.action,
                object: entry.object,
            });
            let words = match typed {
                Some(words) => words,
                None => consent::words(c)?.unwrap_or_default(),
            };
            let erased = subject::erased(c)?;
            let entries = entries.collect();
            Ok(KeepingView { backups, erased, words, is_saved, entries, error })
        })
        .await?;
    app.pages.page(request, session, status, "keeping.html", &view)
}

fn backups_view(app: &App) -> Option<BackupsView> {
    let backups = app.backups.as_ref()?;
    let schedule = backups.schedule();
    let listed = backups.list();
    let failure = listed.as_ref().err().map(ToString::to_string).or(backups.failure());
    let row = |kept: crate::backups::Kept| BackupRow {
        made: moment(kept.made_ms),
        gone: moment(backups.gone_ms(kept.made_ms)),
        megabytes: (kept.bytes as f64 / 1e5).round() / 10.0,
        name: kept.name,
    };
    Some(BackupsView {
        folder: schedule.folder.display().to_string(),
        hours: (schedule.every.as_secs_f64() / 36.0).round() / 100.0,
        kept: schedule.kept,
        rows: listed.unwrap_or_default().into_iter().map(row).collect(),
        failure,
    })
}

#[derive(Deserialize, ToSchema)]
#[schema(as = ConsentWordsForm)]
struct WordsForm {
    #[serde(default)]
    words: String,
}

async fn set_words(
    request: HttpRequest,
    app: Data<App>,
    posted: Posted<rights::Administer, WordsForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    match consent_words(&form.words.replace("\r\n", "\n")) {
        Ok(words) => {
            let who = session.name.clone();
            app.store
                .write(move |c| {
                    consent::set_words(c, &words, &who)?;
                    audit::add(c, &who, Action::ConsentWordsSet, None)
                })
                .await?;
            if is_script(&request) {
                return Ok(done::at("/keeping"));
            }
            show(&request, &app, &session, None, true, None).await
        }
        Err(problem) => {
            let error = Some(in_form(&request, problem)?);
            show(&request, &app, &session, Some(form.words), false, error).await
        }
    }
}

#[derive(Serialize)]
struct ProductionView {
    production: Production,
    until: String,
    is_saved: bool,
    /// About when the last backup that holds what is erased now is gone, if there are backups.
    backups_gone: Option<String>,
    error: Option<FieldError>,
}

async fn production_page(
    request: HttpRequest,
    app: Data<App>,
    signed: Signed<rights::Plan>,
    id: Path<Uuid>,
) -> Result<HttpResponse, Problem> {
    show_production(&request, &app, &signed.session, *id, None, false, None).await
}

async fn show_production(
    request: &HttpRequest,
    app: &Data<App>,
    session: &Session,
    id: Uuid,
    typed: Option<String>,
    is_saved: bool,
    error: Option<FieldError>,
) -> Result<HttpResponse, Problem> {
    let status = form_status(error.as_ref());
    let production = app.store.read(move |c| production::get(c, id)).await?;
    let until = typed.or(production.keep_until.clone()).unwrap_or_default();
    let backups_gone = backups_gone(app);
    let view = ProductionView { production, until, is_saved, backups_gone, error };
    app.pages.page(request, session, status, "production_keeping.html", &view)
}

/// About when the last backup that holds what is erased now is gone.
pub(super) fn backups_gone(app: &App) -> Option<String> {
    let backups = app.backups.as_ref()?;
    Some(moment(backups.gone_ms(now_ms())))
}

#[derive(Deserialize, ToSchema)]
#[schema(as = KeepUntilForm)]
struct KeepForm {
    #[serde(default)]
    until: String,
}

async fn keep(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Plan, KeepForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let (id, who, until) = (*id, session.name.clone(), form.until.clone());
    let kept = app.store.write(move |c| {
        production::keep_until(c, id, until.trim())?;
        audit::add(c, &who, Action::KeepingSet, Some(id))
    });
    match kept.await.map_err(Problem::from) {
        Ok(()) if is_script(&request) => Ok(done::at(&format!("/productions/{id}/keeping"))),
        Ok(()) => show_production(&request, &app, &session, id, None, true, None).await,
        Err(problem) => {
            let error = Some(in_form(&request, problem)?);
            show_production(&request, &app, &session, id, Some(form.until), false, error).await
        }
    }
}

async fn export(
    app: Data<App>,
    id: Path<Uuid>,
    signed: Signed<rights::Administer>,
) -> Result<HttpResponse, Problem> {
    let (id, who) = (*id, signed.session.name);
    let everything = app.store.read(move |c| subject::of_production(c, id)).await?;
    app.store.write(move |c| audit::add(c, &who, Action::ProductionExported, Some(id))).await?;
    let name = format!("attachment; filename=\"production-{id}.json\"");
    Ok(HttpResponse::Ok().insert_header(("content-disposition", name)).json(everything))
}

#[derive(Deserialize, ToSchema)]
#[schema(as = EraseProductionForm)]
struct EraseForm {
    #[serde(default)]
    name: String,
}

async fn erase(
    request: HttpRequest,
    app: Data<App>,
    id: Path<Uuid>,
    posted: Posted<rights::Administer, EraseForm>,
) -> Result<HttpResponse, Problem> {
    let Posted { session, form, .. } = posted;
    let id = *id;
    let production = app.store.read(move |c| production::get(c, id)).await?;
    if form.name.trim() != production.name {
        let error = in_form(&request, Problem::at("name", "name_differs"))?;
        return show_production(&request, &app, &session, id, None, false, Some(error)).await;
    }
    let who = session.name.clone();
    let batches = app
        .store
        .write(move |c| {
            let batches = subject::erase_production(c, id)?;
            audit::add(c, &who, Action::ProductionErased, Some(id))?;
            Ok(batches)
        })
        .await?;
    forget(&app, batches).await?;
    Ok(see_other("/"))
}

/// Removes the files of batches whose rows are gone, and every trace of the rows.
///
/// # Errors
/// Our own fault when a file cannot be removed; the log names it.
pub(super) async fn forget(app: &Data<App>, batches: Vec<Uuid>) -> Result<(), Problem> {
    let mut is_clean = true;
    for batch in batches {
        // A batch or lay that runs just now holds their drafts as well, and writes until it has ended.
        let has_ended = app.jobs.stop(batch, PATIENCE).await;
        let config = app.config.clone();
        let removed = web::block(move || job::remove_files(&config, batch)).await;
        if !has_ended || !matches!(removed, Ok(Ok(()))) {
            tracing::error!(%batch, has_ended, ?removed, "files of a batch not removed");
            is_clean = false;
        }
    }
    let store = app.store.clone();
    web::block(move || store.forget()).await.map_err(|_| Kind::Fault)??;
    if is_clean { Ok(()) } else { Err(Kind::Fault.into()) }
}
