//! In show condition or not, day by day: too early, ready, or past its best.
//!
//! With `y_r` and `y_o` the log heats at show-ready and past best and `a` the log heat from the stop to the
//! end of a day,
//!
//! ```text
//! too early  y_r > a
//! ready      y_r <= a < y_o
//! over       y_r <= a, y_o <= a
//! ```
//!
//! so the three sum to one even where a wide spread lets a few plants be past best before they are ready.
//! The time in condition is a ratio of heats: a hot spell shortens it, a cool one draws it out.

use std::ops::RangeInclusive;

use storksbill_numerics::bivariate::both_above;
use storksbill_numerics::normal;

use crate::stages::{Outlook, Stage};
use crate::traces::{Future, Trace};

/// What the grower says of the plant at the end of `as_of`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// Not yet ready, as any plant whose stop is still to come.
    NotReady,
    /// Ready and not past its best. The day it became so, where known, is in the outlook.
    InCondition,
}

/// The chances of one day's end; they sum to one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConditionDay {
    pub day: i32,
    pub too_early: f64,
    pub ready: f64,
    pub over: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ConditionError {
    /// The range has no day, or one not after `as_of`, or one after the horizon.
    #[error("the days asked for are not all ahead and within the horizon")]
    BadDays,
    /// The outlook's means or spreads are not usable numbers.
    #[error("the outlook is not made of usable numbers")]
    BadOutlook,
    /// The plant is said to be in condition before its stop.
    #[error("the plant cannot be in condition before its stop")]
    NotStopped,
    /// What is said of the plant has less than one chance in ten thousand million in the model.
    #[error("the heat so far leaves what is said of the plant no chance")]
    Impossible,
}

const LEAST_CHANCE: f64 = 1e-10;

/// Show-ready and past best as one pair of normals.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Span {
    ready_mean: f64,
    ready_sd: f64,
    over_mean: f64,
    over_sd: f64,
    correlation: f64,
}

impl Span {
    pub(crate) fn of(outlook: &Outlook) -> Option<Span> {
        let (ready_sd, over_sd) = (outlook.sd_log(Stage::ShowReady), outlook.sd_log(Stage::PastBest));
        let covariance = outlook.covariance_of(Stage::ShowReady, Stage::PastBest);
        let product = ready_sd * over_sd;
        let span = Span {
            ready_mean: outlook.mean_log(Stage::ShowReady),
            ready_sd,
            over_mean: outlook.mean_log(Stage::PastBest),
            over_sd,
            correlation: if product > 0.0 { covariance / product } else { 0.0 },
        };
        let numbers = [span.ready_mean, span.over_mean, product, span.correlation];
        numbers.iter().all(|number| number.is_finite()).then_some(span)
    }

    /// `P(y_r > a)`.
    pub(crate) fn not_ready(&self, a: f64) -> f64 {
        normal::survival(standard(a, self.ready_mean, self.ready_sd))
    }

    /// `P(y_r <= a, y_o > b)`.
    pub(crate) fn ready_by_not_over(&self, a: f64, b: f64) -> f64 {
        let ready = standard(a, self.ready_mean, self.ready_sd);
        both_above(-ready, standard(b, self.over_mean, self.over_sd), -self.correlation)
    }
}

/// `(a - mean) / sd`; a variable without spread is at its mean, which counts as reached.
fn standard(a: f64, mean: f64, sd: f64) -> f64 {
    if sd > 0.0 {
        (a - mean) / sd
    } else if a >= mean {
        f64::INFINITY
    } else {
        f64::NEG_INFINITY
    }
}

/// Log heat from the stop to the end of `day`; minus infinity before the stop, `None` beyond the horizon.
fn log_heat(future: &Future, trace: &Trace, day: i32) -> Option<f64> {
    match usize::try_from(i64::from(day) - i64::from(future.stop_day)) {
        Ok(at) => trace.cumulative.get(at).map(|heat| heat.ln()),
        Err(_) => Some(f64::NEG_INFINITY),
    }
}

/// The chances of each day of `days`, all after `as_of`, given what is seen at the end of `as_of`: the mean
/// over the traces of the joint normal's own probabilities.
///
/// A sighting of an earlier stage, or the day the plant became ready, goes into the outlook first
/// ([`Outlook::given_day`]). Cost: two bivariate normals for each trace and day.
pub fn show_condition(
    future: &Future,
    outlook: &Outlook,
    seen: Seen,
    days: RangeInclusive<i32>,
) -> Result<Vec<ConditionDay>, ConditionError> {
    let span = Span::of(outlook).ok_or(ConditionError::BadOutlook)?;
    if days.is_empty() || *days.start() <= future.as_of || *days.end() > future.last_day {
        return Err(ConditionError::BadDays);
    }
    if seen == Seen::InCondition && future.as_of < future.stop_day {
        return Err(ConditionError::NotStopped);
    }
    let now: Vec<f64> = future
        .traces
        .iter()
        .map(|trace| log_heat(future, trace, future.as_of))
        .collect::<Option<_>>()
        .ok_or(ConditionError::BadDays)?;
    let known: f64 = now
        .iter()
        .map(|&now| match seen {
            Seen::NotReady => span.not_ready(now),
            Seen::InCondition => span.ready_by_not_over(now, now),
        })
        .sum();
    if known < LEAST_CHANCE * now.len() as f64 {
        return Err(ConditionError::Impossible);
    }
    days.map(|day| {
        let (mut too_early, mut ready) = (0.0, 0.0);
        for (trace, &now) in future.traces.iter().zip(&now) {
            let then = log_heat(future, trace, day).ok_or(ConditionError::BadDays)?;
            match seen {
                Seen::NotReady => {
                    too_early += span.not_ready(then);
                    ready += span.ready_by_not_over(then, then) - span.ready_by_not_over(now, then);
                }
                Seen::InCondition => ready += span.ready_by_not_over(now, then),
            }
        }
        let too_early = (too_early / known).clamp(0.0, 1.0);
        let ready = (ready / known).min(1.0 - too_early).max(0.0);
        Ok(ConditionDay { day, too_early, ready, over: 1.0 - too_early - ready })
    })
    .collect()
}

/// Days in condition to be expected within the days given: the sum of the chances of ready.
pub fn expected_days(days: &[ConditionDay]) -> f64 {
    days.iter().map(|day| day.ready).sum()
}
