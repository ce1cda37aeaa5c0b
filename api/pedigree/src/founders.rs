//! What a group of plants still has of its founders and ancestors.
//!
//! A plant and its sports are one: a reference group counts every genotype once. A parent that is not known is a
//! founder of its own, so the contributions of founders always add up to 1.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use crate::build::Pedigree;
use crate::kinship::UnknownId;
use crate::trace::{Trace, Youngest};

/// An individual, or an unknown parent that counts as one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Founder {
    Individual(u64),
    /// The unknown seed parent of this individual.
    SeedParentOf(u64),
    /// The unknown pollen parent of this individual.
    PollenParentOf(u64),
}

/// A founder's expected share of the genes of a reference group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contribution {
    pub founder: Founder,
    pub share: f64,
}

/// An ancestor's share of the genes of a reference group that no ancestor taken before it explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MarginalContribution {
    pub ancestor: Founder,
    pub share: f64,
}

/// How many equal parts would be as unequal together as these: `1 / sum p^2`, and 0 of none.
fn effective_number(shares: impl Iterator<Item = f64>) -> f64 {
    let squares: f64 = shares.map(|share| share * share).sum();
    if squares > 0.0 { 1.0 / squares } else { 0.0 }
}

/// The effective number of founders (R. C. Lacy, "Analysis of founder representation in pedigrees", Zoo Biology
/// 8, 1989, 111-123): as many founders with equal contributions would leave the same diversity.
pub fn effective_founders(contributions: &[Contribution]) -> f64 {
    effective_number(contributions.iter().map(|one| one.share))
}

/// The effective number of ancestors (D. Boichard, L. Maignel, É. Verrier, "The value of using probabilities of
/// gene origin to measure genetic variability in a population", Genetics Selection Evolution 29, 1997, 5-23).
pub fn effective_ancestors(ancestors: &[MarginalContribution]) -> f64 {
    effective_number(ancestors.iter().map(|one| one.share))
}

impl Pedigree {
    /// The genotypes of a group, each once.
    pub(crate) fn group(&self, ids: &[u64]) -> Result<BTreeSet<u32>, UnknownId> {
        ids.iter().map(|&id| self.genotype(id)).collect()
    }

    /// The members of a group and all their ancestors with their expected share of the group's genes.
    pub(crate) fn group_trace(&self, group: &BTreeSet<u32>) -> Trace {
        let mut trace = Trace::new(&self.genotypes);
        let part = 1.0 / group.len().max(1) as f64;
        trace.up(&self.genotypes, group.iter().map(|&at| (at, part)));
        trace
    }

    /// The founders a genotype brings into the pedigree, with their shares of it: itself, or unknown parents.
    pub(crate) fn founders_at(&self, at: u32) -> impl Iterator<Item = (Founder, f64)> {
        let id = self.raised_id(at);
        let kind = self.genotypes.kind(at);
        let sides = self.genotypes.sides(at);
        let founder = sides.iter().all(|side| side.is_empty());
        let unknown = (0..2).filter_map(move |nth| {
            let known: f64 = sides[nth].iter().map(|edge| edge.share).sum();
            // What is left of a side that is known is rounding.
            let rest = f64::from(kind.gametes[nth].sets) / f64::from(kind.sets()) - known;
            let founder = if nth == 0 { Founder::SeedParentOf(id) } else { Founder::PollenParentOf(id) };
            (rest > 1e-9).then_some((founder, rest))
        });
        let itself = founder.then_some((Founder::Individual(id), 1.0));
        itself.into_iter().chain(unknown.filter(move |_| !founder))
    }

    /// How many different genotypes a group has: a plant and its sports are one.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn distinct(&self, ids: &[u64]) -> Result<usize, UnknownId> {
        Ok(self.group(ids)?.len())
    }

    /// Every founder's expected share of the genes of the reference group, by founder. They add up to 1. Cost:
    /// the group's ancestors.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn contributions(&self, reference: &[u64]) -> Result<Vec<Contribution>, UnknownId> {
        let trace = self.group_trace(&self.group(reference)?);
        let mut contributions: Vec<Contribution> = trace
            .ancestors
            .iter()
            .flat_map(|&at| {
                let share = trace.share[at as usize];
                self.founders_at(at).map(move |(founder, part)| Contribution { founder, share: share * part })
            })
            .collect();
        contributions.sort_by_key(|one| one.founder);
        Ok(contributions)
    }

    /// The mean kinship within the reference group, each member's with itself included; 0 of an empty group.
    /// Cost `O(n)`.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn group_kinship(&self, reference: &[u64]) -> Result<f64, UnknownId> {
        let group = self.group(reference)?;
        let part = 1.0 / group.len().max(1) as f64;
        let mut weight = vec![0.0; self.genotypes.len()];
        for &at in &group {
            weight[at as usize] = part;
        }
        let mean = self.times(weight);
        Ok(group.iter().map(|&at| part * mean[at as usize]).sum())
    }

    /// Founder genome equivalents by mean kinship, `1 / (2 phi)` (A. Caballero, M. A. Toro, "Interrelations
    /// between effective population size and other pedigree tools for the management of conserved populations",
    /// Genetical Research 75, 2000, 331-343); 0 of an empty group.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn founder_genome_equivalents(&self, reference: &[u64]) -> Result<f64, UnknownId> {
        let mean = self.group_kinship(reference)?;
        Ok(if mean > 0.0 { 1.0 / (2.0 * mean) } else { 0.0 })
    }

    /// The ancestors that explain the reference group, most important first (of equals a descendant
    /// before its ancestors, then the lowest id), with
    /// their marginal contributions, which add up to 1 (Boichard and others 1997, see
    /// [`effective_ancestors`]). A member counts as an ancestor for what it passed on to other members; its own
    /// genes are its parents'. Cost: for each ancestor taken, the part of its ancestors and descendants that
    /// this changes.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn marginal_contributions(&self, reference: &[u64]) -> Result<Vec<MarginalContribution>, UnknownId> {
        let mut marginal = Marginal::of(self, &self.group(reference)?);
        let mut found = Vec::new();
        while let Some((ancestor, share)) = marginal.take() {
            found.push(MarginalContribution { ancestor, share });
        }
        Ok(found)
    }

    /// Share of the ancestors known in each generation, parents first. Cost: `generations` times the ancestors.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn completeness(&self, id: u64, generations: u32) -> Result<Vec<f64>, UnknownId> {
        let mut front = BTreeMap::from([(self.genotype(id)?, 1.0)]);
        let mut known = Vec::new();
        for _ in 0..generations {
            let mut next: BTreeMap<u32, f64> = BTreeMap::new();
            for (at, share) in front {
                for edge in self.genotypes.edges(at) {
                    *next.entry(edge.genotype).or_default() += share * edge.share;
                }
            }
            known.push(next.values().sum());
            front = next;
        }
        Ok(known)
    }

    /// Equivalent complete generations of everybody, by id: over all known ancestors the sum of their shares,
    /// `(1/2)^g` each in diploids (Boichard and others 1997). Cost `O(n)`.
    pub fn equivalent_generations(&self) -> Vec<(u64, f64)> {
        let mut known = vec![0.0; self.genotypes.len()];
        for at in self.genotypes.all() {
            known[at as usize] = self
                .genotypes
                .edges(at)
                .iter()
                .map(|edge| edge.share * (1.0 + known[edge.genotype as usize]))
                .sum();
        }
        self.listed(&known)
    }

    /// Ancestral inbreeding of everybody, by id: the chance that a gene was identical by descent with its
    /// partner in some ancestor (J. D. Ballou, "Ancestral inbreeding only minimally affects inbreeding
    /// depression in mammalian populations", Journal of Heredity 88, 1997, 169-178). Cost `O(n)`.
    pub fn ancestral_inbreeding(&self) -> Vec<(u64, f64)> {
        let mut ancestral = vec![0.0; self.genotypes.len()];
        for at in self.genotypes.all() {
            ancestral[at as usize] = self
                .genotypes
                .edges(at)
                .iter()
                .map(|edge| {
                    let before: f64 = ancestral[edge.genotype as usize];
                    edge.share * (before + (1.0 - before) * self.genotypes.inbreeding[edge.genotype as usize])
                })
                .sum();
        }
        self.listed(&ancestral)
    }
}

/// A bound on what an ancestor would explain, which only ever falls; its generation; the ancestor and its number.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Waiting(u64, u32, Reverse<(Founder, u32)>);

/// Boichard's search among the ancestors of a group, who are numbered anew, parents first.
#[derive(Default)]
struct Marginal {
    ancestors: Vec<Founder>,
    parents: Vec<Vec<(u32, f64)>>,
    children: Vec<Vec<(u32, f64)>>,
    /// Share of the group, less what passes through ancestors that were taken.
    share: Vec<f64>,
    /// Share of an ancestor's own genes explained by ancestors that were taken.
    explained: Vec<f64>,
    taken: Vec<bool>,
    /// Longest path up to a founder.
    generation: Vec<u32>,
    waiting: BinaryHeap<Waiting>,
    /// Scratch: what is to be passed on, and to whom next.
    passing: Vec<f64>,
    next: Youngest,
}

impl Marginal {
    fn of(pedigree: &Pedigree, group: &BTreeSet<u32>) -> Self {
        let genotypes = &pedigree.genotypes;
        let part = 1.0 / group.len().max(1) as f64;
        let mut trace = Trace::new(genotypes);
        for &member in group {
            let parents = genotypes.edges(member);
            let itself = parents.is_empty().then_some((member, part));
            trace.add(parents.iter().map(|edge| (edge.genotype, part * edge.share)).chain(itself));
        }
        trace.up(genotypes, []);
        let mut line: BTreeSet<u32> = group.clone();
        line.extend(&trace.ancestors);
        let mut marginal = Self::default();
        let mut number: BTreeMap<u32, u32> = BTreeMap::new();
        for &genotype in &line {
            let share = trace.share[genotype as usize];
            let own = if group.contains(&genotype) { part } else { 0.0 };
            let mut parents: Vec<(u32, f64)> = Vec::new();
            for edge in genotypes.edges(genotype) {
                // Behind a thousand generations a share may be too small for a float, and none.
                parents.extend(number.get(&edge.genotype).map(|&parent| (parent, edge.share)));
            }
            for (founder, rest) in pedigree.founders_at(genotype) {
                if !matches!(founder, Founder::Individual(_)) {
                    parents.push((marginal.push(founder, Vec::new(), (share + own) * rest), rest));
                }
            }
            if share > 0.0 {
                let id = Founder::Individual(pedigree.raised_id(genotype));
                number.insert(genotype, marginal.push(id, parents, share));
            }
        }
        let count = marginal.ancestors.len();
        marginal.next = Youngest::new(count);
        marginal.explained = vec![0.0; count];
        marginal.passing = vec![0.0; count];
        marginal.taken = vec![false; count];
        marginal
    }

    fn push(&mut self, ancestor: Founder, parents: Vec<(u32, f64)>, share: f64) -> u32 {
        // No more than two unknown parents for each genotype: few enough for 32 bits.
        let at = u32::try_from(self.ancestors.len()).unwrap_or(u32::MAX);
        for &(parent, part) in &parents {
            self.children[parent as usize].push((at, part));
        }
        let above = parents.iter().map(|&(parent, _)| self.generation[parent as usize] + 1).max();
        self.generation.push(above.unwrap_or(0));
        self.waiting.push(Waiting(measure(share), above.unwrap_or(0), Reverse((ancestor, at))));
        self.ancestors.push(ancestor);
        self.parents.push(parents);
        self.children.push(Vec::new());
        self.share.push(share);
        at
    }

    /// The next ancestor and its marginal contribution.
    fn take(&mut self) -> Option<(Founder, f64)> {
        while let Some(Waiting(bound, generation, Reverse((ancestor, at)))) = self.waiting.pop() {
            let here = at as usize;
            let share = self.share[here] * (1.0 - self.explained[here]);
            let now = measure(share);
            if now == 0 {
                continue;
            }
            if now < bound {
                self.waiting.push(Waiting(now, generation, Reverse((ancestor, at))));
                continue;
            }
            self.cut(at);
            self.explain(at);
            return Some((self.ancestors[here], share));
        }
        None
    }

    /// What came through this ancestor no longer counts for its own ancestors.
    fn cut(&mut self, at: u32) {
        self.taken[at as usize] = true;
        for &(parent, part) in &self.parents[at as usize] {
            self.passing[parent as usize] += self.share[at as usize] * part;
            self.next.insert(parent);
        }
        while let Some(at) = self.next.pop() {
            let lost = std::mem::take(&mut self.passing[at as usize]);
            self.share[at as usize] -= lost;
            if !self.taken[at as usize] {
                for &(parent, part) in &self.parents[at as usize] {
                    self.passing[parent as usize] += lost * part;
                    self.next.insert(parent);
                }
            }
        }
    }

    /// What this ancestor gave its descendants is explained.
    fn explain(&mut self, at: u32) {
        // Turned round, the largest number is the oldest.
        let last = u32::try_from(self.ancestors.len() - 1).unwrap_or(u32::MAX);
        let gained = 1.0 - std::mem::replace(&mut self.explained[at as usize], 1.0);
        for &(child, part) in &self.children[at as usize] {
            self.passing[child as usize] += gained * part;
            self.next.insert(last - child);
        }
        while let Some(turned) = self.next.pop() {
            let at = last - turned;
            let gained = std::mem::take(&mut self.passing[at as usize]);
            if !self.taken[at as usize] {
                self.explained[at as usize] += gained;
                for &(child, part) in &self.children[at as usize] {
                    self.passing[child as usize] += gained * part;
                    self.next.insert(last - child);
                }
            }
        }
    }
}

/// Shares that differ by less than 2^-40 are equal: they differ by rounding.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "shares are 0 to 1")]
fn measure(share: f64) -> u64 {
    (share.max(0.0) * (1u64 << 40) as f64).round() as u64
}
