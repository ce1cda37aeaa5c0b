//! Pedigrees written shortly, and the tabular method to compare with.
#![allow(dead_code, reason = "each test file uses its part")]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]
#![allow(clippy::needless_range_loop, reason = "the table is filled by row and column")]

use storksbill_pedigree::{Individual, Origin, Pedigree};

/// A small linear congruential generator (constants of Knuth's MMIX, *The Art of Computer Programming* 2).
pub(crate) struct Lcg(pub(crate) u64);

impl Lcg {
    pub(crate) fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

pub(crate) fn founder(id: u64) -> Individual {
    Individual { id, origin: Origin::Founder }
}

/// A cross; 0 for a parent not known.
pub(crate) fn cross(id: u64, seed: u64, pollen: u64) -> Individual {
    let known = |parent| (parent != 0).then_some(parent);
    Individual { id, origin: Origin::Cross { seed_parent: known(seed), pollen_parent: known(pollen) } }
}

pub(crate) fn sport(id: u64, of: u64) -> Individual {
    Individual { id, origin: Origin::Sport { of } }
}

/// Individuals 1, 2, ... by their parents; 0 for a parent not known.
pub(crate) fn numbered(parents: &[(u64, u64)]) -> Vec<Individual> {
    (1..).zip(parents).map(|(id, &(seed, pollen))| cross(id, seed, pollen)).collect()
}

pub(crate) fn built(records: &[Individual]) -> Pedigree {
    Pedigree::build(records).unwrap()
}

#[track_caller]
pub(crate) fn close(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-12, "{found} instead of {expected}");
}

#[track_caller]
pub(crate) fn inbreeding_is(pedigree: &Pedigree, expected: &[(u64, f64)]) {
    for &(id, f) in expected {
        let found = pedigree.inbreeding(id).unwrap();
        assert!((found - f).abs() < 1e-12, "F of {id}: {found} instead of {f}");
    }
}

/// Kinship of all by the tabular method (L. N. Emik, C. E. Terrill, "Systematic procedures for calculating
/// inbreeding coefficients", Journal of Heredity 40 (1949), 51-55). `records` parents first.
pub(crate) fn table(records: &[Individual]) -> Vec<Vec<f64>> {
    let place = |id: u64| records.iter().position(|record| record.id == id).unwrap();
    let mut phi = vec![vec![0.0; records.len()]; records.len()];
    for (i, record) in records.iter().enumerate() {
        let (parents, own): (Vec<(usize, f64)>, f64) = match record.origin {
            Origin::Founder => (vec![], 0.5),
            Origin::Sport { of } => (vec![(place(of), 1.0)], phi[place(of)][place(of)]),
            Origin::Cross { seed_parent, pollen_parent } => {
                let known: Vec<usize> =
                    [seed_parent, pollen_parent].into_iter().flatten().map(place).collect();
                let f = if known.len() == 2 { phi[known[0]][known[1]] } else { 0.0 };
                (known.into_iter().map(|p| (p, 0.5)).collect(), 0.5 * (1.0 + f))
            }
        };
        for j in 0..i {
            let value = parents.iter().map(|&(p, share)| share * phi[p][j]).sum();
            phi[i][j] = value;
            phi[j][i] = value;
        }
        phi[i][i] = own;
    }
    phi
}
