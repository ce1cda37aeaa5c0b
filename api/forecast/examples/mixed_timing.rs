//! Time and memory of a fit on generated records:
//! `cargo run --release -p storksbill-forecast --example mixed_timing -- 10000 [growers cultivars seasons]`.
#![allow(clippy::print_stdout, reason = "the report is the purpose")]

use std::time::Instant;

use storksbill_forecast::mixed::{Criterion, Factor, Model, Options, Pick};

const GROUPS: u32 = 8;
const SDS: [f64; 3] = [0.06, 0.08, 0.06];
const RESIDUAL: f64 = 0.12;

/// Linear congruential generator with the multiplier of Knuth, The Art of Computer Programming 2, 3.3.4.
struct Generator(u64);

impl Generator {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Squared, so that a few levels have many records and many have few.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below `levels`")]
    fn level(&mut self, levels: usize) -> u32 {
        (self.uniform().powi(2) * levels as f64) as u32
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let given: Vec<usize> = std::env::args().skip(1).map(|value| value.parse()).collect::<Result<_, _>>()?;
    let rows = given.first().copied().unwrap_or(10_000);
    let usual = [(rows / 10).min(10_000), (rows / 10).min(5_000), 300];
    let levels: Vec<usize> =
        usual.iter().enumerate().map(|(k, &usual)| given.get(k + 1).copied().unwrap_or(usual)).collect();

    let mut generator = Generator(2026);
    let effects: Vec<Vec<f64>> = levels
        .iter()
        .zip(SDS)
        .map(|(&levels, sd)| (0..levels).map(|_| sd * generator.normal()).collect())
        .collect();
    let mut level: Vec<Vec<u32>> = vec![Vec::with_capacity(rows); levels.len()];
    let mut groups = vec![vec![0.0; rows]; GROUPS as usize];
    let mut warm = vec![0.0; rows];
    let mut y = Vec::with_capacity(rows);
    for row in 0..rows {
        let mut sum = 7.0 + RESIDUAL * generator.normal();
        let mut group = 0;
        for (k, column) in level.iter_mut().enumerate() {
            let drawn = generator.level(levels.get(k).copied().unwrap_or(1));
            sum += effects.get(k).and_then(|own| own.get(drawn as usize)).copied().unwrap_or(0.0);
            column.push(drawn);
            if k == 1 {
                group = drawn % GROUPS;
            }
        }
        if let Some(cell) = groups.get_mut(group as usize).and_then(|column| column.get_mut(row)) {
            *cell = 1.0;
        }
        if let Some(cell) = warm.get_mut(row).filter(|_| generator.uniform() < 0.4) {
            *cell = 1.0;
            sum -= 0.05;
        }
        y.push(sum);
    }
    let mut x: Vec<&[f64]> = groups.iter().map(Vec::as_slice).collect();
    x.push(&warm);
    let factors: Vec<Factor<'_>> =
        level.iter().zip(&levels).map(|(level, &levels)| Factor { level, levels, covariates: &[] }).collect();

    let started = Instant::now();
    let model = Model::new(&y, None, &x, &factors)?;
    let formed = started.elapsed().as_secs_f64();
    let started = Instant::now();
    let estimate = model.fit(&Options { criterion: Criterion::Reml, start: None, penalty: None })?;
    let fitted = started.elapsed().as_secs_f64();
    let started = Instant::now();
    let solution = model.solve(&estimate.theta, estimate.sigma, &[])?;
    let solved = started.elapsed().as_secs_f64();
    let mut of_one = vec![0.0; x.len()];
    if let Some(first) = of_one.first_mut() {
        *first = 1.0;
    }
    let picks = [Pick::intercept(1, 0), Pick::intercept(2, 0)];
    let asked = Instant::now();
    let predicted = solution.predict(&of_one, &picks)?;
    let answered = asked.elapsed();
    println!("records {rows}, levels {levels:?}");
    println!(
        "cross-products {:.3} s, fit {:.3} s with {} evaluations (converged: {}), solution {:.3} s, prediction {:.1} us",
        formed,
        fitted,
        estimate.evaluations,
        estimate.converged,
        solved,
        answered.as_secs_f64() * 1e6,
    );
    println!(
        "standard deviations {:?}, residual {:.5}; drawn from {SDS:?}, {RESIDUAL}",
        estimate.sds, estimate.sigma
    );
    println!("prediction {:.4} with standard deviation {:.4}", predicted.mean, predicted.variance.sqrt());
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    println!(
        "{}",
        status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or("peak memory not known here")
    );
    Ok(())
}
