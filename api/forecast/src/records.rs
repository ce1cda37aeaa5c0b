//! What growers wrote down, and which of it is believed.

use std::collections::HashSet;

use crate::glass::House;
use crate::series::{HeatTable, RegionSeries};
use crate::stages::{STAGES, Stage};

/// Where plants stand: a region's weather and the house over them.
#[derive(Debug, Clone, Copy)]
pub struct Place<'a> {
    pub series: &'a RegionSeries,
    pub house: House,
    /// What the house makes of the weather.
    pub gain: crate::glass::Gain,
}

/// One plant's wait from its last stop to flower. Every index is the caller's own and counts from zero;
/// those of cultivars and growers may have holes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wait {
    pub plant: u32,
    pub group: u32,
    pub cultivar: u32,
    pub grower: u32,
    pub region: u32,
    /// Kind of house, the covariate of the fit.
    pub environment: u32,
    /// Index of the [`Place`].
    pub place: u32,
    /// The year a flowering season is called by.
    pub season: i32,
    pub stop_day: i32,
    /// The day each stage was seen, by [`Stage::index`].
    pub seen: [Option<i32>; STAGES],
    /// The last day its grower is known to have looked: until then what is not written was not there,
    /// if the grower writes everything.
    pub looked_until: Option<i32>,
}

impl Wait {
    pub fn seen_on(&self, stage: Stage) -> Option<i32> {
        self.seen.get(stage.index()).copied().flatten()
    }
}

/// Least heat from stop to show-ready that is believed, degree-days.
pub const LEAST_DEGREE_DAYS: f64 = 200.0;
/// Most heat from stop to show-ready that is believed, degree-days.
pub const MOST_DEGREE_DAYS: f64 = 5_000.0;
/// A requirement further than so many standard deviations from what its group, cultivar, grower and season
/// lead to expect is not believed.
pub const FURTHEST_SDS: f64 = 5.0;

/// Why a record takes no part in the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, thiserror::Error)]
pub enum SetAside {
    /// The same plant and the same stop are there already.
    #[error("the same plant and stop are recorded twice")]
    Duplicate,
    /// A stage is dated before the stop.
    #[error("a stage is dated before the stop")]
    EventBeforeStop,
    /// A later stage is dated before an earlier one.
    #[error("a later stage is dated before an earlier one")]
    StagesOutOfOrder,
    /// Dated after the day of the estimate.
    #[error("a date lies in the future")]
    InTheFuture,
    /// The region has no weather for one of the days.
    #[error("the region has no weather for a day between stop and event")]
    WeatherMissing,
    /// No heat at all between stop and event.
    #[error("no heat between stop and event")]
    NoHeat,
    /// Fewer than [`LEAST_DEGREE_DAYS`]: most likely a stop or an event entered late or for another plant.
    #[error("too little heat between stop and event to be believed")]
    TooLittleHeat,
    /// More than [`MOST_DEGREE_DAYS`]: most likely a later stop was not entered.
    #[error("too much heat between stop and event to be believed")]
    TooMuchHeat,
    /// More than [`FURTHEST_SDS`] standard deviations from what is expected of such a plant.
    #[error("far from what is expected of such a plant")]
    FarFromOthers,
}

impl SetAside {
    pub const ALL: [SetAside; 9] = [
        SetAside::Duplicate,
        SetAside::EventBeforeStop,
        SetAside::StagesOutOfOrder,
        SetAside::InTheFuture,
        SetAside::WeatherMissing,
        SetAside::NoHeat,
        SetAside::TooLittleHeat,
        SetAside::TooMuchHeat,
        SetAside::FarFromOthers,
    ];
}

/// Range of heat, degree-days, that is believed between a stop and show-ready.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Believed {
    pub least: f64,
    pub most: f64,
}

impl Default for Believed {
    fn default() -> Self {
        Believed { least: LEAST_DEGREE_DAYS, most: MOST_DEGREE_DAYS }
    }
}

/// Why dates alone speak against a wait; `None` where nothing does. `as_of` is the day of the estimate.
pub fn doubt(wait: &Wait, as_of: i32) -> Option<SetAside> {
    let days = || wait.seen.iter().copied().flatten();
    if wait.stop_day > as_of || days().any(|day| day > as_of) {
        Some(SetAside::InTheFuture)
    } else if days().any(|day| day < wait.stop_day) {
        Some(SetAside::EventBeforeStop)
    } else if days().zip(days().skip(1)).any(|(before, after)| after < before) {
        Some(SetAside::StagesOutOfOrder)
    } else {
        None
    }
}

/// Marks the second and later waits of one plant from one stop.
pub fn repeated(waits: &[Wait]) -> Vec<bool> {
    let mut known = HashSet::with_capacity(waits.len());
    waits.iter().map(|wait| !known.insert((wait.plant, wait.stop_day))).collect()
}

/// The heat from the stop to the midday of an event, degree-days, or why it is not believed.
pub fn heat_to(
    table: &HeatTable,
    stop_day: i32,
    event_day: i32,
    believed: Believed,
) -> Result<f64, SetAside> {
    if event_day < stop_day {
        return Err(SetAside::EventBeforeStop);
    }
    let heat = table.to_midday(stop_day, event_day).ok_or(SetAside::WeatherMissing)?;
    if heat <= 0.0 {
        Err(SetAside::NoHeat)
    } else if heat < believed.least {
        Err(SetAside::TooLittleHeat)
    } else if heat > believed.most {
        Err(SetAside::TooMuchHeat)
    } else {
        Ok(heat)
    }
}
