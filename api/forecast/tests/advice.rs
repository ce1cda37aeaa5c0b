//! Each piece of advice where its figure raises it, and where it just does not.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::advice::{Advice, Figures, advice};
use storksbill_forecast::blooms::{Share, wilson};

fn only(figures: &Figures<'_>) -> Advice {
    let mut raised = advice(figures);
    assert_eq!(raised.len(), 1, "{raised:?}");
    raised.remove(0)
}

fn none(figures: &Figures<'_>) {
    assert_eq!(advice(figures), [], "{figures:?}");
}

#[test]
fn nothing_known_raises_nothing() {
    none(&Figures::default());
}

#[test]
fn a_late_and_an_early_season() {
    let late = only(&Figures { days_late: Some(8.6), ..Figures::default() });
    assert_eq!((late.code, late.value), ("late-season", 8.6));
    assert!(late.sentence.contains("9 days behind"), "{}", late.sentence);
    let early = only(&Figures { days_late: Some(-6.2), ..Figures::default() });
    assert_eq!(early.code, "early-season");
    assert!(early.sentence.contains("6 days ahead"), "{}", early.sentence);
    for near in [4.9, -4.9, 0.0, f64::NAN] {
        none(&Figures { days_late: Some(near), ..Figures::default() });
    }
}

#[test]
fn frost_to_come_waits_for_late_may_in_a_cold_spring_alone() {
    let usual = only(&Figures { frost_after: Some(0.1), days_late: Some(2.0), ..Figures::default() });
    assert_eq!((usual.code, usual.value), ("frost-to-come", 0.1));
    assert!(!usual.sentence.contains("May"));
    let cold = advice(&Figures { frost_after: Some(0.3), days_late: Some(7.0), ..Figures::default() });
    assert!(cold.iter().any(|piece| piece.sentence.contains("late May")), "{cold:?}");
    none(&Figures { frost_after: Some(0.09), ..Figures::default() });
}

#[test]
fn damp_days_and_cold_damp() {
    let damp = only(&Figures { damp_days: Some(3), ..Figures::default() });
    assert_eq!((damp.code, damp.value), ("damping-off", 3.0));
    none(&Figures { damp_days: Some(2), ..Figures::default() });
    assert_eq!(only(&Figures { cold_damp: Some(true), ..Figures::default() }).code, "cold-damp");
    none(&Figures { cold_damp: Some(false), ..Figures::default() });
}

fn share(troubled: usize, records: usize) -> Share {
    let (low, high) = wilson(troubled, records, 1.96).unwrap();
    Share { records, growers: 10, troubled, share: troubled as f64 / records as f64, low, high }
}

#[test]
fn deformed_blooms_beyond_what_chance_gives() {
    let more = only(&Figures { deformed: Some((share(12, 60), share(10, 500))), ..Figures::default() });
    assert_eq!((more.code, more.value), ("deformed-blooms", 0.2));
    none(&Figures { deformed: Some((share(2, 60), share(10, 500))), ..Figures::default() });
}

#[test]
fn one_warm_day_and_a_cool_one() {
    let warm = [(5.0, 12.0), (7.0, 17.0), (5.0, 13.0)];
    let raised = only(&Figures { days: &warm, ..Figures::default() });
    assert_eq!((raised.code, raised.value), ("one-warm-day", 4.0));
    none(&Figures { days: &[(5.0, 12.0), (7.0, 16.9), (5.0, 13.0)], ..Figures::default() });
    // It stays warm.
    none(&Figures { days: &[(5.0, 12.0), (7.0, 17.0), (5.0, 17.0)], ..Figures::default() });

    let mut week = [(6.0, 14.0); 8];
    week[7] = (4.0, 10.0);
    let raised = only(&Figures { days: &week, ..Figures::default() });
    assert_eq!((raised.code, raised.value), ("cool-day", 3.0));
    week[7] = (4.0, 10.2);
    none(&Figures { days: &week, ..Figures::default() });
    // Less than a week before it.
    none(&Figures { days: &[(6.0, 14.0), (2.0, 6.0)], ..Figures::default() });
}
