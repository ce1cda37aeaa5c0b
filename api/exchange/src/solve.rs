//! The round: from a market to a plan.

use std::collections::BTreeMap;

use crate::bound::{Bound, SCALE, certificate, gain};
use crate::market::{Market, Reason};
use crate::packing::{AtLeast, Column, Limits, Packing, Prices};
use crate::rings::{Cycle, Listing, MaxRing, capacities, list, rows};

/// How a round is run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rules {
    /// The longest ring allowed.
    pub max_ring: MaxRing,
    /// How much work may be spent.
    pub work: Work,
}

impl Default for Rules {
    fn default() -> Self {
        Self { max_ring: MaxRing::Three, work: Work::default() }
    }
}

/// Limits in counted work, never in time: the same market under the same limits always gives the same plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// Rings kept at most; where a market has more, every member keeps a share.
    pub rings: u32,
    /// Branch and bound nodes of one level, each counted as often as the search has rings.
    pub search: u64,
    /// Small searches spent on choosing the first among equally good plans.
    pub tie_searches: u32,
}

impl Default for Work {
    fn default() -> Self {
        Self { rings: 250_000, search: 250_000, tie_searches: 200 }
    }
}

/// What a round proposes. Nothing in it is binding until every member of a ring has agreed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// The longest ring that was allowed.
    pub max_ring: MaxRing,
    /// By length, then members, then items.
    pub rings: Vec<Ring>,
    /// The aims in order: wants served, then rank weights.
    pub levels: Vec<Level>,
    /// How one of several equally good plans was picked.
    pub tie: Tie,
    /// The wants, by id, that this plan leaves wholly or partly unserved.
    pub unmet: Vec<Unmet>,
    /// What the round cost.
    pub spent: Spent,
}

/// Members who each give one cutting to the next, the last to the first; the smallest member gives first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ring {
    /// Two or three; `moves[i].to == moves[i + 1].from`.
    pub moves: Vec<Move>,
    /// How many times the same ring is run, at least 1.
    pub times: u16,
}

/// One cutting handed over (`times` cuttings, where the ring is run several times).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Move {
    /// The giving member.
    pub from: u64,
    /// The receiving member.
    pub to: u64,
    /// The offer it is taken from.
    pub offer: u64,
    /// The want it serves.
    pub want: u64,
    /// The item of the offer.
    pub item: u64,
    /// [`crate::rank_weight`] of the want.
    pub weight: u32,
}

/// The aims of a round, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LevelName {
    /// Cuttings handed over, each serving one want.
    WantsServed,
    /// Sum of the rank weights of the wants served, among plans that serve at least as many.
    RankWeight,
}

/// One aim: what was reached, and how much more could be possible at most.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Level {
    pub name: LevelName,
    /// What the plan reaches, recomputed in integers from its moves.
    pub value: i64,
    /// No plan that keeps the levels before reaches more. Follows from `prices` in integers alone.
    pub bound: i64,
    /// No plan reaches more than `value`: either `bound == value`, or the search over every ring that
    /// `prices` leaves open was finished (this part rests on the solver's arithmetic).
    pub proved: bool,
    /// The certificate: dual prices in units of 2^-20, of members, offers, wants (each by id) and last of the
    /// level before.
    pub prices: Vec<u64>,
}

/// How one of several equally good plans was picked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tie {
    /// The plan is the first of all best plans: rings by length, members and items, each run as often as
    /// possible in that order.
    First,
    /// The first best plan the search met; repeatable, but not otherwise distinguished.
    ByRun,
}

/// A want left wholly or partly unserved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unmet {
    /// The id of the want.
    pub want: u64,
    /// Cuttings still missing, at least 1.
    pub missing: u16,
    pub why: Why,
}

/// Why a want stayed unserved; the first that applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Nobody else offers any of its items.
    NobodyOffers,
    /// Somebody does, but the caller's rule refused every such hand-over; the reason of the first.
    Refused(Reason),
    /// No ring of the allowed length closes through it among members with room.
    NoRingCloses,
    /// The member gives or receives as much as they said they would.
    LimitReached,
    /// A ring would serve it, but only instead of one that is at least as good.
    BetterRing,
}

/// What a round cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spent {
    /// Rings of the market.
    pub rings: u64,
    /// Rings given to the search.
    pub rings_kept: u64,
    /// Branch and bound nodes.
    pub nodes: u64,
    /// The same, each counted as often as it had rings: what [`Work::search`] limits for each level.
    pub search: u64,
    /// Searches for the first among equals.
    pub tie_searches: u32,
}

/// Runs a round.
///
/// Never fails: a round that runs out of work returns the best plan met so far, with levels that say what is
/// not proved. Cost: listing the rings, then for each level a linear program whose size is the number of
/// members, offers and wants in rings, and a search bounded by `rules.work`.
pub fn solve(market: &Market, rules: &Rules) -> Plan {
    let listing = list(market, rules.max_ring, rules.work.rings);
    let mut round = Round::new(market, rules, &listing);
    let mut served = round.level(LevelName::WantsServed, 0);
    let mut weight = round.level(LevelName::RankWeight, served.value);
    round.settle(&mut served, &mut weight);
    let tie = if served.proved && weight.proved && listing.complete() {
        round.first_among_equals(&served, &weight)
    } else {
        Tie::ByRun
    };
    round.plan(vec![served, weight], tie)
}

/// Rings a search takes on at most: the nearest to paying for themselves.
const OPEN: usize = 20_000;
/// Rings among which [`Tie::First`] is looked for at most.
const EQUALS: usize = 400;
/// Nodes of one search among equals.
const TIE_NODES: u64 = 200;

struct Round<'a> {
    market: &'a Market,
    rules: &'a Rules,
    listing: &'a Listing,
    packing: Packing,
    runs: Vec<u16>,
    spent: Spent,
    /// What [`Work::search`] still allows at this level.
    left: u64,
}

impl<'a> Round<'a> {
    fn new(market: &'a Market, rules: &'a Rules, listing: &'a Listing) -> Self {
        let capacity = capacities(market);
        let columns = listing.cycles.iter().map(|cycle| column(market, cycle, &capacity)).collect();
        let spent =
            Spent { rings: listing.total, rings_kept: listing.cycles.len() as u64, ..Spent::default() };
        let packing = Packing::new(columns, capacity, &owners(market));
        let runs = vec![0; listing.cycles.len()];
        Self { market, rules, listing, packing, runs, spent, left: 0 }
    }

    fn gains(&self, level: LevelName) -> Vec<i64> {
        let gain = |column: &Column| match level {
            LevelName::WantsServed => column.length,
            LevelName::RankWeight => column.weight,
        };
        self.packing.columns.iter().map(gain).collect()
    }

    /// Improves `self.runs` for one level, never below `floor` wants served.
    fn level(&mut self, name: LevelName, floor: i64) -> Level {
        self.left = self.rules.work.search;
        let gains = self.gains(name);
        let keep: Vec<usize> = (0..self.runs.len()).filter(|&at| self.runs.get(at) > Some(&0)).collect();
        let prices = self.packing.prices(&gains, floor, &keep);
        // The number of prices is right by construction; a bound of the largest number would claim nothing.
        let bound = certificate(self.market, self.rules.max_ring, name, floor, &prices.scaled)
            .unwrap_or(Bound { value: i64::MAX, scaled: i128::MAX, step: 1 });
        let floors = self.floors(floor);
        self.guess(&prices, &gains, &floors);
        // First among the few rings that shaped the prices, when that is much less than what could matter.
        let mut open = self.open(&gains, &prices.scaled, bound, bound.step);
        if open.len() > 2 * prices.active.len() {
            self.search(&self.with_runs(prices.active), &gains, &floors, bound);
            open = self.open(&gains, &prices.scaled, bound, bound.step);
        }
        let searched = open.len() <= OPEN;
        open.truncate(OPEN);
        let finished = self.search(&self.with_runs(open), &gains, &floors, bound);
        let value = Packing::total(&self.runs, &gains);
        let proved = value == bound.value || (finished && searched && self.listing.complete());
        Level { name, value, bound: bound.value, proved, prices: prices.scaled }
    }

    /// The search for weight may serve more wants than an unproved first level had found: the first level then
    /// takes the larger value, and the bound of the second is told anew for it.
    fn settle(&self, served: &mut Level, weight: &mut Level) {
        let value = Packing::total(&self.runs, &self.gains(LevelName::WantsServed));
        if value == served.value {
            return;
        }
        served.value = value;
        served.proved = value == served.bound;
        let bound =
            certificate(self.market, self.rules.max_ring, LevelName::RankWeight, value, &weight.prices);
        if let Some(bound) = bound {
            weight.bound = bound.value;
            weight.proved |= weight.value == bound.value;
        }
    }

    /// Takes up a plan rounded from the linear program when it is better than the one in hand.
    fn guess(&mut self, prices: &Prices, gains: &[i64], floors: &[AtLeast]) {
        let mut guess = self.packing.dive(&prices.active, gains, floors);
        self.packing.fill(&mut guess, gains, &prices.scaled);
        let enough = floors.iter().all(|floor| Packing::total(&guess, &floor.coefficients) >= floor.least);
        if enough && Packing::total(&guess, gains) > Packing::total(&self.runs, gains) {
            self.runs = guess;
        }
    }

    fn floors(&self, floor: i64) -> Vec<AtLeast> {
        let coefficients = self.gains(LevelName::WantsServed);
        if floor > 0 { vec![AtLeast { coefficients, least: floor }] } else { Vec::new() }
    }

    /// True when the search was finished or not needed.
    fn search(&mut self, open: &[usize], gains: &[i64], floors: &[AtLeast], bound: Bound) -> bool {
        if Packing::total(&self.runs, gains) >= bound.value {
            return true;
        }
        let columns = open.len().max(1) as u64;
        let nodes = self.left / columns;
        if nodes == 0 {
            return false;
        }
        let limits = Limits { nodes, step: bound.step, bound: bound.value };
        let most = |column: usize| (0, self.packing.columns.get(column).map_or(0, |column| column.most));
        let found = self.packing.search(open, most, gains, floors, &self.runs, limits);
        self.spent.nodes += found.nodes;
        self.spent.search += found.nodes * columns;
        self.left = self.left.saturating_sub(found.nodes * columns);
        self.runs = found.runs;
        found.finished
    }

    /// The rings that can be part of a plan better by `better` or more, nearest to paying for themselves first.
    fn open(&self, gains: &[i64], prices: &[u64], bound: Bound, better: i64) -> Vec<usize> {
        let aim = i128::from(Packing::total(&self.runs, gains) + better) * i128::from(SCALE);
        let slack = bound.scaled.saturating_sub(aim);
        let mut open: Vec<(i128, usize)> = gains
            .iter()
            .enumerate()
            .map(|(column, &gain)| (-self.packing.reduced(column, gain, prices), column))
            .filter(|&(missing, _)| missing <= slack)
            .collect();
        open.sort_unstable();
        open.into_iter().map(|(_, column)| column).collect()
    }

    /// These columns and those of the plan in hand, ascending.
    fn with_runs(&self, mut columns: Vec<usize>) -> Vec<usize> {
        columns.extend(self.runs.iter().enumerate().filter(|&(_, &runs)| runs > 0).map(|(column, _)| column));
        columns.sort_unstable();
        columns.dedup();
        columns
    }

    /// Moves from the best plan in hand to the first of all best plans, ring by ring.
    fn first_among_equals(&mut self, served: &Level, weight: &Level) -> Tie {
        let gains = self.gains(LevelName::RankWeight);
        let Some(bound) = certificate(
            self.market,
            self.rules.max_ring,
            LevelName::RankWeight,
            served.value,
            &weight.prices,
        ) else {
            return Tie::ByRun;
        };
        let equals = self.with_runs(self.open(&gains, &weight.prices, bound, 0));
        if equals.len() > EQUALS {
            return Tie::ByRun;
        }
        let floors = [
            AtLeast { coefficients: self.gains(LevelName::WantsServed), least: served.value },
            AtLeast { coefficients: gains, least: weight.value },
        ];
        let mut settled = vec![None; self.runs.len()];
        let mut used = self.packing.unused();
        for &column in &equals {
            let room = self.packing.room(&used, column);
            let now = self.runs.get(column).copied().unwrap_or(0);
            if now < room {
                if self.spent.tie_searches >= self.rules.work.tie_searches {
                    return Tie::ByRun;
                }
                self.spent.tie_searches += 1;
                let within = |at: usize| match settled.get(at).copied().flatten() {
                    Some(runs) => (runs, runs),
                    None => (0, self.packing.columns.get(at).map_or(0, |column| column.most)),
                };
                let mut only = vec![0; self.runs.len()];
                if let Some(gain) = only.get_mut(column) {
                    *gain = 1;
                }
                let limits = Limits { nodes: TIE_NODES, step: 1, bound: i64::from(room) };
                let found = self.packing.search(&equals, within, &only, &floors, &self.runs, limits);
                if !found.finished {
                    return Tie::ByRun;
                }
                self.runs = found.runs;
            }
            let runs = self.runs.get(column).copied().unwrap_or(0);
            if let Some(place) = settled.get_mut(column) {
                *place = Some(runs);
            }
            self.packing.take(&mut used, column, runs);
        }
        Tie::First
    }

    fn plan(self, levels: Vec<Level>, tie: Tie) -> Plan {
        let rings: Vec<Ring> = self
            .listing
            .cycles
            .iter()
            .zip(&self.runs)
            .filter(|&(_, &times)| times > 0)
            .map(|(cycle, &times)| ring(self.market, cycle, times))
            .collect();
        let unmet = unmet(self.market, &rings, &self.listing.reachable);
        Plan { max_ring: self.rules.max_ring, rings, levels, tie, unmet, spent: self.spent }
    }
}

fn column(market: &Market, cycle: &Cycle, capacity: &[u16]) -> Column {
    let mut passed = Vec::with_capacity(3 * cycle.len());
    let mut most = u16::MAX;
    rows(market, cycle, |row| {
        // Rows were numbered in 32 bits by Market::build (three lists of at most 2^32 in all on 64 bits).
        passed.push(u32::try_from(row).unwrap_or(u32::MAX));
        most = most.min(capacity.get(row).copied().unwrap_or(0));
    });
    Column {
        rows: passed,
        most,
        length: gain(market, cycle, LevelName::WantsServed),
        weight: gain(market, cycle, LevelName::RankWeight),
    }
}

/// The row of the member every offer and want belongs to.
fn owners(market: &Market) -> Vec<usize> {
    let member = |id: u64| market.members.binary_search_by_key(&id, |member| member.id).unwrap_or(0);
    (0..market.members.len())
        .chain(market.offers.iter().map(|offer| member(offer.member)))
        .chain(market.wants.iter().map(|want| member(want.member)))
        .collect()
}

#[allow(clippy::indexing_slicing, reason = "hand-overs hold positions in the market's own lists")]
fn ring(market: &Market, cycle: &Cycle, times: u16) -> Ring {
    let moves = cycle
        .steps(market)
        .map(|arc| {
            let (offer, want) = (&market.offers[arc.offer as usize], &market.wants[arc.want as usize]);
            Move {
                from: offer.member,
                to: want.member,
                offer: offer.id,
                want: want.id,
                item: offer.item,
                weight: arc.weight,
            }
        })
        .collect();
    Ring { moves, times }
}

fn unmet(market: &Market, rings: &[Ring], reachable: &[bool]) -> Vec<Unmet> {
    let mut served: BTreeMap<u64, u32> = BTreeMap::new();
    let mut swapped: BTreeMap<u64, u32> = BTreeMap::new();
    for (step, times) in rings.iter().flat_map(|ring| ring.moves.iter().map(|step| (step, ring.times))) {
        *served.entry(step.want).or_default() += u32::from(times);
        *swapped.entry(step.to).or_default() += u32::from(times);
    }
    let mut matched = vec![false; market.wants.len()];
    for arc in &market.arcs {
        if let Some(place) = matched.get_mut(arc.want as usize) {
            *place = true;
        }
    }
    let mut refused: BTreeMap<u64, Reason> = BTreeMap::new();
    for &(_, want, reason) in &market.refused {
        refused.entry(want).or_insert(reason);
    }
    let mut unmet = Vec::new();
    for (at, want) in market.wants.iter().enumerate() {
        let got = served.get(&want.id).copied().unwrap_or(0);
        let missing = u32::from(want.need).saturating_sub(got);
        if missing == 0 {
            continue;
        }
        let member = market.members.binary_search_by_key(&want.member, |member| member.id);
        let limit = member.ok().and_then(|at| market.members.get(at)).map_or(0, |m| m.give.min(m.receive));
        let full = swapped.get(&want.member).copied().unwrap_or(0) >= u32::from(limit);
        let why = if matched.get(at) == Some(&false) {
            refused.get(&want.id).map_or(Why::NobodyOffers, |&reason| Why::Refused(reason))
        } else if limit == 0 {
            Why::LimitReached
        } else if reachable.get(at) == Some(&false) {
            Why::NoRingCloses
        } else if full {
            Why::LimitReached
        } else {
            Why::BetterRing
        };
        unmet.push(Unmet { want: want.id, missing: u16::try_from(missing).unwrap_or(u16::MAX), why });
    }
    unmet
}
