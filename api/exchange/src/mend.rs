//! Mending a plan piece by piece: a large neighbourhood search led by complementary slackness.
//!
//! At prices `y` the distance between bound and plan is a sum of *losses*: `y(i)` for every unit of row `i` left
//! unused, and what each running column fails to pay. Around the largest losses some columns are set free and
//! a small program decides anew which columns run there.
#![allow(clippy::indexing_slicing, reason = "columns and rows are numbered densely by Packing::new")]

use std::collections::{BTreeSet, VecDeque};

use crate::packing::{Packing, Pool, Task};
use crate::search::Limits;

/// Running columns set free at once, first and at last.
const FREED: (usize, usize) = (24, 60);
/// Columns a small program chooses from, in multiples of those set free.
const CHOICE: usize = 12;
/// Work of one small program, as [`crate::Work::search`].
const PIECE: u64 = 500_000;

/// Where a loss arises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Seed {
    Row(usize),
    Column(usize),
}

/// What mending did.
#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Mended {
    pub(crate) work: u64,
    pub(crate) pivots: u64,
    pub(crate) nodes: u64,
}

impl std::ops::AddAssign for Mended {
    fn add_assign(&mut self, more: Self) {
        self.work += more.work;
        self.pivots += more.pivots;
        self.nodes += more.nodes;
    }
}

/// Where a plan is mended.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Field<'a> {
    pub(crate) packing: &'a Packing,
    pub(crate) pool: &'a Pool,
    /// What the prices are of.
    pub(crate) priced: Task<'a>,
    pub(crate) prices: &'a [u64],
    /// The columns to choose from, nearest to paying for themselves first.
    pub(crate) near: &'a [usize],
}

/// Improves `runs` in place until `enough`, until no neighbourhood of the largest size helps, `limits.work` is
/// spent, or `stop` says so.
pub(crate) fn mend(
    field: Field,
    task: Task,
    limits: Limits,
    runs: &mut Vec<u16>,
    enough: impl Fn(&[u16]) -> bool,
    stop: &mut dyn FnMut() -> bool,
) -> Mended {
    let Field { packing, pool, priced, prices, near } = field;
    let place = Neighbours::new(packing, pool, near);
    let mut done = Mended::default();
    let mut size = FREED.0;
    let mut tried: BTreeSet<Seed> = BTreeSet::new();
    while done.work < limits.work && !enough(runs) {
        let losses = losses(packing, pool, priced, prices, runs);
        let Some(&seed) = losses.iter().map(|(_, seed)| seed).find(|seed| !tried.contains(seed)) else {
            if size >= FREED.1 {
                break;
            }
            size = (size * 3 / 2).min(FREED.1);
            tried.clear();
            continue;
        };
        if stop() {
            break;
        }
        tried.insert(seed);
        let freed = place.around(packing, runs, seed, size);
        let open = choice(packing, runs, &freed, near);
        let most = |column: usize| (0, packing.most[column]);
        let piece = Limits { work: PIECE.min(limits.work - done.work), ..limits };
        let found = packing.search(pool, &open, most, task, runs, piece, &mut || false);
        done.work += found.work.max(20_000);
        done.pivots += found.pivots;
        done.nodes += found.nodes;
        if Packing::total(&found.runs, task.gains) > Packing::total(runs, task.gains) {
            // What was near the change may now be worth another look.
            let touched: BTreeSet<u32> = open
                .iter()
                .filter(|&&at| runs[at] != found.runs[at])
                .flat_map(|&at| packing.rows(at))
                .copied()
                .collect();
            tried.retain(|seed| match *seed {
                Seed::Row(row) => !touched.contains(&u32::try_from(row).unwrap_or(u32::MAX)),
                Seed::Column(column) => !packing.rows(column).iter().any(|row| touched.contains(row)),
            });
        }
        *runs = found.runs;
    }
    done
}

/// Losses, the largest first.
fn losses(packing: &Packing, pool: &Pool, task: Task, prices: &[u64], runs: &[u16]) -> Vec<(i128, Seed)> {
    let used = packing.used(runs);
    let mut losses: Vec<(i128, Seed)> = Vec::new();
    for row in (0..used.len()).filter(|&row| pool.live[row] && prices[row] > 0) {
        let unused = packing.capacity[row].saturating_sub(used[row]);
        if unused > 0 {
            losses.push((-i128::from(prices[row]) * i128::from(unused), Seed::Row(row)));
        }
    }
    for (column, &times) in runs.iter().enumerate().filter(|&(_, &times)| times > 0) {
        let excess = packing.excess(column, task, prices);
        if excess < 0 {
            losses.push((excess * i128::from(times), Seed::Column(column)));
        }
    }
    losses.sort_unstable();
    losses
}

/// Which near columns pass through each row.
struct Neighbours<'a> {
    live: &'a [bool],
    through: Vec<Vec<usize>>,
}

impl<'a> Neighbours<'a> {
    fn new(packing: &Packing, pool: &'a Pool, near: &[usize]) -> Self {
        let mut through = vec![Vec::new(); packing.capacity.len()];
        for &column in near {
            for &row in packing.rows(column).iter().filter(|&&row| pool.live[row as usize]) {
                through[row as usize].push(column);
            }
        }
        Self { live: &pool.live, through }
    }

    /// Running columns in the way of near columns, walking outward from a seed.
    fn around(&self, packing: &Packing, runs: &[u16], seed: Seed, size: usize) -> Vec<usize> {
        let used = packing.used(runs);
        let mut running: Vec<Vec<usize>> = vec![Vec::new(); packing.capacity.len()];
        for (column, _) in runs.iter().enumerate().filter(|&(_, &times)| times > 0) {
            for &row in packing.rows(column) {
                running[row as usize].push(column);
            }
        }
        let mut freed: BTreeSet<usize> = BTreeSet::new();
        let mut rows: VecDeque<u32> = VecDeque::new();
        match seed {
            Seed::Row(row) => rows.extend(u32::try_from(row)),
            Seed::Column(column) => {
                freed.insert(column);
                rows.extend(packing.rows(column));
            }
        }
        let mut seen: BTreeSet<u32> = rows.iter().copied().collect();
        while let Some(row) = rows.pop_front() {
            for &column in self.through[row as usize].iter().take(CHOICE) {
                for &row in packing.rows(column).iter().filter(|&&row| self.live[row as usize]) {
                    if used[row as usize] >= packing.capacity[row as usize] {
                        freed.extend(running[row as usize].iter().copied());
                    }
                    if seen.insert(row) {
                        rows.push_back(row);
                    }
                }
                if freed.len() >= size {
                    return freed.into_iter().collect();
                }
            }
        }
        freed.into_iter().collect()
    }
}

/// The columns that could run once `freed` do not, the nearest of them, with `freed`; ascending.
fn choice(packing: &Packing, runs: &[u16], freed: &[usize], near: &[usize]) -> Vec<usize> {
    let mut still = runs.to_vec();
    for &column in freed {
        still[column] = 0;
    }
    let used = packing.used(&still);
    let mut open: Vec<usize> = near
        .iter()
        .copied()
        .filter(|&column| packing.room(&used, column) > 0 && still[column] == 0)
        .take(CHOICE * freed.len().max(8))
        .collect();
    open.extend(freed);
    open.sort_unstable();
    open.dedup();
    open
}
