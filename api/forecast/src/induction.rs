//! The cold regal pelargoniums need before they set buds.
//!
//! Trade guides give four weeks with nights at or below 13.3 C (56 F) and days at or below 20 C (68 F); a
//! day counts here when its mean is at or below the one and its maximum at or below the other, inside the
//! house and from 1 October. Reckoning by days, and the same for every cultivar, is common practice: some
//! are known to do with half, and with colder nights.

use crate::calendar;
use crate::glass::{Gain, House};
use crate::series::{Origin, RegionSeries};

/// Mean inside of a cold day at most, degrees C.
pub const MEAN_C: f64 = 13.3;
/// Maximum inside of a cold day at most.
pub const MAX_C: f64 = 20.0;
/// Cold days that set buds.
pub const NEEDED: u32 = 28;
/// What is added to the standard deviation of the log requirement of a plant stopped with its need unmet
/// (common practice).
pub const UNMET_SD_LOG: f64 = 0.10;

/// The cold a plant has had by its stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ColdNeed {
    /// Cold days from the start to the day before the stop.
    pub cold_days: u32,
    /// Days of that time without weather, which count as not cold.
    pub unknown_days: u32,
    /// The day the need was met; `None` when it was not by the stop.
    pub met_on: Option<i32>,
}

impl ColdNeed {
    pub fn met(&self) -> bool {
        self.met_on.is_some()
    }

    /// Not met, nor would it be if every unknown day had been cold.
    pub fn surely_unmet(&self) -> bool {
        self.met_on.is_none() && self.cold_days + self.unknown_days < NEEDED
    }
}

/// The start of the cold season before a day: the last 1 October on or before it, the last 1 April in the
/// southern hemisphere. `None` beyond the calendar.
pub fn season_start(day: i32, southern: bool) -> Option<i32> {
    let month = if southern { 4 } else { 10 };
    let year = calendar::date(day).year;
    let this_year = calendar::epoch_day(year, month, 1)?;
    if this_year <= day { Some(this_year) } else { calendar::epoch_day(year - 1, month, 1) }
}

/// The cold from `from_day` to the day before `stop_day` inside the house; nothing when the stop is not
/// after the start. Days outside the series are unknown.
///
/// Cost: one look at each of the days, at most two years of them.
pub fn cold_need(series: &RegionSeries, house: House, gain: Gain, from_day: i32, stop_day: i32) -> ColdNeed {
    let mut need = ColdNeed { cold_days: 0, unknown_days: 0, met_on: None };
    // Two years bound the walk when the start is mistaken.
    for day in from_day.max(stop_day.saturating_sub(731))..stop_day {
        match series.get(day).filter(|known| known.origin != Origin::Missing) {
            None => need.unknown_days += 1,
            Some(outside) => {
                let (min, max) = house.inside_with(gain, outside.min_c, outside.max_c);
                if f64::midpoint(min, max) <= MEAN_C && max <= MAX_C {
                    need.cold_days += 1;
                    if need.cold_days == NEEDED {
                        need.met_on = Some(day);
                    }
                }
            }
        }
    }
    need
}
