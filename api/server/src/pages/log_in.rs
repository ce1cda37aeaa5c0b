//! The log-in, and behind it a member's plants and swap rings: a page whose script uses the API.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};

use crate::app::App;

/// The page.
pub async fn page(app: web::Data<App>) -> HttpResponse {
    let head = "<script src=\"/assets/log-in.js\" defer></script>";
    super::page(&app, StatusCode::OK, "Log in", head, include_str!("log-in.html"))
}
