//! How far a region's season is ahead of or behind its past, by weather alone or with what growers wrote down.
//!
//! One imagined plant, stopped on the same calendar date each year and needing the same heat, is grown
//! through this year's weather and through each past year's; the difference of its ready dates is the
//! standing of the season. With records, the plant needs `exp(u)` times the heat this season, `u` being the
//! season's effect on the region, normal with the mean and standard deviation of its posterior; past seasons
//! have none on average.

use storksbill_numerics::normal;

use crate::calendar;
use crate::fit::SeasonEffect;
use crate::series::HeatTable;
use crate::traces::{Future, FutureError, MOST_TRACES};

/// Days after its stop within which the reference plant is followed.
pub const FOLLOWED_DAYS: i32 = 300;

/// The imagined plant. Its house is that of the [`HeatTable`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReferencePlant {
    /// Month of the stop, 1 to 12.
    pub stop_month: u32,
    /// Day of that month.
    pub stop_day: u32,
    pub degree_days: f64,
}

impl Default for ReferencePlant {
    /// A zonal stopped on 11 March, sixteen weeks before a show on 1 July (common practice).
    fn default() -> Self {
        ReferencePlant { stop_month: 3, stop_day: 11, degree_days: 1285.0 }
    }
}

/// Where the season stands. Days are epoch days with fractions; `+` is late.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// Stop of the reference plant this season: the last such date on or before `as_of`.
    pub stop_day: i32,
    /// Last day with weather on or before `as_of`.
    pub observed_to: i32,
    /// Days by which the expected ready date is later than the mean of past years on the calendar.
    pub days_late: f64,
    /// The same at the 10 % point of the ready dates over the traces.
    pub days_late_p10: f64,
    /// The same at the 90 % point.
    pub days_late_p90: f64,
    /// Expected ready date this season.
    pub ready_day: f64,
    /// Mean ready date of past years, on this season's calendar.
    pub usual_ready_day: f64,
    /// Past years behind the mean.
    pub years: usize,
    /// Heat from the stop to the end of `observed_to`, degree-days.
    pub heat: f64,
    /// Mean of past years' heat between the same calendar dates.
    pub usual_heat: f64,
    /// Traces and past years that did not get ready within [`FOLLOWED_DAYS`] and count as ready on its
    /// last day.
    pub never_ready: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SeasonError {
    /// The calendar has no such stop date, or the requirement is not positive.
    #[error("the reference plant has no real stop date or no requirement")]
    BadPlant,
    /// No weather on the stop day or after it, up to `as_of`.
    #[error("no weather yet since the reference plant's stop")]
    NotBegun,
    /// The season's effect is not a usable number.
    #[error("the season's effect is not a usable number")]
    BadEffect,
    /// A day since the stop has no weather, so this season's heat is not known.
    #[error("a day since the reference plant's stop has no weather")]
    GapThisSeason,
    /// No past year is complete.
    #[error("no past year has complete weather")]
    NoPastYear,
    /// The days ahead could not be laid out.
    #[error(transparent)]
    Ahead(FutureError),
}

/// The standing of the season at the end of `as_of`; later weather in the table is not looked at.
///
/// Past years are those of the last [`MOST_TRACES`] that have weather for every day from the stop until
/// ready, and up to the same calendar date as `observed_to`.
pub fn standing(table: &HeatTable, plant: &ReferencePlant, as_of: i32) -> Result<Standing, SeasonError> {
    standing_at(table, plant, as_of, &[1.0])
}

/// Nodes of equal probability by which the season's effect is told.
const NODES: i32 = 21;

/// The standing of the season where its effect on the region is known from records, so that the interval is
/// that of the weather ahead and of the effect together.
///
/// `plant` needs the heat of a usual season, above the base of the table. `never_ready` counts traces for
/// each of 21 nodes of the effect. Cost: 21 times that of [`standing`].
pub fn standing_by_records(
    table: &HeatTable,
    plant: &ReferencePlant,
    effect: &SeasonEffect,
    as_of: i32,
) -> Result<Standing, SeasonError> {
    if !(effect.mean.is_finite() && effect.sd.is_finite() && effect.sd >= 0.0) {
        return Err(SeasonError::BadEffect);
    }
    // The middles of parts of equal probability, spread so that their variance is one.
    let middles: Vec<f64> =
        (0..NODES).map(|node| normal::quantile((f64::from(node) + 0.5) / f64::from(NODES))).collect();
    let spread = (middles.iter().map(|z| z * z).sum::<f64>() / f64::from(NODES)).sqrt();
    let factors: Vec<f64> = middles.iter().map(|z| (effect.mean + effect.sd * z / spread).exp()).collect();
    standing_at(table, plant, as_of, &factors)
}

/// The standing where this season's requirement is any of `factors` times the plant's, all alike likely.
fn standing_at(
    table: &HeatTable,
    plant: &ReferencePlant,
    as_of: i32,
    factors: &[f64],
) -> Result<Standing, SeasonError> {
    let stop_day = season_stop(plant, as_of).ok_or(SeasonError::BadPlant)?;
    let mut observed_to = as_of.min(table.last_day());
    while observed_to >= stop_day && table.day_heat(observed_to).is_none() {
        observed_to -= 1;
    }
    if observed_to < stop_day {
        return Err(SeasonError::NotBegun);
    }
    let heat = table.between(stop_day, observed_to).ok_or(SeasonError::GapThisSeason)?;

    let last_day = stop_day.saturating_add(FOLLOWED_DAYS).max(as_of);
    let future = Future::ahead(table, stop_day, as_of, last_day).map_err(SeasonError::Ahead)?;
    let mut never_ready = 0;
    let mut ready: Vec<f64> = future
        .traces
        .iter()
        .flat_map(|trace| factors.iter().map(move |factor| (trace, plant.degree_days * factor)))
        .map(|(trace, need)| {
            let heats = trace.cumulative.iter().map(|sum| Some(*sum));
            // A trace has no gap, so there is always a first crossing or an end.
            let (days, reached) = crossing(heats, need).unwrap_or((f64::from(FOLLOWED_DAYS), false));
            never_ready += usize::from(!reached);
            f64::from(stop_day) + days
        })
        .collect();
    ready.sort_by(f64::total_cmp);

    let (mut past_ready, mut past_heat, mut years) = (0.0, 0.0, 0_usize);
    for back in 1..=MOST_TRACES {
        let Some(year) = past_year(table, plant, stop_day, observed_to, back) else { continue };
        past_ready += year.ready_on_this_calendar;
        past_heat += year.heat;
        never_ready += usize::from(!year.reached);
        years += 1;
    }
    if years == 0 {
        return Err(SeasonError::NoPastYear);
    }
    let ready_day = ready.iter().sum::<f64>() / ready.len() as f64;
    let usual_ready_day = past_ready / years as f64;
    Ok(Standing {
        stop_day,
        observed_to,
        days_late: ready_day - usual_ready_day,
        days_late_p10: quantile(&ready, 0.1) - usual_ready_day,
        days_late_p90: quantile(&ready, 0.9) - usual_ready_day,
        ready_day,
        usual_ready_day,
        years,
        heat,
        usual_heat: past_heat / years as f64,
        never_ready,
    })
}

fn season_stop(plant: &ReferencePlant, as_of: i32) -> Option<i32> {
    if !(plant.degree_days.is_finite() && plant.degree_days > 0.0) {
        return None;
    }
    // 2000 was a leap year: a stop on 29 February is a date, if not of every year.
    let pattern = calendar::epoch_day(2000, plant.stop_month, plant.stop_day)?;
    let year = calendar::date(as_of).year;
    let this_year = calendar::years_back(pattern, 2000 - year)?;
    if this_year <= as_of { Some(this_year) } else { calendar::years_back(pattern, 2000 - (year - 1)) }
}

struct PastYear {
    ready_on_this_calendar: f64,
    reached: bool,
    heat: f64,
}

fn past_year(
    table: &HeatTable,
    plant: &ReferencePlant,
    stop_day: i32,
    observed_to: i32,
    back: i32,
) -> Option<PastYear> {
    let stop = calendar::years_back(stop_day, back)?;
    let heat = table.between(stop, calendar::years_back(observed_to, back)?)?;
    let (days, reached) = crossing(
        (stop..=stop.checked_add(FOLLOWED_DAYS)?).map(|day| table.between(stop, day)),
        plant.degree_days,
    )?;
    // Move whole days by the calendar and keep the part of the day.
    #[expect(clippy::cast_possible_truncation, reason = "at most FOLLOWED_DAYS")]
    let whole = days.floor() as i32;
    let same_date = calendar::years_back(stop.checked_add(whole)?, -back)?;
    Some(PastYear { ready_on_this_calendar: f64::from(same_date) + days.fract(), reached, heat })
}

/// Days from the start of the stop day until the running heat reaches `need`, and whether it does within
/// [`FOLLOWED_DAYS`] (if not, that many days). `None` when a day before that is missing.
fn crossing(cumulative: impl Iterator<Item = Option<f64>>, need: f64) -> Option<(f64, bool)> {
    let mut before = 0.0;
    for (day, sum) in (0..FOLLOWED_DAYS).zip(cumulative) {
        let sum = sum?;
        if sum >= need {
            return Some((f64::from(day) + (need - before) / (sum - before), true));
        }
        before = sum;
    }
    Some((f64::from(FOLLOWED_DAYS), false))
}

/// Quantile of sorted values by linear interpolation (Hyndman & Fan 1996, The American Statistician
/// 50:361-365, type 7).
fn quantile(sorted: &[f64], p: f64) -> f64 {
    let position = p * (sorted.len().saturating_sub(1)) as f64;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the slice")]
    let below = position.floor() as usize;
    let at = |place: usize| sorted.get(place).or(sorted.last()).copied().unwrap_or(f64::NAN);
    at(below) + position.fract() * (at(below + 1) - at(below))
}
