//! Source: J. B. S. Haldane, "Theoretical genetics of autopolyploids", Journal of Genetics 22 (1930), 359-372: selfing
//! of an autotetraploid, F' = (1 + 5 F) / 6 without double reduction; with it, F' = 1/6 + 5 F / 6 + alpha (1 - F) / 3,
//! the later values computed in exact fractions.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_pedigree::{Gamete, Individual, Origin, Parent, Ploidy, Who};
use support::{built, close};

fn selfings(alpha: f64, expected: &[f64]) {
    let mut records = vec![Individual { id: 0, origin: Origin::Founder, ploidy: Ploidy::sets(4) }];
    for id in 1..=expected.len() as u64 {
        let parent =
            || Parent { who: Who::Known(id - 1), gamete: Gamete::Reduced { double_reduction: alpha } };
        records.push(Individual::new(id, Origin::Cross { seed: parent(), pollen: parent() }));
    }
    let pedigree = built(&records);
    close(pedigree.inbreeding(0).unwrap(), 0.0);
    for (id, &f) in (1..).zip(expected) {
        close(pedigree.inbreeding(id).unwrap(), f);
    }
}

#[test]
fn without_double_reduction() {
    selfings(0.0, &[1.0 / 6.0, 11.0 / 36.0, 91.0 / 216.0, 671.0 / 1296.0, 4651.0 / 7776.0]);
}

#[test]
fn complete_equational_segregation() {
    selfings(1.0 / 6.0, &[2.0 / 9.0, 32.0 / 81.0, 386.0 / 729.0, 4160.0 / 6561.0]);
}

#[test]
fn random_chromatid_segregation() {
    selfings(1.0 / 7.0, &[3.0 / 14.0, 75.0 / 196.0, 1413.0 / 2744.0]);
}
