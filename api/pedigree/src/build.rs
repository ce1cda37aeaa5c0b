//! From records in any order to a pedigree, parents before children.
#![allow(clippy::indexing_slicing, reason = "positions are numbered densely here")]

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap, VecDeque};
use std::fmt;

use crate::inbreeding::inbreeding;

/// Where an individual comes from. Parents are named by the caller's ids.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Parents unknown on both sides, or collected in the wild.
    Founder,
    /// Raised from seed; a missing parent counts as an unrelated founder of its own.
    Cross { seed_parent: Option<u64>, pollen_parent: Option<u64> },
    /// A sport or any other vegetative descendant: for kinship the same genotype as its source.
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
    /// a child of the first, from the smallest id on.
    Loop { ids: Vec<u64> },
    /// More records than can be numbered in 32 bits.
    TooLarge,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Duplicate { id } => write!(f, "individual {id} is listed twice"),
            Self::UnknownParent { id, parent } => {
                write!(f, "individual {id} names {parent} as a parent, which is not listed")
            }
            Self::Loop { ids } => {
                write!(f, "individuals are their own ancestors: ")?;
                for id in ids {
                    write!(f, "{id} <- ")?;
                }
                write!(f, "{}", ids.first().copied().unwrap_or_default())
            }
            Self::TooLarge => write!(f, "there are more individuals than 32 bits can number"),
        }
    }
}

impl std::error::Error for Problem {}

/// A gamete's origin: the genotype it came from and the share of the offspring's genes it brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Gamete {
    pub(crate) parent: u32,
    pub(crate) share: f64,
}

/// A validated pedigree with the inbreeding of everybody.
///
/// Inside, individuals of one clone are one *genotype*; genotypes are numbered parents before children.
#[derive(Debug, Clone)]
pub struct Pedigree {
    /// Parents before children, among equals of one generation by id.
    pub(crate) ids: Vec<u64>,
    /// Genotype by id.
    pub(crate) genotype: BTreeMap<u64, u32>,
    /// The individual each one was propagated from, for sports.
    pub(crate) source: BTreeMap<u64, u64>,
    /// By genotype: the id of the individual raised from seed, or the founder.
    pub(crate) raised: Vec<u64>,
    /// By genotype: the parents as they were named (a parent may be a sport).
    pub(crate) named: Vec<[Option<u64>; 2]>,
    /// By genotype: known gametes.
    pub(crate) gametes: Vec<[Option<Gamete>; 2]>,
    /// By genotype.
    pub(crate) inbreeding: Vec<f64>,
    /// By genotype: `d`, what its meioses add.
    pub(crate) own: Vec<f64>,
    /// Steps taken to find the inbreeding of all.
    pub(crate) visits: u64,
}

impl Origin {
    fn parents(self) -> [Option<u64>; 2] {
        match self {
            Self::Founder => [None, None],
            Self::Cross { seed_parent, pollen_parent } => [seed_parent, pollen_parent],
            Self::Sport { of } => [Some(of), None],
        }
    }
}

impl Pedigree {
    /// Validates records given in any order and works out the inbreeding of everybody. Cost: see the crate.
    ///
    /// # Errors
    ///
    /// Every duplicate and unknown parent, by id; when there are none, the shortest loop.
    pub fn build(records: &[Individual]) -> Result<Self, Vec<Problem>> {
        let mut records = records.to_vec();
        records.sort_by_key(|record| record.id);
        if u32::try_from(records.len()).is_err() {
            return Err(vec![Problem::TooLarge]);
        }
        let parents = resolve(&records)?;
        let order = order(&records, &parents)?;
        let mut pedigree = Self {
            ids: order.iter().map(|&at| records[at].id).collect(),
            genotype: BTreeMap::new(),
            source: BTreeMap::new(),
            raised: Vec::new(),
            named: Vec::new(),
            gametes: Vec::new(),
            inbreeding: Vec::new(),
            own: Vec::new(),
            visits: 0,
        };
        let mut genotype_of = vec![0u32; records.len()];
        for at in order {
            let record = records[at];
            if let (Origin::Sport { of }, Some(source)) = (record.origin, parents[at][0]) {
                genotype_of[at] = genotype_of[source];
                pedigree.source.insert(record.id, of);
            } else {
                // Cannot fail: there are no more genotypes than records.
                genotype_of[at] = u32::try_from(pedigree.raised.len()).unwrap_or(u32::MAX);
                pedigree.raised.push(record.id);
                pedigree.named.push(record.origin.parents());
                let gamete =
                    |parent: Option<usize>| parent.map(|p| Gamete { parent: genotype_of[p], share: 0.5 });
                pedigree.gametes.push(parents[at].map(gamete));
            }
            pedigree.genotype.insert(record.id, genotype_of[at]);
        }
        let found = inbreeding(&pedigree.gametes);
        pedigree.inbreeding = found.coefficients;
        pedigree.own = found.own;
        pedigree.visits = found.visits;
        Ok(pedigree)
    }
}

/// Places of the parents of every record; `records` are sorted by id.
fn resolve(records: &[Individual]) -> Result<Vec<[Option<usize>; 2]>, Vec<Problem>> {
    let mut problems = Vec::new();
    for pair in records.windows(2) {
        let duplicate = Problem::Duplicate { id: pair[0].id };
        if pair[0].id == pair[1].id && problems.last() != Some(&duplicate) {
            problems.push(duplicate);
        }
    }
    let mut parents = Vec::with_capacity(records.len());
    for record in records {
        let mut find = |parent: u64| {
            let found = records.binary_search_by_key(&parent, |other| other.id).ok();
            if found.is_none() {
                problems.push(Problem::UnknownParent { id: record.id, parent });
            }
            found
        };
        let named = record.origin.parents();
        parents.push(named.map(|parent| parent.and_then(&mut find)));
    }
    if problems.is_empty() { Ok(parents) } else { Err(problems) }
}

/// Parents before children: by the longest path down from a founder, then by id.
fn order(records: &[Individual], parents: &[[Option<usize>; 2]]) -> Result<Vec<usize>, Vec<Problem>> {
    let mut waiting: Vec<u8> = Vec::with_capacity(records.len());
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); records.len()];
    for (child, parents) in parents.iter().enumerate() {
        let mut count = 0;
        for &parent in parents.iter().flatten() {
            children[parent].push(child);
            count += 1;
        }
        waiting.push(count);
    }
    let mut level = vec![0u32; records.len()];
    let mut ready: BinaryHeap<Reverse<(u32, usize)>> =
        (0..records.len()).filter(|&at| waiting[at] == 0).map(|at| Reverse((0, at))).collect();
    let mut order = Vec::with_capacity(records.len());
    while let Some(Reverse((_, at))) = ready.pop() {
        order.push(at);
        for &child in &children[at] {
            // A sport is its source: it opens no generation of its own.
            let step = u32::from(!matches!(records[child].origin, Origin::Sport { .. }));
            level[child] = level[child].max(level[at] + step);
            waiting[child] -= 1;
            if waiting[child] == 0 {
                ready.push(Reverse((level[child], child)));
            }
        }
    }
    if order.len() == records.len() {
        return Ok(order);
    }
    let ids = shortest_loop(parents, &waiting).into_iter().map(|at| records[at].id).collect();
    Err(vec![Problem::Loop { ids }])
}

/// The shortest way from an individual up to itself among those still `waiting`; of several the one with the
/// smallest starting id. A breadth-first search from each, none deeper than the best loop so far.
fn shortest_loop(parents: &[[Option<usize>; 2]], waiting: &[u8]) -> Vec<usize> {
    let mut best: Vec<usize> = Vec::new();
    for start in (0..parents.len()).filter(|&at| waiting[at] > 0) {
        let mut from: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
        let mut queue = VecDeque::from([(start, 1)]);
        'search: while let Some((at, length)) = queue.pop_front() {
            if !best.is_empty() && length >= best.len() {
                break;
            }
            for &parent in parents[at].iter().flatten().filter(|&&parent| waiting[parent] > 0) {
                if parent == start {
                    best = vec![at];
                    while let Some(&(child, _)) = from.get(&best[best.len() - 1]) {
                        best.push(child);
                    }
                    best.reverse();
                    break 'search;
                }
                from.entry(parent).or_insert_with(|| {
                    queue.push_back((parent, length + 1));
                    (at, length)
                });
            }
        }
    }
    best
}
