//! What one more offer would be worth: "if somebody brought X, four more wants would be met".
//!
//! # Model
//!
//! Somebody who is not named brings one cutting of item `X`, wants nothing in return and may give it to whoever
//! wants `X` (the caller's rule on hand-overs is not asked, as it cannot know who that will be): a free giver
//! with one start. The value of `X` is by how many the wants served grow.
//!
//! At a meeting that is one more unit from the node of gifts over `X` to a want. In the network left open by a
//! best circulation with potentials `y`, no way gains by its reduced profit; the longest way from a want `w` to
//! the node of gifts is one Dijkstra search backwards from there, with lengths `-r >= 0`, for all wants at once:
//!
//! ```text
//! value(X) = max over wants w of X:   1 - distance(w) - y(w) + y(gift)
//! ```
//!
//! It is exact: the largest profit is a concave function of the capacity of one arc, with whole-numbered steps.
//!
//! # Source
//!
//! R. K. Ahuja, T. L. Magnanti, J. B. Orlin, *Network Flows*, Prentice Hall 1993, chapter 9 (successive shortest
//! paths, reduced costs).
//!
//! # Cost
//!
//! One network simplex and one Dijkstra search, whatever the number of items.
#![allow(clippy::indexing_slicing, reason = "nodes and arcs are those of the meeting's own network")]

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use crate::circulation::{BadNetwork, Circulation};
use crate::market::Market;
use crate::meeting::{Aim, Network};

/// An item of which one more would be of use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unlock {
    pub item: u64,
    /// Wants served more than without it, at least 1.
    pub more: u32,
}

/// The items of which one more at the meeting would let more wants be served, the most useful first, then by
/// item.
///
/// # Errors
///
/// [`BadNetwork::TooLarge`] for a market whose sums leave 62 bits.
pub fn unlock_meeting(market: &Market) -> Result<Vec<Unlock>, BadNetwork> {
    let network = Network::new(market, false, true);
    let mut circulation = Circulation::new(network.nodes, network.channels.clone())?;
    let profits = network.profits(market, Aim::WantsServed);
    let optimum = circulation.maximise(&profits)?;
    let ways = ways_to(&circulation, &profits, &optimum.potentials, network.gift);
    let potential = |node: u32| optimum.potentials[node as usize];
    let mut best: BTreeMap<u64, i64> = BTreeMap::new();
    for (at, want) in market.wants.iter().enumerate() {
        let node = network.want(at);
        let Some(distance) = ways[node as usize] else { continue };
        let more = 1 - distance - potential(node) + potential(network.gift);
        for wish in &want.items {
            let value = best.entry(wish.item).or_insert(more);
            *value = more.max(*value);
        }
    }
    let mut unlocks: Vec<Unlock> = best
        .into_iter()
        .filter_map(|(item, more)| {
            u32::try_from(more).ok().filter(|&more| more > 0).map(|more| Unlock { item, more })
        })
        .collect();
    unlocks.sort_by_key(|unlock| (Reverse(unlock.more), unlock.item));
    Ok(unlocks)
}

/// For each node, how much reduced profit a way to `goal` loses at least; `None` where there is no way.
fn ways_to(circulation: &Circulation, profits: &[i64], potentials: &[i64], goal: u32) -> Vec<Option<i64>> {
    let (arcs, flow) = (circulation.arcs(), circulation.flow());
    let mut into: Vec<Vec<(u32, i64)>> = vec![Vec::new(); potentials.len()];
    for (at, arc) in arcs.iter().enumerate() {
        let reduced = profits[at] + potentials[arc.from as usize] - potentials[arc.to as usize];
        if flow[at] < arc.capacity {
            into[arc.to as usize].push((arc.from, -reduced));
        }
        if flow[at] > 0 {
            into[arc.from as usize].push((arc.to, reduced));
        }
    }
    let mut settled = vec![None; potentials.len()];
    let mut heap = BinaryHeap::from([Reverse((0i64, goal))]);
    while let Some(Reverse((distance, node))) = heap.pop() {
        if settled[node as usize].is_some() {
            continue;
        }
        settled[node as usize] = Some(distance);
        for &(before, length) in &into[node as usize] {
            if settled[before as usize].is_none() {
                heap.push(Reverse((distance + length, before)));
            }
        }
    }
    settled
}
