//! Days a station missed, estimated from stations near it by straight lines of least squares.
//!
//! Regression on the neighbour that agrees best is common practice in climatology. The season of 45 days
//! either way, the 30 days and the share of variance of one half are this project's own choice.
#![allow(clippy::indexing_slicing, reason = "numeric kernel: every index comes from the same range check")]

use crate::calendar;
use crate::series::{Reading, usable};

/// Fewer days in common say too little.
pub const LEAST_COMMON_DAYS: usize = 30;
/// Least share of the station's variance the line must explain, for the minima and for the maxima.
pub const LEAST_R2: f64 = 0.5;
/// A line is drawn through the common days of every year within so many days of the date.
pub const SEASON_DAYS: usize = 45;

/// Days of a year, the leap day included.
const YEAR: usize = 366;

/// An estimate for a day the station itself did not report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// At the station's own height, degrees C.
    pub reading: Reading,
    /// Place of the neighbour it comes from.
    pub neighbour: usize,
    /// The lesser of the shares of variance explained, of the minima and of the maxima.
    pub r2: f64,
}

/// Estimates for every day that some neighbour reported and the station did not, within its own span or
/// outside it, in the order of the days.
///
/// Minimum is regressed on minimum and maximum on maximum over the days in common, within
/// [`SEASON_DAYS`] of the date in any year, or over all of them where the season has fewer than
/// [`LEAST_COMMON_DAYS`]. Of the neighbours with a reading for the day and a line of at least
/// [`LEAST_R2`] the one explaining most is used. A day of the station's own is never estimated.
///
/// Estimates vary less than readings do: the line keeps the share `r2` of the variance, so that frosts and
/// hot days among them are fewer than they were.
///
/// Readings are taken as in [`crate::series::RegionSeries::build`]: those out of range passed over, swapped
/// extremes exchanged, the last of a day used; heights do not matter. Cost: readings x log(readings), and
/// 366 lines a neighbour (12 kB each).
pub fn fill_from_neighbours(own: &[Reading], neighbours: &[&[Reading]]) -> Vec<Estimate> {
    let own = in_order(own);
    let others: Vec<Vec<Reading>> = neighbours.iter().map(|readings| in_order(readings)).collect();
    let lines: Vec<Vec<Option<Lines>>> = others.iter().map(|other| lines_of_year(&own, other)).collect();
    let mut best: Vec<Estimate> = Vec::new();
    for (neighbour, (other, lines)) in others.iter().zip(&lines).enumerate() {
        for reading in other {
            if own.binary_search_by_key(&reading.day, |r| r.day).is_ok() {
                continue;
            }
            if let Some(line) = lines[place_in_year(reading.day)] {
                let (low, high) = (line.minimum.at(reading.min_c), line.maximum.at(reading.max_c));
                let reading = Reading { day: reading.day, min_c: low.min(high), max_c: high.max(low) };
                best.push(Estimate { reading, neighbour, r2: line.r2() });
            }
        }
    }
    // The best of each day first, the earlier neighbour of equals.
    best.sort_by(|a, b| a.reading.day.cmp(&b.reading.day).then(b.r2.total_cmp(&a.r2)));
    best.dedup_by_key(|estimate| estimate.reading.day);
    best
}

/// Usable readings by day, extremes in order, one a day.
fn in_order(readings: &[Reading]) -> Vec<Reading> {
    let mut sorted: Vec<Reading> = readings
        .iter()
        .filter(|reading| usable(reading))
        .map(|r| Reading { day: r.day, min_c: r.min_c.min(r.max_c), max_c: r.max_c.max(r.min_c) })
        .collect();
    // Stable, so that in the reverse the last given comes first.
    sorted.sort_by_key(|reading| reading.day);
    sorted.reverse();
    sorted.dedup_by_key(|reading| reading.day);
    sorted.reverse();
    sorted
}

/// Place of a date in a leap year, 0 to 365.
fn place_in_year(day: i32) -> usize {
    let date = calendar::date(day);
    let days = calendar::epoch_day(2000, date.month, date.day).zip(calendar::epoch_day(2000, 1, 1));
    days.and_then(|(day, first)| usize::try_from(day - first).ok()).map_or(0, |at| at.min(YEAR - 1))
}

#[derive(Clone, Copy)]
struct Line {
    intercept: f64,
    slope: f64,
    r2: f64,
}

impl Line {
    fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }
}

#[derive(Clone, Copy)]
struct Lines {
    minimum: Line,
    maximum: Line,
}

impl Lines {
    fn r2(&self) -> f64 {
        self.minimum.r2.min(self.maximum.r2)
    }
}

/// Sums of a regression.
#[derive(Clone, Copy, Default)]
struct Sums {
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

impl Sums {
    fn add(&mut self, x: f64, y: f64) {
        self.plus(&Sums { x, y, xx: x * x, xy: x * y, yy: y * y });
    }

    fn plus(&mut self, other: &Sums) {
        self.x += other.x;
        self.y += other.y;
        self.xx += other.xx;
        self.xy += other.xy;
        self.yy += other.yy;
    }

    fn line(&self, count: usize) -> Option<Line> {
        let count = count as f64;
        let across = self.xx - self.x * self.x / count;
        let along = self.xy - self.x * self.y / count;
        let own = self.yy - self.y * self.y / count;
        // What is left of equal numbers after the subtraction is rounding.
        if across <= 1e-9 * self.xx || own <= 1e-9 * self.yy {
            return None;
        }
        let slope = along / across;
        Some(Line { intercept: (self.y - slope * self.x) / count, slope, r2: along * along / (across * own) })
    }
}

#[derive(Clone, Copy, Default)]
struct Common {
    days: usize,
    minimum: Sums,
    maximum: Sums,
}

impl Common {
    fn plus(&mut self, other: &Common) {
        self.days += other.days;
        self.minimum.plus(&other.minimum);
        self.maximum.plus(&other.maximum);
    }

    fn lines(&self) -> Option<Lines> {
        if self.days < LEAST_COMMON_DAYS {
            return None;
        }
        let lines = Lines { minimum: self.minimum.line(self.days)?, maximum: self.maximum.line(self.days)? };
        (lines.r2() >= LEAST_R2).then_some(lines)
    }
}

/// The lines to use on each day of the year.
fn lines_of_year(own: &[Reading], other: &[Reading]) -> Vec<Option<Lines>> {
    let mut by_date = vec![Common::default(); YEAR];
    let mut at = 0;
    for reading in own {
        while other.get(at).is_some_and(|r| r.day < reading.day) {
            at += 1;
        }
        if let Some(same) = other.get(at).filter(|r| r.day == reading.day) {
            let common = &mut by_date[place_in_year(reading.day)];
            common.days += 1;
            common.minimum.add(same.min_c, reading.min_c);
            common.maximum.add(same.max_c, reading.max_c);
        }
    }
    let mut all = Common::default();
    for date in &by_date {
        all.plus(date);
    }
    // Summed afresh for each date: a running sum would gather the rounding of all it dropped.
    (0..YEAR)
        .map(|date| {
            let mut season = Common::default();
            for step in 0..=2 * SEASON_DAYS {
                season.plus(&by_date[(date + YEAR - SEASON_DAYS + step) % YEAR]);
            }
            if season.days < LEAST_COMMON_DAYS { all.lines() } else { season.lines() }
        })
        .collect()
}
