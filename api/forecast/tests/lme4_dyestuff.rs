//! Shrinkage of the pool against the Dyestuff data of Davies & Goldsmith, "Statistical Methods in Research
//! and Production", Edinburgh 1972, Table 6.3, as predicted by the restricted maximum likelihood fit in
//! Bates, Maechler, Bolker & Walker 2015, Journal of Statistical Software 67(1) (lme4, batch standard
//! deviation 42.00060, residual 49.51010, mean 1527.5 with standard error 19.38341).
//!
//! A batch stands for a cultivar; growers and seasons are given no spread and the handbook a very wide one.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::pool::{Basis, Observation, Pool, Spreads};

const YIELDS: [[f64; 5]; 6] = [
    [1545.0, 1440.0, 1440.0, 1520.0, 1580.0],
    [1540.0, 1555.0, 1490.0, 1560.0, 1495.0],
    [1595.0, 1550.0, 1605.0, 1510.0, 1560.0],
    [1445.0, 1440.0, 1595.0, 1465.0, 1545.0],
    [1595.0, 1630.0, 1515.0, 1635.0, 1625.0],
    [1520.0, 1455.0, 1450.0, 1480.0, 1445.0],
];
const BATCH_EFFECTS: [f64; 6] = [-17.60685, 0.39126, 28.56223, -23.08454, 56.73319, -44.99529];

#[test]
fn predicted_batch_effects() {
    let spreads =
        Spreads { handbook: 1e7, cultivar: 42.000_60, grower: 0.0, region_season: 0.0, residual: 49.510_10 };
    let observations: Vec<Observation> = YIELDS
        .iter()
        .enumerate()
        .flat_map(|(batch, yields)| {
            yields.iter().enumerate().map(move |(grower, &log_requirement)| Observation {
                group: 0,
                cultivar: batch,
                grower,
                region_season: 0,
                log_requirement,
            })
        })
        .collect();
    let pool = Pool::fit(&[1.0], &observations, spreads).unwrap();
    let mean = pool.requirement(0, None).unwrap();
    assert_eq!(mean.basis, Basis::Group);
    assert!((mean.mean_log - 1527.5).abs() < 1e-4, "{}", mean.mean_log);
    // A new batch: standard error of the mean, batch and residual together.
    let new_batch = (19.383_41_f64.powi(2) + 42.000_60_f64.powi(2) + 49.510_10_f64.powi(2)).sqrt();
    assert!((mean.sd_log - new_batch).abs() < 1e-3, "{}", mean.sd_log);
    for (batch, effect) in BATCH_EFFECTS.into_iter().enumerate() {
        let own = pool.requirement(0, Some(batch)).unwrap();
        assert!((own.cultivar_weight - 0.782_526_7).abs() < 1e-6);
        assert!(
            (own.mean_log - 1527.5 - effect).abs() < 1e-3,
            "batch {batch}: {}, published {effect}",
            own.mean_log
        );
    }
}
