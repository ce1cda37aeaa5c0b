//! Start from last year's schedule.

use std::collections::BTreeMap;

use actix_web::{post, web};
use chrono::{Datelike, NaiveDate};
use storksbill_db::rows::shows;
use storksbill_domain::ids::{ClassId, ShowId};
use storksbill_domain::shows::{AgeRule, ClassSet, ProtestsUntil, ShowSchedule};

use super::schedule_dto::{CopyIn, DraftOut};
use super::{documents, draft, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Copy an earlier schedule into the draft
///
/// Sections, classes, schemes and trophies of the version in force of another show of the club; each class is linked
/// to the one it goes on from. Name, day, zone and closing time stay as the draft has them; days on which ages are
/// told move by the years between. What the draft held before is replaced.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = CopyIn,
    params(("If-Match" = String, Header, description = "The show's ETag")),
    responses(
        (status = 200, description = "The draft", body = DraftOut),
        (status = 409, description = "Its state does not allow it", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/draft/copy")]
pub async fn copy(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    if_match: IfMatch,
    body: Valid<CopyIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let from = body.value.from_show_id;
    app.db
        .write(move |conn| {
            let mut show = draft::open_show(conn, &officer, id)?;
            if_match.check(show.version)?;
            if show.published_at.is_some() {
                return Err(Problem::new(
                    Code::WrongState,
                    "Its schedule is published; change single classes.",
                ));
            }
            let earlier = visible_show(conn, Some(&officer), from)
                .ok()
                .filter(|earlier| earlier.club_id == show.club_id && earlier.schedule_number > 0)
                .ok_or_else(|| {
                    Problem::field(
                        "/from_show_id",
                        "not-found",
                        "is not a show of this club with a published schedule",
                    )
                })?;
            let version = shows::version(conn, earlier.id, earlier.schedule_number)?;
            let version = version.ok_or_else(|| Problem::not_found("schedule"))?;
            let copied = copied(documents::read(&version.document)?, &documents::read(&show.draft)?);
            draft::store(conn, &mut show, &copied)?;
            let show = show_in_charge_of(conn, &officer, id)?;
            draft::told(conn, &show)
        })
        .await
}

fn copied(mut schedule: ShowSchedule, draft: &ShowSchedule) -> ShowSchedule {
    let years = draft.held_on.year() - schedule.held_on.year();
    let days = draft.held_on - schedule.held_on;
    let ids: BTreeMap<ClassId, ClassId> =
        schedule.classes.iter().map(|class| (class.id, ClassId::fresh())).collect();
    let now = |id: &mut ClassId| {
        if let Some(new) = ids.get(id) {
            *id = *new;
        }
    };
    for class in &mut schedule.classes {
        class.follows = Some(class.id);
        now(&mut class.id);
        class.rules.entrants.not_entered_in.iter_mut().for_each(now);
        if let Some(AgeRule { on, .. }) = &mut class.rules.entrants.age {
            *on = in_year(*on, on.year() + years);
        }
    }
    for trophy in &mut schedule.trophies {
        let ClassSet { classes, except, .. } = &mut trophy.classes;
        classes.iter_mut().chain(except).for_each(now);
    }
    if let Some(ProtestsUntil::WallClock(wall)) = &mut schedule.protests {
        *wall += days;
    }
    schedule.title.clone_from(&draft.title);
    schedule.held_on = draft.held_on;
    schedule.zone.clone_from(&draft.zone);
    schedule.closes_wall = draft.closes_wall;
    schedule
}

/// The same day of another year; the last of February where it has no 29th.
fn in_year(day: NaiveDate, year: i32) -> NaiveDate {
    day.with_year(year).or_else(|| NaiveDate::from_ymd_opt(year, 2, 28)).unwrap_or(day)
}
