//! The exact test of counts against a ratio: every outcome of as many seedlings, or a sample of them.
//!
//! `p` is the chance of an outcome at least as extreme as the one seen, where "extreme" is less probable,
//! or larger in Pearson's statistic, or larger in the likelihood ratio. With two classes the first is the
//! two-sided binomial test.
//!
//! Cost: `C(n + k - 1, k - 1)` outcomes of `n` seedlings in `k` classes. Sampling is for more than that; its
//! generator is the caller's seed put through `SplitMix64`, so an answer can be had again.
//!
//! Sources: T. R. C. Read, N. A. C. Cressie, "Goodness-of-Fit Statistics for Discrete Multivariate Data", 1988
//! (the three orders); G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators",
//! OOPSLA 2014 (`SplitMix64`); B. Phipson, G. K. Smyth, Statistical Applications in Genetics and Molecular
//! Biology 9, 2010, article 39 (`(hits + 1) / (draws + 1)`).
#![allow(clippy::indexing_slicing, reason = "tables reach from 0 to the number of seedlings")]

use storksbill_numerics::gamma::ln_factorial;
use storksbill_numerics::split_mix::SplitMix;

use crate::chi_square::{Mismatch, expected};
use crate::ratio::Ratio;

/// Outcomes worth enumerating while somebody waits: covers 200 seedlings in four classes.
pub const MOST_OUTCOMES: u64 = 1_500_000;
/// Draws where there are more: the standard error of a `p` of 0.05 is 0.0007.
pub const DRAWS: u32 = 100_000;

/// How the outcomes were gone through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcomes {
    /// Every one.
    All { outcomes: u64 },
    /// So many drawn with this seed; the standard error of `p` is `sqrt(p (1 - p) / draws)`.
    Drawn { draws: u32, seed: u64 },
}

/// Chances of an outcome at least as extreme, by three orders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exact {
    pub by_probability: f64,
    pub by_chi_square: f64,
    pub by_likelihood_ratio: f64,
    pub outcomes: Outcomes,
}

/// How many outcomes `seedlings` in `classes` have; `None` past 64 bits.
pub fn count_outcomes(seedlings: u64, classes: usize) -> Option<u64> {
    let mut outcomes = 1u128;
    for i in 1..classes as u128 {
        outcomes = outcomes.checked_mul(u128::from(seedlings) + i)? / i;
    }
    u64::try_from(outcomes).ok()
}

/// The exact test, every outcome where there are at most `most`, otherwise [`DRAWS`] outcomes from `seed`.
///
/// # Errors
///
/// [`Mismatch`].
pub fn exact(counts: &[u64], ratio: &Ratio, most: u64, seed: u64) -> Result<Exact, Mismatch> {
    expected(counts, ratio)?;
    let possible: Vec<(u64, f64)> = counts
        .iter()
        .copied()
        .zip(ratio.shares())
        .filter(|&(count, share)| count > 0 || share > 0.0)
        .collect();
    if possible.iter().any(|&(_, share)| share <= 0.0) {
        // The ratio excludes what was seen; every possible outcome is likelier.
        let outcomes = Outcomes::All { outcomes: 0 };
        return Ok(Exact { by_probability: 0.0, by_chi_square: 0.0, by_likelihood_ratio: 0.0, outcomes });
    }
    let (counts, shares): (Vec<u64>, Vec<f64>) = possible.into_iter().unzip();
    let all: u64 = counts.iter().sum();
    let outcomes = count_outcomes(all, counts.len()).filter(|&outcomes| outcomes <= most);
    let seen = |tables: &[Table]| {
        let zero = Score { log_probability: ln_factorial(all), pearson: 0.0, likelihood: 0.0 };
        counts.iter().zip(tables).fold(zero, |score, (&count, table)| score.plus(table.score(count)))
    };
    if let Some(outcomes) = outcomes {
        let tables: Vec<Table> = shares.iter().map(|&share| Table::new(share, all, true)).collect();
        let mut extreme = Extreme::new(seen(&tables));
        enumerate(&tables, all, &mut extreme);
        return Ok(extreme.into_exact(Outcomes::All { outcomes }));
    }
    let tables: Vec<Table> = shares.iter().map(|&share| Table::new(share, all, false)).collect();
    let hits = sample(&tables, &shares, all, seen(&tables), seed);
    let p = |hits: u32| (f64::from(hits) + 1.0) / (f64::from(DRAWS) + 1.0);
    Ok(Exact {
        by_probability: p(hits[0]),
        by_chi_square: p(hits[1]),
        by_likelihood_ratio: p(hits[2]),
        outcomes: Outcomes::Drawn { draws: DRAWS, seed },
    })
}

/// What one class adds for each count: to the log probability, Pearson's statistic and the likelihood ratio.
struct Table {
    share: f64,
    all: f64,
    scores: Vec<Score>,
}

#[derive(Clone, Copy)]
struct Score {
    log_probability: f64,
    pearson: f64,
    likelihood: f64,
}

impl Score {
    fn plus(self, other: Self) -> Self {
        Self {
            log_probability: self.log_probability + other.log_probability,
            pearson: self.pearson + other.pearson,
            likelihood: self.likelihood + other.likelihood,
        }
    }

    /// Whether this is as extreme as `seen`, by each order; sums that should be equal differ by rounding.
    fn as_extreme(self, seen: Self) -> [bool; 3] {
        let near = |value: f64| 1e-9 * (1.0 + value.abs());
        [
            self.log_probability <= seen.log_probability + near(seen.log_probability),
            self.pearson >= seen.pearson - near(seen.pearson),
            self.likelihood >= seen.likelihood - near(seen.likelihood),
        ]
    }
}

impl Table {
    fn new(share: f64, all: u64, tabulate: bool) -> Self {
        let mut table = Self { share, all: all as f64, scores: Vec::new() };
        if tabulate {
            table.scores = (0..=all).map(|count| table.work_out(count)).collect();
        }
        table
    }

    fn score(&self, count: u64) -> Score {
        usize::try_from(count)
            .ok()
            .and_then(|at| self.scores.get(at).copied())
            .unwrap_or_else(|| self.work_out(count))
    }

    fn work_out(&self, count: u64) -> Score {
        let expected = self.share * self.all;
        let n = count as f64;
        Score {
            log_probability: if count == 0 { 0.0 } else { n * self.share.ln() - ln_factorial(count) },
            pearson: (n - expected).powi(2) / expected,
            likelihood: if count == 0 { 0.0 } else { n * (n / expected).ln() },
        }
    }
}

/// Sums of the probabilities of outcomes as extreme as the one seen.
struct Extreme {
    seen: Score,
    sums: [f64; 3],
}

impl Extreme {
    fn new(seen: Score) -> Self {
        Self { seen, sums: [0.0; 3] }
    }

    fn into_exact(self, outcomes: Outcomes) -> Exact {
        let [by_probability, by_chi_square, by_likelihood_ratio] = self.sums.map(|p| p.min(1.0));
        Exact { by_probability, by_chi_square, by_likelihood_ratio, outcomes }
    }
}

/// Every way of placing `all` seedlings, the classes before the last two counted through like an odometer.
fn enumerate(tables: &[Table], all: u64, extreme: &mut Extreme) {
    let zero = Score { log_probability: ln_factorial(all), pearson: 0.0, likelihood: 0.0 };
    let Some((last, others)) = tables.split_last() else { return };
    let Some((before, leading)) = others.split_last() else {
        extreme.sums = [1.0; 3];
        return;
    };
    let mut placed = vec![0u64; leading.len()];
    loop {
        let used: u64 = placed.iter().sum();
        let so_far =
            placed.iter().zip(leading).fold(zero, |score, (&count, table)| score.plus(table.score(count)));
        pairs(so_far, before, last, all - used, extreme);
        // The next placement: raise the last class that still can be, and empty those after it.
        let mut free = all - used;
        let mut at = placed.len();
        loop {
            let Some(place) = at.checked_sub(1) else { return };
            at = place;
            if free > 0 {
                placed[at] += 1;
                break;
            }
            free += placed[at];
            placed[at] = 0;
        }
    }
}

/// The innermost loop: `left` seedlings shared by two classes.
fn pairs(so_far: Score, one: &Table, other: &Table, left: u64, extreme: &mut Extreme) {
    let left = usize::try_from(left).unwrap_or(usize::MAX);
    let mut sums = [0.0; 3];
    let pairs = one.scores[..=left].iter().zip(other.scores[..=left].iter().rev());
    for (&a, &b) in pairs {
        let score = so_far.plus(a).plus(b);
        let is_extreme = score.as_extreme(extreme.seen);
        if is_extreme == [false; 3] {
            continue;
        }
        let probability = score.log_probability.exp();
        for (sum, is_extreme) in sums.iter_mut().zip(is_extreme) {
            *sum += if is_extreme { probability } else { 0.0 };
        }
    }
    for (whole, part) in extreme.sums.iter_mut().zip(sums) {
        *whole += part;
    }
}

/// How many of [`DRAWS`] outcomes are as extreme, by each order.
fn sample(tables: &[Table], shares: &[f64], all: u64, seen: Score, seed: u64) -> [u32; 3] {
    let mut random = SplitMix(seed);
    let zero = Score { log_probability: ln_factorial(all), pearson: 0.0, likelihood: 0.0 };
    let mut hits = [0u32; 3];
    for _ in 0..DRAWS {
        let (mut left, mut rest) = (all, 1.0);
        let mut score = zero;
        for (at, (table, &share)) in tables.iter().zip(shares).enumerate() {
            let count = if at + 1 == tables.len() {
                left
            } else {
                binomial(left, (share / rest).min(1.0), random.unit())
            };
            score = score.plus(table.score(count));
            left -= count;
            rest -= share;
        }
        for (hit, is_extreme) in hits.iter_mut().zip(score.as_extreme(seen)) {
            *hit += u32::from(is_extreme);
        }
    }
    hits
}

/// A binomial count by inversion, from the mode outwards: about as many steps as the standard deviation.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the mode is from 0 to n")]
fn binomial(n: u64, p: f64, uniform: f64) -> u64 {
    if n == 0 || p <= 0.0 {
        return 0;
    }
    if p >= 1.0 {
        return n;
    }
    let mode = (((n as f64 + 1.0) * p).floor() as u64).min(n);
    let odds = p / (1.0 - p);
    let at_mode = ln_factorial(n) - ln_factorial(mode) - ln_factorial(n - mode)
        + mode as f64 * p.ln()
        + (n - mode) as f64 * (-p).ln_1p();
    let (mut up, mut down) = (mode, mode);
    let (mut p_up, mut p_down) = (at_mode.exp(), at_mode.exp());
    let mut left = uniform - p_up;
    while left > 0.0 && (up < n || down > 0) {
        if up < n {
            p_up *= (n - up) as f64 / (up + 1) as f64 * odds;
            up += 1;
            left -= p_up;
            if left <= 0.0 {
                return up;
            }
        }
        if down > 0 {
            p_down *= down as f64 / ((n - down + 1) as f64 * odds);
            down -= 1;
            left -= p_down;
            if left <= 0.0 {
                return down;
            }
        }
    }
    mode
}
