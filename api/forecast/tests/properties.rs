//! Laws that hold whatever the weather, tried on generated weather (a seasonal wave with persistent
//! anomalies; a fixed generator, so that every run is the same).
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::{date, epoch_day};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::predict::{DateDistribution, ready_date};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::traces::Future;

const HOUSES: [House; 4] =
    [House::Heated { at_least_c: 7.0 }, House::FrostFree, House::ColdGlass, House::Outdoors];

/// Uniform on 0..1 (Lehmer generator of Park & Miller 1988, Communications of the ACM 31:1192-1201).
fn uniform(state: &mut u64) -> f64 {
    *state = *state * 16_807 % 2_147_483_647;
    *state as f64 / 2_147_483_647.0
}

fn weather(seed: u64, first: i32, last: i32) -> Vec<Reading> {
    let (mut state, mut anomaly) = (seed * 7_919 + 1, 0.0);
    (first..=last)
        .map(|day| {
            anomaly = 0.85 * anomaly + 3.0 * (uniform(&mut state) - 0.5);
            let wave = 10.0 - 7.0 * (std::f64::consts::TAU * f64::from(day - 20) / 365.25).cos();
            let half = 2.0 + 5.0 * uniform(&mut state);
            Reading { day, min_c: wave + anomaly - half, max_c: wave + anomaly + half }
        })
        .collect()
}

/// The readings with some days `by` C warmer.
fn shift(readings: &[Reading], by: f64, days: impl Fn(i32) -> bool) -> Vec<Reading> {
    readings
        .iter()
        .map(|r| {
            let by = if days(r.day) { by } else { 0.0 };
            Reading { min_c: r.min_c + by, max_c: r.max_c + by, ..*r }
        })
        .collect()
}

fn table(readings: &[Reading], house: House) -> HeatTable {
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings }]).unwrap();
    HeatTable::build(&series, house, HeatRule::default())
}

fn forecast(table: &HeatTable, stop: i32, as_of: i32) -> DateDistribution {
    let future = Future::ahead(table, stop, as_of, stop + 240).unwrap();
    ready_date(&future, 1285_f64.ln(), 0.17).unwrap()
}

/// A day beyond the horizon is later than any before it.
fn or_beyond(day: Option<i32>) -> i32 {
    day.unwrap_or(i32::MAX)
}

fn start() -> i32 {
    epoch_day(2010, 1, 1).unwrap()
}

fn stop() -> i32 {
    epoch_day(2025, 3, 11).unwrap()
}

#[test]
fn the_distribution_rises_to_at_most_one() {
    for seed in 1..20 {
        for house in HOUSES {
            let table = table(&weather(seed, start(), stop() + 60), house);
            for as_of in [stop() - 30, stop(), stop() + 60] {
                let dates = forecast(&table, stop(), as_of);
                assert!(dates.cumulative.windows(2).all(|pair| matches!(pair, [a, b] if a <= b)));
                assert!(dates.cumulative.iter().all(|p| (0.0..=1.0).contains(p)));
                assert!(dates.by_day().all(|(_, own)| own >= 0.0));
                let whole: f64 = dates.by_day().map(|(_, own)| own).sum::<f64>() + dates.beyond_horizon;
                assert!((whole - 1.0).abs() < 1e-12);
                assert!(or_beyond(dates.p10) <= or_beyond(dates.p50));
                assert!(or_beyond(dates.p50) <= or_beyond(dates.p90));
                assert!(dates.p10.is_none_or(|day| day > as_of && day >= stop()));
            }
        }
    }
}

#[test]
fn colder_days_ahead_are_never_earlier_and_warmer_never_later() {
    let mut moved = 0;
    for seed in 1..20 {
        for house in HOUSES {
            let as_of = stop() + 45;
            let readings = weather(seed, start(), as_of);
            // The days since the stop are seen; all before it serve as days ahead only.
            let shifted = |by: f64| shift(&readings, by, |day| day < stop());
            let usual = forecast(&table(&readings, house), stop(), as_of);
            for k in [0.5, 1.0, 3.0] {
                let colder = forecast(&table(&shifted(-k), house), stop(), as_of);
                let warmer = forecast(&table(&shifted(k), house), stop(), as_of);
                for p in [0.05, 0.1, 0.25, 0.5, 0.75, 0.9] {
                    let middle = or_beyond(usual.quantile(p));
                    assert!(or_beyond(colder.quantile(p)) >= middle, "seed {seed} {house:?} -{k} C, {p}");
                    assert!(or_beyond(warmer.quantile(p)) <= middle, "seed {seed} {house:?} +{k} C, {p}");
                    moved += i32::from(or_beyond(colder.quantile(p)) > middle);
                }
            }
        }
    }
    assert!(moved > 500, "the shift must be felt: {moved}");
}

#[test]
fn a_later_stop_is_never_ready_earlier() {
    for seed in 1..12 {
        for house in HOUSES {
            let first = epoch_day(2025, 1, 10).unwrap();
            let table = table(&weather(seed, start(), first + 100), house);
            // Planned ahead, and with part of the season seen by the plants stopped first.
            for as_of in [first - 1, first + 60] {
                let medians: Vec<i32> = (0..100)
                    .step_by(5)
                    .map(|later| or_beyond(forecast(&table, first + later, as_of).p50))
                    .collect();
                assert!(medians.is_sorted(), "seed {seed} {house:?}: {medians:?}");
                assert!(medians.first() < medians.last());
            }
        }
    }
}

#[test]
fn a_setting_above_every_minimum_makes_nights_outside_irrelevant() {
    let readings = weather(4, start(), stop());
    let colder_nights: Vec<Reading> =
        readings.iter().map(|r| Reading { min_c: r.min_c - 6.0, ..*r }).collect();
    let warmest = readings.iter().map(|r| r.min_c).fold(f64::MIN, f64::max);
    let house = House::Heated { at_least_c: warmest + 2.0 };
    let (a, b) = (table(&readings, house), table(&colder_nights, house));
    assert_eq!(a, b);
    // In a house that is not heated so the nights do matter.
    assert_ne!(table(&readings, House::FrostFree), table(&colder_nights, House::FrostFree));
}

#[test]
fn more_heating_is_never_less_heat() {
    let readings = weather(5, start(), stop());
    let mut before = table(&readings, House::ColdGlass).between(start(), stop()).unwrap();
    for setting in [2.0, 5.0, 7.0, 10.0, 13.0, 16.0] {
        let now = table(&readings, House::Heated { at_least_c: setting }).between(start(), stop()).unwrap();
        assert!(now >= before);
        before = now;
    }
    assert!(table(&readings, House::Outdoors).between(start(), stop()).unwrap() < before);
}

#[test]
fn a_cold_year_is_forecast_later_than_a_warm_one() {
    // Same past, same day of issue; this spring 2 C colder or warmer since the stop.
    for seed in 1..12 {
        let as_of = stop() + 60;
        let readings = weather(seed, start(), as_of);
        let median = |by: f64| {
            let spring = shift(&readings, by, |day| day >= stop());
            forecast(&table(&spring, House::FrostFree), stop(), as_of).p50.unwrap()
        };
        let (cold, warm) = (median(-2.0), median(2.0));
        // 61 days of about 2 degree-days either way, at 12 to 17 a day ahead, less what base and cap
        // take and what is known of a plant not yet ready.
        assert!((5..=25).contains(&(cold - warm)), "seed {seed}: {} days", cold - warm);
    }
}

#[test]
fn leap_years_neither_lose_nor_double_a_day() {
    let table = table(&weather(6, start(), epoch_day(2024, 12, 31).unwrap()), House::FrostFree);
    let mut whole = 0.0;
    for year in 2010..=2024 {
        let (new_year, last) = (epoch_day(year, 1, 1).unwrap(), epoch_day(year, 12, 31).unwrap());
        let days: f64 = (new_year..=last).map(|day| table.day_heat(day).unwrap()).sum();
        let sum = table.between(new_year, last).unwrap();
        assert!((days - sum).abs() < 1e-6);
        assert_eq!(date(last + 1).year, year + 1);
        whole += sum;
    }
    assert!((whole - table.between(start(), table.last_day()).unwrap()).abs() < 1e-6);
}

#[test]
fn seasons_may_run_over_the_new_year() {
    // A southern spring: stopped in September, ready about Christmas.
    let (stop, as_of) = (epoch_day(2024, 9, 10).unwrap(), epoch_day(2024, 10, 10).unwrap());
    let southern: Vec<Reading> =
        weather(7, start(), as_of + 183).into_iter().map(|r| Reading { day: r.day - 183, ..r }).collect();
    let dates = forecast(&table(&southern, House::FrostFree), stop, as_of);
    let median = date(dates.p50.unwrap());
    assert!([(2024, 12), (2025, 1)].contains(&(median.year, median.month)), "{median:?}");
}
