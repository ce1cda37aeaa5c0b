//! Rounds: run one, see what it proposed.

use actix_web::{get, post, web};
use chrono::{NaiveDateTime, TimeDelta};
use storksbill_db::rows::swaps::{self, Round};
use storksbill_domain::ids::RoundId;

use super::dto::{RingOut, RoundIn, RoundOut, RoundWithRings};
use super::market;
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Run a round
///
/// Officers only. Proposes rings of two and three members that together serve most wants, and among such
/// choices those ranked highest; each member stands in five at most. Their cuttings and wants are set aside until
/// everybody has answered or `answer_by` has passed. Read the round for its rings. Send `{}` for the
/// society's own time to answer.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = RoundIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Run", body = RoundOut))
)]
#[post("/swaps/rounds")]
pub async fn run(officer: Officer, app: web::Data<App>, body: Valid<RoundIn>) -> Result<Reply, Problem> {
    let ticket = body.ticket;
    let within = body.value.answer_within_days;
    let proposal = market::draw_up(&app).await?;
    let now = app.clock.now();
    let answer_by = now + within.map_or(app.society.answer_within, |days| TimeDelta::days(days.into()));
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                let round = market::store(conn, &proposal, Some(officer.member), now, answer_by)?;
                Reply::created(format!("/api/v1/swaps/rounds/{}", round.id), 1, &RoundOut::of(&round))
            })
        })
        .await
}

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
        .map(|Place(run_at, id)| run_at.parse::<NaiveDateTime>().map(|run_at| (run_at, id)))
        .transpose()
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let rounds =
        app.db.read(move |conn| Ok::<_, Problem>(swaps::rounds_page(conn, after.as_ref(), limit)?)).await?;
    let place =
        |round: &Round| Place(round.run_at.format("%Y-%m-%dT%H:%M:%S%.6f").to_string(), round.id.to_string());
    Ok(page.list(rounds, place, |round| RoundOut::of(&round)))
}

/// See a round
///
/// With its rings: all of them to an officer, to others those they stand in.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "The round and its rings", body = RoundWithRings))
)]
#[get("/swaps/rounds/{round_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<RoundId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let round = app
        .db
        .read(move |conn| {
            let round = swaps::round(conn, id)?.ok_or_else(|| Problem::not_found("round"))?;
            let rings = if auth.is_officer() {
                swaps::rings_of(conn, id)?
            } else {
                swaps::own_rings_of(conn, auth.member, id)?
            };
            let rings = RingOut::load_all(conn, &rings, auth.member)?;
            Ok::<_, Problem>(RoundWithRings { round: RoundOut::of(&round), rings })
        })
        .await?;
    Reply::ok(&round)
}
