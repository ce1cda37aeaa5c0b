//! What a class demands, in words for the schedule: whatever an exhibit is judged by stands in print.

use std::collections::BTreeMap;

use super::class::{
    AgeRule, ClassRules, ClassSlot, Distinctness, EntrantRule, ScheduleClass, SeedlingRule, TaxonFilter,
};
use super::level::{CountedResults, HistoryCondition, LevelRule};
use super::measure::SizeLimit;
use super::reason::SeedlingPoint;
use super::schedule::ShowSchedule;
use super::wording::{height, near, words};
use super::words::{AsOf, FlowerRule, HouseholdRule, NamingRule};
use crate::ids::{ClassId, CultivarId};

/// The names that rules refer to by id.
#[derive(Debug, Clone, Default)]
pub struct PrintedNames {
    /// Cultivars, as far as they are named in classes.
    pub cultivars: BTreeMap<CultivarId, String>,
    /// The labels of classes.
    pub classes: BTreeMap<ClassId, String>,
}

impl PrintedNames {
    /// Of a schedule, with the names of the cultivars that [`named_cultivars`] gives.
    pub fn of(schedule: &ShowSchedule, cultivars: BTreeMap<CultivarId, String>) -> Self {
        let classes = schedule.classes.iter().map(|class| (class.id, class.label.to_string())).collect();
        Self { cultivars, classes }
    }

    fn cultivars(&self, ids: &[CultivarId]) -> String {
        let name = |id: &CultivarId| match self.cultivars.get(id) {
            Some(name) => name.clone(),
            None => format!("the cultivar {id}"),
        };
        words(&ids.iter().map(name).collect::<Vec<_>>())
    }

    fn classes(&self, ids: &[ClassId]) -> String {
        let label = |id: &ClassId| self.classes.get(id).cloned().unwrap_or_else(|| id.to_string());
        words(&ids.iter().map(label).collect::<Vec<_>>())
    }
}

/// The cultivars that a schedule's classes name, each once.
pub fn named_cultivars(schedule: &ShowSchedule) -> Vec<CultivarId> {
    let slots = schedule.classes.iter().flat_map(|class| &class.rules.slots);
    let mut all: Vec<CultivarId> = slots
        .flat_map(|slot| slot.taxa.cultivars.iter().chain(&slot.taxa.other_than_cultivars))
        .copied()
        .collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// What a class demands, one demand an item and none left out: what it consists of, sizes, names, how long held, who may
/// enter and how often, the judging scale, and at the end what people alone can judge. Fees, prizes and points are not
/// demands.
///
/// One plant or pot of anything, which every title says, is not said again.
pub fn printed_rules(class: &ScheduleClass, names: &PrintedNames) -> Vec<String> {
    let ClassRules {
        slots,
        words: own_words,
        distinct,
        naming,
        held_for,
        entrants,
        seedling,
        no_earlier_first,
        entries,
        fee: _,
        prizes: _,
        points: _,
        scale,
        bench_um,
    } = &class.rules;
    let mut all = Vec::new();
    let several = slots.len() > 1 || slots.iter().any(|slot| slot.count > 1 || slot.unit.is_cut());
    for slot in slots {
        all.extend(slot_rules(slot, several, names));
    }
    match distinct {
        Distinctness::Free => {}
        Distinctness::AllDifferent => all.push("distinct cultivars".to_owned()),
        Distinctness::AllSame => all.push("of one cultivar".to_owned()),
        Distinctness::AtLeast(least) => all.push(format!("at least {least} cultivars")),
    }
    match naming {
        None | Some(NamingRule::Free) => {}
        Some(NamingRule::Should) => all.push("should be named".to_owned()),
        Some(NamingRule::Must) => all.push("must be named".to_owned()),
    }
    if let Some(held) = held_for {
        let but = if held.unless_from_seed { ", unless raised from seed by the exhibitor" } else { "" };
        all.push(format!("held by the exhibitor for at least {}{but}", held.period));
    }
    entrant_rules(entrants, names, &mut all);
    if let Some(rule) = seedling {
        seedling_rules(*rule, &mut all);
    }
    if let Some(reach) = no_earlier_first {
        all.push(format!("not for an exhibit that took a first at {}", near(*reach)));
    }
    if let Some(most) = entries.per_exhibitor {
        all.push(if most == 1 {
            "one entry an exhibitor".to_owned()
        } else {
            format!("up to {most} entries an exhibitor")
        });
    }
    if entries.each_different {
        all.push("each entry of another cultivar".to_owned());
    }
    if let Some(um) = bench_um {
        all.push(format!("up to {um} of bench"));
    }
    if let Some(scale) = scale {
        let marks: Vec<String> =
            scale.criteria.iter().map(|line| format!("{} {}", line.title, line.most)).collect();
        all.push(format!("judged by marks of {}: {}", scale.total, marks.join(", ")));
    }
    all.extend(own_words.clone());
    all
}

fn slot_rules(slot: &ClassSlot, counted: bool, names: &PrintedNames) -> Vec<String> {
    let ClassSlot { count, unit, taxa, forms, pot, height: high, clear_stem, basket, bloom, flowers } = slot;
    let mut all = Vec::new();
    let kinds = kinds(taxa, names);
    match (counted, kinds.is_empty()) {
        (true, true) => all.push(unit.counted(*count)),
        (true, false) => all.push(format!("{}: {}", unit.counted(*count), kinds.join("; "))),
        (false, _) => all.extend(kinds),
    }
    if !forms.is_empty() {
        all.push(format!("grown as {}", words(forms)));
    }
    let sized = [("pot", pot), ("clear stem", clear_stem), ("basket", basket), ("bloom", bloom)];
    for (what, limit) in sized {
        if let Some(limit) = limit {
            all.push(format!("{what} {limit}{}", as_printed(limit)));
        }
    }
    if let Some(limit) = high {
        all.push(format!("height {}{}", height(limit), as_printed(&limit.limit)));
    }
    match flowers {
        None | Some(FlowerRule::Any) => {}
        Some(FlowerRule::Needed) => all.push("in flower".to_owned()),
        Some(FlowerRule::Removed) => all.push("flowers and buds taken off".to_owned()),
    }
    all
}

/// The words of a limit, beside what is measured.
fn as_printed(limit: &SizeLimit) -> String {
    if limit.words.is_empty() { String::new() } else { format!(" ({})", limit.words) }
}

fn kinds(taxa: &TaxonFilter, names: &PrintedNames) -> Vec<String> {
    let TaxonFilter { groups, cultivars, other_than_groups, other_than_cultivars, introduced_before } = taxa;
    let mut all = Vec::new();
    if !groups.is_empty() {
        all.push(words(groups));
    }
    if !cultivars.is_empty() {
        all.push(names.cultivars(cultivars));
    }
    if !other_than_groups.is_empty() {
        all.push(format!("other than {}", words(other_than_groups)));
    }
    if !other_than_cultivars.is_empty() {
        all.push(format!("other than {}", names.cultivars(other_than_cultivars)));
    }
    if let Some(year) = introduced_before {
        all.push(format!("introduced before {year}"));
    }
    all
}

fn entrant_rules(entrants: &EntrantRule, names: &PrintedNames, all: &mut Vec<String>) {
    let EntrantRule { members_only, amateurs_only, age, level, household, no_joint_names, not_entered_in } =
        entrants;
    if *members_only {
        all.push("members alone".to_owned());
    }
    if *amateurs_only {
        all.push("amateurs alone".to_owned());
    }
    if let Some(AgeRule { from, to, on }) = age {
        let ages = match (from, to) {
            (Some(from), Some(to)) => format!("from {from} to {to} years old"),
            (Some(from), None) => format!("{from} years old and over"),
            (None, Some(to)) => format!("{to} years old and under"),
            (None, None) => "of any age".to_owned(),
        };
        all.push(format!("exhibitors {ages} on {on}"));
    }
    if let Some(level) = level {
        all.push(level_rule(level));
    }
    if let Some(HouseholdRule::Jointly) = household {
        all.push("one entry a household, in joint names".to_owned());
    }
    if *no_joint_names {
        all.push("no joint names".to_owned());
    }
    if !not_entered_in.is_empty() {
        all.push(format!("not for those entered in class {}", names.classes(not_entered_in)));
    }
}

fn level_rule(level: &LevelRule) -> String {
    let day = match level.as_of {
        AsOf::SeasonStart => "on the first day of the season",
        AsOf::EntryDay => "on the day of entering",
        AsOf::ShowDay => "by the day of the show",
    };
    let conditions: Vec<String> = level.conditions.iter().map(condition).collect();
    format!("level {} ({day}: {})", level.name, conditions.join("; "))
}

fn condition(condition: &HistoryCondition) -> String {
    let HistoryCondition { counts, reach, sections, groups, levels, levels_left_out, at_least, at_most } =
        condition;
    let what = match counts {
        CountedResults::PlacesTo(1) => "firsts".to_owned(),
        CountedResults::PlacesTo(place) => format!("places down to {place}"),
        CountedResults::Award(name) => format!("awards of {name}"),
    };
    let count = match (at_least, at_most) {
        (Some(least), Some(most)) => format!("{least} to {most} {what}"),
        (Some(least), None) => format!("at least {least} {what}"),
        (None, Some(0)) => format!("no {what}"),
        (None, Some(most)) => format!("at most {most} {what}"),
        (None, None) => format!("any number of {what}"),
    };
    let mut parts = vec![format!("{count} at {}", near(*reach))];
    if !sections.is_empty() {
        parts.push(format!("in the sections {}", words(sections)));
    }
    if !groups.is_empty() {
        parts.push(format!("with {}", words(groups)));
    }
    if !levels.is_empty() {
        parts.push(format!("in classes of the level {}", words(levels)));
    }
    if !levels_left_out.is_empty() {
        parts.push(format!("not in classes of the level {}", words(levels_left_out)));
    }
    parts.join(", ")
}

fn seedling_rules(rule: SeedlingRule, all: &mut Vec<String>) {
    let SeedlingRule { raised_by_exhibitor, not_named, not_introduced, never_shown, no_first } = rule;
    let points = [
        raised_by_exhibitor.then_some(SeedlingPoint::RaisedByExhibitor),
        not_named.then_some(SeedlingPoint::NotNamed),
        not_introduced.then_some(SeedlingPoint::NotIntroduced),
        never_shown.then_some(SeedlingPoint::NeverShown),
        no_first.map(SeedlingPoint::NoFirst),
    ];
    all.extend(points.into_iter().flatten().map(|point| point.to_string()));
}
