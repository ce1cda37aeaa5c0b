//! Planning backwards from a show: on which day to stop, and on which days to stop several plants.
//!
//! A plant stopped at the start of day `s` has had `A_m(D) - A_m(s - 1)` degree-days by the end of the show
//! day `D` in the weather of trace `m`. For one plant the chance of show condition is that of
//! [`crate::condition`]. Several plants of a cultivar share the weather and the effects of cultivar, grower and
//! season; given both, each is on its own:
//!
//! ```text
//! y_i = mu + u + e_i,   u ~ N(0, shared_sd^2),   e_i ~ N(0, own_sd^2)
//! P(at least k of n) = mean over m and u of P(S >= k),   S a sum of independent yes-or-no's
//! ```
//!
//! Any other event that starts a growth of known heat (disbudding) is planned the same way from its own
//! requirement: "stop" then stands for that event.
#![allow(clippy::indexing_slicing, reason = "numeric kernel: tables of one size, built together")]

use std::ops::RangeInclusive;

use crate::condition::Span;
use crate::stages::{Outlook, StageError, StageModel};
use crate::traces::Future;

/// A stop more than so many days before the show is not considered.
pub const EARLIEST_STOP: i32 = 200;
/// Nor one fewer than so many days before it.
pub const LATEST_STOP: i32 = 35;
/// A best chance of at least this makes one plant enough; below it plants are better stopped on several days.
pub const ENOUGH: f64 = 0.5;
/// Days with at least this share of the best day's chance are near the best.
pub const NEAR: f64 = 0.8;
/// Stops are spread for at most so many plants.
pub const MOST_PLANTS: usize = 50;

/// The heat a plant needs from its stop to show-ready, as the natural log of degree-days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Need {
    pub mean_log: f64,
    /// Standard deviation of what all plants have in common: errors of the effects of cultivar, grower, season.
    pub shared_sd: f64,
    /// Standard deviation of each plant's own.
    pub own_sd: f64,
}

impl Need {
    /// Standard deviation of one plant's log requirement.
    pub fn sd_log(&self) -> f64 {
        self.shared_sd.hypot(self.own_sd)
    }
}

/// The chances of one plant on the show day if stopped on `stop_day`; they sum to one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StopDay {
    pub stop_day: i32,
    pub too_early: f64,
    /// In show condition.
    pub ready: f64,
    pub over: f64,
}

/// When to stop one plant.
#[derive(Debug, Clone, PartialEq)]
pub struct StopWindow {
    /// Every day considered, in order.
    pub days: Vec<StopDay>,
    /// The day of the greatest chance, the earliest of equals.
    pub best: StopDay,
    /// First and last day about the best of an unbroken run with at least the chance asked for.
    pub chosen: Option<(i32, i32)>,
    /// The same with at least [`NEAR`] of the best day's chance.
    pub near_best: (i32, i32),
    /// Whether the best chance is at least [`ENOUGH`].
    pub one_plant_is_enough: bool,
}

/// On which days to stop several plants.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Days with the number of plants to stop on each, in order.
    pub stops: Vec<(i32, usize)>,
    /// Chance that at least the wanted number is in show condition.
    pub at_least_wanted: f64,
    /// Mean number in show condition.
    pub expected_ready: f64,
    /// The best day for all plants at once, and the chance it gives.
    pub one_day: i32,
    pub one_day_at_least_wanted: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum StopError {
    /// No day from the start of the traces is [`LATEST_STOP`] to [`EARLIEST_STOP`] days before the show, or the
    /// traces end before the show, or they start before the day of issue.
    #[error("no day is left to stop a plant for this show")]
    NoDay,
    /// The chance asked for is not between 0 and 1.
    #[error("the chance asked for is not between 0 and 1")]
    BadChance,
    /// No plant, none wanted, more wanted than there are, or more than [`MOST_PLANTS`].
    #[error("the numbers of plants do not fit together")]
    BadNumber,
    /// The need or the stages are not usable.
    #[error(transparent)]
    Stages(StageError),
}

impl From<StageError> for StopError {
    fn from(error: StageError) -> StopError {
        StopError::Stages(error)
    }
}

/// The days from `today` on which a plant may be stopped for a show; `None` when it is too late for any.
pub fn days_to_stop(today: i32, show_day: i32) -> Option<RangeInclusive<i32>> {
    let first = today.max(show_day.checked_sub(EARLIEST_STOP)?);
    let last = show_day.checked_sub(LATEST_STOP)?;
    (first <= last).then_some(first..=last)
}

/// Log heat on the show day: `[stop day][trace]`.
struct Heats {
    first: i32,
    log: Vec<Vec<f64>>,
}

impl Heats {
    fn of(future: &Future, show_day: i32) -> Result<Heats, StopError> {
        let first = future.stop_day;
        let days = days_to_stop(first, show_day).ok_or(StopError::NoDay)?;
        if first < future.as_of || *days.start() != first || show_day > future.last_day {
            return Err(StopError::NoDay);
        }
        let show = usize::try_from(show_day - first).unwrap_or(0);
        let log = (0..days.count())
            .map(|at| {
                future
                    .traces
                    .iter()
                    .map(|trace| {
                        let before = if at == 0 { 0.0 } else { trace.cumulative[at - 1] };
                        (trace.cumulative[show] - before).ln()
                    })
                    .collect()
            })
            .collect();
        Ok(Heats { first, log })
    }

    fn day(&self, at: usize) -> i32 {
        self.first.saturating_add(i32::try_from(at).unwrap_or(i32::MAX))
    }
}

/// The chances on the show day for a stop on each possible day.
///
/// `future` starts on the first day in question, today or later (see [`days_to_stop`]), and reaches the show
/// day. Cost: one bivariate normal for each day and trace.
pub fn window(
    future: &Future,
    show_day: i32,
    need: &Need,
    model: &StageModel,
    at_least: f64,
) -> Result<StopWindow, StopError> {
    if !(at_least > 0.0 && at_least < 1.0) {
        return Err(StopError::BadChance);
    }
    let outlook = Outlook::new(need.mean_log, need.sd_log(), model)?;
    let span = Span::of(&outlook).ok_or(StageError::BadNumber)?;
    let heats = Heats::of(future, show_day)?;
    let days: Vec<StopDay> = heats
        .log
        .iter()
        .enumerate()
        .map(|(at, logs)| {
            let count = logs.len() as f64;
            let too_early = logs.iter().map(|&log| span.not_ready(log)).sum::<f64>() / count;
            let ready = logs.iter().map(|&log| span.ready_by_not_over(log, log)).sum::<f64>() / count;
            let ready = ready.min(1.0 - too_early).max(0.0);
            StopDay { stop_day: heats.day(at), too_early, ready, over: 1.0 - too_early - ready }
        })
        .collect();
    let mut best_at = 0;
    for (at, day) in days.iter().enumerate() {
        if day.ready > days[best_at].ready {
            best_at = at;
        }
    }
    let best = days[best_at];
    let run = |least: f64| {
        let before = days[..best_at].iter().rev().take_while(|day| day.ready >= least).count();
        let after = days[best_at..].iter().skip(1).take_while(|day| day.ready >= least).count();
        (heats.day(best_at - before), heats.day(best_at + after))
    };
    Ok(StopWindow {
        best,
        chosen: (best.ready >= at_least).then(|| run(at_least)),
        near_best: run(NEAR * best.ready),
        one_plant_is_enough: best.ready >= ENOUGH,
        days,
    })
}

/// Points of the table that stands for the chance of one plant; linear between them, wrong by about 1e-6.
const TABLE_POINTS: usize = 4_096;
/// Standard deviations either side within which a chance is worked out.
const REACH: f64 = 8.0;

/// The chance of show condition of one plant, its shared effect known, as a function of log heat.
struct OwnChance {
    start: f64,
    step: f64,
    values: Vec<f64>,
}

impl OwnChance {
    fn new(need: &Need, model: &StageModel) -> Result<OwnChance, StopError> {
        use crate::stages::Stage::{PastBest, ShowReady};
        let outlook = Outlook::new(need.mean_log, need.own_sd, model)?;
        let span = Span::of(&outlook).ok_or(StageError::BadNumber)?;
        let start = outlook.mean_log(ShowReady) - REACH * outlook.sd_log(ShowReady);
        let end = outlook.mean_log(PastBest) + REACH * outlook.sd_log(PastBest);
        let step = (end - start).max(0.0) / (TABLE_POINTS - 1) as f64;
        let values = (0..TABLE_POINTS)
            .map(|at| start + step * at as f64)
            .map(|log| span.ready_by_not_over(log, log))
            .collect();
        Ok(OwnChance { start, step, values })
    }

    fn at(&self, log_heat: f64) -> f64 {
        let place = (log_heat - self.start) / self.step;
        if !(place >= 0.0 && place < (TABLE_POINTS - 1) as f64) {
            return 0.0;
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the table")]
        let below = place as usize;
        self.values[below] + place.fract() * (self.values[below + 1] - self.values[below])
    }
}

/// Nodes and weights for a standard normal: the trapezium rule, which for such integrands converges faster
/// than any power of its step. `sharpness` is how narrow the integrand is beside the normal; that of a number
/// of plants is narrower than that of one by its root.
fn shared_nodes(sharpness: f64) -> Vec<(f64, f64)> {
    const END: f64 = 5.0;
    let step = (0.7 * sharpness).clamp(0.05, 0.5);
    #[expect(clippy::cast_possible_truncation, reason = "at most 100")]
    let half = (END / step).ceil() as i32;
    let nodes: Vec<f64> = (-half..=half).map(|at| f64::from(at) * step).collect();
    let whole: f64 = nodes.iter().map(|z| (-z * z / 2.0).exp()).sum();
    nodes.into_iter().map(|z| (z, (-z * z / 2.0).exp() / whole)).collect()
}

/// Chances of show condition over the scenarios, a scenario being a trace and a value of the shared effect.
struct Scenarios {
    weights: Vec<f64>,
    /// `[stop day][scenario]`.
    ready: Vec<Vec<f64>>,
    wanted: usize,
}

/// Sweeps of the exchange, and the gain below which it stops.
const MOST_SWEEPS: usize = 40;
const WORTHWHILE: f64 = 1e-6;

impl Scenarios {
    /// For the plants on `stops` (places, one a plant), in each scenario.
    fn count(&self, stops: &[usize]) -> Counts {
        let number = self.weights.len();
        let mut exactly = vec![vec![0.0; number]; self.wanted];
        exactly[0] = vec![1.0; number];
        let mut enough = vec![0.0; number];
        for (before, &stop) in stops.iter().enumerate() {
            let chance = &self.ready[stop];
            let last = &exactly[self.wanted - 1];
            for ((enough, p), last) in enough.iter_mut().zip(chance).zip(last) {
                *enough += p * last;
            }
            for have in (0..self.wanted.min(before + 2)).rev() {
                let (below, from) = exactly.split_at_mut(have);
                let row = &mut from[0];
                if let Some(below) = below.last() {
                    for ((own, below), p) in row.iter_mut().zip(below).zip(chance) {
                        *own += p * (below - *own);
                    }
                } else {
                    for (own, p) in row.iter_mut().zip(chance) {
                        *own -= p * *own;
                    }
                }
            }
        }
        let one_short = exactly.pop().unwrap_or_default();
        Counts { one_short, two_short: exactly.pop(), enough }
    }

    fn mean(&self, values: &[f64]) -> f64 {
        product(&self.weights, values)
    }

    /// Chance of at least `wanted` for these plants.
    fn value(&self, stops: &[usize]) -> f64 {
        self.mean(&self.count(stops).enough)
    }

    /// The stop day that, added to `stops`, makes at least `wanted` most likely, and that chance.
    fn best_addition(&self, stops: &[usize]) -> (usize, f64) {
        let Counts { one_short, enough, .. } = self.count(stops);
        let weighted: Vec<f64> = self.weights.iter().zip(&one_short).map(|(w, q)| w * q).collect();
        let base = self.mean(&enough);
        let mut best = (0, f64::NEG_INFINITY);
        for (at, chance) in self.ready.iter().enumerate() {
            let value = base + product(&weighted, chance);
            if value > best.1 {
                best = (at, value);
            }
        }
        best
    }

    /// One plant after another, each aiming at its share of the number wanted.
    fn greedy(&mut self, plants: usize) -> Vec<usize> {
        let goal = self.wanted;
        let mut stops = Vec::with_capacity(plants);
        for number in 1..=plants {
            self.wanted = (goal * number).div_ceil(plants);
            let (at, _) = self.best_addition(&stops);
            stops.push(at);
        }
        self.wanted = goal;
        stops
    }

    /// Moves one plant at a time to its best day, and two at a time by some days each, until neither is
    /// worthwhile.
    fn exchange(&self, mut stops: Vec<usize>) -> (Vec<usize>, f64) {
        let mut value = self.value(&stops);
        for _ in 0..MOST_SWEEPS {
            let before = value;
            for plant in 0..stops.len() {
                // Plants on one day are alike: only the last of them is tried.
                if stops[plant + 1..].contains(&stops[plant]) {
                    continue;
                }
                let mut others = stops.clone();
                others.swap_remove(plant);
                let (at, reached) = self.best_addition(&others);
                if reached > value {
                    (stops[plant], value) = (at, reached);
                }
            }
            if value - before < WORTHWHILE {
                self.move_pairs(&mut stops, &mut value);
            }
            if value - before < WORTHWHILE {
                break;
            }
        }
        (stops, value)
    }

    /// One pass over the pairs of days. One plant at a time halts on a ridge that two can walk along.
    fn move_pairs(&self, stops: &mut [usize], value: &mut f64) {
        let last = self.ready.len() - 1;
        let near = |at: usize| {
            STRIDES.iter().filter_map(move |&by| at.checked_add_signed(by)).filter(move |&to| to <= last)
        };
        let mut seen = Vec::new();
        for one in 0..stops.len() {
            for other in one + 1..stops.len() {
                let days = (stops[one], stops[other]);
                if seen.contains(&days) {
                    continue;
                }
                seen.push(days);
                let mut rest = stops.to_vec();
                rest.swap_remove(other);
                rest.swap_remove(one);
                let Counts { one_short, two_short, enough } = self.count(&rest);
                // P(S + X + Y >= k) = P(S >= k) + P(S = k-1) (p + q - pq) + P(S = k-2) pq.
                let base = self.mean(&enough);
                let single: Vec<f64> = self.weights.iter().zip(&one_short).map(|(w, q)| w * q).collect();
                let both: Vec<f64> = match two_short {
                    None => single.iter().map(|own| -own).collect(),
                    Some(two_short) => self
                        .weights
                        .iter()
                        .zip(&two_short)
                        .zip(&single)
                        .map(|((w, q), s)| w * q - s)
                        .collect(),
                };
                let others: Vec<(usize, f64)> =
                    near(days.1).map(|at| (at, product(&single, &self.ready[at]))).collect();
                for at in near(days.0) {
                    let chance = &self.ready[at];
                    let alone = base + product(&single, chance);
                    let crossed: Vec<f64> = both.iter().zip(chance).map(|(w, p)| w * p).collect();
                    for &(to, own) in &others {
                        let reached = alone + own + product(&crossed, &self.ready[to]);
                        if reached > *value {
                            (stops[one], stops[other], *value) = (at, to, reached);
                        }
                    }
                }
            }
        }
    }
}

/// Days by which each of two plants is tried.
const STRIDES: [isize; 11] = [-16, -8, -4, -2, -1, 0, 1, 2, 4, 8, 16];

/// Chances of numbers in condition, scenario by scenario.
struct Counts {
    /// Exactly one fewer than wanted.
    one_short: Vec<f64>,
    /// Exactly two fewer; `None` when one is wanted.
    two_short: Option<Vec<f64>>,
    /// At least as many as wanted.
    enough: Vec<f64>,
}

fn product(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The stop days for `plants` plants that make it most likely that at least `wanted` of them are in show
/// condition together, found by greedy choice and exchange from several starts: never worse than all on the
/// best one day, not proved best. `future` is that of [`window`].
///
/// Cost: a sweep of the exchange takes `plants x (plants x wanted + days) x scenarios` steps.
pub fn spread(
    future: &Future,
    show_day: i32,
    need: &Need,
    model: &StageModel,
    plants: usize,
    wanted: usize,
) -> Result<Spread, StopError> {
    if wanted == 0 || wanted > plants || plants > MOST_PLANTS {
        return Err(StopError::BadNumber);
    }
    if !(need.shared_sd.is_finite() && need.shared_sd >= 0.0) {
        return Err(StopError::Stages(StageError::BadNumber));
    }
    let heats = Heats::of(future, show_day)?;
    let chance = &OwnChance::new(need, model)?;
    let nodes = if need.shared_sd > 0.0 {
        shared_nodes(need.own_sd / need.shared_sd / (plants as f64).sqrt())
    } else {
        vec![(0.0, 1.0)]
    };
    let share = 1.0 / future.traces.len() as f64;
    let mut scenarios = Scenarios {
        weights: future.traces.iter().flat_map(|_| nodes.iter().map(|(_, w)| w * share)).collect(),
        ready: heats
            .log
            .iter()
            .map(|logs| {
                logs.iter()
                    .flat_map(|&log| nodes.iter().map(move |(z, _)| chance.at(log - need.shared_sd * z)))
                    .collect()
            })
            .collect(),
        wanted,
    };
    let mut one_day = (0, f64::NEG_INFINITY);
    for at in 0..scenarios.ready.len() {
        let value = scenarios.value(&vec![at; plants]);
        if value > one_day.1 {
            one_day = (at, value);
        }
    }
    let starts = [scenarios.greedy(plants), vec![one_day.0; plants]];
    let mut best = (vec![one_day.0; plants], one_day.1);
    for start in starts {
        let found = scenarios.exchange(start);
        if found.1 > best.1 {
            best = found;
        }
    }
    let (mut chosen, at_least_wanted) = best;
    chosen.sort_unstable();
    let expected_ready = chosen.iter().map(|&at| scenarios.mean(&scenarios.ready[at])).sum();
    let stops = chosen.chunk_by(|a, b| a == b).map(|run| (heats.day(run[0]), run.len())).collect();
    Ok(Spread {
        stops,
        at_least_wanted,
        expected_ready,
        one_day: heats.day(one_day.0),
        one_day_at_least_wanted: one_day.1,
    })
}
