//! How often a cross succeeds, stage by stage, learned from all crosses alike.
//!
//! # Model
//!
//! At one stage (florets that took, seeds of the ovules of those, seedlings of the seeds sown, kept of the
//! seedlings) and for one pair of plant groups in one direction:
//!
//! ```text
//! rate of a seed parent   m ~ Beta(a, b)
//! rate of one of its crosses  r ~ Beta(k m, k (1 - m))
//! count                   y ~ Binomial(n, r)
//! ```
//!
//! `a`, `b`, `k` are those of the greatest likelihood, `m` integrated out. A rate is then told as the posterior
//! mean and an equal-tailed interval: a cross with few florets lies near its seed parent, a seed parent with
//! few crosses near its group. Reciprocal crosses are different pairs and share nothing.
//!
//! With too little to tell seed parents apart (fewer than three, or fewer than two with two crosses) crosses are
//! pooled straight under the group: `r ~ Beta(a, b)`. Where rates differ no more than chance alone would make
//! them, the likelihood has its maximum at `a + b` without end and all are one binomial. With fewer than three
//! crosses nothing is learned from others and each has the prior Beta(1, 1); every answer says which it is.
//!
//! # Sources
//!
//! J. G. Skellam, Journal of the Royal Statistical Society B 10, 1948, 257-261; A. Gelman, J. B. Carlin,
//! H. S. Stern, D. B. Dunson, A. Vehtari, D. B. Rubin, "Bayesian Data Analysis", 3rd ed. 2014, chapter 5.
//!
//! # Cost
//!
//! Two levels: a few passes over the crosses. Three levels: some hundred evaluations of about 150 points a
//! cross, for a job at night.

use std::collections::BTreeMap;

use crate::beta_binomial::{BetaBinomial, Hyperprior, Spread, Trials};
use crate::intervals::{Confidence, Interval};
use crate::nested::{Nested, Told};

/// Fewer crosses than this do not make a pool.
const FEWEST_CROSSES: usize = 3;

/// A stage of a cross.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// Florets that took, of those worked.
    Took,
    /// Seeds, of the ovules in the florets that took.
    Seeded,
    /// Seedlings, of the seeds sown.
    Germinated,
    /// Plants kept, of the seedlings.
    Kept,
}

/// What was counted on one cross; each count may be missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct StageCounts {
    pub florets: Option<u64>,
    pub took: Option<u64>,
    pub seeds: Option<u64>,
    pub sown: Option<u64>,
    pub germinated: Option<u64>,
    pub kept: Option<u64>,
}

/// A count that is more than the one before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{count} ({given}) cannot be more than {before} ({most})")]
pub struct Exceeds {
    pub count: &'static str,
    pub given: u64,
    pub before: &'static str,
    pub most: u64,
}

impl StageCounts {
    /// That no count is more than the nearest known count before it. Florets and seeds are of different kinds:
    /// see [`Self::most_seeds`].
    ///
    /// # Errors
    ///
    /// The first count that is too large, and the one it is held against.
    pub fn check(&self) -> Result<(), Exceeds> {
        for chain in [
            &[("florets", self.florets), ("took", self.took)][..],
            &[
                ("seeds", self.seeds),
                ("sown", self.sown),
                ("germinated", self.germinated),
                ("kept", self.kept),
            ],
        ] {
            let mut before: Option<(&'static str, u64)> = None;
            for &(count, given) in chain {
                let Some(given) = given else { continue };
                if let Some((before, most)) = before.filter(|&(_, most)| given > most) {
                    return Err(Exceeds { count, given, before, most });
                }
                before = Some((count, given));
            }
        }
        Ok(())
    }

    /// The most seeds the florets that took can hold.
    pub fn most_seeds(&self, ovules: u32) -> Option<u64> {
        self.took.map(|took| took.saturating_mul(u64::from(ovules)))
    }

    /// The counts of a stage, `ovules` being the most seeds a floret can hold. `None` when one is missing or
    /// they contradict each other.
    pub fn trials(&self, stage: Stage, ovules: u32) -> Option<Trials> {
        let (count, of) = match stage {
            Stage::Took => (self.took, self.florets),
            Stage::Seeded => (self.seeds, self.most_seeds(ovules)),
            Stage::Germinated => (self.germinated, self.sown),
            Stage::Kept => (self.kept, self.germinated),
        };
        Trials::new(count?, of?).filter(|trials| trials.of() > 0)
    }
}

/// A pair of plant groups, in this direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct GroupPair {
    pub seed_group: u32,
    pub pollen_group: u32,
}

/// One record of a cross. Records of the same two parents are one cross.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CrossRecord {
    pub groups: GroupPair,
    pub seed_parent: u64,
    pub pollen_parent: u64,
    pub counts: StageCounts,
}

/// What an estimate leans on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Group, seed parent, cross.
    ThreeLevels,
    /// Group and cross: too little to tell seed parents apart.
    TwoLevels,
    /// Rates do not differ beyond chance: one rate for the group.
    OneRate,
    /// Fewer than three crosses: the weak prior Beta(1, 1) and the plant's own counts.
    WeakPrior,
}

/// A rate of success.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    pub mean: f64,
    pub interval: Interval,
    pub basis: Basis,
    /// The counts of just what was asked for.
    pub own: Trials,
    /// Records with just what was asked for.
    pub own_records: usize,
    /// Records, crosses and seed parents of the group behind it.
    pub records: usize,
    pub crosses: usize,
    pub seed_parents: usize,
}

/// The pools of one stage, by group pair.
#[derive(Debug, Clone)]
pub struct Pools {
    pools: BTreeMap<GroupPair, Pool>,
    /// Records without the counts of this stage, or with counts that contradict each other.
    pub left_out: usize,
}

/// One group pair.
#[derive(Debug, Clone)]
struct Pool {
    /// By seed parent, then pollen parent.
    crosses: BTreeMap<u64, BTreeMap<u64, Tally>>,
    shape: Shape,
}

#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    trials: Trials,
    records: usize,
}

impl Tally {
    fn plus(self, other: Self) -> Self {
        Self { trials: self.trials.plus(other.trials), records: self.records + other.records }
    }
}

#[derive(Debug, Clone, Copy)]
enum Shape {
    Three(Nested),
    Two(BetaBinomial),
    One(BetaBinomial),
    Weak,
}

impl Pools {
    /// Pools one stage of all crosses; `ovules` is the most seeds a floret can hold.
    pub fn new(records: &[CrossRecord], stage: Stage, ovules: u32) -> Self {
        let mut pools: BTreeMap<GroupPair, Pool> = BTreeMap::new();
        let mut left_out = 0;
        for record in records {
            let Some(trials) = record.counts.trials(stage, ovules) else {
                left_out += 1;
                continue;
            };
            let pool = pools
                .entry(record.groups)
                .or_insert_with(|| Pool { crosses: BTreeMap::new(), shape: Shape::Weak });
            let tally =
                pool.crosses.entry(record.seed_parent).or_default().entry(record.pollen_parent).or_default();
            *tally = tally.plus(Tally { trials, records: 1 });
        }
        for pool in pools.values_mut() {
            pool.shape = pool.learn();
        }
        Self { pools, left_out }
    }

    /// A seed parent of the pair nothing else is known of.
    pub fn group(&self, groups: GroupPair, confidence: Confidence) -> Estimate {
        let Some(pool) = self.pools.get(&groups) else {
            return Pool::empty().weak(Tally::default(), confidence);
        };
        let own = pool.all();
        match pool.shape {
            Shape::Three(nested) => pool.estimate(nested.between, Basis::ThreeLevels, own, confidence),
            Shape::Two(between) => pool.estimate(between, Basis::TwoLevels, own, confidence),
            Shape::One(rate) => pool.estimate(rate, Basis::OneRate, own, confidence),
            Shape::Weak => pool.weak(own, confidence),
        }
    }

    /// A seed parent with pollen of a group. In two levels seed parents are not told apart, and this is the
    /// group's answer.
    pub fn seed_parent(&self, groups: GroupPair, seed_parent: u64, confidence: Confidence) -> Estimate {
        let Some(pool) = self.pools.get(&groups) else {
            return Pool::empty().weak(Tally::default(), confidence);
        };
        let own = pool.of_seed_parent(seed_parent);
        match pool.shape {
            Shape::Three(nested) => {
                let told = nested.seed_parent(&pool.trials_of(seed_parent), confidence);
                pool.told(told, Basis::ThreeLevels, own)
            }
            Shape::Two(between) => pool.estimate(between, Basis::TwoLevels, own, confidence),
            Shape::One(rate) => pool.estimate(rate, Basis::OneRate, own, confidence),
            Shape::Weak => pool.weak(own, confidence),
        }
    }

    /// A cross, tried or not.
    pub fn cross(
        &self,
        groups: GroupPair,
        seed_parent: u64,
        pollen_parent: u64,
        confidence: Confidence,
    ) -> Estimate {
        let Some(pool) = self.pools.get(&groups) else {
            return Pool::empty().weak(Tally::default(), confidence);
        };
        let crosses = pool.crosses.get(&seed_parent);
        let own = crosses.and_then(|crosses| crosses.get(&pollen_parent)).copied().unwrap_or_default();
        match pool.shape {
            Shape::Three(nested) => {
                let told = nested.cross(&pool.trials_of(seed_parent), own.trials, confidence);
                pool.told(told, Basis::ThreeLevels, own)
            }
            Shape::Two(between) => {
                pool.estimate(between.posterior(own.trials), Basis::TwoLevels, own, confidence)
            }
            Shape::One(rate) => pool.estimate(rate, Basis::OneRate, own, confidence),
            Shape::Weak => pool.weak(own, confidence),
        }
    }
}

impl Pool {
    fn empty() -> Self {
        Self { crosses: BTreeMap::new(), shape: Shape::Weak }
    }

    fn all(&self) -> Tally {
        self.crosses.keys().fold(Tally::default(), |sum, &parent| sum.plus(self.of_seed_parent(parent)))
    }

    fn of_seed_parent(&self, seed_parent: u64) -> Tally {
        let crosses = self.crosses.get(&seed_parent).into_iter().flat_map(BTreeMap::values);
        crosses.fold(Tally::default(), |sum, &tally| sum.plus(tally))
    }

    fn trials_of(&self, seed_parent: u64) -> Vec<Trials> {
        let crosses = self.crosses.get(&seed_parent).into_iter().flat_map(BTreeMap::values);
        crosses.map(|tally| tally.trials).collect()
    }

    fn learn(&self) -> Shape {
        let by_seed_parent: Vec<Vec<Trials>> =
            self.crosses.keys().map(|&parent| self.trials_of(parent)).collect();
        let crosses = by_seed_parent.concat();
        if crosses.len() < FEWEST_CROSSES {
            return Shape::Weak;
        }
        let fit = match BetaBinomial::fit(&crosses, Hyperprior::Flat) {
            Spread::Between(fit) => fit.distribution,
            // Jeffreys's prior, so that 0 of many is told with an interval and not as never.
            Spread::None(all) => {
                return Shape::One(BetaBinomial { alpha: 0.5, beta: 0.5 }.posterior(all));
            }
        };
        let repeated = by_seed_parent.iter().filter(|crosses| crosses.len() > 1).count();
        if by_seed_parent.len() < 3 || repeated < 2 {
            return Shape::Two(fit);
        }
        Shape::Three(Nested::fit(&by_seed_parent, fit))
    }

    fn weak(&self, own: Tally, confidence: Confidence) -> Estimate {
        let rate = BetaBinomial { alpha: 1.0, beta: 1.0 }.posterior(own.trials);
        self.estimate(rate, Basis::WeakPrior, own, confidence)
    }

    fn estimate(&self, rate: BetaBinomial, basis: Basis, own: Tally, confidence: Confidence) -> Estimate {
        let told = Told { mean: rate.mean(), interval: rate.interval(confidence) };
        self.told(told, basis, own)
    }

    fn told(&self, told: Told, basis: Basis, own: Tally) -> Estimate {
        Estimate {
            mean: told.mean,
            interval: told.interval,
            basis,
            own: own.trials,
            own_records: own.records,
            records: self.all().records,
            crosses: self.crosses.values().map(BTreeMap::len).sum(),
            seed_parents: self.crosses.len(),
        }
    }
}
