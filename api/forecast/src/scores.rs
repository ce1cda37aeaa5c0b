//! How good forecasts were, once the outcome is known.
//!
//! Every score here is negatively oriented: less is better. The continuous ranked probability score (CRPS)
//! is in the unit of the forecast, days for a date, and reduces to the absolute error of a forecast
//! without spread.
//!
//! Sources: Gneiting & Raftery 2007, Journal of the American Statistical Association 102:359-378 (CRPS,
//! interval and logarithmic score); Jordan, Krueger & Lerch 2019, Journal of Statistical Software 90(12)
//! (closed forms); Ferro 2014, Quarterly Journal of the Royal Meteorological Society 140:1917-1923 (the
//! fair ensemble score); Gneiting & Ranjan 2011, Journal of Business & Economic Statistics 29:411-422 (the
//! score up to a threshold); Brier 1950, Monthly Weather Review 78:1-3; Czado, Gneiting & Held 2009,
//! Biometrics 65:1254-1261 (probability integral transform of counts).

use storksbill_numerics::gamma::half_step;
use storksbill_numerics::{normal, student_t};

#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ScoreError {
    /// The forecast is no distribution: a spread that is not positive, a probability outside 0 to 1, a
    /// cumulative probability that falls, too few members.
    #[error("the forecast is not a distribution")]
    BadForecast,
    /// The outcome is not a finite number.
    #[error("the outcome is not a finite number")]
    BadOutcome,
    /// Nothing to score.
    #[error("there is nothing to score")]
    Nothing,
    /// The days given do not hold the whole distribution; so much lies beyond them.
    #[error("a probability of {probability} lies beyond the last day of the forecast")]
    BeyondHorizon { probability: f64 },
}

fn check(centre: f64, spread: f64, outcome: f64) -> Result<(), ScoreError> {
    if !(centre.is_finite() && spread.is_finite() && spread > 0.0) {
        return Err(ScoreError::BadForecast);
    }
    if outcome.is_finite() { Ok(()) } else { Err(ScoreError::BadOutcome) }
}

/// CRPS of the normal forecast `N(mean, sd^2)`.
pub fn crps_normal(mean: f64, sd: f64, outcome: f64) -> Result<f64, ScoreError> {
    check(mean, sd, outcome)?;
    let z = (outcome - mean) / sd;
    let below = 2.0 * normal::cdf(z) - 1.0;
    Ok(sd * (z * below + 2.0 * normal::density(z) - 1.0 / std::f64::consts::PI.sqrt()))
}

/// CRPS of the forecast whose logarithm is `N(mean_log, sd_log^2)`.
pub fn crps_lognormal(mean_log: f64, sd_log: f64, outcome: f64) -> Result<f64, ScoreError> {
    check(mean_log, sd_log, outcome)?;
    let z = if outcome > 0.0 { (outcome.ln() - mean_log) / sd_log } else { f64::NEG_INFINITY };
    let mean = (mean_log + 0.5 * sd_log * sd_log).exp();
    let spread = normal::cdf(sd_log * std::f64::consts::FRAC_1_SQRT_2);
    Ok(outcome * (2.0 * normal::cdf(z) - 1.0) - 2.0 * mean * (normal::cdf(z - sd_log) + spread - 1.0))
}

/// CRPS of Student's t with the given degrees of freedom, moved to `centre` and stretched by `scale`.
/// With one degree of freedom or fewer it is infinite, and refused as [`ScoreError::BadForecast`].
pub fn crps_student_t(freedom: f64, centre: f64, scale: f64, outcome: f64) -> Result<f64, ScoreError> {
    check(centre, scale, outcome)?;
    if freedom.is_nan() || freedom <= 1.0 {
        return Err(ScoreError::BadForecast);
    }
    if freedom.is_infinite() {
        return crps_normal(centre, scale, outcome);
    }
    let z = (outcome - centre) / scale;
    let below = z * (2.0 * student_t::cdf(z, freedom) - 1.0);
    let peak = 2.0 * student_t::density(z, freedom) * (freedom + z * z) / (freedom - 1.0);
    // B(1/2, v - 1/2) / B(1/2, v/2)^2 in ratios of gamma functions half a step apart.
    let step = half_step(0.5 * freedom);
    let betas = step * step / (std::f64::consts::PI.sqrt() * half_step(freedom - 0.5));
    Ok(scale * (below + peak - 2.0 * freedom.sqrt() / (freedom - 1.0) * betas))
}

/// How the spread of an ensemble is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EnsembleSpread {
    /// Over all pairs, a member with itself included: the score of the step function the members make.
    AllPairs,
    /// Over pairs of different members: the score does not favour large ensembles over small ones.
    Fair,
}

/// CRPS of an ensemble of equally likely members, `mean |x - y| - mean |x - x'| / 2`.
///
/// Cost: members x log(members), and a sorted copy of them.
pub fn crps_ensemble(members: &[f64], spread: EnsembleSpread, outcome: f64) -> Result<f64, ScoreError> {
    if !outcome.is_finite() {
        return Err(ScoreError::BadOutcome);
    }
    let least = if spread == EnsembleSpread::Fair { 2 } else { 1 };
    if members.len() < least || members.iter().any(|member| !member.is_finite()) {
        return Err(ScoreError::BadForecast);
    }
    let mut sorted = members.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let count = sorted.len() as f64;
    let error = sorted.iter().map(|member| (member - outcome).abs()).sum::<f64>() / count;
    // The sum of x_j - x_i over i < j: the k-th of n members is the larger of k pairs, the smaller of n-1-k.
    let pairs: f64 =
        sorted.iter().enumerate().map(|(k, member)| (2.0 * k as f64 + 1.0 - count) * member).sum();
    let of = match spread {
        EnsembleSpread::AllPairs => count * count,
        EnsembleSpread::Fair => count * (count - 1.0),
    };
    Ok(error - pairs / of)
}

/// Rounding a whole distribution may have lost.
const ROUNDING: f64 = 1e-9;

/// The last cumulative probability of a forecast in days, after checking that it is one.
fn whole(cumulative: &[f64]) -> Result<f64, ScoreError> {
    let mut before = 0.0;
    for &reached in cumulative {
        // Also false for what is not a number.
        if !(reached >= before && reached <= 1.0 + ROUNDING) {
            return Err(ScoreError::BadForecast);
        }
        before = reached;
    }
    if cumulative.is_empty() { Err(ScoreError::BadForecast) } else { Ok(before) }
}

fn offset(first_day: i32, day: i32) -> i64 {
    i64::from(day) - i64::from(first_day)
}

/// Days from the end of the forecast to the outcome: nought on its last day, negative within it.
fn beyond(first_day: i32, cumulative: &[f64], outcome: i32) -> i64 {
    let length = i64::try_from(cumulative.len()).unwrap_or(i64::MAX);
    offset(first_day, outcome).saturating_sub(length) + 1
}

/// The cumulative probability at the end of `day`: nought before the first, the last one after the last.
fn reached(first_day: i32, cumulative: &[f64], day: i64) -> f64 {
    match usize::try_from(day - i64::from(first_day)) {
        Err(_) => 0.0,
        Ok(at) => cumulative.get(at).or(cumulative.last()).copied().unwrap_or(0.0),
    }
}

/// CRPS in days of a forecast date: the sum over all days `d` of `(F(d) - [outcome <= d])^2`, where
/// `cumulative[i]` is `F(first_day + i)`.
///
/// The forecast must be whole: with more than a rounding error beyond its last day the sum is not known,
/// and the error is [`ScoreError::BeyondHorizon`]; [`crps_days_to_horizon`] scores such a forecast.
pub fn crps_days(first_day: i32, cumulative: &[f64], outcome: i32) -> Result<f64, ScoreError> {
    let last = whole(cumulative)?;
    if 1.0 - last > ROUNDING {
        return Err(ScoreError::BeyondHorizon { probability: 1.0 - last });
    }
    // The forecast is sure by the last day; each day more until the outcome counts one.
    let after = (beyond(first_day, cumulative, outcome) - 1).max(0) as f64;
    Ok(crps_days_to_horizon(first_day, cumulative, outcome)? + after)
}

/// The part of that sum up to the last day of `cumulative`, whatever lies beyond it.
///
/// This is the CRPS weighted by one up to the horizon and nought after, itself a proper score: an outcome
/// beyond the horizon counts as "not by the horizon". Forecasts are comparable only over one horizon. An
/// outcome before the first day counts one for each day between.
pub fn crps_days_to_horizon(first_day: i32, cumulative: &[f64], outcome: i32) -> Result<f64, ScoreError> {
    whole(cumulative)?;
    let at = offset(first_day, outcome);
    let before = (-at).max(0) as f64;
    let within: f64 = (0_i64..)
        .zip(cumulative)
        .map(|(day, reached)| {
            let error = reached - f64::from(u8::from(at <= day));
            error * error
        })
        .sum();
    Ok(before + within)
}

/// Logarithmic score of a forecast date: minus the logarithm of the probability of the outcome's own day.
/// Infinite where that is nought; an outcome beyond the horizon takes all that lies beyond it, so that
/// "later than the horizon" is one class.
pub fn log_score_days(first_day: i32, cumulative: &[f64], outcome: i32) -> Result<f64, ScoreError> {
    let last = whole(cumulative)?;
    let day = i64::from(outcome);
    let own = if beyond(first_day, cumulative, outcome) > 0 {
        1.0 - last
    } else {
        reached(first_day, cumulative, day) - reached(first_day, cumulative, day - 1)
    };
    Ok(-own.max(0.0).ln())
}

/// Probability integral transform of a forecast date, the middle of the step at the outcome:
/// `(F(outcome) + F(outcome - 1)) / 2`. Over many good forecasts its mean is 1/2 and its variance all but
/// 1/12. An outcome beyond the horizon takes the middle between the last probability and one.
pub fn mid_pit(first_day: i32, cumulative: &[f64], outcome: i32) -> Result<f64, ScoreError> {
    let last = whole(cumulative)?;
    let day = i64::from(outcome);
    Ok(if beyond(first_day, cumulative, outcome) > 0 {
        f64::midpoint(last, 1.0)
    } else {
        f64::midpoint(reached(first_day, cumulative, day), reached(first_day, cumulative, day - 1))
    })
}

/// Logarithmic score of the normal forecast `N(mean, sd^2)`: minus the logarithm of its density.
pub fn log_score_normal(mean: f64, sd: f64, outcome: f64) -> Result<f64, ScoreError> {
    check(mean, sd, outcome)?;
    let z = (outcome - mean) / sd;
    Ok(0.5 * z * z + sd.ln() + 0.5 * (2.0 * std::f64::consts::PI).ln())
}

/// Score of the central interval from `lower` to `upper` that should hold `probability` of the outcomes:
/// its width, and `2 / (1 - probability)` for each unit by which it is missed.
pub fn interval_score(lower: f64, upper: f64, probability: f64, outcome: f64) -> Result<f64, ScoreError> {
    // The comparisons are false for what is not a number.
    if !(lower <= upper && lower.is_finite() && upper.is_finite() && probability > 0.0 && probability < 1.0) {
        return Err(ScoreError::BadForecast);
    }
    if !outcome.is_finite() {
        return Err(ScoreError::BadOutcome);
    }
    let missed = (lower - outcome).max(outcome - upper).max(0.0);
    Ok(upper - lower + 2.0 / (1.0 - probability) * missed)
}

fn check_probabilities(forecasts: &[(f64, bool)]) -> Result<(), ScoreError> {
    if forecasts.is_empty() {
        return Err(ScoreError::Nothing);
    }
    if forecasts.iter().all(|(p, _)| (0.0..=1.0).contains(p)) { Ok(()) } else { Err(ScoreError::BadForecast) }
}

/// Mean square of probability minus outcome (one when it happened, nought when not).
pub fn brier(forecasts: &[(f64, bool)]) -> Result<f64, ScoreError> {
    check_probabilities(forecasts)?;
    let error = |&(p, happened): &(f64, bool)| p - f64::from(u8::from(happened));
    Ok(forecasts.iter().map(error).map(|e| e * e).sum::<f64>() / forecasts.len() as f64)
}

/// One row of a reliability table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReliabilityBin {
    /// Forecasts from here, inclusive.
    pub from: f64,
    /// To here; exclusive but for the last bin, which ends at one.
    pub to: f64,
    pub forecasts: usize,
    /// Mean of the probabilities given; `None` in an empty bin.
    pub mean_probability: Option<f64>,
    /// Share of the events that happened, to be near the mean probability; `None` in an empty bin.
    pub happened: Option<f64>,
}

/// Forecast probabilities in `bins` classes of equal width against what happened.
pub fn reliability(forecasts: &[(f64, bool)], bins: usize) -> Result<Vec<ReliabilityBin>, ScoreError> {
    check_probabilities(forecasts)?;
    if bins == 0 {
        return Err(ScoreError::Nothing);
    }
    let edge = |number: usize| number as f64 / bins as f64;
    Ok((0..bins)
        .map(|number| {
            let (from, to) = (edge(number), edge(number + 1));
            let inside = |p: f64| p >= from && (p < to || number + 1 == bins);
            let mut row = (0_usize, 0.0, 0_usize);
            for &(p, happened) in forecasts.iter().filter(|(p, _)| inside(*p)) {
                row = (row.0 + 1, row.1 + p, row.2 + usize::from(happened));
            }
            let share = |of: f64| (row.0 > 0).then(|| of / row.0 as f64);
            ReliabilityBin {
                from,
                to,
                forecasts: row.0,
                mean_probability: share(row.1),
                happened: share(row.2 as f64),
            }
        })
        .collect())
}

/// Share of the outcomes inside their interval, as (lower, upper, outcome), the ends included. A value
/// that is not a number is outside.
pub fn coverage(intervals: &[(f64, f64, f64)]) -> Result<f64, ScoreError> {
    if intervals.is_empty() {
        return Err(ScoreError::Nothing);
    }
    let held =
        intervals.iter().filter(|(lower, upper, outcome)| lower <= outcome && outcome <= upper).count();
    Ok(held as f64 / intervals.len() as f64)
}
