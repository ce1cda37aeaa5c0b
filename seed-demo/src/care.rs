//! What the society looks after: the terms of its members, health holds, what it wants to conserve.
#![allow(clippy::indexing_slicing, reason = "every index is that of a plant, person or cultivar made before")]

use std::collections::{BTreeMap, BTreeSet};

use storksbill_domain::words::{CultivarStatus, Visibility};

use crate::cultivars::Cultivar;
use crate::people::{GUIDE, Person};
use crate::plants::Plant;
use crate::random::Random;

/// Most cultivars of the conservation list.
const LISTED: usize = 12;

/// What a member is ready to do in a round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Terms {
    pub member: usize,
    pub give_most: i32,
    pub receive_most: i32,
    pub by_post: bool,
    pub within_km: Option<i32>,
}

/// A plant held back, by its grower or by an officer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hold {
    pub plant: usize,
    pub by_officer: bool,
    pub reason: &'static str,
}

/// A cultivar of the conservation list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Endangered {
    pub cultivar: usize,
    pub reason: &'static str,
    pub wanted_holders: i32,
}

/// All of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Care {
    /// Of most members; the others keep the usual ones.
    pub terms: Vec<Terms>,
    pub holds: Vec<Hold>,
    pub endangered: Vec<Endangered>,
    /// A protected cultivar whose raiser gave leave.
    pub permitted: Option<usize>,
}

/// What the raiser of the permitted cultivar wrote.
pub const LEAVE: &str = "Rooted cuttings as gifts between members of the society, by the raiser's letter to the \
    registrar of last autumn; not for sale.";

const REASONS: [&str; 4] = [
    "Raised on the island, and not known to be grown anywhere else.",
    "One of the first cultivars shown here; few plants are left.",
    "Lost from most collections in the cold winters.",
    "Slow to strike, so that it is seldom handed on.",
];

/// Made up for these people and plants; the same for the same seed.
pub fn generate(seed: u64, people: &[Person], plants: &[Plant], cultivars: &[Cultivar]) -> Care {
    let mut random = Random::stream(seed, "care", &[]);
    let terms = (0..people.len()).filter_map(|member| terms_of(&mut random, member)).collect();
    let holds = holds(plants);
    let rare = rare(plants, cultivars);
    let endangered = rare
        .into_iter()
        .take(LISTED)
        .map(|cultivar| {
            let &reason = random.pick(&REASONS);
            Endangered { cultivar, reason, wanted_holders: random.between(4, 8) }
        })
        .collect();
    let permitted = (0..cultivars.len()).find(|&at| cultivars[at].protected);
    Care { terms, holds, endangered, permitted }
}

fn terms_of(random: &mut Random, member: usize) -> Option<Terms> {
    let guide = member == GUIDE;
    let said = random.chance(0.8);
    let by_post = random.chance(0.85);
    let near = random.chance(0.2);
    let within_km = random.between(30, 80);
    let terms = Terms {
        member,
        give_most: random.between(2, 8),
        receive_most: random.between(2, 8),
        by_post: guide || by_post,
        within_km: (near && !guide).then_some(within_km),
    };
    (said || guide).then_some(terms)
}

/// One by a grower and one by an officer, on plants of two members that are not shown first.
fn holds(plants: &[Plant]) -> Vec<Hold> {
    let mut met = BTreeSet::new();
    let others: Vec<usize> = (0..plants.len())
        .filter(|&at| plants[at].owner != GUIDE && plants[at].how_many > 0 && met.insert(plants[at].owner))
        .collect();
    let own = others.get(others.len() / 3).map(|&plant| Hold {
        plant,
        by_officer: false,
        reason: "Brown pustules under two leaves; kept apart until it is clear what they are.",
    });
    let officers = others.get(others.len() * 2 / 3).map(|&plant| Hold {
        plant,
        by_officer: true,
        reason: "Wilted on the bench at the last meeting.",
    });
    own.into_iter().chain(officers).collect()
}

/// Named cultivars that one or two members hold openly, those of one holder first.
fn rare(plants: &[Plant], cultivars: &[Cultivar]) -> Vec<usize> {
    let mut holders: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    for plant in plants.iter().filter(|p| p.how_many > 0 && p.visibility != Visibility::Private) {
        holders.entry(plant.cultivar).or_default().insert(plant.owner);
    }
    let mut rare: Vec<(usize, usize)> = holders
        .into_iter()
        .filter(|(cultivar, holders)| {
            holders.len() <= 2 && cultivars[*cultivar].status == CultivarStatus::Named
        })
        .map(|(cultivar, holders)| (holders.len(), cultivar))
        .collect();
    rare.sort_unstable();
    rare.into_iter().map(|(_, cultivar)| cultivar).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{cultivars, people, plants};

    #[test]
    fn most_members_post_a_dozen_cultivars_are_listed_and_two_plants_held() {
        let people = people::generate(11, 150);
        let cultivars = cultivars::generate(11, 400, 2026, &people);
        let plants = plants::generate(11, 1_500, (2021, 2026), &people, &cultivars);
        let care = generate(11, &people, &plants, &cultivars);
        assert!((105..140).contains(&care.terms.len()), "{}", care.terms.len());
        let posting = care.terms.iter().filter(|terms| terms.by_post).count();
        assert!(posting * 4 > care.terms.len() * 3, "{posting}");
        assert!(care.terms.iter().any(|terms| terms.member == GUIDE && terms.by_post));
        assert_eq!((care.holds.len(), care.endangered.len()), (2, LISTED));
        assert!(care.holds.iter().all(|hold| plants[hold.plant].owner != GUIDE));
        assert_eq!(care.permitted.map(|at| cultivars[at].protected), Some(true));
    }
}
