//! Iterated local search: columns make room for better ones.
//!
//! A plan is improved by taking one column out and running in its place whatever fits best (a swap of one for
//! several), and, where no such swap helps, by running a column through a row that is paid for but not used up:
//! what stands in its way is taken out, the holes that leaves are filled, and the whole is taken back unless it
//! is at least as good. So a hole wanders until it meets another. All aims are weighed at once, each so heavy
//! that a few columns of the next cannot outweigh a unit of it.
//!
//! # Source
//!
//! D. V. Andrade, M. G. C. Resende, R. F. Werneck, "Fast local search for the maximum independent set problem",
//! Journal of Heuristics 18(4), 2012, 525-547 (swaps of one for two, and a forced vertex to leave a local
//! optimum), here for rows that hold several.
//!
//! # Cost
//!
//! Columns looked at, counted; choices come from a generator with a fixed seed, so repeating it gives the same.
#![allow(clippy::indexing_slicing, reason = "columns and rows are numbered densely by LocalSearch::new")]

use storksbill_numerics::split_mix::SplitMix;

use crate::packing::Packing;

/// Columns tried first in a place that was freed.
const FIRST: usize = 8;
/// Columns looked at through one row.
const LOOK: usize = 120;
/// Times all rows worth filling are gone through in vain before the search ends.
const IDLE: usize = 400;
/// Columns looked at count as one unit of [`crate::Work::search`] in so many.
const LOOKS: u64 = 64;

/// A plan under improvement. Columns are numbered anew, in the order they were handed in.
pub(crate) struct LocalSearch<'a> {
    packing: &'a Packing,
    columns: &'a [usize],
    values: Vec<i64>,
    through: Table,
    /// Columns that need what a link holds.
    needing: Table,
    runs: Vec<u16>,
    used: Vec<u16>,
    slack: Vec<i32>,
    /// By row: the columns that run through it, each once.
    running: Vec<Vec<u32>>,
    /// By link: columns that run on what it holds, each once.
    on_link: Vec<Vec<u32>>,
    /// By column: how many of its rows are full.
    blocked: Vec<u8>,
    value: i64,
    journal: Vec<(u32, bool)>,
    seen: Vec<u32>,
    stamp: u32,
    looks: u64,
    random: SplitMix,
}

/// Lists of columns, by row or link.
struct Table {
    start: Vec<u32>,
    columns: Vec<u32>,
}

impl Table {
    fn new(length: usize, entries: impl Fn(&mut dyn FnMut(u32, u32))) -> Self {
        let mut start = vec![0u32; length + 1];
        entries(&mut |at, _| start[at as usize + 1] += 1);
        for at in 0..length {
            start[at + 1] += start[at];
        }
        let mut next = start.clone();
        let mut columns = vec![0; start[length] as usize];
        entries(&mut |at, column| {
            columns[next[at as usize] as usize] = column;
            next[at as usize] += 1;
        });
        Self { start, columns }
    }

    fn of(&self, at: u32) -> std::ops::Range<usize> {
        self.start[at as usize] as usize..self.start[at as usize + 1] as usize
    }
}

impl<'a> LocalSearch<'a> {
    /// Starts from `runs`; all that run must be among `columns`, which are best in this order. `values` say what
    /// each column of the packing is worth.
    pub(crate) fn new(packing: &'a Packing, columns: &'a [usize], values: &[i64], runs: &[u16]) -> Self {
        let numbered = || (0u32..).zip(columns);
        let through = Table::new(packing.capacity.len(), |entry| {
            for (at, &column) in numbered() {
                for &row in packing.rows(column) {
                    entry(row, at);
                }
            }
        });
        let needing = Table::new(packing.links, |entry| {
            for (at, &column) in numbered() {
                for &(link, _) in packing.linked(column).iter().filter(|&&(_, sign)| sign < 0) {
                    entry(link, at);
                }
            }
        });
        let mut search = Self {
            packing,
            columns,
            values: columns.iter().map(|&column| values[column]).collect(),
            through,
            needing,
            runs: vec![0; columns.len()],
            used: vec![0; packing.capacity.len()],
            slack: packing.slack(runs),
            running: vec![Vec::new(); packing.capacity.len()],
            on_link: vec![Vec::new(); packing.links],
            blocked: vec![0; columns.len()],
            value: 0,
            journal: Vec::new(),
            seen: vec![0; columns.len()],
            stamp: 0,
            looks: 0,
            random: SplitMix(0),
        };
        for (row, &room) in (0u32..).zip(&packing.capacity) {
            if room == 0 {
                search.fill_row(row, 1);
            }
        }
        search.slack.fill(0);
        // In canonical order every column comes after those that fill its links.
        let mut order: Vec<(usize, u32)> = numbered().map(|(at, &column)| (column, at)).collect();
        order.sort_unstable();
        for (column, at) in order {
            for _ in 0..runs[column] {
                search.add(at);
            }
        }
        search.journal.clear();
        search
    }

    /// Fills what is open and swaps one for several until that helps no more, or `work` is spent.
    pub(crate) fn settle(&mut self, work: u64) {
        let limit = self.looks.saturating_add(work.saturating_mul(LOOKS));
        let all: Vec<u32> = self.numbered(|_| true);
        self.fill(&all);
        for column in all {
            if self.runs[column as usize] > 0 && self.looks < limit {
                self.swap(column);
            }
        }
        self.journal.clear();
    }

    /// Moves holes about until `work` is spent, nothing was gained for long, or `stop` says so. `priced` are rows
    /// worth filling.
    pub(crate) fn wander(&mut self, priced: &[u32], work: u64, stop: &mut dyn FnMut() -> bool) {
        let limit = self.looks.saturating_add(work.saturating_mul(LOOKS));
        let mut idle = 0;
        let mut at = 0;
        while self.looks < limit && idle < IDLE * priced.len() && !stop() {
            at = (at + 1) % priced.len();
            idle += 1;
            self.looks += 1;
            let row = priced[at];
            if self.used[row as usize] < self.packing.capacity[row as usize] {
                let before = self.value;
                self.force(row);
                if self.value > before {
                    idle = 0;
                }
            }
        }
    }

    /// The work done so far.
    pub(crate) fn work(&self) -> u64 {
        self.looks.div_ceil(LOOKS)
    }

    /// The best that running one of these columns, whatever is in its way, makes of the plan, and which of them
    /// that is; the plan stays as it is. `None` where none can run.
    pub(crate) fn best_of(&mut self, among: &[u32]) -> Option<(i64, u32)> {
        self.journal.clear();
        let mut best: Option<(i64, u32)> = None;
        for &at in among {
            if self.run(at) && best.is_none_or(|(value, _)| self.value > value) {
                best = Some((self.value, at));
            }
            self.undo(0);
        }
        best
    }

    /// Runs a column once more: takes out what is in its way and fills the holes. False where it cannot run.
    pub(crate) fn run(&mut self, at: u32) -> bool {
        let mark = self.journal.len();
        self.clear_for(at);
        if !self.fits(at) {
            self.undo(mark);
            return false;
        }
        self.add(at);
        self.refill(mark);
        true
    }

    pub(crate) fn value(&self) -> i64 {
        self.value
    }

    /// Of these places among the columns of the packing, those in this search.
    pub(crate) fn numbered(&self, wanted: impl Fn(usize) -> bool) -> Vec<u32> {
        (0u32..).zip(self.columns).filter(|&(_, &column)| wanted(column)).map(|(at, _)| at).collect()
    }

    /// How often each column of the packing runs.
    pub(crate) fn runs(&self) -> Vec<u16> {
        let mut runs = vec![0; self.packing.len()];
        for (&column, &times) in self.columns.iter().zip(&self.runs) {
            runs[column] = times;
        }
        runs
    }

    fn fill_row(&mut self, row: u32, by: i8) {
        let range = self.through.of(row);
        self.looks += range.len() as u64;
        for at in range {
            let blocked = &mut self.blocked[self.through.columns[at] as usize];
            *blocked = blocked.wrapping_add_signed(by);
        }
    }

    fn fits(&self, at: u32) -> bool {
        self.blocked[at as usize] == 0
            && self
                .packing
                .linked(self.columns[at as usize])
                .iter()
                .all(|&(link, sign)| sign > 0 || self.slack[link as usize] > 0)
    }

    fn add(&mut self, at: u32) {
        let column = self.columns[at as usize];
        let packing = self.packing;
        self.runs[at as usize] += 1;
        let first = self.runs[at as usize] == 1;
        for &row in packing.rows(column) {
            self.used[row as usize] += 1;
            if self.used[row as usize] == packing.capacity[row as usize] {
                self.fill_row(row, 1);
            }
            if first {
                self.running[row as usize].push(at);
            }
        }
        for &(link, sign) in packing.linked(column) {
            self.slack[link as usize] += i32::from(sign);
            if first && sign < 0 {
                self.on_link[link as usize].push(at);
            }
        }
        self.value += self.values[at as usize];
        self.journal.push((at, true));
    }

    /// Takes out one run, and whatever needs what it brought.
    fn remove(&mut self, at: u32) {
        let column = self.columns[at as usize];
        let packing = self.packing;
        self.runs[at as usize] -= 1;
        let last = self.runs[at as usize] == 0;
        for &row in packing.rows(column) {
            if self.used[row as usize] == packing.capacity[row as usize] {
                self.fill_row(row, -1);
            }
            self.used[row as usize] -= 1;
            if last {
                self.running[row as usize].retain(|&other| other != at);
            }
        }
        self.value -= self.values[at as usize];
        self.journal.push((at, false));
        for &(link, sign) in packing.linked(column) {
            self.slack[link as usize] -= i32::from(sign);
            if last && sign < 0 {
                self.on_link[link as usize].retain(|&other| other != at);
            }
        }
        for &(link, sign) in packing.linked(column) {
            while sign > 0
                && self.slack[link as usize] < 0
                && let Some(&user) = self.on_link[link as usize].last()
            {
                self.remove(user);
            }
        }
    }

    /// Takes back everything after this place of the journal.
    fn undo(&mut self, mark: usize) {
        while self.journal.len() > mark {
            let Some((at, added)) = self.journal.pop() else { return };
            if added {
                // What needs it was added later, so it is gone already.
                self.remove(at);
            } else {
                self.add(at);
            }
            self.journal.pop();
        }
    }

    /// Runs these as often as they fit, in this order.
    fn fill(&mut self, order: &[u32]) {
        self.looks += order.len() as u64;
        for &at in order {
            while self.fits(at) {
                self.add(at);
            }
        }
    }

    /// What fits into the room that was changed since this place of the journal, best first.
    fn around(&mut self, mark: usize) -> Vec<u32> {
        self.stamp += 1;
        let mut found = Vec::new();
        let packing = self.packing;
        for place in mark..self.journal.len() {
            let (at, added) = self.journal[place];
            let column = self.columns[at as usize];
            if added {
                for &(link, _) in packing.linked(column).iter().filter(|&&(_, sign)| sign > 0) {
                    if self.slack[link as usize] > 0 {
                        let range = self.needing.of(link);
                        self.gather(range, true, &mut found);
                    }
                }
            } else {
                for &row in packing.rows(column) {
                    if self.used[row as usize] < packing.capacity[row as usize] {
                        let range = self.through.of(row);
                        self.gather(range, false, &mut found);
                    }
                }
            }
        }
        found.sort_unstable();
        found
    }

    fn gather(&mut self, range: std::ops::Range<usize>, needing: bool, found: &mut Vec<u32>) {
        for place in range.take(LOOK) {
            self.looks += 1;
            let at = if needing { self.needing.columns[place] } else { self.through.columns[place] };
            if self.seen[at as usize] != self.stamp && self.fits(at) {
                self.seen[at as usize] = self.stamp;
                found.push(at);
            }
        }
    }

    /// Fills the room that was changed since this place of the journal, trying several ways to begin.
    fn refill(&mut self, mark: usize) {
        let found = self.around(mark);
        let open = self.journal.len();
        let mut best: Option<(i64, usize)> = None;
        for first in 0..found.len().min(FIRST) {
            self.add(found[first]);
            self.fill(&found);
            if best.is_none_or(|(value, _)| self.value > value) {
                best = Some((self.value, first));
            }
            self.undo(open);
        }
        if let Some((_, first)) = best {
            self.add(found[first]);
            self.fill(&found);
            // What was added may carry more, and that again.
            let mut last = open;
            while self.packing.links > 0 && self.journal.len() > last {
                let more = self.around(last);
                last = self.journal.len();
                self.fill(&more);
            }
        }
    }

    /// One column out, others in, if that is better.
    fn swap(&mut self, at: u32) -> bool {
        let (mark, before) = (self.journal.len(), self.value);
        self.remove(at);
        self.refill(mark);
        if self.value <= before {
            self.undo(mark);
            return false;
        }
        true
    }

    /// Runs something through a row that has room, whatever is in its way, and keeps it if nothing is lost.
    fn force(&mut self, row: u32) {
        let range = self.through.of(row);
        if range.is_empty() {
            return;
        }
        self.journal.clear();
        let before = self.value;
        // The first ones rather than the last.
        let pick = self.random.below(range.len()).min(self.random.below(range.len()));
        let at = self.through.columns[range.start + pick];
        if self.run(at) && self.value < before {
            self.undo(0);
        }
    }

    /// Takes out what is in the way of a column, the least worth first.
    fn clear_for(&mut self, at: u32) {
        let packing = self.packing;
        for &row in packing.rows(self.columns[at as usize]) {
            if self.used[row as usize] >= packing.capacity[row as usize] {
                let count = self.running[row as usize].len();
                if count == 0 {
                    return;
                }
                let turn = self.random.below(count);
                let others = &self.running[row as usize];
                let least = (0..count)
                    .map(|place| others[(place + turn) % count])
                    .min_by_key(|&other| self.values[other as usize]);
                if let Some(other) = least {
                    self.remove(other);
                }
            }
        }
    }
}
