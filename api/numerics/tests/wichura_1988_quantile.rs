//! The normal quantile against Wichura 1988 (Applied Statistics 37:477-484), whose test points are
//! p = 0.25, 0.001 and 1e-20, and against 350-digit values of the inverse error function computed apart from
//! this crate.

use storksbill_numerics::normal::{cdf, density, quantile};

#[test]
fn to_the_last_digits_from_the_centre_to_the_far_tail() {
    let points = [
        // Wichura's own three.
        (0.25, -0.674_489_750_196_081_7),
        (0.001, -3.090_232_306_167_813_5),
        (1e-20, -9.262_340_089_798_408),
        (1e-300, -37.047_096_299_361_2),
        (1e-30, -11.464_024_688_443_617),
        (1e-9, -5.997_807_015_007_687),
        (0.02, -2.053_748_910_631_823),
        (0.2, -0.841_621_233_572_914_2),
        (0.425, -0.189_118_426_272_792_5),
        (0.9, 1.281_551_565_544_600_4),
        (0.975, 1.959_963_984_540_054_2),
        (0.99999, 4.264_890_793_922_825),
    ];
    for (p, z) in points {
        // The upper tail is only as good as 1 - p.
        let room = if p > 0.99 { 1e-11 } else { 1e-15 };
        assert!((quantile(p) / z - 1.0).abs() < room, "{p}: {}, expected {z}", quantile(p));
        assert!((cdf(quantile(p)) / p - 1.0).abs() < 3e-13, "{p} and back");
    }
    assert!(quantile(0.5).abs() < 1e-300);
    assert!(quantile(0.0).is_infinite() && quantile(0.0) < 0.0 && quantile(1.0).is_infinite());
    assert!(quantile(-0.1).is_nan() && quantile(1.1).is_nan() && quantile(f64::NAN).is_nan());
}

#[test]
fn the_density_is_the_slope() {
    for z in [-4.0, -1.0, 0.0, 0.3, 2.5] {
        let step = 1e-4;
        let slope = (cdf(z + step) - cdf(z - step)) / (2.0 * step);
        assert!((density(z) / slope - 1.0).abs() < 1e-6, "{z}");
    }
}
