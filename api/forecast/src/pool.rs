//! What the members' records say a cultivar needs: estimates shrunk towards group and handbook.
//!
//! With the standard deviations of [`Spreads`] taken as known, `y` the log requirements and `n_c` the
//! records of cultivar `c`:
//!
//! ```text
//! w_c     = 1 / (sd_cultivar^2 + sd_residual^2 / n_c)
//! m       = sum(w_c ybar_c) / sum(w_c),     v = 1 / sum(w_c) + shared
//! group   = (ln F / sd_handbook^2 + m / v) / (1 / sd_handbook^2 + 1 / v)
//! b_c     = n_c / (n_c + sd_residual^2 / sd_cultivar^2)
//! cultivar = group + b_c (ybar_c - group)
//! ```
//!
//! `shared` is the error that more records of the same growers and the same seasons do not average out:
//! `sd_grower^2 H_growers + sd_season^2 H_seasons`, `H` the sum of squared shares of the records. It
//! also widens the cultivar's own mean. Errors of the group mean and of the cultivar's mean are treated
//! as independent, an approximation a mixed model fitted as a whole does not need.

use std::collections::BTreeMap;

/// Standard deviations on the log scale. The defaults are this project's starting values, from memory of
/// similar trials, not estimated from pelargonium records.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spreads {
    pub handbook: f64,
    pub cultivar: f64,
    pub grower: f64,
    pub region_season: f64,
    pub residual: f64,
}

impl Default for Spreads {
    fn default() -> Self {
        Spreads { handbook: 0.20, cultivar: 0.08, grower: 0.06, region_season: 0.06, residual: 0.12 }
    }
}

/// One plant's stop-to-event heat. Indices are the caller's; those of cultivars, growers and seasons may
/// have holes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Index into the handbook table.
    pub group: usize,
    pub cultivar: usize,
    pub grower: usize,
    /// One index for each pair of region and season.
    pub region_season: usize,
    /// Natural logarithm of the degree-days taken, see [`log_requirement`].
    pub log_requirement: f64,
}

/// Least heat from stop to event that is believed, degree-days.
pub const LEAST_DEGREE_DAYS: f64 = 200.0;
/// Most heat from stop to event that is believed, degree-days.
pub const MOST_DEGREE_DAYS: f64 = 5_000.0;

/// Why a record takes no part in the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SetAside {
    /// The event is dated before the stop.
    EventBeforeStop,
    /// The region has no weather for one of the days.
    WeatherMissing,
    /// No heat at all between stop and event.
    NoHeat,
    /// Fewer than [`LEAST_DEGREE_DAYS`]: most likely a stop or an event entered late or for another plant.
    TooLittleHeat,
    /// More than [`MOST_DEGREE_DAYS`]: most likely a later stop was not entered.
    TooMuchHeat,
}

impl std::fmt::Display for SetAside {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            SetAside::EventBeforeStop => "the event is dated before the stop",
            SetAside::WeatherMissing => "the region has no weather for a day between stop and event",
            SetAside::NoHeat => "no heat between stop and event",
            SetAside::TooLittleHeat => "too little heat between stop and event to be believed",
            SetAside::TooMuchHeat => "too much heat between stop and event to be believed",
        })
    }
}

impl std::error::Error for SetAside {}

/// The log requirement of a plant stopped and ready on the given days, or why its record is set aside.
pub fn log_requirement(
    table: &crate::series::HeatTable,
    stop_day: i32,
    event_day: i32,
) -> Result<f64, SetAside> {
    if event_day < stop_day {
        return Err(SetAside::EventBeforeStop);
    }
    let heat = table.to_midday(stop_day, event_day).ok_or(SetAside::WeatherMissing)?;
    if heat <= 0.0 {
        Err(SetAside::NoHeat)
    } else if heat < LEAST_DEGREE_DAYS {
        Err(SetAside::TooLittleHeat)
    } else if heat > MOST_DEGREE_DAYS {
        Err(SetAside::TooMuchHeat)
    } else {
        Ok(heat.ln())
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PoolError {
    /// A handbook requirement is not a positive finite number.
    BadHandbook { group: usize },
    /// A standard deviation is not finite, is negative, or is zero where it divides.
    BadSpread,
    /// The group of this observation (by its place in the slice) is not in the handbook.
    UnknownGroup { observation: usize },
    /// The log requirement of this observation is not a finite number.
    NotFinite { observation: usize },
}

impl std::fmt::Display for PoolError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            PoolError::BadHandbook { group } => {
                write!(f, "handbook requirement of group {group} is not positive")
            }
            PoolError::BadSpread => write!(f, "a standard deviation is not a usable number"),
            PoolError::UnknownGroup { observation } => {
                write!(f, "observation {observation} names an unknown group")
            }
            PoolError::NotFinite { observation } => {
                write!(f, "observation {observation} is not a finite number")
            }
        }
    }
}

impl std::error::Error for PoolError {}

/// How much stands behind a figure.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Support {
    pub records: usize,
    /// Distinct growers.
    pub growers: usize,
    /// Distinct pairs of region and season.
    pub region_seasons: usize,
    /// Share of the records that the grower with most of them holds, 0 to 1.
    pub largest_grower_share: f64,
}

/// The most specific level that has records.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    Cultivar,
    Group,
    Handbook,
}

/// What one more plant is predicted to need.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Requirement {
    /// Mean of the natural logarithm of the degree-days.
    pub mean_log: f64,
    /// Standard deviation of that logarithm for a new plant of an unknown grower in a new season.
    pub sd_log: f64,
    /// Median requirement, degree-days: `exp(mean_log)`.
    pub degree_days: f64,
    pub basis: Basis,
    /// Weight of the cultivar's own mean against its group, 0 to 1.
    pub cultivar_weight: f64,
    pub cultivar: Support,
    pub group: Support,
}

#[derive(Debug, Clone, Default, PartialEq)]
struct Cell {
    records: usize,
    sum: f64,
    growers: BTreeMap<usize, usize>,
    region_seasons: BTreeMap<usize, usize>,
}

impl Cell {
    fn add(&mut self, observation: &Observation) {
        self.records += 1;
        self.sum += observation.log_requirement;
        *self.growers.entry(observation.grower).or_default() += 1;
        *self.region_seasons.entry(observation.region_season).or_default() += 1;
    }

    fn mean(&self) -> f64 {
        self.sum / self.records as f64
    }

    /// Variance of the mean that comes from records sharing growers and seasons.
    fn shared_variance(&self, spreads: &Spreads) -> f64 {
        let squared_shares = |counts: &BTreeMap<usize, usize>| -> f64 {
            counts.values().map(|&count| (count as f64 / self.records as f64).powi(2)).sum()
        };
        spreads.grower.powi(2) * squared_shares(&self.growers)
            + spreads.region_season.powi(2) * squared_shares(&self.region_seasons)
    }

    fn support(&self) -> Support {
        let largest = self.growers.values().max().copied().unwrap_or(0);
        Support {
            records: self.records,
            growers: self.growers.len(),
            region_seasons: self.region_seasons.len(),
            largest_grower_share: if self.records == 0 { 0.0 } else { largest as f64 / self.records as f64 },
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Estimate {
    mean: f64,
    variance: f64,
    weight: f64,
    support: Support,
}

/// The estimates of every group and of every cultivar with a record.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    spreads: Spreads,
    groups: Vec<Estimate>,
    cultivars: BTreeMap<(usize, usize), Estimate>,
}

impl Pool {
    /// `handbook[g]` is the prior requirement of group `g` in degree-days.
    pub fn fit(handbook: &[f64], observations: &[Observation], spreads: Spreads) -> Result<Pool, PoolError> {
        check(handbook, &spreads)?;
        let mut by_group = vec![Cell::default(); handbook.len()];
        let mut by_cultivar: BTreeMap<(usize, usize), Cell> = BTreeMap::new();
        for (number, observation) in observations.iter().enumerate() {
            if !observation.log_requirement.is_finite() {
                return Err(PoolError::NotFinite { observation: number });
            }
            by_group
                .get_mut(observation.group)
                .ok_or(PoolError::UnknownGroup { observation: number })?
                .add(observation);
            by_cultivar.entry((observation.group, observation.cultivar)).or_default().add(observation);
        }

        let (cultivar_var, residual_var) = (spreads.cultivar.powi(2), spreads.residual.powi(2));
        let groups: Vec<Estimate> = (0..)
            .zip(handbook.iter().zip(&by_group))
            .map(|(group, (&degree_days, cell))| {
                let (mut weights, mut weighted) = (0.0, 0.0);
                for own in by_cultivar.range((group, 0)..=(group, usize::MAX)).map(|(_, own)| own) {
                    let weight = 1.0 / (cultivar_var + residual_var / own.records as f64);
                    weights += weight;
                    weighted += weight * own.mean();
                }
                let prior = 1.0 / spreads.handbook.powi(2);
                let data =
                    if weights > 0.0 { 1.0 / (1.0 / weights + cell.shared_variance(&spreads)) } else { 0.0 };
                let records_mean = if weights > 0.0 { weighted / weights } else { 0.0 };
                Estimate {
                    mean: (prior * degree_days.ln() + data * records_mean) / (prior + data),
                    variance: 1.0 / (prior + data),
                    weight: data / (prior + data),
                    support: cell.support(),
                }
            })
            .collect();

        let cultivars = by_cultivar
            .iter()
            .filter_map(|(&(group, cultivar), cell)| {
                let parent = groups.get(group)?;
                let records = cell.records as f64;
                let weight = records / (records + residual_var / cultivar_var);
                let variance = (1.0 - weight).powi(2) * parent.variance
                    + weight * residual_var / records
                    + weight.powi(2) * cell.shared_variance(&spreads);
                let mean = parent.mean + weight * (cell.mean() - parent.mean);
                Some(((group, cultivar), Estimate { mean, variance, weight, support: cell.support() }))
            })
            .collect();
        Ok(Pool { spreads, groups, cultivars })
    }

    /// The prediction for one more plant of a cultivar; of any cultivar of the group when `cultivar` is
    /// `None` (which is also how a caller falls back where too few growers stand behind a cultivar).
    /// `None` for a group that is not in the handbook.
    pub fn requirement(&self, group: usize, cultivar: Option<usize>) -> Option<Requirement> {
        let parent = self.groups.get(group)?;
        let own = cultivar.and_then(|cultivar| self.cultivars.get(&(group, cultivar)));
        let (mean_log, variance) = match own {
            Some(own) => (own.mean, own.variance),
            None => (parent.mean, parent.variance + self.spreads.cultivar.powi(2)),
        };
        let new_plant =
            self.spreads.grower.powi(2) + self.spreads.region_season.powi(2) + self.spreads.residual.powi(2);
        Some(Requirement {
            mean_log,
            sd_log: (variance + new_plant).sqrt(),
            degree_days: mean_log.exp(),
            basis: match own {
                Some(_) => Basis::Cultivar,
                None if parent.support.records > 0 => Basis::Group,
                None => Basis::Handbook,
            },
            cultivar_weight: own.map_or(0.0, |own| own.weight),
            cultivar: own.map_or_else(Support::default, |own| own.support),
            group: parent.support,
        })
    }
}

fn check(handbook: &[f64], spreads: &Spreads) -> Result<(), PoolError> {
    let positive = |value: f64| value.is_finite() && value > 0.0;
    if let Some(group) = handbook.iter().position(|&degree_days| !positive(degree_days)) {
        return Err(PoolError::BadHandbook { group });
    }
    let may_be_zero = [spreads.grower, spreads.region_season];
    let divides = [spreads.handbook, spreads.cultivar, spreads.residual];
    if divides.iter().all(|&sd| positive(sd)) && may_be_zero.iter().all(|&sd| sd.is_finite() && sd >= 0.0) {
        Ok(())
    } else {
        Err(PoolError::BadSpread)
    }
}
