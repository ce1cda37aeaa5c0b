//! Prices from a circulation: what rings and chains could reach if they might be of any length.
//!
//! # Model
//!
//! Nodes for every member, offer and want; arcs with capacity (`-` for as much as you like) and price:
//!
//! ```text
//! takes(v) --receive(v)--> taken(v) --> giving(v) --give(v)--> gives(v)       each member v
//! gives(v) --quantity(o)--> o --> w --need(w)--> takes(v)                     offers, hand-overs, wants
//! taken(v) --> gift --starts(g)--> giving(g)                                  with chains
//! ```
//!
//! Without chains `takes(v) --min(give, receive)--> gives(v)`. A hand-over carries a *share* of what a column adds
//! to a level, in twelfths, such that the shares of a column come to what it adds or more; a member of
//! [`LevelName::MembersServed`] is split into a first unit and the rest. Every plan is a circulation, so the best
//! circulation is a bound; its potentials `p` give each row `max(0, p(from) - p(to))`, and the links of chains
//! `p(gift) - p(taken)`, at which every ring and step is paid for. A bound of this kind is near what rings of
//! three can reach where there are very many of them, and comes without looking at one.
//!
//! A floor enters with a price `z` on its shares; the best `z` minimises a convex function of which each
//! circulation tells a slope.
//!
//! # Cost
//!
//! A network simplex, continued for each further price; no ring is listed.
#![allow(clippy::indexing_slicing, reason = "positions come from Market::build and Relaxation::new")]

use crate::bound::{Claim, Floor, SCALE};
use crate::circulation::{Channel, Circulation};
use crate::program::{Aim, Kind, Scope, number};

/// Shares of a column are told in parts of this size.
pub(crate) const PARTS: i64 = 12;
/// Prices of floors are multiples of one in so many.
const FINE: i64 = 64;
/// Prices tried for one floor at most.
const TRIES: u32 = 8;
/// The dearest price of a floor, in units of the level for one unit of the floor.
const DEAREST: i64 = 1 << 14;

/// What a unit of the first level weighs in units of the second where both are sought at once.
const FIRST: i64 = 1 << 10;

/// The network of a program.
pub(crate) struct Relaxation {
    circulation: Circulation,
    /// Of each member: the channel of their first unit, if they are counted once.
    first_unit: Vec<Option<usize>>,
    split: bool,
}

/// What is maximised and kept, by channel.
struct Sought<'a> {
    shares: Vec<i64>,
    of_floors: Vec<Vec<i64>>,
    floors: &'a [Floor],
}

/// What a circulation came to.
struct Reached {
    potentials: Vec<i64>,
    /// By channel of a first unit, in the order of members: its profit.
    units: Vec<i64>,
    /// By floor: its price in 64ths.
    dear: Vec<i64>,
    /// In twelfths of a 64th.
    bound: i128,
    /// By floor: what the circulation exceeds it by, in twelfths.
    over: Vec<i128>,
}

impl Relaxation {
    /// `None` for a market too large to be summed in 62 bits.
    pub(crate) fn new(scope: &Scope) -> Option<Self> {
        let market = scope.market;
        let split = scope.chains();
        let (members, offers) = (market.members.len(), market.offers.len());
        let width = if split { 4 } else { 2 };
        let first_offer = width * members;
        let first_want = first_offer + offers;
        let gift = first_want + market.wants.len();
        let mut channels = Vec::with_capacity(market.arcs.len() + 4 * gift);
        let mut join = |from: usize, to: usize, capacity: i64| {
            channels.push(Channel { from: number(from), to: number(to), capacity });
            channels.len() - 1
        };
        for arc in &market.arcs {
            // One more than can ever flow, so that the arc itself has no price.
            let free = i64::from(market.offers[arc.offer as usize].quantity) + 1;
            join(first_offer + arc.offer as usize, first_want + arc.want as usize, free);
        }
        let place = |id: u64| market.member_at(id).unwrap_or(0);
        for (at, offer) in market.offers.iter().enumerate() {
            join(width * place(offer.member) + 1, first_offer + at, i64::from(offer.quantity));
        }
        for (at, want) in market.wants.iter().enumerate() {
            join(first_want + at, width * place(want.member), i64::from(want.need));
        }
        let mut first_unit = vec![None; members];
        for (at, member) in market.members.iter().enumerate() {
            let (takes, gives) = (width * at, width * at + 1);
            let (give, receive) = (i64::from(member.give), i64::from(member.receive));
            let through = if split { receive } else { give.min(receive) };
            let taken = if split { takes + 2 } else { gives };
            if scope.counted_once(number(at)) {
                first_unit[at] = Some(join(takes, taken, 1));
                join(takes, taken, through - 1);
            } else {
                join(takes, taken, through);
            }
            if split {
                let giving = takes + 3;
                join(taken, giving, receive + 1);
                join(giving, gives, give);
                join(taken, gift, receive + 1);
                if let Ok(giver) = market.givers.binary_search_by_key(&member.id, |giver| giver.member) {
                    join(gift, giving, i64::from(market.givers[giver].starts));
                }
            }
        }
        let circulation = Circulation::new(gift + 1, channels).ok()?;
        Some(Self { circulation, first_unit, split })
    }

    /// Prices for an aim and floors, and the work they took; no more prices of floors are tried once that comes to
    /// `allowed`. `None` where sums would leave 62 bits.
    pub(crate) fn prices(
        &mut self,
        scope: &Scope,
        aim: Aim,
        floors: &[Floor],
        allowed: u64,
    ) -> Option<(Vec<u64>, u64)> {
        let before = self.circulation.pivots();
        let sought = Sought {
            shares: self.shares(scope, aim),
            of_floors: floors.iter().map(|floor| self.shares(scope, floor.aim)).collect(),
            floors,
        };
        let mut best = self.reach(&sought, vec![0; floors.len()])?;
        let mut tried = 1;
        // One floor after the other, those before first: they are the dearest.
        for at in 0..floors.len() {
            let (mut low, mut high) = (0, None);
            // Below `low` the best circulation misses the floor, from `high` on it keeps it.
            if best.over[at] >= 0 {
                continue;
            }
            for _ in 0..TRIES {
                let price = match high {
                    None => (4 * low).max(FINE / 4),
                    Some(high) => i64::midpoint(low, high),
                };
                if price == low || price > DEAREST * FINE || self.work(before, tried) >= allowed {
                    break;
                }
                let mut dear = best.dear.clone();
                dear[at] = price;
                let next = self.reach(&sought, dear)?;
                tried += 1;
                if next.over[at] < 0 {
                    low = price;
                } else {
                    high = Some(price);
                }
                if next.bound < best.bound {
                    best = next;
                }
            }
        }
        Some((self.told(scope, &best), self.work(before, tried)))
    }

    /// Prices for the aim of a claim, its floors at the prices it has, where some hand-overs are worth an eighth more
    /// than they are and others less, and the work they took. The best prices of a level that counts are whole
    /// numbers, at which most rings are paid for exactly and no step leads to a better bound; from these it does.
    pub(crate) fn uneven(&mut self, scope: &Scope, claim: &Claim) -> Option<(Claim, u64)> {
        let before = self.circulation.pivots();
        let floors = &claim.floors;
        let mut of_floors: Vec<Vec<i64>> = floors.iter().map(|floor| self.shares(scope, floor.aim)).collect();
        let mut shares = self.shares(scope, claim.aim);
        for shares in of_floors.iter_mut().chain([&mut shares]) {
            for (at, share) in (0u64..).zip(shares) {
                // Multiplicative hashing: D. E. Knuth, The Art of Computer Programming 3, 6.4.
                let turn = at.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 60;
                *share = *share * (56 + i64::try_from(turn).unwrap_or(0)) / 64;
            }
        }
        let told = &claim.prices[claim.prices.len() - floors.len()..];
        let price = |&price: &u64| i64::try_from(i128::from(price) * i128::from(FINE) / i128::from(SCALE));
        let dear = told.iter().map(price).collect::<Result<Vec<i64>, _>>().ok()?;
        let reached = self.reach(&Sought { shares, of_floors, floors }, dear)?;
        Some((Claim { prices: self.told(scope, &reached), ..claim.clone() }, self.work(before, 1)))
    }

    /// Of so many circulations since there were `before` pivots. A pivot looks at about the root of the arcs.
    fn work(&self, before: u64, circulations: u64) -> u64 {
        let arcs = self.circulation.arcs().len() as u64;
        ((self.circulation.pivots() - before) * arcs.isqrt() + circulations * arcs) / 8
    }

    /// A claim for the first two levels at once, the first far dearer, and the work it took. `None` where sums would
    /// leave 62 bits, or there is no level.
    pub(crate) fn lead(&mut self, scope: &Scope) -> Option<(Claim, u64)> {
        let mut aims = scope.rules.preset.levels().iter().map(|&name| Aim::Level(name));
        let first = aims.next()?;
        let (aim, floors) = match aims.next() {
            None => (first, Vec::new()),
            Some(second) => (second, vec![Floor { aim: first, least: 0 }]),
        };
        let before = self.circulation.pivots();
        let sought = Sought {
            shares: self.shares(scope, aim),
            of_floors: floors.iter().map(|floor| self.shares(scope, floor.aim)).collect(),
            floors: &floors,
        };
        let reached = self.reach(&sought, vec![FIRST * FINE; floors.len()])?;
        let prices = self.told(scope, &reached);
        Some((Claim { aim, floors, prices }, self.work(before, 1)))
    }

    /// By channel: the shares of an aim.
    fn shares(&self, scope: &Scope, aim: Aim) -> Vec<i64> {
        let mut shares = vec![0; self.circulation.arcs().len()];
        for (arc, share) in (0u32..).zip(&mut shares[..scope.market.arcs.len()]) {
            *share = scope.share(arc, aim);
        }
        for (member, unit) in (0u32..).zip(&self.first_unit) {
            if let Some(unit) = *unit {
                shares[unit] = PARTS * scope.gain(Kind::Served(member), aim);
            }
        }
        shares
    }

    fn reach(&mut self, sought: &Sought, dear: Vec<i64>) -> Option<Reached> {
        let mut profits: Vec<i64> = sought.shares.iter().map(|share| share * FINE).collect();
        for (shares, &price) in sought.of_floors.iter().zip(&dear) {
            for (profit, share) in profits.iter_mut().zip(shares) {
                *profit += share * price;
            }
        }
        let optimum = self.circulation.maximise(&profits).ok()?;
        let mut bound = i128::from(optimum.profit);
        let mut over = Vec::with_capacity(dear.len());
        for ((shares, floor), &price) in sought.of_floors.iter().zip(sought.floors).zip(&dear) {
            let least = i128::from(PARTS) * i128::from(floor.least);
            bound -= i128::from(price) * least;
            let flow = self.circulation.flow();
            let sum: i128 = shares.iter().zip(flow).map(|(&a, &b)| i128::from(a) * i128::from(b)).sum();
            over.push(sum - least);
        }
        let units = self.first_unit.iter().flatten().map(|&unit| profits[unit]).collect();
        Some(Reached { potentials: optimum.potentials, units, dear, bound, over })
    }

    /// The prices of rows, links and floors that potentials stand for.
    fn told(&self, scope: &Scope, reached: &Reached) -> Vec<u64> {
        let part = i128::from(PARTS * FINE);
        let level = |node: usize| i128::from(reached.potentials[node]) * i128::from(SCALE) / part;
        let fall = |from: usize, to: usize| u64::try_from(level(from) - level(to)).unwrap_or(0);
        let width = if self.split { 4 } else { 2 };
        let market = scope.market;
        let members = market.members.len();
        let first_offer = width * members;
        let first_want = first_offer + market.offers.len();
        let gift = first_want + market.wants.len();
        let mut prices = Vec::new();
        if self.split {
            prices.extend((0..members).map(|at| fall(4 * at + 3, 4 * at + 1)));
            prices.extend((0..members).map(|at| fall(4 * at, 4 * at + 2)));
        } else {
            prices.extend((0..members).map(|at| fall(2 * at, 2 * at + 1)));
        }
        let place = |id: u64| market.member_at(id).unwrap_or(0);
        for (at, offer) in market.offers.iter().enumerate() {
            prices.push(fall(width * place(offer.member) + 1, first_offer + at));
        }
        for (at, want) in market.wants.iter().enumerate() {
            // What rounding takes from the levels is made good here.
            prices.push(fall(first_want + at, width * place(want.member)) + 1);
        }
        if self.split {
            for giver in &market.givers {
                prices.push(fall(gift, 4 * place(giver.member) + 3));
            }
        }
        let unserved = |at: usize| {
            let taken = if self.split { 4 * at + 2 } else { 2 * at + 1 };
            fall(taken, width * at)
        };
        let counted: Vec<usize> = (0..members).filter(|&at| self.first_unit[at].is_some()).collect();
        for (&at, &profit) in counted.iter().zip(&reached.units) {
            let profit = i128::from(profit) * i128::from(SCALE) / part;
            prices.push(u64::try_from(profit - i128::from(unserved(at))).unwrap_or(0));
        }
        for _ in 1..if self.split { scope.rules.max_chain } else { 1 } {
            prices.extend((0..members).map(|at| fall(gift, 4 * at + 2)));
        }
        prices.extend(counted.iter().map(|&at| unserved(at)));
        let fine = i128::from(FINE);
        let floor = |&price: &i64| u64::try_from(i128::from(price) * i128::from(SCALE) / fine).unwrap_or(0);
        prices.extend(reached.dear.iter().map(floor));
        prices
    }
}
