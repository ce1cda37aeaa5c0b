//! Cuttings offered and wanted, before two rounds of the swap.
//!
//! Left to themselves, a few hundred offers and wants hold some rings; members who talk to each other at a
//! meeting make more. So most wants here are told along a circle of two or three members, each wanting what
//! the one before offers; the others are of anything offered, and some of what nobody offers.
#![allow(clippy::indexing_slicing, reason = "every index is that of a plant, person or cultivar made before")]

use std::collections::{BTreeMap, BTreeSet};

use storksbill_domain::words::{CultivarStatus, PlantGroup};

use crate::cultivars::Cultivar;
use crate::people::GUIDE;
use crate::plants::Plant;
use crate::random::Random;

/// Cuttings from a plant of the member's own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    pub member: usize,
    pub plant: usize,
    pub cultivar: usize,
    pub how_many: i32,
    pub note: Option<&'static str>,
}

/// A cultivar a member would like one cutting of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Want {
    pub member: usize,
    pub cultivar: usize,
    /// 1 is the dearest; each member's run on through both rounds.
    pub rank: i32,
    pub note: Option<&'static str>,
}

/// What would meet a want that names no single cultivar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Choices {
    /// Any of these, the dearest first.
    AnyOf(Vec<usize>),
    /// Any of a group.
    Group(PlantGroup),
}

/// One cutting of any of several cultivars that a member would like.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BroadWant {
    pub member: usize,
    pub choices: Choices,
    pub rank: i32,
}

/// What is new before one round.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Listed {
    pub offers: Vec<Offer>,
    pub wants: Vec<Want>,
    pub broad: Vec<BroadWant>,
}

const OFFER_NOTES: [&str; 4] = [
    "Rooted by the end of the month.",
    "Tip cuttings, to be fetched at the meeting.",
    "From a plant that is two years old.",
    "Taken from the last stop.",
];

const WANT_NOTES: [&str; 3] =
    ["Lost mine in the winter.", "For the summer show next year.", "To cross with my own seedlings."];

/// Offers and wants before the round that is past and before the one that is open; `offers` and `wants` in
/// all.
pub fn generate(
    seed: u64,
    (offers, wants): (usize, usize),
    plants: &[Plant],
    cultivars: &[Cultivar],
) -> [Listed; 2] {
    let mut random = Random::stream(seed, "swaps", &[]);
    let mut broad_random = Random::stream(seed, "broad wants", &[]);
    let mut listed = [Listed::default(), Listed::default()];
    let mut offered = offered(&mut random, offers, plants, cultivars);
    let held: BTreeSet<(usize, usize)> = plants.iter().map(|p| (p.owner, p.cultivar)).collect();
    let later = offered.split_off(offered.len() * 45 / 100);
    let mut wishes = Wishes { asked: BTreeSet::new(), ranks: BTreeMap::new(), held };
    for (round, (offers, share)) in
        listed.iter_mut().zip([(offered, wants * 45 / 100), (later, wants * 55 / 100)])
    {
        round.wants = wishes.of_round(&mut random, share, &offers, cultivars);
        round.broad = wishes.broad(&mut broad_random, (share / 8).max(1), &offers, cultivars);
        round.offers = offers;
    }
    listed
}

fn may_change_hands(cultivar: &Cultivar) -> bool {
    !cultivar.protected && cultivar.status != CultivarStatus::Seedling
}

/// At most one offer of a cultivar by a member, in random order.
fn offered(random: &mut Random, count: usize, plants: &[Plant], cultivars: &[Cultivar]) -> Vec<Offer> {
    let mut from: Vec<usize> =
        (0..plants.len()).filter(|&at| may_change_hands(&cultivars[plants[at].cultivar])).collect();
    random.shuffle(&mut from);
    let mut met = BTreeSet::new();
    from.retain(|&at| met.insert((plants[at].owner, plants[at].cultivar)));
    // The member shown first offers something before each round.
    for place in [0, count.min(from.len()).saturating_sub(1)] {
        let own = (place..from.len()).rfind(|&at| plants[from[at]].owner == GUIDE);
        if let Some(own) = own {
            from.swap(place, own);
        }
    }
    from.truncate(count);
    from.into_iter()
        .map(|at| Offer {
            member: plants[at].owner,
            plant: at,
            cultivar: plants[at].cultivar,
            how_many: random.between(1, 4),
            note: random.chance(0.3).then(|| *random.pick(&OFFER_NOTES)),
        })
        .collect()
}

struct Wishes {
    asked: BTreeSet<(usize, usize)>,
    ranks: BTreeMap<usize, i32>,
    held: BTreeSet<(usize, usize)>,
}

impl Wishes {
    fn of_round(
        &mut self,
        random: &mut Random,
        count: usize,
        offers: &[Offer],
        cultivars: &[Cultivar],
    ) -> Vec<Want> {
        let mut wants = Vec::with_capacity(count);
        let mut by_member: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for offer in offers {
            by_member.entry(offer.member).or_default().push(offer.cultivar);
        }
        let members: Vec<usize> = by_member.keys().copied().collect();
        wants.extend(self.guides_ring(random, &by_member));
        // Tries are bounded: in a very small society there may be nothing left to want.
        for _ in 0..count * 20 {
            if wants.len() >= count || members.len() < 3 {
                break;
            }
            match *random.weighted(&[(0, 0.3), (1, 0.6), (2, 0.1)]) {
                0 => {
                    let mut circle = members.clone();
                    random.shuffle(&mut circle);
                    circle.truncate(if random.chance(0.45) { 2 } else { 3 });
                    for at in 0..circle.len() {
                        let giver = circle[(at + 1) % circle.len()];
                        let cultivar = *random.pick(&by_member[&giver]);
                        wants.extend(self.want(random, circle[at], cultivar));
                    }
                }
                1 => {
                    let cultivar = random.pick(offers).cultivar;
                    let member = *random.pick(&members);
                    wants.extend(self.want(random, member, cultivar));
                }
                _ => {
                    let cultivar = random.below(cultivars.len());
                    if may_change_hands(&cultivars[cultivar]) {
                        let member = *random.pick(&members);
                        wants.extend(self.want(random, member, cultivar));
                    }
                }
            }
        }
        wants
    }

    /// The member shown first and somebody else want each other's.
    fn guides_ring(&mut self, random: &mut Random, by_member: &BTreeMap<usize, Vec<usize>>) -> Vec<Want> {
        let Some(own) = by_member.get(&GUIDE) else { return Vec::new() };
        let mut others: Vec<usize> = by_member.keys().copied().filter(|member| *member != GUIDE).collect();
        random.shuffle(&mut others);
        let new_to = |member: usize, offered: &[usize]| {
            offered
                .iter()
                .copied()
                .find(|&c| !self.held.contains(&(member, c)) && !self.asked.contains(&(member, c)))
        };
        let ring = others
            .into_iter()
            .find_map(|other| Some((other, new_to(other, own)?, new_to(GUIDE, &by_member[&other])?)));
        let Some((other, given, taken)) = ring else { return Vec::new() };
        [self.want(random, other, given), self.want(random, GUIDE, taken)].into_iter().flatten().collect()
    }

    /// Wants of any of several cultivars on offer, and of groups; the first is of the member shown first.
    fn broad(
        &mut self,
        random: &mut Random,
        count: usize,
        offers: &[Offer],
        cultivars: &[Cultivar],
    ) -> Vec<BroadWant> {
        let mut wants = Vec::with_capacity(count);
        for number in 0..count {
            let member = if number == 0 { GUIDE } else { random.pick(offers).member };
            let mut any: Vec<usize> = Vec::new();
            for _ in 0..8 {
                let cultivar = random.pick(offers).cultivar;
                if !self.held.contains(&(member, cultivar)) && !any.contains(&cultivar) {
                    any.push(cultivar);
                }
            }
            any.truncate(5);
            let group = cultivars[random.pick(offers).cultivar].group;
            let of_group = number > 0 && random.chance(0.4);
            let choices = match any.len() {
                0 | 1 => Choices::Group(group),
                _ if of_group => Choices::Group(group),
                _ => Choices::AnyOf(any),
            };
            let rank = self.ranks.entry(member).or_insert(0);
            *rank += 1;
            wants.push(BroadWant { member, choices, rank: *rank });
        }
        wants
    }

    /// Nobody wants what they hold, or the same twice.
    fn want(&mut self, random: &mut Random, member: usize, cultivar: usize) -> Option<Want> {
        if self.held.contains(&(member, cultivar)) || !self.asked.insert((member, cultivar)) {
            return None;
        }
        let rank = self.ranks.entry(member).or_insert(0);
        *rank += 1;
        let note = random.chance(0.2).then(|| *random.pick(&WANT_NOTES));
        Some(Want { member, cultivar, rank: *rank, note })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{cultivars, people, plants};

    #[test]
    fn there_are_some_two_hundred_offers_and_two_hundred_and_fifty_wants_with_rings_among_them() {
        let people = people::generate(11, 150);
        let cultivars = cultivars::generate(11, 400, 2026, &people);
        let plants = plants::generate(11, 1_500, (2021, 2026), &people, &cultivars);
        let rounds = generate(11, (200, 250), &plants, &cultivars);
        let offers: usize = rounds.iter().map(|round| round.offers.len()).sum();
        let wants: usize = rounds.iter().map(|round| round.wants.len()).sum();
        assert_eq!(offers, 200);
        assert!((245..=256).contains(&wants), "{wants}");

        let mut asked = BTreeSet::new();
        for round in &rounds {
            let gives: BTreeSet<(usize, usize)> =
                round.offers.iter().map(|o| (o.member, o.cultivar)).collect();
            for offer in &round.offers {
                assert!(may_change_hands(&cultivars[offer.cultivar]));
                assert_eq!(plants[offer.plant].owner, offer.member);
            }
            for want in &round.wants {
                assert!(asked.insert((want.member, want.cultivar)), "{want:?}");
                assert!(plants.iter().all(|p| (p.owner, p.cultivar) != (want.member, want.cultivar)));
                assert!(may_change_hands(&cultivars[want.cultivar]));
                assert!((1..=100).contains(&want.rank));
            }
            let any_of = |want: &BroadWant| matches!(want.choices, Choices::AnyOf(_));
            assert!(round.broad.iter().any(|want| !any_of(want)), "{:?}", round.broad);
            assert!(any_of(&round.broad[0]) && round.broad[0].member == GUIDE, "{:?}", round.broad[0]);
            let serves = |giver: usize, receiver: usize| {
                round.wants.iter().any(|w| w.member == receiver && gives.contains(&(giver, w.cultivar)))
            };
            let members: BTreeSet<usize> = round.offers.iter().map(|o| o.member).collect();
            assert!(members.contains(&GUIDE) && round.wants.iter().any(|w| w.member == GUIDE));
            // Pairs of members who can serve each other.
            let pairs = members
                .iter()
                .flat_map(|a| members.range(a + 1..).map(move |b| (*a, *b)))
                .filter(|(a, b)| serves(*a, *b) && serves(*b, *a))
                .count();
            assert!(pairs >= 5, "{pairs}");
        }
    }
}
