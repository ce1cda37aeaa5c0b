//! What a class demands: slots to fill, who may enter, and how it is scored. Data, stored and sent as JSON.
//!
//! Every field but `slots` may be left out; what is left out asks for nothing.

use std::cmp::Ordering;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::dates::Period;
use super::label::ClassLabel;
use super::level::LevelRule;
use super::measure::{Micrometres, Pence, SizeLimit};
use super::words::{ExhibitUnit, FlowerRule, HouseholdRule, MeasuredFrom, MeasuredTo, NamingRule, Reach};
use crate::ids::{ClassId, CultivarId};
use crate::words::{GrowthForm, PlantGroup};

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// A class of a schedule. The id is its identity; the label is only printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ScheduleClass {
    /// Identity.
    pub id: ClassId,
    /// The number printed beside it, unlike that of any other class of the show.
    pub label: ClassLabel,
    /// The key of the section it stands in, if the schedule has sections.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section: Option<String>,
    /// What is asked for, in one line.
    pub title: String,
    /// The class of the last show that it goes on from, whatever its number was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follows: Option<ClassId>,
    /// What it demands.
    pub rules: ClassRules,
}

/// What a class demands.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassRules {
    /// What an exhibit consists of; at least one. The counts are exact: neither more nor fewer.
    pub slots: Vec<ClassSlot>,
    /// Anything else that it asks, as printed; people judge it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<String>,
    /// How the cultivars of one exhibit stand to each other.
    #[serde(default, skip_serializing_if = "is_default")]
    pub distinct: Distinctness,
    /// What is asked of names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub naming: Option<NamingRule>,
    /// How long the exhibitor must have held the plants by the day of the show.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held_for: Option<Holding>,
    /// Who may enter.
    #[serde(default, skip_serializing_if = "is_default")]
    pub entrants: EntrantRule,
    /// What is asked of seedlings; without it a seedling is as good as any plant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seedling: Option<SeedlingRule>,
    /// Shut to an exhibit that took a first at a show this near.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_earlier_first: Option<Reach>,
    /// How often one exhibitor may enter.
    #[serde(default, skip_serializing_if = "is_default")]
    pub entries: EntryLimit,
    /// What entering costs; `null` while it is not settled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fee: Option<EntryFee>,
    /// Prize money for first, second and so on, in pence; it does not rise.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub prizes: Vec<Pence>,
    /// The key of the points scheme; without one the class carries no points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub points: Option<String>,
    /// The scale it is judged by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<JudgingScale>,
    /// Width of bench allowed to one exhibit, in micrometres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench_um: Option<Micrometres>,
}

/// So many of one sort.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassSlot {
    /// How many, at least one.
    pub count: u32,
    /// Of what.
    pub unit: ExhibitUnit,
    /// Which cultivars.
    #[serde(default, skip_serializing_if = "is_default")]
    pub taxa: TaxonFilter,
    /// Grown to any one of these forms; to any at all when empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub forms: Vec<GrowthForm>,
    /// Internal diameter of the pot at the rim.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pot: Option<SizeLimit>,
    /// Height of the plant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height: Option<HeightLimit>,
    /// Clear stem, from the compost to the lowest branch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clear_stem: Option<SizeLimit>,
    /// Diameter of the basket.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basket: Option<SizeLimit>,
    /// Diameter of the bloom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bloom: Option<SizeLimit>,
    /// What is asked of flowers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flowers: Option<FlowerRule>,
}

impl ClassSlot {
    /// So many of a unit, of anything.
    pub fn of(count: u32, unit: ExhibitUnit) -> Self {
        Self {
            count,
            unit,
            taxa: TaxonFilter::default(),
            forms: Vec::new(),
            pot: None,
            height: None,
            clear_stem: None,
            basket: None,
            bloom: None,
            flowers: None,
        }
    }
}

/// Which cultivars a slot takes. Every condition that is given must hold.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TaxonFilter {
    /// Of any one of these plant groups.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<PlantGroup>,
    /// One of these cultivars.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cultivars: Vec<CultivarId>,
    /// Other than of these plant groups.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_than_groups: Vec<PlantGroup>,
    /// Other than these cultivars.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_than_cultivars: Vec<CultivarId>,
    /// Introduced before this year.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        deserialize_with = "crate::day::optional_year"
    )]
    #[schema(value_type = Option<crate::day::Year>)]
    pub introduced_before: Option<i32>,
}

/// A limit on the height of a plant.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HeightLimit {
    /// How high.
    pub limit: SizeLimit,
    /// From where.
    pub measured_from: MeasuredFrom,
    /// To where.
    pub measured_to: MeasuredTo,
}

/// How the cultivars of one exhibit stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Distinctness {
    /// Not necessarily distinct.
    #[default]
    Free,
    /// All different.
    AllDifferent,
    /// All the same.
    AllSame,
    /// At least so many different.
    AtLeast(u32),
}

/// How long plants must have been held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Holding {
    /// At least so long: a plant got on the last day counts.
    pub period: Period,
    /// Plants that the exhibitor raised from seed may be younger.
    #[serde(default)]
    pub unless_from_seed: bool,
}

/// Who may enter a class.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntrantRule {
    /// Members alone.
    #[serde(default, skip_serializing_if = "is_default")]
    pub members_only: bool,
    /// Nobody who grows for the trade.
    #[serde(default, skip_serializing_if = "is_default")]
    pub amateurs_only: bool,
    /// An age on a stated day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub age: Option<AgeRule>,
    /// A level of the exhibitor's past results.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<LevelRule>,
    /// Whether members of one household may each enter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub household: Option<HouseholdRule>,
    /// Joint names are not taken.
    #[serde(default, skip_serializing_if = "is_default")]
    pub no_joint_names: bool,
    /// Shut to exhibitors entered in any of these classes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_entered_in: Vec<ClassId>,
}

/// Whole years on a stated day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AgeRule {
    /// The youngest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<u32>,
    /// The oldest: `under 16` is 15.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<u32>,
    /// The day on which the age is told.
    #[serde(deserialize_with = "crate::day::day")]
    #[schema(value_type = crate::day::Day)]
    pub on: NaiveDate,
}

/// What is asked of a seedling. Each point that is set must hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[allow(clippy::struct_excessive_bools, reason = "each is one point of a printed rule")]
pub struct SeedlingRule {
    /// Raised by the exhibitor.
    #[serde(default)]
    pub raised_by_exhibitor: bool,
    /// Without a name yet.
    #[serde(default)]
    pub not_named: bool,
    /// Not in commerce.
    #[serde(default)]
    pub not_introduced: bool,
    /// Never shown before.
    #[serde(default)]
    pub never_shown: bool,
    /// No first at a show this near.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_first: Option<Reach>,
}

/// How often one exhibitor may enter a class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryLimit {
    /// So many times; any number when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub per_exhibitor: Option<u32>,
    /// Each entry of another cultivar.
    #[serde(default)]
    pub each_different: bool,
}

/// What one entry costs, in pence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryFee {
    /// A member.
    pub member: Pence,
    /// Anybody else.
    pub other: Pence,
    /// A junior; as the others when left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub junior: Option<Pence>,
}

impl EntryFee {
    /// What one entry costs this exhibitor.
    pub fn due(self, is_member: bool, is_junior: bool) -> Pence {
        let grown = if is_member { self.member } else { self.other };
        self.junior.filter(|_| is_junior).unwrap_or(grown)
    }
}

/// A scale by which exhibits are marked.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JudgingScale {
    /// What is marked.
    pub criteria: Vec<ScaleCriterion>,
    /// The most marks: the sum of the criteria.
    pub total: u32,
}

/// A line of a judging scale.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ScaleCriterion {
    /// What is marked.
    pub title: String,
    /// The most marks.
    pub most: u32,
}

impl ScheduleClass {
    /// The order of print: by number, 106 before 106A before 107.
    pub fn printed_order(&self, other: &Self) -> Ordering {
        (&self.label, self.id).cmp(&(&other.label, other.id))
    }
}

impl ClassRules {
    /// How many units an exhibit holds.
    pub fn units(&self) -> u32 {
        self.slots.iter().map(|slot| slot.count).fold(0, u32::saturating_add)
    }
}
