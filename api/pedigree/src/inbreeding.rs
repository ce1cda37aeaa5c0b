//! Inbreeding of everybody by sparse traces.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use std::cell::Cell;

use crate::genotypes::{Edge, Genotypes};
use crate::live;
use crate::trace::{Youngest, kinship};

/// Two genotypes whose kinship is asked for. A pair of one with itself never is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Pair {
    younger: u32,
    older: u32,
}

/// The distinct pairs of parents, and their kinship once it is known: all children of one cross share it.
struct Crosses {
    pairs: Vec<Pair>,
    kinship: Vec<f64>,
    /// The pairs whose younger is `g` are those from `first[g]` to `first[g + 1]`.
    first: Vec<u32>,
}

impl Crosses {
    fn of(genotypes: &Genotypes, wanted: &impl Fn(u32) -> bool) -> Self {
        let mut pairs = Vec::with_capacity(genotypes.edge_count() / 2);
        for at in genotypes.all().filter(|&at| wanted(at)) {
            let edges = genotypes.edges(at);
            for (nth, a) in edges.iter().enumerate() {
                for b in edges[..nth].iter().filter(|b| b.genotype != a.genotype) {
                    let (older, younger) = (a.genotype.min(b.genotype), a.genotype.max(b.genotype));
                    pairs.push(Pair { younger, older });
                }
            }
        }
        pairs.sort_unstable();
        pairs.dedup();
        pairs.shrink_to_fit();
        let mut first = vec![0u32; genotypes.len() + 1];
        for pair in &pairs {
            first[pair.younger as usize + 1] += 1;
        }
        for at in 0..genotypes.len() {
            first[at + 1] += first[at];
        }
        Self { kinship: vec![0.0; pairs.len()], pairs, first }
    }

    fn kinship(&self, a: u32, b: u32) -> f64 {
        let (older, younger) = (a.min(b), a.max(b));
        let [from, to] = [0, 1].map(|next| self.first[younger as usize + next] as usize);
        // Every pair of parents was asked for.
        let found = self.pairs[from..to].binary_search(&Pair { younger, older });
        found.map_or(f64::NAN, |nth| self.kinship[from + nth])
    }
}

/// `F` and `d` of the wanted genotypes; those of all others must be known. Returns the steps taken: genotypes
/// visited by traces, and kinships written where the table was the shorter way.
///
/// Generation by generation; the distinct crosses of a generation are given to their more used parent, the hub.
/// A hub's row of `T` is traced once, and its kinship to each partner follows by descent,
/// `K(j) = t_j d_j + sum_g w_g K(p_g)`, each ancestor visited once a hub. In a deep pedigree where everybody
/// descends from everybody, these traces grow beyond what a table of the living costs; then the table is made.
pub(crate) fn evaluate(genotypes: &mut Genotypes, wanted: impl Fn(u32) -> bool) -> u64 {
    let generations = generations(genotypes);
    let plan = live::Plan::of(genotypes, &generations);
    let budget = plan.as_ref().map_or(u64::MAX, live::Plan::equal_visits);
    match by_traces(genotypes, &generations, &wanted, budget) {
        Ok(visits) => visits,
        Err(visits) => {
            let written = plan.map_or(0, |plan| plan.evaluate(genotypes, &generations, &wanted));
            visits + written
        }
    }
}

/// `F` and `d` of one genotype when those of all its ancestors are known, and the steps taken.
pub(crate) fn evaluate_one(genotypes: &Genotypes, at: u32) -> (f64, f64, u64) {
    let visits = Cell::new(0);
    let (f, own) = genotypes.evaluate(at, |a, b| {
        let (phi, steps) = kinship(genotypes, a, b);
        visits.set(visits.get() + steps);
        phi
    });
    (f, own, visits.get())
}

/// Where each generation begins, and the end: genotypes are numbered by the longest path from a founder.
fn generations(genotypes: &Genotypes) -> Vec<u32> {
    let mut level = vec![0u32; genotypes.len()];
    let mut begins = Vec::new();
    for at in genotypes.all() {
        let above = genotypes.edges(at).iter().map(|edge| level[edge.genotype as usize] + 1).max();
        level[at as usize] = above.unwrap_or(0);
        if level[at as usize] as usize == begins.len() {
            begins.push(at);
        }
    }
    begins.push(genotypes.count());
    begins
}

/// # Errors
///
/// The visits, when they exceed the budget.
fn by_traces(
    genotypes: &mut Genotypes,
    generations: &[u32],
    wanted: &impl Fn(u32) -> bool,
    budget: u64,
) -> Result<u64, u64> {
    let mut crosses = Crosses::of(genotypes, wanted);
    let mut column = Column::new(genotypes);
    let mut uses = vec![0u32; genotypes.len()];
    let mut tasks: Vec<(u32, u32, u32)> = Vec::new();
    for generation in generations.windows(2) {
        for at in (generation[0]..generation[1]).filter(|&at| wanted(at)) {
            let (f, own) = genotypes.evaluate(at, |a, b| crosses.kinship(a, b));
            genotypes.inbreeding[at as usize] = f;
            genotypes.own[at as usize] = own;
            column.nodes[at as usize].own = own;
        }
        let [from, to] = [generation[0], generation[1]].map(|at| crosses.first[at as usize]);
        let pairs = &crosses.pairs[from as usize..to as usize];
        for pair in pairs {
            uses[pair.younger as usize] += 1;
            uses[pair.older as usize] += 1;
        }
        tasks.clear();
        tasks.extend((from..).zip(pairs).map(|(number, pair)| {
            let older_used = uses[pair.older as usize] >= uses[pair.younger as usize];
            let (hub, partner) =
                if older_used { (pair.older, pair.younger) } else { (pair.younger, pair.older) };
            (hub, partner, number)
        }));
        for pair in pairs {
            uses[pair.younger as usize] = 0;
            uses[pair.older as usize] = 0;
        }
        tasks.sort_unstable();
        for of_hub in tasks.chunk_by(|a, b| a.0 == b.0) {
            column.work_out(genotypes, of_hub[0].0, of_hub.iter().map(|task| task.1));
            for &(_, partner, number) in of_hub {
                crosses.kinship[number as usize] = column.marks[partner as usize].kinship;
            }
            if column.visits > budget {
                return Err(column.visits);
            }
        }
    }
    Ok(column.visits)
}

/// What a trace asks of a genotype, together in memory. Nearly all have one or two parents that give half of the
/// genes each.
#[derive(Clone, Copy)]
struct Node {
    parents: [u32; 2],
    own: f64,
}

/// No parent.
const NONE: u32 = u32::MAX;
/// Other parents or shares, in place of the second.
const OTHER: u32 = u32::MAX - 1;

/// What traces leave at a genotype.
#[derive(Clone, Copy, Default)]
struct Mark {
    /// Share of the hub's genes; zero but in a trace.
    of_hub: f64,
    /// Kinship to the hub.
    kinship: f64,
}

/// The kinship of one genotype to others, by need.
struct Column {
    nodes: Vec<Node>,
    marks: Vec<Mark>,
    young: Youngest,
    ancestors: Vec<u32>,
    line: Vec<u32>,
    visits: u64,
}

impl Column {
    fn new(genotypes: &Genotypes) -> Self {
        let node = |at: u32| {
            let half = |edge: &Edge| edge.share.to_bits() == 0.5f64.to_bits();
            let parents = match genotypes.edges(at) {
                [] => [NONE, NONE],
                [one] if half(one) => [one.genotype, NONE],
                [one, other] if half(one) && half(other) => [one.genotype, other.genotype],
                _ => [NONE, OTHER],
            };
            Node { parents, own: genotypes.own[at as usize] }
        };
        Self {
            nodes: genotypes.all().map(node).collect(),
            marks: vec![Mark::default(); genotypes.len()],
            young: Youngest::new(genotypes.len()),
            ancestors: Vec::new(),
            line: Vec::new(),
            visits: 0,
        }
    }

    /// Every parent of a genotype with its share.
    #[inline]
    fn parents(nodes: &[Node], genotypes: &Genotypes, at: u32, mut visit: impl FnMut(u32, f64)) {
        let [one, other] = nodes[at as usize].parents;
        if other == OTHER {
            genotypes.edges(at).iter().for_each(|edge| visit(edge.genotype, edge.share));
            return;
        }
        for parent in [one, other] {
            if parent != NONE {
                visit(parent, 0.5);
            }
        }
    }

    /// Puts the kinship of the hub to the partners, and to all their ancestors, into the marks.
    fn work_out(&mut self, genotypes: &Genotypes, hub: u32, partners: impl Iterator<Item = u32>) {
        let Self { nodes, marks, young, ancestors, line, visits } = self;
        marks[hub as usize].of_hub = 1.0;
        young.insert(hub);
        while let Some(at) = young.pop() {
            ancestors.push(at);
            let part = marks[at as usize].of_hub;
            Self::parents(nodes, genotypes, at, |parent, share| {
                marks[parent as usize].of_hub += part * share;
                young.insert(parent);
            });
        }
        partners.for_each(|partner| young.insert(partner));
        while let Some(at) = young.pop() {
            line.push(at);
            Self::parents(nodes, genotypes, at, |parent, _| young.insert(parent));
        }
        *visits += (ancestors.len() + line.len()) as u64;
        while let Some(at) = line.pop() {
            let mut phi = marks[at as usize].of_hub * nodes[at as usize].own;
            Self::parents(nodes, genotypes, at, |parent, share| {
                phi += share * marks[parent as usize].kinship;
            });
            marks[at as usize].kinship = phi;
        }
        for at in ancestors.drain(..) {
            marks[at as usize].of_hub = 0.0;
        }
    }
}
