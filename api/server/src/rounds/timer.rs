//! What becomes of rounds by itself: rings whose time to answer is over lapse, rounds are frozen when they are
//! due, and closed when nothing of them waits any more.

use std::time::Duration;

use storksbill_db::rows::{rings, rounds};

use super::{freeze, jobs, settle};
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
        match freeze::freeze_due(&app).await {
            Ok(0) => {}
            Ok(rounds) => tracing::info!(rounds, "rounds were frozen"),
            Err(problem) => tracing::error!(%problem, "rounds that are due could not be frozen"),
        }
        match close_finished(&app).await {
            Ok(0) => {}
            Ok(rounds) => tracing::info!(rounds, "rounds closed"),
            Err(problem) => tracing::error!(%problem, "finished rounds could not be closed"),
        }
    }
}

/// Ends every ring whose `answer_by` has passed and frees what it promised. Gives their number. Several
/// servers may do it at once: each ring is ended by one of them.
pub async fn lapse_overdue(app: &App) -> Result<usize, Problem> {
    let now = app.clock.now();
    // A look first: most minutes have nothing to write.
    let due = app.db.read(move |conn| Ok::<_, Problem>(rings::overdue(conn, now.naive_utc(), 1)?)).await?;
    let mut all = 0;
    let mut ended = due.len();
    while ended > 0 {
        ended = app
            .db
            .write(move |conn| {
                let rings = rings::overdue(conn, now.naive_utc(), RINGS_AT_ONCE)?;
                let count = rings.len();
                for ring in rings {
                    settle::lapse(conn, ring, now)?;
                }
                Ok::<_, Problem>(count)
            })
            .await?;
        all += ended;
    }
    Ok(all)
}

/// Closes every round whose rings were all declined, lapsed or handed over, unless somebody still looks for
/// rings in it. Gives their number.
pub async fn close_finished(app: &App) -> Result<usize, Problem> {
    let now = app.clock.now();
    let any = app.db.read(|conn| Ok::<_, Problem>(!rounds::proposed(conn)?.is_empty())).await?;
    if !any {
        return Ok(0);
    }
    app.db.write(move |conn| jobs::close_finished(conn, now)).await
}
