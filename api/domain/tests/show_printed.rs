//! What is printed of a class: everything that an exhibit is judged by, and nothing unsaid.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use serde_json::{Value, json};
use storksbill_domain::shows::{ClassRules, PrintedNames, named_cultivars, printed_rules};
use support::{class, id, plants, rules, schedule};

/// A class that asks for everything at once.
fn demanding() -> Value {
    json!({
        "slots": [
            {
                "count": 2, "unit": "pot", "taxa": {"groups": ["dwarf", "miniature"], "introduced_before": 1950},
                "forms": ["bush"], "pot": {"to": {"um": 114_300, "inclusive": true}, "words": "4 1/2 in"},
                "height": {
                    "limit": {"to": {"um": 203_200, "inclusive": false}}, "measured_from": "rim",
                    "measured_to": "top_leaf"
                },
                "flowers": "removed"
            },
            {
                "count": 1, "unit": "truss",
                "taxa": {
                    "cultivars": [id::<storksbill_domain::ids::CultivarId>(7)], "other_than_groups": ["regal"],
                    "other_than_cultivars": [id::<storksbill_domain::ids::CultivarId>(8)]
                },
                "bloom": {"from": {"um": 50_000, "inclusive": true}}
            },
            {"count": 1, "unit": "basket", "basket": {"to": {"um": 406_400, "inclusive": true}}},
            {"count": 1, "unit": "plant", "clear_stem": {"from": {"um": 457_000, "inclusive": true}}, "flowers": "needed"}
        ],
        "words": "Staged without drip trays.",
        "distinct": {"at_least": 3},
        "naming": "must",
        "held_for": {"period": {"months": 2}, "unless_from_seed": true},
        "entrants": {
            "members_only": true, "amateurs_only": true, "age": {"to": 15, "on": "2027-06-12"},
            "level": {
                "name": "novice", "as_of": "season_start",
                "conditions": [{
                    "counts": {"places_to": 1}, "reach": "this_society", "sections": ["Regals"], "groups": ["regal"],
                    "levels": ["open"], "levels_left_out": ["junior"], "at_most": 3
                }]
            },
            "household": "jointly", "no_joint_names": true,
            "not_entered_in": [id::<storksbill_domain::ids::ClassId>(2)]
        },
        "seedling": {
            "raised_by_exhibitor": true, "not_named": true, "not_introduced": true, "never_shown": true,
            "no_first": "elsewhere"
        },
        "no_earlier_first": "this_show",
        "entries": {"per_exhibitor": 2, "each_different": true},
        "scale": {"criteria": [{"title": "Foliage", "most": 60}, {"title": "Form", "most": 40}], "total": 100},
        "bench_um": 600_000
    })
}

fn words(asked: &Value) -> Vec<String> {
    let rules: ClassRules = serde_json::from_value(asked.clone()).unwrap();
    let all = schedule(vec![class(1, "1", rules.clone()), class(2, "2A", rules)]);
    assert_eq!(named_cultivars(&all).len(), 2);
    let names = named_cultivars(&all).into_iter().zip(["Quay Lass".to_owned(), "Merrow Ember".to_owned()]);
    printed_rules(&all.classes[0], &PrintedNames::of(&all, names.collect()))
}

#[test]
fn everything_that_is_asked_stands_in_print() {
    assert_eq!(
        words(&demanding()),
        [
            "2 pots: dwarf or miniature; introduced before 1950",
            "grown as bush",
            "pot no more than 114.3 mm (4 1/2 in)",
            "height less than 203.2 mm from the rim of the pot to the topmost leaf",
            "flowers and buds taken off",
            "1 truss: Quay Lass; other than regal; other than Merrow Ember",
            "bloom at least 50 mm",
            "1 basket",
            "basket no more than 406.4 mm",
            "1 plant",
            "clear stem at least 457 mm",
            "in flower",
            "at least 3 cultivars",
            "must be named",
            "held by the exhibitor for at least 2 months, unless raised from seed by the exhibitor",
            "members alone",
            "amateurs alone",
            "exhibitors 15 years old and under on 2027-06-12",
            "level novice (on the first day of the season: at most 3 firsts at any show of this society, in the \
             sections Regals, with regal, in classes of the level open, not in classes of the level junior)",
            "one entry a household, in joint names",
            "no joint names",
            "not for those entered in class 2A",
            "raised by the exhibitor",
            "not named yet",
            "not in commerce",
            "never shown before",
            "without a first at any show",
            "not for an exhibit that took a first at this show",
            "up to 2 entries an exhibitor",
            "each entry of another cultivar",
            "up to 600 mm of bench",
            "judged by marks of 100: Foliage 60, Form 40",
            "Staged without drip trays.",
        ]
    );
}

/// Every place in a class's rules, as the path to it.
fn places(value: &Value, path: &str, found: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            for (key, more) in fields {
                let path = format!("{path}/{key}");
                found.push(path.clone());
                places(more, &path, found);
            }
        }
        Value::Array(items) => {
            for (at, more) in items.iter().enumerate() {
                places(more, &format!("{path}/{at}"), found);
            }
        }
        _ => {}
    }
}

/// Takes each rule away in turn: where what is left is still a class, it is printed otherwise.
#[test]
fn no_demand_can_be_dropped_without_the_print_changing() {
    let whole = demanding();
    let printed = words(&whole);
    let mut all = Vec::new();
    places(&whole, "", &mut all);
    let mut tried = 0;
    for path in all {
        let (above, key) = path.rsplit_once('/').unwrap();
        let mut less = whole.clone();
        less.pointer_mut(above).unwrap().as_object_mut().unwrap().remove(key);
        let cultivars = path.ends_with("cultivars") || path.ends_with("taxa") || path == "/slots";
        if cultivars || serde_json::from_value::<ClassRules>(less.clone()).is_err() {
            continue;
        }
        tried += 1;
        assert_ne!(words(&less), printed, "{path}");
    }
    assert!(tried > 25, "{tried}");
}

#[test]
fn one_plant_of_anything_says_nothing_beside_its_title() {
    let plain = class(1, "1", rules(vec![plants(1)]));
    assert_eq!(printed_rules(&plain, &PrintedNames::default()), Vec::<String>::new());
}
