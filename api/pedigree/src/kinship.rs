//! Questions to a pedigree.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use std::collections::BTreeMap;

use crate::build::Pedigree;
use crate::trace::kinship;

/// An id that is not in the pedigree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("individual {0} is not in the pedigree")]
pub struct UnknownId(pub u64);

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
        &self.order
    }

    pub fn len(&self) -> usize {
        self.id_at.len()
    }

    pub fn is_empty(&self) -> bool {
        self.id_at.is_empty()
    }

    /// Steps taken to find the inbreeding of all, and of those added and edited since: a measure of the work
    /// that does not depend on the machine.
    pub fn visits(&self) -> u64 {
        self.visits
    }

    /// The coefficient of inbreeding, 0 to 1: that two homologues of it drawn without replacement are identical
    /// by descent; 0 of a single set.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn inbreeding(&self, id: u64) -> Result<f64, UnknownId> {
        Ok(self.genotypes.inbreeding[self.genotype(id)? as usize])
    }

    /// The coefficient of everybody, by id.
    pub fn inbreeding_all(&self) -> Vec<(u64, f64)> {
        self.listed(&self.genotypes.inbreeding)
    }

    /// Sets of chromosomes, and whether they stand on a guess.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn sets(&self, id: u64) -> Result<(u8, bool), UnknownId> {
        let kind = self.genotypes.kind(self.genotype(id)?);
        Ok((kind.sets(), kind.assumed))
    }

    /// Whether two are one clone; a cross between them is a selfing.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn same_clone(&self, a: u64, b: u64) -> Result<bool, UnknownId> {
        Ok(self.genotype(a)? == self.genotype(b)?)
    }

    /// Kinship of two, 0 to 1; of one with itself `(1 + (k - 1) F) / k` with `k` sets. Cost: their ancestors.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn kinship(&self, a: u64, b: u64) -> Result<f64, UnknownId> {
        Ok(self.phi(self.genotype(a)?, self.genotype(b)?))
    }

    pub(crate) fn phi(&self, a: u32, b: u32) -> f64 {
        if a == b { self.genotypes.self_kinship(a) } else { kinship(&self.genotypes, a, b).0 }
    }

    /// Kinship of one to everybody, itself included; by id. Cost `O(n)`.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn kinship_to_all(&self, id: u64) -> Result<Vec<(u64, f64)>, UnknownId> {
        Ok(self.listed(&self.column(id)?))
    }

    /// Kinship of one to every genotype.
    pub(crate) fn column(&self, id: u64) -> Result<Vec<f64>, UnknownId> {
        let mut weight = vec![0.0; self.genotypes.len()];
        weight[self.genotype(id)? as usize] = 1.0;
        Ok(self.times(weight))
    }

    /// The kinship of every two of `ids`, row by row in their order. Cost: `O(n)` for each.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn kinship_among(&self, ids: &[u64]) -> Result<Vec<Vec<f64>>, UnknownId> {
        let genotypes = ids.iter().map(|&id| self.genotype(id)).collect::<Result<Vec<u32>, _>>()?;
        ids.iter()
            .map(|&id| {
                let column = self.column(id)?;
                Ok(genotypes.iter().map(|&genotype| column[genotype as usize]).collect())
            })
            .collect()
    }

    /// Mean kinship of everybody to the members of `group` (an id named twice counts twice); by id. A member's
    /// kinship with itself is part of its own mean. An empty group gives 0. Cost `O(n)`.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn mean_kinship(&self, group: &[u64]) -> Result<Vec<(u64, f64)>, UnknownId> {
        let mut weight = vec![0.0; self.genotypes.len()];
        let part = 1.0 / group.len().max(1) as f64;
        for &id in group {
            weight[self.genotype(id)? as usize] += part;
        }
        Ok(self.listed(&self.times(weight)))
    }

    /// The ancestors of an individual up to so many generations, nearest first, then by id. Sources of sports
    /// are among them, with the generation and share of their sport; possible parents have the share that goes
    /// with their probability. Cost: `generations` times the ancestors.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn ancestors(&self, id: u64, generations: u32) -> Result<Vec<Ancestor>, UnknownId> {
        let root = self.place(id)?;
        let mut found: BTreeMap<u32, Ancestor> = BTreeMap::new();
        let mut front: BTreeMap<u32, f64> = BTreeMap::from([(root, 1.0)]);
        for generation in 0..=generations {
            let mut next: BTreeMap<u32, f64> = BTreeMap::new();
            for (&start, &share) in &front {
                let mut at = start;
                loop {
                    if at != root {
                        let id = self.id_at[at as usize];
                        found.entry(at).or_insert(Ancestor { id, generation, share: 0.0 }).share += share;
                    }
                    let Some(source) = self.source(at) else { break };
                    at = source;
                }
                for edge in self.genotypes.edges(self.genotype[at as usize]) {
                    *next.entry(edge.place).or_default() += share * edge.share;
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

    pub(crate) fn genotype(&self, id: u64) -> Result<u32, UnknownId> {
        Ok(self.genotype[self.place(id)? as usize])
    }

    /// The id of the individual a genotype was raised as.
    pub(crate) fn raised_id(&self, genotype: u32) -> u64 {
        self.id_at[self.raised[genotype as usize] as usize]
    }

    /// Values of genotypes as values of individuals, by id.
    pub(crate) fn listed(&self, values: &[f64]) -> Vec<(u64, f64)> {
        let value = |&at: &u32| (self.id_at[at as usize], values[self.genotype[at as usize] as usize]);
        self.by_id().iter().map(value).collect()
    }

    /// `phi v = T (D (T' v))`: one pass up, one down.
    pub(crate) fn times(&self, mut v: Vec<f64>) -> Vec<f64> {
        for at in self.genotypes.all().rev() {
            let part = v[at as usize];
            if part != 0.0 {
                for edge in self.genotypes.edges(at) {
                    v[edge.genotype as usize] += part * edge.share;
                }
            }
        }
        for at in self.genotypes.all() {
            let mut phi = v[at as usize] * self.genotypes.own[at as usize];
            for edge in self.genotypes.edges(at) {
                phi += edge.share * v[edge.genotype as usize];
            }
            v[at as usize] = phi;
        }
        v
    }
}
