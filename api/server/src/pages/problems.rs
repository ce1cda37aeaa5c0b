//! Every code a refusal may carry; a problem's `type` leads here.

use std::fmt::Write;

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};

use super::text::Text;
use crate::app::App;
use crate::http::problem::Code;

/// The page.
pub async fn page(app: web::Data<App>) -> HttpResponse {
    let mut rows = String::new();
    for code in Code::ALL {
        // Writing to a string cannot fail.
        let _ = writeln!(
            rows,
            "<tr id=\"{word}\"><th scope=\"row\"><a href=\"#{word}\"><code>{word}</code></a></th>\
             <td class=\"status\">{status}</td><td>{title}</td></tr>",
            word = code.as_str(),
            status = code.status().as_u16(),
            title = Text(code.title()),
        );
    }
    let main = format!(include_str!("problems.html"), rows = rows);
    super::page(&app, StatusCode::OK, "Problem codes", "", &main)
}
