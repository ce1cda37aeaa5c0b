//! Time and memory of the whole estimate (standard deviations, bases, calibration) and of a refresh, on
//! generated records of ten regions and thirty seasons:
//! `cargo run --release -p storksbill-forecast --example fit_timing -- 10000 [growers cultivars]`.
#![allow(clippy::print_stdout, reason = "the report is the purpose")]

use std::time::Instant;

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::fit::{Settings, estimate, refresh};
use storksbill_forecast::glass::{Gain, House};
use storksbill_forecast::records::{Place, Wait};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::stages::{STAGES, Stage};

const GROUPS: u32 = 8;
const REGIONS: u32 = 10;
const SEASONS: std::ops::RangeInclusive<i32> = 1996..=2025;
const HANDBOOK: f64 = 1285.0;

/// Linear congruential generator with the multiplier of Knuth, The Art of Computer Programming 2, 3.3.4.
struct Generator(u64);

impl Generator {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Squared, so that a few levels have many records and many have few.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below `levels`")]
    fn level(&mut self, levels: u32) -> u32 {
        (self.uniform().powi(2) * f64::from(levels)) as u32
    }

    fn normal(&mut self, sd: f64) -> f64 {
        sd * (-2.0 * self.uniform().ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }

    fn normals(&mut self, count: u32, sd: f64) -> Vec<f64> {
        (0..count).map(|_| self.normal(sd)).collect()
    }
}

fn weather(generator: &mut Generator, region: u32) -> Result<RegionSeries, Box<dyn std::error::Error>> {
    let day = |year| epoch_day(year, 1, 1).ok_or("a year out of the calendar");
    let mut swing = 0.0;
    let readings: Vec<Reading> = (day(1994)?..day(2027)?)
        .map(|day| {
            swing = 0.9 * swing + generator.normal(1.3);
            let wave = 9.5
                - f64::from(region) / 3.0
                - 7.5 * (std::f64::consts::TAU * f64::from(day - 20) / 365.25).cos();
            let half = 3.0 + 3.0 * generator.uniform();
            Reading { day, min_c: wave + swing - half, max_c: wave + swing + half }
        })
        .collect();
    Ok(RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }])?)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let given: Vec<u32> = std::env::args().skip(1).map(|value| value.parse()).collect::<Result<_, _>>()?;
    let records = given.first().copied().unwrap_or(10_000);
    let growers = given.get(1).copied().unwrap_or((records / 10).clamp(1, 10_000));
    let cultivars = given.get(2).copied().unwrap_or((records / 10).clamp(1, 5_000));

    let mut generator = Generator(2026);
    let series = (0..REGIONS).map(|region| weather(&mut generator, region)).collect::<Result<Vec<_>, _>>()?;
    let place = |series| Place { series, house: House::FrostFree, gain: Gain::default() };
    let places: Vec<Place<'_>> = series.iter().map(place).collect();
    let tables: Vec<HeatTable> =
        series.iter().map(|series| HeatTable::build(series, House::FrostFree, HeatRule::default())).collect();
    let of_cultivar = generator.normals(cultivars, 0.08);
    let of_grower = generator.normals(growers, 0.06);
    let at = |values: &[f64], index: u32| values.get(index as usize).copied().unwrap_or(0.0);
    let mut waits = Vec::with_capacity(records as usize);
    for season in SEASONS {
        let of_region = generator.normals(REGIONS, 0.06);
        for _ in 0..records / 30 {
            let (cultivar, grower) = (generator.level(cultivars), generator.level(growers));
            let region = grower % REGIONS;
            let stop_day =
                epoch_day(season, 1, 25).ok_or("no such day")? + i32::try_from(generator.level(70))?;
            let log = HANDBOOK.ln()
                + at(&of_cultivar, cultivar)
                + at(&of_grower, grower)
                + at(&of_region, region)
                + generator.normal(0.12);
            let table = tables.get(region as usize).ok_or("no such region")?;
            let reached = |day: &i32| table.between(stop_day, *day).is_some_and(|heat| heat >= log.exp());
            let mut seen = [None; STAGES];
            if let Some(ready) = seen.get_mut(Stage::ShowReady.index()) {
                *ready = (stop_day..stop_day + 300).find(reached);
            }
            waits.push(Wait {
                plant: u32::try_from(waits.len())?,
                group: cultivar % GROUPS,
                cultivar,
                grower,
                region,
                environment: 0,
                place: region,
                season,
                stop_day,
                seen,
                looked_until: None,
            });
        }
    }

    let as_of = epoch_day(2026, 5, 10).ok_or("no such day")?;
    let settings = Settings::new(vec![Some(HANDBOOK); GROUPS as usize], as_of, 2026);
    let started = Instant::now();
    let found = estimate(&places, &waits, &settings, None)?;
    let cold = started.elapsed().as_secs_f64();
    let started = Instant::now();
    let again = estimate(&places, &waits, &settings, Some(&found))?;
    let warm = started.elapsed().as_secs_f64();
    let started = Instant::now();
    let fit = refresh(&places, &waits, &settings, &again)?;
    let refreshed = started.elapsed().as_secs_f64();
    println!("{} records, {growers} growers, {cultivars} cultivars", waits.len());
    println!("estimate {cold:.1} s, from the last one {warm:.1} s, refresh {refreshed:.2} s");
    println!("{:?}, {:?}, bases {:.2?}", found.regime, found.spreads, found.bases);
    println!("calibration {:.3?}, set aside {}", found.calibration, fit.set_aside.len());
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    println!(
        "{}",
        status.lines().find(|line| line.starts_with("VmHWM")).unwrap_or("peak memory not known here")
    );
    Ok(())
}
