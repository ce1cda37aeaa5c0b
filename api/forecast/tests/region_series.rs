//! Stations to a region: height, medians, slips of the pen, gaps. Lapse rate: International Standard
//! Atmosphere, 6.5 C a kilometre.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::series::{
    HeatTable, LONGEST_SERIES, Origin, Reading, RegionSeries, SeriesError, Station,
};

fn reading(day: i32, min_c: f64, max_c: f64) -> Reading {
    Reading { day, min_c, max_c }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

#[test]
fn stations_are_brought_to_the_height_of_the_region() {
    // 4 and 14 C at 300 m are 5.3 and 15.3 C at 100 m.
    let series =
        RegionSeries::build(100.0, &[Station { height_m: 300.0, readings: &[reading(7, 4.0, 14.0)] }])
            .unwrap();
    assert!(near(series.days[0].min_c, 5.3) && near(series.days[0].max_c, 15.3));
    assert_eq!((series.first_day, series.last_day()), (7, 7));
}

#[test]
fn the_median_does_not_follow_one_bad_station() {
    let stations: Vec<[Reading; 1]> = [5.0, 6.0, 40.0].map(|min| [reading(0, min, min + 8.0)]).to_vec();
    let all: Vec<Station> = stations.iter().map(|readings| Station { height_m: 0.0, readings }).collect();
    let day = RegionSeries::build(0.0, &all).unwrap().days[0];
    assert!(near(day.min_c, 6.0) && near(day.max_c, 14.0));
    assert_eq!((day.stations, day.origin), (3, Origin::Measured));
    // Of an even number the middle two are averaged.
    let day = RegionSeries::build(0.0, &all[..2]).unwrap().days[0];
    assert!(near(day.min_c, 5.5) && near(day.max_c, 13.5));
}

#[test]
fn slips_are_flagged() {
    let readings = [
        reading(0, 12.0, 3.0),
        reading(0, f64::NAN, 3.0),
        reading(1, -50.5, 3.0),
        reading(1, 1.0, 9.0),
        reading(2, 2.0, 350.0),
        reading(3, 3.0, 11.0),
        reading(3, 4.0, 12.0),
    ];
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    let day = series.days[0];
    assert!(near(day.min_c, 3.0) && near(day.max_c, 12.0));
    assert_eq!((day.swapped, day.refused), (1, 1));
    assert_eq!((series.days[1].refused, series.days[1].stations), (1, 1));
    // The only reading of day 2 was refused: the day is a gap of one.
    assert_eq!((series.days[2].refused, series.days[2].origin), (1, Origin::Interpolated));
    assert!(near(series.days[2].min_c, 2.5) && near(series.days[2].max_c, 10.5));
    // The station's last word for day 3.
    assert!(near(series.days[3].min_c, 4.0));
    assert_eq!(series.days[3].stations, 1);
    let flags = series.flags();
    assert_eq!((flags.swapped_readings, flags.refused_readings), (1, 3));
    assert_eq!((flags.interpolated_days, flags.missing_days), (1, 0));
}

#[test]
fn three_days_are_bridged_and_four_are_not() {
    let three = [reading(0, 2.0, 10.0), reading(4, 6.0, 18.0)];
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &three }]).unwrap();
    assert_eq!(series.flags().interpolated_days, 3);
    assert!(near(series.get(1).unwrap().min_c, 3.0) && near(series.get(3).unwrap().max_c, 16.0));

    let four = [reading(0, 2.0, 10.0), reading(5, 6.0, 18.0)];
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &four }]).unwrap();
    assert_eq!((series.flags().interpolated_days, series.flags().missing_days), (0, 4));
    let table = HeatTable::build(&series, House::Outdoors, HeatRule::default());
    assert_eq!(table.between(0, 5), None);
    assert_eq!(table.to_midday(0, 5), None);
    assert_eq!(table.day_heat(3), None);
    assert!(table.day_heat(0).is_some() && table.day_heat(5).is_some());
    assert_eq!((table.day_heat(-1), table.day_heat(6)), (None, None));
    assert_eq!((table.between(5, 3), table.last_day()), (None, 5));
    assert_eq!(table.between(5, 4), Some(0.0));
}

#[test]
fn heat_to_midday_leaves_half_of_the_last_day() {
    let readings: Vec<Reading> = (0..10).map(|day| reading(day, 8.0, 20.0)).collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    let table = HeatTable::build(&series, House::Outdoors, HeatRule::default());
    // Mean 14 over base 4 is 10 a day; the stop day counts whole.
    assert!(near(table.to_midday(2, 5).unwrap(), 35.0));
    assert!(near(table.between(2, 5).unwrap(), 40.0));
    assert_eq!(table.to_midday(5, 4), None);
}

#[test]
fn what_cannot_be_a_series() {
    assert_eq!(RegionSeries::build(0.0, &[]), Err(SeriesError::NoReadings));
    let nothing = [reading(0, f64::NAN, 1.0)];
    assert_eq!(
        RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &nothing }]),
        Err(SeriesError::NoReadings)
    );
    let far = [reading(i32::MIN, 1.0, 2.0), reading(i32::MAX, 1.0, 2.0)];
    assert_eq!(
        RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &far }]),
        Err(SeriesError::TooLong { first_day: i32::MIN, last_day: i32::MAX })
    );
    let at_limit = [reading(0, 1.0, 2.0), reading(i32::try_from(LONGEST_SERIES).unwrap() - 1, 1.0, 2.0)];
    assert!(RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &at_limit }]).is_ok());
    assert_eq!(
        RegionSeries::build(f64::INFINITY, &[Station { height_m: 0.0, readings: &at_limit }]),
        Err(SeriesError::BadHeight)
    );
}

#[test]
fn houses() {
    let frost = (-4.0, 3.0);
    assert_eq!(House::Outdoors.inside(frost.0, frost.1), frost);
    assert_eq!(House::ColdGlass.inside(frost.0, frost.1), (-2.0, 8.0));
    assert_eq!(House::FrostFree.inside(frost.0, frost.1), (2.0, 8.0));
    assert_eq!(House::Heated { at_least_c: 7.0 }.inside(frost.0, frost.1), (7.0, 8.0));
    // Heat by day as well once the setting is above the day's warmth.
    assert_eq!(House::Heated { at_least_c: 12.0 }.inside(frost.0, frost.1), (12.0, 12.0));
    // Ventilators hold the house at 27 C, or at the air outside once that is warmer.
    assert_eq!(House::FrostFree.inside(12.0, 25.0), (14.0, 27.0));
    assert_eq!(House::FrostFree.inside(15.0, 31.0), (17.0, 31.0));
}
