//! The pedigree as numbers: genotypes, parents before children, and what each gamete brings.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use std::collections::BTreeMap;

use crate::gametes::{Brings, Kind};

/// A parent, or possible parent, of a genotype.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Edge {
    pub(crate) genotype: u32,
    /// The individual that was named, of that genotype.
    pub(crate) place: u32,
    /// Share of the child's genes expected to come this way.
    pub(crate) share: f64,
}

/// The different kinds of individuals, of which there are few.
#[derive(Debug, Clone)]
pub(crate) struct Kinds {
    list: Vec<Kind>,
    number: BTreeMap<([u8; 2], [u64; 2], bool), u32>,
}

impl Kinds {
    /// The number of [`Kind::ASSUMED`].
    pub(crate) const ASSUMED: u32 = 0;

    pub(crate) fn new() -> Self {
        let mut kinds = Self { list: Vec::new(), number: BTreeMap::new() };
        kinds.number(Kind::ASSUMED);
        kinds
    }

    pub(crate) fn number(&mut self, kind: Kind) -> u32 {
        let key = (
            kind.gametes.map(|gamete| gamete.sets),
            kind.gametes.map(|gamete| gamete.lambda.to_bits()),
            kind.assumed,
        );
        let next = &mut self.list;
        *self.number.entry(key).or_insert_with(|| {
            next.push(kind);
            // No more kinds than records.
            u32::try_from(next.len() - 1).unwrap_or(u32::MAX)
        })
    }

    pub(crate) fn get(&self, number: u32) -> &Kind {
        &self.list[number as usize]
    }
}

/// Individuals of one clone are one genotype.
#[derive(Debug, Clone)]
pub(crate) struct Genotypes {
    /// The seed parents of `g` are `edges[start[2 g]..start[2 g + 1]]`, its pollen parents those up to
    /// `start[2 g + 2]`.
    start: Vec<u32>,
    edges: Vec<Edge>,
    /// By genotype, numbers of `kinds`.
    kind: Vec<u32>,
    pub(crate) kinds: Kinds,
    /// By genotype.
    pub(crate) inbreeding: Vec<f64>,
    /// By genotype: `d`, what its meioses add.
    pub(crate) own: Vec<f64>,
}

impl Genotypes {
    pub(crate) fn with_room(genotypes: usize, edges: usize, kinds: Kinds) -> Self {
        let mut start = Vec::with_capacity(2 * genotypes + 1);
        start.push(0);
        Self {
            start,
            edges: Vec::with_capacity(edges),
            kind: Vec::with_capacity(genotypes),
            kinds,
            inbreeding: Vec::with_capacity(genotypes),
            own: Vec::with_capacity(genotypes),
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.kind.len()
    }

    /// Every number of a genotype.
    pub(crate) fn all(&self) -> std::ops::Range<u32> {
        0..self.count()
    }

    pub(crate) fn count(&self) -> u32 {
        // Counts of records are checked to fit 32 bits before anything is numbered.
        u32::try_from(self.kind.len()).unwrap_or(u32::MAX)
    }

    /// Appends a genotype with its seed parents and its pollen parents; inbreeding is to be worked out.
    pub(crate) fn push(&mut self, kind: u32, parents: [&[Edge]; 2]) {
        for edges in parents {
            self.edges.extend_from_slice(edges);
            // No more edges than 32 bits number: checked when records are read.
            self.start.push(u32::try_from(self.edges.len()).unwrap_or(u32::MAX));
        }
        self.kind.push(kind);
        self.inbreeding.push(0.0);
        self.own.push(0.0);
    }

    pub(crate) fn kind(&self, at: u32) -> &Kind {
        self.kinds.get(self.kind[at as usize])
    }

    /// All parents.
    pub(crate) fn edges(&self, at: u32) -> &[Edge] {
        let at = 2 * at as usize;
        &self.edges[self.start[at] as usize..self.start[at + 2] as usize]
    }

    /// Seed parents and pollen parents.
    pub(crate) fn sides(&self, at: u32) -> [&[Edge]; 2] {
        let at = 2 * at as usize;
        let [from, mid, to] = [self.start[at], self.start[at + 1], self.start[at + 2]].map(|x| x as usize);
        [&self.edges[from..mid], &self.edges[mid..to]]
    }

    pub(crate) fn edge_count(&self) -> usize {
        self.edges.len()
    }

    /// Kinship with itself.
    pub(crate) fn self_kinship(&self, at: u32) -> f64 {
        self_kinship(self.kind(at).sets(), self.inbreeding[at as usize])
    }

    /// Inbreeding and `d` from the kinship of its parents (asked of distinct genotypes).
    pub(crate) fn evaluate(&self, at: u32, kinship: impl Fn(u32, u32) -> f64) -> (f64, f64) {
        let kind = self.kind(at);
        let sides = self.sides(at);
        let f = self.offspring_inbreeding(kind, sides, &kinship);
        let both = |a: u32, b: u32| if a == b { self.self_kinship(a) } else { kinship(a, b) };
        let mut explained = 0.0;
        for (nth, a) in self.edges(at).iter().enumerate() {
            explained += a.share * a.share * self.self_kinship(a.genotype);
            for b in &self.edges(at)[..nth] {
                explained += 2.0 * a.share * b.share * both(a.genotype, b.genotype);
            }
        }
        (f, self_kinship(kind.sets(), f) - explained)
    }

    /// Inbreeding of an individual made of these gametes of these parents (R. J. Kerr and others, Theoretical
    /// and Applied Genetics 124, 2012, 1271-1282; M. G. Hamilton, R. J. Kerr, ibidem 131, 2018, 851-860).
    pub(crate) fn offspring_inbreeding(
        &self,
        kind: &Kind,
        sides: [&[Edge]; 2],
        kinship: impl Fn(u32, u32) -> f64,
    ) -> f64 {
        let k = f64::from(kind.sets());
        if kind.sets() < 2 {
            return 0.0;
        }
        let [seed, pollen] = kind.gametes;
        if sides.iter().all(|side| side.is_empty()) {
            return founder_inbreeding(k, seed.lambda + pollen.lambda);
        }
        let mut across = 0.0;
        for a in sides[0] {
            for b in sides[1] {
                let phi = if a.genotype == b.genotype {
                    self.self_kinship(a.genotype)
                } else {
                    kinship(a.genotype, b.genotype)
                };
                across += a.share * b.share * phi;
            }
        }
        let within: f64 = (0..2).map(|side| self.within(kind, side, sides[side]).iter().sum::<f64>()).sum();
        (within + 2.0 * k * k * across) / (k * (k - 1.0))
    }

    /// What the pairs of homologues within one gamete add to `k (k - 1) F`: by its own meiosis, and by the
    /// inbreeding of the parent.
    pub(crate) fn within(&self, kind: &Kind, side: usize, parents: &[Edge]) -> [f64; 2] {
        let Brings { sets, lambda } = kind.gametes[side];
        if sets < 2 {
            return [0.0; 2];
        }
        let tau = f64::from(sets);
        let pairs = tau * (tau - 1.0);
        let mut of_parent = 0.0;
        let mut unknown = 1.0;
        for edge in parents {
            let part = edge.share * f64::from(kind.sets()) / tau;
            unknown -= part;
            let haploid = self.kind(edge.genotype).sets() == 1;
            // Whatever a single set gives twice is the same.
            of_parent += part * if haploid { 1.0 } else { self.inbreeding[edge.genotype as usize] };
        }
        if unknown > 1e-9 {
            // A stranger made of two such gametes.
            of_parent += unknown * founder_inbreeding(2.0 * tau, 2.0 * lambda);
        }
        [pairs * lambda, pairs * (1.0 - lambda) * of_parent]
    }
}

/// Inbreeding of a founder with `k` sets in equilibrium under the double reduction of its two gametes.
fn founder_inbreeding(k: f64, lambdas: f64) -> f64 {
    let gained = lambdas * (k / 2.0 - 1.0);
    gained / (k + gained)
}

pub(crate) fn self_kinship(sets: u8, inbreeding: f64) -> f64 {
    let k = f64::from(sets);
    (1.0 + (k - 1.0) * inbreeding) / k
}
