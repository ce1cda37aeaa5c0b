//! Rates in three levels: of everybody, of a seed parent, of one of its crosses.
//!
//! ```text
//! rate of a seed parent       m ~ Beta(a, b)
//! rate of one of its crosses  r ~ Beta(k m, k (1 - m))
//! count                       y ~ Binomial(n, r)
//! ```
//!
//! `a`, `b`, `k` are those of the greatest likelihood. `r` is integrated out in closed form and `m` by the
//! trapezoid rule on its logit.
//!
//! Source: the hierarchical model of A. Gelman and others, "Bayesian Data Analysis", 3rd ed. 2014, chapter 5,
//! with one level more.
#![allow(clippy::indexing_slicing, clippy::needless_range_loop, reason = "three parameters, numbered 0 to 2")]

use storksbill_numerics::beta::{beta_lower, ln_beta, logistic};
use storksbill_numerics::gamma::{digamma, ln_factorial, trigamma};

use crate::beta_binomial::{BetaBinomial, MOST_TOTAL, Trials};
use crate::intervals::{Confidence, Interval};

/// Points of an integral over the rate of a seed parent.
const POINTS: u32 = 81;
/// Points between which the quantiles of that rate are read off straight lines: to about 1e-4.
const FINE_POINTS: u32 = 641;

/// Three levels: rates of seed parents, and the total of the rates of their crosses around them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nested {
    pub between: BetaBinomial,
    /// `k`; large where the crosses of a seed parent are alike.
    pub within_total: f64,
    pub log_likelihood: f64,
}

/// A rate of a seed parent with its posterior weight.
#[derive(Debug, Clone, Copy)]
struct Point {
    logit: f64,
    rate: f64,
    weight: f64,
}

/// A rate as it is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    pub mean: f64,
    /// Equal-tailed.
    pub interval: Interval,
}

impl Nested {
    /// The greatest likelihood of crosses listed by seed parent, from `start` on: Newton's method on
    /// `logit a/(a+b)`, `ln (a+b)`, `ln k` with differences for derivatives, totals up to 10^6.
    pub fn fit(seed_parents: &[Vec<Trials>], start: BetaBinomial) -> Self {
        let bounds = [(-12.0, 12.0), (-3.0, MOST_TOTAL.ln()), (-3.0, MOST_TOTAL.ln())];
        let total = (2.0 * start.total()).ln();
        let mut at = [(start.alpha / start.beta).ln(), total, total];
        for (value, (low, high)) in at.iter_mut().zip(bounds) {
            *value = value.clamp(low, high);
        }
        let value = |at: [f64; 3]| Self::at(at).log_likelihood_of(seed_parents);
        let mut best = value(at);
        for _ in 0..60 {
            let (gradient, hessian) = differences(&value, at, best);
            let free: [bool; 3] = std::array::from_fn(|i| {
                let ((low, high), x, slope) = (bounds[i], at[i], gradient[i]);
                !(x <= low && slope < 0.0 || x >= high && slope > 0.0)
            });
            let mut damping = 1e-6;
            let mut moved = 0.0;
            while damping < 1e9 {
                if let Some(step) = damped_step(gradient, hessian, free, damping) {
                    let next: [f64; 3] =
                        std::array::from_fn(|i| (at[i] + step[i]).clamp(bounds[i].0, bounds[i].1));
                    let found = value(next);
                    if found > best {
                        moved = step.iter().fold(0.0_f64, |most, part| most.max(part.abs()));
                        (at, best) = (next, found);
                        break;
                    }
                }
                damping *= 8.0;
            }
            if moved < 1e-6 {
                break;
            }
        }
        Self { log_likelihood: best, ..Self::at(at) }
    }

    /// The rate of a seed parent with these crosses.
    pub fn seed_parent(self, crosses: &[Trials], confidence: Confidence) -> Told {
        let points = self.posterior(crosses, FINE_POINTS);
        let mean = points.iter().map(|point| point.weight * point.rate).sum();
        Told { mean, interval: interval(confidence, |p| quantile(&points, p)) }
    }

    /// The rate of one cross with the counts `own`, which are also among its seed parent's `crosses` (or none).
    pub fn cross(self, crosses: &[Trials], own: Trials, confidence: Confidence) -> Told {
        let parts: Vec<(f64, BetaBinomial)> = self
            .posterior(crosses, POINTS)
            .iter()
            .map(|point| (point.weight, self.within(point.rate).posterior(own)))
            .collect();
        let mean = parts.iter().map(|(weight, rate)| weight * rate.mean()).sum();
        let below = |x: f64, rest: f64| -> f64 {
            parts.iter().map(|(weight, rate)| weight * beta_lower(rate.alpha, rate.beta, x, rest)).sum()
        };
        let quantile = |p: f64| {
            let (mut low, mut high) = (-40.0, 40.0);
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if below(logistic(middle), logistic(-middle)) < p { low = middle } else { high = middle }
            }
            logistic(f64::midpoint(low, high))
        };
        Told { mean, interval: interval(confidence, quantile) }
    }

    fn at([logit, total, within]: [f64; 3]) -> Self {
        let (total, within_total) = (total.exp(), within.exp());
        let between = BetaBinomial { alpha: logistic(logit) * total, beta: logistic(-logit) * total };
        Self { between, within_total, log_likelihood: f64::NAN }
    }

    /// The rates of the crosses of a seed parent of this rate.
    fn within(self, rate: f64) -> BetaBinomial {
        BetaBinomial {
            alpha: (self.within_total * rate).max(f64::MIN_POSITIVE),
            beta: (self.within_total * (1.0 - rate)).max(f64::MIN_POSITIVE),
        }
    }

    fn log_likelihood_of(self, seed_parents: &[Vec<Trials>]) -> f64 {
        let integral = |crosses: &Vec<Trials>| {
            let (points, log_scale) = self.points(crosses, POINTS);
            let coefficients: f64 = crosses
                .iter()
                .map(|c| ln_factorial(c.of()) - ln_factorial(c.count()) - ln_factorial(c.of() - c.count()))
                .sum();
            points.iter().map(|point| point.weight).sum::<f64>().ln() + log_scale + coefficients
        };
        seed_parents.iter().map(integral).sum()
    }

    /// The posterior of a seed parent's rate, as points whose weights add to 1.
    fn posterior(self, crosses: &[Trials], count: u32) -> Vec<Point> {
        let (mut points, _) = self.points(crosses, count);
        let sum: f64 = points.iter().map(|point| point.weight).sum();
        for point in &mut points {
            point.weight /= sum;
        }
        points.retain(|point| point.weight > 1e-14);
        points
    }

    /// Points of the trapezoid rule on the logit of the rate, weights scaled by the exponential of the second
    /// result. The range is drawn in until the integrand fills it: the rule then converges exponentially.
    fn points(self, crosses: &[Trials], count: u32) -> (Vec<Point>, f64) {
        let log_density = |logit: f64| {
            let (rate, rest) = (logistic(logit), logistic(-logit));
            let prior = self.between.alpha * rate.ln() + self.between.beta * rest.ln();
            let within = self.within(rate);
            prior + crosses.iter().map(|&trials| within.kernel(trials)).sum::<f64>()
        };
        let centre = digamma(self.between.alpha) - digamma(self.between.beta);
        let reach = 12.0 * (trigamma(self.between.alpha) + trigamma(self.between.beta)).sqrt();
        let (mut low, mut high) = ((centre - reach).max(-690.0), (centre + reach).min(690.0));
        for cross in crosses {
            let seen = ((cross.count() as f64 + 0.5) / ((cross.of() - cross.count()) as f64 + 0.5)).ln();
            (low, high) = (low.min(seen - 1.0), high.max(seen + 1.0));
        }
        let mut grid: Vec<(f64, f64)> = Vec::new();
        let mut top = f64::NEG_INFINITY;
        for _ in 0..8 {
            let step = (high - low) / f64::from(count - 1);
            grid.clear();
            grid.extend((0..count).map(|i| {
                let logit = low + step * f64::from(i);
                (logit, log_density(logit))
            }));
            top = grid.iter().fold(f64::NEG_INFINITY, |top, &(_, value)| top.max(value));
            let inside = |&&(_, value): &&(f64, f64)| value > top - 36.0;
            let first = grid.iter().find(inside).map_or(low, |&(logit, _)| logit - step);
            let last = grid.iter().rev().find(inside).map_or(high, |&(logit, _)| logit + step);
            if last - first > 0.5 * (high - low) {
                break;
            }
            (low, high) = (first.max(-700.0), last.min(700.0));
        }
        let step = (high - low) / f64::from(count - 1);
        let points = grid
            .iter()
            .map(|&(logit, value)| Point { logit, rate: logistic(logit), weight: step * (value - top).exp() })
            .collect();
        (points, top - ln_beta(self.between.alpha, self.between.beta))
    }
}

fn interval(confidence: Confidence, quantile: impl Fn(f64) -> f64) -> Interval {
    let tail = 0.5 * (1.0 - confidence.level());
    Interval { low: quantile(tail), high: quantile(1.0 - tail) }
}

/// The rate that lies above the share `p` of the posterior, straight on the logit between points.
fn quantile(points: &[Point], p: f64) -> f64 {
    let mut before = 0.0;
    let mut last: Option<(f64, f64)> = None;
    for point in points {
        let below = before + 0.5 * point.weight;
        if below >= p {
            let logit = last.map_or(point.logit, |(logit, under)| {
                logit + (point.logit - logit) * (p - under) / (below - under)
            });
            return logistic(logit);
        }
        before += point.weight;
        last = Some((point.logit, below));
    }
    last.map_or(f64::NAN, |(logit, _)| logistic(logit))
}

/// Central differences, first and second.
fn differences(value: &impl Fn([f64; 3]) -> f64, at: [f64; 3], here: f64) -> ([f64; 3], [[f64; 3]; 3]) {
    const H: f64 = 2e-3;
    let shifted = |moves: &[(usize, f64)]| {
        let mut to = at;
        for &(i, by) in moves {
            if let Some(x) = to.get_mut(i) {
                *x += by;
            }
        }
        value(to)
    };
    let mut gradient = [0.0; 3];
    let mut hessian = [[0.0; 3]; 3];
    for i in 0..3 {
        let (up, down) = (shifted(&[(i, H)]), shifted(&[(i, -H)]));
        gradient[i] = (up - down) / (2.0 * H);
        hessian[i][i] = (up - 2.0 * here + down) / (H * H);
        for j in 0..i {
            let mixed =
                shifted(&[(i, H), (j, H)]) - shifted(&[(i, H), (j, -H)]) - shifted(&[(i, -H), (j, H)])
                    + shifted(&[(i, -H), (j, -H)]);
            hessian[i][j] = mixed / (4.0 * H * H);
            hessian[j][i] = hessian[i][j];
        }
    }
    (gradient, hessian)
}

/// Solves `(damping - H) step = gradient` over the free coordinates by Cholesky's method, steps at most 1.
fn damped_step(
    gradient: [f64; 3],
    hessian: [[f64; 3]; 3],
    free: [bool; 3],
    damping: f64,
) -> Option<[f64; 3]> {
    let mut l = [[0.0; 3]; 3];
    let mut y = [0.0; 3];
    for i in 0..3 {
        for j in 0..=i {
            let entry = match (free[i] && free[j], i == j) {
                (true, true) => damping - hessian[i][j],
                (true, false) => -hessian[i][j],
                (false, true) => 1.0,
                (false, false) => 0.0,
            };
            let sum = entry - (0..j).map(|k| l[i][k] * l[j][k]).sum::<f64>();
            if i == j {
                if sum <= 0.0 || !sum.is_finite() {
                    return None;
                }
                l[i][i] = sum.sqrt();
            } else {
                l[i][j] = sum / l[j][j];
            }
        }
        let wanted = if free[i] { gradient[i] } else { 0.0 };
        y[i] = (wanted - (0..i).map(|k| l[i][k] * y[k]).sum::<f64>()) / l[i][i];
    }
    let mut step = [0.0; 3];
    for i in (0..3).rev() {
        step[i] = (y[i] - (i + 1..3).map(|k| l[k][i] * step[k]).sum::<f64>()) / l[i][i];
    }
    let longest = step.iter().fold(0.0_f64, |most, part| most.max(part.abs()));
    let scale = if longest > 1.0 { 1.0 / longest } else { 1.0 };
    Some(step.map(|part| part * scale))
}
