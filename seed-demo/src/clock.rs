//! The server's clock, turned while the demonstration is filled.

use chrono::{DateTime, TimeDelta};
use storksbill::app::App;

/// The server's clock, and how far it was turned.
pub(crate) struct TurnedClock<'a> {
    app: &'a App,
    /// The day it is, days since 1970-01-01.
    today: i32,
    turned: TimeDelta,
}

impl<'a> TurnedClock<'a> {
    /// A clock that shows `today`.
    pub(crate) fn new(app: &'a App, today: i32) -> Self {
        Self { app, today, turned: TimeDelta::zero() }
    }

    /// The same time of the day, on that day; on today it is as it was before it was turned.
    pub(crate) fn turn_to(&mut self, day: i32) {
        self.turn_by(TimeDelta::days(i64::from(day - self.today)) - self.turned);
    }

    /// An hour of a day, UTC.
    pub(crate) fn turn_to_hour(&mut self, day: i32, hour: i64) {
        let moment = DateTime::UNIX_EPOCH + TimeDelta::days(i64::from(day)) + TimeDelta::hours(hour);
        self.turn_by(moment - self.app.clock.now());
    }

    fn turn_by(&mut self, by: TimeDelta) {
        self.app.clock.advance(by);
        self.turned += by;
    }
}
