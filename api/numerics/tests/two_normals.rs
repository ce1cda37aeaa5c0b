//! Two correlated normals against integration and known values.

use storksbill_numerics::bivariate::both_above;
use storksbill_numerics::normal;

fn density(z: f64) -> f64 {
    (-z * z / 2.0).exp() / std::f64::consts::TAU.sqrt()
}

/// Trapezium rule, many steps, of a function that vanishes at both ends or is smooth.
fn integral(from: f64, to: f64, steps: u32, f: impl Fn(f64) -> f64) -> f64 {
    let step = (to - from) / f64::from(steps);
    let inner: f64 = (1..steps).map(|at| f(from + step * f64::from(at))).sum();
    step * (inner + f64::midpoint(f(from), f(to)))
}

/// Simpson's rule from the trapezium's.
fn simpson(from: f64, to: f64, steps: u32, f: impl Fn(f64) -> f64 + Copy) -> f64 {
    (4.0 * integral(from, to, 2 * steps, f) - integral(from, to, steps, f)) / 3.0
}

#[test]
fn two_normals_agree_with_integration() {
    for r in [-0.999, -0.96, -0.93, -0.9, -0.5, -0.1, 0.0, 0.3, 0.75, 0.92, 0.93, 0.98, 0.9999_f64] {
        for h in [-3.0, -1.2, 0.0, 0.4, 2.5] {
            for k in [-2.7, -0.8, 0.0, 0.41, 3.1] {
                let rest = (1.0 - r * r).sqrt();
                let direct = simpson(h, 12.0, 15_000, |x| density(x) * normal::survival((k - r * x) / rest));
                let value = both_above(h, k, r);
                assert!((value - direct).abs() < 1e-11, "{h} {k} {r}: {value} {direct}");
            }
        }
    }
}

#[test]
fn two_normals_in_closed_form() {
    // The quadrant: 1/4 + asin(r) / 2 pi (Sheppard 1899, Philosophical Transactions A 192:101-167).
    for r in [-1.0, -0.99, -0.6, 0.0, 0.2, 0.7, 0.95, 1.0_f64] {
        let quadrant = 0.25 + r.asin() / std::f64::consts::TAU;
        assert!((both_above(0.0, 0.0, r) - quadrant).abs() < 1e-14, "{r}");
    }
    // Full correlation either way, and bounds that do not bind.
    assert!((both_above(0.3, 1.1, 1.0) - normal::survival(1.1)).abs() < 1e-15);
    assert!((both_above(-1.1, -0.3, -1.0) - (normal::cdf(0.3) - normal::cdf(-1.1))).abs() < 1e-15);
    assert!(both_above(1.1, 0.3, -1.0).abs() < 1e-15);
    assert!((both_above(f64::NEG_INFINITY, 0.7, 0.5) - normal::survival(0.7)).abs() < 1e-15);
    assert!(both_above(f64::INFINITY, 0.7, 0.5).abs() < 1e-15);
}
