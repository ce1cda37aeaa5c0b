//! Mendel's counts (G. Mendel, "Versuche über Pflanzen-Hybriden", Verhandlungen des naturforschenden Vereines
//! in Brünn 4, 1866, 3-47). The chi-square values are those of R. A. Fisher, Annals of Science 1, 1936, 115-137
//! (their sum 2.1389); further digits, G and the exact binomial by `SciPy` 1.17.1 (`chisquare`,
//! `power_divergence`, `binomtest`).
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::Ratio;
use storksbill_pedigree::chi_square::{families, likelihood_ratio, pearson};
use storksbill_pedigree::multinomial::{MOST_OUTCOMES, exact};
use storksbill_pedigree::segregation::{Family, Inheritance, Scored, test};

/// Dominant, recessive, chi-square, its p, G, exact p.
const TRAITS: [(u64, u64, f64, f64, f64, f64); 7] = [
    (5_474, 1_850, 0.262_880, 0.608_148, 0.262_277, 0.608_155),
    (6_022, 2_001, 0.014_999, 0.902_528, 0.015_006, 0.907_642),
    (705, 224, 0.390_743, 0.531_909, 0.393_892, 0.544_640),
    (882, 299, 0.063_506, 0.801_039, 0.063_328, 0.814_046),
    (428, 152, 0.450_575, 0.502_062, 0.445_873, 0.502_170),
    (651, 207, 0.349_650, 0.554_311, 0.352_424, 0.581_056),
    (787, 277, 0.606_516, 0.436_103, 0.601_074, 0.436_168),
];

fn close(found: f64, expected: f64) {
    assert!((found - expected).abs() < 6e-7, "{found} for {expected}");
}

#[test]
fn seven_traits_against_three_to_one() {
    let ratio = Ratio::new(&[3, 1]).unwrap();
    for (dominant, recessive, statistic, p, g, exactly) in TRAITS {
        let counts = [dominant, recessive];
        let found = pearson(&counts, &ratio).unwrap();
        close(found.statistic, statistic);
        close(found.p, p);
        assert_eq!(found.freedom, 1);
        close(likelihood_ratio(&counts, &ratio).unwrap().statistic, g);
        close(exact(&counts, &ratio, MOST_OUTCOMES, 0).unwrap().by_probability, exactly);
    }
}

#[test]
fn the_traits_do_not_differ_from_each_other() {
    let ratio = Ratio::new(&[3, 1]).unwrap();
    let counts: Vec<Vec<u64>> = TRAITS.iter().map(|row| vec![row.0, row.1]).collect();
    let split = families(&counts, &ratio).unwrap();
    close(split.sum.statistic, 2.138_868);
    close(split.sum.p, 0.951_756);
    close(split.pooled.statistic, 0.109_575);
    close(split.pooled.p, 0.740_629);
    close(split.heterogeneity.statistic, 2.029_294);
    close(split.heterogeneity.p, 0.916_985);
    assert_eq!((split.sum.freedom, split.heterogeneity.freedom), (7, 6));
    let families: Vec<Family> =
        counts.into_iter().map(|counts| Family { counts, scored: Scored::Germinated }).collect();
    let tested = test(&families, &ratio, Inheritance::Nuclear, 1).unwrap();
    assert_eq!(tested.families, Some(split));
    assert_eq!(tested.exact, None);
    assert_eq!(tested.classes.first().map(|class| class.counted), Some(14_949));
}

#[test]
fn two_traits_against_nine_to_three_to_three_to_one() {
    let ratio = Ratio::new(&[9, 3, 3, 1]).unwrap();
    let counts = [315, 101, 108, 32];
    let found = pearson(&counts, &ratio).unwrap();
    close(found.statistic, 0.470_024);
    close(found.p, 0.925_426);
    assert_eq!(found.freedom, 3);
    let found = likelihood_ratio(&counts, &ratio).unwrap();
    close(found.statistic, 0.475_445);
    close(found.p, 0.924_252);
}
