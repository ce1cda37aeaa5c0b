//! Rows of `T`: what share of a genotype's genes is expected from each of its ancestors.
#![allow(clippy::indexing_slicing, reason = "genotypes are numbered densely, parents before children")]

use crate::genotypes::Genotypes;

/// A set of numbers below a bound, from which the largest is taken: 64 numbers a word, and words that tell
/// which words of the layer below are not empty.
#[derive(Debug, Default)]
pub(crate) struct Youngest {
    layers: Vec<Vec<u64>>,
}

impl Youngest {
    pub(crate) fn new(bound: usize) -> Self {
        let mut layers = Vec::new();
        let mut words = bound;
        loop {
            words = words.div_ceil(64).max(1);
            layers.push(vec![0; words]);
            if words == 1 {
                return Self { layers };
            }
        }
    }

    pub(crate) fn insert(&mut self, number: u32) {
        let mut at = number as usize;
        for layer in &mut self.layers {
            let word = &mut layer[at / 64];
            let known = *word != 0;
            *word |= 1 << (at % 64);
            if known {
                return;
            }
            at /= 64;
        }
    }

    pub(crate) fn pop(&mut self) -> Option<u32> {
        let mut at = 0;
        for layer in self.layers.iter().rev() {
            let top = layer[at].checked_ilog2()?;
            at = at * 64 + top as usize;
        }
        let number = at;
        for layer in &mut self.layers {
            let word = &mut layer[at / 64];
            *word &= !(1 << (at % 64));
            if *word != 0 {
                break;
            }
            at /= 64;
        }
        // What was put in had 32 bits.
        u32::try_from(number).ok()
    }
}

/// Shares of ancestors, zero but where one was traced.
#[derive(Debug)]
pub(crate) struct Trace {
    pub(crate) share: Vec<f64>,
    /// The traced genotypes, youngest first.
    pub(crate) ancestors: Vec<u32>,
    young: Youngest,
}

impl Trace {
    /// Scratch of zeros, which costs no time until it is touched.
    pub(crate) fn new(genotypes: &Genotypes) -> Self {
        Self {
            share: vec![0.0; genotypes.len()],
            ancestors: Vec::new(),
            young: Youngest::new(genotypes.len()),
        }
    }

    /// Adds parts of a mixture that is to be traced.
    pub(crate) fn add(&mut self, mixture: impl IntoIterator<Item = (u32, f64)>) {
        for (at, part) in mixture {
            self.share[at as usize] += part;
            self.young.insert(at);
        }
    }

    /// Traces a mixture of genotypes up to all their ancestors.
    pub(crate) fn up(&mut self, genotypes: &Genotypes, mixture: impl IntoIterator<Item = (u32, f64)>) {
        self.add(mixture);
        while let Some(at) = self.young.pop() {
            self.ancestors.push(at);
            let part = self.share[at as usize];
            for edge in genotypes.edges(at) {
                self.share[edge.genotype as usize] += part * edge.share;
                self.young.insert(edge.genotype);
            }
        }
    }
}

/// Kinship of two genotypes, and how many were visited.
pub(crate) fn kinship(genotypes: &Genotypes, a: u32, b: u32) -> (f64, u64) {
    let (mut of_a, mut of_b) = (Trace::new(genotypes), Trace::new(genotypes));
    of_a.up(genotypes, [(a, 1.0)]);
    of_b.up(genotypes, [(b, 1.0)]);
    let fewer = if of_a.ancestors.len() < of_b.ancestors.len() { &of_a } else { &of_b };
    // Founders first, whichever of the two was asked first.
    let phi = fewer.ancestors.iter().rev().map(|&at| {
        let at = at as usize;
        genotypes.own[at] * (of_a.share[at] * of_b.share[at])
    });
    (phi.sum(), (of_a.ancestors.len() + of_b.ancestors.len()) as u64)
}
