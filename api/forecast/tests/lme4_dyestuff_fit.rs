//! One factor. Data: Davies & Goldsmith, "Statistical Methods in Research and Production", Edinburgh 1972,
//! Table 6.3 (yield of dyestuff, six batches of five). Reference fits: lme4 1.1-31, the program of Bates,
//! Maechler, Bolker & Walker 2015, Journal of Statistical Software 67(1).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::mixed::{Criterion, Estimate, Factor, Model, Options, Pick};

const YIELDS: [[f64; 5]; 6] = [
    [1545.0, 1440.0, 1440.0, 1520.0, 1580.0],
    [1540.0, 1555.0, 1490.0, 1560.0, 1495.0],
    [1595.0, 1550.0, 1605.0, 1510.0, 1560.0],
    [1445.0, 1440.0, 1595.0, 1465.0, 1545.0],
    [1595.0, 1630.0, 1515.0, 1635.0, 1625.0],
    [1520.0, 1455.0, 1450.0, 1480.0, 1445.0],
];
/// 0.95 quantile of chi squared with one degree of freedom.
const CHI_SQUARED_95: f64 = 3.841_459;

fn batches() -> Vec<u32> {
    (0..30).map(|row| row / 5).collect()
}

fn model(mean: Option<f64>) -> Model {
    let y: Vec<f64> = YIELDS.iter().flatten().map(|y| y - mean.unwrap_or(0.0)).collect();
    let ones = [1.0; 30];
    let x: &[&[f64]] = if mean.is_some() { &[] } else { &[&ones] };
    Model::new(&y, None, x, &[Factor { level: &batches(), levels: 6, covariates: &[] }]).unwrap()
}

fn fit(model: &Model, criterion: Criterion) -> Estimate {
    let estimate = model.fit(&Options { criterion, start: None, penalty: None }).unwrap();
    assert!(estimate.converged, "{estimate:?}");
    estimate
}

#[track_caller]
fn near(found: f64, published: f64, tolerance: f64) {
    assert!((found - published).abs() <= tolerance, "{found}, published {published}");
}

#[test]
fn restricted_fit() {
    let model = model(None);
    let estimate = fit(&model, Criterion::Reml);
    near(estimate.criterion, 319.654_276_8, 1e-3);
    near(estimate.sds[0][0], 42.000_60, 1e-3 * 42.0);
    near(estimate.sigma, 49.510_10, 1e-3 * 49.5);
    let solution = model.solve(&estimate.theta, estimate.sigma, &[]).unwrap();
    near(solution.beta[0], 1527.5, 1e-6);
    near(solution.beta_errors()[0], 19.383_41, 1e-3 * 19.4);
}

#[test]
fn maximum_likelihood_fit() {
    let model = model(None);
    let estimate = fit(&model, Criterion::Ml);
    near(estimate.criterion, 327.327_059_9, 1e-3);
    near(estimate.sds[0][0], 37.260_34, 1e-3 * 37.3);
    near(estimate.sigma, 49.510_10, 1e-3 * 49.5);
    let solution = model.solve(&estimate.theta, estimate.sigma, &[]).unwrap();
    near(solution.beta[0], 1527.5, 1e-6);
    near(solution.beta_errors()[0], 17.694_55, 1e-3 * 17.7);
}

#[test]
fn predicted_batch_effects() {
    const EFFECTS: [f64; 6] = [-17.606_85, 0.391_26, 28.562_23, -23.084_54, 56.733_19, -44.995_29];
    let (sd, sigma) = (42.000_60_f64, 49.510_10_f64);
    let solution = model(None).solve(&[sd / sigma], sigma, &[]).unwrap();
    let ratio: f64 = 5.0 * (sd / sigma).powi(2);
    near(ratio / (1.0 + ratio), 0.782_526_7, 1e-6);
    for (batch, effect) in EFFECTS.into_iter().enumerate() {
        near(solution.effects[0][batch], effect, 1e-4);
        let own_mean = YIELDS[batch].iter().sum::<f64>() / 5.0;
        near(solution.effects[0][batch], 0.782_526_7 * (own_mean - 1527.5), 1e-4);
        let predicted = solution.predict(&[1.0], &[Pick::intercept(0, batch)]).unwrap();
        near(predicted.mean, 1527.5 + effect, 1e-4);
        // Balanced one-way layout, by hand: the batch's own mean has weight w and the grand mean 1 - w, so the
        // error variance is w sigma^2 / 5 + (1 - w)^2 (sd^2 + sigma^2 / 5) / 6.
        let w = ratio / (1.0 + ratio);
        let wanted = w * sigma * sigma / 5.0 + (1.0 - w).powi(2) * (sd * sd + sigma * sigma / 5.0) / 6.0;
        near(predicted.variance, wanted, 1e-6 * wanted);
    }
}

/// Least value of `f` between two points, by golden section.
fn least(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let share = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (low, high);
    for _ in 0..60 {
        let (left, right) = (high - share * (high - low), low + share * (high - low));
        if f(left) < f(right) {
            high = right;
        } else {
            low = left;
        }
    }
    f(f64::midpoint(low, high))
}

/// -2 log likelihood at given standard deviations, from the one profiled over the residual.
fn deviance(model: &Model, sd: f64, sigma: f64) -> f64 {
    let profiled = model.criterion(&[sd / sigma], Criterion::Ml).unwrap();
    let ratio = (profiled.sigma / sigma).powi(2);
    profiled.criterion + model.rows() as f64 * (ratio - 1.0 - ratio.ln())
}

/// Ends of the 95 % profile intervals, where the deviance is above its least value by the quantile.
#[test]
fn profile_intervals() {
    let model_with_mean = model(None);
    let at_optimum = fit(&model_with_mean, Criterion::Ml).criterion;
    for end in [12.198_5, 84.063_0] {
        let profile = least(20.0, 120.0, |sigma| deviance(&model_with_mean, end, sigma));
        near(profile - at_optimum, CHI_SQUARED_95, 2e-3);
    }
    for end in [38.230_0, 67.657_7] {
        let profile = least(0.0, 200.0, |sd| deviance(&model_with_mean, sd, end));
        near(profile - at_optimum, CHI_SQUARED_95, 2e-3);
    }
    for end in [1_486.451_5, 1_568.548_5] {
        let profile = fit(&model(Some(end)), Criterion::Ml).criterion;
        near(profile - at_optimum, CHI_SQUARED_95, 2e-3);
    }
}
