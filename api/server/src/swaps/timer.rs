//! Rounds that run by themselves, and rings whose time to answer is over.

use std::time::Duration;

use chrono::TimeDelta;
use storksbill_db::rows::swaps;
use storksbill_domain::ids::RoundId;

use super::{market, settle};
use crate::app::App;
use crate::http::problem::Problem;

/// How often it is looked what is due.
const EVERY: Duration = Duration::from_secs(60);

/// Rings that one transaction ends at most, so that other writers get their turn.
const RINGS_AT_ONCE: i64 = 50;

/// Looks every minute what is due. Runs until it is dropped.
pub async fn keep_rounds(app: App) {
    let mut ticks = tokio::time::interval(EVERY);
    ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        ticks.tick().await;
        match lapse_overdue(&app).await {
            Ok(0) => {}
            Ok(rings) => tracing::info!(rings, "rings lapsed"),
            Err(problem) => tracing::error!(%problem, "overdue rings could not be ended"),
        }
        match round_if_due(&app).await {
            Ok(None) => {}
            Ok(Some(round)) => tracing::info!(%round, "a swap round was run"),
            Err(problem) => tracing::error!(%problem, "the swap round could not be run"),
        }
    }
}

/// Ends every ring whose `answer_by` has passed and frees what it promised. Gives their number. Several
/// servers may do it at once: each ring is ended by one of them.
pub async fn lapse_overdue(app: &App) -> Result<usize, Problem> {
    let now = app.clock.now().naive_utc();
    // A look first: most minutes have nothing to write.
    let due = app.db.read(move |conn| Ok::<_, Problem>(swaps::overdue_rings(conn, now, 1)?)).await?;
    let mut all = 0;
    let mut ended = due.len();
    while ended > 0 {
        ended = app
            .db
            .write(move |conn| {
                let rings = swaps::overdue_rings(conn, now, RINGS_AT_ONCE)?;
                let count = rings.len();
                for ring in rings {
                    settle::lapse(conn, ring)?;
                }
                Ok::<_, Problem>(count)
            })
            .await?;
        all += ended;
    }
    Ok(all)
}

/// Runs a round where the society has them run by themselves and the last is old enough, or there was none.
pub async fn round_if_due(app: &App) -> Result<Option<RoundId>, Problem> {
    let every = app.society.round_every;
    if every <= TimeDelta::zero() {
        return Ok(None);
    }
    let now = app.clock.now();
    let newest_allowed = (now - every).naive_utc();
    let last = app.db.read(|conn| Ok::<_, Problem>(swaps::last_round_at(conn)?)).await?;
    if last.is_some_and(|last| last > newest_allowed) {
        return Ok(None);
    }
    let proposal = market::draw_up(app).await?;
    let answer_by = now + app.society.answer_within;
    app.db
        .write(move |conn| {
            // Another server on the same database may have been quicker.
            if swaps::last_round_at(conn)?.is_some_and(|last| last > newest_allowed) {
                return Ok(None);
            }
            Ok(Some(market::store(conn, &proposal, None, now, answer_by)?.id))
        })
        .await
}
