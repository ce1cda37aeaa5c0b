//! The gamma function, its logarithm's derivatives, and its incomplete integral.
//!
//! Sources: M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions", Washington 1964: 6.1.41, 6.3.18,
//! 6.4.12 (asymptotic series), 6.5.29, 6.5.31 (incomplete gamma); W. J. Lentz, Applied Optics 15, 1976, 668-671
//! (continued fractions).

/// From here on the asymptotic series below are exact to double precision.
pub(crate) const FAR: f64 = 16.0;
const HALF_LN_TAU: f64 = 0.918_938_533_204_672_8;
pub(crate) const TINY: f64 = 1e-300;
/// Enough for arguments up to some 10^8; an incomplete function needs about the root of its argument.
pub(crate) const MOST_TERMS: u32 = 100_000;

/// `ln Gamma(x)` for `x > 0`.
pub fn ln_gamma(x: f64) -> f64 {
    let (mut x, mut below) = (x, 1.0);
    while x < FAR {
        below *= x;
        x += 1.0;
    }
    (x - 0.5) * x.ln() - x + HALF_LN_TAU + stirling_rest(x) - below.ln()
}

/// What is left of `ln Gamma(x)` beside Stirling's formula, for `x` of at least [`FAR`].
pub(crate) fn stirling_rest(x: f64) -> f64 {
    let s = 1.0 / (x * x);
    (1.0 / 12.0
        - s * (1.0 / 360.0
            - s * (1.0 / 1_260.0
                - s * (1.0 / 1_680.0 - s * (1.0 / 1_188.0 - s * (691.0 / 360_360.0 - s * (1.0 / 156.0)))))))
        / x
}

/// `ln n!`
pub fn ln_factorial(n: u64) -> f64 {
    ln_gamma(n as f64 + 1.0)
}

/// The derivative of `ln Gamma` for `x > 0`.
pub fn digamma(x: f64) -> f64 {
    let (mut x, mut value) = (x, 0.0);
    while x < FAR {
        value -= 1.0 / x;
        x += 1.0;
    }
    let s = 1.0 / (x * x);
    value + x.ln()
        - 0.5 / x
        - s * (1.0 / 12.0
            - s * (1.0 / 120.0
                - s * (1.0 / 252.0
                    - s * (1.0 / 240.0 - s * (1.0 / 132.0 - s * (691.0 / 32_760.0 - s / 12.0))))))
}

/// The second derivative of `ln Gamma` for `x > 0`.
pub fn trigamma(x: f64) -> f64 {
    let (mut x, mut value) = (x, 0.0);
    while x < FAR {
        value += 1.0 / (x * x);
        x += 1.0;
    }
    let s = 1.0 / (x * x);
    let series = 1.0 / 6.0
        - s * (1.0 / 30.0
            - s * (1.0 / 42.0 - s * (1.0 / 30.0 - s * (5.0 / 66.0 - s * (691.0 / 2_730.0 - s * 7.0 / 6.0)))));
    value + 1.0 / x + 0.5 * s + s / x * series
}

/// `ln a (a+1) .. (a+n-1)`, without the cancellation of two large logarithms where `n` is small.
pub fn ln_rising(a: f64, n: u64) -> f64 {
    if n > 64 {
        return ln_gamma(a + n as f64) - ln_gamma(a);
    }
    let (mut sum, mut product) = (0.0, 1.0);
    for i in 0..n {
        product *= a + i as f64;
        // Eight factors of at most 10^6 each stay far inside the range.
        if i % 8 == 7 {
            sum += f64::ln(product);
            product = 1.0;
        }
    }
    sum + product.ln()
}

/// `Q(a, x) = Gamma(a, x) / Gamma(a)`, the upper tail, for `a > 0`.
pub fn gamma_upper(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    if x.is_infinite() {
        return 0.0;
    }
    let front = (a * x.ln() - x - ln_gamma(a)).exp();
    if x < a + 1.0 {
        let (mut term, mut sum, mut at) = (1.0 / a, 1.0 / a, a);
        for _ in 0..MOST_TERMS {
            at += 1.0;
            term *= x / at;
            sum += term;
            if term < sum * 1e-17 {
                break;
            }
        }
        return (1.0 - front * sum).max(0.0);
    }
    let mut b = x + 1.0 - a;
    let mut above = 1.0 / TINY;
    let mut below = 1.0 / b;
    let mut value = below;
    for i in (1..MOST_TERMS).map(f64::from) {
        let term = -i * (i - a);
        b += 2.0;
        below = 1.0 / away_from_zero(term * below + b);
        above = away_from_zero(b + term / above);
        let change = above * below;
        value *= change;
        if (change - 1.0).abs() < 1e-16 {
            break;
        }
    }
    front * value
}

/// `Gamma(a + 1/2) / Gamma(a)`, without the cancellation of two large logarithms.
pub fn half_step(a: f64) -> f64 {
    if a < 20.0 {
        // Gamma(a+1/2)/Gamma(a) = [a/(a+1/2)] Gamma(a+3/2)/Gamma(a+1), up to where the series holds.
        let mut factor = 1.0;
        let mut from = a;
        while from < 20.0 {
            factor *= from / (from + 0.5);
            from += 1.0;
        }
        return factor * half_step(from);
    }
    let inverse = 1.0 / a;
    let square = inverse * inverse;
    let log = -inverse / 8.0
        * (1.0 - square / 24.0 + square * square / 80.0 - square * square * square * 17.0 / 1_792.0);
    a.sqrt() * log.exp()
}

/// Keeps a continued fraction from dividing by nothing.
pub(crate) fn away_from_zero(value: f64) -> f64 {
    if value.abs() < TINY { TINY } else { value }
}
