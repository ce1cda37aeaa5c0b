//! What is sent.

use chrono::NaiveDate;
use serde::Serialize;
use storksbill_domain::ids::RegionId;
use utoipa::ToSchema;

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
