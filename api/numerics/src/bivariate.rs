//! The normal distribution of two correlated variables.

use std::f64::consts::TAU;

use crate::normal;

/// Positive half of the 20-point Gauss-Legendre rule on -1..1, as (node, weight) (Abramowitz & Stegun
/// 1964, Table 25.4).
const RULE: [(f64, f64); 10] = [
    (0.993_128_599_185_095, 0.017_614_007_139_152_12),
    (0.963_971_927_277_913_8, 0.040_601_429_800_386_94),
    (0.912_234_428_251_326, 0.062_672_048_334_109_06),
    (0.839_116_971_822_218_8, 0.083_276_741_576_704_75),
    (0.746_331_906_460_150_8, 0.101_930_119_817_240_4),
    (0.636_053_680_726_515, 0.118_194_531_961_518_4),
    (0.510_867_001_950_827_1, 0.131_688_638_449_176_6),
    (0.373_706_088_715_419_6, 0.142_096_109_318_382_1),
    (0.227_785_851_141_645_1, 0.149_172_986_472_603_7),
    (0.076_526_521_133_497_33, 0.152_753_387_130_725_9),
];

/// Beyond this correlation the integral over the angle is replaced by an expansion about full correlation.
const STEEP: f64 = 0.925;
/// `exp` of less is nothing beside the rest.
const NOTHING: f64 = -100.0;

/// `P(X > h, Y > k)` of two standard normals with the given correlation, to about 1e-14; bounds may be
/// infinite, a correlation beyond 1 counts as 1.
///
/// Method: Drezner & Wesolowsky 1990, Journal of Statistical Computation and Simulation 35:101-107, with
/// the changes of Genz 2004, Statistics and Computing 14:251-260.
pub fn both_above(h: f64, k: f64, correlation: f64) -> f64 {
    if h == f64::INFINITY || k == f64::INFINITY {
        return 0.0;
    }
    if h == f64::NEG_INFINITY || k == f64::NEG_INFINITY {
        return normal::survival(h.max(k));
    }
    let r = correlation.clamp(-1.0, 1.0);
    let value = if r.abs() < STEEP { gentle(h, k, r) } else { steep(h, k, r) };
    value.clamp(0.0, 1.0)
}

fn nodes() -> impl Iterator<Item = (f64, f64)> {
    RULE.iter().flat_map(|&(x, weight)| [(1.0 - x, weight), (1.0 + x, weight)])
}

fn gentle(h: f64, k: f64, r: f64) -> f64 {
    let half_angle = r.asin() / 2.0;
    let (product, squares) = (h * k, f64::midpoint(h * h, k * k));
    let sum: f64 = nodes()
        .map(|(x, weight)| {
            let sine = (half_angle * x).sin();
            weight * ((sine * product - squares) / (1.0 - sine * sine)).exp()
        })
        .sum();
    sum * half_angle / TAU + normal::survival(h) * normal::survival(k)
}

fn steep(h: f64, k: f64, r: f64) -> f64 {
    // Y turned about for a negative correlation: P(X > h, Y > k) = P(X > h) - P(X > h, -Y > -k).
    let k = if r < 0.0 { -k } else { k };
    let product = h * k;
    let rest = 1.0 - r * r;
    let mut part = 0.0;
    if rest > 0.0 {
        let gap = (h - k) * (h - k);
        let (second, fourth) = ((4.0 - product) / 8.0, (12.0 - product) / 80.0);
        let root = rest.sqrt();
        let exponent = -f64::midpoint(gap / rest, product);
        if exponent > NOTHING {
            part = root
                * exponent.exp()
                * (1.0 - second * (gap - rest) * (1.0 - fourth * gap) / 3.0 + second * fourth * rest * rest);
        }
        if product > NOTHING {
            let distance = gap.sqrt();
            let tail = TAU.sqrt() * normal::survival(distance / root);
            part -=
                (-product / 2.0).exp() * tail * distance * (1.0 - second * gap * (1.0 - fourth * gap) / 3.0);
        }
        let sum: f64 = nodes()
            .map(|(x, weight)| {
                let square = (root / 2.0 * x).powi(2);
                let exponent = -f64::midpoint(gap / square, product);
                if exponent <= NOTHING {
                    return 0.0;
                }
                let series = 1.0 + second * square * (1.0 + 5.0 * fourth * square);
                let cosine = (1.0 - square).sqrt();
                let exact = (-(product / 2.0) * square / (1.0 + cosine).powi(2)).exp() / cosine;
                weight * exponent.exp() * (series - exact)
            })
            .sum();
        part = (root / 2.0 * sum - part) / TAU;
    }
    if r > 0.0 {
        part + normal::survival(h.max(k))
    } else if h >= k {
        -part
    } else {
        // The difference in the tail where it is small.
        let between =
            if h < 0.0 { normal::cdf(k) - normal::cdf(h) } else { normal::survival(h) - normal::survival(k) };
        between - part
    }
}
