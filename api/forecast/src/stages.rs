//! The stages of a plant from bud to past its best, as one joint normal of log heats.
//!
//! With `y_k` the natural log of the heat (degree-days since the last stop) at stage `k`,
//!
//! ```text
//! y_ready ~ N(mu, s^2),   y_k = y_ready + delta_k,   delta ~ N(offset, covariance)
//! ```
//!
//! so that a stage seen moves the expectation of every other by the rules of the conditional normal.
#![allow(clippy::indexing_slicing, reason = "numeric kernel: five stages, every index below five")]

/// What a grower can see of a plant, in the order it comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// First bud visible.
    Bud,
    FirstColour,
    FirstOpenFloret,
    ShowReady,
    PastBest,
}

/// Number of stages.
pub const STAGES: usize = 5;
const READY: usize = 3;

impl Stage {
    pub const ALL: [Stage; STAGES] =
        [Stage::Bud, Stage::FirstColour, Stage::FirstOpenFloret, Stage::ShowReady, Stage::PastBest];

    /// Place in every array over stages, 0 to 4.
    pub fn index(self) -> usize {
        match self {
            Stage::Bud => 0,
            Stage::FirstColour => 1,
            Stage::FirstOpenFloret => 2,
            Stage::ShowReady => READY,
            Stage::PastBest => 4,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum StageError {
    /// A mean, spread or increment is not finite, or a spread or strength not positive.
    #[error("a mean, spread or increment is not a usable number")]
    BadNumber,
    /// The covariances given are not those of any distribution.
    #[error("the stages' covariances belong to no distribution")]
    NotACovariance,
    /// The heats around a sighting are not positive, not finite, or fall.
    #[error("the heat on the day of a sighting is not a usable number")]
    BadDay,
}

/// One plant's log heat at each stage less its log heat at show-ready; `None` where it was not seen.
/// The entry of show-ready itself is not looked at.
pub type Increments = [Option<f64>; STAGES];

/// Distribution of the increments `delta_k = y_k - y_ready`; the entries of show-ready are zero.
#[derive(Debug, Clone, PartialEq)]
pub struct StageModel {
    pub offset: [f64; STAGES],
    pub covariance: [[f64; STAGES]; STAGES],
    /// Covariance of each increment with the plant's own show-ready requirement.
    pub with_ready: [f64; STAGES],
}

impl Default for StageModel {
    /// Starting values from memory, no source: offsets -0.62, -0.34, -0.20 and +0.16 with standard
    /// deviations 0.06, 0.05, 0.04 and 0.05. Looking back from show-ready the steps from stage to stage
    /// are independent, so two earlier stages share the variance of the later of them.
    fn default() -> Self {
        let (bud, colour, floret, past) =
            (0.06_f64.powi(2), 0.05_f64.powi(2), 0.04_f64.powi(2), 0.05_f64.powi(2));
        StageModel {
            offset: [-0.62, -0.34, -0.20, 0.0, 0.16],
            covariance: [
                [bud, colour, floret, 0.0, 0.0],
                [colour, colour, floret, 0.0, 0.0],
                [floret, floret, floret, 0.0, 0.0],
                [0.0; STAGES],
                [0.0, 0.0, 0.0, 0.0, past],
            ],
            with_ready: [0.0; STAGES],
        }
    }
}

/// Sweeps of the expectation-maximisation, and the change of any entry at which they end.
const MOST_SWEEPS: usize = 1_000;
const SETTLED: f64 = 1e-12;

impl StageModel {
    /// The posterior mode of mean and covariance under a prior that weighs like `strength` plants seen at
    /// every stage: no plants gives the prior itself, many give their own mean and covariance.
    ///
    /// Missing entries are filled by expectation-maximisation (Dempster, Laird & Rubin 1977, Journal of the
    /// Royal Statistical Society B 39:1-38). Plants with no increment at all add nothing. The prior's
    /// correlations with the requirement are kept as they are. Cost: plants x sweeps, usually tens.
    pub fn learn(plants: &[Increments], prior: &StageModel, strength: f64) -> Result<StageModel, StageError> {
        prior.check()?;
        let finite = |plant: &Increments| plant.iter().flatten().all(|value| value.is_finite());
        if !(strength.is_finite() && strength > 0.0 && plants.iter().all(finite)) {
            return Err(StageError::BadNumber);
        }
        let seen: Vec<Increments> = plants
            .iter()
            .map(|plant| {
                let mut plant = *plant;
                plant[READY] = None;
                plant
            })
            .filter(|plant| plant.iter().any(Option::is_some))
            .collect();
        let mut now = Joint { mean: prior.offset, covariance: prior.covariance };
        if seen.is_empty() {
            return Ok(prior.clone());
        }
        let weight = strength + seen.len() as f64;
        for _ in 0..MOST_SWEEPS {
            let filled: Vec<Joint> = seen
                .iter()
                .map(|plant| {
                    let mut own = now.clone();
                    for (stage, value) in plant.iter().enumerate() {
                        if let Some(value) = value {
                            own.see(stage, *value, 0.0);
                        }
                    }
                    own
                })
                .collect();
            let mut next = Joint { mean: [0.0; STAGES], covariance: [[0.0; STAGES]; STAGES] };
            for j in 0..STAGES {
                let sum: f64 = filled.iter().map(|own| own.mean[j]).sum();
                next.mean[j] = (strength * prior.offset[j] + sum) / weight;
            }
            for j in 0..STAGES {
                for k in 0..STAGES {
                    let product = |mean: &[f64; STAGES]| (mean[j] - next.mean[j]) * (mean[k] - next.mean[k]);
                    let sum: f64 = filled.iter().map(|own| own.covariance[j][k] + product(&own.mean)).sum();
                    let before = prior.covariance[j][k] + product(&prior.offset);
                    next.covariance[j][k] = (strength * before + sum) / weight;
                }
            }
            let moved = now.distance(&next);
            now = next;
            if moved < SETTLED {
                break;
            }
        }
        let mut with_ready = prior.with_ready;
        for (k, covariance) in with_ready.iter_mut().enumerate() {
            if *covariance != 0.0 {
                *covariance *= (now.covariance[k][k] / prior.covariance[k][k]).sqrt();
            }
        }
        Ok(StageModel { offset: now.mean, covariance: now.covariance, with_ready })
    }

    fn check(&self) -> Result<(), StageError> {
        let rows = self.covariance.iter().flatten();
        if !self.offset.iter().chain(rows).chain(&self.with_ready).all(|value| value.is_finite()) {
            return Err(StageError::BadNumber);
        }
        let ready_is_zero = self.offset[READY] == 0.0
            && self.with_ready[READY] == 0.0
            && (0..STAGES).all(|k| self.covariance[k][READY] == 0.0);
        if ready_is_zero && is_covariance(&self.covariance) {
            Ok(())
        } else {
            Err(StageError::NotACovariance)
        }
    }
}

/// Mean and covariance of a normal over the stages.
#[derive(Debug, Clone)]
struct Joint {
    mean: [f64; STAGES],
    covariance: [[f64; STAGES]; STAGES],
}

impl Joint {
    /// Conditions on entry `stage` seen as `value` with an error of variance `error`.
    fn see(&mut self, stage: usize, value: f64, error: f64) {
        let column = self.covariance.map(|row| row[stage]);
        let variance = column[stage] + error;
        // An entry already known exactly has nothing to learn.
        if variance <= 0.0 {
            return;
        }
        let surprise = (value - self.mean[stage]) / variance;
        for j in 0..STAGES {
            self.mean[j] += column[j] * surprise;
            for k in 0..STAGES {
                self.covariance[j][k] -= column[j] * column[k] / variance;
            }
        }
        if error <= 0.0 {
            // Exactly, not to rounding, so that a later entry is not divided by what is left over.
            self.mean[stage] = value;
            for k in 0..STAGES {
                self.covariance[stage][k] = 0.0;
                self.covariance[k][stage] = 0.0;
            }
        }
        for j in 0..STAGES {
            self.covariance[j][j] = self.covariance[j][j].max(0.0);
        }
    }

    fn distance(&self, other: &Joint) -> f64 {
        let means = self.mean.iter().zip(&other.mean);
        let covariances = self.covariance.iter().flatten().zip(other.covariance.iter().flatten());
        means.chain(covariances).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
    }
}

/// Symmetric and positive semidefinite, to rounding: every pivot of its elimination is at least about zero.
fn is_covariance(matrix: &[[f64; STAGES]; STAGES]) -> bool {
    let scale = (0..STAGES).map(|k| matrix[k][k].abs()).fold(0.0, f64::max);
    let nothing = 1e-10 * scale;
    let mut left = *matrix;
    for k in 0..STAGES {
        if (0..STAGES).any(|j| (matrix[j][k] - matrix[k][j]).abs() > nothing) || left[k][k] < -nothing {
            return false;
        }
        if left[k][k] <= nothing {
            // No variance left: no covariance may be left either.
            if (k + 1..STAGES).any(|j| left[j][k].powi(2) > 2.0 * nothing * scale) {
                return false;
            }
            continue;
        }
        let pivot_row = left[k];
        for row in left.iter_mut().skip(k + 1) {
            let share = row[k] / pivot_row[k];
            for (entry, above) in row.iter_mut().zip(&pivot_row).skip(k + 1) {
                *entry -= share * above;
            }
        }
    }
    true
}

/// What is expected of one plant: the joint normal of its log heats at the stages.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    pub mean: [f64; STAGES],
    pub covariance: [[f64; STAGES]; STAGES],
}

impl Outlook {
    /// From a show-ready requirement `N(mean_log, sd_log^2)`:
    /// `covariance[j][k] = sd_log^2 + c_j + c_k + covariance(delta_j, delta_k)` with `c` the covariances of
    /// the increments with the requirement.
    pub fn new(mean_log: f64, sd_log: f64, model: &StageModel) -> Result<Outlook, StageError> {
        if !(mean_log.is_finite() && sd_log.is_finite() && sd_log > 0.0) {
            return Err(StageError::BadNumber);
        }
        model.check()?;
        let mean = model.offset.map(|offset| mean_log + offset);
        let mut covariance = model.covariance;
        for (j, row) in covariance.iter_mut().enumerate() {
            for (k, entry) in row.iter_mut().enumerate() {
                *entry += sd_log.powi(2) + model.with_ready[j] + model.with_ready[k];
            }
        }
        if !is_covariance(&covariance) {
            return Err(StageError::NotACovariance);
        }
        Ok(Outlook { mean, covariance })
    }

    /// The outlook once `stage` was seen on a day: it came between the two log heats, those at the start and
    /// at the end of that day.
    ///
    /// The sighting counts as the middle of the two with an error of variance `(end - start)^2 / 12`, that of
    /// a uniform (Sheppard 1898, Proceedings of the London Mathematical Society 29:353-380).
    pub fn given_day(
        &self,
        stage: Stage,
        log_heat_before: f64,
        log_heat_after: f64,
    ) -> Result<Outlook, StageError> {
        if !(log_heat_before.is_finite() && log_heat_after.is_finite() && log_heat_before <= log_heat_after) {
            return Err(StageError::BadDay);
        }
        let mut joint = Joint { mean: self.mean, covariance: self.covariance };
        let middle = f64::midpoint(log_heat_before, log_heat_after);
        joint.see(stage.index(), middle, (log_heat_after - log_heat_before).powi(2) / 12.0);
        Ok(Outlook { mean: joint.mean, covariance: joint.covariance })
    }

    /// Mean of the log heat at a stage.
    pub fn mean_log(&self, stage: Stage) -> f64 {
        self.mean[stage.index()]
    }

    /// Covariance of the log heats at two stages.
    pub fn covariance_of(&self, one: Stage, other: Stage) -> f64 {
        self.covariance[one.index()][other.index()]
    }

    /// Standard deviation of the log heat at a stage.
    pub fn sd_log(&self, stage: Stage) -> f64 {
        self.covariance[stage.index()][stage.index()].sqrt()
    }
}
