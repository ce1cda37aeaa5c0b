//! The cold days of regals. The limits of 13.3 and 20 C and the four weeks are those of trade guides; the
//! reckoning by days is common practice.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::glass::{Gain, House};
use storksbill_forecast::induction::{NEEDED, cold_need, season_start};
use storksbill_forecast::series::{Reading, RegionSeries, Station};

fn day(year: i32, month: u32, day: u32) -> i32 {
    epoch_day(year, month, day).unwrap()
}

fn series(readings: &[Reading]) -> RegionSeries {
    RegionSeries::build(0.0, &[Station { height_m: 0.0, readings }]).unwrap()
}

/// A mild winter: 5 and 12 C outside from 1 October to 31 March.
fn winter() -> Vec<Reading> {
    (day(2020, 10, 1)..=day(2021, 3, 31)).map(|day| Reading { day, min_c: 5.0, max_c: 12.0 }).collect()
}

#[test]
fn a_cool_house_meets_the_need_and_a_warm_one_never() {
    let weather = series(&winter());
    let (start, stop) = (day(2020, 10, 1), day(2021, 2, 1));
    // Inside 7 and 17 C: a mean of 12.
    let cool = cold_need(&weather, House::FrostFree, Gain::default(), start, stop);
    assert_eq!((cool.cold_days, cool.unknown_days), (123, 0));
    assert_eq!(cool.met_on, Some(day(2020, 10, 28)), "the 28th of the cold days");
    assert!(cool.met());
    // Held at 13 C the mean is 15.
    let warm = cold_need(&weather, House::Heated { at_least_c: 13.0 }, Gain::default(), start, stop);
    assert_eq!((warm.cold_days, warm.met_on), (0, None));
    assert!(warm.surely_unmet());
}

#[test]
fn the_limits_belong_to_the_cold() {
    let on_both = |min_c: f64, max_c: f64| {
        let readings: Vec<Reading> =
            (0..NEEDED.cast_signed()).map(|day| Reading { day, min_c, max_c }).collect();
        cold_need(&series(&readings), House::Outdoors, Gain::default(), 0, NEEDED.cast_signed()).cold_days
    };
    assert_eq!(on_both(6.5, 20.0), NEEDED);
    assert_eq!(on_both(6.5, 20.1), 0);
    assert_eq!(on_both(13.3, 13.3), NEEDED);
    assert_eq!(on_both(13.0, 13.7), 0, "a mean of 13.35");
}

#[test]
fn unknown_days_are_not_cold_but_leave_it_open() {
    let mut readings = winter();
    readings.retain(|r| r.day < day(2020, 10, 20) || r.day > day(2021, 1, 31));
    let weather = series(&readings);
    let need = cold_need(&weather, House::FrostFree, Gain::default(), day(2020, 10, 1), day(2021, 2, 1));
    assert_eq!((need.cold_days, need.unknown_days), (19, 104));
    assert!(!need.met() && !need.surely_unmet());
    // A stop before the season has no cold yet.
    let none = cold_need(&weather, House::FrostFree, Gain::default(), day(2020, 10, 1), day(2020, 9, 1));
    assert_eq!((none.cold_days, none.unknown_days), (0, 0));
}

#[test]
fn the_season_starts_in_the_autumn_before() {
    assert_eq!(season_start(day(2021, 2, 1), false), Some(day(2020, 10, 1)));
    assert_eq!(season_start(day(2020, 10, 1), false), Some(day(2020, 10, 1)));
    assert_eq!(season_start(day(2020, 9, 30), false), Some(day(2019, 10, 1)));
    assert_eq!(season_start(day(2021, 2, 1), true), Some(day(2020, 4, 1)));
}
