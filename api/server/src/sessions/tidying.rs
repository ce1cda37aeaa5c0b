//! What is thrown away every hour, since nobody needs it any more.

use chrono::TimeDelta;
use storksbill_db::rows::{guessing as attempts, members, sessions};

use super::guessing::{FAMILIAR_FOR, WINDOW};
use crate::app::App;
use crate::http::idempotency;
use crate::http::problem::Problem;

/// Tokens of a log-in that is over are kept for this long, for whoever asks what became of it.
const TOKENS_KEPT: TimeDelta = TimeDelta::hours(24);
/// Log-ins that are over (common practice).
const SESSIONS_KEPT: TimeDelta = TimeDelta::days(90);
/// Invitations that were taken up or ran out (common practice).
const INVITATIONS_KEPT: TimeDelta = TimeDelta::days(30);
/// Requests to join that nobody decided (common practice).
const REQUESTS_KEPT: TimeDelta = TimeDelta::days(60);

/// Throws away what is old: answers kept under idempotency keys, tokens, log-ins, invitations, counts of attempts and
/// requests to join. Each in a write of its own; returns what could not be done.
pub async fn tidy(app: &App) -> Vec<(&'static str, Problem)> {
    let now = app.clock.now().naive_utc();
    let done = [
        ("idempotency keys", idempotency::forget_old(app).await.map(drop)),
        (
            "log-ins",
            app.db
                .write(move |conn| {
                    sessions::forget_ended(conn, now - TOKENS_KEPT, now - SESSIONS_KEPT)?;
                    Ok(())
                })
                .await,
        ),
        (
            "invitations",
            app.db
                .write(move |conn| {
                    members::forget_invitations(conn, now - INVITATIONS_KEPT)?;
                    Ok(())
                })
                .await,
        ),
        (
            "attempts",
            app.db
                .write(move |conn| {
                    attempts::forget(conn, now - WINDOW, now - FAMILIAR_FOR)?;
                    Ok(())
                })
                .await,
        ),
        (
            "requests to join",
            app.db
                .write(move |conn| {
                    attempts::forget_joins(conn, now - REQUESTS_KEPT)?;
                    Ok(())
                })
                .await,
        ),
    ];
    done.into_iter().filter_map(|(what, done)| done.err().map(|problem| (what, problem))).collect()
}
