//! A show on the island of Merrow to ask questions of.
#![allow(dead_code, clippy::unwrap_used, reason = "each test uses a part of it, and may fail")]

pub mod bench_hall;

use chrono::{DateTime, NaiveDate, Utc};
use storksbill_domain::ids::{ClassId, CultivarId, PlantId};
use storksbill_domain::shows::{
    Answer, ClassRules, ClassSlot, CountedResults, Eligibility, EnteredExhibit, Exhibit, ExhibitUnit,
    ExhibitorFacts, HistoryCondition, Micrometres, PlantFacts, Reach, ReasonCode, ResultRules, ScheduleClass,
    ShowFacts, ShowSchedule, eligibility,
};
use uuid::Uuid;

pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// The `n`th id of its kind, the same on each run.
pub fn id<T: From<Uuid>>(n: u128) -> T {
    Uuid::from_u128(n).into()
}

/// The show of 12 June 2027, asked about well before its closing.
pub fn show() -> ShowFacts {
    ShowFacts {
        held_on: day("2027-06-12"),
        season_start: day("2027-01-01"),
        opens_at: None,
        closes_at: moment("2027-06-10T20:00:00Z"),
        asked_at: moment("2027-06-01T12:00:00Z"),
        zone: chrono_tz::Europe::London,
        late_taken: false,
        tolerance: Micrometres(0),
    }
}

pub fn member() -> ExhibitorFacts {
    ExhibitorFacts { is_member: true, outside_declared: true, ..ExhibitorFacts::default() }
}

pub fn class(n: u128, label: &str, rules: ClassRules) -> ScheduleClass {
    ScheduleClass {
        id: id::<ClassId>(n),
        label: label.parse().unwrap(),
        section: None,
        follows: None,
        title: format!("Class {label}"),
        rules,
    }
}

/// So many plants of anything.
pub fn plants(count: u32) -> ClassSlot {
    ClassSlot::of(count, ExhibitUnit::Plant)
}

pub fn rules(slots: Vec<ClassSlot>) -> ClassRules {
    ClassRules { slots, ..ClassRules::default() }
}

/// Plant `n` of cultivar `n`.
pub fn plant(n: u128) -> PlantFacts {
    PlantFacts::unknown(id::<PlantId>(n), id::<CultivarId>(n))
}

pub fn codes(found: &Eligibility) -> Vec<ReasonCode> {
    found.reasons.iter().map(|reason| reason.why.code()).collect()
}

pub fn told(found: &Eligibility) -> (Answer, Vec<ReasonCode>) {
    (found.answer, codes(found))
}

/// A schedule of these classes and nothing else.
pub fn schedule(classes: Vec<ScheduleClass>) -> ShowSchedule {
    ShowSchedule {
        title: "Summer Show".to_owned(),
        held_on: day("2027-06-12"),
        zone: "Europe/London".to_owned(),
        closes_wall: "2027-06-10T21:00:00".parse().unwrap(),
        tolerance_um: Micrometres(0),
        protests: None,
        sections: vec![],
        classes,
        schemes: vec![],
        trophies: vec![],
        results: ResultRules::default(),
    }
}

/// So many firsts at most, no farther away than `reach`.
pub fn first_places(reach: Reach, at_most: u32) -> HistoryCondition {
    HistoryCondition {
        counts: CountedResults::PlacesTo(1),
        reach,
        sections: vec![],
        groups: vec![],
        levels: vec![],
        levels_left_out: vec![],
        at_least: None,
        at_most: Some(at_most),
    }
}

/// An exhibit of whole plants entered already.
pub fn entered(class: u128, own: bool, plants: &[(u128, u32)]) -> EnteredExhibit {
    EnteredExhibit {
        class: id(class),
        own,
        whole_plants: plants.iter().map(|&(n, count)| (id(n), count)).collect(),
        cultivars: plants.iter().map(|&(n, _)| id(n)).collect(),
    }
}

/// The answer for one plant on the look-out in a class of these rules.
pub fn ask(rules: ClassRules, exhibitor: &ExhibitorFacts, plant: &PlantFacts) -> (Answer, Vec<ReasonCode>) {
    told(&eligibility(&class(1, "1", rules), &show(), exhibitor, Exhibit::Plant(plant)))
}
