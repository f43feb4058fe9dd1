//! Style sheet, modules and icons, embedded in the program.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use actix_web::http::header;
use actix_web::web::{Bytes, Path, ServiceConfig, get};
use actix_web::{HttpRequest, HttpResponse};
use flate2::Compression;
use rust_embed::RustEmbed;
use sha2::{Digest, Sha256};

use super::bundle;
use crate::compress::{accepts_gzip, gzip};
use crate::error::{Kind, Problem};

/// Every static file.
#[derive(RustEmbed)]
#[folder = "../web/static"]
pub(super) struct Files;

pub fn configure(service: &mut ServiceConfig) {
    service.route("/static/{name:.*}", get().to(asset));
}

/// A file as it is sent.
#[derive(Debug)]
pub(super) struct Prepared {
    tag: String,
    plain: Bytes,
    /// Compressed as far as it goes, where that saves something.
    gzip: Option<Bytes>,
}

impl Prepared {
    /// Prepares bytes of a content type; `hash` names them in the entity tag.
    pub fn new(kind: &str, hash: &[u8], bytes: Vec<u8>) -> Prepared {
        let tag: String = hash.iter().take(8).map(|byte| format!("{byte:02x}")).collect();
        let plain = match kind.split(';').next() {
            Some("text/javascript" | "text/css") => without_comments(bytes),
            _ => bytes,
        };
        let gzip =
            if kind.starts_with("image/png") { None } else { gzip(&plain, Compression::best()) };
        let gzip = gzip.filter(|gzip| gzip.len() < plain.len()).map(Bytes::from);
        Prepared { tag: format!("\"{tag}\""), plain: plain.into(), gzip }
    }

    /// Entity tag.
    pub fn tag(&self) -> &str {
        &self.tag
    }

    /// The answer: nothing where the browser has it already, else compressed where it may be.
    pub fn answer(&self, request: &HttpRequest, kind: &'static str) -> HttpResponse {
        let known = request.headers().get(header::IF_NONE_MATCH).and_then(|v| v.to_str().ok());
        let is_known = known.is_some_and(|known| known.contains(&self.tag));
        let mut answer = if is_known { HttpResponse::NotModified() } else { HttpResponse::Ok() };
        // Kept, and asked after each time: files change with the program.
        answer
            .insert_header((header::CACHE_CONTROL, "no-cache"))
            .insert_header((header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
            .insert_header((header::ETAG, self.tag.clone()))
            .insert_header((header::VARY, "accept-encoding"));
        if is_known {
            return answer.finish();
        }
        answer.content_type(kind);
        match &self.gzip {
            Some(gzip) if accepts_gzip(request.headers()) => {
                answer.insert_header((header::CONTENT_ENCODING, "gzip")).body(gzip.clone())
            }
            _ => answer.body(self.plain.clone()),
        }
    }
}

/// Leaves out comments that fill their lines, blank lines and indentation: half of a documented
/// module. Scripts and style sheets here hold no text over several lines.
fn without_comments(bytes: Vec<u8>) -> Vec<u8> {
    let Ok(text) = std::str::from_utf8(&bytes) else { return bytes };
    let mut out = String::with_capacity(text.len());
    let mut is_inside = false;
    for line in text.lines().map(str::trim) {
        if is_inside || line.starts_with("/*") {
            is_inside = !line.ends_with("*/");
        } else if !line.is_empty() && !line.starts_with("//") {
            out.push_str(line);
            out.push('\n');
        }
    }
    out.into_bytes()
}

async fn asset(request: HttpRequest, name: Path<String>) -> Result<HttpResponse, Problem> {
    /// Prepared once for each content.
    static PREPARED: Mutex<Option<HashMap<[u8; 32], Arc<Prepared>>>> = Mutex::new(None);
    let kind = content_type(&name);
    let (hash, data): ([u8; 32], _) = if *name == bundle::NAME {
        let text = bundle::text();
        (Sha256::digest(&text).into(), text.into_bytes())
    } else {
        let file = Files::get(&name).ok_or(Kind::NotFound)?;
        (file.metadata.sha256_hash(), file.data.into_owned())
    };
    let prepared = {
        // Whoever stopped while preparing left the map as it was.
        let mut known = PREPARED.lock().unwrap_or_else(PoisonError::into_inner);
        let known = known.get_or_insert_default();
        let make = || Arc::new(Prepared::new(kind, &hash, data));
        known.entry(hash).or_insert_with(make).clone()
    };
    Ok(prepared.answer(&request, kind))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_indentation_go_and_everything_else_stays() {
        let text = "// one\n/** Two\n * lines. */\nconst a = \"// no\"; // stays\n\n  /* b */\n  f(`/*`);\n";
        let lean = without_comments(text.as_bytes().to_vec());
        assert_eq!(String::from_utf8_lossy(&lean), "const a = \"// no\"; // stays\nf(`/*`);\n");
    }

    #[test]
    fn no_file_holds_a_text_over_several_lines_or_code_behind_a_comment() {
        let mut scripts = 0;
        for name in Files::iter().filter(|name| name.ends_with(".js") || name.ends_with(".css")) {
            let file = Files::get(&name).map(|file| file.data.into_owned()).unwrap_or_default();
            let text = String::from_utf8_lossy(&file);
            for line in text.lines().map(str::trim) {
                assert!(line.matches('`').count() % 2 == 0, "{name}: {line}");
                let behind = line.split_once("*/").map_or("", |(_, behind)| behind);
                let starts = line.starts_with("/*") || line.starts_with('*');
                assert!(!starts || behind.is_empty(), "{name}: {line}");
            }
            scripts += 1;
        }
        assert!(scripts > 20);
    }
}
