//! The description of the API, OpenAPI 3.1. It is written by hand in `assets/openapi.json`; a test
//! of the whole product holds it to the route table and to what the server answers.

use actix_web::HttpResponse;
use actix_web::web::{self, ServiceConfig};

const DESCRIPTION: &str = include_str!("../../assets/openapi.json");

pub fn configure(service: &mut ServiceConfig) {
    service.route("/api/openapi.json", web::get().to(describe));
}

async fn describe() -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(DESCRIPTION)
}
