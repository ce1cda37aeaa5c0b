//! From records in any order to a pedigree, parents before children.

use std::fmt;

/// Where an individual comes from. Names are the caller's ids.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Parents unknown on both sides, or collected in the wild.
    Founder,
    /// Raised from seed; a missing parent counts as an unrelated founder of its own.
    Cross { seed_parent: Option<u64>, pollen_parent: Option<u64> },
    /// A sport or any other vegetative descendant: the same genotype as its source for kinship.
    Sport { of: u64 },
}

/// One record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Individual {
    /// The caller's number; unique.
    pub id: u64,
    pub origin: Origin,
}

/// Why records do not make a pedigree.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Problem {
    /// Two records share this id.
    Duplicate { id: u64 },
    /// A parent or source is not among the records.
    UnknownParent { id: u64, parent: u64 },
    /// Individuals that are their own ancestors: the shortest such loop, each a child of the next and the last
    /// a child of the first.
    Loop { ids: Vec<u64> },
    /// More records than can be numbered in 32 bits.
    TooLarge,
}

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
    /// Fewest generations up to it; a step from a sport to its source counts as none.
    pub generation: u32,
    /// Expected share of the individual's genes that come from it, over all paths within the generations asked.
    pub share: f64,
}

/// A validated pedigree with the inbreeding of everybody.
#[derive(Debug, Clone)]
pub struct Pedigree {
    _ids: Vec<u64>,
}

// Signatures to come in this commit's successor:
// Pedigree::build(records: &[Individual]) -> Result<Pedigree, Vec<Problem>>
// fn ids(&self) -> impl Iterator<Item = u64>                 parents before children
// fn inbreeding(&self, id: u64) -> Result<f64, UnknownId>
// fn inbreeding_all(&self) -> Vec<(u64, f64)>                by id
// fn kinship(&self, a: u64, b: u64) -> Result<f64, UnknownId>
// fn prospective_inbreeding(&self, seed_parent: u64, pollen_parent: u64) -> Result<f64, UnknownId>
// fn same_clone(&self, a: u64, b: u64) -> Result<bool, UnknownId>
// fn kinship_to_all(&self, id: u64) -> Result<Vec<(u64, f64)>, UnknownId>      by id
// fn mean_kinship(&self, group: &[u64]) -> Result<Vec<(u64, f64)>, UnknownId>  everybody to the group, by id
// fn ancestors(&self, id: u64, generations: u32) -> Result<Vec<Ancestor>, UnknownId>
