//! Source: R. J. Kerr, L. Li, B. Tier, G. W. Dutkowski, T. A. `McRae`, "Use of the numerator relationship matrix in
//! genetic analysis of autopolyploid species", Theoretical and Applied Genetics 124 (2012), 1271-1282, table 4.
//! The pedigree is published; the answers were computed in exact fractions and agree with sgkit 0.10.0.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_pedigree::{Gamete, Individual, Origin, Parent, Pedigree, Ploidy, Who};
use support::{built, close, gametes, inbreeding_is};

const PARENTS: [(u64, u64); 10] =
    [(0, 0), (0, 0), (0, 0), (1, 2), (1, 4), (3, 5), (5, 6), (6, 7), (6, 8), (6, 8)];

fn table_4(lambda: f64) -> Pedigree {
    let records =
        (1..).zip(PARENTS).map(|(id, (seed, pollen))| gametes(id, (seed, 2, lambda), (pollen, 2, lambda)));
    let records: Vec<Individual> = records.collect();
    let stated = built(&records);
    // Only the founders' sets recorded, and gametes reduced, must come to the same.
    let records = (1..).zip(PARENTS).map(|(id, (seed, pollen))| {
        let parent = |id| Parent {
            who: if id == 0 { Who::Unknown } else { Who::Known(id) },
            gamete: Gamete::Reduced { double_reduction: lambda },
        };
        let origin = Origin::Cross { seed: parent(seed), pollen: parent(pollen) };
        let ploidy = if seed == 0 { Ploidy::sets(4) } else { Ploidy::default() };
        Individual { id, origin, ploidy }
    });
    let reduced = Pedigree::build(records).unwrap();
    assert_eq!(stated.inbreeding_all(), reduced.inbreeding_all());
    assert_eq!(reduced.sets(10), Ok((4, false)));
    stated
}

fn everybody_is(pedigree: &Pedigree, mean: f64) {
    close(pedigree.group_kinship(&(1..=10).collect::<Vec<_>>()).unwrap(), mean);
}

#[test]
fn table_4_with_double_reduction() {
    let pedigree = table_4(0.1);
    let last = 428_161.0 / 1_680_000.0;
    let mut expected: Vec<(u64, f64)> = (1..=4).map(|id| (id, 1.0 / 21.0)).collect();
    expected.extend([(5, 1.0 / 7.0), (6, 13.0 / 210.0), (7, 769.0 / 4200.0), (8, 2741.0 / 12_000.0)]);
    expected.extend([(9, last), (10, last)]);
    inbreeding_is(&pedigree, &expected);
    everybody_is(&pedigree, 1_376_579.0 / 8_000_000.0);
}

#[test]
fn table_4_without() {
    let pedigree = table_4(0.0);
    let mut expected: Vec<(u64, f64)> = (1..=4).map(|id| (id, 0.0)).collect();
    expected.extend([(5, 1.0 / 12.0), (6, 1.0 / 72.0), (7, 13.0 / 108.0), (8, 209.0 / 1296.0)]);
    expected.extend([(9, 721.0 / 3888.0), (10, 721.0 / 3888.0)]);
    inbreeding_is(&pedigree, &expected);
    everybody_is(&pedigree, 156_421.0 / 1_036_800.0);
}
