//! Pages for people: the first page, the season, the log-in, the documentation, the table of problem codes.
//!
//! Pages are HTML files of this folder, filled in by `format!`, so that a placeholder without a value does not
//! compile; whatever is not markup goes through `text::Text`. They load nothing from outside, and the policy
//! sent with them forbids it.

mod assets;
mod docs;
mod drawing;
mod landing;
mod log_in;
pub mod missing;
mod problems;
mod season;
pub(crate) mod text;

use std::time::Duration;

use actix_web::http::StatusCode;
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use actix_web::{HttpResponse, HttpResponseBuilder, web};

use storksbill_db::DbError;
use storksbill_db::rows::settings;

use crate::app::App;
use crate::openapi::Description;
use text::Text;

/// Everything comes from this server, nothing is framed, and no script or style stands in the page itself.
/// Pictures may be `data:` because the documentation's style sheet holds its icons so.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
    connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The addresses outside the API.
pub fn routes(config: &mut web::ServiceConfig) {
    config
        .route("/", web::get().to(landing::page))
        .route("/docs", web::get().to(docs::page))
        .route("/login", web::get().to(log_in::page))
        .route("/season", web::get().to(season::page))
        .route("/problems", web::get().to(problems::page))
        .route("/assets/{name}", web::get().to(assets::file))
        .route("/openapi.json", web::get().to(openapi_json))
        .route("/health", web::get().to(health))
        .route("/health/ready", web::get().to(ready));
}

/// An answer that a browser must take for what it says it is.
fn answer(status: StatusCode) -> HttpResponseBuilder {
    let mut response = HttpResponse::build(status);
    response
        .insert_header((X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((REFERRER_POLICY, "no-referrer"));
    response
}

/// A whole page: the markup of its head beyond what all pages have, and of its main part.
fn page(app: &App, status: StatusCode, title: &str, head: &str, main: &str) -> HttpResponse {
    let html = format!(
        include_str!("shell.html"),
        title = Text(title),
        society = Text(&app.society.name),
        head = head,
        main = main
    );
    answer(status)
        .insert_header((CONTENT_TYPE, "text/html; charset=utf-8"))
        .insert_header((CACHE_CONTROL, "no-cache"))
        .body(html)
}

async fn openapi_json(description: web::Data<Description>) -> HttpResponse {
    answer(StatusCode::OK)
        .insert_header((CONTENT_TYPE, "application/json"))
        .insert_header((CACHE_CONTROL, "no-cache"))
        .body(description.0.clone())
}

/// Longest wait for the database, of a read and of a write, before the server calls itself not ready.
const READY_WITHIN: Duration = Duration::from_secs(3);

/// Whether the records can be read and written just now: for whatever sends requests here or elsewhere.
async fn ready(app: web::Data<App>) -> HttpResponse {
    let read = app.db.read(|conn| settings::find(conn, "signing_secret"));
    // An empty write takes its turn among the others and the database's own lock.
    let write = app.db.write(|_| Ok::<_, DbError>(()));
    let (status, words) = match tokio::time::timeout(READY_WITHIN, read).await {
        Ok(Ok(_)) => match tokio::time::timeout(READY_WITHIN, write).await {
            Ok(Ok(())) => (StatusCode::OK, "ready\n"),
            _ => (StatusCode::SERVICE_UNAVAILABLE, "the database takes no writes\n"),
        },
        _ => (StatusCode::SERVICE_UNAVAILABLE, "the database does not answer\n"),
    };
    answer(status)
        .insert_header((CACHE_CONTROL, "no-store"))
        .content_type("text/plain; charset=utf-8")
        .body(words)
}

/// Whether the process answers at all: for whatever watches it.
async fn health() -> HttpResponse {
    answer(StatusCode::OK).content_type("text/plain; charset=utf-8").body("ok\n")
}
