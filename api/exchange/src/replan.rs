//! When members drop out: what stands stays, what was hurt is mended, and only what is free is planned anew.

use std::collections::BTreeSet;

use crate::market::Market;
use crate::plan::{Chain, Move, Plan, Ring, Rules};
use crate::solve::solve_until;

/// A plan after members dropped out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replan {
    /// The rings of the plan before in which nobody dropped out, unchanged and in the same order.
    pub kept: Vec<Ring>,
    /// The chains of the plan before, each cut off where the first member dropped out.
    pub kept_chains: Vec<Chain>,
    /// Straight swaps between the two members whom a ring of three has left (internal recourse).
    pub mended: Vec<Ring>,
    /// What is free beside those: the market of `fresh`.
    pub free: Market,
    /// A round among what is free; [`crate::check()`] it against `free`.
    pub fresh: Plan,
}

/// Draws up anew what was hurt when the members `dropped` left `plan`, and nothing else.
///
/// Guaranteed: every ring without a dropped member stays as it was, as does every chain up to the first dropped
/// member; nobody is asked for more than they agreed to in the whole of `kept`, `kept_chains`, `mended` and
/// `fresh`; no dropped member is in any of them. What was promised in a hurt ring is free again: first for the
/// pair it may have left, then for a round under `rules` among all that is free. `stop` is the caller's clock
/// as in [`solve_until`].
pub fn replan(
    market: &Market,
    plan: &Plan,
    dropped: &[u64],
    rules: &Rules,
    stop: &mut dyn FnMut() -> bool,
) -> Replan {
    let dropped: BTreeSet<u64> = dropped.iter().copied().collect();
    let gone = |step: &Move| dropped.contains(&step.from) || dropped.contains(&step.to);
    let (hurt, kept): (Vec<Ring>, Vec<Ring>) =
        plan.rings.iter().cloned().partition(|ring| ring.moves.iter().any(gone));
    let mut kept_chains = Vec::new();
    for chain in &plan.chains {
        let moves: Vec<Move> = chain.moves.iter().copied().take_while(|step| !gone(step)).collect();
        if !moves.is_empty() {
            kept_chains.push(Chain { moves, times: chain.times });
        }
    }
    let mut free = market.clone();
    free.leave(&dropped);
    for ring in &kept {
        free.promise(&ring.moves, ring.times);
    }
    for chain in &kept_chains {
        free.promise(&chain.moves, chain.times);
        free.start(chain.moves.first(), chain.times);
    }
    let mut mended = Vec::new();
    for ring in &hurt {
        if let Some(pair) = pair_left(&free, ring, &dropped) {
            free.promise(&pair.moves, pair.times);
            mended.push(pair);
        }
    }
    let fresh = solve_until(&free, rules, stop);
    Replan { kept, kept_chains, mended, free, fresh }
}

/// The swap of the two members that a ring of three has left, if the one who lost a cutting may have another
/// from the other: the dearest such hand-over, the first among equals.
fn pair_left(free: &Market, ring: &Ring, dropped: &BTreeSet<u64>) -> Option<Ring> {
    let gone = |step: &&Move| dropped.contains(&step.from) || dropped.contains(&step.to);
    let mut whole = ring.moves.iter().filter(|step| !gone(step));
    let (&there, None) = (whole.next()?, whole.next()) else { return None };
    if ring.moves.len() != 3 {
        return None;
    }
    let giver = free.member_at(there.to)?;
    let back = free
        .out_of(giver)
        .map(|arc| free.hand_over(arc))
        .filter(|step| step.to == there.from && free.room(&[there, *step]) > 0)
        .min_by_key(|step| (u32::MAX - step.weight, *step))?;
    let times = ring.times.min(free.room(&[there, back]));
    let moves = if there.from < back.from { vec![there, back] } else { vec![back, there] };
    Some(Ring { moves, times })
}

impl Market {
    /// Takes out all that these members give, receive, offer and want.
    fn leave(&mut self, dropped: &BTreeSet<u64>) {
        for member in self.members.iter_mut().filter(|member| dropped.contains(&member.id)) {
            (member.give, member.receive) = (0, 0);
        }
        for offer in self.offers.iter_mut().filter(|offer| dropped.contains(&offer.member)) {
            offer.quantity = 0;
        }
        for want in self.wants.iter_mut().filter(|want| dropped.contains(&want.member)) {
            want.need = 0;
        }
        for giver in self.givers.iter_mut().filter(|giver| dropped.contains(&giver.member)) {
            giver.starts = 0;
        }
    }

    /// Takes out what these moves use, so many times over.
    fn promise(&mut self, moves: &[Move], times: u16) {
        for step in moves {
            for member in &mut self.members {
                if member.id == step.from {
                    member.give = member.give.saturating_sub(times);
                }
                if member.id == step.to {
                    member.receive = member.receive.saturating_sub(times);
                }
            }
            for offer in self.offers.iter_mut().filter(|offer| offer.id == step.offer) {
                offer.quantity = offer.quantity.saturating_sub(times);
            }
            for want in self.wants.iter_mut().filter(|want| want.id == step.want) {
                want.need = want.need.saturating_sub(times);
            }
        }
    }

    fn start(&mut self, first: Option<&Move>, times: u16) {
        for giver in
            self.givers.iter_mut().filter(|giver| first.is_some_and(|step| step.from == giver.member))
        {
            giver.starts = giver.starts.saturating_sub(times);
        }
    }

    /// How often moves of different members, offers and wants could all be made.
    fn room(&self, moves: &[Move]) -> u16 {
        let mut room = u16::MAX;
        for step in moves {
            let members = self.members.iter().filter_map(|member| match member.id {
                id if id == step.from => Some(member.give),
                id if id == step.to => Some(member.receive),
                _ => None,
            });
            let offers =
                self.offers.iter().filter(|offer| offer.id == step.offer).map(|offer| offer.quantity);
            let wants = self.wants.iter().filter(|want| want.id == step.want).map(|want| want.need);
            room = members.chain(offers).chain(wants).fold(room, u16::min);
        }
        room
    }
}
