//! Columns under shared capacities, and whole numbers of runs of each.
#![allow(clippy::indexing_slicing, reason = "columns and rows are numbered densely by Packing::new")]

use crate::bound::SCALE;
use crate::program::{Kind, Scope, number};

/// The columns a round works with, in canonical order: rings by length, members and hand-overs, then steps of
/// chains by place and hand-over, then members served.
#[derive(Debug)]
pub(crate) struct Packing {
    pub(crate) kinds: Vec<Kind>,
    /// How often each column can run at most.
    pub(crate) most: Vec<u16>,
    pub(crate) capacity: Vec<u16>,
    pub(crate) links: usize,
    row_start: Vec<u32>,
    row: Vec<u32>,
    link_start: Vec<u32>,
    link: Vec<(u32, i8)>,
}

/// `sum coefficient(c) x(c) >= least`.
#[derive(Debug, Clone)]
pub(crate) struct AtLeast {
    pub(crate) coefficients: Vec<i64>,
    pub(crate) least: i64,
}

/// What is maximised over the columns, and what is kept.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Task<'a> {
    pub(crate) gains: &'a [i64],
    pub(crate) floors: &'a [AtLeast],
}

/// Columns that can still matter, and the rows that bind them.
#[derive(Debug, Clone)]
pub(crate) struct Pool {
    /// Ascending.
    pub(crate) columns: Vec<usize>,
    /// By row: not made superfluous by another.
    pub(crate) live: Vec<bool>,
}

impl Packing {
    pub(crate) fn new(scope: &Scope, kinds: Vec<Kind>) -> Self {
        let capacity = scope.capacities();
        let (mut row_start, mut row) = (vec![0], Vec::new());
        let (mut link_start, mut link) = (vec![0], Vec::new());
        let mut most = Vec::with_capacity(kinds.len());
        for &kind in &kinds {
            let mut room = u16::MAX;
            scope.rows(kind, |at| {
                row.push(number(at));
                room = room.min(capacity[at]);
            });
            scope.linked(kind, |at, sign| link.push((number(at), sign)));
            row_start.push(number(row.len()));
            link_start.push(number(link.len()));
            most.push(room);
        }
        Self { kinds, most, capacity, links: scope.links(), row_start, row, link_start, link }
    }

    pub(crate) fn len(&self) -> usize {
        self.kinds.len()
    }

    pub(crate) fn rows(&self, column: usize) -> &[u32] {
        &self.row[self.row_start[column] as usize..self.row_start[column + 1] as usize]
    }

    pub(crate) fn linked(&self, column: usize) -> &[(u32, i8)] {
        &self.link[self.link_start[column] as usize..self.link_start[column + 1] as usize]
    }

    /// Row `i` is superfluous when another holds all columns of `i` and has no larger capacity.
    /// `O(c k^2)` for `c` columns of at most `k` rows.
    pub(crate) fn pool(&self, columns: Vec<usize>) -> Pool {
        let mut count = vec![0u32; self.capacity.len()];
        let mut above: Vec<Option<Vec<u32>>> = vec![None; self.capacity.len()];
        for &column in &columns {
            let rows = self.rows(column);
            for &row in rows {
                count[row as usize] += 1;
                match &mut above[row as usize] {
                    Some(others) => others.retain(|other| rows.contains(other)),
                    none => {
                        let tight = |other: &u32| {
                            *other != row && self.capacity[*other as usize] <= self.capacity[row as usize]
                        };
                        *none = Some(rows.iter().copied().filter(tight).collect());
                    }
                }
            }
        }
        let live = (0u32..).zip(above).map(|(row, above)| {
            let key = |at: u32| (self.capacity[at as usize], u32::MAX - count[at as usize], at);
            above.is_some_and(|above| !above.iter().any(|&other| key(other) < key(row)))
        });
        Pool { live: live.collect(), columns }
    }

    pub(crate) fn total(runs: &[u16], gains: &[i64]) -> i64 {
        runs.iter()
            .zip(gains)
            .filter(|&(&runs, _)| runs > 0)
            .map(|(&runs, &gain)| i64::from(runs) * gain)
            .sum()
    }

    /// Every capacity, link and floor is kept.
    pub(crate) fn fits(&self, runs: &[u16], floors: &[AtLeast]) -> bool {
        let mut used = vec![0u64; self.capacity.len()];
        let mut linked = vec![0i64; self.links];
        for (column, &runs) in runs.iter().enumerate().filter(|&(_, &runs)| runs > 0) {
            for &row in self.rows(column) {
                used[row as usize] += u64::from(runs);
            }
            for &(link, sign) in self.linked(column) {
                linked[link as usize] += i64::from(sign) * i64::from(runs);
            }
        }
        used.iter().zip(&self.capacity).all(|(&used, &room)| used <= u64::from(room))
            && linked.iter().all(|&sum| sum >= 0)
            && floors.iter().all(|floor| Self::total(runs, &floor.coefficients) >= floor.least)
    }

    /// How often `column` could still run beside what is used, by capacity alone.
    pub(crate) fn room(&self, used: &[u16], column: usize) -> u16 {
        let room = |&row: &u32| self.capacity[row as usize].saturating_sub(used[row as usize]);
        self.rows(column).iter().map(room).min().unwrap_or(0)
    }

    pub(crate) fn take(&self, used: &mut [u16], column: usize, runs: u16) {
        for &row in self.rows(column) {
            used[row as usize] = used[row as usize].saturating_add(runs);
        }
    }

    pub(crate) fn used(&self, runs: &[u16]) -> Vec<u16> {
        let mut used = vec![0; self.capacity.len()];
        for (column, &runs) in runs.iter().enumerate().filter(|&(_, &runs)| runs > 0) {
            self.take(&mut used, column, runs);
        }
        used
    }

    /// By link: what flows in less what flows out.
    pub(crate) fn slack(&self, runs: &[u16]) -> Vec<i32> {
        let mut slack = vec![0; self.links];
        for (column, &runs) in runs.iter().enumerate().filter(|&(_, &runs)| runs > 0) {
            for &(link, sign) in self.linked(column) {
                slack[link as usize] += i32::from(sign) * i32::from(runs);
            }
        }
        slack
    }

    /// The bracket of the certificate for a column at these prices.
    pub(crate) fn excess(&self, column: usize, task: Task, prices: &[u64]) -> i128 {
        let mut excess = i128::from(task.gains[column]) * i128::from(SCALE);
        for &row in self.rows(column) {
            excess -= i128::from(prices[row as usize]);
        }
        let links = self.capacity.len();
        for &(link, sign) in self.linked(column) {
            excess += i128::from(sign) * i128::from(prices[links + link as usize]);
        }
        for (floor, &price) in task.floors.iter().zip(&prices[links + self.links..]) {
            excess += i128::from(floor.coefficients[column]) * i128::from(price);
        }
        excess
    }

    /// Takes back what links do not allow: steps of chains that nothing reaches, members not served.
    pub(crate) fn untangle(&self, runs: &mut [u16]) {
        let mut slack = vec![0i32; self.links];
        // In this order every column comes after those that fill its links.
        for (column, runs) in runs.iter_mut().enumerate().filter(|(_, runs)| **runs > 0) {
            for &(link, _) in self.linked(column).iter().filter(|&&(_, sign)| sign < 0) {
                *runs = (*runs).min(u16::try_from(slack[link as usize]).unwrap_or(u16::MAX));
            }
            for &(link, sign) in self.linked(column) {
                slack[link as usize] += i32::from(sign) * i32::from(*runs);
            }
        }
    }

    /// Runs these columns beside `runs` one after another where capacity and links allow.
    pub(crate) fn fill(&self, runs: &mut [u16], order: &[usize]) {
        let mut used = self.used(runs);
        let mut slack = self.slack(runs);
        for &column in order {
            let mut room = self.room(&used, column);
            for &(link, _) in self.linked(column).iter().filter(|&&(_, sign)| sign < 0) {
                room = room.min(u16::try_from(slack[link as usize].max(0)).unwrap_or(u16::MAX));
            }
            if room > 0 {
                self.take(&mut used, column, room);
                for &(link, sign) in self.linked(column) {
                    slack[link as usize] += i32::from(sign) * i32::from(room);
                }
                runs[column] += room;
            }
        }
    }
}
