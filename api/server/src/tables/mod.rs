//! Many records at once, as CSV: read into lines (pure), planned against what is kept, stored whole or not at all.
//!
//! `sheet` splits and writes tables, `plan` says what lines come to, `import` runs the steps. What the lines of a
//! noun hold, and what must hold of them, is the noun's own.

pub mod import;
pub mod plan;
pub mod sheet;

use actix_web::HttpResponse;
use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};

/// A table as it is sent, to be kept under this name.
pub fn download(name: &str, csv: Vec<u8>) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/csv; charset=utf-8; header=present"))
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .insert_header((CACHE_CONTROL, "private, no-cache"))
        .body(csv)
}
