//! Four years of real weather through the series, the table and the standing of a season.
//!
//! Source of the readings: National Oceanic and Atmospheric Administration, Seattle, United States (see
//! `data/README.md`). The expected sums were computed apart from this crate, with the single-sine method
//! (Baskerville & Emin 1969, Ecology 50:514-517), base 5 C.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::degree_days::{Cutoff, HeatRule, Method};
use storksbill_forecast::glass::House;
use storksbill_forecast::season::{self, ReferencePlant};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};

fn seattle() -> RegionSeries {
    let readings: Vec<Reading> = include_str!("data/seattle-2012-2015.csv")
        .lines()
        .skip(1)
        .map(|line| {
            let fields: Vec<&str> = line.split(',').collect();
            let date: Vec<u32> = fields[0].split('-').map(|part| part.parse().unwrap()).collect();
            Reading {
                day: epoch_day(date[0].cast_signed(), date[1], date[2]).unwrap(),
                min_c: fields[1].parse().unwrap(),
                max_c: fields[2].parse().unwrap(),
            }
        })
        .collect();
    assert_eq!(readings.len(), 1_461);
    RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap()
}

fn table(cutoff: Cutoff) -> HeatTable {
    let rule = HeatRule { method: Method::SingleSine, base_c: 5.0, cap_c: 25.0, cutoff };
    HeatTable::build(&seattle(), House::Outdoors, rule)
}

/// Year; heat to the end of day 90, 120, 181 of the year and of the year; the same year without the cap;
/// first day of the year with 500 degree-days.
const YEARS: [(i32, [f64; 4], f64, i32); 4] = [
    (2012, [157.0205, 320.0941, 846.6453, 2425.1011], 2451.0170, 145),
    (2013, [215.1774, 380.5196, 1070.6144, 2718.0023], 2759.3243, 131),
    (2014, [261.0418, 443.4788, 1102.7951, 2925.1185], 2975.6906, 127),
    (2015, [380.9709, 555.6550, 1294.6417, 2981.0057], 3049.9115, 112),
];

#[test]
fn sums_from_new_year() {
    let (capped, uncapped) = (table(Cutoff::Horizontal), table(Cutoff::None));
    for (year, sums, without_cap, first_500) in YEARS {
        let new_year = epoch_day(year, 1, 1).unwrap();
        let last = epoch_day(year, 12, 31).unwrap();
        for (end, sum) in [new_year + 89, new_year + 119, new_year + 180, last].into_iter().zip(sums) {
            let own = capped.between(new_year, end).unwrap();
            assert!((own - sum).abs() < 6e-5, "{year} day {}: {own}, expected {sum}", end - new_year + 1);
        }
        let own = uncapped.between(new_year, last).unwrap();
        assert!((own - without_cap).abs() < 6e-5, "{year} uncapped: {own}, expected {without_cap}");
        let reached = (new_year..=last).find(|&day| capped.between(new_year, day).unwrap() >= 500.0).unwrap();
        assert_eq!(reached - new_year + 1, first_500, "{year}");
    }
}

#[test]
fn the_year_is_whole_and_clean() {
    let series = seattle();
    assert_eq!(series.days.len(), 1_461);
    assert_eq!(series.flags(), storksbill_forecast::series::Flags::default());
    assert_eq!(series.last_day(), epoch_day(2015, 12, 31).unwrap());
}

#[test]
fn the_early_spring_of_2015_stands_ahead() {
    // The 500 degree-days came on 24 May 2012, 11 May 2013, 7 May 2014 and 22 April 2015: 22 days before
    // the mean of the three (14 May), to within the part of a day.
    let table = table(Cutoff::Horizontal);
    let plant = ReferencePlant { stop_month: 1, stop_day: 1, degree_days: 500.0 };
    let year_end = season::standing(&table, &plant, epoch_day(2015, 12, 31).unwrap()).unwrap();
    assert_eq!((year_end.years, year_end.never_ready), (3, 0));
    assert!((year_end.days_late + 22.0).abs() < 1.0, "{year_end:?}");
    assert!((year_end.days_late_p90 - year_end.days_late_p10).abs() < 1e-9, "the date is known by then");

    // On 30 April the heat so far is known exactly, and so is the ready date.
    let april = season::standing(&table, &plant, epoch_day(2015, 4, 30).unwrap()).unwrap();
    assert!((april.heat - 555.6550).abs() < 6e-5);
    // 30 April is day 121 of the leap year 2012.
    let to_30_april_2012 =
        table.between(epoch_day(2012, 1, 1).unwrap(), epoch_day(2012, 4, 30).unwrap()).unwrap();
    assert!((april.usual_heat - (to_30_april_2012 + 380.5196 + 443.4788) / 3.0).abs() < 1e-4);
    assert!((april.days_late - year_end.days_late).abs() < 1e-9);

    // On 1 February most of the wait is still to come: the figure is nearer nought, and uncertain.
    let february = season::standing(&table, &plant, epoch_day(2015, 2, 1).unwrap()).unwrap();
    assert!(february.days_late < 0.0 && february.days_late > year_end.days_late, "{february:?}");
    assert!(february.days_late_p90 > february.days_late_p10);
}
