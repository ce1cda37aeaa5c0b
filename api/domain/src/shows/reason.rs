//! Why an exhibit fits, may fit or does not: facts, a stable code, and what would make it fit.
//!
//! Reasons hold figures, not sentences: asking of every plant and class makes thousands of them, and few are read.

use chrono::{DateTime, NaiveDate};
use chrono_tz::Tz;
use serde::Serialize;
use utoipa::ToSchema;

use super::class::{AgeRule, Distinctness, HeightLimit};
use super::codes::{Bearing, ReasonCode};
use super::dates::Period;
use super::facts::PlantHeight;
use super::level::LevelStanding;
use super::measure::{Micrometres, SizeLimit};
use super::words::{ExhibitUnit, Measure, Reach};
use crate::ids::{ClassId, PlantId};
use crate::words::{GrowthForm, PlantGroup};

/// A reason, and the plant that it is about, if it is about one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// The plant.
    pub plant: Option<PlantId>,
    /// Why.
    pub why: Why,
}

/// A reason in words, as it is sent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ReasonTold {
    /// Stable.
    pub code: ReasonCode,
    /// What it does to the answer.
    pub bearing: Bearing,
    /// The plant that it is about.
    pub plant_id: Option<PlantId>,
    /// What is the case.
    pub detail: String,
    /// What would make it fit, where something would.
    pub remedy: Option<String>,
}

impl Reason {
    /// The reason in words.
    pub fn told(&self) -> ReasonTold {
        ReasonTold {
            code: self.why.code(),
            bearing: self.why.bearing(),
            plant_id: self.plant,
            detail: self.why.to_string(),
            remedy: self.why.remedy(),
        }
    }
}

/// One point of what a class asks of a seedling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SeedlingPoint {
    /// Raised by the exhibitor.
    RaisedByExhibitor,
    /// Without a name.
    NotNamed,
    /// Not in commerce.
    NotIntroduced,
    /// Never shown.
    NeverShown,
    /// Without a first.
    NoFirst(Reach),
}

/// The facts behind a reason. [`ReasonCode`] tells what each means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Why {
    EntriesClosed { at: DateTime<Tz> },
    EntriesNotOpen { until: DateTime<Tz> },
    EntryDuplicate { have: u32, needed: u32 },
    PlantAlreadyEntered { class: ClassId, have: u32, needed: u32 },
    ClassLimitReached { limit: u32 },
    CultivarAlreadyEntered,
    HouseholdConflict,
    JointNames,
    NotAMember,
    NotAnAmateur,
    AgeOutOfRange { age: u32, rule: AgeRule },
    AgeUnknown { on: NaiveDate },
    LevelNotEligible { level: String, standing: LevelStanding },
    LevelUnknown { level: String },
    JudgeConflict,
    OtherClassEntered { class: ClassId },
    KindMismatch { given: PlantGroup, wanted: Vec<PlantGroup> },
    KindLeftOut { given: PlantGroup },
    KindUnknown,
    NotListed,
    LeftOut,
    RegisterGroup { given: PlantGroup },
    IntroducedTooLate { given: i32, before: i32 },
    RaisedTooLate { given: i32, before: i32 },
    IntroductionUnknown { before: i32 },
    FormMismatch { given: GrowthForm, wanted: Vec<GrowthForm> },
    FormUnknown { wanted: Vec<GrowthForm> },
    OverSize { what: Measure, given: Micrometres, limit: SizeLimit },
    UnderSize { what: Measure, given: Micrometres, limit: SizeLimit },
    SizeUnknown { what: Measure, limit: SizeLimit },
    HeightOutOfRange { given: Micrometres, limit: HeightLimit },
    HeightUnknown { measured: Option<PlantHeight>, limit: HeightLimit },
    FlowersMissing,
    FlowersUnknown,
    FlowersToRemove,
    NameMissing,
    NameWanted,
    OwnedTooShort { need: Period, by: NaiveDate, since: NaiveDate },
    OwnedUnknown { need: Period, by: NaiveDate },
    EarlierFirst { reach: Reach },
    EarlierFirstUnknown { reach: Reach },
    SeedlingNotEligible(SeedlingPoint),
    SeedlingUnknown(SeedlingPoint),
    CountMismatch { unit: ExhibitUnit, given: u32, wanted: u32 },
    MoreNeeded { unit: ExhibitUnit, more: u32, others_differ: bool },
    NotDistinct { different: u32, rule: Distinctness },
    NotAlike { different: u32 },
    WordsToJudge { words: String },
}

impl Why {
    /// The stable code.
    pub fn code(&self) -> ReasonCode {
        match self {
            Self::EntriesClosed { .. } => ReasonCode::EntriesClosed,
            Self::EntriesNotOpen { .. } => ReasonCode::EntriesNotOpen,
            Self::EntryDuplicate { .. } => ReasonCode::EntryDuplicate,
            Self::PlantAlreadyEntered { .. } => ReasonCode::PlantAlreadyEntered,
            Self::ClassLimitReached { .. } => ReasonCode::ClassLimitReached,
            Self::CultivarAlreadyEntered => ReasonCode::CultivarAlreadyEntered,
            Self::HouseholdConflict => ReasonCode::HouseholdConflict,
            Self::JointNames => ReasonCode::JointNames,
            Self::NotAMember => ReasonCode::NotAMember,
            Self::NotAnAmateur => ReasonCode::NotAnAmateur,
            Self::AgeOutOfRange { .. } => ReasonCode::AgeOutOfRange,
            Self::AgeUnknown { .. } => ReasonCode::AgeUnknown,
            Self::LevelNotEligible { .. } => ReasonCode::LevelNotEligible,
            Self::LevelUnknown { .. } => ReasonCode::LevelUnknown,
            Self::JudgeConflict => ReasonCode::JudgeConflict,
            Self::OtherClassEntered { .. } => ReasonCode::OtherClassEntered,
            Self::KindMismatch { .. } | Self::KindLeftOut { .. } => ReasonCode::KindMismatch,
            Self::KindUnknown => ReasonCode::KindUnknown,
            Self::NotListed => ReasonCode::NotListed,
            Self::LeftOut => ReasonCode::LeftOut,
            Self::RegisterGroup { .. } => ReasonCode::RegisterGroup,
            Self::IntroducedTooLate { .. } | Self::RaisedTooLate { .. } => ReasonCode::IntroducedTooLate,
            Self::IntroductionUnknown { .. } => ReasonCode::IntroductionUnknown,
            Self::FormMismatch { .. } => ReasonCode::FormMismatch,
            Self::FormUnknown { .. } => ReasonCode::FormUnknown,
            Self::OverSize { .. } => ReasonCode::OverSize,
            Self::UnderSize { .. } => ReasonCode::UnderSize,
            Self::SizeUnknown { .. } => ReasonCode::SizeUnknown,
            Self::HeightOutOfRange { .. } => ReasonCode::HeightOutOfRange,
            Self::HeightUnknown { .. } => ReasonCode::HeightUnknown,
            Self::FlowersMissing => ReasonCode::FlowersMissing,
            Self::FlowersUnknown => ReasonCode::FlowersUnknown,
            Self::FlowersToRemove => ReasonCode::FlowersToRemove,
            Self::NameMissing => ReasonCode::NameMissing,
            Self::NameWanted => ReasonCode::NameWanted,
            Self::OwnedTooShort { .. } => ReasonCode::OwnedTooShort,
            Self::OwnedUnknown { .. } => ReasonCode::OwnedUnknown,
            Self::EarlierFirst { .. } => ReasonCode::EarlierFirst,
            Self::EarlierFirstUnknown { .. } => ReasonCode::EarlierFirstUnknown,
            Self::SeedlingNotEligible(_) => ReasonCode::SeedlingNotEligible,
            Self::SeedlingUnknown(_) => ReasonCode::SeedlingUnknown,
            Self::CountMismatch { .. } => ReasonCode::CountMismatch,
            Self::MoreNeeded { .. } => ReasonCode::MoreNeeded,
            Self::NotDistinct { .. } => ReasonCode::NotDistinct,
            Self::NotAlike { .. } => ReasonCode::NotAlike,
            Self::WordsToJudge { .. } => ReasonCode::WordsToJudge,
        }
    }

    /// What it does to the answer. Sizes, forms, flowers and names doubt alone: plants grow and are potted on, and
    /// what the steward measures when the exhibit is staged decides.
    pub fn bearing(&self) -> Bearing {
        match self {
            Self::RegisterGroup { .. } | Self::FlowersToRemove | Self::NameWanted => Bearing::Notes,
            Self::AgeUnknown { .. }
            | Self::LevelUnknown { .. }
            | Self::KindUnknown
            | Self::IntroductionUnknown { .. }
            | Self::FormUnknown { .. }
            | Self::SizeUnknown { .. }
            | Self::HeightUnknown { .. }
            | Self::FlowersUnknown
            | Self::OwnedUnknown { .. }
            | Self::EarlierFirstUnknown { .. }
            | Self::SeedlingUnknown(_)
            | Self::MoreNeeded { .. }
            | Self::WordsToJudge { .. } => Bearing::Opens,
            Self::FormMismatch { .. }
            | Self::OverSize { .. }
            | Self::UnderSize { .. }
            | Self::HeightOutOfRange { .. }
            | Self::FlowersMissing
            | Self::NameMissing => Bearing::Doubts,
            _ => Bearing::Bars,
        }
    }
}
