//! Cost of the two halves of a forecast: the tables, built when readings arrive, and one plant's dates,
//! worked out at every question.
#![allow(clippy::unwrap_used, reason = "a bench fails by panicking")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::predict::ready_date;
use storksbill_forecast::season::{ReferencePlant, standing};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::traces::Future;

const YEARS: i32 = 50;
const STATIONS: u32 = 100;
/// 11 March 2020.
const STOP: i32 = 18_332;

fn readings(station: u32) -> Vec<Reading> {
    (STOP + 60 - YEARS * 365..=STOP + 60)
        .map(|day| {
            let wave = 10.0 - 7.0 * (std::f64::consts::TAU * f64::from(day - 20) / 365.25).cos();
            let own = f64::from((day.unsigned_abs() * 37 + station * 11) % 60) / 10.0;
            Reading { day, min_c: wave + own - 7.0, max_c: wave + own + 2.0 }
        })
        .collect()
}

fn tables(c: &mut Criterion) {
    let all: Vec<Vec<Reading>> = (0..STATIONS).map(readings).collect();
    let stations: Vec<Station> = all.iter().map(|readings| Station { height_m: 100.0, readings }).collect();
    let mut group = c.benchmark_group("tables");
    group.sample_size(10);
    group.bench_function("region of 100 stations x 50 years", |b| {
        b.iter(|| RegionSeries::build(black_box(50.0), black_box(&stations)).unwrap());
    });
    let series = RegionSeries::build(50.0, &stations).unwrap();
    group.bench_function("heat table of 50 years", |b| {
        b.iter(|| HeatTable::build(black_box(&series), House::FrostFree, HeatRule::default()));
    });
    group.finish();
}

fn questions(c: &mut Criterion) {
    let readings = readings(0);
    let series = RegionSeries::build(100.0, &[Station { height_m: 100.0, readings: &readings }]).unwrap();
    let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
    let ahead = |as_of| Future::ahead(&table, STOP, as_of, STOP + 199).unwrap();
    assert_eq!(ahead(STOP + 40).traces.len(), 30);
    c.bench_function("one plant, 30 traces x 200 days", |b| {
        b.iter(|| ready_date(&ahead(black_box(STOP + 40)), 1285_f64.ln(), 0.17).unwrap());
    });
    c.bench_function("standing of a season", |b| {
        b.iter(|| standing(&table, &ReferencePlant::default(), black_box(STOP + 40)).unwrap());
    });
}

criterion_group!(benches, tables, questions);
criterion_main!(benches);
