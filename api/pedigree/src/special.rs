//! Special functions: gamma and beta, complete and incomplete, and the normal deviate.
//!
//! Sources: M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions", Washington 1964: 6.1.41, 6.3.18,
//! 6.4.12 (asymptotic series), 6.5.29, 6.5.31 (incomplete gamma), 26.5.8 (incomplete beta), 26.2.23 (first
//! guess of a normal deviate); W. J. Lentz, Applied Optics 15, 1976, 668-671 (continued fractions).

/// From here on the asymptotic series below are exact to double precision.
const FAR: f64 = 16.0;
const HALF_LN_TAU: f64 = 0.918_938_533_204_672_8;
const TINY: f64 = 1e-300;
/// Enough for arguments up to some 10^8; an incomplete function needs about the root of its argument.
const MOST_TERMS: u32 = 100_000;

/// `ln Gamma(x)` for `x > 0`.
pub(crate) fn ln_gamma(x: f64) -> f64 {
    let (mut x, mut below) = (x, 1.0);
    while x < FAR {
        below *= x;
        x += 1.0;
    }
    let s = 1.0 / (x * x);
    let series = (1.0 / 12.0
        - s * (1.0 / 360.0
            - s * (1.0 / 1_260.0
                - s * (1.0 / 1_680.0 - s * (1.0 / 1_188.0 - s * (691.0 / 360_360.0 - s * (1.0 / 156.0)))))))
        / x;
    (x - 0.5) * x.ln() - x + HALF_LN_TAU + series - below.ln()
}

/// `ln n!`
pub(crate) fn ln_factorial(n: u64) -> f64 {
    ln_gamma(n as f64 + 1.0)
}

/// The derivative of `ln Gamma` for `x > 0`.
pub(crate) fn digamma(x: f64) -> f64 {
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
pub(crate) fn trigamma(x: f64) -> f64 {
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
pub(crate) fn ln_rising(a: f64, n: u64) -> f64 {
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
pub(crate) fn gamma_upper(a: f64, x: f64) -> f64 {
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

/// `I_x(a, b)`, the beta distribution function, for `a, b > 0` and `rest = 1 - x`.
pub(crate) fn beta_lower(a: f64, b: f64, x: f64, rest: f64) -> f64 {
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
pub(crate) fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
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
pub(crate) fn logistic(u: f64) -> f64 {
    if u < 0.0 { u.exp() / (1.0 + u.exp()) } else { 1.0 / (1.0 + (-u).exp()) }
}

/// `ln B(a, b)`
pub(crate) fn ln_beta(a: f64, b: f64) -> f64 {
    ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b)
}

/// The normal deviate `z >= 0` with `P(|Z| <= z) = coverage`.
pub(crate) fn two_sided_deviate(coverage: f64) -> f64 {
    let tail = 0.5 * (1.0 - coverage);
    let t = (-2.0 * tail.ln()).sqrt();
    let mut z = t
        - (2.515_517 + t * (0.802_853 + t * 0.010_328))
            / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)));
    for _ in 0..4 {
        let density = (-0.5 * z * z - HALF_LN_TAU).exp();
        z += (0.5 * gamma_upper(0.5, 0.5 * z * z) - tail) / density;
    }
    z.max(0.0)
}

/// `ln x` for `x = 1 - rest`, accurate near one.
fn log_of(x: f64, rest: f64) -> f64 {
    if rest < 0.5 { (-rest).ln_1p() } else { x.ln() }
}

fn away_from_zero(value: f64) -> f64 {
    if value.abs() < TINY { TINY } else { value }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64) {
        assert!((found - expected).abs() <= 1e-13 * expected.abs().max(1.0), "{found} for {expected}");
    }

    /// `gammaln`, `digamma`, `polygamma(1, .)` of `SciPy` 1.17.1.
    #[test]
    fn gamma_and_its_logarithmic_derivatives() {
        for (x, log, first, second) in [
            (0.001, 6.907_178_885_383_853, -1_000.575_571_931_810_3, 1_000_001.642_533_195_9),
            (0.5, 0.572_364_942_924_7, -1.963_510_026_021_423_5, 4.934_802_200_544_68),
            (1.0, 0.0, -0.577_215_664_901_532_9, 1.644_934_066_848_226_6),
            (2.5, 0.284_682_870_472_919_2, 0.703_156_640_645_243_2, 0.490_357_756_100_234_9),
            (7.25, 7.052_185_450_738_539_5, 1.910_453_526_883_736_2, 0.147_879_233_158_932_2),
            (16.0, 27.899_271_383_840_894, 2.741_013_328_327_460_5, 0.064_493_783_403_239_36),
            (123.4, 469.336_097_442_190_6, 4.811_373_775_116_277_5, 0.008_136_651_610_865_263),
            (1_000_000.0, 12_815_504.569_147_611, 13.815_510_057_964_19, 1.000_000_500_000_166_7e-06),
        ] {
            close(ln_gamma(x), log);
            close(digamma(x), first);
            close(trigamma(x), second);
        }
    }

    #[test]
    fn rising_factorials_agree_either_way() {
        for a in [1e-3, 0.7, 3.0, 900.5] {
            for n in [0, 1, 7, 8, 9, 64, 65, 300] {
                // The difference of two logarithms near 5,000 loses four digits.
                let difference = ln_gamma(a + n as f64) - ln_gamma(a);
                assert!((ln_rising(a, n) - difference).abs() < 1e-11, "{a}, {n}");
            }
        }
    }

    /// `betainc` and `betaincinv` of `SciPy` 1.17.1.
    #[test]
    fn incomplete_beta_and_its_inverse() {
        for (a, b, x, below) in [
            (2.0, 3.0, 0.4, 0.524_799_999_999_999_9),
            (0.5, 0.5, 0.1, 0.204_832_764_699_133_45),
            (82.0, 182.0, 0.3, 0.360_311_164_959_281_84),
            (1.0, 20.0, 0.05, 0.641_514_077_591_457_8),
            (0.01, 3.0, 0.01, 0.969_173_753_202_524_2),
            (400.0, 5.0, 0.99, 0.620_985_048_058_120_9),
            (500_000.0, 500_000.0, 0.500_5, 0.841_344_746_068_556_9),
        ] {
            assert!((beta_lower(a, b, x, 1.0 - x) - below).abs() < 1e-9);
            assert!((beta_quantile(below, a, b) - x).abs() < 1e-9 * x);
        }
    }

    #[test]
    fn the_deviate_of_a_two_sided_interval() {
        close(two_sided_deviate(0.95), 1.959_963_984_540_054);
        close(two_sided_deviate(0.99), 2.575_829_303_548_900_4);
        close(two_sided_deviate(0.5), 0.674_489_750_196_081_7);
    }
}
