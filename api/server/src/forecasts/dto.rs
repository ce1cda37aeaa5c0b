//! What is asked and sent.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use storksbill_domain::day::Day;
use storksbill_domain::ids::{CultivarId, PlantId, RegionId, ShowId};
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};
use utoipa::{IntoParams, ToSchema};

/// How to ask for one plant's forecast.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct PlantQuestion {
    /// As if it was last stopped on this day; its diary's last stopping when not given.
    pub stopped_on: Option<Day>,
    /// First day for which the chance of show condition is told; today or the stop when not given.
    pub show_from: Option<Day>,
    /// Last such day, at most 92 days after the first. Without it `show_from` alone is told, and without
    /// both none.
    pub show_to: Option<Day>,
    /// Whether the chance of each day is told too.
    pub by_day: Option<bool>,
}

/// How to ask for a region's forecast.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct RegionQuestion {
    /// For plants last stopped on this day; 11 March of this season when not given.
    pub stopped_on: Option<Day>,
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
    /// Whether it was stopped before it had had the cold that its group needs to set buds (regals four weeks,
    /// angels and uniques half of it); the forecast is then given a wider spread.
    pub cold_need_unmet: bool,
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

/// How to ask when to stop, or to disbud, for a show.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct BackwardsQuestion {
    /// The day of the show, from 35 days to two years ahead. Give this or `show_id`.
    pub show_on: Option<Day>,
    /// A show of the society, for its day.
    pub show_id: Option<ShowId>,
    /// Where the plants grow. May be left out by a member whose plants all stand in one region.
    pub region_id: Option<RegionId>,
    /// Under what; frost-free glass when not given.
    pub environment: Option<Environment>,
    /// Kept at least this warm, 0 to 35 degrees C; for heated glass alone.
    pub heated_to_c: Option<f64>,
    /// What they are. Give this or `cultivar_id`; beside that it is of no account.
    pub plant_group: Option<PlantGroup>,
    /// The cultivar.
    pub cultivar_id: Option<CultivarId>,
    /// The chance that a day must reach to be within `window.chosen`, above 0 and below 1; 0.3 when not given.
    pub at_least: Option<f64>,
    /// So many plants are to be spread over several days, at most 20; no spread is told when not given.
    pub plants: Option<usize>,
    /// So many of them are to be in show condition together; 1 when not given.
    pub wanted: Option<usize>,
}

/// The chances on the day of the show of a plant stopped (or disbudded) on one day; they sum to one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct StartChances {
    /// The day it is stopped or disbudded.
    pub day: NaiveDate,
    /// Chance that it is not ready yet on the day of the show, 0 to 1.
    pub too_early: f64,
    /// Chance that it is in show condition.
    pub ready: f64,
    /// Chance that it is past its best.
    pub over: f64,
}

/// Days from one to another, both of them included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct DayRange {
    /// First day.
    pub first: NaiveDate,
    /// Last day.
    pub last: NaiveDate,
}

/// When to stop or disbud one plant.
#[derive(Debug, Serialize, ToSchema)]
pub struct WindowOut {
    /// The day of the greatest chance, the earliest of equals.
    pub best: StartChances,
    /// The chance asked for.
    pub at_least: f64,
    /// The days about the best that have at least the chance asked for; null where not even the best has.
    pub chosen: Option<DayRange>,
    /// The days about the best that have at least four fifths of its chance.
    pub near_best: DayRange,
    /// Whether the best day's chance is at least one half. Where it is not, several plants on several days
    /// serve better than one.
    pub one_plant_is_enough: bool,
    /// Every day that is left, from today or 200 days before the show to 35 days before it.
    pub days: Vec<StartChances>,
}

/// So many plants on one day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct StartCount {
    /// The day.
    pub day: NaiveDate,
    /// Plants to stop or disbud on it.
    pub plants: usize,
}

/// On which days to stop or disbud several plants. They share the weather, and in part what their cultivar,
/// grower and season make of it.
#[derive(Debug, Serialize, ToSchema)]
pub struct SpreadOut {
    /// Plants in all.
    pub plants: usize,
    /// How many are to be in show condition together.
    pub wanted: usize,
    /// The days, in order.
    pub starts: Vec<StartCount>,
    /// Chance that at least the wanted number is in show condition on the day of the show, 0 to 1.
    pub at_least_wanted: f64,
    /// Mean number in show condition.
    pub expected_ready: f64,
    /// The best day if all were done at once.
    pub one_day: NaiveDate,
    /// The chance that it gives; never above `at_least_wanted`.
    pub one_day_at_least_wanted: f64,
}

/// When to stop plants for a show.
#[derive(Debug, Serialize, ToSchema)]
pub struct StopsOut {
    /// The show, where one was named.
    pub show_id: Option<ShowId>,
    /// The day of the show.
    pub show_on: NaiveDate,
    /// The day it was asked.
    pub as_of: NaiveDate,
    /// What the plants are.
    pub plant_group: PlantGroup,
    /// The cultivar, where one was asked for.
    pub cultivar_id: Option<CultivarId>,
    /// Its name.
    pub cultivar_name: Option<String>,
    /// Where they grow.
    pub region_id: RegionId,
    /// Under what.
    pub environment: Environment,
    /// Kept at least this warm, degrees C.
    pub heated_to_c: Option<f64>,
    /// When to stop one plant.
    pub window: WindowOut,
    /// On which days to stop several, where `plants` was asked.
    pub spread: Option<SpreadOut>,
    /// How much warmth it takes from the last stop.
    pub requirement: RequirementOut,
    /// Whether on the best day a plant will hardly have had the cold that its group needs to set buds (regals
    /// four weeks, angels and uniques half of it). The days up to then are taken from past years. All chances
    /// are then reckoned with a wider spread.
    pub cold_need_unmet: bool,
    /// Past years whose same calendar days stand in for the days ahead.
    pub years_ahead: usize,
    /// Number of the fit whose parameters were used; null before the first.
    pub fit: Option<i32>,
    /// The answer in words.
    pub words: String,
}

/// How much warmth it takes from disbudding to show-ready, from members' shared diaries.
#[derive(Debug, Serialize, ToSchema)]
pub struct DisbuddingNeed {
    /// Median, degree-days above `base_c`, not counting warmth above 26 C.
    pub degree_days: f64,
    /// About two thirds of plants lie within this factor either way.
    pub spread_factor: f64,
    /// The temperature that degree-days are counted above, degrees C.
    pub base_c: f64,
    /// Records behind it.
    pub records: About,
    /// Growers behind it.
    pub growers: About,
}

/// When to take off buds for a show.
#[derive(Debug, Serialize, ToSchema)]
pub struct DisbuddingOut {
    /// The show, where one was named.
    pub show_id: Option<ShowId>,
    /// The day of the show.
    pub show_on: NaiveDate,
    /// The day it was asked.
    pub as_of: NaiveDate,
    /// What the plants are.
    pub plant_group: PlantGroup,
    /// Where they grow.
    pub region_id: RegionId,
    /// Under what.
    pub environment: Environment,
    /// Kept at least this warm, degrees C.
    pub heated_to_c: Option<f64>,
    /// When to disbud one plant.
    pub window: WindowOut,
    /// On which days to disbud several, where `plants` was asked.
    pub spread: Option<SpreadOut>,
    /// How much warmth it takes from then.
    pub requirement: DisbuddingNeed,
    /// Past years whose same calendar days stand in for the days ahead.
    pub years_ahead: usize,
    /// The answer in words.
    pub words: String,
}

/// For which show.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct ShowQuestion {
    /// The day of the show, from tomorrow to 250 days ahead. Give this or `show_id`.
    pub show_on: Option<Day>,
    /// A show of the society, for its day.
    pub show_id: Option<ShowId>,
}

/// How far a plant's part in a show can be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlanState {
    /// It is on its way, or in condition now: `condition` tells its chances.
    Reckoned,
    /// Its diary has it past its best since the stop.
    Over,
    /// Its diary has no stop within the 300 days before the show.
    NotStopped,
    /// It cannot be reckoned; `advice` says why.
    Unknown,
}

/// One of the asker's plants before a show.
#[derive(Debug, Serialize, ToSchema)]
pub struct PlannedPlant {
    /// The plant.
    pub plant_id: PlantId,
    /// Its grower's own label.
    pub label: Option<String>,
    /// The cultivar.
    pub cultivar_id: CultivarId,
    /// Its name.
    pub cultivar_name: String,
    /// The cultivar's group.
    pub plant_group: PlantGroup,
    /// Where it grows.
    pub region_id: RegionId,
    /// Under what.
    pub environment: Environment,
    /// How far it can be told.
    pub state: PlanState,
    /// Its chances on the day of the show; null where `state` is `not_stopped` or `unknown`.
    pub condition: Option<ConditionOut>,
    /// Show-ready by this day with an even chance; null where it is ready already or that lies beyond the days
    /// reckoned.
    pub p50: Option<NaiveDate>,
    /// Its last stop.
    pub stopped_on: Option<NaiveDate>,
    /// The last stage its diary has since the stop, and the day.
    pub last_seen: Option<StageSeen>,
    /// Whether it was stopped before it had had the cold that its group needs to set buds.
    pub cold_need_unmet: bool,
    /// What to do, in words.
    pub advice: String,
}

/// The plants of one group before a show.
#[derive(Debug, Serialize, ToSchema)]
pub struct GroupPlan {
    /// The group.
    pub plant_group: PlantGroup,
    /// Plants of it.
    pub plants: usize,
    /// Of them those with a chance told; the rest count as not ready.
    pub reckoned: usize,
    /// Mean number in show condition on the day.
    pub expected_ready: f64,
    /// Chance that at least one is, 0 to 1.
    pub at_least_one: f64,
    /// Chance that at least two are.
    pub at_least_two: f64,
    /// Chance that at least three are.
    pub at_least_three: f64,
}

/// The asker's plants before a show.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShowPlanOut {
    /// The show, where one was named.
    pub show_id: Option<ShowId>,
    /// The day of the show.
    pub show_on: NaiveDate,
    /// The day it was asked.
    pub as_of: NaiveDate,
    /// The greatest chance of show condition first; those without a chance last.
    pub plants: Vec<PlannedPlant>,
    /// Whether there are more plants than the 500 that are told: those entered first are.
    pub more_plants: bool,
    /// Group by group.
    pub groups: Vec<GroupPlan>,
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
