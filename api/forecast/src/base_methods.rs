//! The base temperature of development, estimated from days at several temperatures.
//!
//! Source: Yang, Logan & Coffey 1995, Agricultural and Forest Meteorology 74:61-74 (least standard deviation
//! of heat, least coefficient of variation, regression of heat on temperature, least standard deviation in
//! days). With `d` days at mean temperature `T` the heat above a base `b` is `d (T - b)`; all have a closed
//! form but [`least_log_sd`].
//!
//! The least standard deviation of the heat itself is kept for comparison: it is drawn to whatever base makes
//! the heats small. Cost: one pass over the trials each, [`least_log_sd`] about a hundred.

/// One trial: the mean temperature, degrees C, and the days to the event.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trial {
    pub mean_c: f64,
    pub days: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum BaseError {
    /// Fewer than two trials (three for the rate).
    #[error("too few trials")]
    TooFew,
    /// A temperature is not finite, or a number of days not finite and positive.
    #[error("a trial is not usable")]
    BadTrial,
    /// The trials do not tell one base from another: all at one temperature, or all of one length.
    #[error("the trials do not determine a base temperature")]
    Undetermined,
}

/// Means and central moments of days `d`, temperature `T` and their product `h`, the heat above nought.
struct Moments {
    days: f64,
    heat: f64,
    mean_c: f64,
    days_days: f64,
    days_heat: f64,
    heat_heat: f64,
    mean_c_days: f64,
    mean_c_heat: f64,
}

fn check(trials: &[Trial], least: usize) -> Result<(), BaseError> {
    let usable = |trial: &Trial| trial.mean_c.is_finite() && trial.days.is_finite() && trial.days > 0.0;
    if trials.len() < least {
        Err(BaseError::TooFew)
    } else if trials.iter().all(usable) {
        Ok(())
    } else {
        Err(BaseError::BadTrial)
    }
}

fn moments(trials: &[Trial]) -> Result<Moments, BaseError> {
    check(trials, 2)?;
    let count = trials.len() as f64;
    let mean = |of: &dyn Fn(&Trial) -> f64| trials.iter().map(of).sum::<f64>() / count;
    let (of_days, of_heat, of_mean_c) =
        (|trial: &Trial| trial.days, |trial: &Trial| trial.days * trial.mean_c, |trial: &Trial| trial.mean_c);
    let (days, heat, mean_c) = (mean(&of_days), mean(&of_heat), mean(&of_mean_c));
    let central = |a: &dyn Fn(&Trial) -> f64, a_mean: f64, b: &dyn Fn(&Trial) -> f64, b_mean: f64| -> f64 {
        trials.iter().map(|trial| (a(trial) - a_mean) * (b(trial) - b_mean)).sum::<f64>() / count
    };
    Ok(Moments {
        days,
        heat,
        mean_c,
        days_days: central(&of_days, days, &of_days, days),
        days_heat: central(&of_days, days, &of_heat, heat),
        heat_heat: central(&of_heat, heat, &of_heat, heat),
        mean_c_days: central(&of_mean_c, mean_c, &of_days, days),
        mean_c_heat: central(&of_mean_c, mean_c, &of_heat, heat),
    })
}

fn ratio(above: f64, below: f64) -> Result<f64, BaseError> {
    let base = above / below;
    if base.is_finite() { Ok(base) } else { Err(BaseError::Undetermined) }
}

/// The base with the least standard deviation of heat.
pub fn least_sd_of_heat(trials: &[Trial]) -> Result<f64, BaseError> {
    let m = moments(trials)?;
    ratio(m.days_heat, m.days_days)
}

/// The base with the least coefficient of variation of heat.
pub fn least_cv_of_heat(trials: &[Trial]) -> Result<f64, BaseError> {
    let m = moments(trials)?;
    ratio(m.heat * m.days_heat - m.days * m.heat_heat, m.heat * m.days_days - m.days * m.days_heat)
}

/// The base at which the regression of heat on temperature has no slope.
pub fn flat_regression(trials: &[Trial]) -> Result<f64, BaseError> {
    let m = moments(trials)?;
    ratio(m.mean_c_heat, m.mean_c_days)
}

/// The base with the least standard deviation in days, the standard deviation of heat over the mean
/// temperature above the base.
pub fn least_sd_in_days(trials: &[Trial]) -> Result<f64, BaseError> {
    let m = moments(trials)?;
    ratio(m.mean_c * m.days_heat - m.heat_heat, m.mean_c * m.days_days - m.days_heat)
}

/// The base with the least standard deviation of the logarithm of heat, at most 40 degrees below the coolest
/// trial; found on a grid and then by golden section, to 1e-6 C. [`BaseError::Undetermined`] when the least
/// lies at the end of that range.
pub fn least_log_sd(trials: &[Trial]) -> Result<f64, BaseError> {
    const STEP_C: f64 = 0.5;
    const STEPS: u32 = 80;
    check(trials, 2)?;
    let coolest = trials.iter().map(|trial| trial.mean_c).fold(f64::INFINITY, f64::min);
    let count = trials.len() as f64;
    let variance = |base: f64| -> f64 {
        let log = |trial: &Trial| (trial.days * (trial.mean_c - base)).ln();
        let mean = trials.iter().map(log).sum::<f64>() / count;
        trials.iter().map(|trial| (log(trial) - mean).powi(2)).sum::<f64>() / count
    };
    let base_at = |step: u32| coolest - STEP_C * f64::from(step) - 1e-3;
    let best = (0..=STEPS)
        .min_by(|&a, &b| variance(base_at(a)).total_cmp(&variance(base_at(b))))
        .filter(|&step| step > 0 && step < STEPS)
        .ok_or(BaseError::Undetermined)?;
    let (mut low, mut high) = (base_at(best + 1), base_at(best - 1));
    let share = (5.0_f64.sqrt() - 1.0) / 2.0;
    while high - low > 1e-7 {
        let (left, right) = (high - share * (high - low), low + share * (high - low));
        if variance(left) < variance(right) {
            high = right;
        } else {
            low = left;
        }
    }
    Ok(f64::midpoint(low, high))
}

/// Base and heat by the regression of the rate `1/d` on temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateLine {
    /// Rate at 0 C, a day.
    pub intercept: f64,
    /// Rate a degree and day.
    pub slope: f64,
    /// Where the line meets nought.
    pub base_c: f64,
    /// Degree-days above the base, `1 / slope`.
    pub degree_days: f64,
}

/// The straight line of least squares through rate against temperature. [`BaseError::Undetermined`] when it
/// does not rise.
pub fn rate_line(trials: &[Trial]) -> Result<RateLine, BaseError> {
    check(trials, 3)?;
    let count = trials.len() as f64;
    let mean_c = trials.iter().map(|trial| trial.mean_c).sum::<f64>() / count;
    let mean_rate = trials.iter().map(|trial| 1.0 / trial.days).sum::<f64>() / count;
    let (mut across, mut along) = (0.0, 0.0);
    for trial in trials {
        across += (trial.mean_c - mean_c) * (1.0 / trial.days - mean_rate);
        along += (trial.mean_c - mean_c).powi(2);
    }
    let slope = ratio(across, along)?;
    if slope <= 0.0 {
        return Err(BaseError::Undetermined);
    }
    let intercept = mean_rate - slope * mean_c;
    Ok(RateLine { intercept, slope, base_c: ratio(-intercept, slope)?, degree_days: ratio(1.0, slope)? })
}
