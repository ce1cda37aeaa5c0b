//! The date of an event as a distribution over days.

use storksbill_numerics::bivariate::both_above;
use storksbill_numerics::normal;

use crate::stages::{Outlook, Stage};
use crate::traces::Future;

/// Distribution of the day a plant is ready (or at another stage), given that it is not by the end of
/// `as_of`. "Ready" below stands for the stage asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct DateDistribution {
    /// First day with a probability of its own: the day after `as_of`, or the stop if that is later.
    pub first_day: i32,
    /// `cumulative[i]` is the probability of ready by the end of day `first_day + i`; never falls.
    pub cumulative: Vec<f64>,
    /// First day with a probability of at least 0.1; `None` when that lies beyond the horizon.
    pub p10: Option<i32>,
    /// First day with a probability of at least 0.25, likewise.
    pub p25: Option<i32>,
    /// Median, likewise.
    pub p50: Option<i32>,
    /// First day with a probability of at least 0.75, likewise.
    pub p75: Option<i32>,
    /// First day with a probability of at least 0.9, likewise.
    pub p90: Option<i32>,
    /// Mean of the day among the days before the horizon; `None` when more than [`MOST_UNPLACED`] of the
    /// probability lies beyond it, because the mean would then say more about the horizon than the plant.
    pub mean: Option<f64>,
    /// Probability left beyond the horizon; not shared out among the days before it.
    pub beyond_horizon: f64,
    /// Probability, before the plant was known not to be ready, that it would be by `as_of`: near 1 the
    /// plant is overdue and the records or the stop deserve a look.
    pub ready_by_as_of: f64,
}

/// Share of the probability beyond the horizon up to which [`DateDistribution::mean`] is given.
pub const MOST_UNPLACED: f64 = 0.01;

/// Least chance of a stage not yet come that [`stage_date_not_yet`] works with.
const LEAST_CHANCE: f64 = 1e-10;

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PredictError {
    /// The mean is not finite, or the standard deviation not finite and positive.
    #[error("the requirement is not a usable number")]
    BadRequirement,
    /// `as_of` is the horizon itself: no day is left to predict.
    #[error("no day is left before the horizon")]
    NoDayAhead,
    /// The plant has had so much heat that the model gives it no chance of not being ready.
    #[error("the plant has had far more heat than any such plant needs")]
    LongOverdue,
}

/// The distribution of the ready day for a log requirement `N(mean_log, sd_log^2)`:
/// `F(d) = mean over traces of Phi((ln A_m(d) - mean_log) / sd_log)`, given not ready by `as_of`.
///
/// `A_m(d)` runs to the end of day `d`, so `F(d)` is the probability of ready on or before `d`.
pub fn ready_date(future: &Future, mean_log: f64, sd_log: f64) -> Result<DateDistribution, PredictError> {
    if !(mean_log.is_finite() && sd_log.is_finite() && sd_log > 0.0) {
        return Err(PredictError::BadRequirement);
    }
    // Survival, not F itself: its relative accuracy holds where F is all but 1.
    let survival = mean_over_traces(future, |_, then| normal::survival((then - mean_log) / sd_log));
    from_survival(future, &survival)
}

/// Mean over the traces of `survival(log heat to the end of as_of, log heat to the end of the day)`, for each
/// day from the stop.
fn mean_over_traces(future: &Future, survival: impl Fn(f64, f64) -> f64) -> Vec<f64> {
    let days = future.traces.iter().map(|trace| trace.cumulative.len()).min().unwrap_or(0);
    let seen = usize::try_from(i64::from(future.as_of) - i64::from(future.stop_day)).ok();
    let mut sums = vec![0.0; days];
    for trace in &future.traces {
        let now = seen.and_then(|at| trace.cumulative.get(at)).map_or(f64::NEG_INFINITY, |heat| heat.ln());
        for (sum, heat) in sums.iter_mut().zip(&trace.cumulative) {
            *sum += survival(now, heat.ln());
        }
    }
    for sum in &mut sums {
        *sum /= future.traces.len() as f64;
    }
    sums
}

/// The distribution from the unconditional chance of "not by the end of the day", day by day from the stop.
fn from_survival(future: &Future, survival: &[f64]) -> Result<DateDistribution, PredictError> {
    let first_day = future.stop_day.max(future.as_of.saturating_add(1));
    let skipped = usize::try_from(i64::from(first_day) - i64::from(future.stop_day)).unwrap_or(0);
    let not_yet = match skipped.checked_sub(1) {
        None => 1.0,
        Some(at) => survival.get(at).copied().ok_or(PredictError::NoDayAhead)?,
    };
    if not_yet < f64::MIN_POSITIVE {
        return Err(PredictError::LongOverdue);
    }
    let cumulative: Vec<f64> =
        survival.iter().skip(skipped).map(|later| (1.0 - later / not_yet).clamp(0.0, 1.0)).collect();
    let Some(&last) = cumulative.last() else { return Err(PredictError::NoDayAhead) };
    let mut dates = DateDistribution {
        first_day,
        cumulative,
        p10: None,
        p25: None,
        p50: None,
        p75: None,
        p90: None,
        mean: None,
        beyond_horizon: 1.0 - last,
        ready_by_as_of: 1.0 - not_yet,
    };
    (dates.p10, dates.p50, dates.p90) = (dates.quantile(0.1), dates.quantile(0.5), dates.quantile(0.9));
    (dates.p25, dates.p75) = (dates.quantile(0.25), dates.quantile(0.75));
    if dates.beyond_horizon <= MOST_UNPLACED {
        let sum: f64 = dates.by_day().map(|(day, own)| f64::from(day) * own).sum();
        dates.mean = Some(sum / last);
    }
    Ok(dates)
}

/// The distribution of the day of a stage, given that it has not come by `as_of`: the same mixture with the
/// stage's mean and standard deviation. Other stages already seen are in the outlook
/// ([`Outlook::given_day`]).
pub fn stage_date(
    future: &Future,
    outlook: &Outlook,
    stage: Stage,
) -> Result<DateDistribution, PredictError> {
    ready_date(future, outlook.mean_log(stage), outlook.sd_log(stage))
}

/// As [`stage_date`], given that not even the earlier stage `not_yet` has come by `as_of`: a plant still
/// without a bud says more than one merely not ready. Every day has
/// `P(y_stage > a(d), y_not_yet > a(as_of))` in place of `P(y_stage > a(d))`.
pub fn stage_date_not_yet(
    future: &Future,
    outlook: &Outlook,
    stage: Stage,
    not_yet: Stage,
) -> Result<DateDistribution, PredictError> {
    if not_yet == stage {
        return stage_date(future, outlook, stage);
    }
    let (mean, sd) = (outlook.mean_log(stage), outlook.sd_log(stage));
    let (earlier_mean, earlier_sd) = (outlook.mean_log(not_yet), outlook.sd_log(not_yet));
    let usable = |mean: f64, sd: f64| mean.is_finite() && sd.is_finite() && sd > 0.0;
    if !(usable(mean, sd) && usable(earlier_mean, earlier_sd)) {
        return Err(PredictError::BadRequirement);
    }
    let correlation = outlook.covariance_of(stage, not_yet) / (sd * earlier_sd);
    let survival = mean_over_traces(future, |now, then| {
        both_above((then - mean) / sd, (now - earlier_mean) / earlier_sd, correlation)
    });
    if future.as_of >= future.stop_day {
        // Subtractions within the bivariate normal leave an absolute error; far in its tail nothing is known.
        let known = mean_over_traces(future, |now, _| normal::survival((now - earlier_mean) / earlier_sd));
        if known.first().is_some_and(|&chance| chance < LEAST_CHANCE) {
            return Err(PredictError::LongOverdue);
        }
    }
    from_survival(future, &survival)
}

impl DateDistribution {
    /// First day by whose end the probability is at least `p`; `None` when no day before the horizon is.
    pub fn quantile(&self, p: f64) -> Option<i32> {
        (self.first_day..).zip(&self.cumulative).find(|&(_, &reached)| reached >= p).map(|(day, _)| day)
    }

    /// Probability of ready by the end of `day`; zero before the first day, and the horizon's value after
    /// the last.
    pub fn probability_by(&self, day: i32) -> f64 {
        let Ok(at) = usize::try_from(i64::from(day) - i64::from(self.first_day)) else { return 0.0 };
        self.cumulative.get(at).or(self.cumulative.last()).copied().unwrap_or(0.0)
    }

    /// Probability of each day on its own, as (day, probability).
    pub fn by_day(&self) -> impl Iterator<Item = (i32, f64)> + '_ {
        let mut before = 0.0;
        (self.first_day..).zip(&self.cumulative).map(move |(day, &reached)| {
            let own = reached - before;
            before = reached;
            (day, own)
        })
    }
}
