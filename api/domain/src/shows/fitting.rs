//! Plants against slots: what each plant lacks, and how the items of an exhibit fill the slots of a class.
//!
//! Filling is a largest flow from items to slots, first along fits without a doubt, then along those that depend.
//! Cost: items × slots judgements, and for each augmenting path items × slots steps; exhibits are small.

use chrono::NaiveDate;

use super::class::{ClassRules, ClassSlot, HeightLimit, Holding, SeedlingRule, TaxonFilter};
use super::codes::Bearing;
use super::facts::{ExhibitItem, PlantFacts, ShowFacts};
use super::measure::{Against, Micrometres, SizeLimit};
use super::reason::{SeedlingPoint, Why};
use super::words::{ExhibitUnit, FlowerRule, Measure, NamingRule};
use crate::words::PlantGroup;

/// How far a list of reasons is from a fit: those that bar, those that doubt, those that leave open.
fn distance(whys: &[Why]) -> (usize, usize, usize) {
    let count = |bearing| whys.iter().filter(|why| why.bearing() == bearing).count();
    (count(Bearing::Bars), count(Bearing::Doubts), count(Bearing::Opens))
}

/// The slot that the plant fits best, and what is to be said of it there. `None` of a class without slots.
pub(super) fn fit_plant<'r>(
    rules: &'r ClassRules,
    show: &ShowFacts,
    plant: &PlantFacts,
) -> Option<(&'r ClassSlot, Vec<Why>)> {
    let mut best: Option<(&ClassSlot, Vec<Why>)> = None;
    for slot in &rules.slots {
        let whys = slot_reasons(slot, show, plant);
        if best.as_ref().is_none_or(|(_, least)| distance(&whys) < distance(least)) {
            best = Some((slot, whys));
        }
    }
    let (slot, mut whys) = best?;
    plant_reasons(rules, show, plant, &mut whys);
    Some((slot, whys))
}

/// How items fill a class.
pub(super) struct Filling {
    /// For each item the unit of its slot, and what is to be said of it there.
    pub(super) items: Vec<(ExhibitUnit, Vec<Why>)>,
    /// Where counts are not those asked for.
    pub(super) gaps: Vec<Why>,
}

/// Fills the slots of a class with the items.
pub(super) fn fill(rules: &ClassRules, show: &ShowFacts, items: &[ExhibitItem<'_>]) -> Filling {
    let judged: Vec<Vec<Vec<Why>>> = items
        .iter()
        .map(|item| rules.slots.iter().map(|slot| slot_reasons(slot, show, item.plant)).collect())
        .collect();
    let mut flow = Flow::new(rules, items);
    flow.push_all(|item, slot| judged_at(&judged, item, slot).is_some_and(|d| d == (0, 0, 0)));
    flow.push_all(|item, slot| {
        judged_at(&judged, item, slot).is_some_and(|(bars, doubts, _)| bars + doubts == 0)
    });
    // What is only doubted may still be entered: its count is right.
    flow.push_all(|item, slot| judged_at(&judged, item, slot).is_some_and(|(bars, ..)| bars == 0));
    let mut filled = Vec::with_capacity(items.len());
    let mut misfits = 0_u32;
    for (index, (item, by_slot)) in items.iter().zip(judged).enumerate() {
        let used = flow.slots_of(index);
        let nearest = by_slot.iter().enumerate().min_by_key(|(_, whys)| distance(whys)).map(|(slot, _)| slot);
        let left = flow.item_left(index);
        if nearest.is_some_and(|slot| by_slot.get(slot).is_some_and(|whys| distance(whys).0 > 0)) {
            misfits = misfits.saturating_add(left);
        }
        let chosen = if used.is_empty() { nearest.into_iter().collect() } else { used };
        let unit = chosen
            .first()
            .and_then(|&slot| rules.slots.get(slot))
            .map_or(ExhibitUnit::Plant, |slot| slot.unit);
        let mut whys: Vec<Why> = Vec::new();
        for (_, said) in by_slot.into_iter().enumerate().filter(|(slot, _)| chosen.contains(slot)) {
            whys.extend(said);
        }
        plant_reasons(rules, show, item.plant, &mut whys);
        filled.push((unit, whys));
    }
    Filling { items: filled, gaps: flow.gaps(rules, items, misfits) }
}

fn judged_at(judged: &[Vec<Vec<Why>>], item: usize, slot: usize) -> Option<(usize, usize, usize)> {
    judged.get(item)?.get(slot).map(|whys| distance(whys))
}

/// Units of items sent to slots.
struct Flow {
    /// `sent[item][slot]`.
    sent: Vec<Vec<u32>>,
    item_left: Vec<u32>,
    slot_left: Vec<u32>,
}

#[allow(clippy::indexing_slicing, reason = "items and slots are numbered by the vectors built here")]
impl Flow {
    fn new(rules: &ClassRules, items: &[ExhibitItem<'_>]) -> Self {
        Self {
            sent: vec![vec![0; rules.slots.len()]; items.len()],
            item_left: items.iter().map(|item| item.count).collect(),
            slot_left: rules.slots.iter().map(|slot| slot.count).collect(),
        }
    }

    /// Sends as much as it can along the allowed pairs, moving what was sent where that makes room.
    fn push_all(&mut self, allowed: impl Fn(usize, usize) -> bool) {
        for item in 0..self.item_left.len() {
            while self.item_left[item] > 0 && self.push_from(item, &allowed) {}
        }
    }

    /// Sends some units of one item along a shortest augmenting path.
    fn push_from(&mut self, start: usize, allowed: &impl Fn(usize, usize) -> bool) -> bool {
        let (items, slots) = (self.item_left.len(), self.slot_left.len());
        let mut slot_from: Vec<Option<usize>> = vec![None; slots];
        let mut item_from: Vec<Option<usize>> = vec![None; items];
        let mut queue = std::collections::VecDeque::from([start]);
        while let Some(item) = queue.pop_front() {
            for slot in 0..slots {
                if slot_from[slot].is_some() || !allowed(item, slot) {
                    continue;
                }
                slot_from[slot] = Some(item);
                if self.slot_left[slot] > 0 {
                    self.send_along(start, slot, &slot_from, &item_from);
                    return true;
                }
                for (other, from) in item_from.iter_mut().enumerate() {
                    if other != start && from.is_none() && self.sent[other][slot] > 0 {
                        *from = Some(slot);
                        queue.push_back(other);
                    }
                }
            }
        }
        false
    }

    fn send_along(
        &mut self,
        start: usize,
        end: usize,
        slot_from: &[Option<usize>],
        item_from: &[Option<usize>],
    ) {
        let mut path = Vec::new();
        let mut amount = self.item_left[start].min(self.slot_left[end]);
        let mut slot = end;
        while let Some(item) = slot_from[slot] {
            let back = item_from[item].filter(|_| item != start);
            path.push((item, slot, back));
            let Some(back) = back else { break };
            amount = amount.min(self.sent[item][back]);
            slot = back;
        }
        for (item, slot, back) in path {
            self.sent[item][slot] += amount;
            if let Some(back) = back {
                self.sent[item][back] -= amount;
            }
        }
        self.item_left[start] -= amount;
        self.slot_left[end] -= amount;
    }

    fn slots_of(&self, item: usize) -> Vec<usize> {
        self.sent[item].iter().enumerate().filter(|(_, sent)| **sent > 0).map(|(slot, _)| slot).collect()
    }

    fn item_left(&self, item: usize) -> u32 {
        self.item_left[item]
    }

    /// Slots that are short and units that found no room. A unit that fits nowhere is told of by its own reasons,
    /// and what it leaves empty is not told again.
    fn gaps(&self, rules: &ClassRules, items: &[ExhibitItem<'_>], misfits: u32) -> Vec<Why> {
        let given: u32 = items.iter().map(|item| item.count).fold(0, u32::saturating_add);
        let wanted = rules.units();
        let unit = rules.slots.first().map_or(ExhibitUnit::Plant, |slot| slot.unit);
        let surplus: u32 = self.item_left.iter().fold(0_u32, |sum, left| sum.saturating_add(*left));
        if given != wanted {
            return vec![Why::CountMismatch { unit, given, wanted }];
        }
        if surplus == misfits {
            return Vec::new();
        }
        let short = |(slot, left): (&ClassSlot, &u32)| {
            (*left > 0).then(|| Why::CountMismatch {
                unit: slot.unit,
                given: slot.count - left,
                wanted: slot.count,
            })
        };
        rules.slots.iter().zip(&self.slot_left).filter_map(short).collect()
    }
}

/// What is to be said of a plant in a slot.
fn slot_reasons(slot: &ClassSlot, show: &ShowFacts, plant: &PlantFacts) -> Vec<Why> {
    let mut whys = Vec::new();
    taxon_reasons(slot, plant, &mut whys);
    if !slot.forms.is_empty() {
        match plant.form {
            Some(form) if slot.forms.contains(&form) => {}
            Some(given) => whys.push(Why::FormMismatch { given, wanted: slot.forms.clone() }),
            None => whys.push(Why::FormUnknown { wanted: slot.forms.clone() }),
        }
    }
    let measures = [
        (Measure::Pot, &slot.pot, plant.pot),
        (Measure::ClearStem, &slot.clear_stem, plant.clear_stem),
        (Measure::Basket, &slot.basket, plant.basket),
        (Measure::Bloom, &slot.bloom, plant.bloom),
    ];
    for (what, limit, given) in measures {
        if let Some(limit) = limit {
            whys.extend(size_reason(what, limit, given, show.tolerance));
        }
    }
    if let Some(limit) = &slot.height {
        let bounds = || HeightLimit { limit: limit.limit.unprinted(), ..*limit };
        let same_way = |height: &&super::facts::PlantHeight| {
            height.measured_from == limit.measured_from && height.measured_to == limit.measured_to
        };
        match plant.heights.iter().find(same_way) {
            Some(height) if limit.limit.against(height.um, show.tolerance) != Against::Within => {
                whys.push(Why::HeightOutOfRange { given: height.um, limit: bounds() });
            }
            Some(_) => {}
            None => {
                let measured = plant.heights.first().copied();
                whys.push(Why::HeightUnknown { measured, limit: bounds() });
            }
        }
    }
    match (slot.flowers, plant.in_flower) {
        (Some(FlowerRule::Needed), Some(false)) => whys.push(Why::FlowersMissing),
        (Some(FlowerRule::Needed), None) => whys.push(Why::FlowersUnknown),
        (Some(FlowerRule::Removed), Some(true) | None) => whys.push(Why::FlowersToRemove),
        _ => {}
    }
    whys
}

fn size_reason(
    what: Measure,
    limit: &SizeLimit,
    given: Option<Micrometres>,
    tolerance: Micrometres,
) -> Option<Why> {
    let Some(given) = given else { return Some(Why::SizeUnknown { what, limit: limit.unprinted() }) };
    match limit.against(given, tolerance) {
        Against::Within => None,
        Against::Over => Some(Why::OverSize { what, given, limit: limit.unprinted() }),
        Against::Under => Some(Why::UnderSize { what, given, limit: limit.unprinted() }),
    }
}

/// Dwarf and miniature are sizes: what a cultivar is registered as and what this plant measures are two facts, and
/// at the show the second decides (common practice).
fn is_size_group(group: PlantGroup) -> bool {
    matches!(group, PlantGroup::Dwarf | PlantGroup::Miniature)
}

fn taxon_reasons(slot: &ClassSlot, plant: &PlantFacts, whys: &mut Vec<Why>) {
    let TaxonFilter { groups, cultivars, other_than_groups, other_than_cultivars, introduced_before } =
        &slot.taxa;
    match plant.group {
        None if !groups.is_empty() || !other_than_groups.is_empty() => whys.push(Why::KindUnknown),
        None => {}
        Some(given) => {
            let measured = slot.height.is_some() || slot.pot.is_some();
            let size_differs = is_size_group(given) && groups.iter().any(|group| is_size_group(*group));
            if !groups.is_empty() && !groups.contains(&given) {
                if size_differs && measured {
                    whys.push(Why::RegisterGroup { given });
                } else {
                    whys.push(Why::KindMismatch { given, wanted: groups.clone() });
                }
            }
            if other_than_groups.contains(&given) {
                whys.push(Why::KindLeftOut { given });
            }
        }
    }
    if !cultivars.is_empty() && !cultivars.contains(&plant.cultivar) {
        whys.push(Why::NotListed);
    }
    if other_than_cultivars.contains(&plant.cultivar) {
        whys.push(Why::LeftOut);
    }
    match (*introduced_before, plant.introduced) {
        (Some(before), Some(given)) if given >= before => whys.push(Why::IntroducedTooLate { given, before }),
        (Some(before), None) if plant.raised.is_some_and(|raised| raised >= before) => {
            whys.extend(plant.raised.map(|given| Why::RaisedTooLate { given, before }));
        }
        (Some(before), None) => whys.push(Why::IntroductionUnknown { before }),
        _ => {}
    }
}

/// What is to be said of a plant in a class, whatever its slot.
fn plant_reasons(rules: &ClassRules, show: &ShowFacts, plant: &PlantFacts, whys: &mut Vec<Why>) {
    match rules.naming {
        Some(NamingRule::Must) if !plant.has_name => whys.push(Why::NameMissing),
        Some(NamingRule::Should) if !plant.has_name => whys.push(Why::NameWanted),
        _ => {}
    }
    if let Some(holding) = rules.held_for {
        whys.extend(holding_reason(holding, show, plant));
    }
    if let Some(reach) = rules.no_earlier_first {
        match &plant.firsts {
            Some(firsts) if firsts.iter().any(|first| *first <= reach) => {
                whys.push(Why::EarlierFirst { reach });
            }
            Some(_) => {}
            None => whys.push(Why::EarlierFirstUnknown { reach }),
        }
    }
    if let Some(seedling) = rules.seedling {
        seedling_reasons(seedling, plant, whys);
    }
}

fn holding_reason(holding: Holding, show: &ShowFacts, plant: &PlantFacts) -> Option<Why> {
    if holding.unless_from_seed && plant.from_own_seed {
        return None;
    }
    // Longer than the calendar: nobody held it as long.
    let (need, by) = (holding.period, holding.period.before(show.held_on).unwrap_or(NaiveDate::MIN));
    match plant.held_since {
        Some(since) if since <= by => None,
        Some(since) => Some(Why::OwnedTooShort { need, by, since }),
        None => Some(Why::OwnedUnknown { need, by }),
    }
}

fn seedling_reasons(rule: SeedlingRule, plant: &PlantFacts, whys: &mut Vec<Why>) {
    let negated = |fact: Option<bool>| fact.map(|holds| !holds);
    let points = [
        (rule.raised_by_exhibitor, SeedlingPoint::RaisedByExhibitor, plant.raised_by_exhibitor),
        (rule.not_named, SeedlingPoint::NotNamed, negated(plant.is_named)),
        (rule.not_introduced, SeedlingPoint::NotIntroduced, negated(plant.is_introduced)),
        (rule.never_shown, SeedlingPoint::NeverShown, negated(plant.was_shown)),
    ];
    let first = rule.no_first.map(|reach| {
        let clean = plant.firsts.as_ref().map(|firsts| firsts.iter().all(|first| *first > reach));
        (true, SeedlingPoint::NoFirst(reach), clean)
    });
    for (_, point, holds) in points.into_iter().chain(first).filter(|(asked, ..)| *asked) {
        match holds {
            Some(true) => {}
            Some(false) => whys.push(Why::SeedlingNotEligible(point)),
            None => whys.push(Why::SeedlingUnknown(point)),
        }
    }
}
