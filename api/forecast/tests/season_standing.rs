//! The standing of a season where it can be worked out by hand: the same heat every day of every past year.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::{date, epoch_day};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::fit::SeasonEffect;
use storksbill_forecast::glass::House;
use storksbill_forecast::season::{ReferencePlant, SeasonError, standing, standing_by_records};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};

fn day(year: i32, month: u32, of_month: u32) -> i32 {
    epoch_day(year, month, of_month).unwrap()
}

fn table(last: i32, heat: impl Fn(i32) -> Option<f64>) -> HeatTable {
    let readings: Vec<Reading> = (day(2018, 1, 1)..=last)
        .filter_map(|day| heat(day).map(|heat| Reading { day, min_c: 4.0 + heat, max_c: 4.0 + heat }))
        .collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    HeatTable::build(&series, House::Outdoors, HeatRule::default())
}

fn plant() -> ReferencePlant {
    ReferencePlant { degree_days: 1000.0, ..ReferencePlant::default() }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-6
}

#[test]
fn a_season_like_all_others_stands_at_nought() {
    for as_of in [day(2026, 3, 11), day(2026, 5, 1), day(2026, 12, 31), day(2027, 2, 27)] {
        let now = standing(&table(as_of, |_| Some(10.0)), &plant(), as_of).unwrap();
        assert_eq!(now.stop_day, day(2026, 3, 11));
        assert_eq!((now.years, now.never_ready), (8, 0));
        assert!(near(now.days_late, 0.0) && near(now.heat, now.usual_heat), "{now:?}");
        // A hundred days at 10 from the start of 11 March end with 18 June.
        assert!(near(now.ready_day, f64::from(day(2026, 6, 19))), "{now:?}");
    }
}

#[test]
fn a_cold_spring_is_late_by_the_heat_it_lacks() {
    let stop = day(2026, 3, 11);
    let as_of = stop + 39;
    // Forty days at 5: 200 degree-days short, twenty days at the usual 10.
    let now =
        standing(&table(as_of, |at| Some(if at >= stop { 5.0 } else { 10.0 })), &plant(), as_of).unwrap();
    assert!(
        near(now.days_late, 20.0) && near(now.days_late_p10, 20.0) && near(now.days_late_p90, 20.0),
        "{now:?}"
    );
    assert!(near(now.heat, 200.0) && near(now.usual_heat, 400.0));
    // And a warm one early: forty days at 15 leave 400 to come in 40 days, 80 in place of 100.
    let now =
        standing(&table(as_of, |at| Some(if at >= stop { 15.0 } else { 10.0 })), &plant(), as_of).unwrap();
    assert!(near(now.days_late, -20.0), "{now:?}");
}

#[test]
fn past_years_that_differ_are_averaged_on_the_calendar() {
    // Seasons at 8 in odd years and 12 in even ones: ready after 125 and 83 1/3 days.
    let heat = |at| Some(if date(at).year % 2 == 1 { 8.0 } else { 12.0 });
    let stop = day(2026, 3, 11);
    let now = standing(&table(stop + 10, heat), &plant(), stop + 10).unwrap();
    assert_eq!(now.years, 8);
    assert!(near(now.usual_ready_day - f64::from(stop), f64::midpoint(125.0, 250.0 / 3.0)), "{now:?}");
    // Eleven days at 12 leave 868: 108.5 or 72 1/3 days.
    assert!(near(now.ready_day - f64::from(stop), 11.0 + f64::midpoint(108.5, 217.0 / 3.0)), "{now:?}");
    assert!(near(now.days_late_p90 - now.days_late_p10, 108.5 - 217.0 / 3.0));
}

#[test]
fn before_its_stop_the_last_season_is_told() {
    let as_of = day(2026, 2, 1);
    let now = standing(&table(as_of, |_| Some(10.0)), &plant(), as_of).unwrap();
    assert_eq!(now.stop_day, day(2025, 3, 11));
}

#[test]
fn readings_that_stop_short_are_said_to() {
    let as_of = day(2026, 5, 1);
    let now = standing(&table(as_of - 6, |_| Some(10.0)), &plant(), as_of).unwrap();
    assert_eq!(now.observed_to, as_of - 6);
    assert!(near(now.days_late, 0.0) && near(now.heat, now.usual_heat));
}

#[test]
fn seasons_that_never_get_there_count_as_the_last_day() {
    let as_of = day(2026, 5, 1);
    let now = standing(&table(as_of, |_| Some(1.0)), &plant(), as_of).unwrap();
    assert_eq!(now.never_ready, 16);
    assert!(near(now.days_late, 0.0));
}

#[test]
fn years_with_a_gap_are_left_out() {
    let as_of = day(2026, 5, 1);
    let gap = day(2022, 5, 10)..day(2022, 5, 20);
    let now = standing(&table(as_of, |at| (!gap.contains(&at)).then_some(10.0)), &plant(), as_of).unwrap();
    assert_eq!(now.years, 7);
}

#[test]
fn a_stop_on_the_leap_day() {
    let leap = ReferencePlant { stop_month: 2, stop_day: 29, degree_days: 1000.0 };
    for (as_of, stop) in [(day(2026, 5, 1), day(2026, 2, 28)), (day(2024, 5, 1), day(2024, 2, 29))] {
        let now = standing(&table(as_of, |_| Some(10.0)), &leap, as_of).unwrap();
        assert_eq!(now.stop_day, stop);
        assert!(now.days_late.abs() <= 1.0, "{now:?}");
    }
}

#[test]
fn what_has_no_standing() {
    let as_of = day(2026, 5, 1);
    let full = table(as_of, |_| Some(10.0));
    for bad in [
        ReferencePlant { stop_month: 13, ..plant() },
        ReferencePlant { stop_month: 4, stop_day: 31, ..plant() },
        ReferencePlant { degree_days: 0.0, ..plant() },
        ReferencePlant { degree_days: f64::NAN, ..plant() },
    ] {
        assert_eq!(standing(&full, &bad, as_of), Err(SeasonError::BadPlant));
    }
    assert_eq!(
        standing(&table(day(2026, 3, 1), |_| Some(10.0)), &plant(), as_of),
        Err(SeasonError::NotBegun)
    );
    let holed = table(as_of, |at| (!(day(2026, 4, 1)..day(2026, 4, 9)).contains(&at)).then_some(10.0));
    assert_eq!(standing(&holed, &plant(), as_of), Err(SeasonError::GapThisSeason));
    assert!(matches!(standing(&full, &plant(), day(2018, 5, 1)), Err(SeasonError::Ahead(_))));
}

fn effect(mean: f64, sd: f64) -> SeasonEffect {
    SeasonEffect { mean, sd, ready: 10, waiting: 10, growers: 10, largest_grower_share: 0.1 }
}

#[test]
fn an_effect_known_to_be_nought_leaves_the_weather_alone() {
    let as_of = day(2026, 5, 1);
    let table = table(as_of, |at| Some(8.0 + f64::from(at % 5)));
    let by_weather = standing(&table, &plant(), as_of).unwrap();
    let by_records = standing_by_records(&table, &plant(), &effect(0.0, 0.0), as_of).unwrap();
    assert!(near(by_records.days_late, by_weather.days_late), "{by_records:?}");
    assert!(near(by_records.usual_ready_day, by_weather.usual_ready_day));
}

#[test]
fn a_season_that_needs_a_tenth_more_heat_is_late_by_a_tenth_of_the_days() {
    let as_of = day(2026, 5, 1);
    let table = table(as_of, |_| Some(10.0));
    let known = standing_by_records(&table, &plant(), &effect(1.1_f64.ln(), 0.0), as_of).unwrap();
    // A hundred days at 10 become a hundred and ten.
    assert!(near(known.days_late, 10.0) && near(known.days_late_p90, 10.0), "{known:?}");
    let early = standing_by_records(&table, &plant(), &effect(0.9_f64.ln(), 0.0), as_of).unwrap();
    assert!(near(early.days_late, -10.0), "{early:?}");
}

/// With the same heat every day the ready day is log-normal: its tenth and ninetieth part in the hundred can
/// be written down, and its mean is `exp(sd^2 / 2)` times a hundred days.
#[test]
fn the_interval_is_that_of_the_effect_where_the_weather_is_sure() {
    let as_of = day(2026, 5, 1);
    let table = table(as_of, |_| Some(10.0));
    let sd = 0.05;
    let told = standing_by_records(&table, &plant(), &effect(0.0, sd), as_of).unwrap();
    let z = 1.281_551_6; // The 90 % point of the standard normal.
    assert!((told.days_late_p90 - 100.0 * ((sd * z).exp() - 1.0)).abs() < 0.5, "{told:?}");
    assert!((told.days_late_p10 - 100.0 * ((-sd * z).exp() - 1.0)).abs() < 0.5, "{told:?}");
    assert!((told.days_late - 100.0 * ((sd * sd / 2.0).exp() - 1.0)).abs() < 0.01, "{told:?}");
    let wider = standing_by_records(&table, &plant(), &effect(0.0, 2.0 * sd), as_of).unwrap();
    assert!(wider.days_late_p90 > told.days_late_p90 && wider.days_late_p10 < told.days_late_p10);
}

#[test]
fn an_effect_that_is_no_number_is_refused() {
    let as_of = day(2026, 5, 1);
    let table = table(as_of, |_| Some(10.0));
    for bad in [effect(f64::NAN, 0.1), effect(0.0, -0.1), effect(0.0, f64::INFINITY)] {
        assert_eq!(standing_by_records(&table, &plant(), &bad, as_of), Err(SeasonError::BadEffect));
    }
}
