//! May this exhibitor enter this exhibit in this class? One answer, with every reason at once.
//!
//! The same judgement serves a grower who looks for classes and an entry that is made. What bars, what is only
//! doubted and what is not known yet are told apart by [`Bearing`]. Cost: linear in the reasons, for one plant some
//! microseconds; a whole exhibit adds a small flow from items to slots.

use super::asked_in_words::asked_in_words;
use super::class::{ClassRules, Distinctness, EntrantRule, ScheduleClass};
use super::codes::{Answer, Bearing};
use super::dates::{age_on, in_time};
use super::facts::{Exhibit, ExhibitItem, ExhibitorFacts, PlantFacts, ShowFacts};
use super::fitting::{Filling, fill, fit_plant};
use super::reason::{Reason, Why};
use super::words::{ExhibitUnit, HouseholdRule};
use crate::ids::{ClassId, PlantId};

/// The answer and its reasons.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Eligibility {
    /// Yes, no, or depends.
    pub answer: Answer,
    /// Everything that speaks for it; about the exhibitor first, then about the plants, then about the whole.
    pub reasons: Vec<Reason>,
}

impl Eligibility {
    fn of(reasons: Vec<Reason>) -> Self {
        let heaviest = reasons.iter().map(|reason| reason.why.bearing()).max();
        let answer = match heaviest {
            Some(Bearing::Bars | Bearing::Doubts) => Answer::No,
            Some(Bearing::Opens) => Answer::Depends,
            Some(Bearing::Notes) | None => Answer::Yes,
        };
        Self { answer, reasons }
    }

    /// Whether the entry cannot be taken at all.
    pub fn is_barred(&self) -> bool {
        self.reasons.iter().any(|reason| reason.why.bearing() == Bearing::Bars)
    }

    /// What an exhibitor must have read before the entry is taken all the same.
    pub fn to_acknowledge(&self) -> impl Iterator<Item = &Reason> {
        self.reasons.iter().filter(|reason| reason.why.bearing() == Bearing::Doubts)
    }
}

/// Judges one exhibit, or one plant on the look-out, against one class.
pub fn eligibility(
    class: &ScheduleClass,
    show: &ShowFacts,
    exhibitor: &ExhibitorFacts,
    exhibit: Exhibit<'_>,
) -> Eligibility {
    judge(class, show, exhibitor, &entrant_reasons(class, show, exhibitor), exhibit)
}

/// Judges a staged exhibit as the steward measured it, whoever brought it and whenever it was entered: what is wrong
/// now is to be put right before judging, or moved to a class that it fits.
pub fn staged_fit(class: &ScheduleClass, show: &ShowFacts, items: &[ExhibitItem<'_>]) -> Eligibility {
    judge(class, show, &ExhibitorFacts::default(), &[], Exhibit::Whole(items))
}

/// What was found for one plant and one class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundClass {
    /// The class.
    pub class: ClassId,
    /// The plant.
    pub plant: PlantId,
    /// Whether it may be entered.
    pub eligibility: Eligibility,
}

/// Judges each plant against each class: every class of a plant, in their order, plant by plant.
///
/// Cost: plants × classes judgements; what concerns the exhibitor alone is judged once a class. 60 plants and 250 classes
/// take 20 to 30 ms on two slow cores.
pub fn find_classes(
    classes: &[ScheduleClass],
    show: &ShowFacts,
    exhibitor: &ExhibitorFacts,
    plants: &[PlantFacts],
) -> Vec<FoundClass> {
    let entrant: Vec<Vec<Reason>> =
        classes.iter().map(|class| entrant_reasons(class, show, exhibitor)).collect();
    let mut found = Vec::with_capacity(classes.len() * plants.len());
    for plant in plants {
        for (class, about_entrant) in classes.iter().zip(&entrant) {
            let eligibility = judge(class, show, exhibitor, about_entrant, Exhibit::Plant(plant));
            found.push(FoundClass { class: class.id, plant: plant.plant, eligibility });
        }
    }
    found
}

fn judge(
    class: &ScheduleClass,
    show: &ShowFacts,
    exhibitor: &ExhibitorFacts,
    about_entrant: &[Reason],
    exhibit: Exhibit<'_>,
) -> Eligibility {
    let mut reasons = about_entrant.to_vec();
    match exhibit {
        Exhibit::Plant(plant) => {
            let Some((slot, whys)) = fit_plant(&class.rules, show, plant) else {
                return Eligibility::of(reasons);
            };
            let unit = slot.unit;
            let offered = if unit.is_cut() { slot.count } else { plant.quantity.min(slot.count) };
            let whys = whys.into_iter().chain(use_reasons(class, exhibitor, plant, 1, unit));
            reasons.extend(whys.map(|why| Reason { plant: Some(plant.plant), why }));
            let wanted = class.rules.units();
            let differ = class.rules.distinct == Distinctness::AllDifferent;
            let offered = if differ { offered.min(1) } else { offered };
            if offered < wanted {
                let why = Why::MoreNeeded { unit, more: wanted - offered, others_differ: differ };
                reasons.push(Reason { plant: None, why });
            }
        }
        Exhibit::Whole(items) => whole(class, show, exhibitor, items, &mut reasons),
    }
    reasons.extend(asked_in_words(class).into_iter().map(|why| Reason { plant: None, why }));
    Eligibility::of(reasons)
}

fn whole(
    class: &ScheduleClass,
    show: &ShowFacts,
    exhibitor: &ExhibitorFacts,
    items: &[ExhibitItem<'_>],
    reasons: &mut Vec<Reason>,
) {
    let Filling { items: fits, gaps } = fill(&class.rules, show, items);
    for (item, (unit, whys)) in items.iter().zip(fits) {
        tell(reasons, item.plant, whys);
        // A plant listed twice is one plant: its uses add up.
        let needed = items
            .iter()
            .filter(|other| other.plant.plant == item.plant.plant)
            .map(|other| other.count)
            .fold(0, u32::saturating_add);
        tell(reasons, item.plant, use_reasons(class, exhibitor, item.plant, needed, unit));
    }
    reasons.extend(gaps.into_iter().map(|why| Reason { plant: None, why }));
    if let Some(why) = distinctness_reason(&class.rules, items) {
        reasons.push(Reason { plant: None, why });
    }
}

/// Adds reasons about a plant, each once: several slots may say the same of it.
fn tell(reasons: &mut Vec<Reason>, plant: &PlantFacts, whys: Vec<Why>) {
    for why in whys {
        let reason = Reason { plant: Some(plant.plant), why };
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
}

fn distinctness_reason(rules: &ClassRules, items: &[ExhibitItem<'_>]) -> Option<Why> {
    let mut cultivars: Vec<_> =
        items.iter().filter(|item| item.count > 0).map(|item| item.plant.cultivar).collect();
    cultivars.sort_unstable();
    cultivars.dedup();
    let different = u32::try_from(cultivars.len()).unwrap_or(u32::MAX);
    let units: u32 = items.iter().map(|item| item.count).fold(0, u32::saturating_add);
    let rule = rules.distinct;
    match rule {
        Distinctness::AllDifferent if different < units => Some(Why::NotDistinct { different, rule }),
        Distinctness::AtLeast(least) if different < least => Some(Why::NotDistinct { different, rule }),
        Distinctness::AllSame if different > 1 => Some(Why::NotAlike { different }),
        _ => None,
    }
}

/// What speaks against entering this plant beside what is entered already.
fn use_reasons(
    class: &ScheduleClass,
    exhibitor: &ExhibitorFacts,
    plant: &PlantFacts,
    needed: u32,
    unit: ExhibitUnit,
) -> Vec<Why> {
    let own = || exhibitor.entered.iter().filter(|entered| entered.own);
    let mut whys = Vec::new();
    let limit = class.rules.entries;
    if limit.each_different
        && own().any(|entered| entered.class == class.id && entered.cultivars.contains(&plant.cultivar))
    {
        whys.push(Why::CultivarAlreadyEntered);
    }
    if unit.is_cut() {
        return whys;
    }
    let used = |here: bool| -> u32 {
        own()
            .filter(|entered| (entered.class == class.id) == here)
            .flat_map(|entered| &entered.whole_plants)
            .filter(|(id, _)| *id == plant.plant)
            .map(|(_, count)| *count)
            .fold(0, u32::saturating_add)
    };
    let (here, elsewhere) = (used(true), used(false));
    let (have, total) = (plant.quantity, needed.saturating_add(here).saturating_add(elsewhere));
    if total > have && here > 0 {
        whys.push(Why::EntryDuplicate { have, needed: total });
    } else if total > have && elsewhere > 0 {
        let class = own()
            .find(|entered| {
                entered.class != class.id && entered.whole_plants.iter().any(|(id, _)| *id == plant.plant)
            })
            .map_or(class.id, |entered| entered.class);
        whys.push(Why::PlantAlreadyEntered { class, have, needed: total });
    } else if total > have {
        whys.push(Why::CountMismatch { unit, given: have, wanted: total });
    }
    whys
}

/// What speaks about the exhibitor and the moment, whatever the exhibit.
fn entrant_reasons(class: &ScheduleClass, show: &ShowFacts, exhibitor: &ExhibitorFacts) -> Vec<Reason> {
    let mut whys = Vec::new();
    if let Some(until) = show.opens_at.filter(|&opens| show.asked_at < opens) {
        whys.push(Why::EntriesNotOpen { until: until.with_timezone(&show.zone) });
    }
    if !in_time(show.asked_at, show.closes_at) && !show.late_taken {
        whys.push(Why::EntriesClosed { at: show.closes_at.with_timezone(&show.zone) });
    }
    person_reasons(&class.rules.entrants, show, exhibitor, &mut whys);
    if exhibitor.judges.contains(&class.id) {
        whys.push(Why::JudgeConflict);
    }
    let here = |own: bool| {
        exhibitor.entered.iter().filter(|entered| entered.own == own && entered.class == class.id).count()
    };
    if let Some(limit) = class.rules.entries.per_exhibitor
        && here(true) >= usize::try_from(limit).unwrap_or(usize::MAX)
    {
        whys.push(Why::ClassLimitReached { limit });
    }
    if class.rules.entrants.household == Some(HouseholdRule::Jointly) && here(false) > 0 {
        whys.push(Why::HouseholdConflict);
    }
    let shutting = |entered: &&super::facts::EnteredExhibit| {
        entered.own && class.rules.entrants.not_entered_in.contains(&entered.class)
    };
    if let Some(entered) = exhibitor.entered.iter().find(shutting) {
        whys.push(Why::OtherClassEntered { class: entered.class });
    }
    whys.into_iter().map(|why| Reason { plant: None, why }).collect()
}

fn person_reasons(rule: &EntrantRule, show: &ShowFacts, exhibitor: &ExhibitorFacts, whys: &mut Vec<Why>) {
    if rule.members_only && !exhibitor.is_member {
        whys.push(Why::NotAMember);
    }
    if rule.amateurs_only && exhibitor.in_the_trade {
        whys.push(Why::NotAnAmateur);
    }
    if rule.no_joint_names && exhibitor.is_joint {
        whys.push(Why::JointNames);
    }
    if let Some(age_rule) = rule.age {
        match exhibitor.born_on.and_then(|born| age_on(born, age_rule.on)) {
            Some(age) => {
                let fits =
                    age_rule.from.is_none_or(|from| age >= from) && age_rule.to.is_none_or(|to| age <= to);
                if !fits {
                    whys.push(Why::AgeOutOfRange { age, rule: age_rule });
                }
            }
            None => whys.push(Why::AgeUnknown { on: age_rule.on }),
        }
    }
    if let Some(level) = &rule.level {
        let today = show.asked_at.with_timezone(&show.zone).date_naive();
        let as_of = level.looked_at_on(show.season_start, today, show.held_on);
        let judgement = level.judge(&exhibitor.history, as_of, exhibitor.outside_declared);
        whys.extend(
            judgement
                .failing
                .into_iter()
                .map(|standing| Why::LevelNotEligible { level: level.name.clone(), standing }),
        );
        if judgement.is_open {
            whys.push(Why::LevelUnknown { level: level.name.clone() });
        }
    }
}
