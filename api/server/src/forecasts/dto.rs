//! What is asked and sent.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use storksbill_domain::ids::{CultivarId, PlantId, RegionId};
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};
use utoipa::{IntoParams, ToSchema};

/// How to ask for one plant's forecast.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct PlantQuestion {
    /// As if it was last stopped on this day; its diary's last stopping when not given.
    pub stopped_on: Option<NaiveDate>,
    /// First day for which the chance of show condition is told; today or the stop when not given.
    pub show_from: Option<NaiveDate>,
    /// Last such day, at most 92 days after the first. Without it `show_from` alone is told, and without
    /// both none.
    pub show_to: Option<NaiveDate>,
    /// Whether the chance of each day is told too.
    pub by_day: Option<bool>,
}

/// How to ask for a region's forecast.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct RegionQuestion {
    /// For plants last stopped on this day; 11 March of this season when not given.
    pub stopped_on: Option<NaiveDate>,
    /// One plant group; all when not given.
    pub plant_group: Option<PlantGroup>,
    /// One cultivar.
    pub cultivar_id: Option<CultivarId>,
    /// Where they grow; frost-free glass when not given.
    pub environment: Option<Environment>,
    /// Kept at least this warm, degrees C; for heated glass alone.
    pub heated_to_c: Option<f64>,
}

/// About how many: exact counts would let one member's records be told by asking twice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct About {
    /// At least so many.
    pub at_least: usize,
    /// At most so many; null for no limit.
    pub at_most: Option<usize>,
}

impl About {
    /// The band a count falls in.
    pub fn of(count: usize) -> Self {
        const STEPS: [usize; 10] = [0, 1, 5, 10, 20, 50, 100, 200, 500, 1000];
        let at_least = STEPS.iter().rev().find(|step| **step <= count).copied().unwrap_or_default();
        let at_most = STEPS.iter().find(|step| **step > count).map(|step| step - 1);
        Self { at_least, at_most }
    }
}

/// What the forecast rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// Records of this cultivar, drawn towards its plant group as far as they are few.
    Cultivar,
    /// Records of the plant group.
    Group,
    /// Growers' rules of thumb alone: too few members' records to show.
    Handbook,
}

/// How much warmth it takes from the last stop to show-ready.
#[derive(Debug, Serialize, ToSchema)]
pub struct RequirementOut {
    /// Median, degree-days above `base_c`, not counting warmth above 26 C.
    pub degree_days: f64,
    /// How far plants of different growers and seasons spread: about two thirds lie within this factor
    /// either way.
    pub spread_factor: f64,
    /// What it rests on.
    pub basis: Basis,
    /// The temperature that degree-days are counted above, degrees C.
    pub base_c: f64,
    /// By how much its grower's plants take more (above 1) or less warmth than others', as a factor. Told to
    /// the grower alone, and null for everybody else.
    pub own_pace: Option<f64>,
    /// Records behind it.
    pub records: About,
    /// Growers behind it.
    pub growers: About,
}

/// The weather it was reckoned with.
#[derive(Debug, Serialize, ToSchema)]
pub struct WeatherOut {
    /// Last day with readings.
    pub observed_to: NaiveDate,
    /// Past years whose same calendar days stand in for the days ahead.
    pub years_ahead: usize,
    /// Days since the stop without readings, filled from past years.
    pub filled_days: usize,
    /// Degree-days since the stop, up to the last day with readings.
    pub heat_so_far: f64,
}

/// When plants will be show-ready.
#[derive(Debug, Serialize, ToSchema)]
pub struct ForecastOut {
    /// The plant, where one was asked for.
    pub plant_id: Option<PlantId>,
    /// The cultivar, where one was asked for.
    pub cultivar_id: Option<CultivarId>,
    /// Its name.
    pub cultivar_name: Option<String>,
    /// The plant group.
    pub plant_group: PlantGroup,
    /// Where it grows.
    pub region_id: RegionId,
    /// Under what.
    pub environment: Environment,
    /// Kept at least this warm, degrees C.
    pub heated_to_c: Option<f64>,
    /// The last stop that it counts from.
    pub stopped_on: NaiveDate,
    /// The day it was asked.
    pub as_of: NaiveDate,
    /// The day its diary says it was ready; then there is nothing to forecast.
    pub ready_on: Option<NaiveDate>,
    /// One plant in ten is ready by this day; null where that lies beyond the days reckoned.
    pub p10: Option<NaiveDate>,
    /// One in four is ready by this day.
    pub p25: Option<NaiveDate>,
    /// Every other plant is ready by this day.
    pub p50: Option<NaiveDate>,
    /// Three in four are ready by this day.
    pub p75: Option<NaiveDate>,
    /// Nine plants in ten are ready by this day.
    pub p90: Option<NaiveDate>,
    /// Chance that it is ready only after the last day reckoned, 0 to 1.
    pub beyond: f64,
    /// Every other plant is past its best by this day; null where that lies beyond the days reckoned.
    pub past_best_p50: Option<NaiveDate>,
    /// The last stage its diary has since the stop, and the day; the forecast goes on from there.
    pub last_seen: Option<StageSeen>,
    /// The chance of each day, where `by_day` was asked: show-ready by the end of it.
    pub by_day: Vec<DayChance>,
    /// Show condition on the days asked for.
    pub condition: Vec<ConditionOut>,
    /// Number of the fit whose parameters were used, see `/forecasts/fits`; null before the first.
    pub fit: Option<i32>,
    /// How much warmth it takes.
    pub requirement: RequirementOut,
    /// The weather it was reckoned with.
    pub weather: WeatherOut,
    /// How far the region's season is behind (+) or ahead (-), days; null where that cannot be told yet.
    pub season_days_late: Option<f64>,
    /// The forecast in words.
    pub words: String,
}

/// What the diary has seen of a plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct StageSeen {
    /// The diary's word.
    pub stage: DiaryKind,
    /// The day.
    pub day: NaiveDate,
}

/// The chance that a plant is ready by a day.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct DayChance {
    /// The day.
    pub day: NaiveDate,
    /// Chance of ready by the end of it, 0 to 1.
    pub ready_by: f64,
}

/// A plant on a day: the three chances sum to one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct ConditionOut {
    /// The day.
    pub day: NaiveDate,
    /// Chance that it is not ready yet, 0 to 1.
    pub too_early: f64,
    /// Chance that it is in show condition.
    pub ready: f64,
    /// Chance that it is past its best.
    pub over: f64,
}

/// A region's forecast, plant group by plant group.
#[derive(Debug, Serialize, ToSchema)]
pub struct RegionForecastOut {
    /// The region.
    pub region_id: RegionId,
    /// Its name.
    pub region_name: String,
    /// How the season stands, in words.
    pub season: String,
    /// One for each plant group asked for.
    pub forecasts: Vec<ForecastOut>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_banded() {
        for (count, at_least, at_most) in [
            (0, 0, Some(0)),
            (4, 1, Some(4)),
            (5, 5, Some(9)),
            (19, 10, Some(19)),
            (20, 20, Some(49)),
            (5000, 1000, None),
        ] {
            assert_eq!(About::of(count), About { at_least, at_most }, "{count}");
        }
    }
}
