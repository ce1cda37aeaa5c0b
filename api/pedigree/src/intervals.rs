//! Intervals for a proportion.
//!
//! With `r` of `n`, `p = r / n`, `q = 1 - p` and `z` the two-sided normal deviate:
//!
//! ```text
//! Wilson            (2r + z^2 -+ z sqrt(z^2 + 4rq)) / 2(n + z^2)
//! Wilson corrected  (2r + z^2 -+ 1 -+ z sqrt(z^2 -+ 2 - 1/n + 4p(nq +- 1))) / 2(n + z^2)
//! Clopper-Pearson   each tail of the binomial at most half of what is left out
//! mid-P             the same, the outcome itself counted half
//! likelihood        2 ln L(p) / L(limit) = z^2
//! Jeffreys          the equal-tailed posterior under Beta(1/2, 1/2)
//! ```
//!
//! Wilson's is the one to show; Clopper and Pearson's where a text says "at least". The symmetric interval
//! `p -+ z sqrt(pq / n)` is left out on purpose: it is empty at 0 of `n` and leaves the range near it.
//!
//! Sources: R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine
//! 17, 1998, 857-872; E. B. Wilson, Journal of the American Statistical Association 22, 1927, 209-212; C. J.
//! Clopper, E. S. Pearson, Biometrika 26, 1934, 404-413; L. D. Brown, T. T. Cai, A. Dasgupta, Statistical
//! Science 16, 2001, 101-133 (Jeffreys).

use storksbill_numerics::beta::{beta_lower, beta_quantile};
use storksbill_numerics::gamma::ln_factorial;
use storksbill_numerics::normal::two_sided;

/// The share of intervals that are to hold the truth; above 0 and below 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Confidence(f64);

impl Confidence {
    pub const NINETY_FIVE: Self = Self(0.95);
    pub const NINETY_NINE: Self = Self(0.99);

    /// `None` unless `0 < level < 1`.
    pub fn new(level: f64) -> Option<Self> {
        (level > 0.0 && level < 1.0).then_some(Self(level))
    }

    pub const fn level(self) -> f64 {
        self.0
    }

    fn tail(self) -> f64 {
        0.5 * (1.0 - self.0)
    }
}

/// Bounds of a proportion, `0 <= low <= high <= 1`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

/// So many of so many; at least one was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Proportion {
    count: u64,
    of: u64,
}

impl Proportion {
    /// `None` when `of` is 0 or less than `count`.
    pub fn new(count: u64, of: u64) -> Option<Self> {
        (of > 0 && count <= of).then_some(Self { count, of })
    }

    pub fn value(self) -> f64 {
        self.r() / self.n()
    }

    /// Wilson's score interval.
    pub fn wilson(self, confidence: Confidence) -> Interval {
        self.closed_at_the_ends(wilson(self.r(), self.n(), confidence))
    }

    /// Wilson's interval with continuity correction.
    pub fn wilson_corrected(self, confidence: Confidence) -> Interval {
        let (r, n, z) = (self.r(), self.n(), two_sided(confidence.0));
        let (p, square) = (r / n, z * z);
        let whole = 2.0 * (n + square);
        let below = (square - 2.0 - 1.0 / n + 4.0 * p * (n - r + 1.0)).max(0.0).sqrt();
        let above = (square + 2.0 - 1.0 / n + 4.0 * p * (n - r - 1.0)).max(0.0).sqrt();
        self.closed_at_the_ends(Interval {
            low: (2.0 * r + square - 1.0 - z * below) / whole,
            high: (2.0 * r + square + 1.0 + z * above) / whole,
        })
    }

    /// Clopper and Pearson's interval, which never covers less often than it says.
    pub fn clopper_pearson(self, confidence: Confidence) -> Interval {
        let (r, n, tail) = (self.r(), self.n(), confidence.tail());
        let low = if self.count == 0 { 0.0 } else { beta_quantile(tail, r, n - r + 1.0) };
        let high = if self.count == self.of { 1.0 } else { beta_quantile(1.0 - tail, r + 1.0, n - r) };
        Interval { low, high }
    }

    /// Clopper and Pearson's with half of the outcome's own chance.
    pub fn mid_p(self, confidence: Confidence) -> Interval {
        let tail = confidence.tail();
        let low = solve(0.0, self.value(), |p| self.mid_tail(p) - tail);
        let high = solve(self.value(), 1.0, |p| self.mid_tail(p) - 1.0 + tail);
        self.closed_at_the_ends(Interval { low, high })
    }

    /// The parameters under which the counts are not too much less likely than under their own proportion.
    pub fn likelihood(self, confidence: Confidence) -> Interval {
        let z = two_sided(confidence.0);
        let best = self.log_likelihood(self.value());
        let excess = |p| 2.0 * (best - self.log_likelihood(p)) - z * z;
        let low = solve(0.0, self.value(), |p| -excess(p));
        let high = solve(self.value(), 1.0, excess);
        self.closed_at_the_ends(Interval { low, high })
    }

    /// The equal-tailed posterior interval under Jeffreys's prior, closed at 0 of `n` and `n` of `n`.
    pub fn jeffreys(self, confidence: Confidence) -> Interval {
        let (a, b, tail) = (self.r() + 0.5, self.n() - self.r() + 0.5, confidence.tail());
        self.closed_at_the_ends(Interval {
            low: beta_quantile(tail, a, b),
            high: beta_quantile(1.0 - tail, a, b),
        })
    }

    fn r(self) -> f64 {
        self.count as f64
    }

    fn n(self) -> f64 {
        self.of as f64
    }

    fn log_likelihood(self, p: f64) -> f64 {
        let part = |count: f64, p: f64| if count > 0.0 { count * p.ln() } else { 0.0 };
        part(self.r(), p) + part(self.n() - self.r(), 1.0 - p)
    }

    /// `P(X > r) + P(X = r) / 2` at the parameter `p`, from 0 up to 1.
    fn mid_tail(self, p: f64) -> f64 {
        let choose = ln_factorial(self.of) - ln_factorial(self.count) - ln_factorial(self.of - self.count);
        let own = (choose + self.log_likelihood(p)).exp();
        let more = if self.count == self.of {
            0.0
        } else {
            beta_lower(self.r() + 1.0, self.n() - self.r(), p, 1.0 - p)
        };
        more + 0.5 * own
    }

    fn closed_at_the_ends(self, open: Interval) -> Interval {
        Interval {
            low: if self.count == 0 { 0.0 } else { open.low.clamp(0.0, 1.0) },
            high: if self.count == self.of { 1.0 } else { open.high.clamp(0.0, 1.0) },
        }
    }
}

/// Wilson's interval for counts that need not be whole, as when their weight was reduced.
pub(crate) fn wilson(r: f64, n: f64, confidence: Confidence) -> Interval {
    let z = two_sided(confidence.0);
    let (centre, whole) = (2.0 * r + z * z, 2.0 * (n + z * z));
    let half = z * (z * z + 4.0 * r * (1.0 - r / n)).max(0.0).sqrt();
    Interval { low: ((centre - half) / whole).max(0.0), high: ((centre + half) / whole).min(1.0) }
}

/// Where a function that rises from `low` to `high` crosses zero; an end when it does not.
fn solve(mut low: f64, mut high: f64, rises: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break;
        }
        if rises(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}
