//! One daily series for a region out of the readings of its stations, and tables of running heat.
#![allow(clippy::indexing_slicing, reason = "numeric kernel: every index comes from the same range check")]

use crate::degree_days::HeatRule;
use crate::glass::{Gain, House};
use crate::sun;

/// Fall of temperature with height, degrees C a metre (International Standard Atmosphere, ICAO Doc 7488).
pub const LAPSE_C_PER_M: f64 = 0.0065;
/// A reading colder or warmer than this is a slip of the pen, not weather.
pub const WIDEST_C: f64 = 50.0;
/// Gaps of at most so many days are filled by a straight line between their neighbours.
pub const LONGEST_FILLED_GAP: usize = 3;
/// A series may span at most so many days (200 years), so that one mistyped year cannot exhaust memory.
pub const LONGEST_SERIES: usize = 73_050;

/// One station's extremes of one day, degrees C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    pub day: i32,
    pub min_c: f64,
    pub max_c: f64,
}

/// The readings of one station, in any order; of several for one day the last given counts.
#[derive(Debug, Clone, Copy)]
pub struct Station<'a> {
    pub height_m: f64,
    pub readings: &'a [Reading],
}

/// Where a day's values come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// The median of the stations that reported.
    Measured,
    /// No station reported: the median of estimates by regression on stations elsewhere.
    Regressed,
    /// A line across a gap of at most [`LONGEST_FILLED_GAP`] days.
    Interpolated,
    /// In a longer gap: `min_c` and `max_c` are not numbers.
    Missing,
}

/// One day of the region at its own height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RegionDay {
    pub min_c: f64,
    pub max_c: f64,
    pub origin: Origin,
    /// Stations behind the values, estimated ones on a day that is [`Origin::Regressed`].
    pub stations: u16,
    /// Readings of the day with minimum above maximum, which were exchanged and used.
    pub swapped: u16,
    /// Readings of the day beyond [`WIDEST_C`] or not a number, which were not used.
    pub refused: u16,
}

impl RegionDay {
    const EMPTY: RegionDay = RegionDay {
        min_c: f64::NAN,
        max_c: f64::NAN,
        origin: Origin::Missing,
        stations: 0,
        swapped: 0,
        refused: 0,
    };
}

/// A region's weather, day after day without a hole in the numbering.
#[derive(Debug, Clone, PartialEq)]
pub struct RegionSeries {
    pub height_m: f64,
    pub first_day: i32,
    /// `days[i]` is day `first_day + i`; the first and the last are never missing.
    pub days: Vec<RegionDay>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SeriesError {
    /// No station has a usable reading: a region without weather gets no forecast.
    #[error("no usable readings")]
    NoReadings,
    /// The readings span more than [`LONGEST_SERIES`] days.
    #[error("readings run from day {first_day} to day {last_day}, more than {LONGEST_SERIES} days")]
    TooLong { first_day: i32, last_day: i32 },
    /// A height is not a finite number.
    #[error("a height is not a finite number")]
    BadHeight,
}

/// How many days and readings were not taken as they came.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Flags {
    pub swapped_readings: usize,
    pub refused_readings: usize,
    pub regressed_days: usize,
    pub interpolated_days: usize,
    pub missing_days: usize,
}

pub(crate) fn usable(reading: &Reading) -> bool {
    // A comparison with NaN is false.
    reading.min_c.abs() <= WIDEST_C && reading.max_c.abs() <= WIDEST_C
}

fn days_between(first: i32, last: i32) -> i64 {
    i64::from(last) - i64::from(first)
}

impl RegionSeries {
    /// Reduces every station to `height_m` by [`LAPSE_C_PER_M`] and takes the median of minima and of
    /// maxima day by day; fills short gaps.
    pub fn build(height_m: f64, stations: &[Station<'_>]) -> Result<RegionSeries, SeriesError> {
        RegionSeries::build_filled(height_m, stations, &[])
    }

    /// The same with estimates for the days on which no station reported, as
    /// [`crate::neighbours::fill_from_neighbours`] gives them for each station: where there are any, their
    /// median is the day's and its origin [`Origin::Regressed`]. They are never mixed with a measurement;
    /// short gaps that are left are filled after them. The series runs over the days of both, but without
    /// a single measurement it is refused.
    pub fn build_filled(
        height_m: f64,
        stations: &[Station<'_>],
        estimates: &[Station<'_>],
    ) -> Result<RegionSeries, SeriesError> {
        let all = || stations.iter().chain(estimates);
        if !height_m.is_finite() || all().any(|station| !station.height_m.is_finite()) {
            return Err(SeriesError::BadHeight);
        }
        if !stations.iter().flat_map(|station| station.readings).any(usable) {
            return Err(SeriesError::NoReadings);
        }
        let used = all().flat_map(|station| station.readings).filter(|reading| usable(reading));
        let (first_day, last_day) = used
            .map(|reading| reading.day)
            .fold((i32::MAX, i32::MIN), |(first, last), day| (day.min(first), day.max(last)));
        let length = usize::try_from(days_between(first_day, last_day) + 1)
            .ok()
            .filter(|&length| length <= LONGEST_SERIES)
            .ok_or(SeriesError::TooLong { first_day, last_day })?;
        let mut days = medians(height_m, stations, first_day, length);
        if !estimates.is_empty() {
            for (day, estimate) in days.iter_mut().zip(medians(height_m, estimates, first_day, length)) {
                if day.origin == Origin::Missing && estimate.origin == Origin::Measured {
                    (day.min_c, day.max_c) = (estimate.min_c, estimate.max_c);
                    (day.stations, day.origin) = (estimate.stations, Origin::Regressed);
                }
            }
        }
        fill_short_gaps(&mut days);
        Ok(RegionSeries { height_m, first_day, days })
    }

    /// The last day of the series.
    pub fn last_day(&self) -> i32 {
        // LONGEST_SERIES bounds the length, so the conversion cannot fail.
        self.first_day.saturating_add(i32::try_from(self.days.len()).unwrap_or(i32::MAX) - 1)
    }

    pub fn get(&self, day: i32) -> Option<&RegionDay> {
        self.days.get(usize::try_from(days_between(self.first_day, day)).ok()?)
    }

    pub fn flags(&self) -> Flags {
        let mut flags = Flags::default();
        for day in &self.days {
            flags.swapped_readings += usize::from(day.swapped);
            flags.refused_readings += usize::from(day.refused);
            flags.regressed_days += usize::from(day.origin == Origin::Regressed);
            flags.interpolated_days += usize::from(day.origin == Origin::Interpolated);
            flags.missing_days += usize::from(day.origin == Origin::Missing);
        }
        flags
    }
}

/// The days' medians of the stations at one height, each day [`Origin::Measured`] or [`Origin::Missing`].
fn medians(height_m: f64, stations: &[Station<'_>], first_day: i32, length: usize) -> Vec<RegionDay> {
    let mut days = vec![RegionDay::EMPTY; length];
    let slot = |day: i32| usize::try_from(days_between(first_day, day)).ok().filter(|&at| at < length);

    // Room for every reading of a day, side by side, so that the medians need one array only.
    let mut start = vec![0_usize; length + 1];
    for station in stations {
        for at in station.readings.iter().filter(|r| usable(r)).filter_map(|r| slot(r.day)) {
            start[at + 1] += 1;
        }
    }
    for at in 0..length {
        start[at + 1] += start[at];
    }
    let total = start[length];
    let (mut minima, mut maxima) = (vec![0.0_f64; total], vec![0.0_f64; total]);
    let mut filled = vec![0_usize; length];
    let mut last_station = vec![usize::MAX; length];
    for (number, station) in stations.iter().enumerate() {
        let shift = LAPSE_C_PER_M * (station.height_m - height_m);
        for reading in station.readings {
            let Some(at) = slot(reading.day) else { continue };
            if !usable(reading) {
                days[at].refused = days[at].refused.saturating_add(1);
                continue;
            }
            let (mut low, mut high) = (reading.min_c, reading.max_c);
            if low > high {
                (low, high) = (high, low);
                days[at].swapped = days[at].swapped.saturating_add(1);
            }
            if last_station[at] != number {
                last_station[at] = number;
                filled[at] += 1;
            }
            let place = start[at] + filled[at] - 1;
            (minima[place], maxima[place]) = (low + shift, high + shift);
        }
    }
    for (at, day) in days.iter_mut().enumerate() {
        let range = start[at]..start[at] + filled[at];
        if !range.is_empty() {
            day.stations = u16::try_from(range.len()).unwrap_or(u16::MAX);
            day.origin = Origin::Measured;
            day.min_c = median(&mut minima[range.clone()]);
            day.max_c = median(&mut maxima[range]);
        }
    }
    days
}

/// The median; the mean of the middle two of an even number. `values` is not empty.
fn median(values: &mut [f64]) -> f64 {
    let half = values.len() / 2;
    let even = values.len().is_multiple_of(2);
    let (lower, &mut upper_middle, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    if even {
        f64::midpoint(lower.iter().copied().fold(f64::NEG_INFINITY, f64::max), upper_middle)
    } else {
        upper_middle
    }
}

fn fill_short_gaps(days: &mut [RegionDay]) {
    let mut before = 0;
    for at in 1..days.len() {
        if days[at].origin == Origin::Missing {
            continue;
        }
        let gap = at - before - 1;
        if gap <= LONGEST_FILLED_GAP {
            let (from, to) = (days[before], days[at]);
            for (step, day) in days[before + 1..at].iter_mut().enumerate() {
                let share = (step + 1) as f64 / (gap + 1) as f64;
                day.min_c = from.min_c + share * (to.min_c - from.min_c);
                day.max_c = from.max_c + share * (to.max_c - from.max_c);
                day.origin = Origin::Interpolated;
            }
        }
        before = at;
    }
}

/// Running sums of heat inside one kind of house by one rule: built once, then the heat between any two
/// days costs two look-ups.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatTable {
    pub house: House,
    pub gain: Gain,
    pub rule: HeatRule,
    /// The latitude by which the light of the day was counted in; `None` when heat alone counts.
    pub lit_at_deg: Option<f64>,
    pub first_day: i32,
    /// `sums[i]` is the heat of the first `i` days, missing days counting nothing.
    sums: Vec<f64>,
    /// `missing[i]` is the number of missing days among the first `i`.
    missing: Vec<u32>,
}

impl HeatTable {
    pub fn build(series: &RegionSeries, house: House, rule: HeatRule) -> HeatTable {
        HeatTable::build_with(series, house, Gain::default(), rule)
    }

    /// With what the glass of this house does to the air outside.
    pub fn build_with(series: &RegionSeries, house: House, gain: Gain, rule: HeatRule) -> HeatTable {
        HeatTable::tabulate(series, house, gain, rule, None)
    }

    /// With each day's heat multiplied by [`sun::rate_factor`] of its light at the latitude (north
    /// positive), estimated from the range of temperature outside and reduced by the glass.
    ///
    /// The factor is from memory and has no published source for plants brought on from cuttings.
    pub fn build_lit(series: &RegionSeries, house: House, rule: HeatRule, latitude_deg: f64) -> HeatTable {
        HeatTable::tabulate(series, house, Gain::default(), rule, Some(latitude_deg))
    }

    fn tabulate(
        series: &RegionSeries,
        house: House,
        gain: Gain,
        rule: HeatRule,
        lit_at_deg: Option<f64>,
    ) -> HeatTable {
        let mut sums = Vec::with_capacity(series.days.len() + 1);
        let mut missing = Vec::with_capacity(series.days.len() + 1);
        let (mut sum, mut gaps) = (0.0, 0);
        sums.push(sum);
        missing.push(gaps);
        for (at, day) in series.days.iter().enumerate() {
            if day.origin == Origin::Missing {
                gaps += 1;
            } else {
                let (min, max) = house.inside_with(gain, day.min_c, day.max_c);
                let next_min = series
                    .days
                    .get(at + 1)
                    .filter(|next| next.origin != Origin::Missing)
                    .map(|next| house.inside_with(gain, next.min_c, next.max_c).0);
                let rate = lit_at_deg.map_or(1.0, |latitude| {
                    // LONGEST_SERIES bounds the length, so the conversion cannot fail.
                    let number = series.first_day.saturating_add(i32::try_from(at).unwrap_or(i32::MAX));
                    light_rate(house, number, day, latitude)
                });
                sum += rate * rule.day(min, max, next_min);
            }
            sums.push(sum);
            missing.push(gaps);
        }
        HeatTable { house, gain, rule, lit_at_deg, first_day: series.first_day, sums, missing }
    }

    /// The last day of the table.
    pub fn last_day(&self) -> i32 {
        self.first_day.saturating_add(i32::try_from(self.missing.len()).unwrap_or(i32::MAX) - 2)
    }

    /// Heat of one day; `None` outside the series or in a gap.
    pub fn day_heat(&self, day: i32) -> Option<f64> {
        self.between(day, day)
    }

    /// Heat from the first day's start to the last day's end; zero when `last` is the day before `first`,
    /// `None` when a day of them is missing or `last` is earlier still.
    pub fn between(&self, first: i32, last: i32) -> Option<f64> {
        let from = usize::try_from(days_between(self.first_day, first)).ok()?;
        let to = usize::try_from(days_between(self.first_day, last) + 1).ok()?;
        if from > to || self.missing.get(to)? != self.missing.get(from)? {
            return None;
        }
        Some(self.sums.get(to)? - self.sums.get(from)?)
    }

    /// Heat a plant took from its stop, that whole day included, to midday of the event:
    /// `C(e) - C(s-1) - a(e)/2`. `None` as in [`HeatTable::between`].
    pub fn to_midday(&self, stop_day: i32, event_day: i32) -> Option<f64> {
        if event_day < stop_day {
            return None;
        }
        Some(self.between(stop_day, event_day)? - self.day_heat(event_day)? / 2.0)
    }
}

fn light_rate(house: House, number: i32, day: &RegionDay, latitude_deg: f64) -> f64 {
    let above_the_air = sun::extraterrestrial(latitude_deg, sun::day_of_year(number));
    let radiation = sun::radiation_by_range(above_the_air, day.min_c, day.max_c, sun::INLAND);
    let transmission = if house == House::Outdoors { 1.0 } else { sun::GLASS_TRANSMISSION };
    sun::rate_factor(sun::light_integral(radiation, transmission))
}
