//! Feeds: a calendar of shows and closing times (RFC 5545), and news of schedules and results (RFC 4287).

use std::collections::BTreeMap;
use std::fmt::Write;

use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE, X_CONTENT_TYPE_OPTIONS};
use actix_web::{HttpResponse, get, web};
use chrono::{DateTime, NaiveDateTime, Utc};
use storksbill_db::rows::judging;
use storksbill_db::rows::shows::{self, Drafts, Show, Wanted};
use storksbill_domain::ids::ShowId;
use storksbill_domain::words::ShowState;

use super::documents;
use crate::app::App;
use crate::calendars::ical::{Calendar, Event, When};
use crate::http::problem::Problem;
use crate::pages::text::Text;

/// Most shows of a feed.
const MOST: i64 = 500;
/// Most news of a feed, the latest.
const MOST_NEWS: usize = 100;

/// See the calendar of shows
///
/// Every published show from half a year back on as an all-day event, and the moment that its entries close: iCalendar
/// (RFC 5545), for any calendar program.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses((status = 200, description = "The calendar", body = String, content_type = "text/calendar"))
)]
#[get("/shows.ics")]
pub async fn calendar(app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let (now, since) = (app.clock.now(), app.clock.today() - chrono::TimeDelta::days(183));
    let name = app.society.name.clone();
    let all = app
        .db
        .read(move |conn| {
            let wanted = Wanted { from: Some(since), ..Wanted::default() };
            Ok::<_, Problem>(shows::visible_to(conn, Drafts::Of(Vec::new()), &wanted, None, MOST)?)
        })
        .await?;
    Ok(sent("text/calendar; charset=utf-8", calendar_of(&name, &all, now)))
}

fn calendar_of(name: &str, all: &[Show], now: DateTime<Utc>) -> String {
    let mut whole = Calendar::new(name, now);
    for show in all {
        for event in events_of(show) {
            whole.add(&event);
        }
    }
    whole.finish()
}

/// The day of a show, and the moment that its entries close.
pub(crate) fn events_of(show: &Show) -> [Event; 2] {
    let event = |part: &str, when: When, summary: String| Event {
        uid: format!("{}-{part}", show.id),
        sequence: show.version,
        when,
        summary,
        location: Some(show.place.clone()),
        is_cancelled: show.state == ShowState::Cancelled,
    };
    [
        event("day", When::Day(show.held_on), show.name.clone()),
        event("closing", When::Moment(show.closes_at), format!("Entries close: {}", show.name)),
    ]
}

/// See news of shows
///
/// Schedules published and amended, and results given out, the latest first: Atom (RFC 4287), for any feed reader.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses((status = 200, description = "The feed", body = String, content_type = "application/atom+xml"))
)]
#[get("/shows.atom")]
pub async fn latest(app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let since = app.clock.today() - chrono::TimeDelta::days(365);
    let name = app.society.name.clone();
    let origin = app.society.public_url.clone().unwrap_or_default();
    let started = app.clock.now();
    let told = app
        .db
        .read(move |conn| {
            let wanted = Wanted { from: Some(since), ..Wanted::default() };
            let shows: BTreeMap<ShowId, Show> =
                shows::visible_to(conn, Drafts::Of(Vec::new()), &wanted, None, MOST)?
                    .into_iter()
                    .map(|show| (show.id, show))
                    .collect();
            let ids: Vec<ShowId> = shows.keys().copied().collect();
            let mut told: Vec<News> = Vec::new();
            for version in shows::published_of(conn, &ids)? {
                let shows::Published { show_id: id, number, reason, published_at: at } = version;
                let Some(show) = shows.get(&id) else { continue };
                let title = match reason {
                    None => format!("Schedule published: {}", documents::title(show)),
                    Some(reason) => format!("Schedule amended: {}. {reason}", documents::title(show)),
                };
                let link = format!("/api/v1/shows/{id}/schedule?number={number}");
                told.push(News { id: format!("urn:uuid:{id}#schedule-{number}"), title, link, at });
            }
            for results in judging::given_out_of(conn, &ids)? {
                let judging::GivenOutNote { show_id: id, number, state, given_at: at } = results;
                let Some(show) = shows.get(&id) else { continue };
                let title = format!("Results ({}): {}", state.as_str(), documents::title(show));
                // Those given out last: what was before is for officers.
                let link = format!("/api/v1/shows/{id}/results");
                told.push(News { id: format!("urn:uuid:{id}#results-{number}"), title, link, at });
            }
            told.sort_by(|a, b| b.at.cmp(&a.at).then(a.id.cmp(&b.id)));
            told.truncate(MOST_NEWS);
            Ok::<_, Problem>(told)
        })
        .await?;
    Ok(sent("application/atom+xml; charset=utf-8", feed_of(&name, &origin, &told, started)))
}

struct News {
    id: String,
    title: String,
    link: String,
    at: NaiveDateTime,
}

fn feed_of(name: &str, origin: &str, told: &[News], now: DateTime<Utc>) -> String {
    let moment = |at: NaiveDateTime| at.and_utc().to_rfc3339_opts(chrono::SecondsFormat::Secs, true);
    let updated = told.first().map_or_else(|| moment(now.naive_utc()), |news| moment(news.at));
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"utf-8\"?>\n<feed xmlns=\"http://www.w3.org/2005/Atom\">\n",
    );
    // Writing to a string cannot fail.
    let _ = writeln!(
        text,
        "<id>urn:uuid:{2}</id>\n<title>{1}: shows</title>\n<updated>{updated}</updated>\n<author><name>{1}</name></author>\n<link rel=\"self\" href=\"{0}/api/v1/shows.atom\"/>",
        Text(origin),
        Text(name),
        // The same wherever the server moves; RFC 9562, version 5.
        uuid::Uuid::new_v5(&uuid::Uuid::NAMESPACE_URL, format!("storksbill shows {name}").as_bytes())
    );
    for News { id, title, link, at } in told {
        let _ = writeln!(
            text,
            "<entry><id>{}</id><title>{}</title><updated>{}</updated><link href=\"{}{}\"/></entry>",
            Text(id),
            Text(title),
            moment(*at),
            Text(origin),
            Text(link)
        );
    }
    text + "</feed>\n"
}

fn sent(kind: &str, body: String) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, kind))
        .insert_header((CACHE_CONTROL, "public, max-age=900"))
        .insert_header((X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .body(body)
}
