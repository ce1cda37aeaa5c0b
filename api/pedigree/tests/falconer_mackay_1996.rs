//! Source: D. S. Falconer, T. F. C. Mackay, "Introduction to Quantitative Genetics", 4th edition, Longman,
//! Harlow, 1996.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_pedigree::{Individual, Pedigree};
use support::{built, close, cross, founder, numbered};

fn id(name: char) -> u64 {
    u64::from(u32::from(name))
}

/// Page 84: the pedigree is published; the answers were computed in exact fractions.
#[test]
fn pedigree_of_page_84() {
    let mut records: Vec<Individual> = "ABCGHIO".chars().map(|name| founder(id(name))).collect();
    for line in ["DAB", "EAB", "FCB", "JEF", "KGF", "LHD", "MIJ", "NKJ", "PLM", "QNO", "XPQ"] {
        let names: Vec<u64> = line.chars().map(id).collect();
        records.push(cross(names[0], names[1], names[2]));
    }
    let pedigree = built(&records);
    let expected = [('J', 1.0 / 8.0), ('N', 5.0 / 32.0), ('P', 3.0 / 64.0), ('X', 31.0 / 512.0)];
    for (name, f) in expected {
        close(pedigree.inbreeding(id(name)).unwrap(), f);
    }
    close(pedigree.prospective_inbreeding(id('P'), id('Q')).unwrap(), 31.0 / 512.0);
    let everybody: Vec<u64> = pedigree.ids().to_vec();
    assert_eq!(everybody.len(), 18);
    let mean = pedigree.mean_kinship(&everybody).unwrap();
    close(mean.iter().map(|(_, value)| value).sum::<f64>() / 18.0, 39_007.0 / 331_776.0);
    close(pedigree.group_kinship(&everybody).unwrap(), 39_007.0 / 331_776.0);
    // Through which ancestors X is inbred; the parts add up to its F.
    let explanation = pedigree.explain(id('X')).unwrap();
    close(explanation.common.iter().map(|one| one.1).sum(), 31.0 / 512.0);
    assert!(explanation.common.iter().all(|(ancestor, _)| ancestor.id != id('X')));
}

/// Table 5.1: repeated selfing, F = 1 - 2^-t.
#[test]
fn selfing() {
    let mut parents = vec![(0, 0)];
    parents.extend((1..=20).map(|parent| (parent, parent)));
    let pedigree = built(&numbered(&parents));
    for t in 0..=20 {
        close(pedigree.inbreeding(t + 1).unwrap(), 1.0 - 0.5f64.powi(t as i32));
    }
}

/// Two lines of individuals, each pair the offspring of the pair before.
fn pairs(generations: u64) -> Pedigree {
    let mut parents = vec![(0, 0), (0, 0)];
    for generation in 0..generations {
        parents.extend([(2 * generation + 1, 2 * generation + 2); 2]);
    }
    built(&numbered(&parents))
}

/// Table 5.1: repeated mating of full sibs, published to three places; F = (1 + 2 F' + F'') / 4.
#[test]
fn full_sibs() {
    let pedigree = pairs(11);
    let published = [0.0, 0.25, 0.375, 0.5, 0.594, 0.672, 0.734, 0.785, 0.826, 0.859, 0.886];
    let (mut last, mut before) = (0.0, 0.0);
    for (t, published) in (0..).zip(published) {
        let found = pedigree.inbreeding(2 * t + 3).unwrap();
        assert!((found - published).abs() < 0.0006, "generation {t}: {found}");
        if t > 0 {
            close(found, 0.25 * (1.0 + 2.0 * last + before));
        }
        (before, last) = (last, found);
    }
}

/// Table 5.1: repeated mating of half sibs, one male to females that are half sibs of him and of each other, published
/// to three places; F = (1 + 6 F' + F'') / 8.
#[test]
fn half_sibs() {
    // Each generation has one less: its first is the pollen parent of all of the next, the others one's seed parent.
    let mut parents = vec![(0, 0); 14];
    let mut first = 1;
    let mut starts = vec![first];
    for size in (3..14).rev() {
        let next = first + size + 1;
        parents.extend((1..=size).map(|dam| (first + dam, first)));
        first = next;
        starts.push(first);
    }
    let pedigree = built(&numbered(&parents));
    let published = [0.125, 0.219, 0.305, 0.381, 0.449, 0.509, 0.563, 0.611, 0.654, 0.691];
    let exact = [1.0 / 8.0, 7.0 / 32.0, 39.0 / 128.0, 195.0 / 512.0, 919.0 / 2048.0];
    let found: Vec<f64> = starts[2..].iter().map(|&id| pedigree.inbreeding(id).unwrap()).collect();
    assert_eq!(found.len(), published.len());
    for (t, (found_t, published)) in found.iter().zip(published).enumerate() {
        assert!((found_t - published).abs() < 0.0006, "generation {t}: {found_t}");
        if t > 1 {
            close(*found_t, (1.0 + 6.0 * found[t - 1] + found[t - 2]) / 8.0);
        }
    }
    for (found, expected) in found.iter().zip(exact) {
        close(*found, expected);
    }
}

/// Table 5.1: repeated backcrossing to one individual that is not inbred.
#[test]
fn backcross() {
    let mut parents = vec![(0, 0), (0, 0), (1, 2)];
    parents.extend((3..9).map(|last| (1, last)));
    let pedigree = built(&numbered(&parents));
    let expected = [1.0 / 4.0, 3.0 / 8.0, 7.0 / 16.0, 15.0 / 32.0, 31.0 / 64.0, 63.0 / 128.0];
    for (id, f) in (4..).zip(expected) {
        close(pedigree.inbreeding(id).unwrap(), f);
    }
}

/// Kinship of the standard relatives (chapter 5; the same in any textbook).
#[test]
fn standard_relatives() {
    // 1-4, 15 founders; 5, 6 full sibs (1 x 2); 7, 8 full sibs (3 x 4); 9, 10: 5 x 7 and 6 x 8, double first
    // cousins; 11: 1 x 3, half sib of 5; 12, 13: 5 x 16 and 6 x 15, first cousins; 14: 15 x 5, 17: 15 x 6,
    // one common parent and the others full sibs.
    let parents = [
        (0, 0),
        (0, 0),
        (0, 0),
        (0, 0),
        (1, 2),
        (1, 2),
        (3, 4),
        (3, 4),
        (5, 7),
        (6, 8),
        (1, 3),
        (5, 16),
        (6, 15),
        (15, 5),
        (0, 0),
        (0, 0),
        (15, 6),
    ];
    let pedigree = built(&numbered(&parents));
    let kinship = |a, b| pedigree.kinship(a, b).unwrap();
    close(kinship(1, 1), 0.5);
    close(kinship(1, 5), 0.25); // parent and child
    close(kinship(5, 6), 0.25); // full sibs
    close(kinship(5, 11), 0.125); // half sibs
    close(kinship(5, 13), 0.125); // a sib of a parent
    close(kinship(14, 17), 3.0 / 16.0); // one common parent, the others full sibs
    close(kinship(12, 13), 1.0 / 16.0); // first cousins
    close(kinship(9, 10), 0.125); // double first cousins
    close(kinship(1, 2), 0.0);
}
