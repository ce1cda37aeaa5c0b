//! Student's t distribution, for any positive number of degrees of freedom.
//!
//! Sources: Abramowitz & Stegun 1964, 26.5.1 and 26.7.1 (the tail as an incomplete beta function);
//! Didonato & Morris 1992, ACM Transactions on Mathematical Software 18:360-373, for when to exchange its
//! arguments; Hill 1970, Communications of the ACM 13:617-619, algorithm 395, for many degrees of freedom.

use crate::beta::beta_lower;
use crate::gamma::half_step;
use crate::normal;

/// From here on Hill's expansion is more accurate than the sum of a long continued fraction.
const MANY: f64 = 10_000.0;

/// `P(T <= t)`; not a number unless `freedom` is positive. An infinite `freedom` is the normal.
pub fn cdf(t: f64, freedom: f64) -> f64 {
    survival(-t, freedom)
}

/// `P(T > t)`, with full relative accuracy in the upper tail; not a number unless `freedom` is positive.
pub fn survival(t: f64, freedom: f64) -> f64 {
    if t.is_nan() || freedom.is_nan() || freedom <= 0.0 {
        return f64::NAN;
    }
    let upper = if freedom >= MANY {
        normal::survival(normal_deviate(t.abs(), freedom))
    } else {
        // t squared over the sum, either way round, so that neither loses its digits.
        let ratio = t * t / freedom;
        let (x, rest) =
            if ratio.is_finite() { (1.0 / (1.0 + ratio), ratio / (1.0 + ratio)) } else { (0.0, 1.0) };
        0.5 * beta_lower(0.5 * freedom, 0.5, x, rest)
    };
    if t < 0.0 { 1.0 - upper } else { upper }
}

/// The density at `t`; not a number unless `freedom` is positive.
pub fn density(t: f64, freedom: f64) -> f64 {
    if freedom.is_nan() || freedom <= 0.0 {
        return f64::NAN;
    }
    if freedom.is_infinite() {
        return normal::density(t);
    }
    half_step(0.5 * freedom) / (freedom * std::f64::consts::PI).sqrt()
        * (-0.5 * (freedom + 1.0) * (t * t / freedom).ln_1p()).exp()
}

/// The `t` with `cdf(t) = p`; minus and plus infinity at 0 and 1, not a number when `p` is no probability
/// or `freedom` not positive.
pub fn quantile(p: f64, freedom: f64) -> f64 {
    if freedom.is_nan() || freedom <= 0.0 || !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    let tail = p.min(1.0 - p);
    if tail <= 0.0 {
        return f64::INFINITY.copysign(p - 0.5);
    }
    // Safeguarded Newton on ln P(T > t) against ln t: nearly straight however heavy the tail.
    let (mut low, mut high) = (0.0, 1.0_f64);
    while survival(high, freedom) > tail {
        low = high;
        high *= 2.0;
        if high.is_infinite() {
            return f64::INFINITY.copysign(p - 0.5);
        }
    }
    let mut t = f64::midpoint(low, high);
    for _ in 0..200 {
        let above = survival(t, freedom);
        if above > tail {
            low = t;
        } else {
            high = t;
        }
        let step = above * (above / tail).ln() / density(t, freedom);
        let next = if t + step > low && t + step < high { t + step } else { f64::midpoint(low, high) };
        if (next - t).abs() <= 1e-15 * t {
            t = next;
            break;
        }
        t = next;
    }
    t.copysign(p - 0.5)
}

/// The normal deviate with the same upper tail as `t >= 0`; relative error about `freedom^-4`.
fn normal_deviate(t: f64, freedom: f64) -> f64 {
    if freedom.is_infinite() {
        return t;
    }
    let a = freedom - 0.5;
    let b = 48.0 * a * a;
    let y = a * (t * t / freedom).ln_1p();
    (((((-0.4 * y - 3.3) * y - 24.0) * y - 85.5) / (0.8 * y * y + 100.0 + b) + y + 3.0) / b + 1.0) * y.sqrt()
}
