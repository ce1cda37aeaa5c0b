//! What a house does to the air outside, from its own log. The constants are common practice; checked is
//! that known ones are found again.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::{Gain, House, LEAST_LOGGED_DAYS, LoggedDay, estimate};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};

/// A year outside, cold to hot, and what a house with `gain` makes of it; every seventh maximum was logged
/// with the thermometer in the sun, every eleventh minimum misread.
fn year(house: House, gain: Gain) -> Vec<LoggedDay> {
    (0..365)
        .map(|day| {
            let turn = f64::from(day) / 365.0 * std::f64::consts::TAU;
            let weather = 4.0 * (f64::from(day) * 1.7).sin();
            let (min_c, max_c) = (6.0 - 8.0 * turn.cos() + weather, 15.0 - 10.0 * turn.cos() + weather);
            let (low, high) = house.inside_with(gain, min_c, max_c);
            let slip = if day % 7 == 0 { 9.0 } else { 0.2 * (f64::from(day) * 2.3).sin() };
            let misread = if day % 11 == 0 { -6.0 } else { 0.2 * (f64::from(day) * 3.1).sin() };
            (min_c, max_c, low + misread, high + slip)
        })
        .collect()
}

#[test]
fn known_gains_are_found_again() {
    for house in [House::ColdGlass, House::FrostFree, House::Heated { at_least_c: 8.0 }] {
        for truth in [
            Gain { night_lift_c: 4.0, day_gain_c: 9.0, vent_c: 24.0 },
            Gain { night_lift_c: 0.5, day_gain_c: 3.0, vent_c: 22.0 },
            Gain::default(),
        ] {
            let found = estimate(&year(house, truth), house).unwrap();
            // A hundred days and more weigh at least five sixths against the default.
            for (own, value, default) in [
                (found.night_lift_c, truth.night_lift_c, 2.0),
                (found.day_gain_c, truth.day_gain_c, 5.0),
                (found.vent_c, truth.vent_c, 27.0),
            ] {
                let room = 0.25 + (value - default).abs() / 3.0;
                assert!((own - value).abs() < room, "{house:?} {truth:?}: {found:?}");
                assert!(
                    (own - default).abs() <= (value - default).abs() + 0.25,
                    "{found:?} beyond {truth:?}"
                );
            }
        }
    }
}

#[test]
fn few_days_say_nothing_and_some_say_half() {
    let truth = Gain { night_lift_c: 6.0, ..Gain::default() };
    let day = |_| (5.0, 10.0, 11.0, 15.0);
    let log: Vec<LoggedDay> = (0..LEAST_LOGGED_DAYS).map(day).collect();
    assert_eq!(estimate(&log[1..], House::ColdGlass), None);
    assert_eq!(estimate(&log, House::Outdoors), None);
    // Twenty days weigh as much as the default.
    let found = estimate(&log, House::ColdGlass).unwrap();
    assert!((found.night_lift_c - f64::midpoint(2.0, truth.night_lift_c)).abs() < 1e-12);
    assert!((found.day_gain_c - 5.0).abs() < 1e-12 && (found.vent_c - 27.0).abs() < 1e-12);
    // Nights on which the heating burnt say nothing about the glass.
    let cold: Vec<LoggedDay> = (0..60).map(|_| (1.0, 10.0, 8.0, 17.0)).collect();
    let found = estimate(&cold, House::Heated { at_least_c: 8.0 }).unwrap();
    assert!((found.night_lift_c - 2.0).abs() < 1e-12);
    assert!((found.day_gain_c - (5.0 + 2.0 * 60.0 / 80.0)).abs() < 1e-12);
    let broken: Vec<LoggedDay> = log.iter().map(|day| (f64::NAN, day.1, day.2, day.3)).collect();
    assert_eq!(estimate(&broken, House::ColdGlass), None);
}

#[test]
fn the_default_gain_changes_nothing() {
    let first = epoch_day(2021, 1, 1).unwrap();
    let readings: Vec<Reading> = (first..first + 120)
        .map(|day| Reading { day, min_c: -3.0 + f64::from(day - first) / 10.0, max_c: 12.0 })
        .collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    let rule = HeatRule::default();
    for house in [House::Outdoors, House::ColdGlass, House::FrostFree, House::Heated { at_least_c: 7.0 }] {
        let plain = HeatTable::build(&series, house, rule);
        assert_eq!(HeatTable::build_with(&series, house, Gain::default(), rule), plain);
        let warm = Gain { day_gain_c: 8.0, ..Gain::default() };
        let warm = HeatTable::build_with(&series, house, warm, rule).between(first, first + 119).unwrap();
        let plain = plain.between(first, first + 119).unwrap();
        assert!(if house == House::Outdoors { (warm - plain).abs() < 1e-12 } else { warm > plain });
    }
}
