//! Source: R. C. Lacy, "Analysis of founder representation in pedigrees: founder equivalents and founder genome
//! equivalents", Zoo Biology 8 (1989), 111-123.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    reason = "test code"
)]

mod support;

use storksbill_pedigree::{Founder, Pedigree, effective_founders, founder_genomes};
use support::{built, close, numbered};

fn shares(pedigree: &Pedigree, reference: &[u64]) -> Vec<(Founder, f64)> {
    pedigree.contributions(reference).unwrap().iter().map(|one| (one.founder, one.share)).collect()
}

/// Figure 3 and appendix A; 1 / (2 mean kinship) computed from the same pedigree.
#[test]
fn appendix_a() {
    let pedigree = built(&numbered(&[(0, 0), (0, 0), (0, 0), (1, 2), (1, 2), (5, 3), (5, 3)]));
    let reference = [4, 5, 6, 7];
    let expected = [1, 2, 3].map(Founder::Individual).into_iter().zip([0.375, 0.375, 0.25]);
    assert_eq!(shares(&pedigree, &reference), expected.collect::<Vec<_>>());
    let contributions = pedigree.contributions(&reference).unwrap();
    close(effective_founders(&contributions), 32.0 / 11.0);
    let retention = pedigree.retention(&reference, 0, 1).unwrap();
    assert_eq!(retention.len(), 3);
    for one in &retention {
        assert!(one.exact);
        close(one.retained, 0.75);
    }
    close(founder_genomes(&contributions, &retention, 0.0), 24.0 / 11.0);
    close(pedigree.group_kinship(&reference).unwrap(), 9.0 / 32.0);
    close(pedigree.founder_genome_equivalents(&reference).unwrap(), 16.0 / 9.0);
}

/// Table 1: two pairs of founders with so many offspring; printed with two and three places.
#[test]
fn table_1() {
    let printed = [
        (2, 2, 4.00, 3.00, 0.750, 0.750),
        (3, 3, 4.00, 3.50, 0.875, 0.875),
        (4, 4, 4.00, 3.75, 0.938, 0.938),
        (8, 8, 4.00, 3.98, 0.996, 0.996),
        (2, 4, 3.60, 3.21, 0.750, 0.938),
        (4, 8, 3.60, 3.54, 0.938, 0.996),
        (8, 16, 3.60, 3.60, 0.996, 1.000),
    ];
    for (first, second, fe, fg, r_first, r_second) in printed {
        let mut parents = vec![(0, 0); 4];
        parents.extend(vec![(1, 2); first]);
        parents.extend(vec![(3, 4); second]);
        let pedigree = built(&numbered(&parents));
        let reference: Vec<u64> = (5..=4 + (first + second) as u64).collect();
        let contributions = pedigree.contributions(&reference).unwrap();
        let retention = pedigree.retention(&reference, 0, 1).unwrap();
        assert!((effective_founders(&contributions) - fe).abs() < 0.005 + 1e-9);
        assert!((founder_genomes(&contributions, &retention, 0.0) - fg).abs() < 0.005 + 1e-9);
        for (one, (printed, offspring)) in
            retention.iter().zip([(r_first, first), (r_first, first), (r_second, second), (r_second, second)])
        {
            assert!(one.exact);
            close(one.retained, 1.0 - 0.5f64.powi(offspring as i32));
            // The paper rounds 15/16 = .9375 up.
            assert!((one.retained - printed).abs() < 0.000_5 + 1e-9);
        }
    }
}

/// Page 113: a parent that is not known counts as a founder of its own; contributions then add up to 1.
#[test]
fn unknown_parents_are_founders() {
    // 3 = 1 x unknown, 4 = unknown x 3; the same with the unknown parents listed as 5 and 6.
    let unknown = built(&numbered(&[(0, 0), (0, 0), (1, 0), (0, 3), (4, 2)]));
    let listed = built(&numbered(&[(0, 0), (0, 0), (1, 6), (7, 3), (4, 2), (0, 0), (0, 0)]));
    let found = shares(&unknown, &[4, 5]);
    let expected = [
        (Founder::Individual(1), 0.1875),
        (Founder::Individual(2), 0.25),
        (Founder::SeedParentOf(4), 0.375),
        (Founder::PollenParentOf(3), 0.1875),
    ];
    assert_eq!(found, expected);
    let same: Vec<f64> = shares(&listed, &[4, 5]).iter().map(|one| one.1).collect();
    assert_eq!(same, [0.1875, 0.25, 0.1875, 0.375]);
    let of_unknown = unknown.retention(&[4, 5], 0, 1).unwrap();
    let of_listed = listed.retention(&[4, 5], 0, 1).unwrap();
    for (a, b) in [(0, 0), (1, 1), (2, 3), (3, 2)] {
        close(of_unknown[a].retained, of_listed[b].retained);
    }
}

/// A draw comes near what is worked out: with 20,000 draws the standard error is below .0036.
#[test]
fn draws_come_near() {
    let mut parents = vec![(0, 0); 40];
    // Pairs of a circle of founders, then pairs of a circle of their children: too many ways to work out.
    parents.extend((1..=40).map(|at| (at, at % 40 + 1)));
    parents.extend((41..=80).map(|at| (at, (at - 41 + 7) % 40 + 41)));
    parents.extend((81..=120).map(|at| (at, (at - 81 + 13) % 40 + 81)));
    let pedigree = built(&numbered(&parents));
    let reference: Vec<u64> = (121..=160).collect();
    let retention = pedigree.retention(&reference, 20_000, 7).unwrap();
    assert_eq!(retention, pedigree.retention(&reference, 20_000, 7).unwrap());
    let drawn: Vec<f64> =
        pedigree.retention(&reference, 20_000, 8).unwrap().iter().map(|one| one.retained).collect();
    assert_eq!(retention.len(), 40);
    for (one, other) in retention.iter().zip(drawn) {
        assert!((one.retained - other).abs() < 0.02, "{} {other}", one.retained);
    }
}
