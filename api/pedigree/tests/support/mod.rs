//! Pedigrees written shortly, and the tabular method to compare with.
#![allow(dead_code, reason = "each test file uses its part")]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]
#![allow(clippy::needless_range_loop, reason = "the table is filled by row and column")]

use storksbill_pedigree::{Gamete, Individual, Origin, Parent, Pedigree, Who};

/// A small linear congruential generator (constants of Knuth's MMIX, *The Art of Computer Programming* 2).
pub(crate) struct Lcg(pub(crate) u64);

impl Lcg {
    pub(crate) fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

pub(crate) fn founder(id: u64) -> Individual {
    Individual::new(id, Origin::Founder)
}

/// A cross; 0 for a parent not known.
pub(crate) fn cross(id: u64, seed: u64, pollen: u64) -> Individual {
    let known = |parent| (parent != 0).then_some(parent);
    Individual::new(id, Origin::cross(known(seed), known(pollen)))
}

pub(crate) fn sport(id: u64, of: u64) -> Individual {
    Individual::new(id, Origin::sport(of))
}

/// An individual of two gametes, each a parent (0: not known), sets and lambda; no gamete where the sets are 0.
pub(crate) fn gametes(id: u64, seed: (u64, u8, f64), pollen: (u64, u8, f64)) -> Individual {
    let parent = |(id, sets, lambda): (u64, u8, f64)| Parent {
        who: if id == 0 { Who::Unknown } else { Who::Known(id) },
        gamete: Gamete::Stated { sets, lambda },
    };
    let origin = match (seed.1, pollen.1) {
        (0, _) => Origin::OneGamete(parent(pollen)),
        (_, 0) => Origin::OneGamete(parent(seed)),
        _ => Origin::Cross { seed: parent(seed), pollen: parent(pollen) },
    };
    Individual::new(id, origin)
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
/// inbreeding coefficients", Journal of Heredity 40 (1949), 51-55), of ordinary diploids. `records` parents
/// first.
pub(crate) fn table(records: &[Individual]) -> Vec<Vec<f64>> {
    let place = |id: u64| records.iter().position(|record| record.id == id).unwrap();
    let known = |parent: &Parent| match parent.who {
        Who::Known(id) => Some(place(id)),
        _ => None,
    };
    let mut phi = vec![vec![0.0; records.len()]; records.len()];
    for (i, record) in records.iter().enumerate() {
        let (parents, own): (Vec<(usize, f64)>, f64) = match &record.origin {
            Origin::Clone { of, .. } => (vec![(place(*of), 1.0)], phi[place(*of)][place(*of)]),
            Origin::Cross { seed, pollen } => {
                let known: Vec<usize> = [seed, pollen].into_iter().filter_map(known).collect();
                let f = if known.len() == 2 { phi[known[0]][known[1]] } else { 0.0 };
                (known.into_iter().map(|p| (p, 0.5)).collect(), 0.5 * (1.0 + f))
            }
            _ => (vec![], 0.5),
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
