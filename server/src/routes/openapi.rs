//! The description of the API as it is served.

use actix_web::HttpResponse;
use actix_web::web::{self, ServiceConfig};
use utoipa::openapi::OpenApi;

use crate::describe::{Api, document};

pub fn configure(service: &mut ServiceConfig) {
    service.route("/api/openapi.json", web::get().to(show));
}

pub(super) fn describe(api: &mut Api) {
    api.add(document("/api/openapi.json", "This document.").open());
}

async fn show() -> HttpResponse {
    static DESCRIPTION: std::sync::LazyLock<OpenApi> =
        std::sync::LazyLock::new(|| super::described().document());
    HttpResponse::Ok().json(&*DESCRIPTION)
}
