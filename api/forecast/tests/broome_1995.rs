//! Grey mould on grape: Broome, English, Marois, Latorre & Aviles 1995, Phytopathology 85:97-102. The values
//! were computed apart from this crate with the published coefficients.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::damp::{WetnessNeed, grape_logit};

const HOURS: [f64; 5] = [4.0, 8.0, 12.0, 16.0, 24.0];

#[test]
fn a_table_of_wetness_and_temperature() {
    for (temperature, row) in [
        (12.0, [-2.0611, -1.4743, -0.8875, -0.3007, 0.8730]),
        (15.0, [-1.8114, -0.9750, -0.1385, 0.6979, 2.3708]),
        (20.0, [-1.6371, -0.6263, 0.3845, 1.3952, 3.4168]),
        (25.0, [-1.7650, -0.8821, 0.0008, 0.8837, 2.6495]),
        (30.0, [-2.1951, -1.7422, -1.2894, -0.8366, 0.0690]),
    ] {
        for (hours, value) in HOURS.into_iter().zip(row) {
            let own = grape_logit(hours, temperature).unwrap();
            assert!((own - value).abs() <= 0.000_05, "{temperature} C {hours} h: {own}, expected {value}");
        }
    }
}

#[test]
fn outside_its_range() {
    assert_eq!(grape_logit(3.9, 20.0), None);
    assert_eq!(grape_logit(12.0, 40.0), None);
    assert_eq!(grape_logit(f64::NAN, 20.0), None);
    assert_eq!(grape_logit(12.0, f64::NAN), None);
    assert_eq!(grape_logit(12.0, 5.0), grape_logit(12.0, 12.0));
    assert_eq!(grape_logit(12.0, 39.0), grape_logit(12.0, 32.0));
}

#[test]
fn the_curve_for_geraniums_agrees_on_what_is_dangerous() {
    // Another plant, the same fungus: over temperatures where both apply, a wet night that one calls
    // harmless the other does not call sure infection.
    for temperature in [12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0] {
        for hours in HOURS {
            let dose = hours / WetnessNeed::GERANIUM_FLOWERS.hours(temperature);
            let logit = grape_logit(hours, temperature).unwrap();
            assert!(logit < 1.0 || dose >= 1.0, "{temperature} C {hours} h: {logit} against {dose}");
            assert!(dose >= 0.5 || logit <= 0.0, "{temperature} C {hours} h: {logit} against {dose}");
        }
    }
}
