//! Which founder genes a group still has.
//!
//! J. W. `MacCluer` and others, "Pedigree analysis by computer simulation", Zoo Biology 5, 1986, 147-160;
//! R. C. Lacy, "Analysis of founder representation in pedigrees", ibidem 8, 1989, 111-123.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use std::collections::{BTreeMap, BTreeSet};

use storksbill_numerics::split_mix::SplitMix;

use crate::build::Pedigree;
use crate::founders::{Contribution, Founder};
use crate::gametes::Brings;
use crate::kinship::UnknownId;

/// How many ways of inheriting one gene are followed at once before its fate is drawn instead.
const MOST_WAYS: usize = 4_096;
/// Steps along such ways for all founders together.
const MOST_STEPS: usize = 20_000_000;

/// The part of a founder's genes still found in a group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Retention {
    pub founder: Founder,
    /// Expected share of the founder's genes with at least one copy in the group, 0 to 1.
    pub retained: f64,
    /// Worked out, not drawn.
    pub exact: bool,
}

/// Founder genomes that would remain without loss and inequality: `1 / sum (p^2 / r)` (Lacy 1989). Lists are
/// those of one reference group; a founder of which no draw kept a gene counts as `least`.
pub fn founder_genomes(contributions: &[Contribution], retentions: &[Retention], least: f64) -> f64 {
    let retained: BTreeMap<Founder, f64> = retentions.iter().map(|one| (one.founder, one.retained)).collect();
    let sum: f64 = contributions
        .iter()
        .filter(|one| one.share > 0.0)
        .map(|one| one.share * one.share / retained.get(&one.founder).copied().unwrap_or_default().max(least))
        .sum();
    if sum > 0.0 { 1.0 / sum } else { 0.0 }
}

impl Pedigree {
    /// The expected share of each founder's genes that the reference group retains, by founder. Worked out where
    /// at most 4,096 ways of inheriting a gene exist side by side (always where a diploid founder has at most
    /// 20 meioses to the group, mostly far beyond); drawn `draws` times from `seed` otherwise, with a standard error of at most
    /// `1 / (2 sqrt(draws))`.
    ///
    /// A gamete of several sets takes genes without replacement but for one possible pair of copies, which has
    /// the probability that `lambda` states.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn retention(&self, reference: &[u64], draws: u32, seed: u64) -> Result<Vec<Retention>, UnknownId> {
        let group = self.group(reference)?;
        let mut line = self.group_trace(&group).ancestors;
        line.reverse();
        let drop = GeneDrop::of(self, &line, &group);
        let mut steps = 0;
        let mut retentions: Vec<Retention> = Vec::new();
        for &(founder, at) in &drop.founders {
            let exact = drop.worked_out(founder, at, &mut steps);
            let retained = exact.unwrap_or_default();
            retentions.push(Retention { founder, retained, exact: exact.is_some() });
        }
        if draws > 0 && retentions.iter().any(|one| !one.exact) {
            for (one, drawn) in retentions.iter_mut().zip(drop.drawn(draws, seed)) {
                if !one.exact {
                    one.retained = drawn;
                }
            }
        }
        retentions.sort_by_key(|one| one.founder);
        Ok(retentions)
    }
}

/// Which individuals have copies of the gene that is followed, and how many.
type Copies = Vec<(u32, u8)>;

struct GeneDrop<'a> {
    pedigree: &'a Pedigree,
    /// The group and its ancestors, parents first.
    line: &'a [u32],
    group: &'a BTreeSet<u32>,
    /// By genotype: its last child among these, itself without.
    last: BTreeMap<u32, u32>,
    children: BTreeMap<u32, Vec<u32>>,
    founders: Vec<(Founder, u32)>,
}

impl<'a> GeneDrop<'a> {
    fn of(pedigree: &'a Pedigree, line: &'a [u32], group: &'a BTreeSet<u32>) -> Self {
        let mut last = BTreeMap::new();
        let mut children: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        for &at in line {
            last.insert(at, at);
            for edge in pedigree.genotypes.edges(at) {
                last.insert(edge.genotype, at);
                children.entry(edge.genotype).or_default().push(at);
            }
        }
        let founders = line
            .iter()
            .flat_map(|&at| pedigree.founders_at(at).map(move |(founder, _)| (founder, at)))
            .collect();
        Self { pedigree, line, group, last, children, founders }
    }

    /// Chances of so many copies in a gamete of genotype `at` when its possible parents have these.
    fn gamete(&self, at: u32, side: usize, copies: &Copies) -> Vec<f64> {
        let genotypes = &self.pedigree.genotypes;
        let kind = genotypes.kind(at);
        let brings = kind.gametes[side];
        let mut chances = vec![0.0; usize::from(brings.sets) + 1];
        chances[0] = 1.0;
        for edge in genotypes.sides(at)[side] {
            let Ok(found) = copies.binary_search_by_key(&edge.genotype, |one| one.0) else { continue };
            let part = edge.share * f64::from(kind.sets()) / f64::from(brings.sets);
            let sets = genotypes.kind(edge.genotype).sets();
            chances[0] -= part;
            for (copies, chance) in transmitted(brings, sets, copies[found].1).into_iter().enumerate() {
                chances[copies] += part * chance;
            }
        }
        chances
    }

    /// The chance that one gene of the founder is in the group; `None` where there are too many ways.
    fn worked_out(&self, founder: Founder, at: u32, steps: &mut usize) -> Option<f64> {
        let mut ways: BTreeMap<Copies, f64> = BTreeMap::new();
        let mut retained = 0.0;
        let kind = self.pedigree.genotypes.kind(at);
        let start = match founder {
            Founder::Individual(_) => vec![0.0, 1.0],
            Founder::SeedParentOf(_) => strangers_gene(kind.gametes[0]),
            Founder::PollenParentOf(_) => strangers_gene(kind.gametes[1]),
        };
        // A founder that is only possible gives nothing when another is the parent.
        let possible = match founder {
            Founder::Individual(_) => 1.0,
            Founder::SeedParentOf(_) => self.stranger(at, 0),
            Founder::PollenParentOf(_) => self.stranger(at, 1),
        };
        for (copies, chance) in (0u8..).zip(start).filter(|one| one.0 > 0) {
            if self.group.contains(&at) {
                retained += possible * chance;
            } else {
                ways.insert(vec![(at, copies)], possible * chance);
            }
        }
        // Descendants, oldest first.
        let mut coming: BTreeSet<u32> = self.children.get(&at).into_iter().flatten().copied().collect();
        while let Some(child) = coming.pop_first() {
            coming.extend(self.children.get(&child).into_iter().flatten());
            let mut next: BTreeMap<Copies, f64> = BTreeMap::new();
            for (copies, probability) in ways {
                let seed = self.gamete(child, 0, &copies);
                let pollen = self.gamete(child, 1, &copies);
                let mut of_child = vec![0.0; seed.len() + pollen.len() - 1];
                for (a, &p) in seed.iter().enumerate() {
                    for (b, &q) in pollen.iter().enumerate() {
                        of_child[a + b] += p * q;
                    }
                }
                let mut kept = copies;
                kept.retain(|one| self.last[&one.0] > child);
                for (copies, chance) in (0u8..).zip(of_child) {
                    *steps += 1;
                    let probability = probability * chance;
                    if copies > 0 && self.group.contains(&child) {
                        retained += probability;
                        continue;
                    }
                    let mut way = kept.clone();
                    if copies > 0 && self.last[&child] > child {
                        way.push((child, copies));
                    }
                    if !way.is_empty() && probability > 0.0 {
                        *next.entry(way).or_default() += probability;
                    }
                }
            }
            ways = next;
            if ways.len() > MOST_WAYS || *steps > MOST_STEPS {
                return None;
            }
        }
        Some(retained)
    }

    /// The chance that a parent of this side is a stranger.
    fn stranger(&self, at: u32, side: usize) -> f64 {
        let genotypes = &self.pedigree.genotypes;
        let kind = genotypes.kind(at);
        let known: f64 = genotypes.sides(at)[side].iter().map(|edge| edge.share).sum();
        1.0 - known * f64::from(kind.sets()) / f64::from(kind.gametes[side].sets)
    }

    /// Retained shares in the order of the founders.
    fn drawn(&self, draws: u32, seed: u64) -> Vec<f64> {
        let genotypes = &self.pedigree.genotypes;
        let mut random = SplitMix(seed);
        // Genes are numbered by founder.
        let mut first = vec![0u32];
        let mut of_founder: BTreeMap<Founder, u32> = BTreeMap::new();
        for &(founder, at) in &self.founders {
            let kind = genotypes.kind(at);
            let genes = match founder {
                Founder::Individual(_) => u32::from(kind.sets()),
                Founder::SeedParentOf(_) => 2 * u32::from(kind.gametes[0].sets),
                Founder::PollenParentOf(_) => 2 * u32::from(kind.gametes[1].sets),
            };
            let from = first[first.len() - 1];
            of_founder.insert(founder, from);
            first.push(from + genes);
        }
        let slot: BTreeMap<u32, usize> = self.line.iter().copied().zip(0..).collect();
        let members: Vec<usize> = self.group.iter().filter_map(|at| slot.get(at).copied()).collect();
        let mut genes: Vec<Vec<u32>> = vec![Vec::new(); self.line.len()];
        let mut seen = vec![0u32; first[first.len() - 1] as usize];
        let mut kept = vec![0u64; self.founders.len()];
        for draw in 1..=draws {
            for (nth, &at) in self.line.iter().enumerate() {
                let kind = genotypes.kind(at);
                let id = self.pedigree.raised_id(at);
                let mut made = std::mem::take(&mut genes[nth]);
                made.clear();
                if let Some(&from) = of_founder.get(&Founder::Individual(id)) {
                    made.extend(from..from + u32::from(kind.sets()));
                } else {
                    for side in 0..2 {
                        let brings = kind.gametes[side];
                        let mut point = random.unit() * f64::from(brings.sets) / f64::from(kind.sets());
                        let parent = genotypes.sides(at)[side].iter().find(|edge| {
                            point -= edge.share;
                            point < 0.0
                        });
                        // Rounding may leave a point behind the last of parents that are all known.
                        let unknown =
                            if side == 0 { Founder::SeedParentOf(id) } else { Founder::PollenParentOf(id) };
                        let parent = match of_founder.get(&unknown) {
                            None => parent.or(genotypes.sides(at)[side].last()),
                            Some(_) => parent,
                        };
                        if let Some(edge) = parent {
                            gamete(&mut random, brings, &genes[slot[&edge.genotype]], &mut made);
                        } else if let Some(&from) = of_founder.get(&unknown) {
                            let stranger: Vec<u32> = (from..from + 2 * u32::from(brings.sets)).collect();
                            gamete(&mut random, brings, &stranger, &mut made);
                        }
                    }
                }
                genes[nth] = made;
            }
            for &member in &members {
                for &gene in &genes[member] {
                    if seen[gene as usize] != draw {
                        seen[gene as usize] = draw;
                        kept[first.partition_point(|&from| from <= gene) - 1] += 1;
                    }
                }
            }
        }
        (0..self.founders.len())
            .map(|nth| kept[nth] as f64 / (f64::from(draws) * f64::from(first[nth + 1] - first[nth])))
            .collect()
    }
}

/// Copies of one gene of a stranger in the gamete it gives: it is made of two such gametes.
fn strangers_gene(brings: Brings) -> Vec<f64> {
    transmitted(brings, brings.sets.saturating_mul(2), 1)
}

/// The probability that a gamete has two copies of one gene by its own meiosis.
fn doubled(brings: Brings) -> f64 {
    let sets = f64::from(brings.sets);
    (brings.lambda * sets * (sets - 1.0) / 2.0).min(1.0)
}

/// The chances of 0, 1, ... copies in a gamete of a parent with `sets` genes of which `copies` are copies.
fn transmitted(brings: Brings, sets: u8, copies: u8) -> Vec<f64> {
    let tau = brings.sets;
    let mut chances = vec![0.0; usize::from(tau) + 1];
    if tau > sets {
        // All genes of the parent, several times over, and some once more.
        let (times, more) = (tau / sets, tau % sets);
        for (extra, chance) in drawn_without_replacement(sets, copies, more).into_iter().enumerate() {
            chances[usize::from(times * copies) + extra] += chance;
        }
        return chances;
    }
    let twice = if tau > 1 { doubled(brings) } else { 0.0 };
    for (got, chance) in drawn_without_replacement(sets, copies, tau).into_iter().enumerate() {
        chances[got] += (1.0 - twice) * chance;
    }
    if twice > 0.0 {
        for (got, chance) in drawn_without_replacement(sets, copies, tau - 1).into_iter().enumerate() {
            let again = got as f64 / f64::from(tau - 1);
            chances[got] += twice * chance * (1.0 - again);
            if again > 0.0 {
                chances[got + 1] += twice * chance * again;
            }
        }
    }
    chances
}

/// The chances of 0, 1, ..., `draws` marked among so many draws without replacement (hypergeometric).
fn drawn_without_replacement(all: u8, marked: u8, draws: u8) -> Vec<f64> {
    let mut chances = vec![1.0];
    for drawn in 0..draws {
        let left = f64::from(all - drawn);
        let mut next = vec![0.0; chances.len() + 1];
        for (got, chance) in (0u8..).zip(&chances) {
            let hit = f64::from(marked.saturating_sub(got)) / left;
            next[usize::from(got)] += chance * (1.0 - hit);
            next[usize::from(got) + 1] += chance * hit;
        }
        chances = next;
    }
    chances
}

/// What a parent hands on.
fn gamete(random: &mut SplitMix, brings: Brings, parent: &[u32], into: &mut Vec<u32>) {
    let mut left = parent.to_vec();
    let tau = usize::from(brings.sets);
    let mut wanted = tau;
    while wanted >= left.len() && tau > parent.len() {
        into.extend(parent);
        wanted -= parent.len();
    }
    let twice = tau > 1 && tau <= parent.len() && random.unit() < doubled(brings);
    let from = into.len();
    for _ in usize::from(twice)..wanted {
        let nth = random.below(left.len());
        into.push(left.swap_remove(nth));
    }
    if twice {
        let nth = random.below(into.len() - from);
        into.push(into[from + nth]);
    }
}
