//! Gamma, beta and the normal deviate against `SciPy` 1.17.1 (Virtanen et al. 2020, Nature Methods 17:261-272).

use storksbill_numerics::beta::{beta_lower, beta_quantile, ln_beta};
use storksbill_numerics::gamma::{digamma, ln_gamma, ln_rising, trigamma};
use storksbill_numerics::normal::two_sided;

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
    close(two_sided(0.95), 1.959_963_984_540_054);
    close(two_sided(0.99), 2.575_829_303_548_900_4);
    close(two_sided(0.5), 0.674_489_750_196_081_7);
}

/// Fifty digits of `mpmath`, rounded: the difference of the gammas' logarithms would lose up to seven.
#[test]
fn the_logarithm_of_beta_keeps_its_digits_for_large_arguments() {
    for (a, b, log) in [
        (0.5, 0.5, 1.144_729_885_849_400_2),
        (0.5, 2_500.0, -3.339_608_062_503_779),
        (3.0, 40.0, -10.446_973_958_541_667),
        (16.0, 16.0, -22.293_680_785_633_527),
        (500_000.0, 500_000.0, -693_152.476_229_260_5),
        (1e-3, 1e6, 6.893_363_375_325_389),
        (250.25, 7.5, -33.980_595_744_612_297),
    ] {
        for own in [ln_beta(a, b), ln_beta(b, a)] {
            assert!((own / log - 1.0).abs() < 1e-15 * 8.0, "{a}, {b}: {own} for {log}");
        }
    }
}
