//! Slips in what is keyed from judges' sheets.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::shows::{
    ClassJudgment, Commendation, FindingWeight, JudgedExhibit, Pence, Points, ResultCode, Verdict,
};
use support::bench_hall::{Hall, number, scheme};
use support::id;

fn codes(hall: &Hall) -> Vec<ResultCode> {
    hall.results().findings.into_iter().map(|finding| finding.code).collect()
}

fn hall() -> Hall {
    let mut hall = Hall::scored(scheme(&[3, 2, 1], 0));
    hall.judge("1", "A B C +D").judge("2", "D C");
    for class in &mut hall.schedule.classes {
        class.rules.prizes = vec![Pence(150), Pence(100), Pence(75)];
    }
    assert_eq!(codes(&hall), []);
    hall
}

fn say(hall: &mut Hall, letter: char, verdict: Verdict) {
    let entry = hall.entry("1", letter);
    hall.judgments[0].judged.retain(|judged| judged.entry != entry);
    hall.judgments[0].judged.push(JudgedExhibit { entry, verdict });
}

#[test]
fn two_firsts_by_a_slip_are_found_and_two_on_purpose_are_not() {
    let mut hall = hall();
    say(&mut hall, 'B', Verdict::Placed(1));
    assert_eq!(codes(&hall), [ResultCode::PlaceTwice]);
    hall.judgments[0].equal = vec![1];
    assert_eq!(codes(&hall), []);
    // Two equal firsts use the second place up.
    say(&mut hall, 'C', Verdict::Placed(2));
    assert_eq!(codes(&hall), [ResultCode::PlaceUsedUp]);
    hall.schedule.results.next_place = storksbill_domain::shows::NextPlace::Kept;
    assert_eq!(codes(&hall), []);
}

/// A first without a second, or a second and a third alone, are valid (ADS clerks' notes, studylib 15193879; American
/// Primrose Society): a place left out is a warning unless it was withheld.
#[test]
fn places_end_where_the_judge_ends_them() {
    let mut only_first = Hall::scored(scheme(&[3, 2, 1], 0));
    only_first.judge("1", "A +BC");
    assert_eq!(codes(&only_first), []);
    let mut hall = hall();
    say(&mut hall, 'A', Verdict::Commended(Commendation::Commended));
    let found = hall.results().findings;
    assert_eq!((found[0].code, found[0].weight), (ResultCode::PlaceMissing, FindingWeight::Warning));
    hall.judgments[0].withheld = vec![1];
    assert_eq!(codes(&hall), []);
    say(&mut hall, 'A', Verdict::Placed(1));
    assert_eq!(codes(&hall), [ResultCode::WithheldGiven]);
    say(&mut hall, 'A', Verdict::Placed(0));
    assert_eq!(codes(&hall), [ResultCode::PlaceNought]);
    assert_eq!(hall.results().classes[0].lines.iter().filter(|line| line.place().is_some()).count(), 2);
    say(&mut hall, 'A', Verdict::Placed(u32::MAX));
    assert_eq!(codes(&hall), [ResultCode::PlaceMissing]);
}

#[test]
fn an_exhibit_that_was_not_staged_has_neither_place_nor_prize() {
    let mut hall = hall();
    hall.exhibits[0].staged = false;
    assert_eq!(codes(&hall), [ResultCode::NotStaged]);
    let results = hall.results();
    let line = results.classes[0].lines.iter().find(|line| line.exhibitor == number('A')).unwrap();
    assert_eq!((line.place(), line.points, line.prize), (None, Points::NOUGHT, Pence(0)));
    assert_eq!(results.classes[0].staged, 3);
}

/// Not according to schedule: judged not, and the card is marked with the reason (dwcvhortsoc.org, rules, 8).
#[test]
fn an_exhibit_put_out_needs_its_reason_and_is_not_paid() {
    let mut hall = hall();
    say(&mut hall, 'C', Verdict::NotAsSchedule { reason: " ".to_owned() });
    assert_eq!(codes(&hall), [ResultCode::ReasonMissing]);
    say(
        &mut hall,
        'C',
        Verdict::NotAsSchedule { reason: "four plants where three are asked for".to_owned() },
    );
    assert_eq!(codes(&hall), []);
    let results = hall.results();
    let line = results.classes[0].lines.iter().find(|line| line.exhibitor == number('C')).unwrap();
    assert_eq!((line.points, line.prize), (Points::NOUGHT, Pence(0)));
    assert!(matches!(&line.verdict, Some(Verdict::NotAsSchedule { reason }) if reason.starts_with("four")));
    say(&mut hall, 'C', Verdict::Disqualified { reason: String::new() });
    assert_eq!(codes(&hall), [ResultCode::ReasonMissing]);
}

#[test]
fn strange_exhibits_and_classes_are_found() {
    let mut hall = hall();
    let entry = hall.entry("2", 'D');
    hall.judgments[0].judged.push(JudgedExhibit { entry, verdict: Verdict::Commended(Commendation::Highly) });
    assert_eq!(codes(&hall), [ResultCode::OtherClass]);
    let gone = hall.exhibits.pop().unwrap();
    assert_eq!(codes(&hall), [ResultCode::OtherClass, ResultCode::EntryUnknown]);
    hall.judgments[0].judged.pop();
    hall.exhibits.push(gone);
    hall.exhibits.push(gone);
    assert_eq!(codes(&hall), [ResultCode::EntryTwice]);
    hall.exhibits.pop();
    hall.judgments.push(ClassJudgment { class: id(99), judged: vec![], equal: vec![], withheld: vec![] });
    assert_eq!(codes(&hall), [ResultCode::ClassUnknown]);
    hall.judgments.pop();
    hall.exhibits[0].class = id(99);
    assert_eq!(codes(&hall), [ResultCode::ClassUnknown, ResultCode::OtherClass]);
}

#[test]
fn a_missed_class_and_a_class_judged_twice_are_found() {
    let mut hall = hall();
    let missed = hall.judgments.pop().unwrap();
    assert_eq!(codes(&hall), [ResultCode::NotJudged]);
    hall.judgments.push(missed.clone());
    hall.judgments.push(missed);
    assert_eq!(codes(&hall), [ResultCode::JudgedTwice]);
    hall.judgments.pop();
    let (entry, said) = (hall.entry("1", 'A'), Verdict::Commended(Commendation::Highly));
    hall.judgments[0].judged.push(JudgedExhibit { entry, verdict: said.clone() });
    assert_eq!(codes(&hall), [ResultCode::JudgedTwice]);
    let results = hall.results();
    let line = results.classes[0].lines.iter().find(|line| line.entry == entry).unwrap();
    assert_eq!(line.verdict, Some(said));
    // A class in which nothing was staged needs no judgment.
    let mut empty = Hall::scored(scheme(&[3], 0));
    empty.judge("1", "A").judge("2", "");
    empty.judgments.pop();
    assert_eq!(codes(&empty), []);
}

#[test]
fn every_code_of_judgments_is_met_in_the_tests() {
    let here = [include_str!("show_judgments.rs"), include_str!("show_trophies.rs")].concat();
    for code in ResultCode::ALL {
        assert!(here.contains(&format!("ResultCode::{code:?}")), "{code:?}");
    }
}
