//! Two crossed factors. Data: Davies & Goldsmith, "Statistical Methods in Research and Production", Edinburgh
//! 1972 (growth inhibition of six samples on 24 plates). Reference fits: lme4 1.1-31, the program of Bates,
//! Maechler, Bolker & Walker 2015, Journal of Statistical Software 67(1).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::mixed::{Criterion, Estimate, Factor, Model, Options};

/// Plates a to x; in each, samples A to F.
const DIAMETERS: [[f64; 6]; 24] = [
    [27.0, 23.0, 26.0, 23.0, 23.0, 21.0],
    [27.0, 23.0, 26.0, 23.0, 23.0, 21.0],
    [25.0, 21.0, 25.0, 24.0, 24.0, 20.0],
    [26.0, 23.0, 25.0, 23.0, 23.0, 20.0],
    [25.0, 22.0, 26.0, 22.0, 23.0, 20.0],
    [24.0, 22.0, 25.0, 23.0, 22.0, 19.0],
    [24.0, 20.0, 23.0, 21.0, 22.0, 19.0],
    [26.0, 22.0, 26.0, 24.0, 24.0, 21.0],
    [24.0, 21.0, 24.0, 22.0, 22.0, 20.0],
    [24.0, 21.0, 24.0, 23.0, 22.0, 19.0],
    [26.0, 23.0, 26.0, 24.0, 24.0, 21.0],
    [25.0, 22.0, 26.0, 24.0, 24.0, 20.0],
    [26.0, 24.0, 26.0, 24.0, 25.0, 22.0],
    [26.0, 23.0, 26.0, 23.0, 23.0, 20.0],
    [26.0, 23.0, 25.0, 24.0, 24.0, 22.0],
    [25.0, 22.0, 25.0, 23.0, 23.0, 20.0],
    [25.0, 21.0, 24.0, 23.0, 23.0, 20.0],
    [25.0, 22.0, 24.0, 23.0, 23.0, 19.0],
    [24.0, 21.0, 23.0, 21.0, 21.0, 19.0],
    [26.0, 23.0, 26.0, 24.0, 24.0, 21.0],
    [25.0, 21.0, 24.0, 22.0, 22.0, 18.0],
    [25.0, 22.0, 25.0, 22.0, 22.0, 20.0],
    [24.0, 21.0, 24.0, 22.0, 24.0, 19.0],
    [24.0, 21.0, 24.0, 22.0, 21.0, 18.0],
];
const PLATE: usize = 0;
const SAMPLE: usize = 1;
/// 0.95 quantile of chi squared with one degree of freedom.
const CHI_SQUARED_95: f64 = 3.841_459;

fn model(mean: Option<f64>) -> Model {
    let y: Vec<f64> = DIAMETERS.iter().flatten().map(|y| y - mean.unwrap_or(0.0)).collect();
    let plate: Vec<u32> = (0..144).map(|row| row / 6).collect();
    let sample: Vec<u32> = (0..144).map(|row| row % 6).collect();
    let ones = [1.0; 144];
    let x: &[&[f64]] = if mean.is_some() { &[] } else { &[&ones] };
    let factors = [
        Factor { level: &plate, levels: 24, covariates: &[] },
        Factor { level: &sample, levels: 6, covariates: &[] },
    ];
    Model::new(&y, None, x, &factors).unwrap()
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
    near(estimate.criterion, 330.860_589, 1e-3);
    near(estimate.sds[PLATE][0], 0.8467, 1e-3 * 0.85);
    near(estimate.sds[SAMPLE][0], 1.9316, 1e-3 * 1.93);
    near(estimate.sigma, 0.549_923, 1e-3 * 0.55);
    let solution = model.solve(&estimate.theta, estimate.sigma, &[]).unwrap();
    near(solution.beta[0], 22.972_22, 1e-5);
    near(solution.beta_errors()[0], 0.808_60, 1e-3 * 0.81);
}

#[test]
fn maximum_likelihood_fit() {
    let model = model(None);
    let estimate = fit(&model, Criterion::Ml);
    near(estimate.criterion, 332.188_348_7, 1e-3);
    near(estimate.sds[PLATE][0], 0.845_572_5, 1e-3 * 0.85);
    near(estimate.sds[SAMPLE][0], 1.770_647, 1e-3 * 1.77);
    near(estimate.sigma, 0.549_932_1, 1e-3 * 0.55);
    let solution = model.solve(&estimate.theta, estimate.sigma, &[]).unwrap();
    near(solution.beta_errors()[0], 0.744_596, 1e-3 * 0.74);
}

#[test]
fn predicted_effects() {
    const SAMPLES: [f64; 6] = [2.187_058, -1.010_476, 1.937_900, -0.096_895, -0.013_842, -3.003_745];
    const FIRST_PLATES: [f64; 6] = [0.804_547, 0.804_547, 0.181_672, 0.337_391, 0.025_953, -0.441_203];
    let model = model(None);
    let estimate = fit(&model, Criterion::Reml);
    let solution = model.solve(&estimate.theta, estimate.sigma, &[]).unwrap();
    for (level, published) in SAMPLES.into_iter().enumerate() {
        near(solution.effects[SAMPLE][level], published, 1e-4);
    }
    for (level, published) in FIRST_PLATES.into_iter().enumerate() {
        near(solution.effects[PLATE][level], published, 1e-4);
    }
}

/// Least value of `f` between two points, by golden section.
fn least(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let share = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (low, high);
    for _ in 0..34 {
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
fn deviance(model: &Model, plate: f64, sample: f64, sigma: f64) -> f64 {
    let profiled = model.criterion(&[plate / sigma, sample / sigma], Criterion::Ml).unwrap();
    let ratio = (profiled.sigma / sigma).powi(2);
    profiled.criterion + model.rows() as f64 * (ratio - 1.0 - ratio.ln())
}

/// The profile passes the quantile within one unit of the last digit printed for the end of the interval.
fn crosses_at(end: f64, least: f64, profile: impl Fn(f64) -> f64) {
    const LAST_DIGIT: f64 = 1e-4;
    let above = |at: f64| profile(at) - least - CHI_SQUARED_95;
    let (before, after) = (above(end - LAST_DIGIT), above(end + LAST_DIGIT));
    assert!(before * after < 0.0, "{end}: {before}, {after}");
}

/// Ends of the 95 % profile intervals, where the deviance is above its least value by the quantile.
#[test]
fn profile_intervals() {
    let full = model(None);
    let at_optimum = fit(&full, Criterion::Ml).criterion;
    for end in [0.6336, 1.1821] {
        crosses_at(end, at_optimum, |plate| {
            least(0.4, 0.8, |sigma| least(0.5, 5.0, |sample| deviance(&full, plate, sample, sigma)))
        });
    }
    for end in [1.0958, 3.5563] {
        crosses_at(end, at_optimum, |sample| {
            least(0.4, 0.8, |sigma| least(0.4, 2.0, |plate| deviance(&full, plate, sample, sigma)))
        });
    }
    for end in [0.4858, 0.6295] {
        crosses_at(end, at_optimum, |sigma| {
            least(0.4, 2.0, |plate| least(0.5, 5.0, |sample| deviance(&full, plate, sample, sigma)))
        });
    }
    for end in [21.2666, 24.6778] {
        crosses_at(end, at_optimum, |mean| fit(&model(Some(mean)), Criterion::Ml).criterion);
    }
}
