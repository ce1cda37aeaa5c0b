//! The beta function, complete and incomplete, and the inverse of the latter.
//!
//! Sources: M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions", Washington 1964: 26.5.8;
//! W. J. Lentz, Applied Optics 15, 1976, 668-671 (continued fractions); A. R. Didonato, A. H. Morris, ACM
//! Transactions on Mathematical Software 18, 1992, 360-373 (when to exchange the arguments, and how to take the
//! difference of two large logarithms of the gamma function).

use crate::gamma::{FAR, MOST_TERMS, away_from_zero, ln_gamma, stirling_rest};

/// `ln B(a, b)` for `a, b > 0`, without the cancellation of large logarithms.
pub fn ln_beta(a: f64, b: f64) -> f64 {
    let (small, large) = if a < b { (a, b) } else { (b, a) };
    if large < FAR {
        return ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b);
    }
    // ln Gamma(large) - ln Gamma(small + large), by Stirling's formula for both.
    let both = small + large;
    let fall = small - (large - 0.5) * (small / large).ln_1p() - small * both.ln() + stirling_rest(large)
        - stirling_rest(both);
    ln_gamma(small) + fall
}

/// `I_x(a, b)`, the beta distribution function, for `a, b > 0` and `rest = 1 - x`.
pub fn beta_lower(a: f64, b: f64, x: f64, rest: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if rest <= 0.0 {
        return 1.0;
    }
    let front = (a * log_of(x, rest) + b * log_of(rest, x) - ln_beta(a, b)).exp();
    if x < (a + 1.0) / (a + b + 2.0) {
        front * beta_fraction(a, b, x) / a
    } else {
        1.0 - front * beta_fraction(b, a, rest) / b
    }
}

/// The `x` with `I_x(a, b) = p`: Newton on the logit of `x`, kept inside a shrinking bracket.
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    if p <= 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return 1.0;
    }
    let (mut low, mut high) = (-700.0_f64, 700.0_f64);
    let mut logit = (a / b).ln();
    for _ in 0..200 {
        let (x, rest) = (logistic(logit), logistic(-logit));
        let missing = p - beta_lower(a, b, x, rest);
        if missing > 0.0 {
            low = logit;
        } else {
            high = logit;
        }
        let slope = (a * x.ln() + b * rest.ln() - ln_beta(a, b)).exp();
        let next = logit + missing / slope;
        let next = if next > low && next < high { next } else { f64::midpoint(low, high) };
        if (next - logit).abs() <= 1e-15 * logit.abs().max(1.0) {
            break;
        }
        logit = next;
    }
    logistic(logit)
}

/// `1 / (1 + exp(-u))`
pub fn logistic(u: f64) -> f64 {
    if u < 0.0 { u.exp() / (1.0 + u.exp()) } else { 1.0 / (1.0 + (-u).exp()) }
}

/// `ln x` for `x = 1 - rest`, accurate near one.
fn log_of(x: f64, rest: f64) -> f64 {
    if rest < 0.5 { (-rest).ln_1p() } else { x.ln() }
}

/// The continued fraction of the incomplete beta function by Lentz's method.
fn beta_fraction(a: f64, b: f64, x: f64) -> f64 {
    let mut above = 1.0;
    let mut below = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut value = below;
    for step in (1..MOST_TERMS).map(f64::from) {
        let twice = a + 2.0 * step;
        let even = step * (b - step) * x / ((twice - 1.0) * twice);
        let odd = -(a + step) * (a + b + step) * x / (twice * (twice + 1.0));
        let mut change = 1.0;
        for term in [even, odd] {
            below = 1.0 / away_from_zero(1.0 + term * below);
            above = away_from_zero(1.0 + term / above);
            change = above * below;
            value *= change;
        }
        if (change - 1.0).abs() < 1e-16 {
            break;
        }
    }
    value
}
