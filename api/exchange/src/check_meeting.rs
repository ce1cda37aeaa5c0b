//! Checking a meeting without trusting the search that made it.
#![allow(clippy::indexing_slicing, reason = "positions come from Market::build")]

use crate::circulation::Face;
use crate::fairness::{Account, accounts};
use crate::market::Market;
use crate::meeting::{Aim, Meeting, Network, Values, nobody};
use crate::plan::Move;

/// Why a meeting does not fit a market.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum MeetingFault {
    /// The hand-over at this place is not possible, misstates something, or is out of order.
    #[error("hand-over {hand_over} is not possible")]
    NoSuchHandOver { hand_over: usize },
    /// A member gives or receives more than agreed.
    #[error("member {member} gives or receives too much")]
    OverLimit { member: u64 },
    /// An offer gives more than it holds.
    #[error("offer {offer} gives more than it holds")]
    OverOffer { offer: u64 },
    /// A want gets more than it needs.
    #[error("want {want} gets more than it needs")]
    OverWant { want: u64 },
    /// What this member gives and receives differs by more than allowances and free starts explain.
    #[error("what member {member} gives and receives differs by more than allowed")]
    Unbalanced { member: u64 },
    /// More is given on allowance than members are allowed to receive on top.
    #[error("more is given on allowance than may be received")]
    TooManyOnAllowance,
    /// The level at this place is missing, out of order, or states another value than the hand-overs give.
    #[error("the value of level {level} does not follow from the hand-overs")]
    WrongValue { level: usize },
    /// The potentials of the level at this place do not give the bound it states, or it claims to be proved
    /// and is not.
    #[error("the bound of level {level} does not follow from its potentials")]
    WrongBound { level: usize },
    /// The rings and chains are not made of the hand-overs, or do not close, or repeat a member.
    #[error("the rings and chains do not add up to the hand-overs")]
    WrongStory,
    /// The account of this member states other numbers than the hand-overs give.
    #[error("the account of member {member} is wrong")]
    WrongAccount { member: u64 },
}

/// Verifies a meeting from the market alone: hand-overs possible, limits kept, everybody balanced within
/// allowances, accounts and values recomputed, the bound of every level from its potentials (on the face that
/// the levels before leave), and the story told of the same hand-overs. All in integers. `O(levels * m)`.
///
/// # Errors
///
/// The first [`MeetingFault`] found.
pub fn check_meeting(market: &Market, meeting: &Meeting) -> Result<(), MeetingFault> {
    let flow = check_hand_overs(market, meeting)?;
    let told =
        accounts(market, meeting.hand_overs.iter().map(|hand_over| (&hand_over.step, hand_over.times)));
    for (at, account) in told.iter().enumerate() {
        if meeting.accounts.get(at) != Some(account) || meeting.accounts.len() != told.len() {
            return Err(MeetingFault::WrongAccount { member: account.member });
        }
    }
    check_balance(market, &told)?;
    check_levels(market, meeting, &Values { market, flow: &flow, accounts: &told })?;
    check_story(market, meeting, flow)
}

/// The place of a move among the hand-overs of the market.
fn arc_of(market: &Market, step: &Move) -> Option<usize> {
    let from = market.member_at(step.from)?;
    (market.first[from]..market.first[from + 1])
        .find(|&arc| market.hand_over(arc) == *step)
        .map(|arc| arc as usize)
}

fn check_hand_overs(market: &Market, meeting: &Meeting) -> Result<Vec<i64>, MeetingFault> {
    let mut flow = vec![0i64; market.arcs.len()];
    let mut offered = vec![0i64; market.offers.len()];
    let mut served = vec![0i64; market.wants.len()];
    let mut last = None;
    for (at, hand_over) in meeting.hand_overs.iter().enumerate() {
        let found = arc_of(market, &hand_over.step).filter(|&arc| last < Some(arc) && hand_over.times > 0);
        let arc = found.ok_or(MeetingFault::NoSuchHandOver { hand_over: at })?;
        last = Some(arc);
        let times = i64::from(hand_over.times);
        flow[arc] = times;
        offered[market.arcs[arc].offer as usize] += times;
        served[market.arcs[arc].want as usize] += times;
    }
    for (offer, &times) in market.offers.iter().zip(&offered) {
        if times > i64::from(offer.quantity) {
            return Err(MeetingFault::OverOffer { offer: offer.id });
        }
    }
    for (want, &times) in market.wants.iter().zip(&served) {
        if times > i64::from(want.need) {
            return Err(MeetingFault::OverWant { want: want.id });
        }
    }
    Ok(flow)
}

/// Cuttings a member gives on allowance less those received on allowance can be anything from `least` to
/// `most`; over all members they must be able to add up to nothing.
fn check_balance(market: &Market, accounts: &[Account]) -> Result<(), MeetingFault> {
    let mut sum = 0i64;
    for (member, account) in market.members.iter().zip(accounts) {
        let (given, received) = (i64::from(account.given), i64::from(account.received));
        if given > i64::from(member.give) || received > i64::from(member.receive) {
            return Err(MeetingFault::OverLimit { member: member.id });
        }
        let beyond = given - received;
        let on_top = i64::from(member.minus).min(received);
        let most = i64::from(member.plus).min(given);
        let least = if market.givers.is_empty() {
            if beyond < -on_top { i64::MAX } else { beyond }
        } else {
            -on_top.min(i64::from(account.starts) - beyond)
        };
        if least > most {
            return Err(MeetingFault::Unbalanced { member: member.id });
        }
        sum += least;
    }
    if sum > 0 { Err(MeetingFault::TooManyOnAllowance) } else { Ok(()) }
}

fn check_levels(market: &Market, meeting: &Meeting, values: &Values<'_>) -> Result<(), MeetingFault> {
    let network = Network::new(market, meeting.rules.leximin, false);
    let mut face = Face::whole(&network.channels);
    let mut levels = meeting.levels.iter().enumerate().peekable();
    let mut at = 0;
    let mut nobody_left = false;
    for aim in network.aims(market) {
        if nobody_left && matches!(aim, Aim::ReceivedAtLeast(_)) {
            continue;
        }
        let wrong = MeetingFault::WrongValue { level: at };
        let (_, level) = levels.next().ok_or(wrong)?;
        if level.aim != aim || Ok(level.value) != values.of(aim) {
            return Err(wrong);
        }
        nobody_left = nobody(aim, level.value);
        let wrong = MeetingFault::WrongBound { level: at };
        let profits = network.profits(market, aim);
        let bound = face.bound(&network.channels, &profits, &level.potentials);
        if bound != Ok(i128::from(level.bound)) || level.proved != (level.value == level.bound) {
            return Err(wrong);
        }
        if level.bound < level.value
            || face.keep_best(&network.channels, &profits, &level.potentials).is_err()
        {
            return Err(wrong);
        }
        at += 1;
    }
    if levels.peek().is_some() { Err(MeetingFault::WrongValue { level: at }) } else { Ok(()) }
}

fn check_story(market: &Market, meeting: &Meeting, mut flow: Vec<i64>) -> Result<(), MeetingFault> {
    let rings = meeting.rings.iter().map(|ring| (&ring.moves, ring.times, true));
    let chains = meeting.chains.iter().map(|chain| (&chain.moves, chain.times, false));
    for (moves, times, closes) in rings.chain(chains) {
        let ends = moves.first().map(|step| step.from).zip(moves.last().map(|step| step.to));
        let (start, end) = ends.ok_or(MeetingFault::WrongStory)?;
        let follows = moves.windows(2).all(|pair| pair[0].to == pair[1].from);
        let mut members: Vec<u64> = moves.iter().map(|step| step.from).collect();
        if !closes {
            members.push(end);
        }
        members.sort_unstable();
        let distinct = members.windows(2).all(|pair| pair[0] != pair[1]);
        if !follows || !distinct || times == 0 || closes != (start == end) {
            return Err(MeetingFault::WrongStory);
        }
        for step in moves {
            let arc = arc_of(market, step).ok_or(MeetingFault::WrongStory)?;
            flow[arc] -= i64::from(times);
        }
    }
    if flow.iter().all(|&left| left == 0) { Ok(()) } else { Err(MeetingFault::WrongStory) }
}
