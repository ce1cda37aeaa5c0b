//! Days and moments of a show: wall-clock times in the show's zone, how long a plant must have been held, ages,
//! the time for protests. Nothing here reads a clock.

use std::fmt;

use chrono::{
    DateTime, Datelike, Days, LocalResult, Months, NaiveDate, NaiveDateTime, TimeDelta, TimeZone, Utc,
};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Why a wall-clock time in a zone is no moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoSuchMoment {
    /// The zone's name is not in the IANA time zone database.
    #[error("not a time zone: give a name of the IANA database, such as Europe/London")]
    UnknownZone,
    /// The clocks jump over this time that day.
    #[error("no such time that day: the clocks go forward over it")]
    SkippedByTheClocks,
}

/// The instant of a wall-clock time in a named zone. Where the clocks go back and the time comes twice, the
/// later one holds, so that nobody who reads the wall clock is shut out early.
pub fn instant(wall: NaiveDateTime, zone: &str) -> Result<DateTime<Utc>, NoSuchMoment> {
    let zone: Tz = zone.parse().map_err(|_e| NoSuchMoment::UnknownZone)?;
    match zone.from_local_datetime(&wall) {
        LocalResult::Single(moment) | LocalResult::Ambiguous(_, moment) => Ok(moment.with_timezone(&Utc)),
        LocalResult::None => Err(NoSuchMoment::SkippedByTheClocks),
    }
}

/// Whether what the server received at `received` came in time: at the closing moment itself it did.
pub fn in_time(received: DateTime<Utc>, closes: DateTime<Utc>) -> bool {
    received <= closes
}

/// A time before a show, in weeks or in months of the calendar: two months are not eight weeks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Period {
    /// So many weeks of seven days.
    Weeks(u32),
    /// So many months of the calendar; where the month is too short, its last day counts.
    Months(u32),
}

impl Period {
    /// The day so long before `day`. `None` before the calendar's beginning.
    ///
    /// Three months before 31 May is the last of February: the month's end stands in for a day it has not.
    pub fn before(self, day: NaiveDate) -> Option<NaiveDate> {
        match self {
            Self::Weeks(weeks) => day.checked_sub_days(Days::new(u64::from(weeks) * 7)),
            Self::Months(months) => day.checked_sub_months(Months::new(months)),
        }
    }
}

impl fmt::Display for Period {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Weeks(1) => f.write_str("1 week"),
            Self::Weeks(weeks) => write!(f, "{weeks} weeks"),
            Self::Months(1) => f.write_str("1 month"),
            Self::Months(months) => write!(f, "{months} months"),
        }
    }
}

/// Whole years of somebody born on `born` on the day `on`; `None` before birth. Those born on 29 February come
/// of age on 1 March in other years.
pub fn age_on(born: NaiveDate, on: NaiveDate) -> Option<u32> {
    on.years_since(born)
}

/// The season that `day` lies in begins on this day, where seasons begin on `month` and `day_of_month` each year.
pub fn season_start(day: NaiveDate, month: u32, day_of_month: u32) -> Option<NaiveDate> {
    let this_year = NaiveDate::from_ymd_opt(day.year(), month, day_of_month)?;
    if this_year <= day {
        Some(this_year)
    } else {
        NaiveDate::from_ymd_opt(day.year() - 1, month, day_of_month)
    }
}

/// Until when protests are taken.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ProtestsUntil {
    /// So many minutes after the hall opens to the public.
    MinutesAfterOpening(u32),
    /// This time of the wall clock, `YYYY-MM-DDTHH:MM:SS`.
    WallClock(NaiveDateTime),
}

/// The last moment at which a protest is taken, given when the hall opens to the public.
///
/// # Errors
/// The wall-clock time is no moment of the zone.
pub fn protests_close(
    until: &ProtestsUntil,
    hall_opens: DateTime<Utc>,
    zone: &str,
) -> Result<DateTime<Utc>, NoSuchMoment> {
    match until {
        ProtestsUntil::MinutesAfterOpening(minutes) => {
            Ok(hall_opens + TimeDelta::minutes(i64::from(*minutes)))
        }
        ProtestsUntil::WallClock(wall) => instant(*wall, zone),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sunday 28 March 2027 is the day the clocks go forward in the United Kingdom.
    #[test]
    fn wall_clock_times_follow_the_zone_through_the_clock_change() {
        let at = |text: &str| instant(text.parse().unwrap(), "Europe/London").map(|t| t.to_rfc3339());
        assert_eq!(at("2027-03-27T21:00:00").as_deref(), Ok("2027-03-27T21:00:00+00:00"));
        assert_eq!(at("2027-03-28T21:00:00").as_deref(), Ok("2027-03-28T20:00:00+00:00"));
        assert_eq!(at("2027-03-28T01:30:00"), Err(NoSuchMoment::SkippedByTheClocks));
        assert_eq!(at("2027-10-31T01:30:00").as_deref(), Ok("2027-10-31T01:30:00+00:00"));
        assert_eq!(
            instant("2027-03-27T21:00:00".parse().unwrap(), "Merrow/Quay"),
            Err(NoSuchMoment::UnknownZone)
        );
    }
}
