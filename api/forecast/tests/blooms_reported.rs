//! Shares of blooms with a trouble, counted by hand.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::blooms::{Flowering, Least, Trouble, reports, wilson};
use storksbill_forecast::calendar::epoch_day;

/// Newcombe 1998, Statistics in Medicine 17:857-872, table I, score method without continuity correction
/// (the four values from memory).
#[test]
fn wilsons_interval_is_the_published_one() {
    for (k, n, low, high) in
        [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)]
    {
        let (found_low, found_high) = wilson(k, n, 1.959_964).unwrap();
        assert!((found_low - low).abs() < 5e-5 && (found_high - high).abs() < 5e-5, "{k}/{n}");
    }
}

/// The bounds are the shares whose own score test just reaches z.
#[test]
fn the_bounds_of_wilsons_interval_solve_their_equation() {
    for (k, n, z) in [(1, 9, 1.0), (5, 9, 1.96), (30, 31, 2.5)] {
        let (low, high) = wilson(k, n, z).unwrap();
        let share = f64::from(u32::try_from(k).unwrap()) / n as f64;
        for bound in [low, high] {
            let score = (share - bound).abs() / (bound * (1.0 - bound) / n as f64).sqrt();
            assert!((score - z).abs() < 1e-9, "{k}/{n}: {score}");
        }
    }
    assert_eq!(wilson(0, 0, 1.96), None);
    assert_eq!(wilson(3, 2, 1.96), None);
    assert_eq!(wilson(1, 2, 0.0), None);
}

fn day(year: i32, month: u32, of_month: u32) -> i32 {
    epoch_day(year, month, of_month).unwrap()
}

fn flowering(grower: u32, from: i32) -> Flowering {
    Flowering { grower, from: Some(from), until: None, troubles: Vec::new() }
}

/// Ten plants of five growers this year, twenty last year.
fn society() -> Vec<Flowering> {
    let now = (0..10).map(|at| flowering(at % 5, day(2026, 6, 1)));
    let then = (0..20).map(|at| flowering(at % 5, day(2025, 6, 1)));
    now.chain(then).collect()
}

#[test]
fn the_share_is_of_plants_in_flower_in_the_fortnight() {
    let mut all = society();
    all[0].troubles = vec![(day(2026, 6, 10), Trouble::DampedOff), (day(2026, 6, 12), Trouble::DampedOff)];
    all[1].troubles = vec![(day(2026, 6, 15), Trouble::DampedOff)];
    // The fortnight to 15 June begins on the second.
    all[2].troubles = vec![(day(2026, 6, 1), Trouble::DampedOff)];
    // Past its best before the fortnight.
    all[3].until = Some(day(2026, 6, 1));
    // A plant of which only its trouble is known is in flower on that day.
    all.push(Flowering {
        grower: 7,
        from: None,
        until: None,
        troubles: vec![(day(2026, 6, 9), Trouble::Deformed)],
    });
    all[10].troubles = vec![(day(2025, 6, 2), Trouble::DampedOff)];
    let [damped, deformed, leafy] = reports(&all, day(2026, 6, 15), Least::default());
    let now = damped.now.unwrap();
    assert_eq!((now.records, now.growers, now.troubled), (10, 6, 2));
    assert!((now.share - 0.2).abs() < 1e-12 && now.low < 0.2 && now.high > 0.2);
    let usual = damped.usual.unwrap();
    assert_eq!((usual.records, usual.growers, usual.troubled), (20, 5, 1));
    assert_eq!(deformed.now.unwrap().troubled, 1);
    assert_eq!(leafy.now.unwrap().troubled, 0);
}

#[test]
fn a_plant_whose_end_nobody_wrote_down_flowers_for_six_weeks() {
    let all = society();
    assert!(reports(&all, day(2026, 7, 26), Least::default())[0].now.is_some());
    assert_eq!(reports(&all, day(2026, 7, 27), Least::default())[0].now, None);
    // And before its first floret it is not in flower.
    assert_eq!(reports(&all, day(2026, 5, 31), Least::default())[0].now, None);
}

#[test]
fn too_few_growers_or_records_or_one_grower_with_most_are_not_told() {
    let told = |flowerings: &[Flowering]| reports(flowerings, day(2026, 6, 15), Least::default())[0].now;
    let of = |growers: &[u32]| -> Vec<Flowering> {
        growers.iter().map(|grower| flowering(*grower, day(2026, 6, 10))).collect()
    };
    assert!(told(&of(&[0, 0, 1, 1, 2, 2, 3, 4])).is_some());
    // Four growers; seven records; one with four of nine.
    assert_eq!(told(&of(&[0, 0, 1, 1, 2, 2, 3, 3])), None);
    assert_eq!(told(&of(&[0, 0, 1, 1, 2, 3, 4])), None);
    assert_eq!(told(&of(&[0, 0, 0, 0, 1, 2, 3, 4, 5])), None);
    // Two in five is not more than two in five.
    assert!(told(&of(&[0, 0, 0, 0, 1, 2, 3, 4, 5, 6])).is_some());
}
