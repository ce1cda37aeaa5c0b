//! Chains: how far a giver's gift can come, and reading chains off the steps of a solved program.
#![allow(clippy::indexing_slicing, reason = "positions come from Market::build, which numbers them densely")]

use std::collections::BTreeMap;

use crate::market::Market;
use crate::plan::Chain;

/// By member: the first place at which a chain from some giver can reach them, if not after `longest`; else
/// 0. Breadth first, `O(members + hand-overs)`.
pub(crate) fn reach(market: &Market, longest: u8) -> Vec<u8> {
    let mut first = vec![0u8; market.members.len()];
    let mut front: Vec<usize> =
        market.givers.iter().filter_map(|giver| market.member_at(giver.member)).collect();
    for place in 1..=longest {
        let mut next = Vec::new();
        for from in front {
            for arc in &market.arcs[market.first[from] as usize..market.first[from + 1] as usize] {
                let to = arc.to as usize;
                if first[to] == 0 {
                    first[to] = place;
                    next.push(to);
                }
            }
        }
        front = next;
    }
    first
}

/// Chains from how often each hand-over is made at each place (`(place, hand-over) -> times`, places from 1):
/// starting with the smallest hand-over, each goes on with the smallest that is left. Whatever the order, the
/// rows of the program see to it that every step is reached by a chain.
pub(crate) fn decompose(market: &Market, mut steps: BTreeMap<(u8, u32), u16>) -> Vec<Chain> {
    let mut chains: Vec<Chain> = Vec::new();
    while let Some((&(1, first), _)) = steps.first_key_value() {
        let mut arcs = vec![first];
        let mut at = market.arcs[first as usize].to as usize;
        for place in 2u8.. {
            let own = (place, market.first[at])..(place, market.first[at + 1]);
            let Some((&(_, arc), _)) = steps.range(own).next() else { break };
            arcs.push(arc);
            at = market.arcs[arc as usize].to as usize;
        }
        let keys = || (1u8..).zip(arcs.iter().copied());
        let times = keys().filter_map(|key| steps.get(&key)).min().copied().unwrap_or(1);
        for key in keys() {
            if let Some(left) = steps.get_mut(&key) {
                *left -= times;
                if *left == 0 {
                    steps.remove(&key);
                }
            }
        }
        chains.push(Chain { moves: arcs.iter().map(|&arc| market.hand_over(arc)).collect(), times });
    }
    chains
}
