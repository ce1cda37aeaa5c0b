//! Interests that judges and stewards may not have, found before the day.
//!
//! A judge does not judge an exhibit of their own or of their household, nor one show too many years running; a
//! steward does not steward a section that they exhibit in. Cost: judges and stewards × entries.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::codes::{ConflictCode, FindingWeight};
use super::entry_number::EntryNumber;
use super::schedule::ShowSchedule;
use crate::ids::{ClassId, MemberId};

/// A judge appointed to classes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShowJudge {
    /// The member, if it is one.
    pub member: Option<MemberId>,
    /// The name, for findings.
    pub name: String,
    /// Members of one household with the judge.
    pub household: Vec<MemberId>,
    /// The classes judged.
    pub classes: Vec<ClassId>,
    /// The years in which the judge judged this show before.
    pub years: Vec<i32>,
}

/// A steward of sections.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShowSteward {
    /// The member, if it is one.
    pub member: Option<MemberId>,
    /// The name, for findings.
    pub name: String,
    /// The sections stewarded, by key.
    pub sections: Vec<String>,
}

/// An entry, and whose it is: one member, none, or several in joint names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryOwners {
    /// Its number.
    pub entry: EntryNumber,
    /// Where it stands.
    pub class: ClassId,
    /// The members whose it is.
    pub owners: Vec<MemberId>,
}

/// What the show asks of judges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JudgeRules {
    /// A judge exhibits in no class of the show; otherwise in none that they judge.
    pub no_exhibit_at_all: bool,
    /// So many years running at most, this one among them.
    pub most_years_running: Option<u32>,
}

/// An interest found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ConflictFinding {
    /// Stable.
    pub code: ConflictCode,
    /// How heavy it is.
    pub weight: FindingWeight,
    /// The judge or steward.
    pub name: String,
    /// The class it is about.
    pub class_id: Option<ClassId>,
    /// The entry it is about.
    pub entry: Option<EntryNumber>,
    /// What is the case. It names the class and the entry, and is for the secretary's eyes alone.
    pub detail: String,
}

/// Everything found: judge by judge, then steward by steward, in the order of the entries.
pub fn conflicts(
    schedule: &ShowSchedule,
    judges: &[ShowJudge],
    stewards: &[ShowSteward],
    entries: &[EntryOwners],
    rules: JudgeRules,
) -> Vec<ConflictFinding> {
    use chrono::Datelike;
    let classes: BTreeMap<ClassId, (String, Option<&String>)> = schedule
        .classes
        .iter()
        .map(|class| (class.id, (class.label.to_string(), class.section.as_ref())))
        .collect();
    let label = |class: ClassId| classes.get(&class).map_or("unknown", |(label, _)| label.as_str());
    let mut found = Vec::new();
    for judge in judges {
        for entry in entries {
            let own = judge.member.is_some_and(|member| entry.owners.contains(&member));
            let household = judge.household.iter().any(|member| entry.owners.contains(member));
            let judged = judge.classes.contains(&entry.class);
            let code = match (own, household, judged) {
                (true, _, true) => ConflictCode::JudgeOwnExhibit,
                (false, true, true) => ConflictCode::JudgeHouseholdExhibit,
                (true, _, false) if rules.no_exhibit_at_all => ConflictCode::JudgeExhibits,
                _ => continue,
            };
            let what = match code {
                ConflictCode::JudgeOwnExhibit => "judges their own exhibit",
                ConflictCode::JudgeHouseholdExhibit => "judges an exhibit of their household",
                _ => "judges at the show and exhibits",
            };
            found.push(ConflictFinding {
                code,
                weight: FindingWeight::Error,
                name: judge.name.clone(),
                class_id: Some(entry.class),
                entry: Some(entry.entry),
                detail: format!("{} {what} in class {}: {}", judge.name, label(entry.class), entry.entry),
            });
        }
        let year = schedule.held_on.year();
        let running = running_years(&judge.years, year);
        if rules.most_years_running.is_some_and(|most| running > most) {
            found.push(ConflictFinding {
                code: ConflictCode::JudgeYearsRunning,
                weight: FindingWeight::Warning,
                name: judge.name.clone(),
                class_id: None,
                entry: None,
                detail: format!("{} would judge this show for the {}. year running", judge.name, running),
            });
        }
    }
    for steward in stewards {
        for entry in entries {
            let own = steward.member.is_some_and(|member| entry.owners.contains(&member));
            let section = classes.get(&entry.class).and_then(|(_, section)| *section);
            if own && section.is_some_and(|key| steward.sections.contains(key)) {
                found.push(ConflictFinding {
                    code: ConflictCode::StewardOwnSection,
                    weight: FindingWeight::Error,
                    name: steward.name.clone(),
                    class_id: Some(entry.class),
                    entry: Some(entry.entry),
                    detail: format!(
                        "{} stewards the section of class {} and exhibits there: {}",
                        steward.name,
                        label(entry.class),
                        entry.entry
                    ),
                });
            }
        }
    }
    found
}

/// How many years running it would be, with this one.
fn running_years(before: &[i32], year: i32) -> u32 {
    let mut running = 1;
    let mut last = year;
    while let Some(previous) = last.checked_sub(1).filter(|previous| before.contains(previous)) {
        running += 1;
        last = previous;
    }
    running
}
