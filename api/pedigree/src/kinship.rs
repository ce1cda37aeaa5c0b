//! Questions to a pedigree.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use std::collections::BTreeMap;
use std::fmt;

use crate::build::Pedigree;

/// An id that is not in the pedigree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UnknownId(pub u64);

impl fmt::Display for UnknownId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "individual {} is not in the pedigree", self.0)
    }
}

impl std::error::Error for UnknownId {}

/// One ancestor of an individual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ancestor {
    pub id: u64,
    /// Fewest generations up to it, 1 for a parent; the step from a sport to its source counts as none.
    pub generation: u32,
    /// Share of the individual's genes expected from it, over all paths of no more than the generations asked.
    pub share: f64,
}

impl Pedigree {
    /// Everybody, parents before children.
    pub fn ids(&self) -> &[u64] {
        &self.ids
    }

    pub fn len(&self) -> usize {
        self.ids.len()
    }

    pub fn is_empty(&self) -> bool {
        self.ids.is_empty()
    }

    /// Genotypes looked at while the inbreeding of all was found: a measure of the work that does not depend
    /// on the machine.
    pub fn visits(&self) -> u64 {
        self.visits
    }

    /// Wright's coefficient of inbreeding, 0 to 1.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn inbreeding(&self, id: u64) -> Result<f64, UnknownId> {
        Ok(self.inbreeding[self.genotype(id)? as usize])
    }

    /// The coefficient of everybody, by id.
    pub fn inbreeding_all(&self) -> Vec<(u64, f64)> {
        self.by_id(&self.inbreeding)
    }

    /// Whether two are one clone; a cross between them is a selfing.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn same_clone(&self, a: u64, b: u64) -> Result<bool, UnknownId> {
        Ok(self.genotype(a)? == self.genotype(b)?)
    }

    /// Kinship of two, 0 to 1; of one with itself `(1 + F) / 2`. Cost: their ancestors.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn kinship(&self, a: u64, b: u64) -> Result<f64, UnknownId> {
        let (a, b) = (self.genotype(a)?, self.genotype(b)?);
        let (mut of_a, mut of_b) = (BTreeMap::new(), BTreeMap::new());
        self.trace(a, &mut of_a);
        self.trace(b, &mut of_b);
        Ok(of_a
            .iter()
            .filter_map(|(at, share)| of_b.get(at).map(|other| self.own[*at as usize] * share * other))
            .sum())
    }

    /// The inbreeding a seedling of this cross would have: the kinship of its parents.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn prospective_inbreeding(&self, seed_parent: u64, pollen_parent: u64) -> Result<f64, UnknownId> {
        self.kinship(seed_parent, pollen_parent)
    }

    /// Kinship of one to everybody, itself included; by id. Cost `O(n)`.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn kinship_to_all(&self, id: u64) -> Result<Vec<(u64, f64)>, UnknownId> {
        let mut weight = vec![0.0; self.gametes.len()];
        weight[self.genotype(id)? as usize] = 1.0;
        Ok(self.by_id(&self.times(weight)))
    }

    /// Mean kinship of everybody to the members of `group` (an id named twice counts twice); by id. A member's
    /// kinship with itself is part of its own mean. An empty group gives 0. Cost `O(n)`.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn mean_kinship(&self, group: &[u64]) -> Result<Vec<(u64, f64)>, UnknownId> {
        let mut weight = vec![0.0; self.gametes.len()];
        let part = 1.0 / group.len().max(1) as f64;
        for &id in group {
            weight[self.genotype(id)? as usize] += part;
        }
        Ok(self.by_id(&self.times(weight)))
    }

    /// The ancestors of an individual up to so many generations, nearest first, then by id. Sources of sports
    /// are among them, with the generation and share of their sport. Cost: `generations` times the ancestors.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn ancestors(&self, id: u64, generations: u32) -> Result<Vec<Ancestor>, UnknownId> {
        self.genotype(id)?;
        let mut found: BTreeMap<u64, Ancestor> = BTreeMap::new();
        let mut front: BTreeMap<u64, f64> = BTreeMap::from([(id, 1.0)]);
        for generation in 0..=generations {
            let mut next: BTreeMap<u64, f64> = BTreeMap::new();
            for (&start, &share) in &front {
                let mut at = start;
                loop {
                    if at != id {
                        let seen = found.entry(at).or_insert(Ancestor { id: at, generation, share: 0.0 });
                        seen.share += share;
                    }
                    let Some(&source) = self.source.get(&at) else { break };
                    at = source;
                }
                let genotype = self.genotype(at)? as usize;
                for (named, gamete) in self.named[genotype].iter().zip(&self.gametes[genotype]) {
                    if let (Some(parent), Some(gamete)) = (named, gamete) {
                        *next.entry(*parent).or_default() += share * gamete.share;
                    }
                }
            }
            if next.is_empty() {
                break;
            }
            front = next;
        }
        let mut ancestors: Vec<Ancestor> = found.into_values().collect();
        ancestors.sort_by_key(|ancestor| (ancestor.generation, ancestor.id));
        Ok(ancestors)
    }

    fn genotype(&self, id: u64) -> Result<u32, UnknownId> {
        self.genotype.get(&id).copied().ok_or(UnknownId(id))
    }

    fn by_id(&self, values: &[f64]) -> Vec<(u64, f64)> {
        self.genotype.iter().map(|(&id, &genotype)| (id, values[genotype as usize])).collect()
    }

    /// The row of `T` of one genotype, without scratch the size of the pedigree.
    fn trace(&self, from: u32, shares: &mut BTreeMap<u32, f64>) {
        // Ancestors still to visit; parents have smaller numbers, so the largest is complete.
        let mut young: BTreeMap<u32, f64> = BTreeMap::from([(from, 1.0)]);
        while let Some((at, share)) = young.pop_last() {
            shares.insert(at, share);
            for gamete in self.gametes[at as usize].iter().flatten() {
                *young.entry(gamete.parent).or_default() += share * gamete.share;
            }
        }
    }

    /// `phi v = T (D (T' v))`: one pass up, one down.
    fn times(&self, mut v: Vec<f64>) -> Vec<f64> {
        for at in (0..v.len()).rev() {
            for gamete in self.gametes[at].iter().flatten() {
                v[gamete.parent as usize] += v[at] * gamete.share;
            }
        }
        for at in 0..v.len() {
            v[at] *= self.own[at];
            for gamete in self.gametes[at].iter().flatten() {
                v[at] += gamete.share * v[gamete.parent as usize];
            }
        }
        v
    }
}
