//! Enter, change and publish shows.

use actix_web::{patch, post, web};
use chrono::{NaiveDate, NaiveDateTime};
use storksbill_db::rows::places;
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::{ClubId, ShowId};
use storksbill_domain::names;
use storksbill_domain::words::ShowState;

use super::dto::{ShowIn, ShowOut, ShowPatch, closing};
use super::{schedule_stands, show_in_charge_of};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Enter a show
///
/// The club's secretary or an administrator. It is a draft until you publish it.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ShowIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = ShowOut))
)]
#[post("/clubs/{club_id}/shows")]
pub async fn create(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ClubId>,
    body: Valid<ShowIn>,
) -> Result<Reply, Problem> {
    let club_id = path.into_inner();
    let ticket = body.ticket;
    let now = app.clock.now();
    let show = draft(club_id, &body.value, now.naive_utc())?;
    app.db
        .write(move |conn| {
            places::club(conn, club_id)?.ok_or_else(|| Problem::not_found("club"))?;
            if !officer.acts_for(club_id) {
                return Err(Problem::new(
                    Code::NotAllowed,
                    "Only this club's secretary or an administrator may do this.",
                ));
            }
            ticket.once(conn, officer.member, now, |conn| {
                shows::insert(conn, &show)?;
                Reply::created(format!("/api/v1/shows/{}", show.id), 1, &ShowOut::of(show.clone()))
            })
        })
        .await
}

fn draft(club_id: ClubId, body: &ShowIn, now: NaiveDateTime) -> Result<Show, Problem> {
    Ok(Show {
        id: ShowId::fresh(),
        club_id,
        name: names::tidy(&body.name),
        held_on: body.held_on,
        place: names::tidy(&body.place),
        closes_wall: body.closes_wall.clone(),
        zone: body.zone.clone(),
        closes_at: closes_at(&body.closes_wall, &body.zone, body.held_on)?,
        state: ShowState::Draft,
        published_at: None,
        notes: body.notes.clone(),
        version: 1,
        created_at: now,
    })
}

fn closes_at(wall: &str, zone: &str, held_on: NaiveDate) -> Result<NaiveDateTime, Problem> {
    let mut found = Findings::default();
    let moment = closing(&mut found, wall, zone, held_on);
    found.into_result()?;
    let moment = moment.ok_or_else(|| Problem::new(Code::Internal, "The closing time is no moment."))?;
    Ok(moment.naive_utc())
}

/// Change a show
///
/// The club's secretary or an administrator. Of a published show only place and notes can be changed. What you
/// do not mention stays; null clears.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ShowPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = ShowOut))
)]
#[patch("/shows/{show_id}")]
pub async fn change(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    if_match: IfMatch,
    body: Valid<ShowPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let before = show_in_charge_of(conn, &officer, id)?;
            if_match.check(before.version)?;
            let mut show = patched(before.clone(), &patch);
            if show.state == ShowState::Published {
                name_and_times_stand(&before, &show)?;
            }
            show.closes_at = closes_at(&show.closes_wall, &show.zone, show.held_on)?;
            show.version += 1;
            shows::update(conn, &show)?;
            Reply::versioned(show.version, &ShowOut::of(show))
        })
        .await
}

fn patched(mut show: Show, patch: &ShowPatch) -> Show {
    if let Some(name) = patch.name.value() {
        show.name = names::tidy(name);
    }
    if let Some(day) = patch.held_on.value() {
        show.held_on = *day;
    }
    if let Some(place) = patch.place.value() {
        show.place = names::tidy(place);
    }
    if let Some(wall) = patch.closes_wall.value() {
        show.closes_wall.clone_from(wall);
    }
    if let Some(zone) = patch.zone.value() {
        show.zone.clone_from(zone);
    }
    patch.notes.clone().apply(&mut show.notes);
    show
}

/// Refuses what members already plan by, all at once.
fn name_and_times_stand(before: &Show, after: &Show) -> Result<(), Problem> {
    let changed = [
        ("/name", before.name != after.name),
        ("/held_on", before.held_on != after.held_on),
        ("/closes_wall", before.closes_wall != after.closes_wall),
        ("/zone", before.zone != after.zone),
    ];
    let mut refusals = changed.iter().filter(|(_, changed)| *changed).map(|(pointer, _)| pointer).peekable();
    if refusals.peek().is_none() {
        return Ok(());
    }
    let problem = schedule_stands("name, day and closing time");
    Err(refusals.fold(problem, |problem, pointer| problem.at(pointer, "published", "stands once published")))
}

/// Publish a show
///
/// The club's secretary or an administrator. It needs a class at least. From then on everybody sees it, and
/// its day, closing time and classes stand. Repeating it changes nothing.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "Published", body = ShowOut),
        (status = 409, description = "It has no classes", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/publication")]
pub async fn publish(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let mut show = show_in_charge_of(conn, &officer, id)?;
            if show.state == ShowState::Draft {
                if shows::count_classes(conn, id)? == 0 {
                    return Err(Problem::new(
                        Code::WrongState,
                        "A show without classes cannot be published; enter its classes first.",
                    ));
                }
                show.state = ShowState::Published;
                show.published_at = Some(now);
                show.version += 1;
                shows::update(conn, &show)?;
            }
            Reply::versioned(show.version, &ShowOut::of(show))
        })
        .await
}
