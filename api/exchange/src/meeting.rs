//! A meeting: everybody is there and hands over at once, so rings may be of any length.
//!
//! # Model
//!
//! A circulation ([`crate::circulation`]) through every member `v`, offer `o` and want `w`, with capacities:
//!
//! ```text
//! takes(v) --min(give, receive)--> gives(v)               each member v
//! gives(v) --quantity(o)--> o                             each offer o of v
//! o --min(quantity(o), need(w))--> w                      each possible hand-over
//! w --need(w)--> takes(v)                                 each want w of v
//! ```
//!
//! What goes through `v` is both taken and given: everybody gives as many as they receive. Two departures are
//! possible, each with a node of its own:
//!
//! ```text
//! gift:       gift  --starts--> gives(v)    v a free giver     takes(v) --> gift            any v
//! allowance:  allow --plus--> gives(v)      v may give more    takes(v) --minus--> allow    v may receive more
//! ```
//!
//! A gift ends with somebody who gives nothing for it, as in a chain; what members with an allowance give on
//! top goes to members who are allowed to receive on top. Members with a departure have `receive` and `give`
//! on arcs before and after the departures, so that those hold for the sums.
//!
//! The matrix of a network is totally unimodular, so the best circulation is whole-numbered and no search is
//! needed. The aims, each sought among the best plans of those before: wants served; with
//! [`MeetingRules::leximin`] the members who receive at least one, at least two, ... (lexicographically the
//! same as the sorted list of what members receive, worst off first: the arc out of `takes(v)` is split in
//! units and the `k`th unit of everybody counts); rank weights; rarity; a turn for members in credit (8 plus
//! given less received in rounds before, within 7, for each cutting received); fewest cuttings on allowance.
//! Last, in order of hand-overs (giver, receiver, item, offer, want), as many of each as the best plans
//! allow: so there is exactly one answer.
//!
//! # Sources
//!
//! T. Andersson, A. Cseh, L. Ehlers, A. Erlanson, "Organizing time exchanges: lessons from matching markets",
//! American Economic Journal: Microeconomics 13(1), 2021, 338-373 (balanced exchange of several units); D. J.
//! Abraham, A. Blum, T. Sandholm, EC 2007, 295-304 (without a limit on length the problem is polynomial).
//!
//! # Cost
//!
//! One network simplex, and for every further aim a continuation of it; then searches on what is left open.
//! With leximin, an arc for each cutting a member could receive and an aim for each number anybody does.
#![allow(clippy::indexing_slicing, reason = "positions come from Market::build and Network::new")]

use crate::circulation::{BadNetwork, Channel, Circulation};
use crate::fairness::{Account, accounts};
use crate::market::{Arc, Market};
use crate::plan::{Chain, Move, Ring};
use crate::story::Story;

/// How a meeting is run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct MeetingRules {
    /// Among plans that serve most wants, those that treat the members with least best.
    pub leximin: bool,
}

/// The aims of a meeting, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Aim {
    /// Cuttings handed over, each serving one want.
    WantsServed,
    /// Members who receive at least so many.
    ReceivedAtLeast(u16),
    /// Sum of the weights of the hand-overs.
    Weight,
    /// Sum of the rarities of the hand-overs.
    Rarity,
    /// For each cutting received, 8 plus what its receiver gave less what they received in rounds before, the
    /// difference cut off at 7 either way.
    Credit,
    /// The negative of the cuttings that members give beyond what they receive and beyond free starts.
    OnAllowance,
}

/// One aim: what was reached, and that no plan which keeps the aims before reaches more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MeetingLevel {
    pub aim: Aim,
    /// What the plan reaches, recomputed from its hand-overs.
    pub value: i64,
    /// No plan that keeps the aims before reaches more; follows from `potentials` in integers.
    pub bound: i64,
    /// `bound == value`, as it always should be.
    pub proved: bool,
    /// The certificate ([`crate::circulation::Face::bound`]): a potential for each node of the network, the price of a cutting
    /// there. Members first (takes, gives), then offers, wants, gift, allowance, and what departures add.
    pub potentials: Vec<i64>,
}

/// Cuttings that go from one offer to one want.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HandOver {
    pub step: Move,
    /// How many, at least 1.
    pub times: u16,
}

/// What a meeting agrees on. The hand-overs are the result; rings and chains only tell the story.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Meeting {
    /// How it was run.
    pub rules: MeetingRules,
    /// By giver, receiver, item, offer, want.
    pub hand_overs: Vec<HandOver>,
    /// Of any length from 2 on, no member twice in one; by length, then hand-overs.
    pub rings: Vec<Ring>,
    /// From a member who gives more than they receive to one who receives more than they give, no member
    /// twice in one; by length, then hand-overs.
    pub chains: Vec<Chain>,
    pub levels: Vec<MeetingLevel>,
    /// By member.
    pub accounts: Vec<Account>,
}

/// Finds the best hand-overs of a meeting.
///
/// # Errors
///
/// [`BadNetwork::TooLarge`] for a market whose sums leave 62 bits.
pub fn meet(market: &Market, rules: MeetingRules) -> Result<Meeting, BadNetwork> {
    let network = Network::new(market, rules.leximin, false);
    let mut circulation = Circulation::new(network.nodes, network.channels.clone())?;
    let mut certificates = Vec::new();
    let mut aims = network.aims(market).into_iter().peekable();
    while let Some(aim) = aims.next() {
        let profits = network.profits(market, aim);
        let optimum = circulation.maximise(&profits)?;
        let bound = circulation.face().bound(&network.channels, &profits, &optimum.potentials)?;
        circulation.keep_best(&profits, &optimum)?;
        while nobody(aim, optimum.profit) && matches!(aims.peek(), Some(Aim::ReceivedAtLeast(_))) {
            aims.next();
        }
        certificates.push((aim, bound, optimum.potentials));
    }
    let flow = circulation.first_in_order(market.arcs.len());
    let hand_overs: Vec<HandOver> = (0u32..)
        .zip(&flow[..market.arcs.len()])
        .filter(|&(_, &times)| times > 0)
        // No more than an offer holds.
        .map(|(arc, &times)| HandOver {
            step: market.hand_over(arc),
            times: u16::try_from(times).unwrap_or(u16::MAX),
        })
        .collect();
    let accounts = accounts(market, hand_overs.iter().map(|hand_over| (&hand_over.step, hand_over.times)));
    let values = Values { market, flow: &flow, accounts: &accounts };
    let mut levels = Vec::with_capacity(certificates.len());
    for (aim, bound, potentials) in certificates {
        let value = values.of(aim)?;
        let bound = i64::try_from(bound).map_err(|_too_large| BadNetwork::TooLarge)?;
        levels.push(MeetingLevel { aim, value, bound, proved: value == bound, potentials });
    }
    let (rings, chains) = Story::new(market, &flow).tell();
    Ok(Meeting { rules, hand_overs, rings, chains, levels, accounts })
}

/// Once nobody receives `k`, nobody receives more.
pub(crate) fn nobody(aim: Aim, value: i64) -> bool {
    matches!(aim, Aim::ReceivedAtLeast(_)) && value == 0
}

/// The circulation of a market. Hand-overs come first among the channels, in the market's order.
pub(crate) struct Network {
    pub(crate) nodes: usize,
    pub(crate) channels: Vec<Channel>,
    /// The node every gift starts from and ends at.
    pub(crate) gift: u32,
    first_want: u32,
    /// The channels that carry the `k`th unit of a member, with `k`; empty without leximin.
    units: Vec<(usize, u16)>,
    /// Channels out of the node of allowances.
    allowances: Vec<usize>,
}

impl Network {
    /// With `open_ended`, gifts may end although the market has no free giver.
    pub(crate) fn new(market: &Market, leximin: bool, open_ended: bool) -> Self {
        let number = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        let first_offer = number(2 * market.members.len());
        let first_want = first_offer + number(market.offers.len());
        let gift = first_want + number(market.wants.len());
        let mut network = Self {
            nodes: gift as usize + 2,
            channels: Vec::with_capacity(
                market.arcs.len() + market.wants.len() + market.offers.len() + market.members.len(),
            ),
            gift,
            first_want,
            units: Vec::new(),
            allowances: Vec::new(),
        };
        // What could serve each want; where gifts may come from outside, one more.
        let mut offered = vec![i64::from(open_ended); market.wants.len()];
        for arc in &market.arcs {
            let (offer, want) = (&market.offers[arc.offer as usize], &market.wants[arc.want as usize]);
            offered[arc.want as usize] += i64::from(offer.quantity);
            let times = i64::from(offer.quantity.min(want.need));
            network.join(first_offer + arc.offer, first_want + arc.want, times);
        }
        let place = |id: u64| market.member_at(id).map_or(0, number);
        for (at, offer) in (first_offer..).zip(&market.offers) {
            network.join(2 * place(offer.member) + 1, at, i64::from(offer.quantity));
        }
        let mut most = vec![0i64; market.members.len()];
        for (at, (want, &offered)) in (first_want..).zip(market.wants.iter().zip(&offered)) {
            let member = place(want.member);
            let times = i64::from(want.need).min(offered);
            most[member as usize] += times;
            network.join(at, 2 * member, times);
        }
        let open_ended = open_ended || !market.givers.is_empty();
        for (at, most) in most.into_iter().enumerate() {
            network.add_member(market, at, most, leximin, open_ended);
        }
        network
    }

    fn join(&mut self, from: u32, to: u32, capacity: i64) {
        self.channels.push(Channel { from, to, capacity });
    }

    fn node(&mut self) -> u32 {
        self.nodes += 1;
        u32::try_from(self.nodes - 1).unwrap_or(u32::MAX)
    }

    fn add_member(&mut self, market: &Market, at: usize, most: i64, leximin: bool, open_ended: bool) {
        let member = &market.members[at];
        let starts = market
            .givers
            .binary_search_by_key(&member.id, |giver| giver.member)
            .map_or(0, |giver| market.givers[giver].starts);
        let (gift, allowance) = (self.gift, self.gift + 1);
        let takes = u32::try_from(2 * at).unwrap_or(u32::MAX);
        let (receive, give) = (i64::from(member.receive).min(most), i64::from(member.give));
        let taken = if open_ended || member.minus > 0 { self.node() } else { takes };
        let giving = if starts > 0 || member.plus > 0 { self.node() } else { takes + 1 };
        let through = receive.min(give);
        let (first, most) = if taken == takes { (giving, through) } else { (taken, receive) };
        if leximin {
            for unit in 1..=u16::try_from(most).unwrap_or(u16::MAX) {
                self.units.push((self.channels.len(), unit));
                self.join(takes, first, 1);
            }
        } else {
            self.join(takes, first, most);
        }
        if taken != takes {
            self.join(taken, giving, through);
            if open_ended {
                self.join(taken, gift, receive);
            }
            if member.minus > 0 {
                self.join(taken, allowance, i64::from(member.minus));
            }
        }
        if giving != takes + 1 {
            self.join(giving, takes + 1, give);
            if starts > 0 {
                self.join(gift, giving, i64::from(starts));
            }
            if member.plus > 0 {
                self.allowances.push(self.channels.len());
                self.join(allowance, giving, i64::from(member.plus));
            }
        }
    }

    pub(crate) fn want(&self, at: usize) -> u32 {
        self.first_want + u32::try_from(at).unwrap_or(u32::MAX)
    }

    /// The aims that can make a difference in this market.
    pub(crate) fn aims(&self, market: &Market) -> Vec<Aim> {
        let most = self.units.iter().map(|&(_, unit)| unit).max().unwrap_or(0);
        let mut aims = vec![Aim::WantsServed];
        aims.extend((1..=most).map(Aim::ReceivedAtLeast));
        aims.push(Aim::Weight);
        if market.arcs.iter().any(|arc| arc.rarity > 0) {
            aims.push(Aim::Rarity);
        }
        if market.members.iter().any(|member| member.credit != 0) {
            aims.push(Aim::Credit);
        }
        if !self.allowances.is_empty() {
            aims.push(Aim::OnAllowance);
        }
        aims
    }

    /// What a unit on each channel adds to an aim.
    pub(crate) fn profits(&self, market: &Market, aim: Aim) -> Vec<i64> {
        let mut profits = vec![0; self.channels.len()];
        match aim {
            Aim::WantsServed | Aim::Weight | Aim::Rarity | Aim::Credit => {
                for (profit, arc) in profits.iter_mut().zip(&market.arcs) {
                    *profit = gain(market, arc, aim);
                }
            }
            Aim::ReceivedAtLeast(least) => {
                for &(channel, _) in self.units.iter().filter(|&&(_, unit)| unit == least) {
                    profits[channel] = 1;
                }
            }
            Aim::OnAllowance => {
                for &channel in &self.allowances {
                    profits[channel] = -1;
                }
            }
        }
        profits
    }
}

/// What one cutting on a hand-over adds to an aim that is a sum over hand-overs.
fn gain(market: &Market, arc: &Arc, aim: Aim) -> i64 {
    match aim {
        Aim::WantsServed => 1,
        Aim::Weight => i64::from(arc.weight),
        Aim::Rarity => i64::from(arc.rarity),
        Aim::Credit => 8 + i64::from(market.members[arc.to as usize].credit.clamp(-7, 7)),
        Aim::ReceivedAtLeast(_) | Aim::OnAllowance => 0,
    }
}

/// Recomputes aims from hand-overs alone, without the network.
pub(crate) struct Values<'a> {
    pub(crate) market: &'a Market,
    /// Cuttings on each hand-over of the market.
    pub(crate) flow: &'a [i64],
    pub(crate) accounts: &'a [Account],
}

impl Values<'_> {
    pub(crate) fn of(&self, aim: Aim) -> Result<i64, BadNetwork> {
        match aim {
            Aim::ReceivedAtLeast(least) => {
                let count =
                    self.accounts.iter().filter(|account| account.received >= u32::from(least)).count();
                i64::try_from(count).map_err(|_too_large| BadNetwork::TooLarge)
            }
            Aim::OnAllowance => {
                let beyond = |account: &Account| {
                    i64::from(account.given) - i64::from(account.received) - i64::from(account.starts)
                };
                Ok(-self.accounts.iter().map(|account| beyond(account).max(0)).sum::<i64>())
            }
            _ => {
                let gains = self.market.arcs.iter().map(|arc| i128::from(gain(self.market, arc, aim)));
                let sum: i128 = gains.zip(self.flow).map(|(gain, &times)| gain * i128::from(times)).sum();
                i64::try_from(sum).map_err(|_too_large| BadNetwork::TooLarge)
            }
        }
    }
}
