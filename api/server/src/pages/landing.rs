//! The first page: whose server this is, how the season stands, which shows are to come, and who won.

use std::fmt::Write;

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};
use chrono::{DateTime, NaiveDate, NaiveDateTime, TimeDelta, Utc};
use storksbill_db::rows::places;
use storksbill_db::rows::shows::{self, Drafts, Judged, Show, Wanted};
use storksbill_domain::words::ShowState;

use super::text::Text;
use crate::app::App;
use crate::http::problem::Problem;
use crate::season::{self, RegionGlance};

/// Most shows that the page names; `GET /api/v1/shows` has them all.
const MOST_SHOWS: i64 = 12;
/// Shows whose results it names, and how long ago they were held at most, in days.
const MOST_RESULTS: i64 = 4;
const RESULTS_FOR: i64 = 365;

/// The page.
pub async fn page(app: web::Data<App>) -> HttpResponse {
    let (day, now) = (app.clock.today(), app.clock.now());
    let season = season::glance(&app).await;
    let shows = shows_from(&app, day).await;
    let results = results_before(&app, day).await;
    let main = format!(
        include_str!("landing.html"),
        society = Text(&app.society.name),
        notice = notice(app.society.notice.as_deref()),
        season = or_excuse(season.map(|regions| season_table(&regions, day)), "The season"),
        shows = or_excuse(shows.map(|shows| shows_list(&shows, now)), "The shows"),
        results = or_excuse(results.map(|shows| results_list(&shows)), "The results"),
    );
    super::page(&app, StatusCode::OK, "Welcome", "", &main)
}

fn notice(words: Option<&str>) -> String {
    words.map(|words| format!("<p class=\"notice\">{}</p>", Text(words))).unwrap_or_default()
}

/// The part, or that it is missing: the page has more to say than one of its parts.
fn or_excuse(part: Result<String, Problem>, what: &str) -> String {
    part.unwrap_or_else(|problem| {
        tracing::error!(%problem, what, "a part of the first page cannot be shown");
        format!("<p>{what} cannot be shown just now. Try again in a minute.</p>")
    })
}

/// A day as people write it.
fn plain(day: NaiveDate) -> impl std::fmt::Display {
    day.format("%-d %B %Y")
}

fn season_table(regions: &[RegionGlance], day: NaiveDate) -> String {
    if regions.is_empty() {
        return "<p>No region has been entered yet.</p>".to_owned();
    }
    let mut table = format!(
        "<table class=\"season\">\n<caption>{}: by the weather alone, for a plant stopped on 11 March under \
         frost-free glass.</caption>\n\
         <thead><tr><th scope=\"col\">Region</th><th scope=\"col\">Season</th></tr></thead>\n<tbody>\n",
        plain(day)
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

/// The published shows from `day` on, each with the name of its club.
async fn shows_from(app: &App, day: NaiveDate) -> Result<Vec<(Show, String)>, Problem> {
    let wanted = Wanted { from: Some(day), ..Wanted::default() };
    app.db
        .read(move |conn| {
            let published = Drafts::Of(Vec::new());
            let mut named = Vec::new();
            for show in shows::visible_to(conn, published, &wanted, None, MOST_SHOWS)? {
                let club = places::club(conn, show.club_id)?.map(|club| club.name).unwrap_or_default();
                named.push((show, club));
            }
            Ok(named)
        })
        .await
}

fn shows_list(shows: &[(Show, String)], now: DateTime<Utc>) -> String {
    if shows.is_empty() {
        return "<p>No show is announced.</p>".to_owned();
    }
    let mut list = "<ul class=\"cards\">\n".to_owned();
    for (show, club) in shows {
        // Writing to a string cannot fail.
        let _ = writeln!(
            list,
            "<li><h3>{name}</h3><p>{day}, {place} ({club})</p><p class=\"quiet\">{closing}</p>\
             <p><a href=\"/api/v1/shows/{id}/print/schedule\">Schedule</a></p></li>",
            id = show.id,
            name = Text(&show.name),
            day = plain(show.held_on),
            place = Text(&show.place),
            club = Text(club),
            closing = Text(&closing(show, now)),
        );
    }
    list + "</ul>"
}

/// The shows of the last year that have results, the latest first.
async fn results_before(app: &App, day: NaiveDate) -> Result<Vec<Judged>, Problem> {
    let since = day - TimeDelta::days(RESULTS_FOR);
    app.db.read(move |conn| Ok::<_, Problem>(shows::judged_since(conn, since, MOST_RESULTS)?)).await
}

fn results_list(shows: &[Judged]) -> String {
    if shows.is_empty() {
        return "<p>No results of the last year.</p>".to_owned();
    }
    let mut list = "<ul>\n".to_owned();
    for show in shows {
        let firm = if show.state == ShowState::Final { "final" } else { "provisional, open to protest" };
        // Writing to a string cannot fail.
        let _ = writeln!(
            list,
            "<li><a href=\"/api/v1/shows/{}/print/results\">{}, {}</a>: {firm}</li>",
            show.id,
            Text(&show.name),
            plain(show.held_on),
        );
    }
    list + "</ul>"
}

/// When entries close, by the clock on the wall of the place.
fn closing(show: &Show, now: DateTime<Utc>) -> String {
    if show.state == ShowState::Cancelled {
        return "Called off: it will not be held.".to_owned();
    }
    if show.closes_at <= now.naive_utc() {
        return "Entries are closed.".to_owned();
    }
    let opens = show.opens_at.filter(|opens| *opens > now.naive_utc());
    let opens =
        opens.map(|opens| format!("Entries are taken from {} on. ", plain(opens.date()))).unwrap_or_default();
    match NaiveDateTime::parse_from_str(&show.closes_wall, "%Y-%m-%dT%H:%M") {
        Ok(moment) => format!(
            "{opens}Entries close on {} at {} ({}).",
            plain(moment.date()),
            moment.format("%H:%M"),
            show.zone
        ),
        Err(_with_seconds) => format!("{opens}Entries close {} ({}).", show.closes_wall, show.zone),
    }
}
