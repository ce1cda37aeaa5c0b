//! Two versions of a schedule, and the text that stands for one.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use serde_json::json;
use storksbill_domain::shows::{
    ChangedThing, ClassSet, ClassSlot, EntryFee, Micrometres, Pence, PointsScheme, ShowSchedule, ShowSection,
    ShowTrophy, SizeLimit, TrophyAward, canonical_json, concerned_classes, schedule_changes,
};
use support::{class, id, plants, rules, schedule};

/// RFC 8785 (Rundgren, Jordan and Erdtman, 2020), section 3.2.3: the order of members, by UTF-16 code units.
#[test]
fn members_are_sorted_as_in_the_rfc() {
    let given = json!({
        "\u{20ac}": "Euro Sign",
        "\r": "Carriage Return",
        "\u{fb33}": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\u{1f600}": "Emoji: Grinning Face",
        "\u{80}": "Control",
        "\u{f6}": "Latin Small Letter O With Diaeresis"
    });
    let expected = concat!(
        "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u{80}\":\"Control\",",
        "\"\u{f6}\":\"Latin Small Letter O With Diaeresis\",\"\u{20ac}\":\"Euro Sign\",",
        "\"\u{1f600}\":\"Emoji: Grinning Face\",\"\u{fb33}\":\"Hebrew Letter Dalet With Dagesh\"}"
    );
    assert_eq!(canonical_json(&given), expected);
}

/// RFC 8785, section 3.2.2: literals, and the characters that are escaped.
#[test]
fn strings_are_escaped_as_in_the_rfc() {
    let given = json!({ "string": "\u{20ac}$\u{f}\nA'B\"\\\\\"/", "literals": [null, true, false] });
    let expected = "{\"literals\":[null,true,false],\"string\":\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}";
    assert_eq!(canonical_json(&given), expected);
}

fn base() -> ShowSchedule {
    let pot = |mm| ClassSlot { pot: Some(SizeLimit::up_to(Micrometres::mm(mm))), ..plants(1) };
    let mut scored = rules(vec![pot(127)]);
    scored.points = Some("321".to_owned());
    let mut schedule = schedule(vec![
        class(1, "9", scored),
        class(2, "10", rules(vec![plants(3)])),
        class(3, "10A", rules(vec![plants(2)])),
    ]);
    schedule.schemes =
        vec![PointsScheme { key: "321".to_owned(), places: vec![3, 2, 1], ..PointsScheme::default() }];
    schedule
}

#[test]
fn the_canonical_text_does_not_depend_on_the_order_of_classes() {
    let (one, mut other) = (base(), base());
    other.classes.reverse();
    assert_eq!(one.canonical().unwrap(), other.canonical().unwrap());
    other.classes[0].title.push('.');
    assert_ne!(one.canonical().unwrap(), other.canonical().unwrap());
    let text = one.canonical().unwrap();
    let read: ShowSchedule = serde_json::from_str(&text).unwrap();
    assert_eq!(read, one);
    let labels: Vec<String> = read.classes.iter().map(|class| class.label.to_string()).collect();
    assert_eq!(labels, ["9", "10", "10A"]);
}

#[test]
fn the_same_schedule_has_no_changes() {
    assert_eq!(schedule_changes(&base(), &base()).unwrap(), []);
}

#[test]
fn each_change_tells_the_field_what_it_was_what_it_is_and_whom_it_concerns() {
    let (old, mut new) = (base(), base());
    new.title = "Merrow Summer Show".to_owned();
    new.classes[0].rules.slots[0].pot = Some(SizeLimit::up_to(Micrometres::mm(110)));
    new.classes[0].label = "9B".parse().unwrap();
    new.classes.remove(1);
    new.classes.push(class(4, "11", rules(vec![plants(1)])));
    new.classes[1].rules.fee = Some(EntryFee { member: Pence(25), other: Pence(35), junior: None });
    new.sections.push(ShowSection { key: "A".to_owned(), title: "Pots".to_owned() });
    new.schemes[0].places = vec![5, 3, 1];
    new.trophies.push(ShowTrophy {
        key: "bowl".to_owned(),
        title: "The Harbour Bowl".to_owned(),
        classes: ClassSet::all(),
        award: TrophyAward::MostFirsts,
        members_only: true,
        level: None,
        barred_years: 0,
        not_with: vec![],
        tie_breaks: vec![],
    });
    let changes = schedule_changes(&old, &new).unwrap();
    let told: Vec<(String, usize)> =
        changes.iter().map(|change| (change.to_string(), change.concerns.len())).collect();
    assert_eq!(
        told,
        [
            ("show, /title: \"Summer Show\", now \"Merrow Summer Show\"".to_owned(), 0),
            ("section A added".to_owned(), 0),
            ("class 9, /label: \"9\", now \"9B\"".to_owned(), 1),
            ("class 9, /rules/slots/0/pot/to/um: 127000, now 110000".to_owned(), 1),
            ("class 10 removed".to_owned(), 1),
            ("class 10A, /rules/fee: null, now {\"member\":25,\"other\":35}".to_owned(), 1),
            ("class 11 added".to_owned(), 0),
            ("points scheme 321, /places/0: 3, now 5".to_owned(), 1),
            ("points scheme 321, /places/1: 2, now 3".to_owned(), 1),
            ("trophy bowl added".to_owned(), 0),
        ]
    );
    assert_eq!(changes[2].thing, ChangedThing::Class { id: id(1), label: "9".parse().unwrap() });
    assert_eq!(concerned_classes(&changes).into_iter().collect::<Vec<_>>(), [id(1), id(2), id(3)]);
}

#[test]
fn another_day_or_closing_time_concerns_everybody() {
    let (old, mut new) = (base(), base());
    new.closes_wall = "2027-06-09T21:00:00".parse().unwrap();
    let changes = schedule_changes(&old, &new).unwrap();
    assert_eq!(changes.len(), 1);
    assert_eq!(
        changes[0].to_string(),
        "show, /closes_wall: \"2027-06-10T21:00:00\", now \"2027-06-09T21:00:00\""
    );
    assert_eq!(concerned_classes(&changes).len(), 3);
}

/// There and back are each other's reverse.
#[test]
fn changes_back_are_the_changes_reversed() {
    let (old, mut new) = (base(), base());
    new.classes[2].rules.slots.push(plants(1));
    new.classes[0].title = "One zonal".to_owned();
    new.tolerance_um = Micrometres(500);
    let there = schedule_changes(&old, &new).unwrap();
    let back = schedule_changes(&new, &old).unwrap();
    assert_eq!(there.len(), 3);
    for (one, other) in there.iter().zip(&back) {
        assert_eq!((&one.field, &one.old, &one.new), (&other.field, &other.new, &other.old));
    }
}
