//! Interests of judges and stewards. No judge of the classes they exhibit in, no steward in a section they exhibit in
//! (Otterton garden club, autumn rules, 9 and 10); no judge who exhibits at all (its spring rules, 9); at most three
//! consecutive years at one show (flowershowjudges.org.uk, policy, 8).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::ids::MemberId;
use storksbill_domain::shows::{
    ConflictCode, EntryNumber, EntryNumbers, EntryOwners, FindingWeight, JudgeRules, ShowJudge, ShowSchedule,
    ShowSection, ShowSteward, conflicts,
};
use support::{class, id, plants, rules, schedule};

fn hall() -> ShowSchedule {
    let mut pots = class(1, "1", rules(vec![plants(1)]));
    pots.section = Some("A".to_owned());
    let mut baskets = class(2, "20", rules(vec![plants(1)]));
    baskets.section = Some("B".to_owned());
    let mut schedule = schedule(vec![pots, baskets]);
    schedule.sections =
        ["A", "B"].map(|key| ShowSection { key: key.to_owned(), title: format!("Section {key}") }).to_vec();
    schedule
}

fn entry(n: usize) -> EntryNumber {
    EntryNumbers::new(b"conflicts", 10).number(n).unwrap()
}

fn entered(n: usize, class: u128, owners: &[u128]) -> EntryOwners {
    EntryOwners { entry: entry(n), class: id(class), owners: owners.iter().map(|&owner| id(owner)).collect() }
}

fn judge(member: Option<u128>, household: &[u128], classes: &[u128], years: &[i32]) -> ShowJudge {
    ShowJudge {
        member: member.map(id::<MemberId>),
        name: "Ida Quill".to_owned(),
        household: household.iter().map(|&other| id(other)).collect(),
        classes: classes.iter().map(|&class| id(class)).collect(),
        years: years.to_vec(),
    }
}

const RULES: JudgeRules = JudgeRules { no_exhibit_at_all: false, most_years_running: Some(3) };

fn found(
    judge: &ShowJudge,
    entries: &[EntryOwners],
    rules: JudgeRules,
) -> Vec<(ConflictCode, Option<EntryNumber>)> {
    let found = conflicts(&hall(), std::slice::from_ref(judge), &[], entries, rules);
    found.into_iter().map(|finding| (finding.code, finding.entry)).collect()
}

#[test]
fn a_judge_of_their_own_exhibit_or_of_their_household_is_found() {
    let entries = [entered(0, 1, &[7]), entered(1, 2, &[7]), entered(2, 1, &[5, 8]), entered(3, 1, &[9])];
    let ida = judge(Some(7), &[8], &[1], &[]);
    assert_eq!(
        found(&ida, &entries, RULES),
        [
            (ConflictCode::JudgeOwnExhibit, Some(entry(0))),
            (ConflictCode::JudgeHouseholdExhibit, Some(entry(2)))
        ]
    );
    let strict = JudgeRules { no_exhibit_at_all: true, ..RULES };
    assert_eq!(
        found(&ida, &entries, strict),
        [
            (ConflictCode::JudgeOwnExhibit, Some(entry(0))),
            (ConflictCode::JudgeExhibits, Some(entry(1))),
            (ConflictCode::JudgeHouseholdExhibit, Some(entry(2)))
        ]
    );
    assert_eq!(found(&judge(None, &[], &[1, 2], &[]), &entries, strict), []);
    assert_eq!(found(&judge(Some(9), &[8], &[2], &[]), &entries, RULES), []);
}

/// The show is in 2027. Judged in 2024, 2025 and 2026 it would be the fourth year running; a year between begins anew.
#[test]
fn a_fourth_year_running_is_found() {
    let asked = |years: &[i32]| found(&judge(None, &[], &[1], years), &[], RULES).len();
    assert_eq!(asked(&[2025, 2026]), 0);
    assert_eq!(asked(&[2026, 2024, 2025]), 1);
    assert_eq!(asked(&[2023, 2024, 2026]), 0);
    assert_eq!(asked(&[2022, 2023, 2024, 2025]), 0);
    let finding = &conflicts(&hall(), &[judge(None, &[], &[1], &[2024, 2025, 2026])], &[], &[], RULES)[0];
    assert_eq!((finding.code, finding.weight), (ConflictCode::JudgeYearsRunning, FindingWeight::Warning));
    assert_eq!(finding.detail, "Ida Quill would judge this show for the 4. year running");
    let unlimited = JudgeRules { most_years_running: None, ..RULES };
    assert_eq!(found(&judge(None, &[], &[1], &[2024, 2025, 2026]), &[], unlimited), []);
}

#[test]
fn a_steward_in_a_section_that_they_exhibit_in_is_found() {
    let steward = |sections: &[&str]| ShowSteward {
        member: Some(id(7)),
        name: "Ben Marram".to_owned(),
        sections: sections.iter().map(|&key| key.to_owned()).collect(),
    };
    let entries = [entered(0, 1, &[7]), entered(1, 2, &[8])];
    let of = |sections: &[&str]| conflicts(&hall(), &[], &[steward(sections)], &entries, RULES);
    assert_eq!(of(&["B"]), []);
    let found = of(&["A", "B"]);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].code, found[0].class_id), (ConflictCode::StewardOwnSection, Some(id(1))));
}
