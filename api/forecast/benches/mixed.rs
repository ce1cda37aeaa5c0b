//! One criterion, one solution and one prediction of the crossed model, 10,000 records.
#![allow(clippy::unwrap_used, reason = "a bench fails by panicking")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use storksbill_forecast::mixed::{self, Factor, Model, Pick};

const ROWS: u32 = 10_000;
const THETA: [f64; 3] = [0.5, 0.67, 0.5];

fn crossed(c: &mut Criterion) {
    // Strides without a common divisor spread the records over all pairs of levels.
    let grower: Vec<u32> = (0..ROWS).map(|row| row * 7_919 % 1_000).collect();
    let cultivar: Vec<u32> = (0..ROWS).map(|row| row / 3 * 13 % 400).collect();
    let season: Vec<u32> = (0..ROWS).map(|row| row / 17 % 60).collect();
    let y: Vec<f64> = (0..ROWS).map(|row| 7.0 + 0.2 * (f64::from(row) * 0.77).sin()).collect();
    let ones = vec![1.0; y.len()];
    let factors = [
        Factor { level: &grower, levels: 1_000, covariates: &[] },
        Factor { level: &cultivar, levels: 400, covariates: &[] },
        Factor { level: &season, levels: 60, covariates: &[] },
    ];
    let model = Model::new(&y, None, &[&ones], &factors).unwrap();
    c.bench_function("mixed/cross-products of 10,000 records", |b| {
        b.iter(|| Model::new(black_box(&y), None, &[&ones], &factors).unwrap());
    });
    c.bench_function("mixed/criterion, 460 columns left", |b| {
        b.iter(|| model.criterion(black_box(&THETA), mixed::Criterion::Reml).unwrap());
    });
    let solution = model.solve(&THETA, 0.12, &[]).unwrap();
    let picks = [Pick::intercept(0, 3), Pick::intercept(1, 0), Pick::intercept(2, 5)];
    c.bench_function("mixed/prediction, 460 columns left", |b| {
        b.iter(|| solution.predict(black_box(&[1.0]), &picks).unwrap());
    });
}

criterion_group!(benches, crossed);
criterion_main!(benches);
