//! Listing the rings of a market.
#![allow(clippy::indexing_slicing, reason = "positions come from Market::build, which numbers them densely")]

use crate::market::{Arc, Market};

/// The longest ring allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum MaxRing {
    /// Straight swaps only.
    Two,
    /// Straight swaps and rings of three members.
    Three,
}

/// A ring as the positions of its hand-overs, from the smallest member on; `arcs[2]` is [`NONE`] in a pair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Cycle {
    arcs: [u32; 3],
}

const NONE: u32 = u32::MAX;

impl Cycle {
    pub(crate) fn len(self) -> usize {
        if self.arcs[2] == NONE { 2 } else { 3 }
    }

    pub(crate) fn arcs(&self) -> &[u32] {
        &self.arcs[..self.len()]
    }

    pub(crate) fn steps<'a>(&'a self, market: &'a Market) -> impl Iterator<Item = Arc> + 'a {
        self.arcs().iter().map(|&arc| market.arcs[arc as usize])
    }
}

/// Rows of the packing: members, then offers, then wants, each in the market's order.
pub(crate) fn rows(market: &Market, cycle: &Cycle, mut row: impl FnMut(usize)) {
    let (members, offers) = (market.members.len(), market.offers.len());
    for arc in cycle.steps(market) {
        row(arc.from as usize);
        row(members + arc.offer as usize);
        row(members + offers + arc.want as usize);
    }
}

/// The right-hand sides of those rows.
pub(crate) fn capacities(market: &Market) -> Vec<u16> {
    let members = market.members.iter().map(|member| member.give.min(member.receive));
    let offers = market.offers.iter().map(|offer| offer.quantity);
    let wants = market.wants.iter().map(|want| want.need);
    members.chain(offers).chain(wants).collect()
}

/// Calls `ring` for every ring whose members all have room, pairs and rings of three mixed, by smallest
/// member. `O(m d)` time for `m` hand-overs of which at most `d` leave one member; no memory.
pub(crate) fn visit(market: &Market, max: MaxRing, mut ring: impl FnMut(Cycle)) {
    let open = |member: u32| {
        let member = market.members[member as usize];
        member.give > 0 && member.receive > 0
    };
    let count = u32::try_from(market.members.len()).unwrap_or(NONE);
    for start in (0..count).filter(|&member| open(member)) {
        for first in after(market, start, start).filter(|&arc| open(market.arcs[arc as usize].to)) {
            let second = market.arcs[first as usize].to;
            for back in between(market, second, start) {
                ring(Cycle { arcs: [first, back, NONE] });
            }
            if max == MaxRing::Two {
                continue;
            }
            for middle in after(market, second, start) {
                let third = market.arcs[middle as usize].to;
                if !open(third) {
                    continue;
                }
                for back in between(market, third, start) {
                    ring(Cycle { arcs: [first, middle, back] });
                }
            }
        }
    }
}

/// How many rings of at most this length the market has among members with room. `O(m d)` time, no memory.
pub fn count_rings(market: &Market, max: MaxRing) -> u64 {
    let mut count = 0;
    visit(market, max, |_| count += 1);
    count
}

/// Hand-overs of `from` to members after `bound`.
fn after(market: &Market, from: u32, bound: u32) -> impl Iterator<Item = u32> + use<> {
    let (low, high) = (market.first[from as usize], market.first[from as usize + 1]);
    let own = &market.arcs[low as usize..high as usize];
    let skip = own.partition_point(|arc| arc.to <= bound);
    (low + u32::try_from(skip).unwrap_or(0))..high
}

/// Hand-overs of `from` to `to`.
fn between(market: &Market, from: u32, to: u32) -> impl Iterator<Item = u32> + use<> {
    let (low, high) = (market.first[from as usize], market.first[from as usize + 1]);
    let own = &market.arcs[low as usize..high as usize];
    let start = own.partition_point(|arc| arc.to < to);
    let end = start + own[start..].partition_point(|arc| arc.to == to);
    (low + u32::try_from(start).unwrap_or(0))..(low + u32::try_from(end).unwrap_or(0))
}

/// What [`list`] found.
pub(crate) struct Listing {
    /// By (length, members, hand-overs).
    pub(crate) cycles: Vec<Cycle>,
    /// How many rings there are, kept or not.
    pub(crate) total: u64,
    /// By want: some ring serves it.
    pub(crate) reachable: Vec<bool>,
}

impl Listing {
    pub(crate) fn complete(&self) -> bool {
        self.total == self.cycles.len() as u64
    }
}

/// All rings, or, where there are more than `limit`, those that give every member its share: a ring is then
/// kept while one of its members is in fewer than `limit / members` (at least one) kept rings.
pub(crate) fn list(market: &Market, max: MaxRing, limit: u32) -> Listing {
    let mut total = 0u64;
    let mut reachable = vec![false; market.wants.len()];
    visit(market, max, |cycle| {
        total += 1;
        for arc in cycle.steps(market) {
            reachable[arc.want as usize] = true;
        }
    });
    let members = market.members.len().max(1);
    let share = if total > u64::from(limit) { (limit as usize / members).max(1) } else { usize::MAX };
    let mut kept = vec![0usize; members];
    let mut cycles = Vec::new();
    visit(market, max, |cycle| {
        if cycle.steps(market).any(|arc| kept[arc.from as usize] < share) {
            for arc in cycle.steps(market) {
                kept[arc.from as usize] += 1;
            }
            cycles.push(cycle);
        }
    });
    cycles.sort_by_cached_key(|cycle| {
        let mut members = [0; 3];
        for (place, arc) in members.iter_mut().zip(cycle.steps(market)) {
            *place = arc.from;
        }
        (cycle.len(), members, cycle.arcs)
    });
    Listing { cycles, total, reachable }
}
