//! Checking a plan without trusting the search that made it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use crate::bound::certificate;
use crate::market::{Market, Member, Offer, Want, rank_weight};
use crate::rings::MaxRing;
use crate::solve::{LevelName, Move, Plan, Ring};

/// Why a plan is not valid for a market.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The ring at this place does not close, repeats a member, is too long or too short, does not start at
    /// its smallest member, or is run no times.
    NotARing { ring: usize },
    /// A move of the ring at this place is not possible in the market, or misstates its item or weight.
    NoSuchMove { ring: usize },
    /// A member gives or receives more than agreed.
    OverLimit { member: u64 },
    /// An offer gives more than it holds.
    OverOffer { offer: u64 },
    /// A want gets more than it needs.
    OverWant { want: u64 },
    /// The level at this place is missing, out of order, or states another value than the moves give.
    WrongValue { level: usize },
    /// The prices of the level at this place do not give the bound it states, or the bound is below the value.
    WrongBound { level: usize },
    /// The list of unserved wants does not fit the moves at this want.
    WrongUnmet { want: u64 },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotARing { ring } => write!(f, "ring {ring} is not a ring of the allowed length"),
            Self::NoSuchMove { ring } => write!(f, "a move of ring {ring} is not possible"),
            Self::OverLimit { member } => write!(f, "member {member} gives or receives too much"),
            Self::OverOffer { offer } => write!(f, "offer {offer} gives more than it holds"),
            Self::OverWant { want } => write!(f, "want {want} gets more than it needs"),
            Self::WrongValue { level } => {
                write!(f, "the value of level {level} does not follow from the moves")
            }
            Self::WrongBound { level } => {
                write!(f, "the bound of level {level} does not follow from its prices")
            }
            Self::WrongUnmet { want } => write!(f, "want {want} is wrongly reported served or unserved"),
        }
    }
}

impl std::error::Error for Fault {}

/// Verifies a plan from the market alone: every move possible and allowed, every ring closed and within its
/// length, all limits kept, the values of the levels and their bounds (by weak duality over every ring), and
/// how much of each want is missing. All in integers; [`crate::Level::proved`] and the reasons of unserved
/// wants are not rechecked. Cost: as listing the rings, twice.
///
/// # Errors
///
/// The first [`Fault`] found.
pub fn check(market: &Market, plan: &Plan) -> Result<(), Fault> {
    let mut given: BTreeMap<u64, u64> = BTreeMap::new();
    let mut taken: BTreeMap<u64, u64> = BTreeMap::new();
    let mut offered: BTreeMap<u64, u64> = BTreeMap::new();
    let mut served: BTreeMap<u64, u64> = BTreeMap::new();
    let (mut count, mut weight) = (0i64, 0i64);
    for (at, ring) in plan.rings.iter().enumerate() {
        if !closed(ring, plan.max_ring) {
            return Err(Fault::NotARing { ring: at });
        }
        for step in &ring.moves {
            if !possible(market, step) {
                return Err(Fault::NoSuchMove { ring: at });
            }
            let times = u64::from(ring.times);
            *given.entry(step.from).or_default() += times;
            *taken.entry(step.to).or_default() += times;
            *offered.entry(step.offer).or_default() += times;
            *served.entry(step.want).or_default() += times;
            count += i64::from(ring.times);
            weight += i64::from(ring.times) * i64::from(step.weight);
        }
    }
    let of = |counts: &BTreeMap<u64, u64>, id: u64| counts.get(&id).copied().unwrap_or(0);
    for &Member { id, give, receive } in &market.members {
        if of(&given, id) > u64::from(give) || of(&taken, id) > u64::from(receive) {
            return Err(Fault::OverLimit { member: id });
        }
    }
    for offer in &market.offers {
        if of(&offered, offer.id) > u64::from(offer.quantity) {
            return Err(Fault::OverOffer { offer: offer.id });
        }
    }
    let missing: BTreeMap<u64, u64> =
        plan.unmet.iter().map(|unmet| (unmet.want, u64::from(unmet.missing))).collect();
    for want in &market.wants {
        let (got, need) = (of(&served, want.id), u64::from(want.need));
        if got > need {
            return Err(Fault::OverWant { want: want.id });
        }
        if got + of(&missing, want.id) != need {
            return Err(Fault::WrongUnmet { want: want.id });
        }
    }
    levels(market, plan, count, weight)
}

fn levels(market: &Market, plan: &Plan, count: i64, weight: i64) -> Result<(), Fault> {
    let expected = [(LevelName::WantsServed, count, 0), (LevelName::RankWeight, weight, count)];
    if plan.levels.len() != expected.len() {
        return Err(Fault::WrongValue { level: plan.levels.len() });
    }
    for (at, (level, (name, value, floor))) in plan.levels.iter().zip(expected).enumerate() {
        if (level.name, level.value) != (name, value) {
            return Err(Fault::WrongValue { level: at });
        }
        let bound = certificate(market, plan.max_ring, name, floor, &level.prices);
        if bound.map(|bound| bound.value) != Some(level.bound) || level.bound < level.value {
            return Err(Fault::WrongBound { level: at });
        }
    }
    Ok(())
}

fn closed(ring: &Ring, max: MaxRing) -> bool {
    let members: BTreeSet<u64> = ring.moves.iter().map(|step| step.from).collect();
    let longest = if max == MaxRing::Two { 2 } else { 3 };
    let next = ring.moves.iter().cycle().skip(1);
    (2..=longest).contains(&ring.moves.len())
        && members.len() == ring.moves.len()
        && members.first() == ring.moves.first().map(|step| &step.from)
        && ring.moves.iter().zip(next).all(|(step, next)| step.to == next.from)
        && ring.times > 0
}

fn possible(market: &Market, step: &Move) -> bool {
    let offer: Option<&Offer> = market
        .offers
        .binary_search_by_key(&step.offer, |offer| offer.id)
        .ok()
        .and_then(|at| market.offers.get(at));
    let want: Option<&Want> = market
        .wants
        .binary_search_by_key(&step.want, |want| want.id)
        .ok()
        .and_then(|at| market.wants.get(at));
    let (Some(offer), Some(want)) = (offer, want) else { return false };
    offer.member == step.from
        && want.member == step.to
        && step.from != step.to
        && offer.item == step.item
        && want.items.contains(&step.item)
        && step.weight == rank_weight(want.rank)
        && market
            .refused
            .binary_search_by_key(&(offer.id, want.id), |&(offer, want, _)| (offer, want))
            .is_err()
}
