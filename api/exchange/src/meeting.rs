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

use std::collections::BTreeMap;
use std::fmt;

use crate::circulation::{BadNetwork, Channel, Circulation, Face};
use crate::fairness::{Account, accounts};
use crate::market::{Arc, Market};
use crate::plan::{Chain, Move, Ring};

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
    /// The certificate ([`Face::bound`]): a potential for each node of the network, the price of a cutting
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
fn nobody(aim: Aim, value: i64) -> bool {
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
    fn aims(&self, market: &Market) -> Vec<Aim> {
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
struct Values<'a> {
    market: &'a Market,
    /// Cuttings on each hand-over of the market.
    flow: &'a [i64],
    accounts: &'a [Account],
}

impl Values<'_> {
    fn of(&self, aim: Aim) -> Result<i64, BadNetwork> {
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

/// Takes hand-overs apart into walks, the smallest hand-over first.
struct Story<'a> {
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
    fn new(market: &'a Market, flow: &[i64]) -> Self {
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

    fn tell(mut self) -> (Vec<Ring>, Vec<Chain>) {
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

/// Why a meeting does not fit a market.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeetingFault {
    /// The hand-over at this place is not possible, misstates something, or is out of order.
    NoSuchHandOver { hand_over: usize },
    /// A member gives or receives more than agreed.
    OverLimit { member: u64 },
    /// An offer gives more than it holds.
    OverOffer { offer: u64 },
    /// A want gets more than it needs.
    OverWant { want: u64 },
    /// What this member gives and receives differs by more than allowances and free starts explain.
    Unbalanced { member: u64 },
    /// More is given on allowance than members are allowed to receive on top.
    TooManyOnAllowance,
    /// The level at this place is missing, out of order, or states another value than the hand-overs give.
    WrongValue { level: usize },
    /// The potentials of the level at this place do not give the bound it states, or it claims to be proved
    /// and is not.
    WrongBound { level: usize },
    /// The rings and chains are not made of the hand-overs, or do not close, or repeat a member.
    WrongStory,
    /// The account of this member states other numbers than the hand-overs give.
    WrongAccount { member: u64 },
}

impl fmt::Display for MeetingFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSuchHandOver { hand_over } => write!(f, "hand-over {hand_over} is not possible"),
            Self::OverLimit { member } => write!(f, "member {member} gives or receives too much"),
            Self::OverOffer { offer } => write!(f, "offer {offer} gives more than it holds"),
            Self::OverWant { want } => write!(f, "want {want} gets more than it needs"),
            Self::Unbalanced { member } => {
                write!(f, "what member {member} gives and receives differs by more than allowed")
            }
            Self::TooManyOnAllowance => write!(f, "more is given on allowance than may be received"),
            Self::WrongValue { level } => {
                write!(f, "the value of level {level} does not follow from the hand-overs")
            }
            Self::WrongBound { level } => {
                write!(f, "the bound of level {level} does not follow from its potentials")
            }
            Self::WrongStory => write!(f, "the rings and chains do not add up to the hand-overs"),
            Self::WrongAccount { member } => write!(f, "the account of member {member} is wrong"),
        }
    }
}

impl std::error::Error for MeetingFault {}

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
