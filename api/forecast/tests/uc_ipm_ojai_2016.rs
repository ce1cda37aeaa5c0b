//! Degree-days against the University of California Statewide Integrated Pest Management Program's
//! calculator for the station OJAI.C, 2016 (degrees C, base 12, cap 33, horizontal cutoff).
//!
//! Source: exports of that calculator among the tests of the `TrenchR` package, Buckley et al., University
//! of Washington, Seattle (MIT licence). The answers are rounded to 0.01.

use storksbill_forecast::degree_days::{Cutoff, HeatRule, Method};

/// Minimum, maximum; single sine, double sine, single triangle, double triangle.
const DAYS: [(f64, f64, [f64; 4]); 2] =
    [(7.8, 19.4, [2.72, 2.53, 2.36, 2.09]), (4.4, 22.2, [3.51, 3.45, 2.92, 2.84])];
const THIRD_DAY: (f64, f64) = (3.3, 18.9);

#[test]
fn first_days_by_four_methods() {
    let methods = [Method::SingleSine, Method::DoubleSine, Method::SingleTriangle, Method::DoubleTriangle];
    let next_minima = [DAYS[1].0, THIRD_DAY.0];
    for ((min, max, answers), next_min) in DAYS.into_iter().zip(next_minima) {
        for (method, answer) in methods.into_iter().zip(answers) {
            let rule = HeatRule { method, base_c: 12.0, cap_c: 33.0, cutoff: Cutoff::Horizontal };
            let heat = rule.day(min, max, Some(next_min));
            assert!(
                (heat - answer).abs() <= 0.005_001,
                "{method:?} of {min}, {max}: {heat}, published {answer}"
            );
        }
    }
}

#[test]
fn third_day_by_the_single_methods() {
    for (method, answer) in [(Method::SingleSine, 2.05), (Method::SingleTriangle, 1.53)] {
        let rule = HeatRule { method, base_c: 12.0, cap_c: 33.0, cutoff: Cutoff::Horizontal };
        let heat = rule.day(THIRD_DAY.0, THIRD_DAY.1, None);
        assert!((heat - answer).abs() <= 0.005_001, "{method:?}: {heat}, published {answer}");
    }
}
