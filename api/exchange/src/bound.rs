//! The certificate of a level, in integers.

use crate::market::Market;
use crate::rings::{Cycle, MaxRing, capacities, rows, visit};
use crate::solve::LevelName;

/// Prices count in units of 2^-20.
pub(crate) const SCALE: i64 = 1 << 20;

/// An upper bound of a level and what it was rounded from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Bound {
    /// No plan that keeps the level before reaches more.
    pub(crate) value: i64,
    /// The same in units of 2^-20, not rounded.
    pub(crate) scaled: i128,
    /// Every value of the level is a multiple of this.
    pub(crate) step: i64,
}

/// What one run of a ring adds to a level.
pub(crate) fn gain(market: &Market, cycle: &Cycle, level: LevelName) -> i64 {
    match level {
        LevelName::WantsServed => i64::from(length(cycle)),
        LevelName::RankWeight => cycle.steps(market).map(|arc| i64::from(arc.weight)).sum(),
    }
}

pub(crate) fn length(cycle: &Cycle) -> u8 {
    if cycle.arcs().len() == 2 { 2 } else { 3 }
}

/// Evaluates the weak dual
/// `sum_i b(i) y(i) - floor y(0) + sum_r ub(r) max(0, gain(r) - sum_{i in r} y(i) + length(r) y(0))`
/// over every ring of the market: an upper bound whatever the prices `y >= 0` are. `prices` holds the rows in
/// the order of [`rows`] and `y(0)` last; `floor` is the value of the level before (0: none). `None` when the
/// number of prices is wrong.
pub(crate) fn certificate(
    market: &Market,
    max: MaxRing,
    level: LevelName,
    floor: i64,
    prices: &[u64],
) -> Option<Bound> {
    let capacity = capacities(market);
    let (&floor_price, prices) = prices.split_last()?;
    if prices.len() != capacity.len() {
        return None;
    }
    let mut scaled: i128 = -i128::from(floor) * i128::from(floor_price);
    for (&price, &room) in prices.iter().zip(&capacity) {
        scaled += i128::from(price) * i128::from(room);
    }
    let mut step = 0i64;
    visit(market, max, |cycle| {
        let gain = gain(market, &cycle, level);
        step = gcd(step, gain);
        let mut excess =
            i128::from(gain) * i128::from(SCALE) + i128::from(length(&cycle)) * i128::from(floor_price);
        let mut runs = u16::MAX;
        rows(market, &cycle, |row| {
            excess -= prices.get(row).map_or(0, |&price| i128::from(price));
            runs = runs.min(capacity.get(row).copied().unwrap_or(0));
        });
        scaled += excess.max(0) * i128::from(runs);
    });
    let step = step.max(1);
    let whole = i64::try_from(scaled.div_euclid(i128::from(SCALE))).unwrap_or(i64::MAX);
    Some(Bound { value: whole - whole.rem_euclid(step), scaled, step })
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
