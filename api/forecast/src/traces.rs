//! The days ahead, as each of the past years would have it.

use crate::calendar;
use crate::degree_days::HeatRule;
use crate::series::{HeatTable, Origin, RegionDay, RegionSeries};

/// Only the last so many years serve as traces: older ones are colder than the climate of today.
pub const MOST_TRACES: i32 = 30;
/// A window may be at most so many days long.
pub const LONGEST_WINDOW: i32 = 1_100;

/// Warming of a region's climate that [`Weathering::trend_c_per_year`] may make good, degrees C a year (from
/// memory, no source).
pub const TREND_C_PER_YEAR: f64 = 0.03;

/// How past years are moved before they stand for the days ahead. The default moves nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weathering {
    /// Lean on how warm the season is at present.
    pub anomaly: Option<Anomaly>,
    /// Degrees C added to a trace for each year it lies back.
    pub trend_c_per_year: f64,
    /// Only the last so many years serve, at most [`MOST_TRACES`].
    pub most_years: i32,
}

impl Default for Weathering {
    fn default() -> Self {
        Weathering { anomaly: None, trend_c_per_year: 0.0, most_years: MOST_TRACES }
    }
}

/// The season's present anomaly (see [`present_anomaly`]) taken to the days ahead: a day `lead` days after
/// `as_of` is moved by `share * anomaly * exp(-lead / decay_days)` degrees C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anomaly {
    pub share: f64,
    /// Days up to `as_of` over which it is measured.
    pub days: i32,
    pub decay_days: f64,
}

impl Default for Anomaly {
    /// Starting values from memory, no source: half of the last 30 days' anomaly, fading with 15 days.
    fn default() -> Self {
        Anomaly { share: 0.5, days: 30, decay_days: 15.0 }
    }
}

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

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FutureError {
    /// The horizon lies before `as_of` or before the stop.
    #[error("the horizon lies before the day of issue or the stop")]
    HorizonPast,
    /// More than [`LONGEST_WINDOW`] days from the stop to the horizon.
    #[error("the window from stop to horizon is too long")]
    WindowTooLong,
    /// No past year has weather for every day that is wanted.
    #[error("no past year has weather for every day ahead")]
    NoCompleteYear,
    /// A number of the weathering is not finite, or a count or decay not positive.
    #[error("the way past years are to be moved is not a usable one")]
    BadWeathering,
}

impl Future {
    /// Heat from `stop_day` to `last_day` as known at the end of `as_of`.
    ///
    /// Weather after `as_of` in the table is never used, neither as observed nor in a trace, so a past
    /// `as_of` gives the forecast that would have been given then. A day takes the heat of the same
    /// calendar date in the trace's year; 29 February takes that of the 28th where there is none. The
    /// stop may lie after `as_of`, for planning.
    pub fn ahead(table: &HeatTable, stop_day: i32, as_of: i32, last_day: i32) -> Result<Future, FutureError> {
        let seen = |day: i32| if day <= as_of { table.day_heat(day) } else { None };
        let past = |day: i32, years_back: i32| seen(calendar::years_back(day, years_back)?);
        Future::lay_out((stop_day, as_of, last_day), MOST_TRACES, seen, past)
    }

    /// As [`Future::ahead`], with the past years moved by `weathering` before they serve. The outside
    /// temperatures are moved, then taken under glass by `inside(min, max)` and turned to heat by `rule`, so a
    /// day below the base or a house held by its heating answers as it would. With the default weathering this is
    /// [`Future::ahead`] over the same series, to rounding.
    pub fn weathered(
        series: &RegionSeries,
        inside: impl Fn(f64, f64) -> (f64, f64),
        rule: HeatRule,
        (stop_day, as_of, last_day): (i32, i32, i32),
        weathering: &Weathering,
    ) -> Result<Future, FutureError> {
        weathering.check()?;
        let shift_now = present_anomaly(series, as_of, weathering).unwrap_or(0.0);
        let fading = |day: i32| match weathering.anomaly {
            None => 0.0,
            Some(anomaly) => {
                let lead = f64::from(day.saturating_sub(as_of).max(0));
                anomaly.share * shift_now * (-lead / anomaly.decay_days).exp()
            }
        };
        let known = |day: i32| known_day(series, day, as_of);
        let heat = |day: i32, shift: f64, shift_next: f64| {
            let own = known(day)?;
            let (min, max) = inside(own.min_c + shift, own.max_c + shift);
            let next = day.checked_add(1).and_then(known);
            let next_min = next.map(|next| inside(next.min_c + shift_next, next.max_c + shift_next).0);
            Some(rule.day(min, max, next_min))
        };
        let seen = |day: i32| heat(day, 0.0, 0.0);
        let past = |day: i32, years_back: i32| {
            let trend = weathering.trend_c_per_year * f64::from(years_back);
            let shift = |day: i32| trend + fading(day);
            heat(calendar::years_back(day, years_back)?, shift(day), shift(day.saturating_add(1)))
        };
        Future::lay_out((stop_day, as_of, last_day), weathering.most_years.min(MOST_TRACES), seen, past)
    }

    /// `seen` is the heat of a day known by `as_of`; `past` that of a day in the year so many years back.
    fn lay_out(
        (stop_day, as_of, last_day): (i32, i32, i32),
        most_years: i32,
        seen: impl Fn(i32) -> Option<f64>,
        past: impl Fn(i32, i32) -> Option<f64>,
    ) -> Result<Future, FutureError> {
        if last_day < as_of || last_day < stop_day {
            return Err(FutureError::HorizonPast);
        }
        if last_day.checked_sub(stop_day).is_none_or(|days| days >= LONGEST_WINDOW) {
            return Err(FutureError::WindowTooLong);
        }
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
                        None => past(day, years_back)?,
                    };
                    Some(sum)
                })
                .collect::<Option<Vec<f64>>>()?;
            Some(Trace { years_back, cumulative })
        };
        let traces: Vec<Trace> = (1..=most_years).filter_map(trace).collect();
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

impl Weathering {
    fn check(&self) -> Result<(), FutureError> {
        let anomaly = self.anomaly.is_none_or(|anomaly| {
            anomaly.share.is_finite()
                && (1..=LONGEST_WINDOW).contains(&anomaly.days)
                && anomaly.decay_days.is_finite()
                && anomaly.decay_days > 0.0
        });
        let sound = anomaly && self.trend_c_per_year.is_finite() && self.most_years >= 1;
        if sound { Ok(()) } else { Err(FutureError::BadWeathering) }
    }
}

/// How much warmer than usual the last days have been, degrees C outside: the mean over the days observed among
/// the last [`Anomaly::days`] of the day's mean temperature less that of the same date in the past years that
/// have it, each moved by the trend. `None` without an anomaly in the weathering, or when fewer than half of the
/// days can be compared.
pub fn present_anomaly(series: &RegionSeries, as_of: i32, weathering: &Weathering) -> Option<f64> {
    let window = weathering.anomaly?.days;
    let mean = |day: i32| known_day(series, day, as_of).map(|day| f64::midpoint(day.min_c, day.max_c));
    let (mut sum, mut compared) = (0.0, 0);
    for day in as_of.checked_sub(window)?.checked_add(1)?..=as_of {
        let Some(own) = mean(day) else { continue };
        let past: Vec<f64> = (1..=weathering.most_years.min(MOST_TRACES))
            .filter_map(|back| {
                Some(mean(calendar::years_back(day, back)?)? + weathering.trend_c_per_year * f64::from(back))
            })
            .collect();
        if !past.is_empty() {
            sum += own - past.iter().sum::<f64>() / past.len() as f64;
            compared += 1;
        }
    }
    (compared > 0 && 2 * compared >= window).then(|| sum / f64::from(compared))
}

fn known_day(series: &RegionSeries, day: i32, as_of: i32) -> Option<&RegionDay> {
    if day > as_of {
        return None;
    }
    series.get(day).filter(|day| day.origin != Origin::Missing)
}
