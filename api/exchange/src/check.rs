//! Checking a plan without trusting the search that made it.

use std::collections::{BTreeMap, BTreeSet};

use crate::bound::{Claim, Cut, Floor, certificate};
use crate::market::Market;
use crate::plan::{Chain, Move, Plan, Ring};
use crate::presets::{LevelName, Values};
use crate::program::{Aim, Scope};
use crate::rings::MaxRing;

/// Why a plan is not valid for a market.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// The ring at this place does not close, repeats a member, is too long or too short, does not start at
    /// its smallest member, or is run no times.
    #[error("ring {ring} is not a ring of the allowed length")]
    NotARing { ring: usize },
    /// A move of the ring at this place is not possible in the market, or misstates its item or worth.
    #[error("a move of ring {ring} is not possible")]
    NoSuchMove { ring: usize },
    /// The chain at this place is broken, empty, too long, or is run no times.
    #[error("chain {chain} is not a chain of the allowed length")]
    NotAChain { chain: usize },
    /// A move of the chain at this place is not possible in the market, or misstates its item or worth.
    #[error("a move of chain {chain} is not possible")]
    NoSuchStep { chain: usize },
    /// A member starts more chains than agreed.
    #[error("member {member} starts too many chains")]
    OverStarts { member: u64 },
    /// A member gives or receives more than agreed.
    #[error("member {member} gives or receives too much")]
    OverLimit { member: u64 },
    /// An offer gives more than it holds.
    #[error("offer {offer} gives more than it holds")]
    OverOffer { offer: u64 },
    /// A want gets more than it needs.
    #[error("want {want} gets more than it needs")]
    OverWant { want: u64 },
    /// The level at this place is missing, out of order, or states another value than the moves give.
    #[error("the value of level {level} does not follow from the moves")]
    WrongValue { level: usize },
    /// The prices of the level at this place do not give the bound it states, or the bound is below the value.
    #[error("the bound of level {level} does not follow from its prices")]
    WrongBound { level: usize },
    /// The list of unserved wants does not fit the moves at this want.
    #[error("want {want} is wrongly reported served or unserved")]
    WrongUnmet { want: u64 },
}

/// Verifies a plan from the market alone: every move possible and allowed, every ring closed and within its
/// length, every chain started by a giver and unbroken, all limits kept, the values of the levels and their
/// bounds (by weak duality over every ring and step), and how much of each want is missing. All in integers;
/// [`crate::Level::proved`] and the reasons of unserved wants are not rechecked. Cost: as listing the rings,
/// once for each level.
///
/// # Errors
///
/// The first [`Fault`] found.
pub fn check(market: &Market, plan: &Plan) -> Result<(), Fault> {
    let mut tally = Tally::default();
    for (at, ring) in plan.rings.iter().enumerate() {
        if !closed(ring, plan.rules.max_ring) {
            return Err(Fault::NotARing { ring: at });
        }
        for step in &ring.moves {
            if !possible(market, step) {
                return Err(Fault::NoSuchMove { ring: at });
            }
            tally.count(step, ring.times);
        }
    }
    for (at, chain) in plan.chains.iter().enumerate() {
        if !unbroken(chain, plan.rules.max_chain) {
            return Err(Fault::NotAChain { chain: at });
        }
        for step in &chain.moves {
            if !possible(market, step) {
                return Err(Fault::NoSuchStep { chain: at });
            }
            tally.count(step, chain.times);
        }
        if let Some(step) = chain.moves.first() {
            *tally.started.entry(step.from).or_default() += u64::from(chain.times);
        }
    }
    tally.within(market)?;
    let missing: BTreeMap<u64, u64> =
        plan.unmet.iter().map(|unmet| (unmet.want, u64::from(unmet.missing))).collect();
    for want in &market.wants {
        if of(&tally.served, want.id) + of(&missing, want.id) != u64::from(want.need) {
            return Err(Fault::WrongUnmet { want: want.id });
        }
    }
    levels(market, plan, &tally)
}

#[derive(Default)]
struct Tally {
    given: BTreeMap<u64, u64>,
    taken: BTreeMap<u64, u64>,
    offered: BTreeMap<u64, u64>,
    served: BTreeMap<u64, u64>,
    started: BTreeMap<u64, u64>,
}

fn of(counts: &BTreeMap<u64, u64>, id: u64) -> u64 {
    counts.get(&id).copied().unwrap_or(0)
}

impl Tally {
    fn count(&mut self, step: &Move, times: u16) {
        let times = u64::from(times);
        *self.given.entry(step.from).or_default() += times;
        *self.taken.entry(step.to).or_default() += times;
        *self.offered.entry(step.offer).or_default() += times;
        *self.served.entry(step.want).or_default() += times;
    }

    fn within(&self, market: &Market) -> Result<(), Fault> {
        for member in &market.members {
            let id = member.id;
            if of(&self.given, id) > u64::from(member.give) || of(&self.taken, id) > u64::from(member.receive)
            {
                return Err(Fault::OverLimit { member: id });
            }
            let starts =
                market.givers.iter().find(|giver| giver.member == id).map_or(0, |giver| giver.starts);
            if of(&self.started, id) > u64::from(starts) {
                return Err(Fault::OverStarts { member: id });
            }
        }
        for offer in &market.offers {
            if of(&self.offered, offer.id) > u64::from(offer.quantity) {
                return Err(Fault::OverOffer { offer: offer.id });
            }
        }
        for want in &market.wants {
            if of(&self.served, want.id) > u64::from(want.need) {
                return Err(Fault::OverWant { want: want.id });
            }
        }
        Ok(())
    }
}

/// What the rings and chains come to at a level, told from the moves alone.
fn value(market: &Market, plan: &Plan, tally: &Tally, name: LevelName) -> i64 {
    let values = Values::new(&plan.rules);
    let rings = |gain: &dyn Fn(&Ring) -> i64| -> i64 {
        plan.rings.iter().map(|ring| i64::from(ring.times) * gain(ring)).sum()
    };
    let moves = |gain: &dyn Fn(&Move) -> i64| -> i64 {
        let of_rings = plan.rings.iter().map(|ring| (&ring.moves, ring.times));
        let of_chains = plan.chains.iter().map(|chain| (&chain.moves, chain.times));
        of_rings
            .chain(of_chains)
            .map(|(moves, times)| i64::from(times) * moves.iter().map(gain).sum::<i64>())
            .sum()
    };
    let back = |ring: &Ring| {
        let place = |id| market.member_at(id).and_then(|at| u32::try_from(at).ok());
        let connects = |step: &&Move| match (place(step.to), place(step.from)) {
            (Some(from), Some(to)) => market.connects(from, to),
            _ => false,
        };
        if ring.moves.len() == 2 { 0 } else { ring.moves.iter().filter(connects).count() }
    };
    match name {
        LevelName::Expected => {
            let steps =
                |chain: &Chain| -> i64 { (1..=chain.moves.len()).map(|place| values.step(place)).sum() };
            rings(&|ring| values.ring(ring.moves.len(), back(ring)))
                + plan.chains.iter().map(|chain| i64::from(chain.times) * steps(chain)).sum::<i64>()
        }
        LevelName::MembersServed => i64::try_from(tally.taken.len()).unwrap_or(i64::MAX),
        LevelName::WantsServed => moves(&|_| 1),
        LevelName::RankWeight => moves(&|step| i64::from(step.weight)),
        LevelName::Rarity => moves(&|step| i64::from(step.rarity)),
        LevelName::EffectivePairs => rings(&|ring| i64::from(ring.moves.len() == 2 || back(ring) > 0)),
        LevelName::FewestThrees => rings(&|ring| -i64::from(ring.moves.len() == 3)),
        LevelName::BackArcs => rings(&|ring| i64::try_from(back(ring)).unwrap_or(0)),
        LevelName::Credit => moves(&|step| {
            let member = market.member_at(step.to).and_then(|at| market.members.get(at));
            8 + member.map_or(0, |member| i64::from(member.credit.clamp(-7, 7)))
        }),
    }
}

fn levels(market: &Market, plan: &Plan, tally: &Tally) -> Result<(), Fault> {
    let names = plan.rules.preset.levels();
    if plan.levels.len() != names.len() {
        return Err(Fault::WrongValue { level: plan.levels.len() });
    }
    let scope = Scope::new(market, &plan.rules);
    let (mut floors, mut cuts) = (Vec::new(), Vec::new());
    for (at, (level, &name)) in plan.levels.iter().zip(names).enumerate() {
        if (level.name, level.value) != (name, value(market, plan, tally, name)) {
            return Err(Fault::WrongValue { level: at });
        }
        let aim = Aim::Level(name);
        let claim = Claim { aim, floors: floors.clone(), prices: level.prices.clone() };
        match certificate(&scope, &claim, &cuts) {
            Some(bound) if bound.value == level.bound && level.bound >= level.value => {
                cuts.push(Cut::new(&scope, claim, bound, level.value));
                floors.push(Floor { aim, least: level.value });
            }
            _ => return Err(Fault::WrongBound { level: at }),
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

fn unbroken(chain: &Chain, longest: u8) -> bool {
    (1..=usize::from(longest)).contains(&chain.moves.len())
        && chain.moves.iter().zip(chain.moves.iter().skip(1)).all(|(step, next)| step.to == next.from)
        && chain.times > 0
}

fn possible(market: &Market, step: &Move) -> bool {
    step.from != step.to
        && market
            .member_at(step.from)
            .is_some_and(|from| market.out_of(from).any(|arc| market.hand_over(arc) == *step))
}
