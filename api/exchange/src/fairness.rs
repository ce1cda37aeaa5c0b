//! What each member gave and received, and whether anybody is worse off for taking part.
//!
//! Nobody is worse off who received only cuttings they asked for and gave no more than they received and what
//! they had declared they would give for nothing (individual rationality; Andersson, Cseh, Ehlers & Erlanson,
//! American Economic Journal: Microeconomics 13(1), 2021, 338-373).
#![allow(clippy::indexing_slicing, reason = "an account for every member; places found in the lists")]

use crate::market::Market;
use crate::plan::Move;

/// One member's part in a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Account {
    pub member: u64,
    /// Cuttings given.
    pub given: u32,
    /// Cuttings received.
    pub received: u32,
    /// Of these, cuttings that serve no want of the member or come from an offer the caller's rule refused.
    pub unasked: u32,
    /// Chains the member may start for nothing.
    pub starts: u16,
    /// Cuttings the member may give beyond those received, at a meeting.
    pub plus: u16,
}

impl Account {
    /// Received only what was asked for, and gave no more than received, starts and allowance together.
    pub fn not_worse_off(&self) -> bool {
        let free = u64::from(self.starts) + u64::from(self.plus);
        self.unasked == 0 && u64::from(self.given) <= u64::from(self.received) + free
    }
}

/// The accounts of all members, by id, from the moves of a plan and how many times each is made. Moves of
/// members who are not in the market are left out. `O(k log n)` for `k` moves of `n` members.
pub fn accounts<'a>(market: &Market, moves: impl IntoIterator<Item = (&'a Move, u16)>) -> Vec<Account> {
    let mut accounts: Vec<Account> = market
        .members
        .iter()
        .map(|member| Account {
            member: member.id,
            given: 0,
            received: 0,
            unasked: 0,
            starts: 0,
            plus: member.plus,
        })
        .collect();
    for giver in &market.givers {
        if let Some(at) = market.member_at(giver.member) {
            accounts[at].starts = giver.starts;
        }
    }
    for (step, times) in moves {
        if let Some(at) = market.member_at(step.from) {
            accounts[at].given += u32::from(times);
        }
        if let Some(at) = market.member_at(step.to) {
            accounts[at].received += u32::from(times);
            if !asked(market, step) {
                accounts[at].unasked += u32::from(times);
            }
        }
    }
    accounts
}

fn asked(market: &Market, step: &Move) -> bool {
    let want = market.wants.binary_search_by_key(&step.want, |want| want.id);
    let offer = market.offers.binary_search_by_key(&step.offer, |offer| offer.id);
    let (Ok(want), Ok(offer)) = (want, offer) else { return false };
    let (want, offer) = (&market.wants[want], &market.offers[offer]);
    want.member == step.to
        && offer.member == step.from
        && offer.item == step.item
        && want.rank_of(step.item).is_some()
        && market
            .refused
            .binary_search_by_key(&(offer.id, want.id), |&(offer, want, _)| (offer, want))
            .is_err()
}
