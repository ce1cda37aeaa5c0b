//! How often a sport goes back to the plant it came from.
//!
//! Growers report, year by year, how many plants of the sport they had and on how many some shoot had gone back.
//! Plants of one grower in one year share stock and treatment, so a report tells less than as many independent
//! plants. With a beta-binomial fit of total `k` over the reports, a report of `n` plants counts as
//! `n (k + 1) / (k + n)` (J. N. K. Rao, A. J. Scott, Biometrics 48, 1992, 577-585, with the fitted design
//! effect), and Wilson's interval is taken of the counts so reduced.

use crate::beta_binomial::{BetaBinomial, Hyperprior, Spread, Trials};
use crate::intervals::{Confidence, Interval, wilson};

/// One grower's plants of a sport in one year.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GrowerYear {
    pub plants: u64,
    /// Those on which some shoot went back; never more than `plants`.
    pub reverted: u64,
}

/// The rate at which plants of a sport go back, per plant and year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reversion {
    /// Over all reports, each counted by what it tells.
    pub rate: f64,
    pub interval: Interval,
    /// Reports with at least one plant.
    pub reports: usize,
    pub plants: u64,
    /// Independent plants that would tell as much.
    pub effective_plants: f64,
}

/// Pools reports; `None` when no report has a plant. Reports with more reverted than plants are left out. With
/// fewer than three reports nothing can be said of differences between growers, and plants count in full.
pub fn reversion(reports: &[GrowerYear], confidence: Confidence) -> Option<Reversion> {
    let trials: Vec<Trials> = reports
        .iter()
        .filter_map(|report| Trials::new(report.reverted, report.plants))
        .filter(|trials| trials.of() > 0)
        .collect();
    if trials.is_empty() {
        return None;
    }
    let total = match BetaBinomial::fit(&trials, Hyperprior::Flat) {
        Spread::Between(fit) if trials.len() >= 3 => fit.distribution.total(),
        _ => f64::INFINITY,
    };
    let (mut reverted, mut effective) = (0.0, 0.0);
    for trials in &trials {
        let n = trials.of() as f64;
        let weight = if total.is_finite() { (total + 1.0) / (total + n) } else { 1.0 };
        reverted += weight * trials.count() as f64;
        effective += weight * n;
    }
    Some(Reversion {
        rate: reverted / effective,
        interval: wilson(reverted, effective, confidence),
        reports: trials.len(),
        plants: trials.iter().map(|trials| trials.of()).sum(),
        effective_plants: effective,
    })
}
