//! Shows: some past, two published for the coming weeks, one still a draft.
//!
//! The wording of the classes is this project's own; the kinds of limits (how many, which group, the largest
//! pot) are those that printed schedules use.

use serde_json::{Map, Value, json};
use storksbill_domain::words::PlantGroup;

/// A class of a schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    pub label: String,
    pub title: &'static str,
    pub requirements: Option<&'static str>,
    pub group: Option<PlantGroup>,
    pub max_pot_mm: Option<f64>,
}

/// A show.
#[derive(Debug, Clone, PartialEq)]
pub struct Show {
    /// Index into [`crate::places::CLUBS`].
    pub club: usize,
    pub name: String,
    /// Days since 1970-01-01; a Saturday.
    pub held_on: i32,
    /// The day entries close, at nine in the evening.
    pub closes_on: i32,
    pub notes: Option<&'static str>,
    pub published: bool,
    pub classes: Vec<Class>,
}

/// Where the clocks of the halls are set.
pub const ZONE: &str = "Europe/London";

const FLOWERS_OFF: &str = "Flowers and buds to be taken off before judging.";
const FROM_COMPOST: &str = "Height from the compost to the topmost leaf, flowers not counted.";
const DISTINCT: &str = "Distinct cultivars.";
const FIRST_TIME: &str = "For exhibitors who have not won a first at any show of this club.";

type Wording = (&'static str, Option<&'static str>, Option<PlantGroup>, Option<f64>);

const WORDINGS: [Wording; 39] = [
    ("One regal pelargonium", None, Some(PlantGroup::Regal), Some(152.4)),
    ("Three regal pelargoniums", Some(DISTINCT), Some(PlantGroup::Regal), Some(127.0)),
    ("One decorative regal, pot over 127 mm", None, Some(PlantGroup::Regal), Some(203.2)),
    ("One angel pelargonium", None, Some(PlantGroup::Angel), Some(127.0)),
    ("Two angel pelargoniums", Some(DISTINCT), Some(PlantGroup::Angel), Some(114.3)),
    ("One zonal, single flowers", None, Some(PlantGroup::Zonal), Some(127.0)),
    ("One zonal, double or semi-double flowers", None, Some(PlantGroup::Zonal), Some(127.0)),
    ("Two zonals, not necessarily distinct", None, Some(PlantGroup::Zonal), Some(152.4)),
    ("Three zonals", Some(DISTINCT), Some(PlantGroup::Zonal), Some(152.4)),
    ("One rosebud zonal", None, Some(PlantGroup::Rosebud), Some(127.0)),
    ("One stellar pelargonium", None, Some(PlantGroup::Stellar), Some(127.0)),
    ("Two stellar pelargoniums", Some(DISTINCT), Some(PlantGroup::Stellar), Some(127.0)),
    ("One fancy-leaved zonal, for leaf", Some(FLOWERS_OFF), Some(PlantGroup::FancyLeaf), Some(127.0)),
    ("One tricolour zonal, for leaf", Some(FLOWERS_OFF), Some(PlantGroup::FancyLeaf), Some(152.4)),
    ("One bronze or gold-leaved zonal, for leaf", Some(FLOWERS_OFF), Some(PlantGroup::FancyLeaf), None),
    ("One dwarf zonal", Some(FROM_COMPOST), Some(PlantGroup::Dwarf), Some(114.3)),
    ("Two dwarf zonals", Some(FROM_COMPOST), Some(PlantGroup::Dwarf), Some(114.3)),
    ("Three dwarf zonals", Some(DISTINCT), Some(PlantGroup::Dwarf), Some(114.3)),
    ("One miniature zonal", Some(FROM_COMPOST), Some(PlantGroup::Miniature), Some(88.9)),
    ("Two miniature zonals", Some(FROM_COMPOST), Some(PlantGroup::Miniature), Some(88.9)),
    ("Three miniature zonals", Some(DISTINCT), Some(PlantGroup::Miniature), Some(88.9)),
    ("One ivy-leaved pelargonium", None, Some(PlantGroup::IvyLeaved), Some(152.4)),
    ("One ivy-leaved hybrid", None, Some(PlantGroup::IvyLeaved), Some(152.4)),
    ("One hanging pot of ivy-leaved pelargoniums", None, Some(PlantGroup::IvyLeaved), Some(254.0)),
    ("One hanging basket", Some("Pelargoniums alone, of any groups."), None, Some(406.4)),
    ("One unique pelargonium", None, Some(PlantGroup::Unique), None),
    ("One scented-leaved pelargonium", Some(FLOWERS_OFF), Some(PlantGroup::ScentedLeaf), Some(152.4)),
    ("Three scented-leaved pelargoniums", Some(FLOWERS_OFF), Some(PlantGroup::ScentedLeaf), Some(127.0)),
    ("One species or primary hybrid", Some("To be named."), Some(PlantGroup::Species), None),
    ("One standard, clear stem 457 to 762 mm", Some("From compost to lowest branch."), None, None),
    ("One standard, clear stem over 762 mm", Some("From compost to lowest branch."), None, None),
    ("One fan or pyramid", Some("Frames are allowed."), None, None),
    ("One pelargonium introduced before 1950", Some("To be named, with its year."), None, None),
    ("One seedling not yet named", Some("Raised by the exhibitor; under its number."), None, Some(152.4)),
    ("One sport", Some("With a card naming its source."), None, None),
    ("One truss of a zonal, in a vase", None, Some(PlantGroup::Zonal), None),
    ("Five florets of distinct cultivars, on a board", Some(DISTINCT), None, None),
    (
        "One plant of the club's own cutting",
        Some("Struck from the cuttings given out in March."),
        None,
        Some(127.0),
    ),
    ("One pelargonium, any group, first-time exhibitors", Some(FIRST_TIME), None, Some(127.0)),
];

/// The shows as they stand on `today`: three past, two to come, one draft.
pub fn generate(today: i32) -> Vec<Show> {
    let flat = |every: usize| {
        let mut classes: Vec<Class> = (1..)
            .zip(WORDINGS.iter().step_by(every))
            .map(|(number, wording)| class(number.to_string(), wording))
            .collect();
        // Put in late, without renumbering the others.
        let late =
            ("One zonal, single flowers, pot not over 102 mm", None, Some(PlantGroup::Zonal), Some(101.6));
        let after = classes.len().min(6);
        classes.insert(after, class(format!("{after}A"), &late));
        classes
    };
    let sections = || {
        WORDINGS
            .chunks(10)
            .zip(["A", "B", "C", "D"])
            .flat_map(|(part, letter)| {
                (1..)
                    .zip(part.iter().take(8))
                    .map(move |(number, wording)| class(format!("{letter}{number}"), wording))
            })
            .collect()
    };
    let show = |club, name: &str, near: i32, published: bool, classes| {
        let held_on = saturday_after(near);
        Show {
            club,
            name: name.to_owned(),
            held_on,
            closes_on: held_on - 2,
            notes: published.then_some("Staging from 8:00; judging at 10:30; open to all from 13:00."),
            published,
            classes,
        }
    };
    vec![
        show(1, "Quillan Vale Summer Show", today + 34 - 728, true, flat(3)),
        show(1, "Quillan Vale Summer Show", today + 34 - 364, true, flat(2)),
        show(0, "Winter Garden Show", today + 62 - 364, true, sections()),
        show(1, "Quillan Vale Summer Show", today + 34, true, flat(1)),
        show(0, "Winter Garden Show", today + 62, true, sections()),
        show(4, "Northern Late Show", today + 97, false, flat(4)),
    ]
}

fn class(label: String, &(title, requirements, group, max_pot_mm): &Wording) -> Class {
    Class { label, title, requirements, group, max_pot_mm }
}

impl Class {
    /// What it demands, as data: what the words say that a program can hold an exhibit against, the words beside it.
    pub fn rules(&self) -> Value {
        let first = self.title.split(' ').next().unwrap_or_default();
        let count = match first {
            "Two" => 2,
            "Three" => 3,
            "Five" => 5,
            _ => 1,
        };
        let unit =
            [("truss", "truss"), ("florets", "floret"), ("basket", "basket"), ("hanging pot", "basket")]
                .into_iter()
                .find(|(word, _)| self.title.contains(word))
                .map_or("pot", |(_, unit)| unit);
        let mut taxa = Map::new();
        if let Some(group) = self.group {
            taxa.insert("groups".to_owned(), json!([group]));
        }
        if self.title.contains("introduced before 1950") {
            taxa.insert("introduced_before".to_owned(), json!(1950));
        }
        let mut slot = Map::new();
        let mut say = |field: &str, value: Value| slot.insert(field.to_owned(), value);
        say("count", json!(count));
        say("unit", json!(unit));
        say("taxa", Value::Object(taxa));
        if let Some(mm) = self.max_pot_mm {
            let field = if unit == "basket" { "basket" } else { "pot" };
            say(field, json!({"to": {"um": micrometres(mm), "inclusive": true}}));
        }
        if self.title.contains("standard") {
            let limit = if self.title.contains("over") {
                json!({"from": {"um": 762_000, "inclusive": false}})
            } else {
                json!({"from": {"um": 457_000, "inclusive": true}, "to": {"um": 762_000, "inclusive": true}})
            };
            say("forms", json!(["standard"]));
            say("clear_stem", limit);
        }
        if self.requirements == Some(FLOWERS_OFF) {
            say("flowers", json!("removed"));
        }
        let distinct = if self.requirements == Some(DISTINCT) { "all_different" } else { "free" };
        json!({
            "slots": [slot], "distinct": distinct, "words": self.requirements,
            "fee": {"member": 20, "other": 30}, "prizes": [300, 200, 100], "entries": {"per_exhibitor": 2}
        })
    }
}

#[expect(clippy::cast_possible_truncation, reason = "lengths of pots")]
fn micrometres(mm: f64) -> i64 {
    (mm * 1000.0).round() as i64
}

/// The first Saturday on or after a day; 1 January 1970 was a Thursday.
fn saturday_after(day: i32) -> i32 {
    day + (2 - day).rem_euclid(7)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use std::collections::BTreeSet;

    use storksbill_domain::shows::ClassLabel;
    use storksbill_forecast::calendar;

    use super::*;

    #[test]
    fn two_shows_to_come_have_full_schedules_in_printed_order() {
        let today = calendar::epoch_day(2026, 5, 10).unwrap();
        let shows = generate(today);
        let coming: Vec<&Show> = shows.iter().filter(|s| s.published && s.held_on > today).collect();
        assert_eq!(coming.len(), 2);
        assert!(coming.iter().all(|s| (25..=40).contains(&s.classes.len())), "{coming:?}");
        assert_eq!(shows.iter().filter(|s| s.held_on < today).count(), 3);
        assert_eq!(shows.iter().filter(|s| !s.published).count(), 1);
        for show in &shows {
            let labels: Vec<ClassLabel> = show.classes.iter().map(|c| c.label.parse().unwrap()).collect();
            assert!(labels.is_sorted(), "{labels:?}");
            assert_eq!(labels.iter().map(ToString::to_string).collect::<BTreeSet<_>>().len(), labels.len());
            assert!(show.closes_on < show.held_on);
        }
    }

    #[test]
    fn shows_are_on_saturdays() {
        // 13 June 2026 and 6 January 2024 are Saturdays.
        let day = |y, m, d| calendar::epoch_day(y, m, d).unwrap();
        assert_eq!(saturday_after(day(2026, 6, 13)), day(2026, 6, 13));
        assert_eq!(saturday_after(day(2026, 6, 14)), day(2026, 6, 20));
        assert_eq!(saturday_after(day(2023, 12, 31)), day(2024, 1, 6));
    }
}
