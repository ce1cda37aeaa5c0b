//! Degree-days against the answers of the University of California Statewide Integrated Pest Management
//! Program's calculator for the station Esparto-A, 2020 (degrees F, base 50, cap 70).
//!
//! Source: "Degree Days Validation Challenge", University of California Agriculture and Natural Resources,
//! Informatics and GIS Program, Davis, 2022 (MIT licence). The answers are rounded to 0.01.

use storksbill_forecast::degree_days::{Cutoff, HeatRule, Method};

const ROUNDING: f64 = 0.005_001;

fn rule(method: Method, cutoff: Cutoff) -> HeatRule {
    HeatRule { method, base_c: 50.0, cap_c: 70.0, cutoff }
}

struct Row {
    date: &'static str,
    min: f64,
    max: f64,
    next_min: f64,
    /// Single sine horizontal, vertical; double sine horizontal; single triangle horizontal, vertical;
    /// double triangle horizontal.
    answers: [f64; 6],
}

/// At least one day of each of the six ways a day's range can lie about base and cap.
const ROWS: [Row; 11] = [
    Row { date: "17 Jan", min: 34.0, max: 47.0, next_min: 35.0, answers: [0.0, 0.0, 0.0, 0.0, 0.0, 0.0] },
    Row {
        date: "29 Mar",
        min: 46.0,
        max: 62.0,
        next_min: 45.0,
        answers: [4.87, 4.87, 4.78, 4.50, 4.50, 4.37],
    },
    Row {
        date: "1 Jan",
        min: 38.0,
        max: 55.0,
        next_min: 36.0,
        answers: [1.19, 1.19, 1.15, 0.74, 0.74, 0.70],
    },
    Row { date: "26 Jan", min: 54.0, max: 67.0, next_min: 50.0, answers: [10.5, 10.5, 9.5, 10.5, 10.5, 9.5] },
    Row {
        date: "14 May",
        min: 50.0,
        max: 70.0,
        next_min: 56.0,
        answers: [10.0, 10.0, 11.5, 10.0, 10.0, 11.5],
    },
    Row {
        date: "10 Feb",
        min: 52.0,
        max: 73.0,
        next_min: 44.0,
        answers: [12.01, 7.08, 10.64, 12.29, 9.43, 10.63],
    },
    Row {
        date: "21 Jul",
        min: 59.0,
        max: 93.0,
        next_min: 60.0,
        answers: [17.25, 4.95, 17.42, 18.22, 4.69, 18.35],
    },
    Row {
        date: "14 Aug",
        min: 71.0,
        max: 103.0,
        next_min: 68.0,
        answers: [20.0, 0.0, 19.9, 20.0, 0.0, 19.97],
    },
    Row {
        date: "11 Feb",
        min: 44.0,
        max: 76.0,
        next_min: 35.0,
        answers: [10.0, 4.30, 9.26, 10.0, 6.25, 8.90],
    },
    Row {
        date: "22 Apr",
        min: 49.0,
        max: 77.0,
        next_min: 59.0,
        answers: [11.55, 4.89, 13.81, 12.14, 7.14, 14.39],
    },
    Row {
        date: "2 Jan",
        min: 36.0,
        max: 67.0,
        next_min: 33.0,
        answers: [5.71, 5.71, 5.56, 4.66, 4.66, 4.46],
    },
];

#[test]
fn every_case_of_range_base_and_cap() {
    let rules = [
        rule(Method::SingleSine, Cutoff::Horizontal),
        rule(Method::SingleSine, Cutoff::Vertical),
        rule(Method::DoubleSine, Cutoff::Horizontal),
        rule(Method::SingleTriangle, Cutoff::Horizontal),
        rule(Method::SingleTriangle, Cutoff::Vertical),
        rule(Method::DoubleTriangle, Cutoff::Horizontal),
    ];
    for row in &ROWS {
        for (rule, answer) in rules.iter().zip(row.answers) {
            let heat = rule.day(row.min, row.max, Some(row.next_min));
            assert!(
                (heat - answer).abs() <= ROUNDING,
                "{}: {rule:?} gave {heat}, published {answer}",
                row.date
            );
        }
    }
}

/// Minimum, maximum, single sine with horizontal cutoff, 1 to 31 January.
const JANUARY: [(f64, f64, f64); 31] = [
    (38.0, 55.0, 1.19),
    (36.0, 67.0, 5.71),
    (33.0, 59.0, 2.34),
    (37.0, 59.0, 2.56),
    (38.0, 63.0, 4.23),
    (36.0, 58.0, 2.13),
    (30.0, 53.0, 0.47),
    (41.0, 50.0, 0.00),
    (37.0, 53.0, 0.56),
    (32.0, 55.0, 1.01),
    (42.0, 61.0, 3.81),
    (37.0, 57.0, 1.83),
    (39.0, 58.0, 2.31),
    (38.0, 57.0, 1.88),
    (31.0, 51.0, 0.10),
    (39.0, 58.0, 2.31),
    (34.0, 47.0, 0.00),
    (35.0, 54.0, 0.80),
    (36.0, 48.0, 0.00),
    (39.0, 53.0, 0.60),
    (38.0, 58.0, 2.25),
    (42.0, 60.0, 3.38),
    (42.0, 57.0, 2.14),
    (41.0, 60.0, 3.28),
    (46.0, 62.0, 4.87),
    (54.0, 67.0, 10.50),
    (50.0, 64.0, 7.00),
    (49.0, 62.0, 5.62),
    (46.0, 69.0, 8.22),
    (43.0, 67.0, 6.66),
    (39.0, 67.0, 6.06),
];

#[test]
fn a_whole_month_and_its_sum() {
    let rule = rule(Method::SingleSine, Cutoff::Horizontal);
    let mut sum = 0.0;
    for (day, (min, max, answer)) in (1..).zip(JANUARY) {
        let heat = rule.day(min, max, None);
        assert!((heat - answer).abs() <= ROUNDING, "{day} January: {heat}, published {answer}");
        sum += heat;
    }
    assert!((sum - 93.81).abs() <= ROUNDING, "accumulated {sum}, published 93.81");
}

/// First nine days: single and double triangle, double sine, all with the horizontal cutoff.
const FIRST_DAYS: [(f64, f64, f64); 9] = [
    (0.74, 0.70, 1.15),
    (4.66, 4.46, 5.56),
    (1.56, 1.70, 2.45),
    (1.84, 1.88, 2.59),
    (3.38, 3.25, 4.14),
    (1.45, 1.30, 2.00),
    (0.20, 0.29, 0.56),
    (0.00, 0.00, 0.00),
    (0.28, 0.25, 0.53),
];

#[test]
fn double_methods_fall_to_the_next_minimum() {
    let triangle = rule(Method::SingleTriangle, Cutoff::Horizontal);
    let double_triangle = rule(Method::DoubleTriangle, Cutoff::Horizontal);
    let double_sine = rule(Method::DoubleSine, Cutoff::Horizontal);
    for (pair, (single, double, sine)) in JANUARY.windows(2).zip(FIRST_DAYS) {
        let [(min, max, _), (next, _, _)] = pair else { unreachable!() };
        for (rule, answer) in [(triangle, single), (double_triangle, double), (double_sine, sine)] {
            let heat = rule.day(*min, *max, Some(*next));
            assert!(
                (heat - answer).abs() <= ROUNDING,
                "{rule:?} of {min}, {max}: {heat}, published {answer}"
            );
        }
    }
}
