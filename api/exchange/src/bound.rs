//! The certificate of a level, in integers.
//!
//! For any prices `y, z >= 0` of rows and of links and floors (with `floor(c)` the coefficient of a column in
//! one) and every plan `x` that keeps the floors,
//!
//! ```text
//! sum gain(c) x(c) <= sum_i b(i) y(i) - sum_j least(j) z(j)
//!                     + sum_c ub(c) max(0, gain(c) - sum_{i in c} y(i) + sum_j floor_j(c) z(j))
//! ```
//!
//! so an upper bound follows from the prices alone, whoever made them. A column whose bracket is so far below
//! zero that one unit of it would push a level *before* below the value kept is in no plan that keeps that
//! value, and is left out of the sum.

use crate::program::{Aim, Kind, Scope};
use crate::rings::Cycle;

/// Prices count in units of 2^-32.
pub(crate) const SCALE: i64 = 1 << 32;

/// An upper bound of a level and what it was rounded from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Bound {
    /// No plan that keeps the floors reaches more.
    pub(crate) value: i64,
    /// The same in units of 2^-32, not rounded.
    pub(crate) scaled: i128,
    /// Every value of the level is a multiple of this.
    pub(crate) step: i64,
}

/// `sum gain(c) x(c) >= least`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Floor {
    pub(crate) aim: Aim,
    pub(crate) least: i64,
}

/// An aim, what is kept while it is maximised, and prices: of rows, links, floors, in units of 2^-32.
#[derive(Debug, Clone)]
pub(crate) struct Claim {
    pub(crate) aim: Aim,
    pub(crate) floors: Vec<Floor>,
    pub(crate) prices: Vec<u64>,
}

impl Claim {
    /// The bracket above, in units of 2^-32.
    pub(crate) fn excess(&self, scope: &Scope, rows: usize, kind: Kind) -> i128 {
        let price = |at: usize| self.prices.get(at).map_or(0, |&price| i128::from(price));
        let mut excess = i128::from(scope.gain(kind, self.aim)) * i128::from(SCALE);
        scope.rows(kind, |row| excess -= price(row));
        scope.linked(kind, |link, sign| excess += i128::from(sign) * price(rows + link));
        let first = rows + scope.links();
        for (at, floor) in self.floors.iter().enumerate() {
            let floor_price = price(first + at);
            if floor_price != 0 {
                excess += i128::from(scope.gain(kind, floor.aim)) * floor_price;
            }
        }
        excess
    }
}

/// The bracket of a claim for rings, added up hand-over by hand-over beforehand.
#[derive(Debug, Clone)]
pub(crate) struct Brackets {
    steps: Vec<i128>,
    /// Aims that are no sums over hand-overs, with their weight.
    whole: Vec<(Aim, i128)>,
}

impl Brackets {
    /// `O(m)`.
    pub(crate) fn new(scope: &Scope, claim: &Claim) -> Self {
        let rows = scope.capacities().len();
        let price = |at: usize| claim.prices.get(at).map_or(0, |&price| i128::from(price));
        let first = rows + scope.links();
        let mut weighed = vec![(claim.aim, i128::from(SCALE))];
        weighed.extend(claim.floors.iter().enumerate().map(|(at, floor)| (floor.aim, price(first + at))));
        weighed.retain(|&(_, weight)| weight != 0);
        let steps = (0..scope.market.arcs.len()).map(|arc| {
            let mut sum = 0;
            for &(aim, weight) in &weighed {
                sum += weight * i128::from(scope.gain_of_step(arc, aim));
            }
            scope.rows_of_step(arc, |row| sum -= price(row));
            scope.links_of_step(arc, |link| sum += price(rows + link));
            sum
        });
        let steps = steps.collect();
        weighed.retain(|&(aim, _)| !aim.is_sum_of_steps());
        Self { steps, whole: weighed }
    }

    pub(crate) fn ring(&self, scope: &Scope, cycle: Cycle) -> i128 {
        let steps = cycle.arcs().iter().filter_map(|&arc| self.steps.get(arc as usize));
        let mut excess: i128 = steps.sum();
        for &(aim, weight) in &self.whole {
            excess += weight * i128::from(scope.gain(Kind::Ring(cycle), aim));
        }
        excess
    }
}

/// A level that is settled: a column whose bracket is below `-spare` is in no plan that keeps its value.
#[derive(Debug, Clone)]
pub(crate) struct Cut {
    pub(crate) claim: Claim,
    pub(crate) spare: i128,
    brackets: Brackets,
}

impl Cut {
    pub(crate) fn new(scope: &Scope, claim: Claim, bound: Bound, value: i64) -> Self {
        let spare = bound.scaled.saturating_sub(i128::from(value) * i128::from(SCALE));
        let brackets = Brackets::new(scope, &claim);
        Self { claim, spare, brackets }
    }

    fn excludes(&self, scope: &Scope, rows: usize, kind: Kind) -> bool {
        let excess = match kind {
            Kind::Ring(cycle) => self.brackets.ring(scope, cycle),
            _ => self.claim.excess(scope, rows, kind),
        };
        excess < -self.spare
    }
}

/// Evaluates the bound of a claim over every column that no cut excludes; `None` when the number of prices is
/// wrong. Cost: as listing the rings; cuts are asked about columns that count, and while the step is not known.
pub(crate) fn certificate(scope: &Scope, claim: &Claim, cuts: &[Cut]) -> Option<Bound> {
    let capacity = scope.capacities();
    let rows = capacity.len();
    if claim.prices.len() != rows + scope.links() + claim.floors.len() {
        return None;
    }
    let mut scaled = 0i128;
    for (&price, &room) in claim.prices.iter().zip(&capacity) {
        scaled += i128::from(price) * i128::from(room);
    }
    for (&price, floor) in claim.prices.iter().skip(rows + scope.links()).zip(&claim.floors) {
        scaled -= i128::from(price) * i128::from(floor.least);
    }
    let brackets = Brackets::new(scope, claim);
    let mut step = 0i64;
    scope.visit(|kind| {
        let excess = match kind {
            Kind::Ring(cycle) => brackets.ring(scope, cycle),
            _ => claim.excess(scope, rows, kind),
        };
        // Once the step is one it stays so.
        if (excess <= 0 && step == 1) || cuts.iter().any(|cut| cut.excludes(scope, rows, kind)) {
            return;
        }
        step = gcd(step, scope.gain(kind, claim.aim).abs());
        if excess > 0 {
            let mut most = u16::MAX;
            scope.rows(kind, |row| most = most.min(capacity.get(row).copied().unwrap_or(0)));
            scaled += excess * i128::from(most);
        }
    });
    let step = step.max(1);
    let whole = i64::try_from(scaled.div_euclid(i128::from(SCALE))).unwrap_or(i64::MAX);
    Some(Bound { value: whole - whole.rem_euclid(step), scaled, step })
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
