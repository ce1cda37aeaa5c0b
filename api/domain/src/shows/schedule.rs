//! A whole schedule: sections, classes, points schemes, trophies and how results are reckoned. Data, as one version
//! of it is published.

use chrono::{NaiveDate, NaiveDateTime};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::class::ScheduleClass;
use super::dates::ProtestsUntil;
use super::label::ClassLabel;
use super::level::LevelRule;
use super::measure::Micrometres;
use super::points::{PointsScheme, ResultRules};
use super::words::TieBreak;
use crate::ids::ClassId;

/// One version of a show's schedule.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShowSchedule {
    /// As printed on it.
    pub title: String,
    /// The day of the show.
    #[serde(deserialize_with = "crate::day::day")]
    #[schema(value_type = crate::day::Day)]
    pub held_on: NaiveDate,
    /// The show's zone, by its name in the IANA time zone database.
    pub zone: String,
    /// Entries close at this time of the zone's wall clock.
    #[serde(deserialize_with = "crate::day::wall")]
    #[schema(
        value_type = String,
        pattern = r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?$",
        example = "2026-06-11T21:00:00"
    )]
    pub closes_wall: NaiveDateTime,
    /// Given way at each end of every limit on size, in micrometres.
    #[serde(default)]
    pub tolerance_um: Micrometres,
    /// Until when protests are taken, if they are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub protests: Option<ProtestsUntil>,
    /// Its sections, in the order of print.
    #[serde(default)]
    pub sections: Vec<ShowSection>,
    /// Its classes.
    pub classes: Vec<ScheduleClass>,
    /// The points schemes that classes name.
    #[serde(default)]
    pub schemes: Vec<PointsScheme>,
    /// Its trophies, in the order in which they are decided.
    #[serde(default)]
    pub trophies: Vec<ShowTrophy>,
    /// How places and prize money are reckoned.
    #[serde(default)]
    pub results: ResultRules,
}

/// A section of a schedule.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShowSection {
    /// Its letter or short name, which classes and trophies refer to; the same from year to year.
    pub key: String,
    /// As printed.
    pub title: String,
}

/// A trophy, medal or special prize.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShowTrophy {
    /// What it is known by from year to year.
    pub key: String,
    /// As printed.
    pub title: String,
    /// The classes that it is won in.
    pub classes: ClassSet,
    /// How it is won.
    pub award: TrophyAward,
    /// For members alone.
    #[serde(default)]
    pub members_only: bool,
    /// For exhibitors of this level.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<LevelRule>,
    /// Not for those who won it in any of so many years before.
    #[serde(default)]
    pub barred_years: u32,
    /// Not for those who win one of these at this show; they stand before it in the schedule.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_with: Vec<String>,
    /// What decides between equals, in this order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tie_breaks: Vec<TieBreak>,
}

/// How a trophy is won.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TrophyAward {
    /// By most points: those of each class, or by one scheme for all, by its key.
    MostPoints(Option<String>),
    /// By most firsts.
    MostFirsts,
    /// By most prize money.
    MostPrizeMoney,
    /// By the exhibit that judges choose among the firsts.
    BestExhibit,
    /// By the first of the one class.
    ClassWinner,
}

/// A set of classes: what is named, less what is left out.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassSet {
    /// Every class.
    #[serde(default)]
    pub all: bool,
    /// The classes of these sections, by key.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sections: Vec<String>,
    /// Classes by number: 106A lies within 80 to 120.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ranges: Vec<LabelRange>,
    /// Single classes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub classes: Vec<ClassId>,
    /// Numbers left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub except_ranges: Vec<LabelRange>,
    /// Single classes left out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub except: Vec<ClassId>,
}

/// Class numbers from one to another, both within.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LabelRange {
    /// The first.
    pub from: ClassLabel,
    /// The last.
    pub to: ClassLabel,
}

impl LabelRange {
    fn holds(&self, label: &ClassLabel) -> bool {
        self.from <= *label && *label <= self.to
    }
}

impl ClassSet {
    /// Every class of a schedule.
    pub fn all() -> Self {
        Self { all: true, ..Self::default() }
    }

    /// Whether a class belongs to it.
    pub fn holds(&self, class: &ScheduleClass) -> bool {
        let named = self.all
            || class.section.as_ref().is_some_and(|key| self.sections.contains(key))
            || self.ranges.iter().any(|range| range.holds(&class.label))
            || self.classes.contains(&class.id);
        named
            && !self.except.contains(&class.id)
            && !self.except_ranges.iter().any(|range| range.holds(&class.label))
    }
}
