//! The days ahead, as each of the past years would have it.

use crate::calendar;
use crate::series::HeatTable;

/// Only the last so many years serve as traces: older ones are colder than the climate of today.
pub const MOST_TRACES: i32 = 30;
/// A window may be at most so many days long.
pub const LONGEST_WINDOW: i32 = 1_100;

/// The heat from the stop if the days not seen were those of `years_back` years ago.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    pub years_back: i32,
    /// `cumulative[i]` is the heat from the start of the stop day to the end of day `stop_day + i`.
    pub cumulative: Vec<f64>,
}

/// Heat from a stop to a horizon: as observed up to `as_of`, then by one trace for each past year.
#[derive(Debug, Clone, PartialEq)]
pub struct Future {
    pub stop_day: i32,
    pub as_of: i32,
    pub last_day: i32,
    /// Days up to `as_of` with weather of their own.
    pub observed_days: usize,
    /// Days up to `as_of` without weather, which each trace fills with its own.
    pub filled_days: usize,
    /// Never empty; nearest year first.
    pub traces: Vec<Trace>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FutureError {
    /// The horizon lies before `as_of` or before the stop.
    HorizonPast,
    /// More than [`LONGEST_WINDOW`] days from the stop to the horizon.
    WindowTooLong,
    /// No past year has weather for every day that is wanted.
    NoCompleteYear,
}

impl std::fmt::Display for FutureError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            FutureError::HorizonPast => "the horizon lies before the day of issue or the stop",
            FutureError::WindowTooLong => "the window from stop to horizon is too long",
            FutureError::NoCompleteYear => "no past year has weather for every day ahead",
        })
    }
}

impl std::error::Error for FutureError {}

impl Future {
    /// Heat from `stop_day` to `last_day` as known at the end of `as_of`.
    ///
    /// Weather after `as_of` in the table is never used, neither as observed nor in a trace, so a past
    /// `as_of` gives the forecast that would have been given then. A day takes the heat of the same
    /// calendar date in the trace's year; 29 February takes that of the 28th where there is none. The
    /// stop may lie after `as_of`, for planning.
    pub fn ahead(table: &HeatTable, stop_day: i32, as_of: i32, last_day: i32) -> Result<Future, FutureError> {
        if last_day < as_of || last_day < stop_day {
            return Err(FutureError::HorizonPast);
        }
        if last_day.checked_sub(stop_day).is_none_or(|days| days >= LONGEST_WINDOW) {
            return Err(FutureError::WindowTooLong);
        }
        let seen = |day: i32| if day <= as_of { table.day_heat(day) } else { None };
        let observed: Vec<Option<f64>> = (stop_day..=last_day).map(seen).collect();
        let observed_days = observed.iter().flatten().count();
        let filled_days = (stop_day..=last_day.min(as_of)).count() - observed_days;

        let trace = |years_back: i32| -> Option<Trace> {
            let mut sum = 0.0;
            let cumulative = (stop_day..=last_day)
                .zip(&observed)
                .map(|(day, known)| {
                    sum += match known {
                        Some(heat) => *heat,
                        None => seen(calendar::years_back(day, years_back)?)?,
                    };
                    Some(sum)
                })
                .collect::<Option<Vec<f64>>>()?;
            Some(Trace { years_back, cumulative })
        };
        let traces: Vec<Trace> = (1..=MOST_TRACES).filter_map(trace).collect();
        if traces.is_empty() {
            return Err(FutureError::NoCompleteYear);
        }
        Ok(Future { stop_day, as_of, last_day, observed_days, filled_days, traces })
    }

    /// Mean over the traces of the heat from the stop to the end of `day`; `None` outside the window.
    pub fn mean_heat(&self, day: i32) -> Option<f64> {
        let at = usize::try_from(day.checked_sub(self.stop_day)?).ok()?;
        let sum = self.traces.iter().map(|trace| trace.cumulative.get(at)).sum::<Option<f64>>()?;
        Some(sum / self.traces.len() as f64)
    }
}
