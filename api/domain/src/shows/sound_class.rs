//! Whether what one class demands can be met, and says one thing.

use super::class::{ClassSlot, Distinctness, EntrantRule, ScheduleClass};
use super::codes::ScheduleCode;
use super::measure::{Pence, SizeLimit, lengths_in};
use super::publishing::ScheduleFinding;
use super::schedule::ShowSchedule;
use super::words::{ExhibitUnit, FlowerRule};
use crate::words::PlantGroup;

/// Adds what is found in one class.
pub(super) fn class_findings(
    schedule: &ShowSchedule,
    class: &ScheduleClass,
    found: &mut Vec<ScheduleFinding>,
) {
    let mut add = |code, detail: String, fix: &str| {
        let detail = format!("Class {}: {detail}", class.label);
        found.push(ScheduleFinding::new(code, detail, fix).at(&[class]));
    };
    if let Some(key) = class.section.as_ref().filter(|key| !schedule.sections.iter().any(|s| s.key == **key))
    {
        add(
            ScheduleCode::SectionUnknown,
            format!("there is no section {key}"),
            "Enter the section, or name another.",
        );
    }
    let rules = &class.rules;
    if rules.slots.is_empty() || rules.slots.iter().any(|slot| slot.count == 0) {
        add(ScheduleCode::SlotMissing, "it asks for nothing to be shown".to_owned(), "Say how many of what.");
    }
    for slot in &rules.slots {
        slot_findings(slot, &mut add);
    }
    let units = rules.units();
    let listed = |slot: &ClassSlot| {
        let cultivars = u32::try_from(slot.taxa.cultivars.len()).unwrap_or(u32::MAX);
        if cultivars == 0 { slot.count } else { slot.count.min(cultivars) }
    };
    let most: u32 = rules.slots.iter().map(listed).fold(0, u32::saturating_add);
    let wanted = match rules.distinct {
        Distinctness::AllDifferent => units,
        Distinctness::AtLeast(least) => least,
        Distinctness::Free | Distinctness::AllSame => 0,
    };
    if wanted > most {
        let detail = format!("{wanted} different cultivars are asked for, and there can be {most}");
        add(ScheduleCode::DistinctImpossible, detail, "Ask for fewer different cultivars.");
    }
    entrant_findings(&rules.entrants, &mut add);
    let others = &rules.entrants.not_entered_in;
    if others.iter().any(|id| *id == class.id || !schedule.classes.iter().any(|other| other.id == *id)) {
        let detail = "it shuts out those entered in a class that is not another of this schedule".to_owned();
        add(ScheduleCode::ClassUnknown, detail, "Name another class of this schedule.");
    }
    if rules.entries.per_exhibitor == Some(0) {
        add(
            ScheduleCode::EntryLimitNought,
            "nobody may enter it once".to_owned(),
            "Allow one entry at least.",
        );
    }
    money_findings(class, &mut add);
    if let Some(key) = rules.points.as_ref().filter(|key| !schedule.schemes.iter().any(|s| s.key == **key)) {
        add(
            ScheduleCode::PointsUnknown,
            format!("there is no points scheme {key}"),
            "Enter the scheme, or name another.",
        );
    }
    if let Some(scale) = &rules.scale {
        let sum: u64 = scale.criteria.iter().map(|criterion| u64::from(criterion.most)).sum();
        if sum != u64::from(scale.total) {
            let detail = format!("the criteria of its scale sum to {sum}, not to {}", scale.total);
            add(ScheduleCode::ScaleSum, detail, "Put the marks or the total right.");
        }
    }
}

fn slot_findings(slot: &ClassSlot, add: &mut impl FnMut(ScheduleCode, String, &str)) {
    let height = slot.height.as_ref().map(|height| &height.limit);
    let limits = [
        ("pot", slot.pot.as_ref()),
        ("height", height),
        ("clear stem", slot.clear_stem.as_ref()),
        ("basket", slot.basket.as_ref()),
        ("bloom", slot.bloom.as_ref()),
    ];
    for (what, limit) in limits.into_iter().filter_map(|(what, limit)| Some((what, limit?))) {
        if !limit.is_possible() {
            add(ScheduleCode::SizeImpossible, format!("no {what} is {limit}"), "Put the limits right.");
        }
        words_findings(what, limit, add);
    }
    if slot.pot.is_some() && slot.unit.is_cut() {
        let detail = format!("it limits the pot of what is cut: {}", slot.unit.counted(slot.count));
        add(ScheduleCode::PotOfCut, detail, "Ask for plants, or take the limit out.");
    }
    let taxa = &slot.taxa;
    let shut = |group: &PlantGroup| taxa.other_than_groups.contains(group);
    let no_group =
        if taxa.groups.is_empty() { PlantGroup::ALL.iter().all(shut) } else { taxa.groups.iter().all(shut) };
    let out = |cultivar| taxa.other_than_cultivars.contains(cultivar);
    let no_cultivar = !taxa.cultivars.is_empty() && taxa.cultivars.iter().all(out);
    if no_group || no_cultivar {
        add(
            ScheduleCode::TaxaImpossible,
            "all that it asks for is left out again".to_owned(),
            "Put the list right.",
        );
    }
    let blooms = matches!(
        slot.unit,
        ExhibitUnit::Bloom | ExhibitUnit::Spike | ExhibitUnit::Truss | ExhibitUnit::Pip | ExhibitUnit::Floret
    );
    if slot.flowers == Some(FlowerRule::Removed) && (blooms || slot.bloom.is_some()) {
        let detail = "flowers are to be taken off, and blooms are asked for".to_owned();
        add(ScheduleCode::FlowersContradict, detail, "Ask for one of the two.");
    }
}

/// Each printed length should be one of the limit's: 4½ in is 114.3 mm and its printed twin 11 cm is 110 mm, so
/// that a pot between them passes by one and fails by the other.
fn words_findings(what: &str, limit: &SizeLimit, add: &mut impl FnMut(ScheduleCode, String, &str)) {
    let bounds = [limit.from, limit.to];
    for (words, um) in lengths_in(&limit.words) {
        if !bounds.iter().flatten().any(|bound| bound.um == um) {
            let detail = format!("the {what} is printed as {words}, which is {um}; the limit is {limit}");
            let fix = "Print the limit's own length, or make it clear which one counts.";
            add(ScheduleCode::WordsDisagree, detail, fix);
        }
    }
}

fn entrant_findings(rule: &EntrantRule, add: &mut impl FnMut(ScheduleCode, String, &str)) {
    let crossed = |from: Option<u32>, to: Option<u32>| from.zip(to).is_some_and(|(from, to)| from > to);
    if rule.age.is_some_and(|age| crossed(age.from, age.to)) {
        add(ScheduleCode::EntrantImpossible, "nobody is of its age".to_owned(), "Put the ages right.");
    }
    let Some(level) = &rule.level else { return };
    if level.conditions.iter().any(|condition| crossed(condition.at_least, condition.at_most)) {
        let detail = format!("nobody is of the level {}", level.name);
        add(ScheduleCode::EntrantImpossible, detail, "Put the counts right.");
    }
}

fn money_findings(class: &ScheduleClass, add: &mut impl FnMut(ScheduleCode, String, &str)) {
    let (fee, prizes) = (class.rules.fee, &class.rules.prizes);
    let amounts = fee.iter().flat_map(|fee| [Some(fee.member), Some(fee.other), fee.junior]).flatten();
    if amounts.chain(prizes.iter().copied()).any(|amount| amount < Pence(0)) {
        add(ScheduleCode::MoneyNegative, "it has money below nought".to_owned(), "Put the amount right.");
    }
    if fee.is_none() {
        add(ScheduleCode::FeeMissing, "no fee is settled".to_owned(), "Settle the fee; nought is one.");
    }
    if !prizes.is_sorted_by(|a, b| a >= b) {
        add(
            ScheduleCode::PrizesRise,
            "a lower place has the larger prize".to_owned(),
            "Put the prizes in order.",
        );
    }
}
