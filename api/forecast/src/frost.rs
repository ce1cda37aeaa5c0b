//! The last frost of spring: year by year, and as a probability for the years to come.
//!
//! Sources: Thom 1959, Monthly Weather Review 87:293-297 (dates of the years with a frost taken as normal,
//! and the share of such years beside them; the citation is from memory); Hyndman & Fan 1996, The American
//! Statistician 50:361-365 (sample quantiles of types 7 and 8). The thresholds, the season and the numbers of
//! years asked for are common practice.

use storksbill_numerics::normal;

use crate::calendar;

/// Air frost.
pub const AIR_FROST_C: f64 = 0.0;
/// A frost that kills tender plants.
pub const KILLING_C: f64 = -2.0;
/// Air this cold on a still night lies over frozen grass.
pub const GRASS_FROST_C: f64 = 2.0;

/// Share of the days of a season that must have a minimum for its year to count.
const LEAST_KNOWN: f64 = 0.9;
/// From so many years with a frost their own dates are the distribution.
pub const EMPIRICAL_YEARS: usize = 30;
/// From so many a normal is fitted; with fewer there is nothing to say.
pub const NORMAL_YEARS: usize = 8;

/// The part of the year in which a last frost is looked for, both days included, as (month, day). Its end
/// lies in the next year when it is not later than its start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Season {
    pub from: (u32, u32),
    pub to: (u32, u32),
}

impl Season {
    /// 1 January to 15 July.
    pub const NORTH: Season = Season { from: (1, 1), to: (7, 15) };
    /// 1 July to 15 January.
    pub const SOUTH: Season = Season { from: (7, 1), to: (1, 15) };

    /// First and last day of the season that starts in `year`; `None` for a date the calendar lacks.
    pub fn of_year(&self, year: i32) -> Option<(i32, i32)> {
        let start = calendar::epoch_day(year, self.from.0, self.from.1)?;
        let end_year = if self.to > self.from { year } else { year.checked_add(1)? };
        Some((start, calendar::epoch_day(end_year, self.to.0, self.to.1)?))
    }
}

/// The last frost of one season.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LastFrost {
    /// The year the season starts in.
    pub year: i32,
    /// Day of the season, 1 on its first; `None` when it never froze. For [`Season::NORTH`] this is the day
    /// of the year.
    pub day: Option<i32>,
}

/// The last day of each season whose minimum is at or below `threshold_c`, from (epoch day, minimum) in any
/// order.
///
/// A year counts only when nine tenths of its season's days have a finite minimum; a frost hidden in the
/// rest makes the last one look too early. Cost: days x log(days), for a sorted copy.
pub fn last_frosts(minima: &[(i32, f64)], threshold_c: f64, season: Season) -> Vec<LastFrost> {
    let mut sorted: Vec<(i32, f64)> = minima.iter().copied().filter(|(_, min)| min.is_finite()).collect();
    sorted.sort_by_key(|&(day, _)| day);
    // Of several values for one day the last given counts.
    sorted.reverse();
    sorted.dedup_by_key(|&mut (day, _)| day);
    sorted.reverse();
    let (Some(first), Some(last)) = (sorted.first(), sorted.last()) else { return Vec::new() };
    // A season may have begun in the year before the first value.
    let years = calendar::date(first.0).year - 1..=calendar::date(last.0).year;
    years
        .filter_map(|year| {
            let (start, end) = season.of_year(year)?;
            let from = sorted.partition_point(|&(day, _)| day < start);
            let to = sorted.partition_point(|&(day, _)| day <= end);
            let days = sorted.get(from..to)?;
            if (days.len() as f64) < LEAST_KNOWN * f64::from(end - start + 1) {
                return None;
            }
            let last = days.iter().rev().find(|&&(_, min)| min <= threshold_c);
            Some(LastFrost { year, day: last.map(|&(day, _)| day - start + 1) })
        })
        .collect()
}

/// Sample quantile of type 7 (that of most spreadsheets) of values in rising order; `None` without values or
/// when `p` is no probability.
pub fn quantile_type_7(sorted: &[f64], p: f64) -> Option<f64> {
    at_position(sorted, p, (sorted.len() as f64 - 1.0) * p)
}

/// Sample quantile of type 8 (nearly free of bias whatever the distribution), likewise.
pub fn quantile_type_8(sorted: &[f64], p: f64) -> Option<f64> {
    at_position(sorted, p, (sorted.len() as f64 + 1.0 / 3.0) * p + 1.0 / 3.0 - 1.0)
}

/// The value at a position counted from nought, on straight lines between the values.
fn at_position(sorted: &[f64], p: f64, position: f64) -> Option<f64> {
    if !(0.0..=1.0).contains(&p) {
        return None;
    }
    let below = position.floor();
    let part = position - below;
    let pick = |at: f64| -> Option<f64> {
        let last = sorted.len().checked_sub(1)?;
        // Within the slice, so that the conversion is exact.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the slice")]
        sorted.get(at.clamp(0.0, last as f64) as usize).copied()
    };
    let (lower, upper) = (pick(below)?, pick(below + 1.0)?);
    Some(lower + part * (upper - lower))
}

/// Last-frost dates as a normal distribution beside years without a frost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalFrost {
    /// Share of the years with a frost in the season, 0 to 1.
    pub share: f64,
    /// Of those years, in days of the season.
    pub mean: f64,
    /// In days, positive.
    pub sd: f64,
}

impl NormalFrost {
    /// Probability of a frost after the end of `day`: `share (1 - Phi((day + 1/2 - mean) / sd))`.
    pub fn after(&self, day: i32) -> f64 {
        self.share * normal::survival((f64::from(day) + 0.5 - self.mean) / self.sd)
    }

    /// The day of the season by which the last frost has come in the share `p` of the years that have one.
    pub fn quantile(&self, p: f64) -> f64 {
        self.mean + self.sd * normal::quantile(p)
    }
}

/// The last frost of a year to come.
#[derive(Debug, Clone, PartialEq)]
pub enum FrostRisk {
    /// By the dates of at least 30 years with a frost.
    Empirical {
        /// Days of the season in rising order.
        days: Vec<f64>,
        /// Years observed, those without a frost included.
        years: usize,
    },
    /// By a normal fitted to at least 8.
    Normal(NormalFrost),
}

impl FrostRisk {
    /// `None` with fewer than 8 years that had a frost. The standard deviation is that of a sample, and at
    /// least that of a date rounded to a whole day.
    pub fn fit(years: &[LastFrost]) -> Option<FrostRisk> {
        let mut days: Vec<f64> = years.iter().filter_map(|year| year.day).map(f64::from).collect();
        if days.len() < NORMAL_YEARS {
            return None;
        }
        if days.len() >= EMPIRICAL_YEARS {
            days.sort_unstable_by(f64::total_cmp);
            return Some(FrostRisk::Empirical { days, years: years.len() });
        }
        let count = days.len() as f64;
        let mean = days.iter().sum::<f64>() / count;
        let squares: f64 = days.iter().map(|day| (day - mean) * (day - mean)).sum();
        let sd = (squares / (count - 1.0)).sqrt().max((1.0_f64 / 12.0).sqrt());
        Some(FrostRisk::Normal(NormalFrost { share: count / years.len() as f64, mean, sd }))
    }

    /// Probability, 0 to 1, of a frost after the end of this day of the season.
    pub fn after(&self, day: i32) -> f64 {
        match self {
            FrostRisk::Normal(frost) => frost.after(day),
            FrostRisk::Empirical { days, years } => {
                let later = days.len() - days.partition_point(|&last| last <= f64::from(day));
                later as f64 / *years as f64
            }
        }
    }

    /// The day of the season by which the last frost has come in the share `p` of the years that have one;
    /// `None` when `p` is no probability.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        match self {
            FrostRisk::Normal(frost) => (0.0..=1.0).contains(&p).then(|| frost.quantile(p)),
            FrostRisk::Empirical { days, .. } => quantile_type_8(days, p),
        }
    }

    /// The first day of the season after whose end the probability of a frost is at most `risk`: when to
    /// put the plants out. `None` when `risk` is not above nought.
    pub fn safe_after(&self, risk: f64) -> Option<i32> {
        // Also false for what is not a number. No season has more days than two years.
        if risk > 0.0 { (1..=731).find(|&day| self.after(day) <= risk) } else { None }
    }
}
