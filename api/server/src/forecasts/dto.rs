//! What is asked and sent.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use storksbill_domain::ids::{CultivarId, PlantId, RegionId};
use storksbill_domain::words::{Environment, PlantGroup};
use utoipa::{IntoParams, ToSchema};

/// How to ask for one plant's forecast.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct PlantQuestion {
    /// As if it was last stopped on this day; its diary's last stopping when not given.
    pub stopped_on: Option<NaiveDate>,
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
    /// Median, degree-days above 4 C, not counting warmth above 26 C.
    pub degree_days: f64,
    /// How far plants of different growers and seasons spread: about two thirds lie within this factor
    /// either way.
    pub spread_factor: f64,
    /// What it rests on.
    pub basis: Basis,
    /// Weight of the cultivar's own records against its group's, 0 to 1.
    pub cultivar_weight: f64,
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
    /// Every other plant is ready by this day.
    pub p50: Option<NaiveDate>,
    /// Nine plants in ten are ready by this day.
    pub p90: Option<NaiveDate>,
    /// Chance that it is ready only after the last day reckoned, 0 to 1.
    pub beyond: f64,
    /// How much warmth it takes.
    pub requirement: RequirementOut,
    /// The weather it was reckoned with.
    pub weather: WeatherOut,
    /// How far the region's season is behind (+) or ahead (-), days; null where that cannot be told yet.
    pub season_days_late: Option<f64>,
    /// The forecast in words.
    pub words: String,
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
