//! Telling a set of hand-overs as rings and chains of any length.
//!
//! A set in which everybody gives as many as they receive falls apart into rings, in many ways; members who
//! give more than they receive start chains that end with those who receive more. Always following the
//! smallest hand-over left makes one of the ways. `O(m)` steps for `m` cuttings.
#![allow(clippy::indexing_slicing, reason = "positions come from Market::build")]

use std::collections::BTreeMap;

use crate::market::Market;
use crate::plan::{Chain, Ring};

/// Takes hand-overs apart into walks, the smallest hand-over first.
pub(crate) struct Story<'a> {
    market: &'a Market,
    left: Vec<i64>,
    /// By member: the first hand-over out that may have something left.
    next: Vec<u32>,
    /// By member: given less received, of what is left.
    surplus: Vec<i64>,
    /// By member: place on the present walk.
    on_walk: Vec<Option<usize>>,
    rings: BTreeMap<(usize, Vec<u32>), u16>,
    chains: BTreeMap<(usize, Vec<u32>), u16>,
}

impl<'a> Story<'a> {
    pub(crate) fn new(market: &'a Market, flow: &[i64]) -> Self {
        let members = market.members.len();
        let mut surplus = vec![0; members];
        for (arc, &times) in market.arcs.iter().zip(flow) {
            surplus[arc.from as usize] += times;
            surplus[arc.to as usize] -= times;
        }
        Self {
            market,
            left: flow[..market.arcs.len()].to_vec(),
            next: market.first.clone(),
            surplus,
            on_walk: vec![None; members],
            rings: BTreeMap::new(),
            chains: BTreeMap::new(),
        }
    }

    pub(crate) fn tell(mut self) -> (Vec<Ring>, Vec<Chain>) {
        for member in 0..self.market.members.len() {
            while self.surplus[member] > 0 {
                let (walk, last) = self.walk(member);
                self.surplus[member] -= 1;
                self.surplus[last] += 1;
                *self.chains.entry((walk.len(), walk)).or_default() += 1;
            }
        }
        for member in 0..self.market.members.len() {
            while self.following(member).is_some() {
                self.walk(member);
            }
        }
        let steps = |walk: &[u32]| walk.iter().map(|&arc| self.market.hand_over(arc)).collect();
        let rings = self.rings.iter().map(|((_, walk), &times)| Ring { moves: steps(walk), times });
        let chains = self.chains.iter().map(|((_, walk), &times)| Chain { moves: steps(walk), times });
        (rings.collect(), chains.collect())
    }

    fn following(&mut self, member: usize) -> Option<u32> {
        let end = self.market.first[member + 1];
        let next = &mut self.next[member];
        while *next < end && self.left[*next as usize] == 0 {
            *next += 1;
        }
        (*next < end).then_some(*next)
    }

    /// Follows hand-overs from `start` to a member who receives more than they give, or until nothing is left
    /// to follow; whatever closes on the way becomes a ring. Returns what did not close, and where it ends.
    fn walk(&mut self, start: usize) -> (Vec<u32>, usize) {
        let mut walk: Vec<u32> = Vec::new();
        let mut member = start;
        self.on_walk[start] = Some(0);
        while self.surplus[member] >= 0
            && let Some(arc) = self.following(member)
        {
            self.left[arc as usize] -= 1;
            walk.push(arc);
            member = self.market.arcs[arc as usize].to as usize;
            if let Some(place) = self.on_walk[member] {
                let mut ring = walk.split_off(place);
                for &arc in &ring {
                    self.on_walk[self.market.arcs[arc as usize].from as usize] = None;
                }
                // Hand-overs are ordered by giver, so the smallest hand-over leaves the smallest member.
                let smallest = ring.iter().enumerate().min_by_key(|&(_, &arc)| arc).map_or(0, |(at, _)| at);
                ring.rotate_left(smallest);
                *self.rings.entry((ring.len(), ring)).or_default() += 1;
            }
            self.on_walk[member] = Some(walk.len());
        }
        for &arc in &walk {
            self.on_walk[self.market.arcs[arc as usize].from as usize] = None;
        }
        self.on_walk[member] = None;
        (walk, member)
    }
}
