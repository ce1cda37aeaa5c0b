//! Cost of planning backwards: the window of one plant, and the spread of twelve.
#![allow(clippy::unwrap_used, reason = "a bench fails by panicking")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use storksbill_forecast::condition::{Seen, show_condition};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::stages::{Outlook, StageModel};
use storksbill_forecast::stops::{Need, days_to_stop, spread, window};
use storksbill_forecast::traces::{Anomaly, Future, Weathering};

const YEARS: i32 = 32;
/// 4 July 2026.
const SHOW: i32 = 20_638;

fn planning(c: &mut Criterion) {
    let today = SHOW - 200;
    let readings: Vec<Reading> = (today - YEARS * 365..=today)
        .map(|day| {
            let wave = 10.0 - 7.0 * (std::f64::consts::TAU * f64::from(day - 20) / 365.25).cos();
            let year = f64::from((day / 365 * 13) % 7) / 2.0 - 1.5;
            let own = f64::from((day.unsigned_abs() * 37) % 60) / 10.0 - 3.0;
            Reading { day, min_c: wave + year + own - 4.0, max_c: wave + year + own + 5.0 }
        })
        .collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    let (house, rule) = (House::FrostFree, HeatRule::default());
    let table = HeatTable::build(&series, house, rule);
    let first = *days_to_stop(today, SHOW).unwrap().start();
    let future = Future::ahead(&table, first, today, SHOW).unwrap();
    assert_eq!(future.traces.len(), 30);
    let need = Need { mean_log: 1285_f64.ln(), shared_sd: 0.1166, own_sd: 0.12 };
    let model = StageModel::default();
    c.bench_function("traces with the season's anomaly, 30 x 200 days", |b| {
        let weathering = Weathering { anomaly: Some(Anomaly::default()), ..Weathering::default() };
        let inside = |min, max| house.inside(min, max);
        let days = (first, today, SHOW);
        b.iter(|| Future::weathered(black_box(&series), inside, rule, days, &weathering).unwrap());
    });
    c.bench_function("show condition, 30 traces x 60 days", |b| {
        let outlook = Outlook::new(need.mean_log, need.sd_log(), &model).unwrap();
        b.iter(|| show_condition(&future, black_box(&outlook), Seen::NotReady, SHOW - 59..=SHOW).unwrap());
    });
    c.bench_function("stop window, 30 traces x 166 days", |b| {
        b.iter(|| window(&future, SHOW, black_box(&need), &model, 0.4).unwrap());
    });
    for (plants, wanted) in [(3, 1), (12, 3), (12, 6)] {
        c.bench_function(&format!("spread of {plants} plants, {wanted} wanted"), |b| {
            b.iter(|| spread(&future, SHOW, black_box(&need), &model, plants, wanted).unwrap());
        });
    }
}

criterion_group!(benches, planning);
criterion_main!(benches);
