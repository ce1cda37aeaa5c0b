//! Scores: the formulas of Gneiting & Raftery 2007 (Journal of the American Statistical Association
//! 102:359-378) and Jordan, Krueger & Lerch 2019 (Journal of Statistical Software 90(12)). The values were
//! computed apart from this crate and agree in two implementations and by quadrature; the Brier, interval
//! and ensemble values can be worked by hand.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::scores::{self, EnsembleSpread, ScoreError};
use storksbill_numerics::normal;

fn near(own: f64, value: f64) {
    assert!((own - value).abs() < 6e-11 * value.abs().max(1.0), "{own}, expected {value}");
}

#[test]
fn crps_of_the_normal() {
    for (outcome, mean, sd, crps) in [
        (0.0, 0.0, 1.0, 0.233_694_977_3),
        (1.0, 0.0, 1.0, 0.602_441_357_6),
        (2.0, 0.0, 1.0, 1.452_791_821_7),
        (-1.5, 0.5, 2.0, 1.204_882_715_3),
        (120.0, 118.0, 7.0, 1.862_293_630_0),
        (100.0, 118.0, 7.0, 14.073_111_285_2),
    ] {
        near(scores::crps_normal(mean, sd, outcome).unwrap(), crps);
    }
}

#[test]
fn crps_of_the_lognormal() {
    for (outcome, mean_log, sd_log, crps) in [
        (1.0, 0.0, 1.0, 0.267_405_467_0),
        (300.0, 5.7, 0.15, 10.519_182_758_3),
        (260.0, 5.7, 0.15, 23.661_595_082_6),
        (420.0, 5.7, 0.15, 92.751_507_306_5),
    ] {
        near(scores::crps_lognormal(mean_log, sd_log, outcome).unwrap(), crps);
    }
    // Below nought each unit counts one.
    let at_zero = scores::crps_lognormal(0.0, 1.0, 0.0).unwrap();
    near(scores::crps_lognormal(0.0, 1.0, -3.0).unwrap(), at_zero + 3.0);
}

#[test]
fn crps_of_students_t() {
    for (outcome, freedom, centre, scale, crps) in [
        (0.0, 10.0, 0.0, 1.0, 0.244_739_717_1),
        (1.0, 10.0, 0.0, 1.0, 0.602_268_371_8),
        (2.5, 5.0, 1.0, 2.0, 0.919_051_675_3),
        (107.0, 61.0, 110.0, 10.0, 2.709_148_914_9),
    ] {
        near(scores::crps_student_t(freedom, centre, scale, outcome).unwrap(), crps);
    }
    let many = scores::crps_student_t(1e9, 118.0, 7.0, 120.0).unwrap();
    assert!((many - scores::crps_normal(118.0, 7.0, 120.0).unwrap()).abs() < 1e-7);
    assert_eq!(scores::crps_student_t(1.0, 0.0, 1.0, 0.0), Err(ScoreError::BadForecast));
}

#[test]
fn crps_of_an_ensemble() {
    // In any order.
    let members = [118.0, 110.0, 125.0, 112.0, 113.0, 121.0, 115.0, 120.0];
    for (outcome, all_pairs, fair) in [
        (114.0, 1.781_25, 1.392_857_142_9),
        (108.0, 6.031_25, 5.642_857_142_9),
        (130.0, 10.531_25, 10.142_857_142_9),
    ] {
        near(scores::crps_ensemble(&members, EnsembleSpread::AllPairs, outcome).unwrap(), all_pairs);
        near(scores::crps_ensemble(&members, EnsembleSpread::Fair, outcome).unwrap(), fair);
    }
    near(scores::crps_ensemble(&[1.0, 2.0, 3.0], EnsembleSpread::AllPairs, 0.0).unwrap(), 14.0 / 9.0);
    near(scores::crps_ensemble(&[4.0], EnsembleSpread::AllPairs, 1.0).unwrap(), 3.0);
    assert_eq!(scores::crps_ensemble(&[4.0], EnsembleSpread::Fair, 1.0), Err(ScoreError::BadForecast));
}

/// Days 10 to 19 with weights 1, 2, 4, 6, 8, 7, 5, 3, 2, 1 of 39.
fn ten_days() -> Vec<f64> {
    let mut sum = 0.0;
    [1.0, 2.0, 4.0, 6.0, 8.0, 7.0, 5.0, 3.0, 2.0, 1.0]
        .map(|weight| {
            sum += weight;
            sum / 39.0
        })
        .to_vec()
}

#[test]
fn crps_of_a_date() {
    let dates = ten_days();
    for (outcome, crps) in [(12, 1.447_074_293_2), (15, 0.549_638_395_8), (22, 6.472_715_318_9)] {
        near(scores::crps_days(10, &dates, outcome).unwrap(), crps);
    }
    // A sure date is scored by its absolute error, on either side.
    for (outcome, error) in [(7, 5.0), (12, 0.0), (15, 3.0)] {
        near(scores::crps_days(12, &[1.0], outcome).unwrap(), error);
    }
    // The ensemble of the same days has the same score.
    let ensemble: Vec<f64> = (10_u32..)
        .zip([1, 2, 4, 6, 8, 7, 5, 3, 2, 1])
        .flat_map(|(day, weight)| vec![f64::from(day); weight])
        .collect();
    near(scores::crps_ensemble(&ensemble, EnsembleSpread::AllPairs, 12.0).unwrap(), 1.447_074_293_2);
}

#[test]
fn a_forecast_cut_off_is_scored_to_its_horizon_only() {
    let cut = &ten_days()[..7];
    let Err(ScoreError::BeyondHorizon { probability }) = scores::crps_days(10, cut, 12) else {
        panic!("part of the distribution is missing")
    };
    near(probability, 6.0 / 39.0);
    // The days 17 to 19 with F = 36/39, 38/39 and 1 are left out.
    let rest = (3.0 / 39.0_f64).powi(2) + (1.0 / 39.0_f64).powi(2);
    near(scores::crps_days_to_horizon(10, cut, 12).unwrap(), 1.447_074_293_2 - rest);
    // Of what lies beyond the horizon only that it does is scored.
    let later = scores::crps_days_to_horizon(10, cut, 17).unwrap();
    near(scores::crps_days_to_horizon(10, cut, 60).unwrap(), later);
    near(scores::log_score_days(10, cut, 60).unwrap(), -(6.0 / 39.0_f64).ln());
    near(scores::mid_pit(10, cut, 60).unwrap(), f64::midpoint(33.0 / 39.0, 1.0));
}

#[test]
fn the_true_distribution_scores_best_on_average() {
    // Propriety, for the whole score and for the one to the horizon.
    let truth = ten_days();
    let weights = [1.0, 2.0, 4.0, 6.0, 8.0, 7.0, 5.0, 3.0, 2.0, 1.0];
    let mean = |forecast: &[f64], horizon: usize| -> f64 {
        (10..20)
            .zip(weights)
            .map(|(day, w)| w / 39.0 * scores::crps_days_to_horizon(10, &forecast[..horizon], day).unwrap())
            .sum()
    };
    for horizon in [10, 7] {
        let best = mean(&truth, horizon);
        for at in 0..horizon - 1 {
            for nudge in [-0.02, 0.02] {
                let mut other = truth.clone();
                other[at] += nudge;
                assert!(mean(&other, horizon) > best, "day {at} {nudge}");
            }
        }
    }
}

#[test]
fn interval_log_and_brier() {
    near(scores::interval_score(106.0, 130.0, 0.9, 135.0).unwrap(), 124.0);
    near(scores::interval_score(106.0, 130.0, 0.9, 110.0).unwrap(), 24.0);
    near(scores::log_score_normal(118.0, 7.0, 120.0).unwrap(), 2.905_665_008_8);
    near(scores::log_score_days(10, &ten_days(), 14).unwrap(), -(8.0 / 39.0_f64).ln());
    assert!(scores::log_score_days(10, &ten_days(), 9).unwrap().is_infinite());
    let said = [(0.9, true), (0.7, true), (0.2, false), (0.05, false), (0.5, true)];
    near(scores::brier(&said).unwrap(), 0.0785);
}

#[test]
fn the_transform_of_good_forecasts_is_uniform() {
    // Outcomes at the days' own probabilities: the mean of the middle of the steps is exactly one half.
    let dates = ten_days();
    let weights = [1.0, 2.0, 4.0, 6.0, 8.0, 7.0, 5.0, 3.0, 2.0, 1.0];
    let moments = (10..20).zip(weights).fold((0.0, 0.0), |(first, second), (day, weight)| {
        let pit = scores::mid_pit(10, &dates, day).unwrap();
        (first + weight / 39.0 * pit, second + weight / 39.0 * pit * pit)
    });
    near(moments.0, 0.5);
    // Less than 1/12 by a twelfth of the sum of the cubes of the steps.
    let cubes: f64 = weights.iter().map(|w| (w / 39.0_f64).powi(3)).sum();
    near(moments.1 - moments.0 * moments.0, (1.0 - cubes) / 12.0);
    near(scores::mid_pit(10, &dates, 5).unwrap(), 0.0);
}

#[test]
fn the_table_of_reliability() {
    let said = [(0.0, false), (0.1, false), (0.25, true), (0.3, false), (0.95, true), (1.0, true)];
    let table = scores::reliability(&said, 4).unwrap();
    let counts: Vec<usize> = table.iter().map(|row| row.forecasts).collect();
    assert_eq!(counts, [2, 2, 0, 2]);
    near(table[1].mean_probability.unwrap(), 0.275);
    near(table[1].happened.unwrap(), 0.5);
    near(table[3].happened.unwrap(), 1.0);
    assert_eq!((table[2].mean_probability, table[2].happened), (None, None));
    assert_eq!(scores::reliability(&said, 0), Err(ScoreError::Nothing));
}

#[test]
fn a_central_interval_holds_its_share() {
    // Outcomes at evenly spaced probabilities of the normal: 80 of 100 in the central 80 %.
    let half = normal::quantile(0.9);
    let outcomes: Vec<(f64, f64, f64)> =
        (0..100).map(|k| (-half, half, normal::quantile((f64::from(k) + 0.5) / 100.0))).collect();
    near(scores::coverage(&outcomes).unwrap(), 0.8);
    near(scores::coverage(&[(0.0, 1.0, 1.0), (0.0, 1.0, f64::NAN)]).unwrap(), 0.5);
    assert_eq!(scores::coverage(&[]), Err(ScoreError::Nothing));
}

#[test]
fn what_is_no_forecast_is_refused() {
    let refused = Err(ScoreError::BadForecast);
    assert_eq!(scores::crps_normal(0.0, 0.0, 1.0), refused);
    assert_eq!(scores::crps_normal(f64::NAN, 1.0, 1.0), refused);
    assert_eq!(scores::crps_normal(0.0, 1.0, f64::INFINITY), Err(ScoreError::BadOutcome));
    assert_eq!(scores::crps_days(0, &[], 1), refused);
    assert_eq!(scores::crps_days(0, &[0.5, 0.4, 1.0], 1), refused);
    assert_eq!(scores::crps_days(0, &[0.5, f64::NAN], 1), refused);
    assert_eq!(scores::crps_days(0, &[0.5, 1.5], 1), refused);
    assert_eq!(scores::interval_score(2.0, 1.0, 0.9, 1.0), refused);
    assert_eq!(scores::interval_score(1.0, 2.0, 1.0, 1.0), refused);
    assert_eq!(scores::brier(&[(1.2, true)]), refused);
    assert_eq!(scores::brier(&[]), Err(ScoreError::Nothing));
}
