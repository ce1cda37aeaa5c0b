//! Crosses not made yet: the inbreeding of their seedlings, and why.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use crate::build::Pedigree;
use crate::gametes::{Kind, kind, probabilities};
use crate::genotypes::Edge;
use crate::kinship::UnknownId;
use crate::origin::{Individual, Origin, Parent};
use crate::problem::Problem;
use crate::trace::Trace;

/// What seedlings of a cross would be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prospect {
    pub inbreeding: f64,
    /// Sets of chromosomes.
    pub sets: u8,
    /// Whether the sets stand on a guess.
    pub assumed: bool,
    /// Whether both parents are one clone: the cross is a selfing.
    pub selfing: bool,
}

/// Why a cross has no prospect.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoProspect {
    #[error(transparent)]
    Unknown(UnknownId),
    /// The gametes do not fit; the seedling is called [`SEEDLING`].
    #[error(transparent)]
    Problem(Problem),
}

/// What a seedling not yet recorded is called in problems.
pub const SEEDLING: u64 = u64::MAX;

impl From<UnknownId> for NoProspect {
    fn from(unknown: UnknownId) -> Self {
        Self::Unknown(unknown)
    }
}

/// A possible mate.
#[derive(Debug, Clone, PartialEq)]
pub struct Mate {
    pub id: u64,
    pub kinship: f64,
    /// Of the seedlings; an error where a mate's sets have no half.
    pub prospect: Result<Prospect, Problem>,
}

/// An ancestor of both parents.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CommonAncestor {
    pub id: u64,
    /// Share of the first parent's genes expected from it.
    pub of_first: f64,
    /// Share of the second parent's genes expected from it.
    pub of_second: f64,
    /// What it adds to the kinship of the two beyond what its own ancestors add.
    pub kinship: f64,
}

/// Where the inbreeding of an individual comes from. The parts add up to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    pub inbreeding: f64,
    /// Through each common ancestor of its parents: the ancestor and its part, largest first, then by id.
    pub common: Vec<(CommonAncestor, f64)>,
    /// From double reduction, or restitution, in the meioses of its own parents: seed side, pollen side.
    pub meiosis: [f64; 2],
    /// From parents that are themselves inbred and gave more than one set: seed side, pollen side.
    pub inbred_parent: [f64; 2],
    /// A founder's own, in equilibrium under double reduction.
    pub founder: f64,
}

impl Pedigree {
    /// The inbreeding a seedling of this cross would have by ordinary gametes: of two diploids the kinship of
    /// the two. A parent with an odd number of sets gives the kinship as well: its gametes are not foreseen.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn prospective_inbreeding(&self, seed_parent: u64, pollen_parent: u64) -> Result<f64, UnknownId> {
        let phi = self.kinship(seed_parent, pollen_parent)?;
        match self.prospect(&Parent::reduced(Some(seed_parent)), &Parent::reduced(Some(pollen_parent))) {
            Ok(prospect) => Ok(prospect.inbreeding),
            Err(NoProspect::Unknown(unknown)) => Err(unknown),
            Err(NoProspect::Problem(_)) => Ok(phi),
        }
    }

    /// What seedlings of this cross would be. Cost: one kinship for every two possible parents.
    ///
    /// # Errors
    ///
    /// [`NoProspect`].
    pub fn prospect(&self, seed: &Parent, pollen: &Parent) -> Result<Prospect, NoProspect> {
        let origin = Origin::Cross { seed: seed.clone(), pollen: pollen.clone() };
        let mut unknown = None;
        origin.each_parent(|id| unknown = unknown.or(self.genotype(id).err()));
        if let Some(unknown) = unknown {
            return Err(unknown.into());
        }
        self.prospect_by(origin, |a, b| self.phi(a, b)).map_err(NoProspect::Problem)
    }

    fn prospect_by(&self, origin: Origin, phi: impl Fn(u32, u32) -> f64) -> Result<Prospect, Problem> {
        let seedling = Individual::new(SEEDLING, origin);
        probabilities(&seedling)?;
        // Only a clone has no gametes of its own.
        let kind = kind(&seedling, |id| self.sets_of(id))?.unwrap_or(Kind::ASSUMED);
        let [seed, pollen] = self.edges(&seedling, &kind);
        let one_clone = |a: &[Edge], b: &[Edge]| matches!((a, b), ([a], [b]) if a.genotype == b.genotype);
        Ok(Prospect {
            inbreeding: self.genotypes.offspring_inbreeding(&kind, [&seed, &pollen], phi),
            sets: kind.sets(),
            assumed: kind.assumed,
            selfing: one_clone(&seed, &pollen),
        })
    }

    /// Possible mates, those whose seedlings would be least inbred first, then by kinship and id; those whose
    /// gametes are not foreseen last. Cost `O(n)` for all of them together.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn mates(&self, id: u64, candidates: &[u64]) -> Result<Vec<Mate>, UnknownId> {
        let column = self.column(id)?;
        let own = self.genotype(id)?;
        let mut mates = Vec::with_capacity(candidates.len());
        for &candidate in candidates {
            let genotype = self.genotype(candidate)?;
            let phi = |a: u32, b: u32| column[if a == own { b } else { a } as usize];
            let prospect = self.prospect_by(Origin::cross(Some(id), Some(candidate)), phi);
            mates.push(Mate { id: candidate, kinship: column[genotype as usize], prospect });
        }
        let f = |mate: &Mate| mate.prospect.as_ref().map_or(f64::INFINITY, |prospect| prospect.inbreeding);
        mates.sort_by(|a, b| {
            f(a).total_cmp(&f(b)).then(a.kinship.total_cmp(&b.kinship)).then(a.id.cmp(&b.id))
        });
        Ok(mates)
    }

    /// Common ancestors of two, themselves included where one descends from the other, and what each adds to
    /// their kinship: `d x y`. The parts add up to the kinship. Largest first, then by id. Cost: the ancestors.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn common_ancestors(&self, a: u64, b: u64) -> Result<Vec<CommonAncestor>, UnknownId> {
        Ok(self.common(&[(self.genotype(a)?, 1.0)], &[(self.genotype(b)?, 1.0)]))
    }

    fn common(&self, a: &[(u32, f64)], b: &[(u32, f64)]) -> Vec<CommonAncestor> {
        let (mut of_a, mut of_b) = (Trace::new(&self.genotypes), Trace::new(&self.genotypes));
        of_a.up(&self.genotypes, a.iter().copied());
        of_b.up(&self.genotypes, b.iter().copied());
        let mut common: Vec<CommonAncestor> = of_a
            .ancestors
            .iter()
            .filter_map(|&at| {
                let [of_first, of_second] = [&of_a, &of_b].map(|trace| trace.share[at as usize]);
                let kinship = self.genotypes.own[at as usize] * (of_first * of_second);
                (kinship != 0.0).then(|| CommonAncestor {
                    id: self.raised_id(at),
                    of_first,
                    of_second,
                    kinship,
                })
            })
            .collect();
        common.sort_by(|a, b| b.kinship.total_cmp(&a.kinship).then(a.id.cmp(&b.id)));
        common
    }

    /// Where the inbreeding of an individual comes from. Cost: its ancestors.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn explain(&self, id: u64) -> Result<Explanation, UnknownId> {
        let at = self.genotype(id)?;
        let inbreeding = self.genotypes.inbreeding[at as usize];
        let kind = self.genotypes.kind(at);
        let k = f64::from(kind.sets());
        let sides = self.genotypes.sides(at);
        let mut explanation = Explanation {
            inbreeding,
            common: Vec::new(),
            meiosis: [0.0; 2],
            inbred_parent: [0.0; 2],
            founder: 0.0,
        };
        if sides.iter().all(|side| side.is_empty()) {
            explanation.founder = inbreeding;
        } else if kind.sets() > 1 {
            for (nth, side) in sides.iter().enumerate() {
                let [meiosis, parent] = self.genotypes.within(kind, nth, side);
                explanation.meiosis[nth] = meiosis / (k * (k - 1.0));
                explanation.inbred_parent[nth] = parent / (k * (k - 1.0));
            }
            let [seed, pollen] = sides
                .map(|side| side.iter().map(|edge| (edge.genotype, edge.share)).collect::<Vec<(u32, f64)>>());
            let common = self.common(&seed, &pollen);
            // Shares of the mixtures are shares of the child's genes.
            let part = 2.0 * k / (k - 1.0);
            explanation.common = common.into_iter().map(|one| (one, part * one.kinship)).collect();
        }
        Ok(explanation)
    }
}
