//! Student's t against the incomplete beta function evaluated to 40 digits apart from this crate
//! (Abramowitz & Stegun 1964, 26.7.1), against `SciPy` 1.17 (`stats.t`) and against closed forms.

use storksbill_numerics::student_t::{cdf, density, quantile, survival};

#[test]
fn tails_for_few_and_many_degrees_of_freedom() {
    // (t, degrees of freedom, P(T > t))
    let points = [
        (0.1, 0.5, 0.473_165_810_564_303_2),
        // 1/2 - atan(2)/pi.
        (2.0, 1.0, 0.147_583_617_650_433_27),
        (2.5, 3.0, 0.043_853_323_504_032_77),
        (6.0, 5.0, 0.000_923_069_144_797_007_2),
        (40.0, 5.0, 9.205_981_085_886_477e-8),
        (1e8, 2.0, 5e-17),
        (1.3, 61.0, 0.099_245_926_587_581_3),
        (5.0, 61.0, 2.568_171_866_671_483_5e-6),
        (0.01, 300.0, 0.496_013_966_979_440_9),
        (8.0, 300.0, 1.367_507_695_076_921e-14),
        (3.0, 9_999.0, 0.001_353_224_427_856_174_9),
        (3.0, 10_001.0, 0.001_353_223_762_208_099_7),
        (7.0, 10_001.0, 1.362_007_329_687_577e-12),
        (2.0, 1e7, 0.022_750_145_445_921_48),
    ];
    for (t, freedom, tail) in points {
        let own = survival(t, freedom);
        assert!((own / tail - 1.0).abs() < 1e-12, "{t} with {freedom}: {own}, expected {tail}");
        assert!(
            (cdf(-t, freedom) / tail - 1.0).abs() < 1e-12 && (cdf(t, freedom) + tail - 1.0).abs() < 1e-15
        );
        assert!((quantile(tail, freedom) / -t - 1.0).abs() < 1e-11, "{t} with {freedom} and back");
    }
}

#[test]
fn points_of_another_implementation() {
    assert!((cdf(2.0, 5.0) - 0.949_030_260_585_070_8).abs() < 1e-15);
    assert!((quantile(0.9, 11.0) - 1.363_430_318_020_540_7).abs() < 1e-14);
}

#[test]
fn the_density_is_the_slope_and_the_limit_is_the_normal() {
    for (t, freedom) in [(0.0, 1.0), (-1.5, 3.0), (2.0, 10.0), (4.0, 200.0)] {
        let step = 1e-4;
        let slope = (cdf(t + step, freedom) - cdf(t - step, freedom)) / (2.0 * step);
        assert!((density(t, freedom) / slope - 1.0).abs() < 1e-6, "{t} with {freedom}");
    }
    let normal = storksbill_numerics::normal::cdf(-3.0);
    assert!((cdf(-3.0, f64::INFINITY) / normal - 1.0).abs() < 1e-15);
}

#[test]
fn what_is_no_distribution_is_no_number() {
    assert!(cdf(1.0, 0.0).is_nan() && cdf(f64::NAN, 3.0).is_nan() && density(0.0, -1.0).is_nan());
    assert!(quantile(1.5, 3.0).is_nan() && quantile(0.5, f64::NAN).is_nan());
    assert!(quantile(0.0, 3.0).is_infinite() && quantile(1.0, 3.0) > 0.0);
}
