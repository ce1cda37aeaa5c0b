//! Freeze a round, and solve it again from what was kept.

use actix_web::{post, web};
use chrono::{DateTime, TimeDelta, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::jobs::Job;
use storksbill_db::rows::rounds::{self, Round};
use storksbill_domain::ids::{MemberId, RoundId};
use storksbill_domain::words::{JobKind, RoundState, SwapStep};

use super::open::{found, fresh, in_state, insert, usual_answer_days};
use super::snapshot::Snapshot;
use super::steps::Mark;
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::etag::IfMatch;
use crate::http::problem::Problem;
use crate::http::reply::Reply;
use crate::jobs::{JobOut, enqueue};

/// Freeze a round
///
/// Officers only. Everything it is solved from is kept with its SHA-256; what is offered, wanted or changed
/// afterwards waits for the next round. The job that comes back finds the rings and proposes them.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 202, description = "Frozen; the job finds its rings", body = JobOut))
)]
#[post("/swaps/rounds/{round_id}/freeze")]
pub async fn freeze(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<RoundId>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let (id, now, today) = (path.into_inner(), app.clock.now(), app.clock.today());
    let job = app
        .db
        .write(move |conn| {
            let mut round = found(conn, id)?;
            if_match.check(round.version)?;
            in_state(&round, &[RoundState::Open])?;
            let snapshot = Snapshot::take(conn, &round, today)?;
            fix(conn, &mut round, &snapshot, Some(officer.member), now)
        })
        .await?;
    Reply::accepted(format!("/api/v1/jobs/{}", job.id), &JobOut::of(job))
}

/// Keeps what a round is solved from and puts its job in.
fn fix(
    conn: &mut Conn,
    round: &mut Round,
    snapshot: &Snapshot,
    by: Option<MemberId>,
    now: DateTime<Utc>,
) -> Result<Job, Problem> {
    let (text, hash) = snapshot.to_text()?;
    let count = |number: usize| i32::try_from(number).unwrap_or(i32::MAX);
    round.state = RoundState::Frozen;
    round.frozen_at = Some(now.naive_utc());
    round.offers = count(snapshot.offers.len());
    round.wants = count(snapshot.wants.len());
    round.snapshot = Some(text);
    round.snapshot_sha256 = Some(hash.clone());
    round.version += 1;
    rounds::update(conn, round)?;
    Mark::in_round(round.id, by, now).write(conn, SwapStep::Frozen, Some(format!("SHA-256 {hash}")))?;
    Ok(enqueue(conn, JobKind::SwapRound, Some(round.id.as_str()), by, now)?)
}

/// Solve a round again
///
/// Officers only; once it is frozen. A job solves it from what was kept when it was frozen and says whether the
/// answer is the same. Nothing is changed.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses(
        (status = 202, description = "The job tells whether the answer is the same", body = JobOut),
        (status = 409, description = "It has not been frozen yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/swaps/rounds/{round_id}/rerun")]
pub async fn rerun(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<RoundId>,
) -> Result<Reply, Problem> {
    let (id, now) = (path.into_inner(), app.clock.now());
    let job = app
        .db
        .write(move |conn| {
            let round = found(conn, id)?;
            in_state(&round, &[RoundState::Proposed, RoundState::Closed])?;
            Snapshot::of(&round)?;
            Ok::<_, Problem>(enqueue(conn, JobKind::SwapRerun, Some(id.as_str()), Some(officer.member), now)?)
        })
        .await?;
    Reply::accepted(format!("/api/v1/jobs/{}", job.id), &JobOut::of(job))
}

/// Freezes every open round whose time has come, and where the society has rounds by themselves, opens and
/// freezes one when the last is old enough. Gives how many were frozen. Several servers may do it at once.
pub async fn freeze_due(app: &App) -> Result<usize, Problem> {
    let (now, today) = (app.clock.now(), app.clock.today());
    let every = app.society.round_every;
    let newest_allowed = (every > TimeDelta::zero()).then(|| (now - every).naive_utc());
    let is_due = move |conn: &mut Conn| -> Result<bool, Problem> {
        let Some(newest_allowed) = newest_allowed else { return Ok(false) };
        Ok(rounds::last_opened_at(conn)?.is_none_or(|last| last <= newest_allowed))
    };
    // A look first: most minutes have nothing to write.
    let due = app
        .db
        .read(move |conn| {
            Ok::<_, Problem>(!rounds::due_to_freeze(conn, now.naive_utc())?.is_empty() || is_due(conn)?)
        })
        .await?;
    if !due {
        return Ok(0);
    }
    let usual = usual_answer_days(app);
    app.db
        .write(move |conn| {
            // Another server on the same database may have been quicker.
            let mut due = rounds::due_to_freeze(conn, now.naive_utc())?;
            if is_due(conn)? {
                let round = fresh(None, now, usual);
                insert(conn, &round, now)?;
                due.push(round);
            }
            for round in &mut due {
                let snapshot = Snapshot::take(conn, round, today)?;
                fix(conn, round, &snapshot, None, now)?;
            }
            Ok(due.len())
        })
        .await
}
