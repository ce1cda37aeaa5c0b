//! Better prices, step by step, over all rings and without storing one.
//!
//! The bound of a certificate is a convex function of the prices. Where columns that more than pay want a row more
//! often than there is room it falls as the row gets dearer, where they want it less often it falls as the row
//! gets cheaper. Steps along such directions, each as long as the distance to the value of the plan in hand
//! suggests, come near the best prices there are, which are those of the linear program over all columns.
//!
//! # Source
//!
//! M. Held, P. Wolfe, H. P. Crowder, "Validation of subgradient optimization", Mathematical Programming 6, 1974,
//! 62-88 (the length of a step); F. Barahona, R. Anbil, "The volume algorithm: producing primal solutions with a
//! subgradient method", Mathematical Programming 87, 2000, 385-399 (directions that remember those before).
//!
//! # Cost
//!
//! A pass over all rings and steps of chains for every round.
#![allow(
    clippy::indexing_slicing,
    reason = "positions come from Scope, which numbers rows, links and floors"
)]

use crate::bound::{Claim, SCALE};
use crate::linear::{down, up};
use crate::program::{Kind, Scope};

/// Rounds without a better bound after which steps become half as long.
const PATIENCE: u32 = 8;
/// A bound worse by this part of the distance has gone astray.
const ASTRAY: f64 = 0.3;
/// The part of the distance to the target that the first step is to go, by its slope.
const REACH: f64 = 0.1;
/// A bound better by this part of the distance is worth as much patience again.
const WORTH: f64 = 1e-3;
/// After so many rounds this part of the distance must be gone, or no more are made.
const PROBE: u64 = 12;
const ENOUGH: f64 = 0.02;
/// How much of a new direction goes into the one that is followed.
const FRESH: f64 = 0.3;

/// A column that is no ring, with what a round has to know of it.
struct Other {
    gain: f64,
    rows: Vec<usize>,
    links: Vec<(usize, i8)>,
    floors: Vec<f64>,
    most: f64,
}

/// A claim in floating point.
struct Dual<'a> {
    scope: &'a Scope<'a>,
    claim: &'a Claim,
    capacity: Vec<u16>,
    /// Where the prices of links end and those of floors begin.
    first_floor: usize,
    /// By hand-over: what a ring adds by it, for the level and for each floor, and how often it can be made.
    gains: Vec<f64>,
    of_floors: Vec<Vec<f64>>,
    rooms: Vec<f64>,
    /// Aims that are no sums over hand-overs, by place of the floor; the level itself comes after the floors.
    whole: Vec<usize>,
    others: Vec<Other>,
}

impl<'a> Dual<'a> {
    fn new(scope: &'a Scope<'a>, claim: &'a Claim) -> Self {
        let capacity = scope.capacities();
        let first_floor = capacity.len() + scope.links();
        let arcs = 0..scope.market.arcs.len();
        let gains =
            |aim| -> Vec<f64> { arcs.clone().map(|arc| scope.gain_of_step(arc, aim) as f64).collect() };
        let room = |arc: usize| {
            let mut room = u16::MAX;
            scope.rows_of_step(arc, |row| room = room.min(capacity[row]));
            f64::from(room)
        };
        let aim = |at: usize| claim.floors.get(at).map_or(claim.aim, |floor| floor.aim);
        Self {
            scope,
            claim,
            first_floor,
            gains: gains(claim.aim),
            of_floors: claim.floors.iter().map(|floor| gains(floor.aim)).collect(),
            rooms: arcs.clone().map(room).collect(),
            whole: (0..=claim.floors.len()).filter(|&at| !aim(at).is_sum_of_steps()).collect(),
            others: others(scope, claim, &capacity),
            capacity,
        }
    }

    /// The bound at these prices, and into `slope` how it rises with each of them.
    fn bound(&self, prices: &[f64], slope: &mut [f64]) -> f64 {
        let mut bound = 0.0;
        slope.fill(0.0);
        for ((slope, &price), &room) in slope.iter_mut().zip(prices).zip(&self.capacity) {
            *slope = f64::from(room);
            bound += price * f64::from(room);
        }
        for (at, floor) in self.claim.floors.iter().enumerate() {
            slope[self.first_floor + at] = -(floor.least as f64);
            bound -= prices[self.first_floor + at] * floor.least as f64;
        }
        bound + self.rings(prices, slope) + self.rest(prices, slope)
    }

    /// What rings that more than pay add to the bound.
    fn rings(&self, prices: &[f64], slope: &mut [f64]) -> f64 {
        let (scope, rows) = (self.scope, self.capacity.len());
        let bracket = |(arc, &gain): (usize, &f64)| {
            let mut sum = gain;
            for (gains, price) in self.of_floors.iter().zip(&prices[self.first_floor..]) {
                sum += gains[arc] * price;
            }
            scope.rows_of_step(arc, |row| sum -= prices[row]);
            scope.links_of_step(arc, |link| sum += prices[rows + link]);
            sum
        };
        let brackets: Vec<f64> = self.gains.iter().enumerate().map(bracket).collect();
        let mut taken = vec![0.0; brackets.len()];
        let mut added = 0.0;
        scope.rings(|cycle| {
            let gain = |at: usize| {
                let aim = self.claim.floors.get(at).map_or(self.claim.aim, |floor| floor.aim);
                scope.gain(Kind::Ring(cycle), aim) as f64
            };
            let mut excess: f64 = cycle.arcs().iter().map(|&arc| brackets[arc as usize]).sum();
            for &at in &self.whole {
                excess += prices.get(self.first_floor + at).copied().unwrap_or(1.0) * gain(at);
            }
            if excess <= 0.0 {
                return;
            }
            let most = cycle.arcs().iter().map(|&arc| self.rooms[arc as usize]).fold(f64::INFINITY, f64::min);
            added += excess * most;
            for &arc in cycle.arcs() {
                taken[arc as usize] += most;
            }
            for &at in self.whole.iter().filter(|&&at| at < self.of_floors.len()) {
                slope[self.first_floor + at] += most * gain(at);
            }
        });
        for (arc, &times) in taken.iter().enumerate().filter(|&(_, &times)| times > 0.0) {
            scope.rows_of_step(arc, |row| slope[row] -= times);
            scope.links_of_step(arc, |link| slope[rows + link] += times);
            for (slope, gains) in slope[self.first_floor..].iter_mut().zip(&self.of_floors) {
                *slope += times * gains[arc];
            }
        }
        added
    }

    /// What other columns that more than pay add to the bound.
    fn rest(&self, prices: &[f64], slope: &mut [f64]) -> f64 {
        let rows = self.capacity.len();
        let mut added = 0.0;
        for other in &self.others {
            let mut excess = other.gain;
            for &row in &other.rows {
                excess -= prices[row];
            }
            for &(link, sign) in &other.links {
                excess += f64::from(sign) * prices[rows + link];
            }
            for (floor, price) in other.floors.iter().zip(&prices[self.first_floor..]) {
                excess += floor * price;
            }
            if excess <= 0.0 {
                continue;
            }
            added += excess * other.most;
            for &row in &other.rows {
                slope[row] -= other.most;
            }
            for &(link, sign) in &other.links {
                slope[rows + link] += f64::from(sign) * other.most;
            }
            for (slope, floor) in slope[self.first_floor..].iter_mut().zip(&other.floors) {
                *slope += floor * other.most;
            }
        }
        added
    }
}

/// Adjusts the prices of `claim` in so many rounds, aiming at `target`, a value that some plan reaches. The prices
/// returned are the best met, by floating-point sums: what they are worth is for the certificate to say. Ends early
/// where the first rounds bring nothing. Returns the number of passes too.
/// Every prices met are shown to `meet`.
pub(crate) fn adjusted(
    scope: &Scope,
    claim: &Claim,
    target: i64,
    rounds: u64,
    meet: &mut dyn FnMut(&[f64]),
) -> (Claim, u64) {
    let dual = Dual::new(scope, claim);
    let target = target as f64;
    let mut prices: Vec<f64> = claim.prices.iter().map(|&price| price as f64 / SCALE as f64).collect();
    prices.resize(dual.first_floor + claim.floors.len(), 0.0);
    let mut best = prices.clone();
    let mut slope = vec![0.0; prices.len()];
    let mut way = vec![0.0; prices.len()];
    let (mut start, mut least) = (f64::INFINITY, f64::INFINITY);
    let (mut reach, mut waited, mut passes) = (REACH, 0, 0);
    for round in 0..rounds {
        passes += 1;
        let bound = dual.bound(&prices, &mut slope);
        meet(&prices);
        if round == 0 {
            start = bound;
        }
        waited += 1;
        if bound < least {
            if bound < least - WORTH * (least - target) {
                waited = 0;
            }
            least = bound;
            best.copy_from_slice(&prices);
        }
        if bound <= target || (round == PROBE && least > start - ENOUGH * (start - target)) {
            break;
        }
        if waited > PATIENCE || bound > least + ASTRAY * (least - target) {
            reach /= 2.0;
            waited = 0;
            prices.copy_from_slice(&best);
            way.fill(0.0);
            continue;
        }
        let mut length = 0.0;
        for ((way, &slope), &price) in way.iter_mut().zip(&slope).zip(&prices) {
            *way = if *way == 0.0 { slope } else { FRESH * slope + (1.0 - FRESH) * *way };
            // A price of nothing cannot fall.
            if price > 0.0 || *way < 0.0 {
                length += *way * *way;
            }
        }
        if length <= 0.0 {
            break;
        }
        let step = reach * (bound - target) / length;
        for (price, &way) in prices.iter_mut().zip(&way) {
            *price = (*price - step * way).max(0.0);
        }
    }
    let rows = dual.capacity.len();
    let told = |(at, &price): (usize, &f64)| if at < rows { up(price) } else { down(price) };
    (Claim { prices: best.iter().enumerate().map(told).collect(), ..claim.clone() }, passes)
}

fn others(scope: &Scope, claim: &Claim, capacity: &[u16]) -> Vec<Other> {
    let mut others = Vec::new();
    scope.rest(|kind| {
        let (mut rows, mut links) = (Vec::new(), Vec::new());
        scope.rows(kind, |row| rows.push(row));
        scope.linked(kind, |link, sign| links.push((link, sign)));
        let most = rows.iter().map(|&row| capacity[row]).min().unwrap_or(0);
        others.push(Other {
            gain: scope.gain(kind, claim.aim) as f64,
            rows,
            links,
            floors: claim.floors.iter().map(|floor| scope.gain(kind, floor.aim) as f64).collect(),
            most: f64::from(most),
        });
    });
    others
}
