//! The documentation of the API, to read and to try.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};

use crate::app::App;

const HEAD: &str = "<link rel=\"stylesheet\" href=\"/assets/swagger-ui.css\">\n\
    <script src=\"/assets/swagger-ui-bundle.js\" defer></script>\n\
    <script src=\"/assets/docs.js\" defer></script>";

/// The page.
pub async fn page(app: web::Data<App>) -> HttpResponse {
    super::page(&app, StatusCode::OK, "Documentation of the API", HEAD, include_str!("docs.html"))
}
