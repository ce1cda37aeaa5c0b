//! Sibling classes that differ in the pot alone: pots that fit none of them, and pots that fit two.

use super::class::{ClassRules, ScheduleClass};
use super::codes::ScheduleCode;
use super::measure::{Micrometres, SizeLimit};
use super::publishing::ScheduleFinding;

/// Smallest and largest pot of a limit, both within, in micrometres.
fn ends(limit: &SizeLimit) -> (i64, i64) {
    let low = limit.from.map_or(0, |from| from.um.0.saturating_add(i64::from(!from.inclusive)));
    let high = limit.to.map_or(i64::MAX, |to| to.um.0.saturating_sub(i64::from(!to.inclusive)));
    (low, high)
}

/// The rules of a class of one slot but for the pot and what it pays and costs; siblings have the same.
fn but_for_the_pot(class: &ScheduleClass) -> Option<(ClassRules, (i64, i64))> {
    let [slot] = class.rules.slots.as_slice() else { return None };
    let band = ends(slot.pot.as_ref()?);
    let mut rules = class.rules.clone();
    for slot in &mut rules.slots {
        slot.pot = None;
    }
    rules.fee = None;
    rules.prizes = Vec::new();
    rules.bench_um = None;
    rules.scale = None;
    rules.points = None;
    Some((rules, band))
}

/// Classes of one section with the same rules but for the pot, each with its smallest and largest pot.
struct Family<'a> {
    section: Option<&'a String>,
    rules: ClassRules,
    bands: Vec<(i64, i64, &'a ScheduleClass)>,
}

/// Gaps and overlaps of sibling classes.
pub(super) fn band_findings(classes: &[&ScheduleClass], found: &mut Vec<ScheduleFinding>) {
    let mut families: Vec<Family<'_>> = Vec::new();
    for class in classes {
        let Some((rules, (low, high))) = but_for_the_pot(class) else { continue };
        let section = class.section.as_ref();
        match families.iter_mut().find(|family| family.section == section && family.rules == rules) {
            Some(family) => family.bands.push((low, high, class)),
            None => families.push(Family { section, rules, bands: vec![(low, high, class)] }),
        }
    }
    for Family { mut bands, .. } in families {
        bands.sort_by_key(|&(low, high, _)| (low, high));
        let mut highest: Option<(i64, &ScheduleClass)> = None;
        for (low, high, class) in bands {
            if let Some((top, below)) = highest {
                compare(top, below, low, high, class, found);
            }
            if highest.is_none_or(|(top, _)| high > top) {
                highest = Some((high, class));
            }
        }
    }
}

fn compare(
    top: i64,
    below: &ScheduleClass,
    low: i64,
    high: i64,
    class: &ScheduleClass,
    found: &mut Vec<ScheduleFinding>,
) {
    if low > top.saturating_add(1) {
        let (from, to) = (Micrometres(top), Micrometres(low));
        let detail = format!(
            "A pot of more than {from} and less than {to} fits neither class {} nor class {}",
            below.label, class.label
        );
        let fix = "Let one band begin where the other ends, or enter a class between them.";
        found.push(ScheduleFinding::new(ScheduleCode::PotGap, detail, fix).at(&[below, class]));
    } else if low <= top {
        let (from, to) = (Micrometres(low), Micrometres(top.min(high)));
        let detail =
            format!("A pot from {from} to {to} fits both class {} and class {}", below.label, class.label);
        let fix = "Let one band begin over the end of the other, if a pot is to fit one class alone.";
        found.push(ScheduleFinding::new(ScheduleCode::PotOverlap, detail, fix).at(&[below, class]));
    }
}
