//! Why a plan is as it is.

use std::collections::{BTreeMap, BTreeSet};

use crate::market::{Market, Reason};
use crate::plan::{Chain, Move, Ring, Unmet, Why};

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
