//! Levels of exhibitors (novice, intermediate, open ...): questions about past results, as data.
//!
//! Societies define their levels in many ways: so many firsts at each level, never a first at any affiliated show,
//! no more than so many firsts in the section at the start of the season. Each is a count of past results, held
//! against bounds. Results at other shows count as far as the exhibitor declared them.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::words::{AsOf, Reach};
use crate::words::PlantGroup;

/// A level that a class is confined to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LevelRule {
    /// Its name, as printed: `novice`.
    pub name: String,
    /// The day on which the past is looked at.
    pub as_of: AsOf,
    /// What the past must be; every condition must hold.
    pub conditions: Vec<HistoryCondition>,
}

/// A count of past results, within bounds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HistoryCondition {
    /// What is counted.
    pub counts: CountedResults,
    /// No farther away than this.
    pub reach: Reach,
    /// In these sections of the society's shows, by the titles that they carry from year to year; in all when empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sections: Vec<String>,
    /// With plants of these groups; of all when empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<PlantGroup>,
    /// In classes of these levels; of all when empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub levels: Vec<String>,
    /// But not in classes of these levels.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub levels_left_out: Vec<String>,
    /// So many at least.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least: Option<u32>,
    /// So many at most.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most: Option<u32>,
}

/// What counts.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CountedResults {
    /// Places down to this one: 1 counts firsts alone.
    PlacesTo(u32),
    /// An award of this name.
    Award(String),
}

/// One result of an exhibitor's past.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PastResult {
    /// The day of the show.
    #[serde(deserialize_with = "crate::day::day")]
    #[schema(value_type = crate::day::Day)]
    pub on: NaiveDate,
    /// How near the show is.
    pub reach: Reach,
    /// The section's title.
    #[serde(default)]
    pub section: Option<String>,
    /// The plant group shown.
    #[serde(default)]
    pub group: Option<PlantGroup>,
    /// The level of the class.
    #[serde(default)]
    pub level: Option<String>,
    /// The place, if any.
    #[serde(default)]
    pub place: Option<u32>,
    /// Awards beside the place.
    #[serde(default)]
    pub awards: Vec<String>,
}

/// Where an exhibitor stands to one condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
pub struct LevelStanding {
    /// So many results count.
    pub have: u32,
    /// So many are needed at least.
    pub at_least: Option<u32>,
    /// So many are allowed at most.
    pub at_most: Option<u32>,
}

impl LevelStanding {
    /// Whether the count is within bounds.
    pub fn holds(self) -> bool {
        self.at_least.is_none_or(|least| self.have >= least)
            && self.at_most.is_none_or(|most| self.have <= most)
    }

    /// How many more results there may be before the exhibitor has outgrown the level; `None` where it has no
    /// upper bound.
    pub fn left(self) -> Option<u32> {
        self.at_most.map(|most| most.saturating_sub(self.have))
    }
}

impl HistoryCondition {
    /// Counts the results before `as_of`.
    pub fn standing(&self, history: &[PastResult], as_of: NaiveDate) -> LevelStanding {
        let have = history.iter().filter(|result| result.on < as_of && self.counts(result)).count();
        LevelStanding {
            have: u32::try_from(have).unwrap_or(u32::MAX),
            at_least: self.at_least,
            at_most: self.at_most,
        }
    }

    fn counts(&self, result: &PastResult) -> bool {
        let earned = match &self.counts {
            CountedResults::PlacesTo(last) => result.place.is_some_and(|place| place <= *last),
            CountedResults::Award(award) => result.awards.contains(award),
        };
        let among = |list: &[String], given: Option<&String>| given.is_some_and(|given| list.contains(given));
        earned
            && result.reach <= self.reach
            && (self.sections.is_empty() || among(&self.sections, result.section.as_ref()))
            && (self.groups.is_empty() || result.group.is_some_and(|group| self.groups.contains(&group)))
            && (self.levels.is_empty() || among(&self.levels, result.level.as_ref()))
            && !among(&self.levels_left_out, result.level.as_ref())
    }

    /// Whether declared results of other shows can change the count.
    pub fn looks_outside(&self) -> bool {
        self.reach > Reach::ThisSociety
    }
}

/// Whether an exhibitor is of a level.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LevelJudgement {
    /// Conditions that are not met, whatever else may be declared.
    pub failing: Vec<LevelStanding>,
    /// Results at other shows, which were not declared, may change the answer.
    pub is_open: bool,
}

impl LevelRule {
    /// Where an exhibitor with this past stands to each condition on `as_of`, in their order.
    pub fn standings(&self, history: &[PastResult], as_of: NaiveDate) -> Vec<LevelStanding> {
        self.conditions.iter().map(|condition| condition.standing(history, as_of)).collect()
    }

    /// The day on which the past is looked at, for a show held on `held_on` in a season that began on `season_start`, to
    /// one who enters `today`.
    pub fn looked_at_on(&self, season_start: NaiveDate, today: NaiveDate, held_on: NaiveDate) -> NaiveDate {
        match self.as_of {
            AsOf::SeasonStart => season_start,
            AsOf::EntryDay => today,
            AsOf::ShowDay => held_on,
        }
    }

    /// Whether an exhibitor with this past is of the level on `as_of`. Results that were not declared can only add:
    /// too many already stay too many, and enough already stay enough.
    pub fn judge(&self, history: &[PastResult], as_of: NaiveDate, outside_declared: bool) -> LevelJudgement {
        let mut judgement = LevelJudgement::default();
        for condition in &self.conditions {
            let standing = condition.standing(history, as_of);
            let may_grow = condition.looks_outside() && !outside_declared;
            let too_many = standing.at_most.is_some_and(|most| standing.have > most);
            if too_many || (!standing.holds() && !may_grow) {
                judgement.failing.push(standing);
            } else if may_grow && (standing.at_most.is_some() || !standing.holds()) {
                judgement.is_open = true;
            }
        }
        judgement
    }
}
