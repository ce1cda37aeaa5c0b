//! Correlated intercepts and slopes. Data: Belenky et al. 2003, Journal of Sleep Research 12:1-12 (see
//! data/README.md). Reference fits: lme4 1.1-31, the program of Bates, Maechler, Bolker & Walker 2015, Journal
//! of Statistical Software 67(1).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::mixed::{Criterion, Estimate, Factor, Model, Options, Solution};

struct Study {
    subject: Vec<u32>,
    days: Vec<f64>,
    reaction: Vec<f64>,
}

fn study() -> Study {
    let mut study = Study { subject: Vec::new(), days: Vec::new(), reaction: Vec::new() };
    let mut names: Vec<&str> = Vec::new();
    for line in include_str!("data/sleepstudy.csv").lines().skip(1) {
        let mut cells = line.split(',');
        let name = cells.next().unwrap();
        if names.last() != Some(&name) {
            names.push(name);
        }
        study.subject.push(u32::try_from(names.len() - 1).unwrap());
        study.days.push(cells.next().unwrap().parse().unwrap());
        study.reaction.push(cells.next().unwrap().parse().unwrap());
    }
    assert_eq!((study.days.len(), names.len()), (180, 18));
    study
}

fn fit(slopes: bool, criterion: Criterion) -> (Estimate, Solution) {
    let study = study();
    let ones = [1.0; 180];
    let both: &[&[f64]] = &[&ones, &study.days];
    let covariates = if slopes { both } else { &[] };
    let factor = Factor { level: &study.subject, levels: 18, covariates };
    let model = Model::new(&study.reaction, None, both, &[factor]).unwrap();
    let estimate = model.fit(&Options { criterion, start: None, penalty: None }).unwrap();
    assert!(estimate.converged, "{estimate:?}");
    let solution = model.solve(&estimate.theta, estimate.sigma, &[]).unwrap();
    (estimate, solution)
}

#[track_caller]
fn near(found: f64, published: f64, tolerance: f64) {
    assert!((found - published).abs() <= tolerance, "{found}, published {published}");
}

#[test]
fn restricted_fit() {
    let (estimate, solution) = fit(true, Criterion::Reml);
    near(estimate.criterion, 1_743.628_272_0, 1e-3);
    near(estimate.sds[0][0], 24.740_66, 1e-3 * 24.7);
    near(estimate.sds[0][1], 5.922_138, 1e-3 * 5.9);
    near(estimate.correlations[0][0], 0.065_55, 1e-3);
    near(estimate.sigma, 25.591_80, 1e-3 * 25.6);
    near(solution.beta[0], 251.405_1, 1e-4);
    near(solution.beta[1], 10.467_29, 1e-5);
    near(solution.beta_errors()[0], 6.8246, 1e-3 * 6.8);
    near(solution.beta_errors()[1], 1.545_79, 1e-3 * 1.5);
}

#[test]
fn maximum_likelihood_fit() {
    let (estimate, solution) = fit(true, Criterion::Ml);
    near(estimate.criterion, 1_751.939_344_5, 1e-3);
    near(estimate.sds[0][0], 23.779_76, 1e-3 * 23.8);
    near(estimate.sds[0][1], 5.716_799, 1e-3 * 5.7);
    near(estimate.correlations[0][0], 0.081_32, 1e-3);
    near(estimate.sigma, 25.591_91, 1e-3 * 25.6);
    near(solution.beta_errors()[0], 6.632_12, 1e-3 * 6.6);
    near(solution.beta_errors()[1], 1.502_23, 1e-3 * 1.5);
}

#[test]
fn intercepts_alone() {
    let (estimate, solution) = fit(false, Criterion::Reml);
    near(estimate.criterion, 1_786.465_085_4, 1e-3);
    near(estimate.sds[0][0], 37.123_83, 1e-3 * 37.1);
    near(estimate.sigma, 30.991_23, 1e-3 * 31.0);
    near(solution.beta_errors()[0], 9.746_72, 1e-3 * 9.7);
    near(solution.beta_errors()[1], 0.804_221, 1e-3 * 0.8);
}
