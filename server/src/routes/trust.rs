//! How a phone comes to trust the local authority, and its certificate.

use actix_web::web::{self, Data, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse};
use serde::Serialize;

use crate::app::App;
use crate::error::{Kind, Problem};

pub fn configure(service: &mut ServiceConfig) {
    service
        .route("/trust", web::get().to(page))
        .route("/trust/authority.crt", web::get().to(certificate));
}

#[derive(Serialize)]
struct TrustView<'a> {
    fingerprint: &'a str,
}

async fn page(request: HttpRequest, app: Data<App>) -> Result<HttpResponse, Problem> {
    let authority = app.authority.as_ref().ok_or(Kind::NotFound)?;
    let view = TrustView { fingerprint: &authority.fingerprint };
    let html = app.pages.render_guest(&request, "trust.html", &view)?;
    Ok(HttpResponse::Ok().content_type("text/html; charset=utf-8").body(html))
}

async fn certificate(app: Data<App>) -> Result<HttpResponse, Problem> {
    let authority = app.authority.as_ref().ok_or(Kind::NotFound)?;
    Ok(HttpResponse::Ok()
        .content_type("application/x-x509-ca-cert")
        .insert_header(("content-disposition", "attachment; filename=\"handcall-authority.crt\""))
        .body(authority.der.clone()))
}
