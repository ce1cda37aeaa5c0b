//! Shows in every state: final, provisional, on the day, taking entries, not yet open, called off, a draft.
//!
//! The wording of the classes is this project's own; the kinds of limits (how many, which group, the largest
//! pot) are those that printed schedules use.
#![allow(clippy::indexing_slicing, reason = "what is indexed is an object that was made here")]

use serde_json::{Map, Value, json};
use storksbill_domain::words::PlantGroup;

/// A class of a schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    pub label: String,
    /// Index into [`SECTIONS`].
    pub section: usize,
    pub title: &'static str,
    pub requirements: Option<&'static str>,
    pub group: Option<PlantGroup>,
    pub max_pot_mm: Option<f64>,
}

/// How far a show has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// Seen by its officers alone.
    Draft,
    /// Published; entries are taken from a day to come.
    NotOpen,
    /// Taking entries, its schedule amended once.
    Entries,
    /// It is the day: exhibits are being staged and judged.
    Staging,
    /// Judged, with a protest to be heard.
    Provisional,
    /// Done, and its trophies handed over.
    Final,
    /// It will not be held.
    CalledOff,
}

/// A show.
#[derive(Debug, Clone, PartialEq)]
pub struct Show {
    /// Index into [`crate::places::CLUBS`].
    pub club: usize,
    pub name: String,
    /// Days since 1970-01-01; a Saturday, but for the one that is today.
    pub held_on: i32,
    /// The day entries close, at nine in the evening.
    pub closes_on: i32,
    pub notes: Option<&'static str>,
    pub stage: Stage,
    /// Who judges; a guest.
    pub judge: &'static str,
    /// The club's challenge trophy.
    pub trophy: &'static str,
    pub classes: Vec<Class>,
}

/// The key and title of each section, the same at every show.
pub const SECTIONS: [(&str, &str); 4] = [
    ("A", "Regals, angels and zonals"),
    ("B", "Stellars, coloured leaves and dwarfs"),
    ("C", "Miniatures, ivy-leaved, uniques and scented"),
    ("D", "Grown to shape, raised or cut"),
];

/// Where the clocks of the halls are set.
pub const ZONE: &str = "Europe/London";

const FLOWERS_OFF: &str = "Flowers and buds to be taken off before judging.";
const FROM_COMPOST: &str = "Height from the compost to the topmost leaf, flowers not counted.";
const DISTINCT: &str = "Distinct cultivars.";
const FIRST_TIME: &str = "For exhibitors who have not won a first at any show of this club.";

/// Wordings that make a section.
const PER_SECTION: usize = 10;

/// Judges come from off the island.
const JUDGES: [&str; 4] = ["Amabel Thrussock", "Corwen Ashplatt", "Ysolde Barnacott", "Piran Hedgelow"];

/// Of each club.
const TROPHIES: [&str; 5] = [
    "The Net Loft Bowl",
    "The Corn Hall Cup",
    "The Ferryman's Lantern",
    "The Over Thorrow Salver",
    "The Skerravoe Tankard",
];

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

/// The shows as they stand on `today`.
pub fn generate(today: i32) -> Vec<Show> {
    let flat = |every: usize| {
        let mut classes: Vec<Class> = (1..)
            .zip(WORDINGS.iter().enumerate().step_by(every))
            .map(|(number, (at, wording))| class(number.to_string(), at, wording))
            .collect();
        // Put in late at the end of its section, without renumbering the others.
        let late =
            ("One zonal, single flowers, pot not over 102 mm", None, Some(PlantGroup::Zonal), Some(101.6));
        let after = classes.iter().filter(|class| class.section == 0).count();
        classes.insert(after, class(format!("{after}A"), 0, &late));
        classes
    };
    let sections = || {
        WORDINGS
            .chunks(PER_SECTION)
            .zip(SECTIONS)
            .enumerate()
            .flat_map(|(nth, (part, (letter, _)))| {
                (1..).zip(part.iter().take(8)).map(move |(number, wording)| {
                    class(format!("{letter}{number}"), nth * PER_SECTION, wording)
                })
            })
            .collect()
    };
    let at = |club: usize, name: &str, stage: Stage, held_on: i32, classes| Show {
        club,
        name: name.to_owned(),
        held_on,
        closes_on: held_on - if stage == Stage::Staging { 1 } else { 2 },
        notes: (stage != Stage::Draft)
            .then_some("Staging from 8:00; judging at 10:30; open to all from 13:00."),
        stage,
        // Nobody judges three years running.
        judge: JUDGES.get(held_on.unsigned_abs() as usize / 300 % JUDGES.len()).copied().unwrap_or(JUDGES[0]),
        trophy: TROPHIES.get(club).copied().unwrap_or(TROPHIES[0]),
        classes,
    };
    let show = |club, name, near: i32, stage, classes| at(club, name, stage, saturday_after(near), classes);
    vec![
        show(1, "Quillan Vale Summer Show", today + 34 - 728, Stage::Final, flat(3)),
        show(1, "Quillan Vale Summer Show", today + 34 - 364, Stage::Final, flat(2)),
        show(0, "Winter Garden Show", today + 62 - 364, Stage::Final, sections()),
        show(2, "Ferry House Spring Show", today - 7, Stage::Provisional, flat(3)),
        at(3, "Drill Hall Table Show", Stage::Staging, today, flat(5)),
        show(3, "Thorrow Hill Alpine House Show", today + 20, Stage::CalledOff, flat(6)),
        show(1, "Quillan Vale Summer Show", today + 34, Stage::Entries, flat(1)),
        show(0, "Winter Garden Show", today + 62, Stage::NotOpen, sections()),
        show(4, "Northern Late Show", today + 97, Stage::Draft, flat(4)),
    ]
}

fn class(label: String, at: usize, &(title, requirements, group, max_pot_mm): &Wording) -> Class {
    Class {
        label,
        section: (at / PER_SECTION).min(SECTIONS.len() - 1),
        title,
        requirements,
        group,
        max_pot_mm,
    }
}

impl Class {
    /// What it demands, as data: what the words say that a program can hold an exhibit against, the words beside it.
    pub fn rules(&self) -> Value {
        let (count, unit) = (self.count(), self.unit());
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
            let mut limit = json!({"to": {"um": micrometres(mm), "inclusive": true}});
            if self.title.contains("pot over 127 mm") {
                limit["from"] = json!({"um": 127_000, "inclusive": false});
            }
            say(field, limit);
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
        if self.title.contains("fan or pyramid") {
            say("forms", json!(["fan", "pyramid"]));
        }
        if self.requirements == Some(FLOWERS_OFF) {
            say("flowers", json!("removed"));
        }
        let distinct = if self.requirements == Some(DISTINCT) { "all_different" } else { "free" };
        // What is said as data is not said again.
        let as_data = [DISTINCT, FLOWERS_OFF, FIRST_TIME];
        let words = self.requirements.filter(|words| !as_data.contains(words));
        let mut rules = json!({
            "slots": [slot], "distinct": distinct, "words": words, "points": SCHEME,
            "fee": {"member": 20, "other": 30}, "prizes": [300, 200, 100], "entries": {"per_exhibitor": 2}
        });
        if self.requirements == Some(FIRST_TIME) {
            let none = json!({"counts": {"places_to": 1}, "reach": "this_society", "at_most": 0});
            let level = json!({"name": "first-time", "as_of": "show_day", "conditions": [none]});
            rules["entrants"] = json!({"level": level});
        }
        if self.title.contains("seedling") {
            rules["seedling"] = json!({"raised_by_exhibitor": true, "not_named": true});
        }
        rules
    }

    /// How many an exhibit has.
    pub fn count(&self) -> usize {
        match self.title.split(' ').next().unwrap_or_default() {
            "Two" => 2,
            "Three" => 3,
            "Five" => 5,
            _ => 1,
        }
    }

    fn unit(&self) -> &'static str {
        [("truss", "truss"), ("florets", "floret"), ("basket", "basket"), ("hanging pot", "basket")]
            .into_iter()
            .find(|(word, _)| self.title.contains(word))
            .map_or("pot", |(_, unit)| unit)
    }

    /// Whether anybody with a plant of the group has what it asks, by what is made up of plants.
    pub fn is_open(&self) -> bool {
        let special = ["seedling", "sport", "first-time", "cutting", "fan", "species"];
        special.iter().all(|word| !self.title.contains(word))
    }

    /// What an exhibitor says of a plant of this name that fits.
    pub fn item(&self, name: &str, group: PlantGroup) -> Value {
        let mut item = json!({"name": name, "plant_group": group});
        if let Some(mm) = self.max_pot_mm {
            let field = if self.unit() == "basket" { "basket_mm" } else { "pot_mm" };
            item[field] = json!(mm);
        }
        if self.title.contains("standard") {
            item["form"] = json!("standard");
            item["clear_stem_mm"] = json!(if self.title.contains("over") { 800.0 } else { 600.0 });
        }
        if self.title.contains("introduced before 1950") {
            item["introduced"] = json!(1931);
        }
        item["in_flower"] = json!(self.requirements != Some(FLOWERS_OFF));
        item
    }
}

/// The points scheme of every class.
pub const SCHEME: &str = "five-three-two";

impl Show {
    /// Sections, points and trophies: what the schedule says beside its classes, the first of which is `first`.
    pub fn schedule(&self, first: &str) -> Value {
        let sections: Vec<Value> =
            SECTIONS.iter().map(|(key, title)| json!({"key": key, "title": title})).collect();
        // Ten days where the protest is still to be heard, two hours else.
        let minutes = if self.stage == Stage::Provisional { 10 * 24 * 60 } else { 120 };
        let first_label = self.classes.first().map(|class| class.label.as_str()).unwrap_or_default();
        json!({
            "sections": sections,
            "schemes": [{"key": SCHEME, "places": [5, 3, 2], "commended": [{"code": "HC", "points": 1}]}],
            "protests": {"minutes_after_opening": minutes},
            "trophies": [
                {
                    "key": "challenge", "title": self.trophy,
                    "classes": {"all": true}, "award": {"most_points": null},
                    "tie_breaks": ["firsts", "seconds", "shared"]
                },
                {
                    "key": "best", "title": "The Lamplighter Rosette",
                    "classes": {"all": true}, "award": "best_exhibit"
                },
                {
                    "key": "first-class", "title": format!("Engraved pot for class {first_label}"),
                    "classes": {"classes": [first]}, "award": "class_winner"
                }
            ]
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
    fn there_is_a_show_in_every_state_with_a_full_schedule_in_printed_order() {
        let today = calendar::epoch_day(2026, 5, 10).unwrap();
        let shows = generate(today);
        let stages: BTreeSet<Stage> = shows.iter().map(|show| show.stage).collect();
        assert_eq!(stages.len(), 7);
        for show in &shows {
            let labels: Vec<ClassLabel> = show.classes.iter().map(|c| c.label.parse().unwrap()).collect();
            assert!(labels.is_sorted(), "{labels:?}");
            assert_eq!(labels.iter().map(ToString::to_string).collect::<BTreeSet<_>>().len(), labels.len());
            assert!(show.closes_on < show.held_on);
            let order = show.held_on.cmp(&today);
            match show.stage {
                Stage::Provisional => assert!((1..=7).contains(&(today - show.held_on))),
                Stage::Final => assert!(order.is_lt()),
                Stage::Staging => assert!(order.is_eq()),
                _ => assert!(order.is_gt()),
            }
        }
        let entries = shows.iter().find(|show| show.stage == Stage::Entries).unwrap();
        assert!((35..=40).contains(&entries.classes.len()));
    }

    #[test]
    fn nobody_judges_a_club_three_years_running() {
        let shows = generate(calendar::epoch_day(2026, 5, 10).unwrap());
        let of_club: BTreeSet<&str> = shows.iter().filter(|s| s.club == 1).map(|s| s.judge).collect();
        assert!(of_club.len() > 1, "{of_club:?}");
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
