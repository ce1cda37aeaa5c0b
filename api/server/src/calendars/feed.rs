//! The feed, and its address.

use std::collections::BTreeSet;

use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS};
use actix_web::{HttpResponse, delete, get, put, web};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use serde::Serialize;
use storksbill_db::Conn;
use storksbill_db::rows::shows::{self, Drafts, Wanted};
use storksbill_db::rows::{calendars, entries, members, notices, trophies};
use storksbill_domain::ids::MemberId;
use storksbill_domain::words::{NoticeKind, Standing};
use utoipa::ToSchema;

use super::ical::{Calendar, Event, When};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;
use crate::sessions::secrets;
use crate::shows::feeds::events_of;

/// Most shows and most notices of a calendar.
const MOST: i64 = 500;
/// How far back it goes, in days.
const PAST: i64 = 183;

/// Whether you have a calendar.
#[derive(Debug, Serialize, ToSchema)]
pub struct CalendarOut {
    /// Since when its address answers; none where you have none.
    pub since: Option<DateTime<Utc>>,
}

/// A new address.
#[derive(Debug, Serialize, ToSchema)]
pub struct CalendarAddressOut {
    /// Where the calendar is, on this server. Whoever knows it reads your dates; it is shown this once.
    pub path: String,
}

/// See whether you have a calendar
///
/// Its address is not told again; renew it where you lost it.
#[utoipa::path(
    tag = "calendars",
    security(("session" = [])),
    responses((status = 200, description = "Whether, and since when", body = CalendarOut))
)]
#[get("/members/me/calendar")]
pub async fn mine(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    app.db
        .read(move |conn| {
            let since = calendars::since(conn, auth.member)?.map(|moment| moment.and_utc());
            Reply::ok(&CalendarOut { since })
        })
        .await
}

/// Get an address for your calendar
///
/// For a calendar program to read: shows of your clubs and those you entered, with the moment that entries close, what is
/// due, and trophies to give back. The address before, if there was one, no longer answers.
#[utoipa::path(
    tag = "calendars",
    security(("session" = [])),
    responses((status = 200, description = "The address, this once", body = CalendarAddressOut))
)]
#[put("/members/me/calendar")]
pub async fn renew(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    let now = app.clock.now();
    let secret = secrets::fresh()?;
    app.db
        .write(move |conn| {
            calendars::put(conn, auth.member, &secrets::hash(&secret), now.naive_utc())?;
            Reply::ok(&CalendarAddressOut { path: format!("/api/v1/calendars/{secret}/own.ics") })
        })
        .await
}

/// Revoke the address of your calendar
///
/// It no longer answers.
#[utoipa::path(
    tag = "calendars",
    security(("session" = [])),
    responses((status = 204, description = "Revoked"))
)]
#[delete("/members/me/calendar")]
pub async fn revoke(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    app.db
        .write(move |conn| {
            calendars::revoke(conn, auth.member)?;
            Ok(Reply::no_content())
        })
        .await
}

/// Read a calendar at its secret address
///
/// iCalendar (RFC 5545): whoever knows the address.
#[utoipa::path(
    tag = "calendars",
    security((), ("session" = [])),
    responses((status = 200, description = "The calendar", body = String, content_type = "text/calendar"))
)]
#[get("/calendars/{calendar_secret}/own.ics")]
pub async fn secret_calendar(app: web::Data<App>, path: web::Path<String>) -> Result<HttpResponse, Problem> {
    let hash = secrets::hash(&path.into_inner());
    let (now, name) = (app.clock.now(), app.society.name.clone());
    let text = app
        .db
        .read(move |conn| {
            let gone = || Problem::not_found("calendar");
            let id = calendars::member(conn, &hash)?.ok_or_else(gone)?;
            let member = members::find(conn, id)?.filter(|member| member.standing == Standing::Active);
            let member = member.ok_or_else(gone)?;
            let mut calendar = Calendar::new(&format!("{name}: {}", member.name), now);
            for event in dates_of(conn, id, now.date_naive())? {
                calendar.add(&event);
            }
            Ok::<_, Problem>(calendar.finish())
        })
        .await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/calendar; charset=utf-8"))
        .insert_header((X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((REFERRER_POLICY, "no-referrer"))
        .insert_header((CACHE_CONTROL, "private, no-cache"))
        .body(text))
}

fn dates_of(conn: &mut Conn, id: MemberId, today: NaiveDate) -> Result<Vec<Event>, Problem> {
    let mut events = Vec::new();
    let since = today - TimeDelta::days(PAST);
    let clubs: BTreeSet<_> = members::clubs_of(conn, id)?.into_iter().map(|one| one.club_id).collect();
    let entered: BTreeSet<_> = entries::shows_of_member(conn, id)?.into_iter().collect();
    let wanted = Wanted { from: Some(since), ..Wanted::default() };
    for show in shows::visible_to(conn, Drafts::Of(Vec::new()), &wanted, None, MOST)? {
        if clubs.contains(&show.club_id) || entered.contains(&show.id) {
            events.extend(events_of(&show));
        }
    }
    let open = notices::Filter { done: Some(false), ..notices::Filter::default() };
    for notice in notices::own_page(conn, id, open, None, MOST)? {
        // News is no date to keep.
        if notice.kind != NoticeKind::ShowNews && notice.due_on >= since {
            events.push(Event {
                uid: notice.id.to_string(),
                sequence: 0,
                when: When::Day(notice.due_on),
                summary: notice.words,
                location: None,
                is_cancelled: false,
            });
        }
    }
    for (trophy, award) in trophies::awards_of_member(conn, id)? {
        if let (Some(due), None) = (award.due_back_on, award.returned_on) {
            events.push(Event {
                uid: award.id.to_string(),
                sequence: award.version,
                when: When::Day(due),
                summary: format!("{} is due back", trophy.title),
                location: None,
                is_cancelled: false,
            });
        }
    }
    Ok(events)
}
