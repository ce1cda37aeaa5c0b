//! Tails of chi-square and two-sided binomial tests as `SciPy` 1.17.1 gives them (`chi2.sf`, `chi2.isf`,
//! `binomtest`, whose two-sided test adds the outcomes that are no likelier).
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::Ratio;
use storksbill_pedigree::chi_square::{critical, survival};
use storksbill_pedigree::multinomial::exact;

#[test]
fn tails_of_chi_square() {
    for (x, freedom, p) in [
        (3.841_458_820_694_124, 1, 0.05),
        (7.814_727_903_251_179, 3, 0.05),
        (100.0, 1, 1.523_970_604_83e-23),
        (0.001, 1, 0.974_772_879_37),
        (50.0, 30, 0.012_402_060_718_9),
        (1e-8, 2, 0.999_999_995),
    ] {
        assert!((survival(x, freedom) / p - 1.0).abs() < 1e-11, "{x}, {freedom}: {}", survival(x, freedom));
    }
    assert!(survival(0.0, 3) >= 1.0 && survival(f64::INFINITY, 3) <= 0.0);
}

#[test]
fn critical_values_of_chi_square() {
    for (freedom, x) in [
        (1, 3.841_459),
        (2, 5.991_465),
        (3, 7.814_728),
        (4, 9.487_729),
        (7, 14.067_140),
        (9, 16.918_978),
        (10, 18.307_038),
    ] {
        assert!((critical(0.05, freedom) - x).abs() < 6e-7);
    }
    assert!(critical(0.0, 1).is_nan() && critical(0.05, 0).is_nan());
}

#[test]
fn two_sided_binomial() {
    let p = |counts: [u64; 2], parts: [u128; 2]| {
        exact(&counts, &Ratio::new(&parts).unwrap(), 100, 0).unwrap().by_probability
    };
    assert!((p([7, 2], [1, 1]) - 0.179_687_5).abs() < 1e-14);
    assert!((p([5, 4], [3, 1]) - 0.240_810_394_3).abs() < 1e-10);
}
