//! Enter and change shows.

use actix_web::{patch, post, web};
use chrono::{NaiveDate, NaiveDateTime};
use storksbill_db::rows::places;
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::{ClubId, ShowId};
use storksbill_domain::names;
use storksbill_domain::shows::{Micrometres, ResultRules, ShowSchedule};
use storksbill_domain::words::ShowState;

use super::dto::{ShowIn, ShowOut, ShowPatch, WALL, closing};
use super::publish::{note, tell_exhibitors};
use super::{documents, schedule_stands, show_in_charge_of};
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
    let mut show = Show {
        id: ShowId::fresh(),
        club_id,
        name: names::tidy(&body.name),
        held_on: body.held_on.into(),
        place: names::tidy(&body.place),
        closes_wall: body.closes_wall.clone(),
        zone: body.zone.clone(),
        closes_at: closes_at(&body.closes_wall, &body.zone, *body.held_on)?,
        opens_at: body.opens_at.map(|moment| moment.naive_utc()),
        hall_opens_at: body.hall_opens_at.map(|moment| moment.naive_utc()),
        state: ShowState::Draft,
        published_at: None,
        draft: String::new(),
        schedule_number: 0,
        secret: None,
        notes: body.notes.clone(),
        version: 1,
        created_at: now,
    };
    show.draft = documents::written(&ShowSchedule {
        title: show.name.clone(),
        held_on: show.held_on,
        zone: show.zone.clone(),
        closes_wall: wall(&show.closes_wall)?,
        tolerance_um: Micrometres(0),
        protests: None,
        sections: Vec::new(),
        classes: Vec::new(),
        schemes: Vec::new(),
        trophies: Vec::new(),
        results: ResultRules::default(),
    })?;
    Ok(show)
}

/// A time of the wall clock that was checked.
fn wall(text: &str) -> Result<NaiveDateTime, Problem> {
    NaiveDateTime::parse_from_str(text, WALL)
        .map_err(|error| Problem::new(Code::Internal, format!("The closing time is none: {error}.")))
}

/// The schedule that is worked on says of name, day and closing what the show says.
fn in_step(show: &mut Show) -> Result<(), Problem> {
    let mut schedule = documents::read(&show.draft)?;
    schedule.title.clone_from(&show.name);
    schedule.held_on = show.held_on;
    schedule.zone.clone_from(&show.zone);
    schedule.closes_wall = wall(&show.closes_wall)?;
    show.draft = documents::written(&schedule)?;
    Ok(())
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
/// The club's secretary or an administrator. Name, day and closing time of a published show change by an amendment of
/// its schedule alone; its hall, notes and hours, where they were told already, with a reason, which every exhibitor
/// gets as a notice. What you do not mention stays; null clears.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ShowPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses(
        (status = 200, description = "Changed", body = ShowOut),
        (status = 409, description = "What is to change stands by now", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
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
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            let before = show_in_charge_of(conn, &officer, id)?;
            if_match.check(before.version)?;
            let mut show = patched(before.clone(), &patch);
            if show.published_at.is_some() {
                name_and_times_stand(&before, &show)?;
            } else {
                show.closes_at = closes_at(&show.closes_wall, &show.zone, show.held_on)?;
                in_step(&mut show)?;
            }
            if matches!(show.state, ShowState::Provisional | ShowState::Final)
                && show.hall_opens_at != before.hall_opens_at
            {
                let problem =
                    Problem::new(Code::WrongState, "Its results are out: the time for protests runs.");
                return Err(problem.at("/hall_opens_at", "results-out", "stands once results are out"));
            }
            show.version += 1;
            shows::update(conn, &show)?;
            let changed = told_and_changed(&before, &show);
            if show.published_at.is_some() && !changed.is_empty() {
                let reason = reason_of(&patch, &changed)?;
                let words = format!("{}: {} {reason}", documents::title(&show), in_words(&changed));
                note(conn, id, Some(officer.member), "changed", None, &words, now.naive_utc())?;
                tell_exhibitors(conn, &show, &words, now)?;
            }
            Reply::versioned(show.version, &ShowOut::of(show))
        })
        .await
}

fn patched(mut show: Show, patch: &ShowPatch) -> Show {
    if let Some(name) = patch.name.value() {
        show.name = names::tidy(name);
    }
    if let Some(day) = patch.held_on.value() {
        show.held_on = (*day).into();
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
    patch.opens_at.clone().map(|moment| moment.naive_utc()).apply(&mut show.opens_at);
    patch.hall_opens_at.clone().map(|moment| moment.naive_utc()).apply(&mut show.hall_opens_at);
    patch.notes.clone().apply(&mut show.notes);
    show
}

/// What was told of a published show and is another now: pointer, and what it is in words.
fn told_and_changed(before: &Show, after: &Show) -> Vec<(&'static str, String)> {
    let mut changed = Vec::new();
    if before.place != after.place {
        changed.push(("/place", format!("It is held at {}, no longer at {}.", after.place, before.place)));
    }
    if before.notes.is_some() && before.notes != after.notes {
        let now = after.notes.clone().unwrap_or_else(|| "none any more".to_owned());
        changed.push(("/notes", format!("Its notes are now: {now}.")));
    }
    for (pointer, what, was, is) in [
        ("/opens_at", "Entries are taken", before.opens_at, after.opens_at),
        ("/hall_opens_at", "The hall opens", before.hall_opens_at, after.hall_opens_at),
    ] {
        if let Some(was) = was
            && is != Some(was)
        {
            let told = |moment: NaiveDateTime| moment.format("%-d %B %Y, %H:%M UTC").to_string();
            let is = is.map_or_else(|| "an hour still to be told".to_owned(), told);
            changed.push((pointer, format!("{what} from {is}, no longer from {}.", told(was))));
        }
    }
    changed
}

fn in_words(changed: &[(&'static str, String)]) -> String {
    changed.iter().map(|(_, words)| words.as_str()).collect::<Vec<_>>().join(" ")
}

fn reason_of<'p>(patch: &'p ShowPatch, changed: &[(&'static str, String)]) -> Result<&'p str, Problem> {
    if let Some(reason) = &patch.reason {
        return Ok(reason.trim());
    }
    let what: Vec<&str> = changed.iter().map(|(pointer, _)| pointer.trim_start_matches('/')).collect();
    let detail = format!("is required: the show is published, and members plan by its {}", what.join(", "));
    Err(Problem::field("/reason", "required", detail))
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
