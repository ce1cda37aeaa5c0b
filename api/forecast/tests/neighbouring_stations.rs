//! Gaps of a station filled from its neighbours. The line of least squares is checked against the first set of
//! Anscombe 1973, The American Statistician 27:17-21, whose intercept of 3.00, slope of 0.500 and r2 of 0.67
//! are printed there; the rest against lines known beforehand.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::moisture::{Moisture, of_region};
use storksbill_forecast::neighbours::fill_from_neighbours;
use storksbill_forecast::series::{Origin, Reading, RegionSeries, SeriesError, Station};

fn reading(day: i32, min_c: f64, max_c: f64) -> Reading {
    Reading { day, min_c, max_c }
}

fn near(own: f64, value: f64, unit: f64) {
    assert!((own - value).abs() <= unit, "{own}, expected {value}");
}

/// Three years of changeable weather.
fn weather() -> Vec<Reading> {
    let first = epoch_day(2019, 1, 1).unwrap();
    (0..1_096)
        .map(|at| {
            let turn = f64::from(at) / 365.25 * std::f64::consts::TAU;
            let min_c = 6.0 - 6.0 * turn.cos() + 3.0 * (f64::from(at) * 1.3).sin();
            reading(first + at, min_c, min_c + 9.0 + 3.0 * (f64::from(at) * 2.1).sin())
        })
        .collect()
}

#[test]
fn the_line_of_anscombe() {
    let pairs = [
        (10.0, 8.04),
        (8.0, 6.95),
        (13.0, 7.58),
        (9.0, 8.81),
        (11.0, 8.33),
        (14.0, 9.96),
        (6.0, 7.24),
        (4.0, 4.26),
        (12.0, 10.84),
        (7.0, 4.82),
        (5.0, 5.68),
    ];
    // Three times over, to have days enough; the maxima ten degrees up on both sides.
    let days = || (0..33).zip(pairs.iter().cycle());
    let own: Vec<Reading> = days().map(|(day, &(_, y))| reading(day, y, y + 10.0)).collect();
    let mut other: Vec<Reading> = days().map(|(day, &(x, _))| reading(day, x, x + 10.0)).collect();
    other.push(reading(40, 0.0, 20.0));
    other.push(reading(41, 10.0, 20.0));
    let estimates = fill_from_neighbours(&own, &[&other]);
    assert_eq!(estimates.iter().map(|e| e.reading.day).collect::<Vec<_>>(), [40, 41]);
    let (at_0, at_10) = (estimates[0].reading.min_c, estimates[1].reading.min_c);
    near(at_0, 3.00, 0.005);
    near((at_10 - at_0) / 10.0, 0.500, 0.0005);
    near(estimates[0].r2, 0.67, 0.005);
    near(estimates[1].reading.max_c, at_10 + 10.0, 1e-9);
}

#[test]
fn a_hole_is_filled_by_the_line_of_its_season() {
    // The neighbour is 2 C warmer in winter nights and 1 C colder in summer ones.
    let truth = weather();
    let other: Vec<Reading> = truth
        .iter()
        .map(|r| {
            let turn = f64::from(r.day - truth[0].day) / 365.25 * std::f64::consts::TAU;
            reading(r.day, r.min_c + 0.5 + 1.5 * turn.cos(), r.max_c + 1.0)
        })
        .collect();
    let hole = epoch_day(2020, 6, 1).unwrap()..epoch_day(2020, 7, 1).unwrap();
    let own: Vec<Reading> = truth.iter().copied().filter(|r| !hole.contains(&r.day)).collect();
    let estimates = fill_from_neighbours(&own, &[&other]);
    assert_eq!(estimates.len(), 30);
    for estimate in &estimates {
        let day = usize::try_from(estimate.reading.day - truth[0].day).unwrap();
        near(estimate.reading.min_c, truth[day].min_c, 0.5);
        near(estimate.reading.max_c, truth[day].max_c, 1e-6);
        assert!(estimate.r2 > 0.9);
    }
}

#[test]
fn the_best_neighbour_that_reported_is_used() {
    let truth = weather();
    let split = truth[0].day + 700;
    let own: Vec<Reading> = truth.iter().copied().filter(|r| r.day < split).collect();
    let rough: Vec<Reading> = truth
        .iter()
        .map(|r| {
            let error = 1.5 * (f64::from(r.day) * 4.7).sin();
            reading(r.day, r.min_c + error, r.max_c + error)
        })
        .collect();
    let exact: Vec<Reading> = truth
        .iter()
        .filter(|r| r.day % 2 == 0)
        .map(|r| reading(r.day, r.min_c - 3.0, r.max_c - 2.0))
        .collect();
    let unrelated: Vec<Reading> =
        truth.iter().map(|r| reading(r.day, 5.0 + (f64::from(r.day) * 0.77).sin(), 12.0)).collect();
    let estimates = fill_from_neighbours(&own, &[&unrelated, &rough, &exact]);
    assert_eq!(estimates.len(), truth.len() - own.len());
    for estimate in &estimates {
        assert!(estimate.reading.day >= split, "a day of its own is never estimated");
        assert_eq!(estimate.neighbour, if estimate.reading.day % 2 == 0 { 2 } else { 1 });
    }
    assert_eq!(fill_from_neighbours(&own, &[&unrelated]), []);
}

#[test]
fn too_few_days_in_common_or_none_give_nothing() {
    let truth = weather();
    let own = &truth[..29];
    assert_eq!(fill_from_neighbours(own, &[&truth]), []);
    assert_eq!(fill_from_neighbours(&truth[..30], &[&truth]).len(), truth.len() - 30);
    assert_eq!(fill_from_neighbours(&[], &[&truth]), []);
    assert_eq!(fill_from_neighbours(own, &[]), []);
    let still = vec![reading(0, 4.0, 9.0); 400];
    assert_eq!(fill_from_neighbours(&still, &[&still]), []);
    // A station that always says the same has no line either.
    let stuck: Vec<Reading> = truth.iter().map(|r| reading(r.day, 4.0, 9.0)).collect();
    assert_eq!(fill_from_neighbours(&truth[..400], &[&stuck]), []);
}

#[test]
fn slips_of_the_pen_do_not_reach_the_line() {
    let truth = weather();
    let mut other = truth.clone();
    let exact = fill_from_neighbours(&truth[..500], &[&truth]);
    other.insert(0, reading(truth[3].day, 30.0, 40.0));
    other.push(reading(truth[9].day, 99.0, 5.0));
    (other[20].min_c, other[20].max_c) = (other[20].max_c, other[20].min_c);
    let own: Vec<Reading> = truth[..500].iter().rev().copied().collect();
    assert_eq!(fill_from_neighbours(&own, &[&other]), exact);
}

#[test]
fn a_region_marks_what_was_regressed() {
    let truth = weather();
    let first = truth[0].day;
    // Own station at 200 m, a long hole, and a week at the end that only the neighbour has.
    let own: Vec<Reading> =
        truth[..1_089].iter().copied().filter(|r| !(first + 400..first + 420).contains(&r.day)).collect();
    let other: Vec<Reading> = truth.iter().map(|r| reading(r.day, r.min_c + 2.0, r.max_c + 2.0)).collect();
    let estimates: Vec<Reading> =
        fill_from_neighbours(&own, &[&other]).iter().map(|estimate| estimate.reading).collect();
    let stations = [Station { height_m: 200.0, readings: &own }];
    let filled = [Station { height_m: 200.0, readings: &estimates }];
    let series = RegionSeries::build_filled(100.0, &stations, &filled).unwrap();
    assert_eq!(series.days.len(), 1_096);
    let flags = series.flags();
    assert_eq!((flags.regressed_days, flags.missing_days, flags.interpolated_days), (27, 0, 0));
    for (day, truth) in series.days.iter().zip(&truth) {
        // A hundred metres lower it is 0.65 C warmer, measured or not.
        near(day.min_c, truth.min_c + 0.65, 1e-6);
    }
    assert_eq!(series.days[410].origin, Origin::Regressed);
    assert_eq!(series.days[399].origin, Origin::Measured);
    assert_eq!(series.days[399], RegionSeries::build(100.0, &stations).unwrap().days[399]);
}

#[test]
fn estimates_yield_to_measurements_and_lead_over_lines() {
    let own = [reading(10, 1.0, 5.0), reading(14, 5.0, 9.0)];
    let estimates = [reading(12, 9.0, 15.0), reading(14, 40.0, 41.0), reading(15, 2.0, 3.0)];
    let series = RegionSeries::build_filled(
        0.0,
        &[Station { height_m: 0.0, readings: &own }],
        &[Station { height_m: 0.0, readings: &estimates }],
    )
    .unwrap();
    let origins: Vec<Origin> = series.days.iter().map(|day| day.origin).collect();
    assert_eq!(
        origins,
        [
            Origin::Measured,
            Origin::Interpolated,
            Origin::Regressed,
            Origin::Interpolated,
            Origin::Measured,
            Origin::Regressed
        ]
    );
    near(series.days[1].min_c, 5.0, 1e-12);
    near(series.days[4].min_c, 5.0, 1e-12);
    // Estimates alone make no series.
    let none = RegionSeries::build_filled(0.0, &[], &[Station { height_m: 0.0, readings: &estimates }]);
    assert_eq!(none, Err(SeriesError::NoReadings));
}

#[test]
fn moisture_of_a_region() {
    let m = |day, rain_mm, humidity_pct| Moisture { day, rain_mm, humidity_pct };
    let a = [m(3, Some(1.0), None), m(1, Some(0.0), Some(80.0)), m(1, Some(4.0), None)];
    let b = [m(1, Some(6.0), Some(90.0)), m(2, Some(-1.0), Some(120.0)), m(3, Some(f64::NAN), Some(70.0))];
    let c = [m(1, Some(5.0), None)];
    assert_eq!(of_region(&[&a, &b, &c]), [m(1, Some(5.0), Some(85.0)), m(3, Some(1.0), Some(70.0))]);
    assert_eq!(of_region(&[]), []);
}
