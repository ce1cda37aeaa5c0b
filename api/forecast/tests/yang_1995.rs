//! Base temperatures after Yang, Logan & Coffey 1995, Agricultural and Forest Meteorology 74:61-74, for the
//! four trials of the example in the R package `pollen`. The values for the least standard deviation in days
//! and of the logarithm were found by search apart from this crate; that package's own closed form for the
//! former gives 10.009, which is not a minimum.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::base_methods::{
    BaseError, Trial, flat_regression, least_cv_of_heat, least_log_sd, least_sd_in_days, least_sd_of_heat,
    rate_line,
};

fn trials() -> Vec<Trial> {
    [(25.0, 6.0), (20.0, 11.0), (15.0, 16.0), (10.0, 21.0)]
        .map(|(mean_c, days)| Trial { mean_c, days })
        .to_vec()
}

fn near(own: f64, value: f64, unit: f64) {
    assert!((own - value).abs() <= unit, "{own}, published {value}");
}

/// Standard deviation of a sample.
fn sd(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

fn heats(base: f64) -> Vec<f64> {
    trials().iter().map(|trial| trial.days * (trial.mean_c - base)).collect()
}

/// The criterion is least at the base, and so much there.
fn least(base: f64, value: f64, criterion: impl Fn(f64) -> f64) {
    near(criterion(base), value, 5e-7);
    for step in [-1.0, -0.01, 0.01, 1.0] {
        assert!(criterion(base + step) > criterion(base), "{step}");
    }
}

#[test]
fn the_least_standard_deviation_of_heat() {
    let base = least_sd_of_heat(&trials()).unwrap();
    near(base, 4.0, 1e-9);
    least(base, 28.867_513, |base| sd(&heats(base)));
}

#[test]
fn the_least_coefficient_of_variation() {
    let base = least_cv_of_heat(&trials()).unwrap();
    near(base, 2.211_921, 1e-6);
    least(base, 0.177_513, |base| sd(&heats(base)) / (heats(base).iter().sum::<f64>() / 4.0));
}

#[test]
fn the_regression_without_slope() {
    near(flat_regression(&trials()).unwrap(), 4.0, 1e-9);
}

#[test]
fn the_least_standard_deviation_in_days() {
    let base = least_sd_in_days(&trials()).unwrap();
    near(base, 2.518_519, 5e-7);
    least(base, 2.029_855, |base| sd(&heats(base)) / (17.5 - base));
}

#[test]
fn the_least_standard_deviation_of_the_logarithm() {
    let base = least_log_sd(&trials()).unwrap();
    near(base, 2.742_370, 2e-6);
    let logs = |base: f64| -> Vec<f64> { heats(base).iter().map(|heat| heat.ln()).collect() };
    least(base, 0.182_961, |base| sd(&logs(base)));
}

#[test]
fn the_regression_of_the_rate() {
    let line = rate_line(&trials()).unwrap();
    near(line.intercept, -0.043_019_48, 5e-9);
    near(line.slope, 0.007_711_04, 5e-9);
    near(line.base_c, 5.578_947, 5e-7);
    near(line.degree_days, 129.6842, 0.000_05);
}

#[test]
fn all_agree_where_the_heat_is_the_same_every_time() {
    let exact: Vec<Trial> =
        [12.0, 15.0, 21.0, 24.0].map(|mean_c| Trial { mean_c, days: 300.0 / (mean_c - 6.0) }).to_vec();
    for method in [least_sd_of_heat, least_cv_of_heat, flat_regression, least_sd_in_days] {
        near(method(&exact).unwrap(), 6.0, 1e-9);
    }
    near(least_log_sd(&exact).unwrap(), 6.0, 1e-6);
    near(rate_line(&exact).unwrap().base_c, 6.0, 1e-9);
}

#[test]
fn trials_that_tell_nothing_are_refused() {
    let one = Trial { mean_c: 15.0, days: 16.0 };
    assert_eq!(least_sd_of_heat(&[one]), Err(BaseError::TooFew));
    assert_eq!(least_sd_of_heat(&[one, one]), Err(BaseError::Undetermined));
    assert_eq!(rate_line(&[one, one]), Err(BaseError::TooFew));
    assert_eq!(rate_line(&[one, one, one]), Err(BaseError::Undetermined));
    let slower = Trial { mean_c: 25.0, days: 30.0 };
    assert_eq!(rate_line(&[one, one, slower]), Err(BaseError::Undetermined));
    for bad in [Trial { days: 0.0, ..one }, Trial { mean_c: f64::NAN, ..one }] {
        assert_eq!(least_cv_of_heat(&[one, bad]), Err(BaseError::BadTrial));
        assert_eq!(least_log_sd(&[one, bad]), Err(BaseError::BadTrial));
    }
    // Longer when warmer: the logarithm is least at the end of the range.
    assert_eq!(least_log_sd(&[one, slower]), Err(BaseError::Undetermined));
}
