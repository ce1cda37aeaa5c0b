//! The time as the society sees it. Stored instants are UTC, cut to microseconds: `SQLite` would keep
//! nanoseconds, `PostgreSQL` would not, and a record must read back as it was written.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

/// The system's clock, shifted or stopped where a test or a demonstration needs it.
#[derive(Debug, Clone)]
pub struct Clock {
    /// Added to the system's time, or the time itself when stopped; microseconds.
    micros: Arc<AtomicI64>,
    stopped: bool,
}

impl Clock {
    /// The real time.
    pub fn system() -> Self {
        Self { micros: Arc::new(AtomicI64::new(0)), stopped: false }
    }

    /// Runs from `start` on at the usual pace: a demonstration's "today".
    pub fn starting_at(start: DateTime<Utc>) -> Self {
        let shift = start.timestamp_micros() - Utc::now().timestamp_micros();
        Self { micros: Arc::new(AtomicI64::new(shift)), stopped: false }
    }

    /// Stands still at `moment` until [`Clock::advance`].
    pub fn stopped_at(moment: DateTime<Utc>) -> Self {
        Self { micros: Arc::new(AtomicI64::new(moment.timestamp_micros())), stopped: true }
    }

    /// Moves the clock (and all its clones) by `by`.
    pub fn advance(&self, by: TimeDelta) {
        self.micros.fetch_add(by.num_microseconds().unwrap_or(0), Ordering::Relaxed);
    }

    /// Now, in microseconds of UTC.
    pub fn now(&self) -> DateTime<Utc> {
        let own = self.micros.load(Ordering::Relaxed);
        let micros = if self.stopped { own } else { Utc::now().timestamp_micros() + own };
        DateTime::from_timestamp_micros(micros).unwrap_or(DateTime::UNIX_EPOCH)
    }

    /// Today's date in UTC.
    pub fn today(&self) -> NaiveDate {
        self.now().date_naive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stopped_clock_moves_only_when_told_and_takes_its_clones_along() {
        let start: DateTime<Utc> = "2026-05-10T09:00:00Z".parse().unwrap();
        let clock = Clock::stopped_at(start);
        let twin = clock.clone();
        assert_eq!(twin.now(), start);
        clock.advance(TimeDelta::days(3));
        assert_eq!(twin.today(), NaiveDate::from_ymd_opt(2026, 5, 13).unwrap());
    }

    #[test]
    fn a_shifted_clock_runs_on() {
        let start: DateTime<Utc> = "2020-02-29T12:00:00Z".parse().unwrap();
        let clock = Clock::starting_at(start);
        let first = clock.now();
        assert!(first >= start && first < start + TimeDelta::seconds(60));
        assert!(clock.now() >= first);
    }
}
