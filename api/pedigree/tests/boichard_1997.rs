//! Source: D. Boichard, L. Maignel, É. Verrier, "The value of using probabilities of gene origin to measure genetic
//! variability in a population", Genetics Selection Evolution 29 (1997), 5-23, figure 1 and table I.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_pedigree::{Founder, effective_ancestors, effective_founders};
use support::{built, close, numbered};

#[test]
fn table_1() {
    let pedigree = built(&numbered(&[
        (0, 0),
        (0, 0),
        (0, 0),
        (0, 0),
        (2, 3),
        (0, 0),
        (5, 6),
        (0, 0),
        (1, 2),
        (4, 5),
        (7, 8),
        (7, 8),
        (7, 8),
    ]));
    let reference = [9, 10, 11, 12, 13];
    let marginal = pedigree.marginal_contributions(&reference).unwrap();
    let published = [(7, 0.3), (8, 0.3), (2, 0.15), (1, 0.1), (4, 0.1), (5, 0.05)];
    assert_eq!(
        marginal.iter().map(|one| one.ancestor).collect::<Vec<_>>(),
        published.map(|one| Founder::Individual(one.0))
    );
    for (one, (_, share)) in marginal.iter().zip(published) {
        close(one.share, share);
    }
    close(effective_ancestors(&marginal), 1.0 / 0.225);
    // Computed from the same pedigree.
    close(effective_founders(&pedigree.contributions(&reference).unwrap()), 800.0 / 159.0);
    close(pedigree.group_kinship(&reference).unwrap(), 3.0 / 16.0);
    close(pedigree.founder_genome_equivalents(&reference).unwrap(), 8.0 / 3.0);
}
