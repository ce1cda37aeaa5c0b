//! What is sent, and kept as JSON.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use storksbill_db::rows::fits::Fit;
use storksbill_domain::ids::PlantId;
use storksbill_forecast::backtest::{Issue, Method, Report, Scheme, Scores};
use storksbill_forecast::records::SetAside;
use utoipa::ToSchema;

/// A fit of the forecasts' parameters to the members' pooled records.
#[derive(Debug, Serialize, ToSchema)]
pub struct FitOut {
    /// Its number; forecasts name it.
    pub version_no: i32,
    /// When it was made.
    pub made_at: DateTime<Utc>,
    /// SHA-256 of the records and the weather it was made from: equal fingerprints, equal fits.
    pub fingerprint: String,
    /// Records it stands on.
    pub records: i32,
    /// Growers it stands on.
    pub growers: i32,
    /// What was found: standard deviations on the log scale, each plant group's base temperature (degrees C)
    /// and calibration factor, in the order of the plant groups; all from every record together.
    #[schema(value_type = Object)]
    pub parameters: Value,
    /// What is worth saying of it.
    pub notes: String,
}

impl FitOut {
    pub(super) fn of(fit: Fit) -> Self {
        Self {
            version_no: fit.version_no,
            made_at: fit.made_at.and_utc(),
            fingerprint: fit.fingerprint,
            records: fit.records,
            growers: fit.growers,
            parameters: serde_json::from_str(&fit.parameters).unwrap_or_default(),
            notes: fit.notes,
        }
    }
}

/// How right forecasts of past seasons would have been.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct BacktestOut {
    /// The fit in force when it was made.
    pub fit: i32,
    /// When.
    pub made_at: DateTime<Utc>,
    /// One for each way of leaving records out.
    pub schemes: Vec<SchemeOut>,
    /// In short.
    pub words: String,
}

/// A way of leaving records out and forecasting them from the rest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SchemeOut {
    /// What was left out at a time.
    pub left_out: LeftOut,
    /// Parts left out one after another.
    pub parts: usize,
    /// One for each lead, longest first.
    pub leads: Vec<LeadOut>,
}

/// What is left out at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LeftOut {
    /// One season.
    Season,
    /// One region.
    Region,
    /// A tenth of the growers.
    Growers,
}

/// Forecasts issued so many weeks before the usual day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LeadOut {
    /// Weeks before the day on which plants of the group, stopped when it was, are ready on average.
    pub weeks_ahead: i32,
    /// The forecasts, and two references on the same plants.
    pub methods: Vec<MethodOut>,
    /// Skill against the mean days: 1 less the ratio of the scores `crps`; 0 is no better, 1 is perfect.
    pub skill_over_mean_days: f64,
    /// The same against fixed heat.
    pub skill_over_fixed_heat: f64,
}

/// Who forecasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MethodName {
    /// The forecasts of this server.
    Forecast,
    /// The plant group's mean days from stop to ready.
    MeanDays,
    /// The plant group's mean heat from stop to ready.
    FixedHeat,
}

/// How one method did. Days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MethodOut {
    /// Which.
    pub method: MethodName,
    /// Flowerings forecast.
    pub n: usize,
    /// Mean of the day told less the day that came: + is told too late.
    pub mean_error: f64,
    /// Mean absolute error of the day told.
    pub mean_absolute_error: f64,
    /// Continuous ranked probability score over whole days: smaller is better.
    pub crps: f64,
    /// Share of days that came within the middle half of what was told; 0.5 is right.
    pub cover50: f64,
    /// Share within the middle nine tenths; 0.9 is right.
    pub cover90: f64,
    /// How many came in each tenth of what was told; level is right.
    pub tenths: Vec<usize>,
    /// Brier score of "in show condition on the usual day": smaller is better; null where no diary tells.
    pub brier: Option<f64>,
    /// How often it came so where so much was told.
    pub reliability: Vec<ReliabilityOut>,
}

/// Forecasts of about one chance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReliabilityOut {
    /// Mean chance told.
    pub told: f64,
    /// Share that came so.
    pub came: f64,
    /// Forecasts.
    pub forecasts: usize,
}

impl SchemeOut {
    /// None for a report of another kind of scheme or issue.
    pub(super) fn of(report: &Report) -> Option<Self> {
        let left_out = match report.scheme {
            Scheme::LeaveSeasonOut => LeftOut::Season,
            Scheme::LeaveRegionOut => LeftOut::Region,
            Scheme::LeaveGrowersOut => LeftOut::Growers,
            Scheme::Forward => return None,
        };
        let mut weeks: Vec<i32> = report.lines.iter().filter_map(|line| weeks_of(line.issue)).collect();
        weeks.sort_unstable_by(|a, b| b.cmp(a));
        weeks.dedup();
        let leads = weeks.into_iter().filter_map(|weeks| LeadOut::of(report, weeks)).collect();
        Some(Self { left_out, parts: report.folds, leads })
    }
}

fn weeks_of(issue: Issue) -> Option<i32> {
    if let Issue::WeeksAhead(weeks) = issue { Some(weeks) } else { None }
}

impl LeadOut {
    fn of(report: &Report, weeks_ahead: i32) -> Option<Self> {
        let scores = |method: Method| {
            let issue = Issue::WeeksAhead(weeks_ahead);
            let line = report.lines.iter().find(|line| line.issue == issue && line.method == method)?;
            Some(&line.scores)
        };
        let (own, days, heat) =
            (scores(Method::Engine)?, scores(Method::MeanDays)?, scores(Method::FixedHeat)?);
        Some(Self {
            weeks_ahead,
            methods: vec![
                MethodOut::of(MethodName::Forecast, own),
                MethodOut::of(MethodName::MeanDays, days),
                MethodOut::of(MethodName::FixedHeat, heat),
            ],
            skill_over_mean_days: 1.0 - own.crps / days.crps,
            skill_over_fixed_heat: 1.0 - own.crps / heat.crps,
        })
    }
}

impl MethodOut {
    fn of(method: MethodName, scores: &Scores) -> Self {
        let bins = scores.reliability.iter().filter(|bin| bin.forecasts > 0);
        Self {
            method,
            n: scores.n,
            mean_error: scores.bias,
            mean_absolute_error: scores.mae,
            crps: scores.crps,
            cover50: scores.cover50,
            cover90: scores.cover90,
            tenths: scores.pit.to_vec(),
            brier: scores.brier,
            reliability: bins
                .map(|bin| ReliabilityOut {
                    told: bin.told / bin.forecasts as f64,
                    came: bin.came as f64 / bin.forecasts as f64,
                    forecasts: bin.forecasts,
                })
                .collect(),
        }
    }
}

/// A flowering that takes no part in the forecasts.
#[derive(Debug, Serialize, ToSchema)]
pub struct DoubtOut {
    /// Its plant, one that its grower shares.
    pub plant_id: PlantId,
    /// The last stop of the flowering.
    pub stopped_on: NaiveDate,
    /// The rule that set it aside.
    pub rule: DoubtRule,
    /// The rule in words.
    pub words: String,
}

/// Why a flowering takes no part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DoubtRule {
    /// The same plant and stop are there twice.
    Duplicate,
    /// A stage is dated before the stop.
    EventBeforeStop,
    /// A later stage is dated before an earlier one.
    StagesOutOfOrder,
    /// A date lies ahead.
    InTheFuture,
    /// The region has no weather for a day of it.
    WeatherMissing,
    /// No heat at all between stop and event.
    NoHeat,
    /// Too little heat to be believed.
    TooLittleHeat,
    /// Too much heat to be believed.
    TooMuchHeat,
    /// More than five standard deviations from what is expected of such a plant.
    FarFromOthers,
}

impl DoubtRule {
    pub(super) fn of(reason: SetAside) -> Self {
        match reason {
            SetAside::Duplicate => Self::Duplicate,
            SetAside::EventBeforeStop => Self::EventBeforeStop,
            SetAside::StagesOutOfOrder => Self::StagesOutOfOrder,
            SetAside::InTheFuture => Self::InTheFuture,
            SetAside::WeatherMissing => Self::WeatherMissing,
            SetAside::NoHeat => Self::NoHeat,
            SetAside::TooLittleHeat => Self::TooLittleHeat,
            SetAside::TooMuchHeat => Self::TooMuchHeat,
            SetAside::FarFromOthers => Self::FarFromOthers,
        }
    }
}
