//! How many of several plants stand in condition at once, where they share part of what moves their dates.
//!
//! Given what they share the plants are independent (a model of one factor: Vasicek 2002, Risk 15(12):160-162), so the
//! chances of none, one and two are a product for each value of it, and the whole an integral over a normal.

use storksbill_numerics::normal;

/// One plant's chances, as a lateness `sqrt(shared) z + sqrt(1 - shared) e` of two standard normals: over below
/// one threshold, too early above another, in condition between. `z` is one for all plants, so they stand or
/// fall together as far as they share; each alone has the chances it was given.
#[derive(Debug, Clone, Copy)]
pub struct SharedChances {
    /// The chance of being in condition.
    pub ready: f64,
    over_below: f64,
    early_above: f64,
    shared: f64,
}

impl SharedChances {
    /// Chances of being past its best and of being in condition on the day, and the share of the variance of its
    /// date that the plant has in common with the others, 0 to 1.
    pub fn new(over: f64, ready: f64, shared: f64) -> Self {
        Self {
            ready,
            over_below: normal::quantile(over.clamp(0.0, 1.0)),
            early_above: normal::quantile((over + ready).clamp(0.0, 1.0)),
            shared: shared.clamp(0.0, 0.999),
        }
    }

    fn given(&self, z: f64) -> f64 {
        let below =
            |threshold: f64| normal::cdf((threshold - self.shared.sqrt() * z) / (1.0 - self.shared).sqrt());
        (below(self.early_above) - below(self.over_below)).clamp(0.0, 1.0)
    }
}

/// Nodes each side of the middle, and their distance: the trapezium rule to 6 standard deviations.
const NODES: i32 = 60;
const STEP: f64 = 0.1;

/// The chances that at least one, two, three of the plants are in condition.
pub fn at_least(plants: &[SharedChances]) -> [f64; 3] {
    let (mut at_least, mut weights) = ([0.0; 3], 0.0);
    for z in (-NODES..=NODES).map(|node| f64::from(node) * STEP) {
        let weight = normal::density(z);
        weights += weight;
        // None, one or two of the plants so far.
        let [mut none, mut one, mut two] = [1.0, 0.0, 0.0];
        for p in plants.iter().map(|plant| plant.given(z)) {
            two += p * (one - two);
            one += p * (none - one);
            none -= p * none;
        }
        let fewer = [none, none + one, none + one + two];
        for (sum, fewer) in at_least.iter_mut().zip(fewer) {
            *sum += weight * (1.0 - fewer);
        }
    }
    at_least.map(|sum| (sum / weights).clamp(0.0, 1.0))
}
