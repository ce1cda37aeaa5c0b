//! The linear programs: prices by row generation of the dual, and rounding the relaxation to a plan.
#![allow(clippy::indexing_slicing, reason = "columns and rows are numbered densely by Packing::new")]

use microlp::{ComparisonOp, OptimizationDirection, Problem, Solution, Variable};

use crate::bound::SCALE;
use crate::packing::{AtLeast, Packing, Pool, Task};

/// Prices of rows, links and floors, and the columns that shaped them.
#[derive(Debug)]
pub(crate) struct Prices {
    pub(crate) scaled: Vec<u64>,
    /// Ascending.
    pub(crate) active: Vec<usize>,
    pub(crate) pivots: u64,
    /// Pivots times the rows and columns of the program.
    pub(crate) work: u64,
}

/// A plan rounded from the relaxation, and what it cost.
#[derive(Debug)]
pub(crate) struct Rounded {
    pub(crate) runs: Vec<u16>,
    pub(crate) pivots: u64,
    pub(crate) work: u64,
}

const ROUNDS: u32 = 40;
/// Violated columns taken up for each row in one round.
const SHARE: u8 = 3;
/// A pool of up to so many columns is priced at once.
const AT_ONCE: usize = 1_500;
/// Up to so many new columns are added to a solved program; more start it afresh, which is then quicker.
const ADDED_ONE_BY_ONE: usize = 20;
const VIOLATION: f64 = 1e-7;
/// How much, in units of the level, columns left out may loosen the bound in all.
const LOOSENED: f64 = 0.02;
/// Rounds of the price adjustment that picks the first columns.
const ADJUSTMENTS: u32 = 60;

impl Packing {
    /// The dual linear program by row generation: only columns that were violated at some prices enter it.
    /// `keep` names columns that are in it from the start: those of a plan that reaches the floors, without
    /// which it would be unbounded, and any that are likely to matter. The prices are divided by `unit`. Any failure of the solver, or `stop`, ends it early with weaker,
    /// still valid prices.
    pub(crate) fn prices(
        &self,
        pool: &Pool,
        task: Task,
        unit: i64,
        keep: &[usize],
        stop: &mut dyn FnMut() -> bool,
    ) -> Prices {
        let Task { gains, floors } = task;
        let mut inside = vec![false; self.len()];
        for &column in keep {
            inside[column] = true;
        }
        // Columns outside the pool have no live rows to pay through.
        let mut possible = vec![false; self.len()];
        for &column in &pool.columns {
            possible[column] = true;
        }
        for (inside, possible) in inside.iter_mut().zip(possible) {
            *inside &= possible;
        }
        let mut prices = self.plain_prices(pool, task);
        if pool.columns.len() <= AT_ONCE {
            for &column in &pool.columns {
                inside[column] = true;
            }
        } else if floors.is_empty() {
            let guess = self.adjusted_prices(pool, gains);
            let mut order: Vec<(f64, usize)> = pool
                .columns
                .iter()
                .map(|&column| (self.float_excess(column, task, &guess), column))
                .collect();
            order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            let order: Vec<usize> = order.into_iter().map(|(_, column)| column).collect();
            self.take_up(pool, &order, &mut inside);
        }
        let live = pool.live.iter().filter(|&&live| live).count() + self.links + floors.len();
        let (mut dual, mut pivots, mut work) = (None, 0, 0);
        let mut before = 0;
        let mut new: Vec<usize> = Vec::new();
        for _ in 0..ROUNDS {
            if stop() {
                break;
            }
            dual = match dual {
                Some(dual) if new.len() <= ADDED_ONE_BY_ONE => self.extended(dual, &new, task),
                _ => {
                    before = 0;
                    self.dual(pool, task, &inside)
                }
            };
            let Some(found) = &dual else { break };
            // A program that is solved on goes on counting.
            let all = found.solution.stats().lp_iterations;
            let size = live + inside.iter().filter(|&&inside| inside).count();
            work += (all - before) * size as u64;
            pivots += all - before;
            before = all;
            prices = found.prices();
            let mut violated: Vec<(f64, usize)> = pool
                .columns
                .iter()
                .filter(|&&column| !inside[column])
                .map(|&column| (self.float_excess(column, task, &prices), column))
                .filter(|&(excess, _)| excess > VIOLATION)
                .collect();
            // What is left costs the certificate less than it can show.
            let loosened: f64 =
                violated.iter().map(|&(excess, column)| excess * f64::from(self.most[column])).sum();
            if loosened <= LOOSENED * unit as f64 {
                break;
            }
            violated.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            let order: Vec<usize> = violated.into_iter().map(|(_, column)| column).collect();
            new = self.take_up(pool, &order, &mut inside);
        }
        let floor = self.capacity.len() + self.links;
        let scaled = prices
            .iter()
            .map(|&price| price / unit as f64)
            .enumerate()
            .map(|(at, price)| if at < floor { up(price) } else { down(price) });
        let active = pool.columns.iter().copied().filter(|&column| inside[column]).collect();
        Prices { scaled: scaled.collect(), active, pivots, work }
    }

    /// Marks columns in this order while one of their live rows has fewer than [`SHARE`] newly marked ones;
    /// returns those.
    fn take_up(&self, pool: &Pool, order: &[usize], inside: &mut [bool]) -> Vec<usize> {
        let mut new = Vec::new();
        let mut count = vec![0u8; self.capacity.len()];
        for &column in order {
            let rows = self.rows(column);
            let wanted = rows.iter().any(|&row| pool.live[row as usize] && count[row as usize] < SHARE);
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

    /// Prices that need no solver: on every row a column's share of its gain, so that every column is paid for.
    fn plain_prices(&self, pool: &Pool, task: Task) -> Vec<f64> {
        let mut prices = vec![0.0f64; self.capacity.len() + self.links + task.floors.len()];
        for &column in &pool.columns {
            let rows = self.rows(column);
            let share = task.gains[column] as f64 / rows.len().max(1) as f64;
            for &row in rows {
                prices[row as usize] = prices[row as usize].max(share);
            }
        }
        prices
    }

    /// Prices near the dual optimum by the subgradient method: dearer where columns that pay want more than
    /// there is. They only pick the columns to begin with.
    fn adjusted_prices(&self, pool: &Pool, gains: &[i64]) -> Vec<f64> {
        let mut prices = vec![0.0f64; self.capacity.len() + self.links];
        let most = pool.columns.iter().map(|&column| gains[column]).max().unwrap_or(0) as f64;
        for &column in &pool.columns {
            let live = self.rows(column).iter().filter(|&&row| pool.live[row as usize]);
            let share = gains[column] as f64 / live.clone().count().max(1) as f64;
            for &row in live {
                prices[row as usize] = prices[row as usize].max(0.8 * share);
            }
        }
        let mut wanted = vec![0.0f64; self.capacity.len()];
        for round in 0..ADJUSTMENTS {
            wanted.fill(0.0);
            for &column in &pool.columns {
                if self.float_excess(column, Task { gains, floors: &[] }, &prices) > 0.0 {
                    for &row in self.rows(column) {
                        wanted[row as usize] += 1.0;
                    }
                }
            }
            let step = 0.1 * most / f64::from(round + 4);
            for (row, &wanted) in wanted.iter().enumerate().filter(|&(row, _)| pool.live[row]) {
                let over = (wanted - f64::from(self.capacity[row])).clamp(-1.0, 3.0);
                prices[row] = (prices[row] + step * over).max(0.0);
            }
        }
        prices
    }

    pub(crate) fn float_excess(&self, column: usize, task: Task, prices: &[f64]) -> f64 {
        let mut excess = task.gains[column] as f64;
        for &row in self.rows(column) {
            excess -= prices[row as usize];
        }
        let links = self.capacity.len();
        for &(link, sign) in self.linked(column) {
            excess += f64::from(sign) * prices[links + link as usize];
        }
        for (floor, &price) in task.floors.iter().zip(&prices[links + self.links..]) {
            excess += floor.coefficients[column] as f64 * price;
        }
        excess
    }

    fn dual(&self, pool: &Pool, task: Task, inside: &[bool]) -> Option<Dual> {
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let mut price = |cost: f64| problem.add_var(cost, (0.0, f64::INFINITY));
        let mut prices: Vec<Option<Variable>> = Vec::new();
        for (row, &room) in self.capacity.iter().enumerate() {
            prices.push(pool.live[row].then(|| price(f64::from(room))));
        }
        prices.extend((0..self.links).map(|_| Some(price(0.0))));
        prices.extend(task.floors.iter().map(|floor| Some(price(-(floor.least as f64)))));
        for column in (0..self.len()).filter(|&column| inside[column]) {
            let paid = self.paid(column, &prices, task.floors);
            problem.add_constraint(paid, ComparisonOp::Ge, task.gains[column] as f64);
        }
        let solution = problem.solve().ok()?.into_solution().ok()?;
        Some(Dual { prices, solution })
    }

    /// The same program with more columns, solved on from where it stands.
    fn extended(&self, dual: Dual, new: &[usize], task: Task) -> Option<Dual> {
        let Dual { prices, mut solution } = dual;
        for &column in new {
            let paid = self.paid(column, &prices, task.floors);
            let outcome = solution.add_constraint(paid, ComparisonOp::Ge, task.gains[column] as f64).ok()?;
            solution = outcome.into_solution().ok()?;
        }
        Some(Dual { prices, solution })
    }

    /// What a column pays at the prices of its rows, less what links and floors grant it.
    fn paid(&self, column: usize, prices: &[Option<Variable>], floors: &[AtLeast]) -> Vec<(Variable, f64)> {
        let mut terms: Vec<(Variable, f64)> =
            self.rows(column).iter().filter_map(|&row| prices[row as usize]).map(|var| (var, 1.0)).collect();
        let links = self.capacity.len();
        for &(link, sign) in self.linked(column) {
            terms.extend(prices[links + link as usize].map(|var| (var, -f64::from(sign))));
        }
        for (floor, var) in floors.iter().zip(&prices[links + self.links..]) {
            let coefficient = floor.coefficients[column];
            if coefficient != 0 {
                terms.extend(var.map(|var| (var, -(coefficient as f64))));
            }
        }
        terms
    }

    /// The rows, links and floors of a program over `columns`, whose variables are `vars`, beside `runs` that
    /// stand already.
    pub(crate) fn constrain(
        &self,
        problem: &mut Problem,
        pool: &Pool,
        columns: &[usize],
        vars: &[Variable],
        floors: &[AtLeast],
        runs: &[u16],
    ) -> usize {
        let used = self.used(runs);
        let mut rows: Vec<Vec<(Variable, f64)>> = vec![Vec::new(); self.capacity.len()];
        let mut links: Vec<Vec<(Variable, f64)>> = vec![Vec::new(); self.links];
        for (&column, &var) in columns.iter().zip(vars) {
            for &row in self.rows(column).iter().filter(|&&row| pool.live[row as usize]) {
                rows[row as usize].push((var, 1.0));
            }
            for &(link, sign) in self.linked(column) {
                links[link as usize].push((var, f64::from(sign)));
            }
        }
        let mut count = floors.len();
        for (row, terms) in rows.into_iter().enumerate().filter(|(_, terms)| terms.len() > 1) {
            count += 1;
            let room = self.capacity[row].saturating_sub(used[row]);
            problem.add_constraint(terms, ComparisonOp::Le, f64::from(room));
        }
        let standing = self.slack(runs);
        for (terms, standing) in links.into_iter().zip(standing).filter(|(terms, _)| !terms.is_empty()) {
            count += 1;
            problem.add_constraint(terms, ComparisonOp::Ge, -f64::from(standing));
        }
        for floor in floors {
            let terms: Vec<(Variable, f64)> = columns
                .iter()
                .zip(vars)
                .filter(|&(&column, _)| floor.coefficients[column] != 0)
                .map(|(&column, &var)| (var, floor.coefficients[column] as f64))
                .collect();
            let least = floor.least - Self::total(runs, &floor.coefficients);
            problem.add_constraint(terms, ComparisonOp::Ge, least as f64);
        }
        count
    }

    /// Rounds the linear program over these columns to a plan: the column nearest below a whole number is
    /// raised to it, and the program solved on from there until nothing is broken. May end short of a floor or
    /// a link, never over a capacity.
    pub(crate) fn dive(
        &self,
        pool: &Pool,
        columns: &[usize],
        task: Task,
        stop: &mut dyn FnMut() -> bool,
    ) -> Rounded {
        let Task { gains, floors } = task;
        let mut runs = vec![0u16; self.len()];
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let vars: Vec<Variable> = columns
            .iter()
            .map(|&column| problem.add_var(gains[column] as f64, (0.0, f64::from(self.most[column]))))
            .collect();
        let size = (self.constrain(&mut problem, pool, columns, &vars, floors, &runs) + columns.len()) as u64;
        let Ok(Ok(mut solution)) = problem.solve().map(microlp::SolveOutcome::into_solution) else {
            return Rounded { runs, pivots: 0, work: 0 };
        };
        let parts = |solution: &Solution| vars.iter().map(|&var| solution.var_value(var)).collect();
        let mut now: Vec<f64> = parts(&solution);
        let mut pivots = solution.stats().lp_iterations;
        let broken = |part: f64| part.fract().min(1.0 - part.fract()) > 1e-6;
        loop {
            let largest = now
                .iter()
                .enumerate()
                .filter(|&(_, &part)| broken(part))
                .max_by(|a, b| a.1.fract().total_cmp(&b.1.fract()).then(b.0.cmp(&a.0)));
            let Some((at, part)) = largest else { break };
            if stop() {
                break;
            }
            let fixed = solution.fix_var(vars[at], part.ceil()).map(microlp::SolveOutcome::into_solution);
            let Ok(Ok(next)) = fixed else { break };
            solution = next;
            now = parts(&solution);
            pivots = solution.stats().lp_iterations;
        }
        let mut used = vec![0; self.capacity.len()];
        for (&column, part) in columns.iter().zip(now) {
            let times = whole((part + 1e-6).floor()).min(self.room(&used, column));
            self.take(&mut used, column, times);
            runs[column] = times;
        }
        Rounded { runs, pivots, work: pivots * size }
    }
}

/// A solved dual program: a variable for every live row, every link and every floor.
struct Dual {
    prices: Vec<Option<Variable>>,
    solution: Solution,
}

impl Dual {
    /// 0 for rows without a variable.
    fn prices(&self) -> Vec<f64> {
        let value = |var: &Option<Variable>| var.map_or(0.0, |var| self.solution.var_value(var).max(0.0));
        self.prices.iter().map(value).collect()
    }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a price is finite and not negative; the cast saturates"
)]
pub(crate) fn up(price: f64) -> u64 {
    (price * SCALE as f64).ceil() as u64
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "as in `up`")]
pub(crate) fn down(price: f64) -> u64 {
    (price * SCALE as f64).floor() as u64
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the range first")]
pub(crate) fn whole(value: f64) -> u16 {
    value.round().clamp(0.0, f64::from(u16::MAX)) as u16
}
