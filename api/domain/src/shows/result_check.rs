//! What does not add up in what was keyed from judges' sheets: places of exhibits that were not staged, a place given
//! twice by a slip, classes without a judgment.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::codes::{FindingWeight, ResultCode};
use super::entry_number::EntryNumber;
use super::results::{ClassJudgment, ShowDay, ShownExhibit, Verdict, count};
use super::words::NextPlace;
use crate::ids::ClassId;

/// Something that does not add up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ResultFinding {
    /// Stable.
    pub code: ResultCode,
    /// How heavy it is. Errors are to be put right before results are published.
    pub weight: FindingWeight,
    /// The class it is about.
    pub class_id: Option<ClassId>,
    /// The entry it is about.
    pub entry: Option<EntryNumber>,
    /// The trophy it is about, by its key.
    pub trophy: Option<String>,
    /// What is the case.
    pub detail: String,
}

impl ResultFinding {
    pub(super) fn new(code: ResultCode, detail: String) -> Self {
        let weight = match code {
            ResultCode::PlaceMissing | ResultCode::ReasonMissing => FindingWeight::Warning,
            _ => FindingWeight::Error,
        };
        Self { code, weight, class_id: None, entry: None, trophy: None, detail }
    }
}

/// Everything found in the judgments of a show day.
pub(super) fn judgment_findings(day: ShowDay<'_>) -> Vec<ResultFinding> {
    let mut found = Vec::new();
    let labels: BTreeMap<ClassId, String> =
        day.schedule.classes.iter().map(|class| (class.id, class.label.to_string())).collect();
    let mut exhibits: BTreeMap<EntryNumber, &ShownExhibit> = BTreeMap::new();
    let mut staged: BTreeSet<ClassId> = BTreeSet::new();
    for exhibit in day.exhibits {
        if exhibits.insert(exhibit.entry, exhibit).is_some() {
            let detail = format!("Two exhibits have the number {}", exhibit.entry);
            let finding = ResultFinding::new(ResultCode::EntryTwice, detail);
            found.push(ResultFinding { entry: Some(exhibit.entry), ..finding });
        }
        if !labels.contains_key(&exhibit.class) {
            let detail = format!("Exhibit {} stands in a class that is not in the schedule", exhibit.entry);
            let finding = ResultFinding::new(ResultCode::ClassUnknown, detail);
            found.push(ResultFinding {
                class_id: Some(exhibit.class),
                entry: Some(exhibit.entry),
                ..finding
            });
        } else if exhibit.staged {
            staged.insert(exhibit.class);
        }
    }
    let mut judged: BTreeSet<ClassId> = BTreeSet::new();
    for judgment in day.judgments {
        let Some(label) = labels.get(&judgment.class) else {
            let detail = "A class was judged that is not in the schedule".to_owned();
            let finding = ResultFinding::new(ResultCode::ClassUnknown, detail);
            found.push(ResultFinding { class_id: Some(judgment.class), ..finding });
            continue;
        };
        if !judged.insert(judgment.class) {
            let detail = format!("Class {label} has two judgments; the later one counts");
            let finding = ResultFinding::new(ResultCode::JudgedTwice, detail);
            found.push(ResultFinding { class_id: Some(judgment.class), ..finding });
        }
        exhibit_findings(judgment, label, &exhibits, &mut found);
        place_findings(judgment, label, day.schedule.results.next_place, &mut found);
    }
    for class in staged.difference(&judged) {
        let label = labels.get(class).map(String::as_str).unwrap_or_default();
        let finding = ResultFinding::new(ResultCode::NotJudged, format!("Class {label} is not judged"));
        found.push(ResultFinding { class_id: Some(*class), ..finding });
    }
    found
}

fn exhibit_findings(
    judgment: &ClassJudgment,
    label: &str,
    exhibits: &BTreeMap<EntryNumber, &ShownExhibit>,
    found: &mut Vec<ResultFinding>,
) {
    let mut seen: BTreeSet<EntryNumber> = BTreeSet::new();
    for judged in &judgment.judged {
        let entry = judged.entry;
        let mut add = |code, detail: String| {
            let finding = ResultFinding::new(code, detail);
            found.push(ResultFinding { class_id: Some(judgment.class), entry: Some(entry), ..finding });
        };
        if !seen.insert(entry) {
            add(
                ResultCode::JudgedTwice,
                format!("Class {label} says two things of exhibit {entry}; the later one counts"),
            );
        }
        match exhibits.get(&entry) {
            None => add(
                ResultCode::EntryUnknown,
                format!("Class {label} names exhibit {entry}, which there is not"),
            ),
            Some(exhibit) if exhibit.class != judgment.class => {
                add(ResultCode::OtherClass, format!("Exhibit {entry} does not stand in class {label}"));
            }
            Some(exhibit) if !exhibit.staged => {
                add(
                    ResultCode::NotStaged,
                    format!("Exhibit {entry} of class {label} was not staged; it has no place"),
                );
            }
            Some(_) => {}
        }
        match &judged.verdict {
            Verdict::Placed(0) => {
                add(ResultCode::PlaceNought, format!("Exhibit {entry} of class {label} has the place 0"));
            }
            Verdict::NotAsSchedule { reason } | Verdict::Disqualified { reason }
                if reason.trim().is_empty() =>
            {
                add(
                    ResultCode::ReasonMissing,
                    format!("Exhibit {entry} of class {label} is put out without a reason"),
                );
            }
            _ => {}
        }
    }
}

/// A first without a second is well: the places end there. A place left out above one that was given is not, unless
/// it was withheld or used up by equals.
fn place_findings(
    judgment: &ClassJudgment,
    label: &str,
    next_place: NextPlace,
    found: &mut Vec<ResultFinding>,
) {
    let mut places: BTreeMap<u32, u32> = BTreeMap::new();
    for judged in &judgment.judged {
        if let Verdict::Placed(place) = judged.verdict {
            *places.entry(place).or_default() += 1;
        }
    }
    let mut add = |code, detail: String| {
        let finding = ResultFinding::new(code, detail);
        found.push(ResultFinding { class_id: Some(judgment.class), ..finding });
    };
    let mut next = 1;
    for (&place, &how_many) in &places {
        if how_many > 1 && !judgment.equal.contains(&place) {
            add(
                ResultCode::PlaceTwice,
                format!("Class {label} gives the place {place} {how_many} times, and not as equal"),
            );
        }
        if judgment.withheld.contains(&place) {
            add(ResultCode::WithheldGiven, format!("Class {label} withholds the place {place} and gives it"));
        }
        if place < next && place > 0 {
            add(
                ResultCode::PlaceUsedUp,
                format!("Class {label} gives the place {place}, which equals above it use up"),
            );
        }
        // What was left out is looked for no farther than there are places withheld or given.
        let left_out = (next..place).take(100).filter(|place| !judgment.withheld.contains(place));
        let missing = count(left_out);
        if missing > 0 {
            add(
                ResultCode::PlaceMissing,
                format!("Class {label} gives the place {place} and leaves out {missing} above it"),
            );
        }
        let used = if next_place == NextPlace::Skipped { how_many } else { 1 };
        next = next.max(place.saturating_add(used));
    }
}
