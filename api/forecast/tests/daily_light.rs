//! The daily light integral and the table that counts it in. The factor on the rate is common practice,
//! without a published source; what is checked is what a table does with it.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::sun;

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

#[test]
fn the_factor_rises_to_one() {
    for (light, factor) in [(0.0, 0.6), (4.0, 0.8), (8.0, 1.0), (30.0, 1.0)] {
        assert!(near(sun::rate_factor(light), factor));
    }
    assert!(sun::rate_factor(f64::NAN).is_nan());
    // 0.45 of the energy at 4.57 micromol a joule, within the half per cent that 2.06 rounds.
    assert!((sun::light_integral(10.0, 1.0) / (0.45 * 4.57 * 10.0) - 1.0).abs() < 0.005);
}

#[test]
fn a_lit_table_slows_the_dark_months_only() {
    let first = epoch_day(2021, 1, 1).unwrap();
    let readings: Vec<Reading> =
        (first..first + 365).map(|day| Reading { day, min_c: 8.0, max_c: 15.0 }).collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    let (house, rule) = (House::FrostFree, HeatRule::default());
    let plain = HeatTable::build(&series, house, rule);
    let lit = HeatTable::build_lit(&series, house, rule, 54.0);
    assert_eq!((plain.lit_at_deg, lit.lit_at_deg), (None, Some(54.0)));
    let share = |month, day| {
        let day = epoch_day(2021, month, day).unwrap();
        lit.day_heat(day).unwrap() / plain.day_heat(day).unwrap()
    };
    assert!((share(6, 21) - 1.0).abs() < 1e-9);
    let above = sun::extraterrestrial(54.0, 355);
    let light = sun::light_integral(sun::radiation_by_range(above, 8.0, 15.0, sun::INLAND), 0.65);
    assert!((share(12, 21) - sun::rate_factor(light)).abs() < 1e-9);
    assert!(share(12, 21) < 0.85 && share(12, 21) > 0.6);
    // South of the equator it is the other way about.
    let south = HeatTable::build_lit(&series, house, rule, -54.0);
    let june = epoch_day(2021, 6, 21).unwrap();
    assert!(south.day_heat(june).unwrap() < plain.day_heat(june).unwrap());
}
