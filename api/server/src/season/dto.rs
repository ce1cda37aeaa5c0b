//! What is sent.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use storksbill_domain::day::Day;
use storksbill_domain::ids::RegionId;
use storksbill_domain::words::PlantGroup;
use storksbill_forecast::advice::Advice;
use storksbill_forecast::blooms::Share;
use storksbill_forecast::season::Standing;
use utoipa::{IntoParams, ToSchema};

use crate::forecasts::pooled::date_of;

/// How one region's season stands, by its weather alone.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RegionGlance {
    /// The region.
    pub region_id: RegionId,
    /// Its name.
    pub name: String,
    /// The day it was asked.
    pub as_of: NaiveDate,
    /// Last day with readings; null where there are none.
    pub observed_to: Option<NaiveDate>,
    /// Days the season is behind (+) or ahead (-) of the mean of past years; null where it cannot be told.
    pub days_late: Option<f64>,
    /// One in ten of the futures reckoned is ahead of this.
    pub days_late_p10: Option<f64>,
    /// One in ten of the futures reckoned is behind this.
    pub days_late_p90: Option<f64>,
    /// Past years it is held against.
    pub years: usize,
    /// Degree-days since 11 March under frost-free glass.
    pub heat: Option<f64>,
    /// The mean of past years' degree-days between the same calendar days.
    pub usual_heat: Option<f64>,
    /// The same in words.
    pub words: String,
}

/// How to ask for a region's season.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct SeasonQuestion {
    /// The chance of a frost after the end of this day is told; tomorrow when not given.
    pub frost_after: Option<Day>,
}

/// One region's season.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RegionSeasonOut {
    /// The region.
    pub region_id: RegionId,
    /// Its name.
    pub name: String,
    /// The day it was asked.
    pub as_of: NaiveDate,
    /// How the season stands in short: by the zonals, with the records where they tell.
    pub words: String,
    /// How it stands for each plant group.
    pub plant_groups: Vec<GroupSeasonOut>,
    /// How damp it was under frost-free glass; null without readings in the last fortnight.
    pub damp: Option<DampOut>,
    /// What growers report of their blooms.
    pub troubles: Vec<TroubleOut>,
    /// The last frost of spring; null without readings.
    pub frost: Option<FrostOut>,
    /// What a grower would do about these figures. All of it is common practice.
    pub advice: Vec<AdviceOut>,
}

/// The season of a plant group: a plant stopped on 11 March (11 September in the south) under frost-free
/// glass.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct GroupSeasonOut {
    /// Which.
    pub plant_group: PlantGroup,
    /// Heat it needs from the stop in a usual season, degree-days above `base_c`.
    pub degree_days: f64,
    /// Degrees C.
    pub base_c: f64,
    /// By the weather alone; null where it cannot be told.
    pub weather: Option<StandingOut>,
    /// By the weather and by how members' plants of the region do in it; null where too few growers have
    /// records of this season.
    pub records: Option<StandingOut>,
    /// The same in words.
    pub words: String,
}

/// How far a season is behind (+) or ahead (-) of the mean of past years.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct StandingOut {
    /// Days.
    pub days_late: f64,
    /// The 80 % interval begins here.
    pub days_late_p10: f64,
    /// And ends here.
    pub days_late_p90: f64,
    /// Past years it is held against.
    pub years: usize,
    /// Last day with readings.
    pub observed_to: NaiveDate,
}

impl StandingOut {
    pub(super) fn of(standing: &Standing) -> Option<Self> {
        Some(Self {
            days_late: standing.days_late,
            days_late_p10: standing.days_late_p10,
            days_late_p90: standing.days_late_p90,
            years: standing.years,
            observed_to: date_of(standing.observed_to)?,
        })
    }
}

/// Where the humidity comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HumidityFrom {
    /// Stations measured it on every day.
    Measured,
    /// On some days; on the others it is estimated from the night's minimum and the rain.
    PartlyMeasured,
    /// On none.
    Estimated,
}

/// How damp the last fortnight was under frost-free glass.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct DampOut {
    /// Days of the fortnight to `as_of` that have readings.
    pub days: usize,
    /// Of those, days that wetted flowers for half as long as grey mould needs, or longer.
    pub damp_days: usize,
    /// Of those, days that wetted them as long as it needs: infection is to be expected.
    pub infection_days: usize,
    /// At least ten days were below 10 degrees C with 85 % of humidity or more inside: water sparingly.
    pub cold_damp: bool,
    /// Where the humidity comes from.
    pub humidity: HumidityFrom,
}

/// What goes wrong with blooms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TroubleKind {
    /// Damped off.
    DampingOff,
    /// Deformed early blooms.
    DeformedBloom,
    /// Leafy growth within the bloom.
    Proliferation,
}

/// A trouble of the blooms in the last fortnight and in the same weeks of past years.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct TroubleOut {
    /// Which.
    pub trouble: TroubleKind,
    /// Now; null with fewer than eight plants in flower, too few growers, or one with most of them.
    pub now: Option<ShareOut>,
    /// In past years; null likewise.
    pub usual: Option<ShareOut>,
}

/// A share of the plants in flower.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct ShareOut {
    /// 0 to 1, to the hundredth.
    pub share: f64,
    /// The 95 % interval begins here.
    pub low: f64,
    /// And ends here.
    pub high: f64,
    /// Plants in flower, at least: exact counts would let one member's records be told by asking twice.
    pub plants_at_least: usize,
    /// Their growers, at least.
    pub growers_at_least: usize,
}

/// The largest of some round numbers that a count reaches.
fn at_least(count: usize) -> usize {
    const STEPS: [usize; 10] = [0, 1, 5, 10, 20, 50, 100, 200, 500, 1000];
    STEPS.iter().rev().find(|step| **step <= count).copied().unwrap_or_default()
}

impl ShareOut {
    pub(super) fn of(share: &Share) -> Self {
        let hundredths = |value: f64| (value * 100.0).round() / 100.0;
        Self {
            share: hundredths(share.share),
            low: hundredths(share.low),
            high: hundredths(share.high),
            plants_at_least: at_least(share.records),
            growers_at_least: at_least(share.growers),
        }
    }
}

/// The last air frost of spring (a minimum of 0 degrees C or less).
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct FrostOut {
    /// Past seasons with enough readings.
    pub years: usize,
    /// Of those, seasons with a frost.
    pub years_with_frost: usize,
    /// The last frost has come by this day in one year of ten; null with fewer than eight years with a frost.
    pub last_p10: Option<NaiveDate>,
    /// In half of the years.
    pub last_p50: Option<NaiveDate>,
    /// In nine of ten.
    pub last_p90: Option<NaiveDate>,
    /// The chance told next is of a frost after the end of this day.
    pub after: NaiveDate,
    /// 0 to 1; null with fewer than eight years with a frost, and outside spring.
    pub chance: Option<f64>,
    /// The same in words.
    pub words: String,
}

/// One thing to do.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AdviceOut {
    /// The same whatever the words.
    pub code: String,
    /// What to do.
    pub sentence: String,
    /// Name of the figure that raised it.
    pub figure: String,
    /// That figure.
    pub value: f64,
    /// What it stands on: always `common practice`.
    pub source: String,
}

impl AdviceOut {
    pub(super) fn of(advice: Advice) -> Self {
        Self {
            code: advice.code.to_owned(),
            sentence: advice.sentence,
            figure: advice.figure.to_owned(),
            value: advice.value,
            source: "common practice".to_owned(),
        }
    }
}
