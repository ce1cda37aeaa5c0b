//! Listing the rings of a market.
#![allow(clippy::indexing_slicing, reason = "positions come from Market::build, which numbers them densely")]

use std::collections::BinaryHeap;
use std::ops::Range;

use crate::market::{Arc, Market};
use crate::plan::Move;

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

    /// The ring of these moves, if the market has them; they start at the smallest member.
    pub(crate) fn of(market: &Market, moves: &[Move]) -> Option<Self> {
        let mut arcs = [NONE; 3];
        if !(2..=3).contains(&moves.len()) {
            return None;
        }
        for (place, step) in arcs.iter_mut().zip(moves) {
            let from = market.member_at(step.from)?;
            *place = market.out_of(from).find(|&arc| market.hand_over(arc) == *step)?;
        }
        Some(Self { arcs })
    }

    pub(crate) fn steps<'a>(&'a self, market: &'a Market) -> impl Iterator<Item = Arc> + 'a {
        self.arcs().iter().map(|&arc| market.arcs[arc as usize])
    }
}

/// Calls `ring` for every ring whose members all have room, pairs and rings of three mixed, by smallest
/// member. `O(m d)` time and `O(m)` memory for `m` hand-overs of which at most `d` leave one member.
pub(crate) fn visit(market: &Market, max: MaxRing, mut ring: impl FnMut(Cycle)) {
    let open: Vec<bool> = market.members.iter().map(|member| member.give > 0 && member.receive > 0).collect();
    let givers = givers(market);
    // Hand-overs of each member to the present start; empty for all others.
    let mut back: Vec<Range<u32>> = vec![0..0; market.members.len()];
    for start in 0..market.members.len() {
        if !open[start] {
            continue;
        }
        for (giver, arcs) in &givers[start] {
            back[*giver as usize] = arcs.clone();
        }
        for first in after(market, start, start) {
            let second = market.arcs[first as usize].to as usize;
            if !open[second] {
                continue;
            }
            for last in back[second].clone() {
                ring(Cycle { arcs: [first, last, NONE] });
            }
            if max == MaxRing::Two {
                continue;
            }
            for middle in after(market, second, start) {
                let third = market.arcs[middle as usize].to as usize;
                if open[third] {
                    for last in back[third].clone() {
                        ring(Cycle { arcs: [first, middle, last] });
                    }
                }
            }
        }
        for (giver, _) in &givers[start] {
            back[*giver as usize] = 0..0;
        }
    }
}

/// By receiving member: who can give, and through which hand-overs.
fn givers(market: &Market) -> Vec<Vec<(u32, Range<u32>)>> {
    let mut givers: Vec<Vec<(u32, Range<u32>)>> = vec![Vec::new(); market.members.len()];
    for (at, arc) in (0u32..).zip(&market.arcs) {
        let list = &mut givers[arc.to as usize];
        match list.last_mut() {
            Some((giver, arcs)) if *giver == arc.from => arcs.end = at + 1,
            _ => list.push((arc.from, at..at + 1)),
        }
    }
    givers
}

/// Hand-overs of `from` to members after `bound`.
fn after(market: &Market, from: usize, bound: usize) -> Range<u32> {
    let (low, high) = (market.first[from], market.first[from + 1]);
    let own = &market.arcs[low as usize..high as usize];
    let skip = own.partition_point(|arc| arc.to as usize <= bound);
    (low + u32::try_from(skip).unwrap_or(0))..high
}

/// How many rings of at most this length the market has among members with room. `O(m d)` time.
pub fn count_rings(market: &Market, max: MaxRing) -> u64 {
    let mut count = 0;
    visit(market, max, |_| count += 1);
    count
}

/// The rings of a market that a round works with.
pub(crate) struct Listing {
    /// By (length, members, hand-overs).
    pub(crate) cycles: Vec<Cycle>,
    /// By want: some ring serves it.
    pub(crate) reachable: Vec<bool>,
}

/// All rings, or, given what each misses of paying for itself, for every want those that miss least: `share` of
/// them. `O(m d)` time; memory for the rings kept.
pub(crate) fn list(
    market: &Market,
    max: MaxRing,
    nearest: Option<(usize, &dyn Fn(Cycle) -> i128)>,
) -> Listing {
    let mut reachable = vec![false; market.wants.len()];
    let mut cycles = Vec::new();
    let mut near: Vec<BinaryHeap<(i128, u32, [u32; 3])>> = vec![BinaryHeap::new(); market.wants.len()];
    visit(market, max, |cycle| {
        let key = nearest.map(|(share, missing)| (share, (missing(cycle), scattered(cycle), cycle.arcs)));
        for arc in cycle.steps(market) {
            reachable[arc.want as usize] = true;
            let Some((share, key)) = key else { continue };
            let heap = &mut near[arc.want as usize];
            if heap.len() < share {
                heap.push(key);
            } else if let Some(mut last) = heap.peek_mut()
                && key < *last
            {
                *last = key;
            }
        }
        if nearest.is_none() {
            cycles.push(cycle);
        }
    });
    cycles.extend(near.into_iter().flatten().map(|(_, _, arcs)| Cycle { arcs }));
    in_order(market, &mut cycles);
    Listing { cycles, reachable }
}

fn in_order(market: &Market, cycles: &mut Vec<Cycle>) {
    cycles.sort_by_cached_key(|cycle| {
        let mut members = [0; 3];
        for (place, arc) in members.iter_mut().zip(cycle.steps(market)) {
            *place = arc.from;
        }
        (cycle.len(), members, cycle.arcs)
    });
    cycles.dedup();
}

impl Listing {
    /// Keeps these too.
    pub(crate) fn add(&mut self, market: &Market, cycles: impl IntoIterator<Item = Cycle>) {
        self.cycles.extend(cycles);
        in_order(market, &mut self.cycles);
    }
}

/// Of rings that miss as much, not always those of the smallest members (multiplicative hashing: D. E. Knuth,
/// *The Art of Computer Programming* 3, 6.4).
fn scattered(cycle: Cycle) -> u32 {
    cycle.arcs.iter().fold(0u32, |sum, &arc| (sum ^ arc).wrapping_mul(2_654_435_769).rotate_left(15))
}
