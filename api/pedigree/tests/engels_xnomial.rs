//! The exact multinomial test of W. R. Engels (documentation of the R package `XNomial`): Mendel's 315:108:101:32
//! against 9:3:3:1, 28,956,759 outcomes. Its printed p-values, by likelihood ratio .9261, by probability .9382,
//! by chi-square .9272, are from memory; their further digits and the small cases were found by enumeration in
//! another program.
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::Ratio;
use storksbill_pedigree::multinomial::{DRAWS, MOST_OUTCOMES, Outcomes, count_outcomes, exact};

#[test]
fn mendels_two_traits_by_every_outcome() {
    assert_eq!(count_outcomes(556, 4), Some(28_956_759));
    let ratio = Ratio::new(&[9, 3, 3, 1]).unwrap();
    let found = exact(&[315, 108, 101, 32], &ratio, 30_000_000, 0).unwrap();
    assert_eq!(found.outcomes, Outcomes::All { outcomes: 28_956_759 });
    assert!((found.by_likelihood_ratio - 0.926_132_142_7).abs() < 1e-10, "{found:?}");
    assert!((found.by_probability - 0.938_222_024_6).abs() < 1e-10, "{found:?}");
    assert!((found.by_chi_square - 0.927_191_472_5).abs() < 1e-10, "{found:?}");
}

#[test]
fn and_by_a_sample_of_them() {
    let ratio = Ratio::new(&[9, 3, 3, 1]).unwrap();
    let found = exact(&[315, 108, 101, 32], &ratio, MOST_OUTCOMES, 1).unwrap();
    assert_eq!(found.outcomes, Outcomes::Drawn { draws: DRAWS, seed: 1 });
    // Four standard errors.
    assert!((found.by_likelihood_ratio - 0.926_132).abs() < 0.003_4, "{found:?}");
    assert!((found.by_probability - 0.938_222).abs() < 0.003_1, "{found:?}");
    assert!((found.by_chi_square - 0.927_191).abs() < 0.003_3, "{found:?}");
    assert_eq!(exact(&[315, 108, 101, 32], &ratio, MOST_OUTCOMES, 1).unwrap(), found);
    assert_ne!(exact(&[315, 108, 101, 32], &ratio, MOST_OUTCOMES, 2).unwrap(), found);
}

#[test]
fn small_families() {
    type Case<'a> = (&'a [u64], &'a [u128], [f64; 3]);
    let cases: [Case; 3] = [
        (&[3, 1, 0], &[1, 2, 1], [0.125, 0.101_562_5, 0.187_5]),
        (&[12, 1, 3, 0], &[9, 3, 3, 1], [0.473_877_626_115, 0.326_960_037_678, 0.246_233_317_725]),
        (&[2, 5, 9], &[1, 2, 1], [0.034_317_642_450, 0.018_183_559_179, 0.038_721_948_862]),
    ];
    for (counts, parts, [probability, chi_square, likelihood]) in cases {
        let found = exact(counts, &Ratio::new(parts).unwrap(), MOST_OUTCOMES, 0).unwrap();
        assert!((found.by_probability - probability).abs() < 1e-11, "{found:?}");
        assert!((found.by_chi_square - chi_square).abs() < 1e-11, "{found:?}");
        assert!((found.by_likelihood_ratio - likelihood).abs() < 1e-11, "{found:?}");
        // Sampling agrees within four standard errors.
        let drawn = exact(counts, &Ratio::new(parts).unwrap(), 0, 7).unwrap();
        assert!((drawn.by_probability - probability).abs() < 0.006_5, "{drawn:?}");
        assert!((drawn.by_chi_square - chi_square).abs() < 0.006_5, "{drawn:?}");
    }
}
