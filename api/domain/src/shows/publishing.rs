//! What to look at before a schedule is published: slips that exhibitors would pay for. Errors keep it from being
//! published; warnings and notes are the secretary's to weigh.
//!
//! Cost: classes × classes for those that ask for alike; 250 classes take half a millisecond.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::class::ScheduleClass;
use super::codes::{FindingWeight, ScheduleCode};
use super::dates::instant;
use super::label::ClassLabel;
use super::pot_bands::band_findings;
use super::schedule::{ClassSet, LabelRange, ShowSchedule, ShowTrophy, TrophyAward};
use super::sound_class::class_findings;
use super::words::TieBreak;
use crate::ids::ClassId;
use crate::names::search_key;

/// Something found in a schedule.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ScheduleFinding {
    /// Stable.
    pub code: ScheduleCode,
    /// How heavy it is.
    pub weight: FindingWeight,
    /// The classes it is about.
    pub classes: Vec<ClassLabel>,
    /// The trophy it is about, by its key.
    pub trophy: Option<String>,
    /// What is the case.
    pub detail: String,
    /// What would put it right.
    pub fix: String,
}

impl ScheduleFinding {
    pub(super) fn new(code: ScheduleCode, detail: String, fix: &str) -> Self {
        let weight = match code {
            ScheduleCode::LabelNewMeaning | ScheduleCode::PotOverlap => FindingWeight::Note,
            ScheduleCode::SectionEmpty
            | ScheduleCode::WordsDisagree
            | ScheduleCode::PotGap
            | ScheduleCode::PotOfCut
            | ScheduleCode::ClassesAlike
            | ScheduleCode::FeeMissing
            | ScheduleCode::PrizesRise
            | ScheduleCode::JudgeMissing
            | ScheduleCode::TrophyUncounted
            | ScheduleCode::TrophyTieOpen => FindingWeight::Warning,
            _ => FindingWeight::Error,
        };
        Self { code, weight, classes: Vec::new(), trophy: None, detail, fix: fix.to_owned() }
    }

    pub(super) fn at(mut self, classes: &[&ScheduleClass]) -> Self {
        self.classes = classes.iter().map(|class| class.label.clone()).collect();
        self
    }
}

/// What stands beside a schedule that is to be published.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PublishingFacts {
    /// The classes that have a judge.
    pub judged: Vec<ClassId>,
    /// Numbers of classes that were withdrawn from this show.
    pub withdrawn_labels: Vec<ClassLabel>,
    /// The classes of the last show.
    pub last_classes: Vec<LastClass>,
}

/// A class of the last show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LastClass {
    /// Its number.
    pub label: ClassLabel,
    /// Identity.
    pub id: ClassId,
    /// What it asked for.
    pub title: String,
}

/// Everything found, in the order of the schedule.
pub fn before_publishing(schedule: &ShowSchedule, facts: &PublishingFacts) -> Vec<ScheduleFinding> {
    let mut found = Vec::new();
    closing(schedule, &mut found);
    if schedule.classes.is_empty() {
        let fix = "Enter the classes.";
        found.push(ScheduleFinding::new(
            ScheduleCode::NoClasses,
            "The schedule has no classes".to_owned(),
            fix,
        ));
    }
    sections(schedule, &mut found);
    let mut classes: Vec<&ScheduleClass> = schedule.classes.iter().collect();
    classes.sort_by(|a, b| a.printed_order(b));
    labels(&classes, facts, &mut found);
    for class in &classes {
        class_findings(schedule, class, &mut found);
    }
    judges(&classes, facts, &mut found);
    alike(&classes, &mut found);
    band_findings(&classes, &mut found);
    schemes(schedule, &mut found);
    for (index, trophy) in schedule.trophies.iter().enumerate() {
        let earlier = schedule.trophies.get(..index).unwrap_or_default();
        trophy_findings(schedule, trophy, earlier, &mut found);
    }
    found
}

/// Whether nothing found keeps the schedule from being published.
pub fn may_publish(found: &[ScheduleFinding]) -> bool {
    found.iter().all(|finding| finding.weight < FindingWeight::Error)
}

fn closing(schedule: &ShowSchedule, found: &mut Vec<ScheduleFinding>) {
    if let Err(why) = instant(schedule.closes_wall, &schedule.zone) {
        let detail = format!("Entries close at {} in {}: {why}", schedule.closes_wall, schedule.zone);
        found.push(ScheduleFinding::new(ScheduleCode::ClosingNoMoment, detail, "Give another time or zone."));
    }
    if schedule.closes_wall.date() > schedule.held_on {
        let detail =
            format!("Entries close at {}, after the show on {}", schedule.closes_wall, schedule.held_on);
        found.push(ScheduleFinding::new(
            ScheduleCode::ClosingLate,
            detail,
            "Let entries close before the show.",
        ));
    }
}

fn sections(schedule: &ShowSchedule, found: &mut Vec<ScheduleFinding>) {
    for (index, section) in schedule.sections.iter().enumerate() {
        if schedule.sections.iter().take(index).any(|earlier| earlier.key == section.key) {
            let detail = format!("Two sections have the key {}", section.key);
            found.push(ScheduleFinding::new(ScheduleCode::SectionTwice, detail, "Give one another key."));
        }
        if !schedule.classes.iter().any(|class| class.section.as_ref() == Some(&section.key)) {
            let detail = format!("Section {} has no classes", section.key);
            found.push(ScheduleFinding::new(
                ScheduleCode::SectionEmpty,
                detail,
                "Enter classes, or take the section out.",
            ));
        }
    }
}

fn labels(classes: &[&ScheduleClass], facts: &PublishingFacts, found: &mut Vec<ScheduleFinding>) {
    for pair in classes.windows(2) {
        if let [a, b] = pair
            && a.label == b.label
        {
            let detail = format!("Two classes have the number {}", a.label);
            let finding =
                ScheduleFinding::new(ScheduleCode::LabelTwice, detail, "Give one a number with a letter.");
            found.push(finding.at(&[a, b]));
        }
    }
    for class in classes {
        if facts.withdrawn_labels.contains(&class.label) {
            let detail = format!("The number {} is that of a class withdrawn from this show", class.label);
            let fix = "Give it a number that this show has not used.";
            found.push(ScheduleFinding::new(ScheduleCode::LabelWithdrawn, detail, fix).at(&[class]));
        }
        // A class copied from an earlier show goes on from that one, and still means what it meant at the last.
        let other = |last: &&LastClass| {
            last.label == class.label
                && class.follows != Some(last.id)
                && search_key(&last.title) != search_key(&class.title)
        };
        if facts.last_classes.iter().any(|last| other(&last)) {
            let detail = format!("The number {} meant another class at the last show", class.label);
            let fix = "Link it to that class if it goes on from it, or leave the number unused for a year.";
            found.push(ScheduleFinding::new(ScheduleCode::LabelNewMeaning, detail, fix).at(&[class]));
        }
    }
}

/// One finding for all classes without a judge.
fn judges(classes: &[&ScheduleClass], facts: &PublishingFacts, found: &mut Vec<ScheduleFinding>) {
    let without: Vec<&ScheduleClass> =
        classes.iter().filter(|class| !facts.judged.contains(&class.id)).copied().collect();
    let detail = match without.as_slice() {
        [] => return,
        [class] => format!("Class {} has no judge", class.label),
        all if all.len() == classes.len() => "No class has a judge yet".to_owned(),
        all => format!("{} classes of {} have no judge", all.len(), classes.len()),
    };
    let finding = ScheduleFinding::new(ScheduleCode::JudgeMissing, detail, "Appoint a judge for them.");
    found.push(finding.at(&without));
}

fn alike(classes: &[&ScheduleClass], found: &mut Vec<ScheduleFinding>) {
    for (index, class) in classes.iter().enumerate() {
        let twin = classes.iter().skip(index + 1).find(|other| {
            other.section == class.section && other.title == class.title && other.rules == class.rules
        });
        if let Some(twin) = twin {
            let detail = format!("Classes {} and {} ask for the same", class.label, twin.label);
            let finding =
                ScheduleFinding::new(ScheduleCode::ClassesAlike, detail, "Take one out, or tell them apart.");
            found.push(finding.at(&[class, twin]));
        }
    }
}

fn schemes(schedule: &ShowSchedule, found: &mut Vec<ScheduleFinding>) {
    for (index, scheme) in schedule.schemes.iter().enumerate() {
        if schedule.schemes.iter().take(index).any(|earlier| earlier.key == scheme.key) {
            let detail = format!("Two points schemes have the key {}", scheme.key);
            found.push(ScheduleFinding::new(ScheduleCode::PointsTwice, detail, "Give one another key."));
        }
    }
}

fn trophy_findings(
    schedule: &ShowSchedule,
    trophy: &ShowTrophy,
    earlier: &[ShowTrophy],
    found: &mut Vec<ScheduleFinding>,
) {
    let mut add = |code, detail: String, fix: &str| {
        let mut finding = ScheduleFinding::new(code, detail, fix);
        finding.trophy = Some(trophy.key.clone());
        found.push(finding);
    };
    let title = &trophy.title;
    if earlier.iter().any(|other| other.key == trophy.key) {
        add(
            ScheduleCode::TrophyTwice,
            format!("Two trophies have the key {}", trophy.key),
            "Give one another key.",
        );
    }
    for nowhere in nowhere(schedule, &trophy.classes) {
        add(
            ScheduleCode::TrophyPointsNowhere,
            format!("{title} names {nowhere}"),
            "Name what the schedule holds.",
        );
    }
    for key in trophy.not_with.iter().filter(|key| !earlier.iter().any(|other| other.key == **key)) {
        let detail = format!("{title} is not for the winner of {key}, which is not decided before it");
        add(ScheduleCode::TrophyPointsNowhere, detail, "Name a trophy that stands before it.");
    }
    let classes: Vec<&ScheduleClass> =
        schedule.classes.iter().filter(|class| trophy.classes.holds(class)).collect();
    if classes.is_empty() {
        add(ScheduleCode::TrophyEmpty, format!("{title} is won in no class"), "Name its classes.");
        return;
    }
    match &trophy.award {
        TrophyAward::MostPoints(Some(key)) if !schedule.schemes.iter().any(|scheme| scheme.key == *key) => {
            add(
                ScheduleCode::PointsUnknown,
                format!("{title} names the points scheme {key}"),
                "Enter the scheme.",
            );
        }
        TrophyAward::MostPoints(None) => {
            let without = classes.iter().filter(|class| class.rules.points.is_none()).count();
            if without > 0 {
                let detail = format!("{title} is won by points; {without} of its classes carry none");
                add(
                    ScheduleCode::TrophyUncounted,
                    detail,
                    "Give them a points scheme, or leave them out of the set.",
                );
            }
        }
        TrophyAward::MostPrizeMoney if classes.iter().all(|class| class.rules.prizes.is_empty()) => {
            let detail = format!("{title} is won by prize money; none of its classes pays any");
            add(ScheduleCode::TrophyUncounted, detail, "Give the classes prizes.");
        }
        TrophyAward::ClassWinner if classes.len() > 1 => {
            let detail = format!("{title} is for the winner of one class; it names {}", classes.len());
            add(ScheduleCode::TrophyManyClasses, detail, "Name one class.");
        }
        _ => {}
    }
    let counted = matches!(
        trophy.award,
        TrophyAward::MostPoints(_) | TrophyAward::MostFirsts | TrophyAward::MostPrizeMoney
    );
    if counted && !matches!(trophy.tie_breaks.last(), Some(TieBreak::Judge | TieBreak::Shared)) {
        let detail = format!("Nothing decides {title} at last between equals");
        add(ScheduleCode::TrophyTieOpen, detail, "End with the judge, or let equals share it.");
    }
}

/// What a set of classes names that is not there.
fn nowhere(schedule: &ShowSchedule, set: &ClassSet) -> Vec<String> {
    let known = |key: &&String| !schedule.sections.iter().any(|section| section.key == **key);
    let mut missing: Vec<String> = set
        .sections
        .iter()
        .filter(known)
        .map(|key| format!("section {key}, which is not in the schedule"))
        .collect();
    let empty = |range: &&LabelRange| {
        !schedule.classes.iter().any(|class| range.from <= class.label && class.label <= range.to)
    };
    let ranges = set.ranges.iter().chain(&set.except_ranges).filter(empty);
    missing.extend(ranges.map(|range| format!("classes {} to {}, and there are none", range.from, range.to)));
    let gone = |id: &&ClassId| !schedule.classes.iter().any(|class| class.id == **id);
    let ids = set.classes.iter().chain(&set.except).filter(gone);
    missing.extend(ids.map(|id| format!("the class {id}, which is not in the schedule")));
    missing
}
