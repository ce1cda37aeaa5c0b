//! The normal distribution function at points of Table 26.1 of Abramowitz & Stegun, "Handbook of
//! Mathematical Functions", Washington 1964; the tail points -5 and -8 as given by `SciPy` (`special.ndtr`).

use storksbill_numerics::normal::{cdf, survival};

#[test]
fn table_points_and_tails() {
    let points = [
        (-8.0, 6.220_960_574_271_74e-16),
        (-5.0, 2.866_515_718_791_933e-7),
        (0.0, 0.5),
        (0.5, 0.691_462_461_274_013_1),
        (2.0, 0.977_249_868_051_820_8),
        // The 0.1 % point.
        (-3.090_232_306_167_813, 0.001),
    ];
    for (z, p) in points {
        assert!((cdf(z) / p - 1.0).abs() < 1e-13, "{z}: {}, published {p}", cdf(z));
        assert!((survival(-z) / p - 1.0).abs() < 1e-13, "{z}: {}, published {p}", survival(-z));
    }
    assert!(cdf(f64::NEG_INFINITY) <= 0.0);
}
