//! What one more offer would be worth: "if somebody brought X, four more wants would be met".
//!
//! # Model
//!
//! Somebody who is not named brings one cutting of item `X`, wants nothing in return and may give it to
//! whoever wants `X` (the caller's rule on hand-overs is not asked, as it cannot know who that will be): a
//! free giver with one start. The value of `X` is by how many the wants served grow.
//!
//! At a meeting that is one more unit from the node of gifts over `X` to a want. In the network left open by
//! a best circulation with potentials `y`, no way gains by its reduced profit; the longest way from a want
//! `w` to the node of gifts is one Dijkstra search backwards from there, with lengths `-r >= 0`, for all
//! wants at once:
//!
//! ```text
//! value(X) = max over wants w of X:   1 - distance(w) - y(w) + y(gift)
//! ```
//!
//! It is exact: the largest profit is a concave function of the capacity of one arc, with whole-numbered
//! steps.
//!
//! By post the gift starts a chain, and the round is solved again with it, for one item after the other; in large
//! markets the best plan met is changed around each gift instead.
//!
//! # Source
//!
//! R. K. Ahuja, T. L. Magnanti, J. B. Orlin, *Network Flows*, Prentice Hall 1993, chapter 9 (successive
//! shortest paths, reduced costs).
//!
//! # Cost
//!
//! A meeting: one network simplex and one Dijkstra search, whatever the number of items. By post: a round for
//! every item, or one round and, for every item, a look at each who wants it.
#![allow(clippy::indexing_slicing, reason = "nodes and arcs are those of the meeting's own network")]

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use crate::circulation::{BadNetwork, Circulation};
use crate::market::{Giver, Market, Member, Offer, Problem, Want, Worth};
use crate::meeting::{Aim, Network};
use crate::plan::{Plan, Rules};
use crate::presets::Preset;
use crate::program::Scope;
use crate::solve::{Round, solve};

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
    Ok(useful(best))
}

fn useful(values: impl IntoIterator<Item = (u64, i64)>) -> Vec<Unlock> {
    let useful =
        |(item, more)| u32::try_from(more).ok().filter(|&more| more > 0).map(|more| Unlock { item, more });
    let mut unlocks: Vec<Unlock> = values.into_iter().filter_map(useful).collect();
    unlocks.sort_by_key(|unlock| (Reverse(unlock.more), unlock.item));
    unlocks
}

/// Those of `items` of which one more, sent by post, would let more wants be served, the most useful first,
/// then by item. Rounds are run for most wants ([`Preset::Count`]) within the lengths and the work of
/// `rules`; where those allow no chains, the gift may go as far as a ring. Where the work runs out the values
/// compare the best plans met. Where a market has more rings than one round after the other could be searched for,
/// values are what changes around each gift were found to bring beside the best plan met. Items that nobody wants
/// are left out.
///
/// # Errors
///
/// [`Problem`]s of a market that is too large with one member more.
pub fn unlock_by_post(market: &Market, rules: &Rules, items: &[u64]) -> Result<Vec<Unlock>, Vec<Problem>> {
    let longest = u8::from(rules.max_ring > crate::MaxRing::Two) + 2;
    let max_chain = if rules.max_chain == 0 { longest } else { rules.max_chain };
    let rules = Rules { preset: Preset::Count, max_chain, ..*rules };
    let plan = solve(market, &rules);
    let wanted: BTreeSet<u64> =
        market.wants.iter().flat_map(|want| want.items.iter().map(|wish| wish.item)).collect();
    let items: Vec<u64> = items
        .iter()
        .copied()
        .filter(|item| wanted.contains(item))
        .collect::<BTreeSet<u64>>()
        .into_iter()
        .collect();
    // All at once beside the same plan, where a round for each would be no more than a guess.
    let all = with_gifts(market, &items)?;
    let mut never = || false;
    let mut round = Round::new(Scope::new(&all, &rules), Some(&plan), &mut never);
    if round.wide.is_some() {
        round.start(&plan);
        let new = unused_offers(market, items.len());
        return Ok(useful(items.into_iter().zip(round.raised_by(&new))));
    }
    let before = served(&plan);
    let mut values = BTreeMap::new();
    for item in items {
        values.insert(item, served(&solve(&with_gifts(market, &[item])?, &rules)) - before);
    }
    Ok(useful(values))
}

fn served(plan: &Plan) -> i64 {
    let of = |steps: usize, times: u16| i64::try_from(steps).unwrap_or(i64::MAX) * i64::from(times);
    let rings = plan.rings.iter().map(|ring| of(ring.moves.len(), ring.times));
    rings.chain(plan.chains.iter().map(|chain| of(chain.moves.len(), chain.times))).sum()
}

/// So many numbers that no offer has.
fn unused_offers(market: &Market, count: usize) -> Vec<u64> {
    let used: BTreeSet<u64> = market.offers.iter().map(|offer| offer.id).collect();
    (0..=u64::MAX).filter(|id| !used.contains(id)).take(count).collect()
}

/// The same market with somebody new who gives one cutting of one of `items` for nothing.
fn with_gifts(market: &Market, items: &[u64]) -> Result<Market, Vec<Problem>> {
    let known: BTreeSet<u64> = market.members.iter().map(|member| member.id).collect();
    let member = (0..=u64::MAX).find(|id| !known.contains(id)).unwrap_or(u64::MAX);
    let (mut members, mut offers, mut givers) =
        (market.members.clone(), market.offers.clone(), market.givers.clone());
    members.push(Member::new(member, 1, 0));
    let new = unused_offers(market, items.len());
    offers.extend(new.into_iter().zip(items).map(|(id, &item)| Offer { id, member, item, quantity: 1 }));
    givers.push(Giver { member, starts: 1 });
    let key = |offer: u32, want: u32| (market.offers[offer as usize].id, market.wants[want as usize].id);
    let worths: BTreeMap<(u64, u64), Worth> = market
        .arcs
        .iter()
        .map(|arc| (key(arc.offer, arc.want), Worth { weight: arc.weight, rarity: arc.rarity }))
        .collect();
    let allowed = |offer: &Offer, want: &Want| {
        let pair = (offer.id, want.id);
        let refused = market.refused.binary_search_by_key(&pair, |&(offer, want, _)| (offer, want));
        match refused.ok().and_then(|at| market.refused.get(at)) {
            Some(&(_, _, reason)) => Err(reason),
            None => Ok(worths.get(&pair).copied().unwrap_or_else(|| Worth::by_rank(offer, want))),
        }
    };
    Market::build(&members, &offers, &market.wants, allowed)?.with_givers(&givers)
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
