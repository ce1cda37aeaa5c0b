//! The integer program of a round: its columns, rows and links.
//!
//! # Model
//!
//! Rings are columns of the cycle formulation; chains are position-indexed edges (PICEF): `y(a, p)` says how
//! often hand-over `a` is the `p`-th of a chain. With `u(v)` for a member who may receive several times:
//!
//! ```text
//! give       sum_{r through v} x(r) + sum_{a out of v, p} y(a, p) <= give(v)
//! receive    sum_{r through v} x(r) + sum_{a into v, p} y(a, p)   <= receive(v)
//! offer      everything taken from offer o                        <= quantity(o)
//! want       everything that serves want w                        <= need(w)
//! giver      sum_{a out of g} y(a, 1)                             <= starts(g)
//! once       u(v)                                                 <= 1
//! passed on  sum_{a into v} y(a, p) - sum_{a out of v} y(a, p+1)  >= 0      p < K     (a link)
//! served     everything v receives - u(v)                         >= 0                (a link)
//! ```
//!
//! Without chains `give` and `receive` of a member are one row. A floor, `sum gain(c) x(c) >= least`, keeps
//! what a level before has reached.
//!
//! Sources: D. J. Abraham, A. Blum, T. Sandholm, EC 2007, 295-304 (cycle formulation); J. P. Dickerson,
//! D. F. Manlove, B. Plaut, T. Sandholm, J. Trimble, "Position-indexed formulations for kidney exchange",
//! EC 2016 (PICEF), here with several units.
#![allow(clippy::indexing_slicing, reason = "positions come from Market::build, which numbers them densely")]

use crate::chains::reach;
use crate::market::Market;
use crate::plan::Rules;
use crate::presets::{LevelName, Values, ring_gain, ring_share, step_gain, step_in_ring};
use crate::relaxation::PARTS;
use crate::rings::{Cycle, visit};

/// What a column stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Ring(Cycle),
    /// A hand-over at a place of a chain, from 1.
    Step {
        arc: u32,
        place: u8,
    },
    /// A member who may receive several times receives at all.
    Served(u32),
}

/// What is maximised or kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Aim {
    Level(LevelName),
    /// Cuttings for the want at this place of the market's list.
    Serve(u32),
}

impl Aim {
    /// What a ring adds is the sum of what its hand-overs add.
    pub(crate) fn is_sum_of_steps(self) -> bool {
        match self {
            Self::Serve(_) => true,
            Self::Level(level) => level.is_sum_of_steps(),
        }
    }
}

/// A program without its stored columns: enough to go through them one by one.
#[derive(Debug)]
pub(crate) struct Scope<'a> {
    pub(crate) market: &'a Market,
    pub(crate) rules: Rules,
    /// A ring that must not run.
    pub(crate) banned: Option<Cycle>,
    values: Values,
    /// Members and their sides have rows of their own.
    split: bool,
    /// By member: the first place of a chain at which they can receive; 0 for none.
    reach: Vec<u8>,
    /// By member: their column `u`, if they have one.
    once: Vec<Option<u32>>,
    /// Members with such a column.
    several: Vec<u32>,
}

impl<'a> Scope<'a> {
    pub(crate) fn new(market: &'a Market, rules: &Rules) -> Self {
        let split = rules.max_chain > 0 && !market.givers.is_empty();
        let counted = rules.preset.levels().contains(&LevelName::MembersServed);
        let mut once = vec![None; market.members.len()];
        let mut several = Vec::new();
        for (place, (at, member)) in once.iter_mut().zip((0u32..).zip(&market.members)) {
            let most = if split { member.receive } else { member.give.min(member.receive) };
            if counted && most > 1 {
                *place = Some(number(several.len()));
                several.push(at);
            }
        }
        let reach = if split { reach(market, rules.max_chain) } else { vec![0; market.members.len()] };
        Self { market, rules: *rules, banned: None, values: Values::new(rules), split, reach, once, several }
    }

    /// Every column: rings (in no particular order), steps of chains, members served.
    pub(crate) fn visit(&self, mut column: impl FnMut(Kind)) {
        self.rings(|cycle| column(Kind::Ring(cycle)));
        self.rest(column);
    }

    /// Every ring, in no particular order.
    pub(crate) fn rings(&self, mut ring: impl FnMut(Cycle)) {
        visit(self.market, self.rules.max_ring, |cycle| {
            if self.banned != Some(cycle) {
                ring(cycle);
            }
        });
    }

    /// The columns that are not rings, in canonical order.
    pub(crate) fn rest(&self, mut column: impl FnMut(Kind)) {
        if self.split {
            for giver in &self.market.givers {
                let Some(at) = self.market.member_at(giver.member) else { continue };
                for arc in self.market.first[at]..self.market.first[at + 1] {
                    column(Kind::Step { arc, place: 1 });
                }
            }
        }
        for place in 2..=if self.split { self.rules.max_chain } else { 0 } {
            for (at, arc) in (0u32..).zip(&self.market.arcs) {
                let reached = self.reach[arc.from as usize];
                if reached > 0 && reached < place {
                    column(Kind::Step { arc: at, place });
                }
            }
        }
        for &member in &self.several {
            column(Kind::Served(member));
        }
    }

    /// There are steps of chains.
    pub(crate) fn chains(&self) -> bool {
        self.split
    }

    /// A member has a column that says whether they receive at all.
    pub(crate) fn counted_once(&self, member: u32) -> bool {
        self.once[member as usize].is_some()
    }

    /// What a hand-over can be said to add to an aim, in [`PARTS`]: the shares of a ring or of the steps of a
    /// chain come to what they add, or more.
    pub(crate) fn share(&self, arc: u32, aim: Aim) -> i64 {
        let level = match aim {
            Aim::Level(level) => level,
            Aim::Serve(want) => return PARTS * i64::from(self.market.arcs[arc as usize].want == want),
        };
        let in_ring = ring_share(self.market, &self.values, self.rules.max_ring, arc, level, |member| {
            self.counted_once(member)
        });
        if !self.split {
            return in_ring;
        }
        // A step adds most at the earliest place it can have.
        let from = self.market.arcs[arc as usize].from as usize;
        let id = self.market.members[from].id;
        let place =
            match (self.market.givers.binary_search_by_key(&id, |giver| giver.member), self.reach[from]) {
                (Ok(_), _) => 1,
                (Err(_), 0) => return in_ring,
                (Err(_), reached) => reached + 1,
            };
        if place > self.rules.max_chain {
            return in_ring;
        }
        in_ring.max(PARTS * self.gain(Kind::Step { arc, place }, aim))
    }

    fn members(&self) -> usize {
        self.market.members.len()
    }

    /// The right-hand sides of the rows.
    pub(crate) fn capacities(&self) -> Vec<u16> {
        let market = self.market;
        let mut all: Vec<u16> = if self.split {
            let give = market.members.iter().map(|member| member.give);
            give.chain(market.members.iter().map(|member| member.receive)).collect()
        } else {
            market.members.iter().map(|member| member.give.min(member.receive)).collect()
        };
        all.extend(market.offers.iter().map(|offer| offer.quantity));
        all.extend(market.wants.iter().map(|want| want.need));
        all.extend(market.givers.iter().filter(|_| self.split).map(|giver| giver.starts));
        all.extend(self.several.iter().map(|_| 1));
        all
    }

    /// How many rows can bind beside those of the members: an offer or want that has as much room as its member makes
    /// no difference to a program.
    pub(crate) fn binding_rows(&self) -> usize {
        let market = self.market;
        let room = |id: u64, gives: bool| {
            let member = market.member_at(id).and_then(|at| market.members.get(at));
            member.map_or(u16::MAX, |member| match (self.split, gives) {
                (true, true) => member.give,
                (true, false) => member.receive,
                (false, _) => member.give.min(member.receive),
            })
        };
        let offers = market.offers.iter().filter(|offer| offer.quantity < room(offer.member, true)).count();
        let wants = market.wants.iter().filter(|want| want.need < room(want.member, false)).count();
        let others = self.capacities().len() - market.offers.len() - market.wants.len();
        others + offers + wants
    }

    /// The rows a column takes one unit of, each once.
    pub(crate) fn rows(&self, kind: Kind, mut row: impl FnMut(usize)) {
        let members = self.members();
        let offers = if self.split { 2 * members } else { members };
        let wants = offers + self.market.offers.len();
        let givers = wants + self.market.wants.len();
        match kind {
            Kind::Ring(cycle) => {
                for arc in cycle.steps(self.market) {
                    row(arc.from as usize);
                    if self.split {
                        row(members + arc.to as usize);
                    }
                    row(offers + arc.offer as usize);
                    row(wants + arc.want as usize);
                }
            }
            Kind::Step { arc, place } => {
                let arc = self.market.arcs[arc as usize];
                row(arc.from as usize);
                row(members + arc.to as usize);
                row(offers + arc.offer as usize);
                row(wants + arc.want as usize);
                if place == 1 {
                    let from = self.market.members[arc.from as usize].id;
                    if let Ok(giver) = self.market.givers.binary_search_by_key(&from, |giver| giver.member) {
                        row(givers + giver);
                    }
                }
            }
            Kind::Served(member) => {
                let starts = if self.split { self.market.givers.len() } else { 0 };
                if let Some(at) = self.once[member as usize] {
                    row(givers + starts + at as usize);
                }
            }
        }
    }

    /// How many links there are.
    pub(crate) fn links(&self) -> usize {
        self.passes() * self.members() + self.several.len()
    }

    /// Places of a chain from which a cutting can be passed on.
    fn passes(&self) -> usize {
        if self.split { usize::from(self.rules.max_chain) - 1 } else { 0 }
    }

    /// The links a column stands in, with its sign.
    pub(crate) fn linked(&self, kind: Kind, mut link: impl FnMut(usize, i8)) {
        let (passes, members) = (self.passes(), self.members());
        let served = |member: u32| self.once[member as usize].map(|at| passes * members + at as usize);
        match kind {
            Kind::Ring(cycle) if !self.several.is_empty() => {
                for arc in cycle.steps(self.market) {
                    if let Some(at) = served(arc.to) {
                        link(at, 1);
                    }
                }
            }
            Kind::Ring(_) => {}
            Kind::Step { arc, place } => {
                let (arc, place) = (self.market.arcs[arc as usize], usize::from(place));
                if place <= passes {
                    link((place - 1) * members + arc.to as usize, 1);
                }
                if place > 1 {
                    link((place - 2) * members + arc.from as usize, -1);
                }
                if let Some(at) = served(arc.to) {
                    link(at, 1);
                }
            }
            Kind::Served(member) => {
                if let Some(at) = served(member) {
                    link(at, -1);
                }
            }
        }
    }

    /// The rows of which a hand-over in a ring takes one unit.
    pub(crate) fn rows_of_step(&self, arc: usize, mut row: impl FnMut(usize)) {
        let arc = self.market.arcs[arc];
        let members = self.members();
        let offers = if self.split { 2 * members } else { members };
        row(arc.from as usize);
        if self.split {
            row(members + arc.to as usize);
        }
        row(offers + arc.offer as usize);
        row(offers + self.market.offers.len() + arc.want as usize);
    }

    /// The links that a hand-over in a ring fills.
    pub(crate) fn links_of_step(&self, arc: usize, mut link: impl FnMut(usize)) {
        if let Some(at) = self.once[self.market.arcs[arc].to as usize] {
            link(self.passes() * self.members() + at as usize);
        }
    }

    /// What a hand-over in a ring adds to an aim that is a sum over hand-overs; 0 for any other.
    pub(crate) fn gain_of_step(&self, arc: usize, aim: Aim) -> i64 {
        match aim {
            Aim::Level(level) => {
                step_in_ring(self.market, arc, level, |member| self.once[member as usize].is_some())
            }
            Aim::Serve(want) => i64::from(self.market.arcs[arc].want == want),
        }
    }

    /// What one unit of a column adds to an aim.
    pub(crate) fn gain(&self, kind: Kind, aim: Aim) -> i64 {
        let once = |member: u32| self.once[member as usize].is_some();
        match (kind, aim) {
            (Kind::Ring(cycle), Aim::Level(level)) => {
                ring_gain(self.market, &self.values, cycle, level, once)
            }
            (Kind::Step { arc, place }, Aim::Level(level)) => {
                step_gain(self.market, &self.values, arc, place, level, once)
            }
            (Kind::Served(_), Aim::Level(level)) => i64::from(level == LevelName::MembersServed),
            (Kind::Ring(cycle), Aim::Serve(want)) => {
                cycle.steps(self.market).map(|arc| i64::from(arc.want == want)).sum()
            }
            (Kind::Step { arc, .. }, Aim::Serve(want)) => {
                i64::from(self.market.arcs[arc as usize].want == want)
            }
            (Kind::Served(_), Aim::Serve(_)) => 0,
        }
    }
}

pub(crate) fn number(position: usize) -> u32 {
    // Members, offers and wants were numbered in 32 bits by Market::build; rings are limited by Work::rings.
    u32::try_from(position).unwrap_or(u32::MAX)
}
