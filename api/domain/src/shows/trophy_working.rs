//! How trophies end, and the working that is shown with each.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::entry_number::EntryNumber;
use super::points::Points;
use super::results::ExhibitorNumber;
use super::words::TieBreak;
use crate::ids::ClassId;

/// What a judge chose or decided for a trophy.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TrophyChoice {
    /// Which, by its key.
    pub trophy: String,
    /// What.
    pub choice: JudgesChoice,
}

/// The choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum JudgesChoice {
    /// The best exhibit.
    Exhibit(EntryNumber),
    /// The winner among equals.
    Exhibitor(ExhibitorNumber),
    /// The trophy is withheld.
    Withheld,
}

/// Who won a trophy in a year before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PastWinner {
    /// Which, by its key.
    pub trophy: String,
    /// Who, by the number at this show.
    pub exhibitor: ExhibitorNumber,
    /// How many shows ago: 1 at the last.
    pub years_ago: u32,
}

/// A trophy, how it ended, and the working.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct TrophyResult {
    /// Which, by its key.
    pub trophy: String,
    /// How it ended.
    pub outcome: TrophyOutcome,
    /// Every exhibitor who scored, the highest score first.
    pub scores: Vec<TrophyScore>,
    /// How equals were told apart.
    pub steps: Vec<TieStep>,
    /// Exhibits in the running where judges choose.
    pub running: Vec<EntryNumber>,
}

/// How a trophy ended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TrophyOutcome {
    /// One exhibitor has it, for an exhibit where it is for one.
    Won {
        /// Who.
        exhibitor: ExhibitorNumber,
        /// For which exhibit.
        entry: Option<EntryNumber>,
    },
    /// Equals share it.
    Shared(Vec<ExhibitorNumber>),
    /// The judge is to decide between these.
    JudgeDecides(Vec<ExhibitorNumber>),
    /// Judges are to choose among the exhibits in the running.
    JudgesChoose,
    /// Withheld.
    Withheld,
    /// Nobody in the running scored.
    NobodyEligible,
}

/// What one exhibitor has toward a trophy.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct TrophyScore {
    /// Who.
    pub exhibitor: ExhibitorNumber,
    /// What counts: points, firsts, or pence.
    pub score: Points,
    /// Firsts in the trophy's classes.
    pub firsts: u32,
    /// Seconds.
    pub seconds: u32,
    /// Thirds.
    pub thirds: u32,
    /// Exhibits staged in the classes won, summed.
    pub won_class_sizes: u32,
    /// Why the exhibitor is out of the running, if so.
    pub out: Option<OutOfRunning>,
    /// The exhibits that it comes from.
    pub parts: Vec<TrophyPart>,
}

/// One exhibit toward a trophy.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct TrophyPart {
    /// In which class.
    pub class: ClassId,
    /// Which.
    pub entry: EntryNumber,
    /// Its place, if it has one.
    pub place: Option<u32>,
    /// What it adds.
    pub score: Points,
}

/// Why somebody is out of the running.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OutOfRunning {
    /// The trophy is for members.
    NotAMember,
    /// The trophy is for another level.
    OtherLevel,
    /// Results at other shows were not declared, which the level asks for.
    LevelUnknown,
    /// Won it too short a time ago.
    WonBefore {
        /// How many shows ago.
        years_ago: u32,
    },
    /// Wins a trophy that cannot be had together with it.
    WinsOther {
        /// Which, by its key.
        trophy: String,
    },
}

/// One step by which equals were told apart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct TieStep {
    /// By what.
    pub by: TieBreak,
    /// What each of the equals has.
    pub values: Vec<TieValue>,
    /// Who is left.
    pub left: Vec<ExhibitorNumber>,
}

/// What one of the equals has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct TieValue {
    /// Who.
    pub exhibitor: ExhibitorNumber,
    /// How many.
    pub value: u32,
}
