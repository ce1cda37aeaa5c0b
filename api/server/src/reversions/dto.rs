//! What is taken and sent.

use serde::{Deserialize, Serialize};
use storksbill_db::rows::reversions::Report;
use storksbill_domain::ids::CultivarId;
use storksbill_pedigree::stability::Reversion;
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};

/// A year's plants of a sport.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReportIn {
    /// Plants of it that you grew in the year, 1 to 100,000.
    pub plants: i32,
    /// Those of them on which some shoot went back; not more.
    pub reverted: i32,
    /// What they went back to, where that is a cultivar of the society.
    #[serde(default)]
    pub went_back_to_id: Option<CultivarId>,
    /// What they went back to in words, up to 200 characters.
    #[serde(default)]
    pub went_back_to: Option<String>,
}

impl Check for ReportIn {
    fn check(&self, found: &mut Findings) {
        found.range("/plants", self.plants, 1, 100_000);
        if self.reverted < 0 || self.reverted > self.plants {
            found.add("/reverted", "more-than-before", "must be from 0 to the plants grown");
        }
        found.optional_text("/went_back_to", self.went_back_to.as_deref(), 200);
        if self.reverted == 0 && (self.went_back_to_id.is_some() || self.went_back_to.is_some()) {
            found.add("/went_back_to", "not-taken", "goes with plants that went back");
        }
        if self.went_back_to_id.is_some() && self.went_back_to.is_some() {
            found.add("/went_back_to", "one-of", "give a cultivar or words, not both");
        }
    }
}

/// A year's plants of a sport, as you reported them.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReportOut {
    /// The sport.
    pub cultivar_id: CultivarId,
    /// The year.
    pub year: i32,
    /// Plants grown.
    pub plants: i32,
    /// Those on which some shoot went back.
    pub reverted: i32,
    /// What they went back to, where that is a cultivar of the society.
    pub went_back_to_id: Option<CultivarId>,
    /// What they went back to in words.
    pub went_back_to: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
}

impl ReportOut {
    pub(super) fn of(report: Report) -> Self {
        Self {
            cultivar_id: report.cultivar_id,
            year: report.year,
            plants: report.plants,
            reverted: report.reverted,
            went_back_to_id: report.went_back_to_id,
            went_back_to: report.went_back_to,
            version: report.version,
        }
    }
}

/// A rate with what stands behind it. Plants of one grower in one year tell less than as many apart, and are
/// counted so (J. N. K. Rao, A. J. Scott, Biometrics 48, 1992, 577-585); the interval is Wilson's, at 95 %.
#[derive(Debug, Serialize, ToSchema)]
pub struct RateOut {
    /// The share of plants that go back in a year, 0 to 1.
    pub rate: f64,
    /// Lower bound of the interval.
    pub low: f64,
    /// Upper bound of the interval.
    pub high: f64,
    /// Growers who reported.
    pub growers: usize,
    /// Years that were reported on.
    pub years: usize,
    /// Reports, one a grower and year.
    pub reports: usize,
    /// Plants reported on.
    pub plants: u64,
    /// Independent plants that would tell as much.
    pub effective_plants: f64,
}

impl RateOut {
    pub(super) fn of(found: Reversion, growers: usize, years: usize) -> Self {
        Self {
            rate: found.rate,
            low: found.interval.low,
            high: found.interval.high,
            growers,
            years,
            reports: found.reports,
            plants: found.plants,
            effective_plants: found.effective_plants,
        }
    }
}

/// How often a sport goes back.
#[derive(Debug, Serialize, ToSchema)]
pub struct StabilityOut {
    /// The sport.
    pub cultivar_id: CultivarId,
    /// Fewest growers that a pooled figure may stand on.
    pub least_growers: usize,
    /// All growers together; null where fewer have reported.
    pub pooled: Option<RateOut>,
    /// Your own plants; null where you have reported none.
    pub own: Option<RateOut>,
}
