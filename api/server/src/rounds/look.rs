//! See rounds.

use actix_web::{get, web};
use chrono::NaiveDateTime;
use storksbill_db::rows::rings;
use storksbill_db::rows::rounds::{self, Round};
use storksbill_domain::day::Moment;
use storksbill_domain::ids::RoundId;

use super::dto::{EventOut, RingOut, RoundOut, RoundWithRings};
use super::open::found;
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List rounds
///
/// Newest first.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Rounds, newest first", body = List<RoundOut>))
)]
#[get("/swaps/rounds")]
pub async fn list(_auth: Auth, app: web::Data<App>, page: Page) -> Result<List<RoundOut>, Problem> {
    let after = page
        .after
        .clone()
        .map(|Place(opened_at, id)| {
            let opened_at = opened_at.parse::<NaiveDateTime>().ok()?;
            Moment::try_from(opened_at.and_utc()).ok().map(|at| (at.naive_utc(), id))
        })
        .map(|place| {
            place.ok_or_else(|| Problem::new(Code::BadCursor, "This cursor belongs to another list."))
        })
        .transpose()?;
    let limit = page.probe();
    let found = app.db.read(move |conn| Ok::<_, Problem>(rounds::page(conn, after.as_ref(), limit)?)).await?;
    let place = |round: &Round| {
        Place(round.opened_at.format("%Y-%m-%dT%H:%M:%S%.6f").to_string(), round.id.to_string())
    };
    Ok(page.list(found, place, |round| RoundOut::of(&round)))
}

/// See a round
///
/// With its rings: all of them to an officer, to others those they stand in.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "The round and its rings", body = RoundWithRings, headers(("ETag" = String, description = "The version of the round"))))
)]
#[get("/swaps/rounds/{round_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<RoundId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let told = app
        .db
        .read(move |conn| {
            let round = found(conn, id)?;
            let rings = if auth.is_officer() {
                rings::of_round(conn, id)?
            } else {
                rings::own_of_round(conn, auth.member, id)?
            };
            let rings = RingOut::load_all(conn, &rings, auth.member)?;
            Ok::<_, Problem>(RoundWithRings { round: RoundOut::of(&round), rings })
        })
        .await?;
    Reply::versioned(told.round.version, &told)
}

/// List a round's steps
///
/// Officers only. Everything that became of it, the first first; nothing of it is ever changed.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Its steps, the first first", body = List<EventOut>))
)]
#[get("/swaps/rounds/{round_id}/steps")]
pub async fn events(
    _officer: Officer,
    app: web::Data<App>,
    path: web::Path<RoundId>,
    page: Page,
) -> Result<List<EventOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let steps = app
        .db
        .read(move |conn| {
            found(conn, id)?;
            Ok::<_, Problem>(rounds::events_page(conn, id, after.as_deref(), limit)?)
        })
        .await?;
    Ok(page.list(steps, |(event, _)| Place(String::new(), event.id.to_string()), EventOut::of))
}
