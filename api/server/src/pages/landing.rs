//! The first page: whose server this is, how the season stands, which shows are to come.

use std::fmt::Write;

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;

use super::text::Text;
use crate::app::App;
use crate::season;

/// The page.
pub async fn page(app: web::Data<App>) -> HttpResponse {
    let main = format!(
        include_str!("landing.html"),
        society = Text(&app.society.name),
        notice = notice(app.society.notice.as_deref()),
        season = season_of(&app).await,
    );
    super::page(&app, StatusCode::OK, "Welcome", "", &main)
}

fn notice(words: Option<&str>) -> String {
    words.map(|words| format!("<p class=\"notice\">{}</p>", Text(words))).unwrap_or_default()
}

/// A day as people write it.
fn day(date: NaiveDate) -> String {
    date.format("%-d %B %Y").to_string()
}

async fn season_of(app: &App) -> String {
    let regions = match season::glance(app).await {
        Ok(regions) if regions.is_empty() => return "<p>No region has been entered yet.</p>".to_owned(),
        Ok(regions) => regions,
        // The page has more to say than this; the cause is in the log.
        Err(problem) => {
            tracing::error!(%problem, "the first page cannot show the season");
            return "<p>The season cannot be shown just now. Try again in a minute.</p>".to_owned();
        }
    };
    let mut table = format!(
        "<table class=\"season\">\n<caption>{}: by the weather alone, for a plant stopped on 11 March under frost-free glass.</caption>\n\
         <thead><tr><th scope=\"col\">Region</th><th scope=\"col\">Season</th></tr></thead>\n<tbody>\n",
        day(app.clock.today())
    );
    for region in regions {
        // Writing to a string cannot fail.
        let _ = writeln!(
            table,
            "<tr><th scope=\"row\">{}</th><td>{}</td></tr>",
            Text(&region.name),
            Text(&region.words)
        );
    }
    table + "</tbody>\n</table>"
}
