//! Why a plan is as it is: what a ring is chosen for, and what stands in the way of a want.
//!
//! Both are answered by another round, started from the plan, in which the ring must not run or the want must
//! be served. Its first level that falls short tells the price, between what the round found (at most) and what
//! its bound allows (at least).

use std::collections::{BTreeMap, BTreeSet};

use crate::market::{Market, Reason, Want};
use crate::meeting::Meeting;
use crate::plan::{Chain, Level, Move, Plan, Ring, Rules, Unmet, Why, Work};
use crate::presets::{LevelName, Values, ring_gain};
use crate::program::Scope;
use crate::rings::Cycle;
use crate::solve::Round;

/// What a change of the plan would cost: the first level that falls short of the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Loss {
    pub level: LevelName,
    /// What the plan reaches.
    pub value: i64,
    /// No plan with the change loses less; 0 where the work did not suffice to tell.
    pub at_least: i64,
    /// A plan with the change was found that loses so much.
    pub at_most: i64,
}

/// Why a ring is in the plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RingCase {
    /// What all runs of the ring add to each level of the plan. [`LevelName::MembersServed`] counts its members,
    /// whom other rings may serve as well.
    pub adds: Vec<(LevelName, i64)>,
    /// What the best plan without it would lose; none: another plan is as good on every level.
    pub without: Option<Loss>,
}

/// Why a want is not, or not wholly, served.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WantCase {
    pub unmet: Unmet,
    /// Hand-overs that could serve it, in use elsewhere or not.
    pub possible: u32,
    /// Hand-overs the caller's rule refused: reason and how many, by reason.
    pub refused: Vec<(Reason, u32)>,
    /// Cuttings its member gives in the plan, and gives at most.
    pub given: (u32, u16),
    /// Cuttings its member receives in the plan, and receives at most.
    pub received: (u32, u16),
    pub forced: Forced,
}

/// What serving one more cutting of a want would do to the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Forced {
    /// No plan was found that serves it; where no ring or chain passes through it there is none.
    NoPlan,
    /// It would lose this much.
    Costs(Loss),
    /// A plan that serves it is as good on every level.
    AsGood,
}

/// Why the ring at this place of `plan.rings` was chosen. Costs a round, within `work`. `None`: no such ring.
pub fn explain_ring(market: &Market, plan: &Plan, ring: usize, work: &Work) -> Option<RingCase> {
    let ring = plan.rings.get(ring)?;
    let cycle = Cycle::of(market, &ring.moves)?;
    let values = Values::new(&plan.rules);
    let gain = |&name: &LevelName| {
        let one = ring_gain(market, &values, cycle, name, |_| false);
        (name, i64::from(ring.times) * one)
    };
    let adds = plan.rules.preset.levels().iter().map(gain).collect();
    let mut scope = Scope::new(market, &Rules { work: *work, ..plan.rules });
    scope.banned = Some(cycle);
    let mut never = || false;
    let mut round = Round::new(scope, Some(plan), &mut never);
    round.start(plan);
    round.levels_beside(plan);
    Some(RingCase { adds, without: loss(plan, round.reached()) })
}

/// What stands in the way of an unserved want, by its id. Costs a round, within `work`. `None`: the plan serves
/// it, or there is no such want.
pub fn explain_want(market: &Market, plan: &Plan, want: u64, work: &Work) -> Option<WantCase> {
    let unmet = *plan.unmet.iter().find(|unmet| unmet.want == want)?;
    let at = market.wants.binary_search_by_key(&want, |want| want.id).ok()?;
    let place = market.member_at(market.wants.get(at)?.member)?;
    let member = market.members.get(place)?;
    let at = u32::try_from(at).ok()?;
    let mut refused: BTreeMap<Reason, u32> = BTreeMap::new();
    for &(_, _, reason) in market.refused.iter().filter(|&&(_, refused, _)| refused == want) {
        *refused.entry(reason).or_default() += 1;
    }
    let (mut given, mut received, mut served) = (0, 0, 0);
    for (step, times) in moves(&plan.rings, &plan.chains) {
        given += if step.from == member.id { u32::from(times) } else { 0 };
        received += if step.to == member.id { u32::from(times) } else { 0 };
        served += if step.want == want { i64::from(times) } else { 0 };
    }
    let mut never = || false;
    let scope = Scope::new(market, &Rules { work: *work, ..plan.rules });
    let mut round = Round::new(scope, Some(plan), &mut never);
    round.start(plan);
    let forced = if round.force(at, served + 1) {
        round.levels_beside(plan);
        loss(plan, round.reached()).map_or(Forced::AsGood, Forced::Costs)
    } else {
        Forced::NoPlan
    };
    Some(WantCase {
        unmet,
        possible: u32::try_from(market.arcs.iter().filter(|arc| arc.want == at).count()).unwrap_or(u32::MAX),
        refused: refused.into_iter().collect(),
        given: (given, member.give),
        received: (received, member.receive),
        forced,
    })
}

fn loss(plan: &Plan, other: &[Level]) -> Option<Loss> {
    let differs = |(now, other): &(&Level, &Level)| other.value != now.value;
    let (now, other) = plan.levels.iter().zip(other).find(differs)?;
    // A plan that was not proved may even be bettered: then nothing is lost.
    (other.value < now.value).then_some(Loss {
        level: now.name,
        value: now.value,
        at_least: (now.value - other.bound).max(0),
        at_most: now.value - other.value,
    })
}

/// The wants that a meeting leaves unserved, by id. A want is taken for within reach where its member can give
/// anything or a gift may end with them.
pub fn unmet_at_meeting(market: &Market, meeting: &Meeting) -> Vec<Unmet> {
    let gives = |member: u64| {
        market.member_at(member).is_some_and(|place| {
            !market.out_of(place).is_empty() && market.members.get(place).is_some_and(|own| own.give > 0)
        })
    };
    let in_reach = |want: &Want| !market.givers.is_empty() || gives(want.member);
    let reachable: Vec<bool> = market.wants.iter().map(in_reach).collect();
    unmet(market, &meeting.rings, &meeting.chains, &reachable)
}

/// The moves of a plan and how often each is made.
fn moves<'a>(rings: &'a [Ring], chains: &'a [Chain]) -> impl Iterator<Item = (&'a Move, u16)> {
    let of_rings = rings.iter().flat_map(|ring| ring.moves.iter().map(|step| (step, ring.times)));
    let of_chains = chains.iter().flat_map(|chain| chain.moves.iter().map(|step| (step, chain.times)));
    of_rings.chain(of_chains)
}

/// The wants a plan leaves unserved. `reachable` says of each want, in the market's order, whether any ring or
/// step of a chain serves it.
pub(crate) fn unmet(market: &Market, rings: &[Ring], chains: &[Chain], reachable: &[bool]) -> Vec<Unmet> {
    let mut served: BTreeMap<u64, u32> = BTreeMap::new();
    let mut given: BTreeMap<u64, u32> = BTreeMap::new();
    let mut taken: BTreeMap<u64, u32> = BTreeMap::new();
    for (step, times) in moves(rings, chains) {
        *served.entry(step.want).or_default() += u32::from(times);
        *given.entry(step.from).or_default() += u32::from(times);
        *taken.entry(step.to).or_default() += u32::from(times);
    }
    let count = |counts: &BTreeMap<u64, u32>, id| counts.get(&id).copied().unwrap_or(0);
    let matched: BTreeSet<u32> = market.arcs.iter().map(|arc| arc.want).collect();
    let mut refused: BTreeMap<u64, Reason> = BTreeMap::new();
    for &(_, want, reason) in &market.refused {
        refused.entry(want).or_insert(reason);
    }
    let mut unmet = Vec::new();
    for (at, want) in (0u32..).zip(&market.wants) {
        let missing = u32::from(want.need).saturating_sub(count(&served, want.id));
        let Some(place) = market.member_at(want.member) else { continue };
        let Some(member) = market.members.get(place) else { continue };
        if missing == 0 {
            continue;
        }
        let reached = reachable.get(at as usize) == Some(&true);
        let why = if !matched.contains(&at) {
            refused.get(&want.id).map_or(Why::NobodyOffers, |&reason| Why::Refused(reason))
        } else if member.receive == 0 || (reached && count(&taken, member.id) >= u32::from(member.receive)) {
            Why::ReceiveLimit
        } else if !reached && member.give == 0 {
            Why::GiveLimit
        } else if !reached && market.out_of(place).is_empty() {
            Why::NothingToGive
        } else if !reached {
            Why::NoRingCloses
        } else if count(&given, member.id) >= u32::from(member.give) {
            Why::GiveLimit
        } else {
            Why::BetterRing
        };
        unmet.push(Unmet { want: want.id, missing: u16::try_from(missing).unwrap_or(u16::MAX), why });
    }
    unmet
}
