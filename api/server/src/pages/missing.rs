//! What a person sees at an address where there is nothing.

use actix_web::http::StatusCode;
use actix_web::http::header::{ACCEPT, VARY};
use actix_web::{HttpRequest, HttpResponse, web};

use crate::app::App;

/// The page, for a browser outside the API; none for everybody else, who get the problem as JSON.
pub fn page(request: &HttpRequest) -> Option<HttpResponse> {
    let path = request.path();
    let asked = request.headers().get(ACCEPT).and_then(|value| value.to_str().ok()).unwrap_or_default();
    if path == "/api"
        || path.starts_with("/api/")
        || path.starts_with("/brapi/")
        || !asked.contains("text/html")
    {
        return None;
    }
    let app = request.app_data::<web::Data<App>>()?;
    let mut response =
        super::page(app, StatusCode::NOT_FOUND, "Nothing here", "", include_str!("missing.html"));
    response.headers_mut().insert(VARY, ACCEPT.into());
    Some(response)
}
