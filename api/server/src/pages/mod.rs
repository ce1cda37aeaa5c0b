//! Pages for people: the first page, the documentation, the table of problem codes.

use actix_web::http::header::CONTENT_TYPE;
use actix_web::{HttpResponse, web};

use crate::openapi::Description;

/// The addresses outside the API.
pub fn routes(config: &mut web::ServiceConfig) {
    config.route("/openapi.json", web::get().to(openapi_json)).route("/health", web::get().to(health));
}

async fn openapi_json(description: web::Data<Description>) -> HttpResponse {
    HttpResponse::Ok().insert_header((CONTENT_TYPE, "application/json")).body(description.0.clone())
}

/// Whether the process answers at all: for whatever watches it.
async fn health() -> HttpResponse {
    HttpResponse::Ok().content_type("text/plain; charset=utf-8").body("ok\n")
}
