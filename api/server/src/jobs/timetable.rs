//! What is put in without anybody asking.

use chrono::{DateTime, TimeDelta, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::weather_sources::WeatherSource;
use storksbill_db::rows::{jobs, weather_sources};
use storksbill_domain::ids::JobId;
use storksbill_domain::words::JobKind;

use super::queue::enqueue;
use crate::app::App;
use crate::http::problem::Problem;

/// Puts in everything that is due.
pub(super) async fn enqueue_due(app: &App) -> Result<(), Problem> {
    enqueue_due_weather(app).await?;
    enqueue_if_none_since(app, JobKind::Refit, app.society.refit_hour).await?;
    Ok(())
}

/// Puts in a fetch for every station whose source has not been tried for as long as it says; gives how many.
pub async fn enqueue_due_weather(app: &App) -> Result<usize, Problem> {
    let now = app.clock.now();
    let due = app.db.read(move |conn| due_sources(conn, now)).await?;
    if due.is_empty() {
        return Ok(0);
    }
    app.db
        .write(move |conn| {
            // Another server on the same database may have been quicker.
            let due = due_sources(conn, now)?;
            for source in &due {
                enqueue(conn, JobKind::WeatherFetch, Some(source.station_id.as_str()), None, now)?;
            }
            Ok(due.len())
        })
        .await
}

fn due_sources(conn: &mut Conn, now: DateTime<Utc>) -> Result<Vec<WeatherSource>, Problem> {
    let mut due = Vec::new();
    for source in weather_sources::enabled(conn)? {
        let every = TimeDelta::hours(source.every_hours.into());
        let is_due = source.last_tried_at.is_none_or(|tried| tried.and_utc() + every <= now);
        if is_due && !jobs::is_unfinished(conn, JobKind::WeatherFetch, source.station_id.as_str())? {
            due.push(source);
        }
    }
    Ok(due)
}

/// Puts in a job of `kind` without subject, unless one was asked for since the clock last struck `hour` (UTC).
pub async fn enqueue_if_none_since(app: &App, kind: JobKind, hour: u32) -> Result<Option<JobId>, Problem> {
    let now = app.clock.now();
    let struck = last_strike(now, hour).naive_utc();
    let last = app.db.read(move |conn| Ok::<_, Problem>(jobs::last_asked_at(conn, kind)?)).await?;
    if last.is_some_and(|last| last >= struck) {
        return Ok(None);
    }
    app.db
        .write(move |conn| {
            // Another server on the same database may have been quicker.
            if jobs::last_asked_at(conn, kind)?.is_some_and(|last| last >= struck) {
                return Ok(None);
            }
            Ok(Some(enqueue(conn, kind, None, None, now)?.id))
        })
        .await
}

/// The last time before or at `now` that it was `hour` o'clock UTC.
fn last_strike(now: DateTime<Utc>, hour: u32) -> DateTime<Utc> {
    let midnight = now.date_naive().and_time(chrono::NaiveTime::MIN).and_utc();
    let today = midnight + TimeDelta::hours(hour.into());
    if today <= now { today } else { today - TimeDelta::days(1) }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[test]
    fn the_last_strike_is_today_from_the_hour_on_and_yesterday_before() {
        for (now, struck) in [
            ("2026-03-01T02:00:00Z", "2026-03-01T02:00:00Z"),
            ("2026-03-01T23:59:59Z", "2026-03-01T02:00:00Z"),
            ("2026-03-01T01:59:59Z", "2026-02-28T02:00:00Z"),
        ] {
            let moment = |text: &str| text.parse::<DateTime<Utc>>().unwrap();
            assert_eq!(last_strike(moment(now), 2), moment(struck), "{now}");
        }
    }
}
