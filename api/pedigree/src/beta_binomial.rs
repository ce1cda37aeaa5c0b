//! Rates that differ: the beta-binomial distribution, its fit and what it makes of new counts.
//!
//! ```text
//! rate  r ~ Beta(a, b)        count  y ~ Binomial(n, r)
//! P(y)    = C(n, y) B(a + y, b + n - y) / B(a, b)
//! r | y     ~ Beta(a + y, b + n - y)
//! ```
//!
//! Where counts differ no more than chance alone would make them, the likelihood rises with `a + b` without end
//! and the rates are one.
//!
//! Sources: J. G. Skellam, Journal of the Royal Statistical Society B 10, 1948, 257-261; A. Gelman and others,
//! "Bayesian Data Analysis", 3rd ed. 2014, sections 5.1 to 5.3.

use storksbill_numerics::beta::beta_quantile;
use storksbill_numerics::gamma::{digamma, ln_factorial, ln_rising, trigamma};

use crate::intervals::{Confidence, Interval};

/// Larger totals `a + b` are told as one rate.
pub(crate) const MOST_TOTAL: f64 = 1e6;

/// So many successes of so many; possibly none of none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Trials {
    count: u64,
    of: u64,
}

impl Trials {
    /// `None` when `count` is more than `of`.
    pub fn new(count: u64, of: u64) -> Option<Self> {
        (count <= of).then_some(Self { count, of })
    }

    pub const fn count(self) -> u64 {
        self.count
    }

    pub const fn of(self) -> u64 {
        self.of
    }

    pub(crate) fn plus(self, other: Self) -> Self {
        Self { count: self.count.saturating_add(other.count), of: self.of.saturating_add(other.of) }
    }
}

/// A beta distribution of rates, `alpha, beta > 0`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BetaBinomial {
    pub alpha: f64,
    pub beta: f64,
}

/// What is believed of `alpha` and `beta` before the counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hyperprior {
    /// Nothing: the greatest likelihood.
    Flat,
    /// `(alpha + beta)^(-5/2)`, Bayesian Data Analysis section 5.3; the mode is taken on the log scale.
    Diffuse,
}

/// How rates differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    Between(Fit),
    /// No more than by chance: one rate for all, with its counts. Also where nothing, or everything, succeeded.
    None(Trials),
}

/// A fitted distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    pub distribution: BetaBinomial,
    /// Of the counts alone, binomial coefficients included.
    pub log_likelihood: f64,
}

impl BetaBinomial {
    /// The distribution with this mean and standard deviation; `None` when there is none.
    pub fn from_moments(mean: f64, standard_deviation: f64) -> Option<Self> {
        let total = mean * (1.0 - mean) / (standard_deviation * standard_deviation) - 1.0;
        (total > 0.0 && total.is_finite() && mean > 0.0 && mean < 1.0)
            .then_some(Self { alpha: mean * total, beta: (1.0 - mean) * total })
    }

    /// The rates most likely to have given the counts: Newton's method on `ln alpha`, `ln beta`.
    pub fn fit(trials: &[Trials], hyperprior: Hyperprior) -> Spread {
        let all = trials.iter().fold(Trials::default(), |sum, &trials| sum.plus(trials));
        if all.count == 0 || all.count == all.of {
            return Spread::None(all);
        }
        let mean = all.count as f64 / all.of as f64;
        let mut at = Self { alpha: 2.0 * mean, beta: 2.0 * (1.0 - mean) };
        let mut value = at.objective(trials, hyperprior);
        for _ in 0..500 {
            let (gradient, hessian) = at.slopes(trials, hyperprior);
            let mut damping = 0.0;
            let mut moved = false;
            for _ in 0..60 {
                if let Some(step) = ascent(gradient, hessian, damping) {
                    let next = Self { alpha: at.alpha * step[0].exp(), beta: at.beta * step[1].exp() };
                    let found = next.objective(trials, hyperprior);
                    if found > value && next.total() <= 2.0 * MOST_TOTAL {
                        moved = step[0].abs().max(step[1].abs()) > 1e-11;
                        (at, value) = (next, found);
                        break;
                    }
                }
                damping = if damping > 0.0 { damping * 4.0 } else { 1e-3 * (1.0 + hessian[0].abs()) };
            }
            if at.total() > MOST_TOTAL {
                return Spread::None(all);
            }
            if !moved {
                break;
            }
        }
        Spread::Between(Fit { distribution: at, log_likelihood: at.log_likelihood(trials) })
    }

    /// `alpha + beta`: the counts the distribution is worth.
    pub fn total(self) -> f64 {
        self.alpha + self.beta
    }

    pub fn mean(self) -> f64 {
        self.alpha / self.total()
    }

    pub fn standard_deviation(self) -> f64 {
        (self.mean() * (1.0 - self.mean()) / (self.total() + 1.0)).sqrt()
    }

    /// The chance of these counts.
    pub fn probability(self, trials: Trials) -> f64 {
        self.log_probability(trials).exp()
    }

    /// The rate of whoever had these counts.
    #[must_use]
    pub fn posterior(self, trials: Trials) -> Self {
        Self { alpha: self.alpha + trials.count as f64, beta: self.beta + (trials.of - trials.count) as f64 }
    }

    /// The equal-tailed interval of the rate.
    pub fn interval(self, confidence: Confidence) -> Interval {
        let tail = 0.5 * (1.0 - confidence.level());
        Interval {
            low: beta_quantile(tail, self.alpha, self.beta),
            high: beta_quantile(1.0 - tail, self.alpha, self.beta),
        }
    }

    fn log_likelihood(self, trials: &[Trials]) -> f64 {
        trials.iter().map(|&trials| self.log_probability(trials)).sum()
    }

    pub(crate) fn log_probability(self, trials: Trials) -> f64 {
        let failed = trials.of - trials.count;
        ln_factorial(trials.of) - ln_factorial(trials.count) - ln_factorial(failed) + self.kernel(trials)
    }

    /// The log probability without the binomial coefficient.
    pub(crate) fn kernel(self, trials: Trials) -> f64 {
        ln_rising(self.alpha, trials.count) + ln_rising(self.beta, trials.of - trials.count)
            - ln_rising(self.total(), trials.of)
    }

    fn objective(self, trials: &[Trials], hyperprior: Hyperprior) -> f64 {
        let prior = match hyperprior {
            Hyperprior::Flat => 0.0,
            Hyperprior::Diffuse => self.alpha.ln() + self.beta.ln() - 2.5 * self.total().ln(),
        };
        trials.iter().map(|&trials| self.kernel(trials)).sum::<f64>() + prior
    }

    /// First and second derivatives by `ln alpha`, `ln beta`: `[aa, ab, bb]`.
    fn slopes(self, trials: &[Trials], hyperprior: Hyperprior) -> ([f64; 2], [f64; 3]) {
        let (a, b, total) = (self.alpha, self.beta, self.total());
        let own = [digamma(a), digamma(b), digamma(total)];
        let own_curve = [trigamma(a), trigamma(b), trigamma(total)];
        let (mut by_a, mut by_b, mut aa, mut ab, mut bb) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for trials in trials {
            let (y, failed, n) = (trials.count as f64, (trials.of - trials.count) as f64, trials.of as f64);
            let shared = digamma(total + n) - own[2];
            let shared_curve = trigamma(total + n) - own_curve[2];
            by_a += digamma(a + y) - own[0] - shared;
            by_b += digamma(b + failed) - own[1] - shared;
            aa += trigamma(a + y) - own_curve[0] - shared_curve;
            bb += trigamma(b + failed) - own_curve[1] - shared_curve;
            ab -= shared_curve;
        }
        let mut gradient = [a * by_a, b * by_b];
        let mut hessian = [a * by_a + a * a * aa, a * b * ab, b * by_b + b * b * bb];
        if hyperprior == Hyperprior::Diffuse {
            let curve = 2.5 * a * b / (total * total);
            gradient = [gradient[0] + 1.0 - 2.5 * a / total, gradient[1] + 1.0 - 2.5 * b / total];
            hessian = [hessian[0] - curve, hessian[1] + curve, hessian[2] - curve];
        }
        (gradient, hessian)
    }
}

/// The damped Newton step uphill, at most 2 a coordinate; `None` where the surface does not bend down.
fn ascent(gradient: [f64; 2], hessian: [f64; 3], damping: f64) -> Option<[f64; 2]> {
    let [aa, ab, bb] = [damping - hessian[0], -hessian[1], damping - hessian[2]];
    let determinant = aa * bb - ab * ab;
    if aa <= 0.0 || determinant <= 0.0 {
        return None;
    }
    let step = [
        (bb * gradient[0] - ab * gradient[1]) / determinant,
        (aa * gradient[1] - ab * gradient[0]) / determinant,
    ];
    let longest = step[0].abs().max(step[1].abs());
    let scale = if longest > 2.0 { 2.0 / longest } else { 1.0 };
    longest.is_finite().then_some(step.map(|part| part * scale))
}
