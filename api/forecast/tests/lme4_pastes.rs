//! One factor nested in another. Data: Davies & Goldsmith, "Statistical Methods in Research and Production",
//! Edinburgh 1972 (strength of a chemical paste, two assays of three casks from each of ten batches).
//! Reference fits: lme4 1.1-31, the program of Bates, Maechler, Bolker & Walker 2015, Journal of Statistical
//! Software 67(1).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::mixed::{Criterion, Factor, Model, Options};

/// Batches A to J; in each, casks a, a, b, b, c, c.
const STRENGTHS: [[f64; 6]; 10] = [
    [62.8, 62.6, 60.1, 62.3, 62.7, 63.1],
    [60.0, 61.4, 57.5, 56.9, 61.1, 58.9],
    [58.7, 57.5, 63.9, 63.1, 65.4, 63.7],
    [57.1, 56.4, 56.9, 58.6, 64.7, 64.5],
    [55.1, 55.1, 54.7, 54.2, 58.8, 57.5],
    [63.4, 64.9, 59.3, 58.1, 60.5, 60.0],
    [62.5, 62.6, 61.0, 58.7, 56.9, 57.7],
    [59.2, 59.4, 65.2, 66.0, 64.8, 64.1],
    [54.8, 54.8, 64.0, 64.0, 57.7, 56.8],
    [58.3, 59.3, 59.2, 59.2, 58.9, 56.6],
];

struct Published {
    criterion: f64,
    cask: f64,
    batch: f64,
    sigma: f64,
    error: f64,
}

#[track_caller]
fn near(found: f64, published: f64, tolerance: f64) {
    assert!((found - published).abs() <= tolerance, "{found}, published {published}");
}

fn check(criterion: Criterion, published: &Published) {
    let y: Vec<f64> = STRENGTHS.iter().flatten().copied().collect();
    let batch: Vec<u32> = (0..60).map(|row| row / 6).collect();
    let cask: Vec<u32> = (0..60).map(|row| row / 2).collect();
    let factors = [
        Factor { level: &batch, levels: 10, covariates: &[] },
        Factor { level: &cask, levels: 30, covariates: &[] },
    ];
    let model = Model::new(&y, None, &[&[1.0; 60]], &factors).unwrap();
    let estimate = model.fit(&Options { criterion, start: None, penalty: None }).unwrap();
    assert!(estimate.converged);
    near(estimate.criterion, published.criterion, 1e-3);
    near(estimate.sds[0][0], published.batch, 1e-3 * published.batch);
    near(estimate.sds[1][0], published.cask, 1e-3 * published.cask);
    near(estimate.sigma, published.sigma, 1e-3 * published.sigma);
    let solution = model.solve(&estimate.theta, estimate.sigma, &[]).unwrap();
    near(solution.beta[0], 60.053_33, 1e-5);
    near(solution.beta_errors()[0], published.error, 1e-3 * published.error);
}

#[test]
fn restricted_fit() {
    check(
        Criterion::Reml,
        &Published {
            criterion: 246.990_745_9,
            cask: 2.904_077,
            batch: 1.287_366,
            sigma: 0.823_407_5,
            error: 0.676_870,
        },
    );
}

#[test]
fn maximum_likelihood_fit() {
    check(
        Criterion::Ml,
        &Published {
            criterion: 247.994_465_9,
            cask: 2.904_069,
            batch: 1.095_070,
            sigma: 0.823_408_8,
            error: 0.642_136,
        },
    );
}
