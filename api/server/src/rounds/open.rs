//! Open rounds, give them up, close them.

use actix_web::{post, web};
use chrono::NaiveDate;
use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::rounds::{self, Round};
use storksbill_db::rows::{places, rings};
use storksbill_domain::ids::{MemberId, RoundId};
use storksbill_domain::words::{RoundAim, RoundMode, RoundState, SwapStep};

use super::dto::{RoundIn, RoundOut};
use super::steps::Mark;
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Open a round
///
/// Officers only. Until it is frozen, members may offer and want, and for a meeting say that they come. It is
/// frozen by an officer, or by itself at `freezes_at`; a job then finds its rings. Send `{}` for a round by post
/// and in person, with the society's own time to answer.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = RoundIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Open", body = RoundOut))
)]
#[post("/swaps/rounds")]
pub async fn create(officer: Officer, app: web::Data<App>, body: Valid<RoundIn>) -> Result<Reply, Problem> {
    let (asked, ticket) = (body.value, body.ticket);
    let now = app.clock.now();
    let usual = usual_answer_days(&app);
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                if let Some(club) = asked.club_id
                    && places::club(conn, club)?.is_none()
                {
                    return Err(Problem::field("/club_id", "not-found", "is not a club of this society"));
                }
                if let Some(at) = asked.freezes_at.filter(|at| **at <= now) {
                    return Err(Problem::field(
                        "/freezes_at",
                        "out-of-range",
                        format!("{at} is past already"),
                    ));
                }
                let round = Round {
                    mode: asked.mode.unwrap_or(RoundMode::ByPost),
                    aim: asked.aim.unwrap_or(RoundAim::Society),
                    max_chain: asked.max_chain.unwrap_or(4),
                    drop_out_per_mille: asked.drop_out_per_mille.unwrap_or(100),
                    club_id: asked.club_id,
                    meets_on: asked.meets_on.map(NaiveDate::from),
                    freezes_at: asked.freezes_at.map(|at| at.naive_utc()),
                    ..fresh(Some(officer.member), now, asked.answer_within_days.unwrap_or(usual))
                };
                insert(conn, &round, now)?;
                Reply::created(format!("/api/v1/swaps/rounds/{}", round.id), 1, &RoundOut::of(&round))
            })
        })
        .await
}

/// The society's own time to answer, in days, as far as a round may have it.
pub(super) fn usual_answer_days(app: &App) -> i32 {
    i32::try_from(app.society.answer_within.num_days()).unwrap_or(i32::MAX).clamp(1, 60)
}

/// A round by post with the society's usual aims.
pub(super) fn fresh(opened_by: Option<MemberId>, now: DateTime<Utc>, answer_days: i32) -> Round {
    Round {
        id: RoundId::fresh(),
        mode: RoundMode::ByPost,
        aim: RoundAim::Society,
        max_chain: 4,
        drop_out_per_mille: 100,
        state: RoundState::Open,
        club_id: None,
        meets_on: None,
        opened_by,
        opened_at: now.naive_utc(),
        freezes_at: None,
        frozen_at: None,
        answer_days,
        answer_by: None,
        snapshot: None,
        snapshot_sha256: None,
        proposed_at: None,
        closed_at: None,
        offers: 0,
        wants: 0,
        wants_served: 0,
        wants_bound: 0,
        outcome: None,
        version: 1,
    }
}

/// Keeps a fresh round.
pub(super) fn insert(conn: &mut Conn, round: &Round, now: DateTime<Utc>) -> Result<(), Problem> {
    rounds::insert(conn, round)?;
    Mark::in_round(round.id, round.opened_by, now).write(conn, SwapStep::Opened, None)?;
    Ok(())
}

/// Give a round up
///
/// Officers only; before its rings are proposed. Offers and wants stay as they are.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Given up", body = RoundOut))
)]
#[post("/swaps/rounds/{round_id}/cancel")]
pub async fn cancel(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<RoundId>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let (id, now) = (path.into_inner(), app.clock.now());
    app.db
        .write(move |conn| {
            let mut round = found(conn, id)?;
            if_match.check(round.version)?;
            in_state(&round, &[RoundState::Open, RoundState::Frozen])?;
            round.state = RoundState::Cancelled;
            end(conn, &mut round, SwapStep::Cancelled, Some(officer.member), now)?;
            Reply::versioned(round.version, &RoundOut::of(&round))
        })
        .await
}

/// Close a round
///
/// Officers only; once none of its rings waits for answers. Cuttings that are promised stay promised and can
/// still be handed over. A round also closes by itself once everything of it was handed over.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Closed", body = RoundOut))
)]
#[post("/swaps/rounds/{round_id}/close")]
pub async fn close(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<RoundId>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let (id, now) = (path.into_inner(), app.clock.now());
    app.db
        .write(move |conn| {
            let mut round = found(conn, id)?;
            if_match.check(round.version)?;
            in_state(&round, &[RoundState::Proposed])?;
            if rings::any_waiting(conn, id)? {
                return Err(Problem::new(
                    Code::WrongState,
                    "Some rings of this round still wait for answers; they lapse by themselves at `answer_by`.",
                ));
            }
            round.state = RoundState::Closed;
            end(conn, &mut round, SwapStep::Closed, Some(officer.member), now)?;
            Reply::versioned(round.version, &RoundOut::of(&round))
        })
        .await
}

/// Keeps a round whose life is over.
pub(super) fn end(
    conn: &mut Conn,
    round: &mut Round,
    step: SwapStep,
    by: Option<MemberId>,
    now: DateTime<Utc>,
) -> Result<(), Problem> {
    round.closed_at = Some(now.naive_utc());
    round.version += 1;
    rounds::update(conn, round)?;
    Mark::in_round(round.id, by, now).write(conn, step, None)?;
    Ok(())
}

pub(super) fn found(conn: &mut Conn, id: RoundId) -> Result<Round, Problem> {
    rounds::find(conn, id)?.ok_or_else(|| Problem::not_found("round"))
}

/// Refuses what can be done in other states alone.
pub(super) fn in_state(round: &Round, states: &[RoundState]) -> Result<(), Problem> {
    if states.contains(&round.state) {
        return Ok(());
    }
    let allowed: Vec<&str> = states.iter().map(RoundState::as_str).collect();
    let detail = format!("This round is {}; it would have to be {}.", round.state, allowed.join(" or "));
    Err(Problem::new(Code::WrongState, detail))
}
