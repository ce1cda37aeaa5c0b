//! Ratios of tetraploids by chromosome (double reduction 0) and random-chromatid (1/7) segregation and with
//! complete double reduction (1/6): the classical tables, J. B. S. Haldane, Journal of Genetics 22, 1930,
//! 359-372. Worked out in exact fractions.
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::Fraction;
use storksbill_pedigree::segregation::{
    Dose, Genotype, Meiosis, Parent, Rule, SegregationError, Stock, gametes, predict,
};

fn parent(alleles: &str, meiosis: Meiosis) -> Parent {
    Parent { stock: Stock::Uniform(vec![Genotype::new(alleles).unwrap()]), meiosis }
}

fn tetraploid(alleles: &str, double_reduction: (u64, u64)) -> Parent {
    let (above, below) = double_reduction;
    parent(alleles, Meiosis::tetraploid(Fraction::new(above, below).unwrap()))
}

/// Dominant to recessive.
fn ratio(seed: &Parent, pollen: &Parent) -> String {
    let rules = [Rule::class(vec![Dose::at_least(1, 'A', 0)], "A"), Rule::class(vec![], "a")];
    let predictions = predict(seed, pollen, &rules).unwrap();
    assert_eq!(predictions.len(), 1);
    predictions.first().unwrap().segregation.ratio.to_string()
}

#[test]
fn gametes_of_a_tetraploid() {
    for (above, below) in [(0u64, 1u64), (1, 7), (1, 6), (1, 10)] {
        let meiosis = Meiosis::tetraploid(Fraction::new(above, below).unwrap());
        let shares = |alleles: &str| -> Vec<(String, f64)> {
            let found = gametes(&Genotype::new(alleles).unwrap(), meiosis).unwrap();
            let whole: u128 = found.iter().map(|(_, weight)| weight).sum();
            found.iter().map(|(kind, weight)| (kind.to_string(), *weight as f64 / whole as f64)).collect()
        };
        let alpha = above as f64 / below as f64;
        let near = |found: Vec<(String, f64)>, expected: [f64; 3]| {
            for (kind, share) in ["AA", "Aa", "aa"].into_iter().zip(expected) {
                let found = found.iter().find(|(other, _)| other == kind).map_or(0.0, |(_, share)| *share);
                assert!((found - share).abs() < 1e-15, "{kind} at {alpha}: {found} for {share}");
            }
        };
        let ends = (1.0 + 2.0 * alpha) / 6.0;
        near(shares("AAaa"), [ends, 4.0 * (1.0 - alpha) / 6.0, ends]);
        near(shares("Aaaa"), [alpha / 4.0, (1.0 - alpha) / 2.0, (2.0 + alpha) / 4.0]);
        near(shares("AAAa"), [(2.0 + alpha) / 4.0, (1.0 - alpha) / 2.0, alpha / 4.0]);
    }
}

#[test]
fn chromosome_segregation() {
    let of = |alleles| tetraploid(alleles, (0, 1));
    for (seed, pollen, expected) in [
        ("Aaaa", "Aaaa", "3:1"),
        ("AAaa", "AAaa", "35:1"),
        ("AAAa", "AAAa", "1:0"),
        ("AAaa", "aaaa", "5:1"),
        ("Aaaa", "aaaa", "1:1"),
        ("AAaa", "Aaaa", "11:1"),
    ] {
        assert_eq!(ratio(&of(seed), &of(pollen)), expected, "{seed} x {pollen}");
        assert_eq!(ratio(&of(pollen), &of(seed)), expected, "{pollen} x {seed}");
    }
}

#[test]
fn diploids_and_triploid_seedlings() {
    let diploid = |alleles| parent(alleles, Meiosis::DIPLOID);
    let of = |alleles| tetraploid(alleles, (0, 1));
    assert_eq!(ratio(&diploid("Aa"), &diploid("Aa")), "3:1");
    assert_eq!(ratio(&diploid("Aa"), &of("AAaa")), "11:1");
    assert_eq!(ratio(&diploid("aa"), &of("AAaa")), "5:1");
    assert_eq!(ratio(&diploid("Aa"), &of("Aaaa")), "3:1");
}

#[test]
fn random_chromatids() {
    let of = |alleles| tetraploid(alleles, (1, 7));
    for (seed, pollen, expected) in [
        ("AAaa", "AAaa", "187:9"),
        ("Aaaa", "Aaaa", "559:225"),
        ("AAAa", "AAAa", "783:1"),
        ("AAaa", "aaaa", "11:3"),
        ("Aaaa", "aaaa", "13:15"),
        ("AAAa", "aaaa", "27:1"),
    ] {
        assert_eq!(ratio(&of(seed), &of(pollen)), expected, "{seed} x {pollen}");
    }
}

#[test]
fn complete_double_reduction() {
    let of = |alleles| tetraploid(alleles, (1, 6));
    for (seed, pollen, expected) in [
        ("AAaa", "AAaa", "77:4"),
        ("Aaaa", "Aaaa", "407:169"),
        ("AAAa", "AAAa", "575:1"),
        ("AAaa", "aaaa", "7:2"),
    ] {
        assert_eq!(ratio(&of(seed), &of(pollen)), expected, "{seed} x {pollen}");
    }
}

/// An unreduced gamete of `Aa` holds two copies of one homologue with the chance given by Hamilton and Kerr
/// (Theoretical and Applied Genetics 131, 2018, Table 1): 0.041 first division, 0.918 second.
#[test]
fn unreduced_gametes() {
    let recessive = parent("aa", Meiosis::DIPLOID);
    for (thousandths, expected) in [(41, "1959:41"), (918, "541:459")] {
        let unreduced = parent("Aa", Meiosis::unreduced(Fraction::new(thousandths, 1_000).unwrap()));
        assert_eq!(ratio(&unreduced, &recessive), expected);
    }
    // A triploid that skips the reduction hands on all it has.
    let triploid = Genotype::new("Aaa").unwrap();
    assert_eq!(gametes(&triploid, Meiosis::whole(3)).unwrap(), [(triploid.clone(), 1)]);
    // And a gamete of more sets than the plant has is refused.
    assert_eq!(
        gametes(&triploid, Meiosis::whole(4)),
        Err(SegregationError::Gamete { parent_sets: 3, gamete_sets: 4 })
    );
}
