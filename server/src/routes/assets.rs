//! Style sheet, modules and icons, embedded in the program.

use actix_web::http::header;
use actix_web::web::{Path, ServiceConfig, get};
use actix_web::{HttpRequest, HttpResponse};
use rust_embed::RustEmbed;

use crate::error::{Kind, Problem};

#[derive(RustEmbed)]
#[folder = "../web/static"]
pub(super) struct Files;

pub fn configure(service: &mut ServiceConfig) {
    service.route("/static/{name:.*}", get().to(asset));
}

async fn asset(request: HttpRequest, name: Path<String>) -> Result<HttpResponse, Problem> {
    let file = Files::get(&name).ok_or(Kind::NotFound)?;
    let hash = file.metadata.sha256_hash();
    let tag: String = hash.iter().take(12).map(|byte| format!("{byte:02x}")).collect();
    let tag = format!("\"{tag}\"");
    let known = request.headers().get(header::IF_NONE_MATCH).and_then(|v| v.to_str().ok());
    let caching = (header::CACHE_CONTROL, "no-cache");
    if known.is_some_and(|known| known.contains(&tag)) {
        return Ok(HttpResponse::NotModified().insert_header(caching).finish());
    }
    Ok(HttpResponse::Ok()
        .insert_header(caching)
        .insert_header((header::ETAG, tag))
        .content_type(content_type(&name))
        .body(file.data.into_owned()))
}

fn content_type(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("webmanifest") => "application/manifest+json",
        Some("json") => "application/json",
        _ => "application/octet-stream",
    }
}
