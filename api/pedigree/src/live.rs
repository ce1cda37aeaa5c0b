//! Inbreeding of everybody by a table of those who still become parents.
//!
//! The tabular method (L. N. Emik, C. E. Terrill, "Systematic procedures for calculating inbreeding
//! coefficients", Journal of Heredity 40, 1949, 51-55) kept to the rows in use: generation by generation, a
//! genotype's row is dropped behind its last child.
#![allow(clippy::indexing_slicing, reason = "slots and genotypes are numbered densely")]

use crate::genotypes::{Genotypes, self_kinship};

/// Rows are written eight at a time: their columns are then a cache line of eight numbers.
const BATCH: usize = 8;
/// The largest table, in numbers: 240 MB.
const LARGEST: usize = 30_000_000;
/// A genotype visited by a trace takes about as long as so many kinships written into the table.
const VISIT: u64 = 4;

const NOWHERE: u32 = u32::MAX;

/// Which rows are kept until when.
pub(crate) struct Plan {
    /// By genotype: the generation of its last child; `NOWHERE` without children.
    last: Vec<u32>,
    /// Slots of the table.
    width: usize,
    /// Kinships written.
    written: u64,
}

impl Plan {
    /// `None` where the table would be too large.
    pub(crate) fn of(genotypes: &Genotypes, generations: &[u32]) -> Option<Self> {
        let mut last = vec![NOWHERE; genotypes.len()];
        for (number, generation) in (0..).zip(generations.windows(2)) {
            for at in generation[0]..generation[1] {
                for edge in genotypes.edges(at) {
                    last[edge.genotype as usize] = number;
                }
            }
        }
        let mut slots = Slots::new(generations.len());
        let mut kept = 0u64;
        for (number, generation) in (0..).zip(generations.windows(2)) {
            for batch in batches(&last, generation).chunks(BATCH) {
                slots.take(batch_end(&last, batch));
                kept += batch.len() as u64;
            }
            slots.release(number);
        }
        let width = slots.most * BATCH;
        let fits = width.checked_mul(width).is_some_and(|numbers| numbers <= LARGEST);
        fits.then_some(Self { last, width, written: kept * width as u64 })
    }

    /// How many visits of traces would take as long.
    pub(crate) fn equal_visits(&self) -> u64 {
        self.written / VISIT
    }

    /// `F` and `d` of the wanted genotypes; returns how many kinships were written.
    pub(crate) fn evaluate(
        &self,
        genotypes: &mut Genotypes,
        generations: &[u32],
        wanted: &impl Fn(u32) -> bool,
    ) -> u64 {
        let width = self.width;
        let mut table = vec![0.0; width * width];
        let mut slot = vec![NOWHERE; genotypes.len()];
        let mut slots = Slots::new(generations.len());
        let mut rows = vec![0.0; BATCH * width];
        for (number, generation) in (0..).zip(generations.windows(2)) {
            for at in (generation[0]..generation[1]).filter(|&at| wanted(at)) {
                let place = |at: u32| slot[at as usize] as usize;
                let (f, own) = genotypes.evaluate(at, |a, b| table[place(a) * width + place(b)]);
                genotypes.inbreeding[at as usize] = f;
                genotypes.own[at as usize] = own;
            }
            for batch in batches(&self.last, generation).chunks(BATCH) {
                let base = slots.take(batch_end(&self.last, batch)) * BATCH;
                self.fill(genotypes, batch, base, &slot, &mut rows, &table);
                for (nth, &at) in batch.iter().enumerate() {
                    // The width of the table is far below 32 bits.
                    slot[at as usize] = u32::try_from(base + nth).unwrap_or(NOWHERE);
                }
                for (other, line) in table.chunks_exact_mut(width).enumerate() {
                    for (nth, value) in line[base..base + BATCH].iter_mut().enumerate() {
                        *value = rows[nth * width + other];
                    }
                }
                table[base * width..(base + BATCH) * width].copy_from_slice(&rows);
            }
            slots.release(number);
        }
        self.written
    }

    /// The rows of a batch: mixtures of the rows of their parents, who are all older than the batch.
    fn fill(
        &self,
        genotypes: &Genotypes,
        batch: &[u32],
        base: usize,
        slot: &[u32],
        rows: &mut [f64],
        table: &[f64],
    ) {
        let width = self.width;
        rows.fill(0.0);
        for (&at, row) in batch.iter().zip(rows.chunks_exact_mut(width)) {
            for edge in genotypes.edges(at) {
                let from = slot[edge.genotype as usize] as usize * width;
                for (value, parent) in row.iter_mut().zip(&table[from..from + width]) {
                    *value += edge.share * parent;
                }
            }
        }
        // What those who had these slots left there says nothing of the batch.
        for (nth, &at) in batch.iter().enumerate() {
            for other in 0..nth {
                let phi: f64 = genotypes
                    .edges(at)
                    .iter()
                    .map(|edge| edge.share * rows[other * width + slot[edge.genotype as usize] as usize])
                    .sum();
                rows[nth * width + base + other] = phi;
                rows[other * width + base + nth] = phi;
            }
            rows[nth * width + base + nth] =
                self_kinship(genotypes.kind(at).sets(), genotypes.inbreeding[at as usize]);
        }
    }
}

/// Those of a generation who become parents, by the generation of their last child.
fn batches(last: &[u32], generation: &[u32]) -> Vec<u32> {
    let mut kept: Vec<u32> =
        (generation[0]..generation[1]).filter(|&at| last[at as usize] != NOWHERE).collect();
    kept.sort_unstable_by_key(|&at| (last[at as usize], at));
    kept
}

fn batch_end(last: &[u32], batch: &[u32]) -> usize {
    batch.last().map_or(0, |&at| last[at as usize] as usize)
}

/// Batches of slots, used again when all in them are done with.
struct Slots {
    free: Vec<usize>,
    /// By generation: what is free behind it.
    ending: Vec<Vec<usize>>,
    most: usize,
}

impl Slots {
    fn new(generations: usize) -> Self {
        Self { free: Vec::new(), ending: vec![Vec::new(); generations], most: 0 }
    }

    fn take(&mut self, until: usize) -> usize {
        let batch = self.free.pop().unwrap_or_else(|| {
            self.most += 1;
            self.most - 1
        });
        self.ending[until].push(batch);
        batch
    }

    fn release(&mut self, generation: usize) {
        self.free.append(&mut self.ending[generation]);
    }
}
