//! Branch and bound over chosen columns, and mending a plan piece by piece with it.
#![allow(clippy::indexing_slicing, reason = "columns and rows are numbered densely by Packing::new")]

use microlp::{OptimizationDirection, Problem, ResumeOptions, SolveOptions, SolveOutcome, TerminationReason};

use crate::linear::whole;
use crate::packing::{Packing, Pool, Task};

/// How often each column runs, and whether the search was finished.
#[derive(Debug)]
pub(crate) struct Found {
    pub(crate) runs: Vec<u16>,
    pub(crate) finished: bool,
    pub(crate) nodes: u64,
    pub(crate) pivots: u64,
    /// Pivots times the rows and columns of the program.
    pub(crate) work: u64,
}

/// When [`Packing::search`] stops.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Limits {
    /// Pivots times the rows and columns of the program.
    pub(crate) work: u64,
    /// Values are multiples of this.
    pub(crate) step: i64,
    /// No value is larger than this.
    pub(crate) bound: i64,
}

/// Nodes times rows and columns between two looks at the work done and the caller's clock.
const AT_ONCE: u64 = 20_000;

impl Packing {
    /// Branch and bound over `open` columns (all others stand still at `runs`), starting from `runs`, which
    /// stands when nothing better is met. `within(c)` are the least and most runs of an open column. Stops at
    /// the first plan that no other can beat by `step` or more. The result is rounded and verified in
    /// integers; what does not verify is dropped.
    #[allow(clippy::too_many_arguments, reason = "the parts of one program")]
    pub(crate) fn search(
        &self,
        pool: &Pool,
        open: &[usize],
        within: impl Fn(usize) -> (u16, u16),
        task: Task,
        runs: &[u16],
        limits: Limits,
        stop: &mut dyn FnMut() -> bool,
    ) -> Found {
        let Task { gains, floors } = task;
        let mut still = runs.to_vec();
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let mut vars = Vec::with_capacity(open.len());
        for &column in open {
            still[column] = 0;
            let (least, most) = within(column);
            vars.push(problem.add_integer_var(gains[column] as f64, (i32::from(least), i32::from(most))));
        }
        let size = (self.constrain(&mut problem, pool, open, &vars, floors, &still) + open.len()) as u64;
        let standing = Self::total(&still, gains);
        let value = Self::total(runs, gains);
        let mut options = SolveOptions::default();
        let nodes_at_once = (AT_ONCE / size.max(1)).clamp(1, 20);
        options.node_limit = Some(nodes_at_once);
        // Relative to the largest value possible, so that the gap left is always less than one step.
        let largest = limits.bound.saturating_sub(standing).abs().max((value - standing).abs()).max(1);
        options.mip_gap = 0.99 * limits.step as f64 / largest as f64;
        options.warm_start =
            Some(open.iter().zip(&vars).map(|(&column, &var)| (var, f64::from(runs[column]))).collect());
        let mut again = ResumeOptions::default();
        again.node_limit = Some(nodes_at_once);
        again.mip_gap = Some(options.mip_gap);
        let unchanged = |nodes, pivots| Found {
            runs: runs.to_vec(),
            finished: false,
            nodes,
            pivots,
            work: pivots * size,
        };
        let Ok(mut outcome) = problem.solve_with(options) else { return unchanged(1, 1) };
        loop {
            let stats = outcome.stats();
            let limit = outcome.termination_reason() == TerminationReason::NodeLimit;
            if !limit || stats.lp_iterations.saturating_mul(size) >= limits.work || stop() {
                break;
            }
            match outcome.resume_with(again.clone()) {
                Ok(next) => outcome = next,
                Err(_) => return unchanged(stats.nodes_solved, stats.lp_iterations),
            }
        }
        let (nodes, pivots) = (outcome.stats().nodes_solved.max(1), outcome.stats().lp_iterations);
        let finished = matches!(
            outcome.termination_reason(),
            TerminationReason::ProvenOptimal | TerminationReason::MipGap
        );
        let SolveOutcome::Solution(solution) = outcome else { return unchanged(nodes, pivots) };
        for (&column, &var) in open.iter().zip(&vars) {
            still[column] = whole(solution.var_value(var));
        }
        // Less than at the start cannot come of a finished search: then its claim is not trusted either.
        if Self::total(&still, gains) < value || !self.fits(&still, floors) {
            return unchanged(nodes, pivots);
        }
        Found { runs: still, finished, nodes, pivots, work: pivots * size }
    }
}
