//! Sheets for the printer: one HTML file with its style within, so that it can be kept, opened and printed without
//! the server.

use actix_web::http::StatusCode;
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use actix_web::{HttpRequest, HttpResponse, Responder};

pub use crate::pages::text::Text;

/// A sheet to be sent.
#[derive(Debug, Clone)]
pub struct Sheet {
    html: String,
}

impl Sheet {
    /// A4, with a title on top; `body` is markup.
    pub fn a4(title: &str, body: &str) -> Self {
        Self::with(title, body, "")
    }

    /// A5, for booklets.
    pub fn a5(title: &str, body: &str) -> Self {
        Self::with(title, body, include_str!("booklet.css"))
    }

    fn with(title: &str, body: &str, more: &str) -> Self {
        let title = Text(title);
        let html = format!(
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta name=\"viewport\" content=\"width=device-width\">\n<title>{title}</title>\n\
             <style>\n{style}{more}</style>\n</head>\n<body>\n<h1>{title}</h1>\n{body}</body>\n</html>\n",
            style = include_str!("sheet.css"),
        );
        Self { html }
    }
}

impl Responder for Sheet {
    type Body = actix_web::body::BoxBody;

    fn respond_to(self, _: &HttpRequest) -> HttpResponse {
        HttpResponse::build(StatusCode::OK)
            .insert_header((CONTENT_TYPE, "text/html; charset=utf-8"))
            .insert_header((X_CONTENT_TYPE_OPTIONS, "nosniff"))
            .insert_header((CONTENT_SECURITY_POLICY, "default-src 'none'; style-src 'unsafe-inline'"))
            .insert_header((REFERRER_POLICY, "no-referrer"))
            // Sheets name people and depend on who asks.
            .insert_header((CACHE_CONTROL, "private, no-store"))
            .body(self.html)
    }
}
