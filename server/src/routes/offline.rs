//! What a phone keeps to work without signal: the service worker and the shells of three pages.
//! The shells hold no data of anybody.

use actix_web::http::header;
use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::assets::Files;
use super::{fittings, measure, model};
use crate::app::App;
use crate::error::{Kind, Problem};

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/sw.js", web::get().to(worker))
        .route("/shell/measure", web::get().to(measure_shell))
        .route("/shell/fitting", web::get().to(fitting_shell))
        .route("/shell/roster", web::get().to(roster_shell));
}

/// The service worker with the list of files it keeps, the model among them. Its version is the hash
/// of all of them, so that any change of a file makes a new one.
async fn worker(request: HttpRequest, app: Data<App>) -> Result<HttpResponse, Problem> {
    let source = Files::get("sw.js").ok_or(Kind::NotFound)?;
    let mut hash = Sha256::new();
    let mut files = Vec::new();
    for name in Files::iter() {
        if let Some(file) = Files::get(&name) {
            hash.update(file.metadata.sha256_hash());
            let is_kept =
                &*name != "sw.js" && !name.ends_with(".png") && !super::bundle::holds(&name);
            if is_kept {
                files.push(format!("/static/{name}"));
            }
        }
    }
    files.push(format!("/static/{}", super::bundle::NAME));
    files.push("/api/model".to_owned());
    hash.update(model::version(&app)?);
    hash.update(measure::shell(&app, &request).await?);
    hash.update(fittings::shell(&app, &request)?);
    let version: String = hash.finalize().iter().take(8).map(|b| format!("{b:02x}")).collect();
    let files = serde_json::to_string(&files).map_err(|_| Kind::Fault)?;
    let text = String::from_utf8_lossy(&source.data)
        .replace("{{version}}", &version)
        .replace("{{files}}", &files);
    Ok(HttpResponse::Ok()
        .content_type("text/javascript; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "no-cache"))
        .body(text))
}

async fn measure_shell(request: HttpRequest, app: Data<App>) -> Result<HttpResponse, Problem> {
    let html = measure::shell(&app, &request).await?;
    Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(html))
}

async fn fitting_shell(request: HttpRequest, app: Data<App>) -> Result<HttpResponse, Problem> {
    let html = fittings::shell(&app, &request)?;
    Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(html))
}

#[derive(Serialize)]
struct Nothing {}

async fn roster_shell(request: HttpRequest, app: Data<App>) -> Result<HttpResponse, Problem> {
    let html = app.pages.render_guest(&request, "roster_shell.html", &Nothing {})?;
    Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(html))
}
