//! Weather that never was: daily minimum, maximum, rain and humidity of each station.
//!
//! # The model
//!
//! The mean temperature of region `r` on day `d` is
//!
//! ```text
//! T(r, d) = mean_r + swing_r cos(2 pi (n - warmest_r) / 365.25) + spring(year, d)
//!         + fast(d) + slow(d) + own(r, d)
//!
//! fast: AR(1), 0.75 a day, sd 1.8 C      weather passing over the whole island
//! slow: AR(1), 0.97 a day, sd 0.8 C      spells of weeks, the whole island
//! own:  AR(1), 0.60 a day, sd 0.7 C      what one region has for itself
//! ```
//!
//! with `n` the day of the year. Days are wet or dry by a two-state Markov chain; a wet day has less
//! difference between night and noon, rain of an exponential amount, and damper air. A station takes its
//! region's weather 6.5 C per km of height colder or warmer, with an error of its own of 0.3 C.
//!
//! Two springs are made to differ: [`COLD_SPRING_C`] is added in one, [`WARM_SPRING_C`] in another, from
//! 1 March to 15 June, rising and fading over ten days.
//!
//! Every series is drawn day by day from 1 January 2000, whatever part of it is wanted. So the weather of a
//! day is a matter of the seed and the day alone.

use storksbill_forecast::calendar;
use storksbill_forecast::series::{LAPSE_C_PER_M, Reading, RegionSeries, SeriesError, Station as Gauge};
use storksbill_numerics::normal;

use crate::places::{Climate, REGIONS, STATIONS, Station};
use crate::random::Random;

/// Added to a cold late spring, degrees C.
pub const COLD_SPRING_C: f64 = -2.5;
/// Added to a warm spring, degrees C.
pub const WARM_SPRING_C: f64 = 2.0;

/// 1 January 2000, where every series begins to be drawn.
const DRAWN_FROM: i32 = 10_957;
const RAMP_DAYS: f64 = 10.0;

/// One station's day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Day {
    /// Days since 1970-01-01.
    pub day: i32,
    /// Tenths of a degree, as a thermometer is read.
    pub min_c: f64,
    pub max_c: f64,
    /// Tenths of a millimetre.
    pub rain_mm: f64,
    /// Whole per cent.
    pub humidity_pct: f64,
}

/// The years whose springs are made to differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Springs {
    pub cold: Option<i32>,
    pub warm: Option<i32>,
}

impl Springs {
    /// The last season warm, the one before cold: both are there whatever number of past seasons is wanted.
    pub fn before(season: i32) -> Self {
        Self { cold: Some(season - 2), warm: Some(season - 1) }
    }

    /// Degrees added on a day: nothing but in the two springs.
    fn added_c(self, day: i32) -> f64 {
        let year = calendar::date(day).year;
        let most = match Some(year) {
            this if this == self.cold => COLD_SPRING_C,
            this if this == self.warm => WARM_SPRING_C,
            _ => return 0.0,
        };
        let (Some(from), Some(to)) = (calendar::epoch_day(year, 3, 1), calendar::epoch_day(year, 6, 15))
        else {
            return 0.0;
        };
        let inside = f64::from((day - from + 1).min(to - day + 1));
        most * (inside / RAMP_DAYS).clamp(0.0, 1.0)
    }
}

/// A first-order autoregressive series with the given standard deviation.
struct Persistent {
    random: Random,
    keeps: f64,
    sd: f64,
    now: f64,
}

impl Persistent {
    fn new(random: Random, keeps: f64, sd: f64) -> Self {
        Self { random, keeps, sd, now: 0.0 }
    }

    fn next(&mut self) -> f64 {
        let fresh = self.sd * (1.0 - self.keeps * self.keeps).sqrt();
        self.now = self.keeps * self.now + self.random.normal(0.0, fresh);
        self.now
    }
}

/// What a region has on one day, at its own height.
#[derive(Debug, Clone, Copy)]
struct RegionDay {
    mean_c: f64,
    half_range_c: f64,
    rain_mm: f64,
    humidity_pct: f64,
}

/// All the weather of the demonstration.
#[derive(Debug, Clone)]
pub struct Weather {
    /// One list of days for each of [`STATIONS`].
    pub stations: Vec<Vec<Day>>,
    pub springs: Springs,
}

impl Weather {
    /// The readings from `first_day` to `last_day` (days since 1970-01-01, not before 2000).
    pub fn generate(seed: u64, first_day: i32, last_day: i32, springs: Springs) -> Self {
        let island = island(seed, last_day);
        let regions: Vec<Vec<RegionDay>> = REGIONS
            .iter()
            .zip(0_i64..)
            .map(|(region, at)| of_region(seed, at, region.climate, &island, springs))
            .collect();
        let stations = STATIONS
            .iter()
            .zip(0_i64..)
            .map(|(station, at)| {
                let days = regions.get(station.region).map_or(&[][..], Vec::as_slice);
                let above = REGIONS.get(station.region).map_or(0.0, |r| station.elevation_m - r.elevation_m);
                let random = Random::stream(seed, "station", &[at]);
                let mut all = of_station(random, above, days);
                all.retain(|day| day.day >= first_day);
                all
            })
            .collect();
        Self { stations, springs }
    }

    /// The stations of a region with their readings.
    pub fn of_region(&self, region: usize) -> impl Iterator<Item = (&'static Station, &[Day])> {
        STATIONS
            .iter()
            .zip(&self.stations)
            .filter(move |(station, _)| station.region == region)
            .map(|(station, days)| (station, days.as_slice()))
    }

    /// The region's series as the server makes it of the stations' readings.
    ///
    /// # Errors
    /// As [`RegionSeries::build`].
    pub fn series(&self, region: usize) -> Result<RegionSeries, SeriesError> {
        let readings: Vec<(f64, Vec<Reading>)> = self
            .of_region(region)
            .map(|(station, days)| {
                let readings =
                    days.iter().map(|d| Reading { day: d.day, min_c: d.min_c, max_c: d.max_c }).collect();
                (station.elevation_m, readings)
            })
            .collect();
        let gauges: Vec<Gauge<'_>> =
            readings.iter().map(|(height_m, readings)| Gauge { height_m: *height_m, readings }).collect();
        RegionSeries::build(REGIONS.get(region).map_or(0.0, |r| r.elevation_m), &gauges)
    }
}

/// What passes over the whole island: the sum of the two temperature series, and a score for wet days.
fn island(seed: u64, last_day: i32) -> Vec<(f64, f64)> {
    let mut fast = Persistent::new(Random::stream(seed, "island fast", &[]), 0.75, 1.8);
    let mut slow = Persistent::new(Random::stream(seed, "island slow", &[]), 0.97, 0.8);
    let mut wet = Random::stream(seed, "island rain", &[]);
    (DRAWN_FROM..=last_day).map(|_| (fast.next() + slow.next(), wet.normal(0.0, 1.0))).collect()
}

fn of_region(
    seed: u64,
    region: i64,
    climate: Climate,
    island: &[(f64, f64)],
    springs: Springs,
) -> Vec<RegionDay> {
    let mut own = Persistent::new(Random::stream(seed, "region", &[region]), 0.6, 0.7);
    let mut random = Random::stream(seed, "region rain", &[region]);
    let mut wet = false;
    (DRAWN_FROM..)
        .zip(island)
        .map(|(day, (passing, wetness))| {
            let of_year = |peak: f64| (std::f64::consts::TAU * (day_of_year(day) - peak) / 365.25).cos();
            let mean_c = climate.mean_c
                + climate.swing_c * of_year(climate.warmest_day)
                + springs.added_c(day)
                + passing
                + own.next();
            // Regions are wet together more often than not: correlation 0.64 of the scores.
            let score = 0.8 * wetness + 0.6 * random.normal(0.0, 1.0);
            let [after_dry, after_wet] = climate.wet_after;
            wet = normal::cdf(score) < if wet { after_wet } else { after_dry };
            let spread = random.normal(0.0, 0.25).exp() * if wet { 0.75 } else { 1.15 };
            let rain = random.exponential(climate.rain_mm);
            let damp = random.normal(if wet { 7.0 } else { -4.0 }, 4.0);
            RegionDay {
                mean_c,
                half_range_c: climate.half_range_c * (1.0 + 0.3 * of_year(160.0)) * spread,
                rain_mm: if wet { rain + 0.1 } else { 0.0 },
                humidity_pct: climate.humidity_pct + 6.0 * of_year(15.0) + damp,
            }
        })
        .collect()
}

fn of_station(mut random: Random, above_m: f64, region: &[RegionDay]) -> Vec<Day> {
    let tenths = |value: f64| (value * 10.0).round() / 10.0;
    (DRAWN_FROM..)
        .zip(region)
        .map(|(day, air)| {
            let mean_c = air.mean_c - LAPSE_C_PER_M * above_m + random.normal(0.0, 0.3);
            let catch = random.normal(0.0, 0.15).exp();
            Day {
                day,
                min_c: tenths(mean_c - air.half_range_c),
                max_c: tenths(mean_c + air.half_range_c),
                rain_mm: tenths(air.rain_mm * catch),
                humidity_pct: (air.humidity_pct + random.normal(0.0, 1.5)).clamp(35.0, 100.0).round(),
            }
        })
        .collect()
}

fn day_of_year(day: i32) -> f64 {
    let year = calendar::date(day).year;
    f64::from(calendar::epoch_day(year, 1, 1).map_or(0, |first| day - first) + 1)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

    use storksbill_forecast::degree_days::HeatRule;
    use storksbill_forecast::glass::House;
    use storksbill_forecast::season::{self, ReferencePlant};
    use storksbill_forecast::series::HeatTable;

    use super::*;

    fn day(year: i32, month: u32, day: u32) -> i32 {
        calendar::epoch_day(year, month, day).unwrap()
    }

    fn six_years(seed: u64) -> Weather {
        Weather::generate(seed, day(2020, 9, 1), day(2026, 5, 9), Springs::before(2026))
    }

    #[test]
    fn a_days_weather_is_a_matter_of_the_seed_and_the_day_alone() {
        let long = six_years(11);
        let short = Weather::generate(11, day(2024, 2, 1), day(2024, 12, 31), Springs::before(2026));
        for (all, some) in long.stations.iter().zip(&short.stations) {
            let same: Vec<Day> = all
                .iter()
                .filter(|d| (day(2024, 2, 1)..=day(2024, 12, 31)).contains(&d.day))
                .copied()
                .collect();
            assert_eq!(&same, some);
            assert_eq!(some.len(), 335);
        }
        assert_ne!(long.stations, six_years(12).stations);
    }

    #[test]
    fn the_cold_and_the_warm_spring_are_colder_and_warmer_by_the_stated_degrees() {
        let told = six_years(11);
        let even =
            Weather::generate(11, day(2020, 9, 1), day(2026, 5, 9), Springs { cold: None, warm: None });
        let shift = |from: i32, to: i32| {
            let mean = |weather: &Weather| {
                let days: Vec<f64> = weather
                    .stations
                    .iter()
                    .flatten()
                    .filter(|d| (from..=to).contains(&d.day))
                    .map(|d| f64::midpoint(d.min_c, d.max_c))
                    .collect();
                days.iter().sum::<f64>() / days.len() as f64
            };
            mean(&told) - mean(&even)
        };
        for (from, to, expected) in [
            (day(2024, 3, 10), day(2024, 6, 6), COLD_SPRING_C),
            (day(2025, 3, 10), day(2025, 6, 6), WARM_SPRING_C),
            (day(2024, 1, 1), day(2024, 2, 29), 0.0),
            (day(2024, 6, 16), day(2025, 2, 28), 0.0),
            (day(2021, 1, 1), day(2023, 12, 31), 0.0),
            (day(2026, 1, 1), day(2026, 5, 9), 0.0),
        ] {
            // Readings are rounded to tenths; a shift by whole tenths changes no rounding but of ties.
            assert!((shift(from, to) - expected).abs() < 0.001, "{from}: {}", shift(from, to));
        }
    }

    #[test]
    fn readings_are_sound_and_every_day_is_there() {
        for days in &six_years(11).stations {
            assert!(days.windows(2).all(|pair| pair[1].day == pair[0].day + 1));
            assert_eq!((days[0].day, days.last().unwrap().day), (day(2020, 9, 1), day(2026, 5, 9)));
            for d in days {
                assert!(d.min_c <= d.max_c && d.min_c > -20.0 && d.max_c < 38.0, "{d:?}");
                assert!(
                    (0.0..200.0).contains(&d.rain_mm) && (35.0..=100.0).contains(&d.humidity_pct),
                    "{d:?}"
                );
            }
            let wet = days.iter().filter(|d| d.rain_mm > 0.0).count() as f64 / days.len() as f64;
            assert!((0.3..0.65).contains(&wet), "{wet}");
        }
    }

    /// Mean of the year and warmth of July and January are what the climate says, within what six years of
    /// spells leave uncertain.
    #[test]
    fn each_region_has_its_climate() {
        let weather =
            Weather::generate(11, day(2000, 1, 1), day(2025, 12, 31), Springs { cold: None, warm: None });
        for (at, region) in REGIONS.iter().enumerate() {
            let series = weather.series(at).unwrap();
            let mean = |keep: &dyn Fn(u32) -> bool| {
                let kept: Vec<f64> = (series.first_day..)
                    .zip(&series.days)
                    .filter(|(d, _)| keep(calendar::date(*d).month))
                    .map(|(_, d)| f64::midpoint(d.min_c, d.max_c))
                    .collect();
                kept.iter().sum::<f64>() / kept.len() as f64
            };
            // 26 years of a spell series of sd 0.8 that remembers 33 days leave 0.07 C; four of those.
            assert!((mean(&|_| true) - region.climate.mean_c).abs() < 0.3, "{}", region.name);
            let swing = mean(&|m| m == 7 || m == 8) - mean(&|m| m == 1 || m == 2);
            assert!((swing - 2.0 * region.climate.swing_c).abs() < 1.5, "{}: {swing}", region.name);
        }
    }

    /// A zonal stopped on 11 March in a frost-free house, by weather alone.
    #[test]
    fn a_plant_is_ready_later_in_the_cold_spring_than_in_the_warm_one_in_every_region() {
        let weather = six_years(11);
        for (at, region) in REGIONS.iter().enumerate() {
            let series = weather.series(at).unwrap();
            let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
            let ready = |year: i32| {
                let standing =
                    season::standing(&table, &ReferencePlant::default(), day(year, 12, 31)).unwrap();
                standing.ready_day - f64::from(day(year, 1, 1))
            };
            let late = ready(2024) - ready(2025);
            // 4.5 C over some 100 days at some 10 degree-days a day.
            assert!((15.0..60.0).contains(&late), "{}: {late}", region.name);
        }
    }
}
