//! The integer program of one level: prices by row generation, then branch and bound on the rings the prices
//! leave open.
#![allow(clippy::indexing_slicing, reason = "columns and rows are numbered densely by Packing::new")]

use microlp::{
    ComparisonOp, OptimizationDirection, Problem, Solution, SolveOptions, SolveOutcome, TerminationReason,
    Variable,
};

use crate::bound::SCALE;

/// A ring as a column: its rows, how often it can run, what it adds.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    pub(crate) rows: Vec<u32>,
    pub(crate) most: u16,
    pub(crate) length: i64,
    pub(crate) weight: i64,
}

/// Columns under shared capacities.
#[derive(Debug)]
pub(crate) struct Packing {
    pub(crate) columns: Vec<Column>,
    capacity: Vec<u16>,
    /// Rows with columns that no other row makes superfluous.
    live: Vec<bool>,
}

/// `sum coefficient(c) x(c) >= least`.
#[derive(Debug, Clone)]
pub(crate) struct AtLeast {
    pub(crate) coefficients: Vec<i64>,
    pub(crate) least: i64,
}

/// How often each column runs, and whether the search was finished.
#[derive(Debug)]
pub(crate) struct Found {
    pub(crate) runs: Vec<u16>,
    pub(crate) finished: bool,
    pub(crate) nodes: u64,
}

/// Prices of the rows, the price of the floor last, and the columns that shaped them.
#[derive(Debug)]
pub(crate) struct Prices {
    pub(crate) scaled: Vec<u64>,
    pub(crate) active: Vec<usize>,
}

const ROUNDS: u32 = 40;
/// Violated columns taken up for each row in one round.
const SHARE: u8 = 3;
/// Up to so many new columns are added to a solved program; more start it afresh, which is then quicker.
const ADDED_ONE_BY_ONE: usize = 60;
const VIOLATION: f64 = 1e-6;

impl Packing {
    /// `owner[i]` is a row through which every column of row `i` passes too (`i` itself for none): row `i` is
    /// superfluous when the owner's capacity is no larger.
    pub(crate) fn new(columns: Vec<Column>, capacity: Vec<u16>, owner: &[usize]) -> Self {
        let mut live = vec![false; capacity.len()];
        for row in columns.iter().flat_map(|column| column.rows.iter().map(|&row| row as usize)) {
            live[row] = owner[row] == row || capacity[owner[row]] > capacity[row];
        }
        Self { columns, capacity, live }
    }

    pub(crate) fn total(runs: &[u16], gains: &[i64]) -> i64 {
        runs.iter().zip(gains).map(|(&runs, &gain)| i64::from(runs) * gain).sum()
    }

    fn fits(&self, runs: &[u16]) -> bool {
        let mut used = vec![0u64; self.capacity.len()];
        for (column, &runs) in self.columns.iter().zip(runs) {
            for &row in &column.rows {
                used[row as usize] += u64::from(runs);
            }
        }
        used.iter().zip(&self.capacity).all(|(&used, &room)| used <= u64::from(room))
    }

    /// How often `column` could still run beside `runs`, at most.
    pub(crate) fn room(&self, used: &[u16], column: usize) -> u16 {
        let column = &self.columns[column];
        column
            .rows
            .iter()
            .map(|&row| self.capacity[row as usize].saturating_sub(used[row as usize]))
            .min()
            .unwrap_or(0)
    }

    pub(crate) fn take(&self, used: &mut [u16], column: usize, runs: u16) {
        for &row in &self.columns[column].rows {
            used[row as usize] = used[row as usize].saturating_add(runs);
        }
    }

    fn used(&self, runs: &[u16]) -> Vec<u16> {
        let mut used = self.unused();
        for (column, &runs) in runs.iter().enumerate().filter(|&(_, &runs)| runs > 0) {
            self.take(&mut used, column, runs);
        }
        used
    }

    pub(crate) fn unused(&self) -> Vec<u16> {
        vec![0; self.capacity.len()]
    }

    /// The reduced gain of a column at scaled prices; the floor's price is the last.
    pub(crate) fn reduced(&self, column: usize, gain: i64, prices: &[u64]) -> i128 {
        let column = &self.columns[column];
        let floor = prices.last().copied().unwrap_or(0);
        let paid: i128 = column.rows.iter().map(|&row| i128::from(prices[row as usize])).sum();
        i128::from(gain) * i128::from(SCALE) - paid + i128::from(column.length) * i128::from(floor)
    }

    /// Runs columns beside `runs` one after another, the dearest at these prices first.
    pub(crate) fn fill(&self, runs: &mut [u16], gains: &[i64], prices: &[u64]) {
        let mut order: Vec<usize> = (0..self.columns.len()).collect();
        order.sort_by_cached_key(|&column| {
            (-self.reduced(column, gains[column], prices), -gains[column], column)
        });
        let mut used = self.used(runs);
        for column in order {
            let room = self.room(&used, column);
            self.take(&mut used, column, room);
            runs[column] += room;
        }
    }

    /// Rounds the linear program over these columns down to a plan: what runs (nearly) whole is settled, else
    /// the largest part, and the rest is solved again. May end short of the floor, never over a capacity.
    pub(crate) fn dive(&self, columns: &[usize], gains: &[i64], floors: &[AtLeast]) -> Vec<u16> {
        let mut runs = vec![0u16; self.columns.len()];
        let mut used = self.unused();
        loop {
            let Some(parts) = self.relaxed(columns, gains, floors, &runs, &used) else { return runs };
            let nearly: Vec<(usize, u16)> = parts
                .iter()
                .map(|&(column, part)| (column, whole((part - 0.4).max(0.0))))
                .filter(|&(_, times)| times > 0)
                .collect();
            let settled = if nearly.is_empty() {
                let most = parts.iter().max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
                match most {
                    Some(&(column, part)) if part > 1e-6 => vec![(column, 1)],
                    _ => return runs,
                }
            } else {
                nearly
            };
            for (column, times) in settled {
                let times = times.min(self.room(&used, column));
                self.take(&mut used, column, times);
                runs[column] += times;
            }
        }
    }

    /// The linear program over the columns that still fit beside `runs`; `None` when there are none, or no
    /// solution.
    fn relaxed(
        &self,
        columns: &[usize],
        gains: &[i64],
        floors: &[AtLeast],
        runs: &[u16],
        used: &[u16],
    ) -> Option<Vec<(usize, f64)>> {
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let mut rows: Vec<Vec<(Variable, f64)>> = vec![Vec::new(); self.capacity.len()];
        let mut vars = Vec::new();
        for &column in columns {
            let room = self.room(used, column);
            if room == 0 {
                continue;
            }
            let var = problem.add_var(gains[column] as f64, (0.0, f64::from(room)));
            vars.push((column, var));
            for &row in self.columns[column].rows.iter().filter(|&&row| self.live[row as usize]) {
                rows[row as usize].push((var, 1.0));
            }
        }
        if vars.is_empty() {
            return None;
        }
        for (row, terms) in rows.into_iter().enumerate().filter(|(_, terms)| terms.len() > 1) {
            problem.add_constraint(terms, ComparisonOp::Le, f64::from(self.capacity[row] - used[row]));
        }
        for floor in floors {
            let least = floor.least - Self::total(runs, &floor.coefficients);
            if least > 0 {
                let term = |&(column, var): &(usize, Variable)| (var, floor.coefficients[column] as f64);
                problem.add_constraint(
                    vars.iter().map(term).collect::<Vec<_>>(),
                    ComparisonOp::Ge,
                    least as f64,
                );
            }
        }
        let solution = problem.solve().ok()?.into_solution().ok()?;
        Some(vars.into_iter().map(|(column, var)| (column, solution.var_value(var))).collect())
    }

    /// The dual linear program by row generation: only columns that were violated at some prices enter it.
    /// `keep` names columns that must be in it from the start (those of a plan that reaches the floor, without
    /// which it would be unbounded). Any failure of the solver ends it early with weaker, still valid prices.
    pub(crate) fn prices(&self, gains: &[i64], floor: i64, keep: &[usize]) -> Prices {
        let mut inside = vec![false; self.columns.len()];
        for &column in keep {
            inside[column] = true;
        }
        let mut by_gain: Vec<usize> = (0..self.columns.len()).collect();
        by_gain.sort_by_key(|&column| (-gains[column], column));
        self.take_up(&by_gain, &mut inside, SHARE);
        let mut prices = self.plain_prices(gains);
        let mut dual = None;
        let mut new: Vec<usize> = (0..self.columns.len()).filter(|&column| inside[column]).collect();
        for _ in 0..ROUNDS {
            dual = match dual {
                Some(dual) if new.len() <= ADDED_ONE_BY_ONE => self.extended(dual, &new, gains),
                _ => self.dual(gains, floor, &inside),
            };
            let Some(found) = &dual else { break };
            prices = found.prices();
            let mut violated: Vec<(f64, usize)> = Vec::new();
            for (at, column) in self.columns.iter().enumerate() {
                let paid: f64 = column.rows.iter().map(|&row| prices[row as usize]).sum();
                let excess = gains[at] as f64 - paid + column.length as f64 * prices[self.capacity.len()];
                if excess > VIOLATION && !inside[at] {
                    violated.push((excess, at));
                }
            }
            if violated.is_empty() {
                break;
            }
            violated.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            let order: Vec<usize> = violated.into_iter().map(|(_, column)| column).collect();
            new = self.take_up(&order, &mut inside, SHARE);
        }
        let mut scaled: Vec<u64> = prices.iter().map(|&price| up(price)).collect();
        if let (Some(last), Some(&price)) = (scaled.last_mut(), prices.last()) {
            // A floor's price loosens every ring: rounded down, so that no tight ring turns profitable.
            *last = down(price);
        }
        let active = (0..self.columns.len()).filter(|&column| inside[column]).collect();
        Prices { scaled, active }
    }

    /// Marks columns in this order while one of their live rows has fewer than `share` newly marked ones;
    /// returns those.
    fn take_up(&self, order: &[usize], inside: &mut [bool], share: u8) -> Vec<usize> {
        let mut new = Vec::new();
        let mut count = vec![0u8; self.capacity.len()];
        for &column in order {
            let rows = &self.columns[column].rows;
            let wanted = rows.iter().any(|&row| self.live[row as usize] && count[row as usize] < share);
            if wanted && !inside[column] {
                inside[column] = true;
                new.push(column);
                for &row in rows {
                    count[row as usize] = count[row as usize].saturating_add(1);
                }
            }
        }
        new
    }

    /// Prices that need no solver: on every row a ring's share of its gain, so that every ring is paid for.
    fn plain_prices(&self, gains: &[i64]) -> Vec<f64> {
        let mut prices = vec![0.0f64; self.capacity.len() + 1];
        for (column, &gain) in self.columns.iter().zip(gains) {
            for &row in &column.rows {
                prices[row as usize] =
                    prices[row as usize].max(gain as f64 / column.rows.len().max(1) as f64);
            }
        }
        prices
    }

    fn dual(&self, gains: &[i64], floor: i64, inside: &[bool]) -> Option<Dual> {
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let rows: Vec<Option<Variable>> = (0..self.capacity.len())
            .map(|row| {
                self.live[row].then(|| problem.add_var(f64::from(self.capacity[row]), (0.0, f64::INFINITY)))
            })
            .collect();
        let floor = (floor > 0).then(|| problem.add_var(-(floor as f64), (0.0, f64::INFINITY)));
        for column in (0..self.columns.len()).filter(|&column| inside[column]) {
            problem.add_constraint(self.paid(column, &rows, floor), ComparisonOp::Ge, gains[column] as f64);
        }
        let solution = problem.solve().ok()?.into_solution().ok()?;
        Some(Dual { rows, floor, solution })
    }

    /// The same program with more columns, solved on from where it stands.
    fn extended(&self, dual: Dual, new: &[usize], gains: &[i64]) -> Option<Dual> {
        let Dual { rows, floor, mut solution } = dual;
        for &column in new {
            let paid = self.paid(column, &rows, floor);
            let outcome = solution.add_constraint(paid, ComparisonOp::Ge, gains[column] as f64).ok()?;
            solution = outcome.into_solution().ok()?;
        }
        Some(Dual { rows, floor, solution })
    }

    /// What a column pays at the prices of its rows, less what the floor grants it.
    fn paid(
        &self,
        column: usize,
        rows: &[Option<Variable>],
        floor: Option<Variable>,
    ) -> Vec<(Variable, f64)> {
        let column = &self.columns[column];
        let mut terms: Vec<(Variable, f64)> =
            column.rows.iter().filter_map(|&row| rows[row as usize]).map(|var| (var, 1.0)).collect();
        terms.extend(floor.map(|var| (var, -(column.length as f64))));
        terms
    }

    /// Branch and bound over `open` columns, starting from `runs` (which stands when nothing better is met).
    /// `within[c]` are the least and most runs of an open column. Stops at the first plan that no other can
    /// beat by `step` or more. The result is rounded and verified in integers; what does not verify is dropped.
    pub(crate) fn search(
        &self,
        open: &[usize],
        within: impl Fn(usize) -> (u16, u16),
        gains: &[i64],
        floors: &[AtLeast],
        runs: &[u16],
        limits: Limits,
    ) -> Found {
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let mut vars = Vec::with_capacity(open.len());
        let mut rows: Vec<Vec<(Variable, f64)>> = vec![Vec::new(); self.capacity.len()];
        for &column in open {
            let (least, most) = within(column);
            let var = problem.add_integer_var(gains[column] as f64, (i32::from(least), i32::from(most)));
            vars.push((var, runs[column]));
            for &row in &self.columns[column].rows {
                if self.live[row as usize] {
                    rows[row as usize].push((var, 1.0));
                }
            }
        }
        for (row, terms) in rows.into_iter().enumerate().filter(|(_, terms)| terms.len() > 1) {
            problem.add_constraint(terms, ComparisonOp::Le, f64::from(self.capacity[row]));
        }
        for floor in floors {
            let terms: Vec<(Variable, f64)> = open
                .iter()
                .zip(&vars)
                .map(|(&column, &(var, _))| (var, floor.coefficients[column] as f64))
                .filter(|&(_, coefficient)| coefficient != 0.0)
                .collect();
            problem.add_constraint(terms, ComparisonOp::Ge, floor.least as f64);
        }
        let value = Self::total(runs, gains);
        let mut options = SolveOptions::default();
        options.node_limit = Some(limits.nodes);
        // Relative to the largest value possible, so that the gap left is always less than one step.
        options.mip_gap = 0.99 * limits.step as f64 / limits.bound.max(1) as f64;
        options.warm_start = Some(vars.iter().map(|&(var, runs)| (var, f64::from(runs))).collect());
        let unchanged = |nodes, finished| Found { runs: runs.to_vec(), finished, nodes };
        let Ok(outcome) = problem.solve_with(options) else { return unchanged(1, false) };
        let nodes = outcome.stats().nodes_solved.max(1);
        let finished = matches!(
            outcome.termination_reason(),
            TerminationReason::ProvenOptimal | TerminationReason::MipGap
        );
        let SolveOutcome::Solution(solution) = outcome else { return unchanged(nodes, false) };
        let mut better = vec![0u16; self.columns.len()];
        for (&column, &(var, _)) in open.iter().zip(&vars) {
            better[column] = whole(solution.var_value(var));
        }
        let kept = floors.iter().all(|floor| Self::total(&better, &floor.coefficients) >= floor.least);
        if !kept || !self.fits(&better) {
            return unchanged(nodes, false);
        }
        if Self::total(&better, gains) < value {
            // Cannot happen to a finished search that began at `runs`: then its claim is not trusted either.
            return unchanged(nodes, false);
        }
        Found { runs: better, finished, nodes }
    }
}

/// A solved dual program: a variable for every live row, and one for the floor.
struct Dual {
    rows: Vec<Option<Variable>>,
    floor: Option<Variable>,
    solution: Solution,
}

impl Dual {
    /// By row, the floor last; 0 for rows without a variable.
    fn prices(&self) -> Vec<f64> {
        let value = |var: &Option<Variable>| var.map_or(0.0, |var| self.solution.var_value(var).max(0.0));
        self.rows.iter().chain([&self.floor]).map(value).collect()
    }
}

/// When [`Packing::search`] stops.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Limits {
    pub(crate) nodes: u64,
    /// Values are multiples of this.
    pub(crate) step: i64,
    /// No value is larger than this.
    pub(crate) bound: i64,
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a price is finite and not negative; the cast saturates"
)]
fn up(price: f64) -> u64 {
    (price * SCALE as f64).ceil() as u64
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "as in `up`")]
fn down(price: f64) -> u64 {
    (price * SCALE as f64).floor() as u64
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the range first")]
fn whole(value: f64) -> u16 {
    value.round().clamp(0.0, f64::from(u16::MAX)) as u16
}
