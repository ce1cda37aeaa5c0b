//! The mixed model of the pooled records: estimated in full now and then, refreshed at every new record.
//!
//! With `A` the heat from stop to show-ready above the group's base,
//!
//! ```text
//! ln A = group + environment                       fixed
//!      + cultivar + grower + region:season (+ region:season:group where there are five groups or more)
//!      + residual                                  random
//! ```
//!
//! [`estimate`] finds what is slow to find and slow to change: the standard deviations (restricted maximum
//! likelihood, drawn weakly towards the starting values), each group's base temperature (profile
//! likelihood) and the calibration factors (leaving out one season at a time). [`refresh`] takes those as
//! given and works out the effects and their joint posterior in one factorisation. Both are functions of
//! their arguments alone.
//!
//! The profile likelihood of a base compares likelihoods of *dates*: heat above another base is another
//! variable, so the density of `ln A` is multiplied by the slope of `ln A` on the date,
//! `l(base) = -criterion / 2 + sum ln(a / A)` with `a` the mean heat a day of the seven days about the
//! event. Without that term the least base offered always wins.
//!
//! Seasons that are over enter the mixed model. The season under way enters as one effect a region, whose
//! posterior is worked out on a grid from the plants already ready and those not yet: a plant with nothing
//! written is held to be not ready with the probability that growers write a readiness down at all, and
//! only up to the day its grower last wrote anything. Leaving such plants out would make every spring look
//! early, for early plants write first.
//!
//! A record without show-ready but with another stage enters through that stage less its usual increment,
//! with the weight `residual^2 / (residual^2 + increment variance)`.
//!
//! Sources: Bates, Maechler, Bolker & Walker 2015, Journal of Statistical Software 67(1) (criterion,
//! posterior); Box & Cox 1964, Journal of the Royal Statistical Society B 26:211-252 (the Jacobian);
//! Robinson 1991, Statistical Science 6:15-51. The starting values are this project's own.
#![allow(clippy::indexing_slicing, reason = "numeric kernel: indices are made here, row by row")]

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::hash::Hash;

use storksbill_numerics::normal;

use crate::degree_days::HeatRule;
use crate::mixed::{Criterion, Factor, MixedError, Model, Options, Penalty, Pick, Prior, Solution};
use crate::records::{Believed, FURTHEST_SDS, Place, SetAside, Wait, doubt, heat_to, repeated};
use crate::series::HeatTable;
use crate::stages::{Increments, STAGES, Stage, StageModel};

/// Standard deviations on the log scale. A factor of zero is left out of the model.
///
/// The defaults are this project's starting values, from memory of similar trials, not estimated from
/// pelargonium records.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spreads {
    /// Of a group's mean about the handbook.
    pub handbook: f64,
    /// Of one kind of house against another.
    pub environment: f64,
    pub cultivar: f64,
    pub grower: f64,
    pub region_season: f64,
    /// Of a group within a region's season.
    pub region_season_group: f64,
    pub residual: f64,
}

impl Default for Spreads {
    fn default() -> Self {
        Spreads {
            handbook: 0.20,
            environment: 0.10,
            cultivar: 0.08,
            grower: 0.06,
            region_season: 0.06,
            region_season_group: 0.03,
            residual: 0.12,
        }
    }
}

impl Spreads {
    fn factors(&self) -> [f64; FACTORS] {
        [self.cultivar, self.grower, self.region_season, self.region_season_group]
    }

    fn usable(&self) -> bool {
        let at_least_zero = self.factors().iter().all(|sd| sd.is_finite() && *sd >= 0.0);
        at_least_zero && [self.handbook, self.environment, self.residual].iter().all(|sd| *sd > 0.0)
    }
}

const FACTORS: usize = 4;
const CULTIVAR: usize = 0;
const GROWER: usize = 1;
const REGION_SEASON: usize = 2;
const REGION_SEASON_GROUP: usize = 3;
/// So many groups make their own seasons worth telling apart.
const GROUPS_FOR_OWN_SEASONS: usize = 5;

/// So many records and so many seasons.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Enough {
    pub records: usize,
    pub seasons: usize,
}

impl Enough {
    fn met(self, records: usize, seasons: usize) -> bool {
        records >= self.records && seasons >= self.seasons
    }
}

/// How each group's base temperature is looked for.
#[derive(Debug, Clone, PartialEq)]
pub struct BaseSearch {
    /// Bases tried, degrees C.
    pub grid: Vec<f64>,
    /// Normal prior of the base, degrees C.
    pub prior_mean: f64,
    pub prior_sd: f64,
    /// A group with fewer keeps the base of the rule.
    pub enough: Enough,
}

impl Default for BaseSearch {
    /// 0 to 10 C by half degrees, prior N(4, 1.5^2) from memory, 100 records over 4 seasons.
    fn default() -> Self {
        BaseSearch {
            grid: (0..=20).map(|step| f64::from(step) / 2.0).collect(),
            prior_mean: 4.0,
            prior_sd: 1.5,
            enough: Enough { records: 100, seasons: 4 },
        }
    }
}

/// What the estimate starts from.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// The prior requirement of each group in degree-days above the rule's base; `None` for a group of which
    /// nothing is known before.
    pub handbook: Vec<Option<f64>>,
    pub spreads: Spreads,
    /// Base, cap and method before any base is looked for.
    pub rule: HeatRule,
    pub stages: StageModel,
    pub believed: Believed,
    pub bases: Option<BaseSearch>,
    /// With fewer, the handbook alone.
    pub means_from: Enough,
    /// With fewer, the standard deviations stay as they start.
    pub spreads_from: Enough,
    /// With fewer, the forecasts are not widened or narrowed.
    pub calibration_from: Enough,
    /// The day of the estimate: nothing later is looked at.
    pub as_of: i32,
    /// The season under way.
    pub season: i32,
}

impl Settings {
    /// The society's rules for groups with these handbook requirements.
    pub fn new(handbook: Vec<Option<f64>>, as_of: i32, season: i32) -> Settings {
        Settings {
            handbook,
            spreads: Spreads::default(),
            rule: HeatRule::default(),
            stages: StageModel::default(),
            believed: Believed::default(),
            bases: Some(BaseSearch::default()),
            means_from: Enough { records: 30, seasons: 3 },
            spreads_from: Enough { records: 301, seasons: 4 },
            calibration_from: Enough { records: 100, seasons: 3 },
            as_of,
            season,
        }
    }
}

/// How much the records decide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    /// Too few records: the handbook alone.
    Handbook,
    /// Means from the records, standard deviations as they start.
    Means,
    /// Means and standard deviations from the records.
    Full,
}

/// What [`estimate`] finds.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameters {
    pub regime: Regime,
    pub spreads: Spreads,
    /// Base temperature of each group, degrees C.
    pub bases: Vec<f64>,
    /// Factor on the predictive standard deviation of each group, 0.7 to 1.5.
    pub calibration: Vec<f64>,
    /// Share of flowerings that growers write down, from the seasons that are over.
    pub written: f64,
    /// Records and seasons behind it.
    pub records: usize,
    pub seasons: usize,
    /// Forecasts of left-out seasons that the calibration rests on.
    pub scored: usize,
    /// Evaluations of the criterion.
    pub evaluations: usize,
}

#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// A standard deviation, a handbook requirement or the heat rule is not a usable number.
    #[error("a standard deviation or handbook value is not a usable number")]
    BadSettings,
    /// The parameters are of another number of groups.
    #[error("the parameters are of other plant groups")]
    OtherGroups,
    /// The wait (by its place in the slice) names a group or a place that is not there.
    #[error("record {wait} names a group or a place that is not there")]
    UnknownIndex { wait: usize },
    #[error(transparent)]
    Model(MixedError),
}

impl From<MixedError> for FitError {
    fn from(error: MixedError) -> Self {
        FitError::Model(error)
    }
}

/// How much stands behind a figure.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Support {
    pub records: usize,
    /// Distinct growers.
    pub growers: usize,
    pub seasons: usize,
    /// Share of the records that the grower with most of them holds, 0 to 1.
    pub largest_grower_share: f64,
}

#[derive(Debug, Clone, Default)]
struct Cell {
    records: usize,
    growers: HashMap<u32, usize>,
    seasons: BTreeSet<i32>,
}

impl Cell {
    fn add(&mut self, wait: &Wait) {
        self.records += 1;
        *self.growers.entry(wait.grower).or_default() += 1;
        self.seasons.insert(wait.season);
    }

    fn support(&self) -> Support {
        let largest = self.growers.values().max().copied().unwrap_or(0);
        Support {
            records: self.records,
            growers: self.growers.len(),
            seasons: self.seasons.len(),
            largest_grower_share: if self.records == 0 { 0.0 } else { largest as f64 / self.records as f64 },
        }
    }
}

/// The heat tables of the places, built when first asked for.
struct Tables<'a> {
    places: &'a [Place<'a>],
    rule: HeatRule,
    built: HashMap<(u32, u64), HeatTable>,
}

impl<'a> Tables<'a> {
    fn new(places: &'a [Place<'a>], rule: HeatRule) -> Tables<'a> {
        Tables { places, rule, built: HashMap::new() }
    }

    /// Whoever calls has checked that the place is there.
    fn of(&mut self, place: u32, base_c: f64) -> &HeatTable {
        let (places, rule) = (self.places, self.rule);
        self.built.entry((place, base_c.to_bits())).or_insert_with(|| {
            let place = &places[place as usize];
            HeatTable::build_with(place.series, place.house, place.gain, HeatRule { base_c, ..rule })
        })
    }
}

/// One record as the model sees it.
#[derive(Debug, Clone, Copy)]
struct Row {
    wait: usize,
    /// Log heat to show-ready.
    y: f64,
    weight: f64,
    /// Change of `y` a day about the event; not finite in a cold spell.
    slope: f64,
}

/// The stage that stands for show-ready, best first.
const STAND_INS: [Stage; STAGES] =
    [Stage::ShowReady, Stage::FirstOpenFloret, Stage::PastBest, Stage::FirstColour, Stage::Bud];

/// Least slope that is believed, of the log heat a day: one part in ten thousand.
const LEAST_SLOPE: f64 = 1e-4;

fn row(
    tables: &mut Tables<'_>,
    wait: &Wait,
    number: usize,
    base_c: f64,
    settings: &Settings,
) -> Option<Result<Row, SetAside>> {
    let (stage, day) = STAND_INS.iter().find_map(|stage| Some((*stage, wait.seen_on(*stage)?)))?;
    let offset = settings.stages.offset[stage.index()];
    // What is believed of show-ready, said of this stage.
    let share = offset.exp();
    let believed = Believed { least: settings.believed.least * share, most: settings.believed.most * share };
    let table = tables.of(wait.place, base_c);
    Some(heat_to(table, wait.stop_day, day, believed).map(|heat| {
        let about = (day - 3).max(wait.stop_day)..=(day + 3).min(settings.as_of);
        let heats: Vec<f64> = about.filter_map(|day| table.day_heat(day)).collect();
        let rate = heats.iter().sum::<f64>() / heats.len().max(1) as f64;
        let residual = settings.spreads.residual.powi(2);
        let increment = settings.stages.covariance[stage.index()][stage.index()];
        Row {
            wait: number,
            y: heat.ln() - offset,
            weight: residual / (residual + increment),
            slope: (rate / heat).max(LEAST_SLOPE),
        }
    }))
}

/// The believed records of the seasons that are over, and what was set aside of all.
#[derive(Debug, Clone, Default)]
struct Sorted {
    rows: Vec<Row>,
    set_aside: Vec<(usize, SetAside)>,
}

fn sort(
    tables: &mut Tables<'_>,
    waits: &[Wait],
    bases: &[f64],
    settings: &Settings,
) -> Result<Sorted, FitError> {
    let mut sorted = Sorted::default();
    for ((number, wait), again) in waits.iter().enumerate().zip(repeated(waits)) {
        let base = *bases.get(wait.group as usize).ok_or(FitError::UnknownIndex { wait: number })?;
        if wait.place as usize >= tables.places.len() {
            return Err(FitError::UnknownIndex { wait: number });
        }
        if let Some(reason) = again.then_some(SetAside::Duplicate).or_else(|| doubt(wait, settings.as_of)) {
            sorted.set_aside.push((number, reason));
            continue;
        }
        match row(tables, wait, number, base, settings) {
            Some(Err(reason)) => sorted.set_aside.push((number, reason)),
            Some(Ok(row)) if wait.season < settings.season => sorted.rows.push(row),
            Some(Ok(_)) | None => {}
        }
    }
    Ok(sorted)
}

fn seasons<'a>(waits: impl IntoIterator<Item = &'a Wait>) -> BTreeSet<i32> {
    waits.into_iter().map(|wait| wait.season).collect()
}

/// Levels in the order they are first met.
#[derive(Debug, Clone)]
struct Levels<K> {
    place: HashMap<K, u32>,
}

impl<K: Eq + Hash> Levels<K> {
    fn new() -> Self {
        Levels { place: HashMap::new() }
    }

    fn of(&mut self, key: K) -> u32 {
        let next = u32::try_from(self.place.len()).unwrap_or(Factor::NONE);
        *self.place.entry(key).or_insert(next)
    }

    fn get(&self, key: &K) -> Option<usize> {
        self.place.get(key).map(|&place| place as usize)
    }
}

/// A factor's levels by what they stand for: cultivar, grower, (region, season), (region, season, group).
type Key = (u32, i32, u32);

fn key(factor: usize, wait: &Wait) -> Key {
    match factor {
        CULTIVAR => (wait.cultivar, 0, 0),
        GROWER => (wait.grower, 0, 0),
        REGION_SEASON => (wait.region, wait.season, 0),
        _ => (wait.region, wait.season, wait.group),
    }
}

/// Rows laid out for the mixed model.
struct Design {
    y: Vec<f64>,
    weights: Vec<f64>,
    /// Indicator columns: groups with rows, then environments with rows but for the commonest.
    columns: Vec<Vec<f64>>,
    groups: BTreeMap<u32, usize>,
    environments: BTreeMap<u32, usize>,
    commonest_environment: u32,
    /// Which of the four factors are in the model, and their levels.
    factors: Vec<(usize, Levels<Key>, Vec<u32>)>,
}

impl Design {
    fn new(rows: &[Row], waits: &[Wait], spreads: &Spreads) -> Design {
        let of = |row: &Row| &waits[row.wait];
        let groups: BTreeMap<u32, usize> =
            rows.iter().map(|row| of(row).group).collect::<BTreeSet<u32>>().into_iter().zip(0..).collect();
        let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
        for row in rows {
            *counts.entry(of(row).environment).or_default() += 1;
        }
        // The first of those with most rows, so that the order of rows does not matter.
        let commonest_environment = counts
            .iter()
            .max_by_key(|(environment, count)| (**count, std::cmp::Reverse(**environment)))
            .map_or(0, |(environment, _)| *environment);
        let environments: BTreeMap<u32, usize> = counts
            .into_keys()
            .filter(|environment| *environment != commonest_environment)
            .zip(groups.len()..)
            .collect();
        let mut columns = vec![vec![0.0; rows.len()]; groups.len() + environments.len()];
        for (at, row) in rows.iter().enumerate() {
            columns[groups[&of(row).group]][at] = 1.0;
            if let Some(&column) = environments.get(&of(row).environment) {
                columns[column][at] = 1.0;
            }
        }
        let own_seasons = groups.len() >= GROUPS_FOR_OWN_SEASONS;
        let sds = spreads.factors();
        let factors = (0..FACTORS)
            .filter(|&factor| sds[factor] > 0.0 && (factor != REGION_SEASON_GROUP || own_seasons))
            .map(|factor| {
                let mut levels = Levels::new();
                let level = rows.iter().map(|row| levels.of(key(factor, of(row)))).collect();
                (factor, levels, level)
            })
            .collect();
        Design {
            y: rows.iter().map(|row| row.y).collect(),
            weights: rows.iter().map(|row| row.weight).collect(),
            columns,
            groups,
            environments,
            commonest_environment,
            factors,
        }
    }

    fn model(&self) -> Result<Model, MixedError> {
        let columns: Vec<&[f64]> = self.columns.iter().map(Vec::as_slice).collect();
        let factors: Vec<Factor<'_>> = self
            .factors
            .iter()
            .map(|(_, levels, level)| Factor { level, levels: levels.place.len(), covariates: &[] })
            .collect();
        Model::new(&self.y, Some(&self.weights), &columns, &factors)
    }

    fn theta(&self, spreads: &Spreads) -> Vec<f64> {
        self.factors.iter().map(|(factor, ..)| spreads.factors()[*factor] / spreads.residual).collect()
    }

    /// The spreads that `theta` and `sigma` stand for; a factor that is not in the model keeps its own.
    fn spreads(&self, theta: &[f64], sigma: f64, before: &Spreads) -> Spreads {
        let mut spreads = Spreads { residual: sigma, ..*before };
        for ((factor, ..), ratio) in self.factors.iter().zip(theta) {
            let sd = ratio * sigma;
            match *factor {
                CULTIVAR => spreads.cultivar = sd,
                GROWER => spreads.grower = sd,
                REGION_SEASON => spreads.region_season = sd,
                _ => spreads.region_season_group = sd,
            }
        }
        if self.groups.len() < GROUPS_FOR_OWN_SEASONS {
            spreads.region_season_group = 0.0;
        }
        spreads
    }

    fn priors(&self, settings: &Settings, bases: &[f64], spreads: &Spreads) -> Vec<Option<Prior>> {
        let mut priors = vec![None; self.columns.len()];
        for (&group, &column) in &self.groups {
            priors[column] =
                handbook(settings, bases, group as usize).map(|mean| Prior { mean, sd: spreads.handbook });
        }
        for &column in self.environments.values() {
            priors[column] = Some(Prior { mean: 0.0, sd: spreads.environment });
        }
        priors
    }
}

/// The logarithm of a group's handbook requirement; none above another base than the rule's, of which the
/// handbook says nothing.
#[expect(clippy::float_cmp, reason = "a base is either the rule's own number or another")]
fn handbook(settings: &Settings, bases: &[f64], group: usize) -> Option<f64> {
    let kept = bases.get(group).is_some_and(|base| *base == settings.rule.base_c);
    settings.handbook.get(group).copied().flatten().filter(|_| kept).map(f64::ln)
}

/// A factorised model with the names of its levels.
#[derive(Debug)]
struct Solved {
    solution: Solution,
    groups: BTreeMap<u32, usize>,
    environments: BTreeMap<u32, usize>,
    commonest_environment: u32,
    levels: Vec<(usize, Levels<Key>)>,
    columns: usize,
}

impl Solved {
    fn new(
        rows: &[Row],
        waits: &[Wait],
        spreads: &Spreads,
        settings: &Settings,
        bases: &[f64],
    ) -> Result<Solved, FitError> {
        let design = Design::new(rows, waits, spreads);
        let priors = design.priors(settings, bases, spreads);
        let solution = design.model()?.solve(&design.theta(spreads), spreads.residual, &priors)?;
        Ok(Solved {
            solution,
            columns: design.columns.len(),
            groups: design.groups,
            environments: design.environments,
            commonest_environment: design.commonest_environment,
            levels: design.factors.into_iter().map(|(factor, levels, _)| (factor, levels)).collect(),
        })
    }

    /// The posterior mean of a row.
    fn fitted(&self, wait: &Wait) -> f64 {
        let mut sum = self.groups.get(&wait.group).map_or(0.0, |&column| self.solution.beta[column]);
        sum += self.environments.get(&wait.environment).map_or(0.0, |&column| self.solution.beta[column]);
        for (place, (factor, levels)) in self.levels.iter().enumerate() {
            if let Some(level) = levels.get(&key(*factor, wait)) {
                sum += self.solution.effects[place][level];
            }
        }
        sum
    }

    /// Mean and variance of the log requirement of an asked-for plant but for its residual and its season;
    /// none for a group without a record.
    fn known(&self, ask: &Ask, spreads: &Spreads) -> Option<(f64, f64)> {
        let mut x = vec![0.0; self.columns];
        x[*self.groups.get(&ask.group)?] = 1.0;
        let mut variance = 0.0;
        match self.environments.get(&ask.environment) {
            Some(&column) => x[column] = 1.0,
            None if ask.environment == self.commonest_environment => {}
            None => variance += spreads.environment.powi(2),
        }
        let mut picks = Vec::with_capacity(2);
        for (factor, asked) in [(CULTIVAR, ask.cultivar), (GROWER, ask.grower)] {
            let place = self.levels.iter().position(|(of, _)| *of == factor);
            let level = place
                .zip(asked)
                .and_then(|(place, asked)| Some((place, self.levels[place].1.get(&(asked, 0, 0))?)));
            match level {
                Some((place, level)) => picks.push(Pick::intercept(place, level)),
                None => variance += spreads.factors()[factor].powi(2),
            }
        }
        let found = self.solution.predict(&x, &picks).ok()?;
        Some((found.mean, found.variance + variance))
    }
}

fn check(settings: &Settings) -> Result<(), FitError> {
    let positive = |value: &f64| value.is_finite() && *value > 0.0;
    let rule = &settings.rule;
    let usable = settings.spreads.usable()
        && settings.handbook.iter().flatten().all(positive)
        && rule.base_c.is_finite()
        && rule.cap_c > rule.base_c;
    if usable { Ok(()) } else { Err(FitError::BadSettings) }
}

/// Rows no further than [`FURTHEST_SDS`] from what the model makes of them, and the waits of the others.
fn without_far(
    rows: Vec<Row>,
    waits: &[Wait],
    solved: &Solved,
    residual: f64,
) -> (Vec<Row>, Vec<(usize, SetAside)>) {
    let (near, far): (Vec<Row>, Vec<Row>) = rows.into_iter().partition(|row| {
        (row.y - solved.fitted(&waits[row.wait])).abs() * row.weight.sqrt() <= FURTHEST_SDS * residual
    });
    (near, far.into_iter().map(|row| (row.wait, SetAside::FarFromOthers)).collect())
}

/// Estimates standard deviations, bases and calibration from the seasons that are over.
///
/// `start` shortens the search (the parameters of the estimate before) and does not change where it ends:
/// both lie within 1e-3 of the same criterion. Cost: evaluations (tens) x one factorisation, see
/// [`crate::mixed`]; a base costs one pass over its group's records and one evaluation.
pub fn estimate(
    places: &[Place<'_>],
    waits: &[Wait],
    settings: &Settings,
    start: Option<&Parameters>,
) -> Result<Parameters, FitError> {
    check(settings)?;
    let groups = settings.handbook.len();
    let bases = vec![settings.rule.base_c; groups];
    let mut tables = Tables::new(places, settings.rule);
    let sorted = sort(&mut tables, waits, &bases, settings)?;
    let over = sorted.rows.iter().map(|row| &waits[row.wait]);
    let (records, seasons) = (sorted.rows.len(), seasons(over).len());
    let mut found = Parameters {
        regime: Regime::Handbook,
        spreads: settings.spreads,
        bases,
        calibration: vec![1.0; groups],
        written: written(waits, settings),
        records,
        seasons,
        scored: 0,
        evaluations: 0,
    };
    if !settings.means_from.met(records, seasons) {
        return Ok(found);
    }
    found.regime = Regime::Means;
    let mut rows = sorted.rows;
    if settings.spreads_from.met(records, seasons) {
        found.regime = Regime::Full;
        let first = start
            .filter(|start| start.regime == Regime::Full)
            .map_or(settings.spreads, |start| start.spreads);
        found.fit_spreads(&rows, waits, settings, &first)?;
        let solved = Solved::new(&rows, waits, &found.spreads, settings, &found.bases)?;
        rows = without_far(rows, waits, &solved, found.spreads.residual).0;
        let before = found.spreads;
        found.fit_spreads(&rows, waits, settings, &before)?;
        if let Some(search) = &settings.bases {
            let bases = found.bases.clone();
            found.fit_bases(&mut tables, waits, &rows, settings, search)?;
            if found.bases != bases {
                rows = sort(&mut tables, waits, &found.bases, settings)?.rows;
                let solved = Solved::new(&rows, waits, &found.spreads, settings, &found.bases)?;
                rows = without_far(rows, waits, &solved, found.spreads.residual).0;
                let before = found.spreads;
                found.fit_spreads(&rows, waits, settings, &before)?;
            }
        }
    }
    found.calibrate(&rows, waits, settings)?;
    Ok(found)
}

/// Share of the finished seasons' waits that ended in a written readiness, held towards 0.8 as by twenty
/// records.
fn written(waits: &[Wait], settings: &Settings) -> f64 {
    let over =
        || waits.iter().filter(|wait| wait.season < settings.season && wait.stop_day <= settings.as_of);
    let with = over().filter(|wait| wait.seen_on(Stage::ShowReady).is_some()).count();
    (with as f64 + 16.0) / (over().count() as f64 + 20.0)
}

/// So many rows at most are scored for the calibration: the factor is then known to a sixtieth.
const MOST_SCORED: usize = 2_000;

/// So many seasons at most are left out one by one, evenly among all: each costs a factorisation.
const MOST_LEFT_OUT: usize = 10;

impl Parameters {
    fn fit_spreads(
        &mut self,
        rows: &[Row],
        waits: &[Wait],
        settings: &Settings,
        start: &Spreads,
    ) -> Result<(), FitError> {
        let design = Design::new(rows, waits, &settings.spreads);
        let model = design.model()?;
        let centre = design.theta(&settings.spreads);
        // A ratio of zero cannot be left by a step in its logarithm.
        let start: Vec<f64> = design.theta(start).into_iter().map(|theta| theta.max(1e-3)).collect();
        let fitted = model.fit(&Options {
            criterion: Criterion::Reml,
            start: Some(&start),
            penalty: Some(Penalty { centre: &centre, weight: 1.0 }),
        })?;
        self.evaluations += fitted.evaluations;
        self.spreads = design.spreads(&fitted.theta, fitted.sigma, &settings.spreads);
        Ok(())
    }

    /// The base of each group by profile likelihood, kept where it forecasts left-out seasons no worse than
    /// the rule's own.
    fn fit_bases(
        &mut self,
        tables: &mut Tables<'_>,
        waits: &[Wait],
        rows: &[Row],
        settings: &Settings,
        search: &BaseSearch,
    ) -> Result<(), FitError> {
        for group in 0..settings.handbook.len() {
            let own: Vec<Row> =
                rows.iter().filter(|row| waits[row.wait].group as usize == group).copied().collect();
            let seasons = seasons(own.iter().map(|row| &waits[row.wait])).len();
            if !search.enough.met(own.len(), seasons) {
                continue;
            }
            let mut best: Option<(f64, f64)> = None;
            for &base in &search.grid {
                let Some(moved) = at_base(tables, waits, &own, base, settings) else { continue };
                let design = Design::new(&moved, waits, &self.spreads);
                let theta = design.theta(&self.spreads);
                let profiled = design.model()?.criterion(&theta, Criterion::Reml)?;
                self.evaluations += 1;
                let jacobian: f64 = moved.iter().map(|row| row.slope.ln()).sum();
                let prior = ((base - search.prior_mean) / search.prior_sd).powi(2) / 2.0;
                let likelihood = jacobian - profiled.criterion / 2.0 - prior;
                if best.is_none_or(|(known, _)| likelihood > known) {
                    best = Some((likelihood, base));
                }
            }
            let Some((_, base)) = best else { continue };
            let (Some(kept), Some(moved)) = (
                self.left_out_score(&own, waits, settings)?,
                match at_base(tables, waits, &own, base, settings) {
                    Some(moved) => self.left_out_score(&moved, waits, settings)?,
                    None => None,
                },
            ) else {
                continue;
            };
            if moved <= kept {
                self.bases[group] = base;
            }
        }
        Ok(())
    }

    /// Mean continuous ranked probability score, days, of a group's records when their season is left out;
    /// none with fewer than two seasons. The normal's score in log heat is turned into days by the slope.
    fn left_out_score(
        &self,
        rows: &[Row],
        waits: &[Wait],
        settings: &Settings,
    ) -> Result<Option<f64>, FitError> {
        let scores = self.left_out(rows, waits, settings)?;
        let sum: f64 = scores
            .iter()
            .filter_map(|(row, mean, sd)| {
                Some(crate::scores::crps_normal(*mean, *sd, row.y).ok()? / row.slope)
            })
            .sum();
        Ok((!scores.is_empty()).then(|| sum / scores.len() as f64))
    }

    /// Each row (or every so manyth of them) with the mean and standard deviation predicted from the other
    /// seasons.
    fn left_out(
        &self,
        rows: &[Row],
        waits: &[Wait],
        settings: &Settings,
    ) -> Result<Vec<(Row, f64, f64)>, FitError> {
        let all = seasons(rows.iter().map(|row| &waits[row.wait]));
        let mut scored = Vec::new();
        if all.len() < 2 {
            return Ok(scored);
        }
        let all: BTreeSet<i32> = all.iter().copied().step_by(all.len().div_ceil(MOST_LEFT_OUT)).collect();
        let candidates = rows.iter().filter(|row| all.contains(&waits[row.wait].season)).count();
        let every = candidates.div_ceil(MOST_SCORED).max(1);
        // Bases are those of the handbook here or the handbook is not asked: the rows are what counts.
        for season in all {
            let (left_out, others): (Vec<Row>, Vec<Row>) =
                rows.iter().partition(|row| waits[row.wait].season == season);
            let solved = Solved::new(&others, waits, &self.spreads, settings, &self.bases)?;
            let season_variance = self.season_variance();
            for row in left_out.iter().step_by(every) {
                let wait = &waits[row.wait];
                if let Some((mean, variance)) = solved.known(&Ask::of(wait), &self.spreads) {
                    let residual = self.spreads.residual.powi(2) / row.weight;
                    let sd = (variance + season_variance + residual).sqrt();
                    scored.push((*row, mean, sd));
                }
            }
        }
        Ok(scored)
    }

    /// Standard deviations estimated from few seasons are themselves uncertain: until forecasts can be scored
    /// the predictive distribution is widened as Student's t with one degree of freedom fewer than seasons is wider than the normal,
    /// `sqrt(v / (v - 2))`, with four degrees at the least.
    fn widening(&self) -> f64 {
        if self.regime != Regime::Full {
            return 1.0;
        }
        let freedom = (self.seasons as f64 - 1.0).max(4.0);
        (freedom / (freedom - 2.0)).sqrt()
    }

    /// Variance of a season not seen before.
    fn season_variance(&self) -> f64 {
        self.spreads.region_season.powi(2) + self.spreads.region_season_group.powi(2)
    }

    /// The factor that makes left-out records lie as far from their forecasts as those say: the root mean
    /// square of their standardised distances, each at most 4, with thirty more of 1; each group's held
    /// towards that of all in the same way.
    fn calibrate(&mut self, rows: &[Row], waits: &[Wait], settings: &Settings) -> Result<(), FitError> {
        let scored = self.left_out(rows, waits, settings)?;
        let seasons = seasons(scored.iter().map(|(row, ..)| &waits[row.wait])).len();
        self.scored = scored.len();
        if !settings.calibration_from.met(scored.len(), seasons) {
            self.calibration = vec![self.widening(); settings.handbook.len()];
            return Ok(());
        }
        let mut squares = vec![(0.0, 0.0); settings.handbook.len()];
        for (row, mean, sd) in &scored {
            let (count, sum) = &mut squares[waits[row.wait].group as usize];
            *count += 1.0;
            *sum += ((row.y - mean) / sd).powi(2).min(16.0);
        }
        let held = |(count, sum): (f64, f64), towards: f64| (sum + 30.0 * towards) / (count + 30.0);
        let all = squares.iter().fold((0.0, 0.0), |all, own| (all.0 + own.0, all.1 + own.1));
        let all = held(all, 1.0);
        self.calibration = squares.into_iter().map(|own| held(own, all).sqrt().clamp(0.7, 1.5)).collect();
        Ok(())
    }
}

/// The rows with their heat above another base; none where one of them has none.
fn at_base(
    tables: &mut Tables<'_>,
    waits: &[Wait],
    rows: &[Row],
    base: f64,
    settings: &Settings,
) -> Option<Vec<Row>> {
    // The range that is believed was said of the rule's base; a record believed there stays.
    let open = Settings { believed: Believed { least: 0.0, most: f64::INFINITY }, ..settings.clone() };
    rows.iter()
        .map(|known| row(tables, &waits[known.wait], known.wait, base, &open)?.ok())
        .collect::<Option<Vec<Row>>>()
}

/// A plant to ask about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ask {
    pub group: u32,
    pub environment: u32,
    /// `None` for any cultivar of the group.
    pub cultivar: Option<u32>,
    /// `None` for any grower.
    pub grower: Option<u32>,
    /// The region, in the season under way; `None` for a season of which nothing is known.
    pub region: Option<u32>,
}

impl Ask {
    fn of(wait: &Wait) -> Ask {
        Ask {
            group: wait.group,
            environment: wait.environment,
            cultivar: Some(wait.cultivar),
            grower: Some(wait.grower),
            region: Some(wait.region),
        }
    }
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
    /// Mean of the natural logarithm of the degree-days to show-ready.
    pub mean_log: f64,
    /// Standard deviation of what plants of this kind, grower and season have in common.
    pub shared_sd: f64,
    /// Standard deviation of one plant about that.
    pub own_sd: f64,
    /// The base the degree-days are above, degrees C.
    pub base_c: f64,
    pub basis: Basis,
    pub cultivar: Support,
    pub group: Support,
}

impl Requirement {
    /// Standard deviation of the logarithm for one plant.
    pub fn sd_log(&self) -> f64 {
        self.shared_sd.hypot(self.own_sd)
    }

    /// Median requirement, degree-days.
    pub fn degree_days(&self) -> f64 {
        self.mean_log.exp()
    }
}

/// The effect of the season under way on a region, on the log scale: positive needs more heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonEffect {
    pub mean: f64,
    pub sd: f64,
    /// Plants ready, and plants not yet.
    pub ready: usize,
    pub waiting: usize,
    pub growers: usize,
    /// As in [`Support`].
    pub largest_grower_share: f64,
}

/// The season's effect by region.
pub type SeasonEffects = HashMap<u32, SeasonEffect>;

/// Effects and their posterior under given parameters.
#[derive(Debug)]
pub struct Fit {
    pub parameters: Parameters,
    /// The stages of each group.
    pub stages: Vec<StageModel>,
    /// Waits (by their place in the slice) that take no part, and why.
    pub set_aside: Vec<(usize, SetAside)>,
    settings: Settings,
    solved: Option<Solved>,
    groups: Vec<Support>,
    cultivars: HashMap<u32, Support>,
    seasons: SeasonEffects,
}

/// Plants whose increments are learnt from, at most, newest first: the increments of more hardly move.
const MOST_INCREMENTS: usize = 20_000;

/// Works out every effect from the records under `parameters`.
///
/// Cost: one pass over the records and one factorisation (0.65 s for a million records of 10,000 growers
/// and 5,000 cultivars by the operation count).
pub fn refresh(
    places: &[Place<'_>],
    waits: &[Wait],
    settings: &Settings,
    parameters: &Parameters,
) -> Result<Fit, FitError> {
    check(settings)?;
    let groups = settings.handbook.len();
    if parameters.bases.len() != groups || parameters.calibration.len() != groups {
        return Err(FitError::OtherGroups);
    }
    let mut tables = Tables::new(places, settings.rule);
    let Sorted { mut rows, mut set_aside } = sort(&mut tables, waits, &parameters.bases, settings)?;
    let spreads = &parameters.spreads;
    let mut solved = None;
    if parameters.regime != Regime::Handbook && !rows.is_empty() {
        let all = Solved::new(&rows, waits, spreads, settings, &parameters.bases)?;
        let (near, far) = without_far(rows, waits, &all, spreads.residual);
        rows = near;
        solved = Some(if far.is_empty() {
            all
        } else {
            set_aside.extend(far);
            Solved::new(&rows, waits, spreads, settings, &parameters.bases)?
        });
    }
    let mut by_group = vec![Cell::default(); groups];
    let mut by_cultivar: HashMap<u32, Cell> = HashMap::new();
    for row in &rows {
        let wait = &waits[row.wait];
        by_group[wait.group as usize].add(wait);
        by_cultivar.entry(wait.cultivar).or_default().add(wait);
    }
    let out: BTreeSet<usize> = set_aside.iter().map(|(wait, _)| *wait).collect();
    let believed: Vec<&Wait> =
        waits.iter().enumerate().filter(|(number, _)| !out.contains(number)).map(|(_, wait)| wait).collect();
    let stages = learn_stages(&mut tables, &believed, settings, &parameters.bases);
    let mut fit = Fit {
        parameters: parameters.clone(),
        stages,
        set_aside,
        settings: settings.clone(),
        solved,
        groups: by_group.iter().map(Cell::support).collect(),
        cultivars: by_cultivar.iter().map(|(cultivar, cell)| (*cultivar, cell.support())).collect(),
        seasons: HashMap::new(),
    };
    fit.set_aside.sort_unstable();
    fit.seasons = fit.season_effects(&mut tables, &believed, (settings.season, settings.as_of));
    Ok(fit)
}

fn learn_stages(
    tables: &mut Tables<'_>,
    waits: &[&Wait],
    settings: &Settings,
    bases: &[f64],
) -> Vec<StageModel> {
    let mut by_group: Vec<Vec<Increments>> = vec![Vec::new(); bases.len()];
    let mut known = 0;
    for wait in waits.iter().rev() {
        let Some(ready) = wait.seen_on(Stage::ShowReady) else { continue };
        let table = tables.of(wait.place, bases[wait.group as usize]);
        let log = |day: i32| table.to_midday(wait.stop_day, day).filter(|heat| *heat > 0.0).map(f64::ln);
        let Some(at_ready) = log(ready) else { continue };
        let mut increments = wait.seen.map(|day| day.and_then(log).map(|at| at - at_ready));
        increments[Stage::ShowReady.index()] = None;
        if increments.iter().any(Option::is_some) {
            by_group[wait.group as usize].push(increments);
            known += 1;
            if known >= MOST_INCREMENTS {
                break;
            }
        }
    }
    let all: Vec<Increments> = by_group.iter().flatten().copied().collect();
    // The prior is a covariance and the heats are finite, so neither can fail; the prior stands if they do.
    let common = StageModel::learn(&all, &settings.stages, 20.0).unwrap_or_else(|_| settings.stages.clone());
    by_group
        .iter()
        .map(|own| StageModel::learn(own, &common, 30.0).unwrap_or_else(|_| common.clone()))
        .collect()
}

/// Nodes of the grid on which a season's effect is worked out, and how far it reaches in standard deviations.
const NODES: i32 = 41;
const REACH: f64 = 4.0;

impl Fit {
    /// The prediction for one more plant; `None` for a group of which neither a record nor a handbook says
    /// anything.
    pub fn requirement(&self, ask: &Ask) -> Option<Requirement> {
        self.requirement_with(ask, ask.region.and_then(|region| self.seasons.get(&region)))
    }

    /// The same for a season of which `season` is known.
    pub fn requirement_with(&self, ask: &Ask, season: Option<&SeasonEffect>) -> Option<Requirement> {
        let spreads = &self.parameters.spreads;
        let group = ask.group as usize;
        let support = self.groups.get(group).copied()?;
        let cultivar = ask.cultivar.and_then(|cultivar| self.cultivars.get(&cultivar).copied());
        let known = self.solved.as_ref().and_then(|solved| solved.known(ask, spreads));
        let (mean, variance) = known.or_else(|| {
            let mean = handbook(&self.settings, &self.parameters.bases, group)?;
            let sds = [spreads.handbook, spreads.cultivar, spreads.grower];
            Some((mean, sds.iter().map(|sd| sd.powi(2)).sum()))
        })?;
        let (shift, season_variance) = match season {
            Some(season) => (season.mean, season.sd.powi(2) + spreads.region_season_group.powi(2)),
            None => (0.0, self.parameters.season_variance()),
        };
        let calibration = self.parameters.calibration.get(group).copied().unwrap_or(1.0);
        Some(Requirement {
            mean_log: mean + shift,
            shared_sd: calibration * (variance + season_variance).sqrt(),
            own_sd: calibration * spreads.residual,
            base_c: self.parameters.bases.get(group).copied()?,
            basis: match (known, cultivar) {
                (Some(_), Some(_)) => Basis::Cultivar,
                (Some(_), None) => Basis::Group,
                (None, _) => Basis::Handbook,
            },
            cultivar: cultivar.unwrap_or_default(),
            group: support,
        })
    }

    /// What the season under way does to a region, where a plant of it has been stopped.
    pub fn season_effect(&self, region: u32) -> Option<&SeasonEffect> {
        self.seasons.get(&region)
    }

    /// The records behind a group.
    pub fn group_support(&self, group: u32) -> Option<Support> {
        self.groups.get(group as usize).copied()
    }

    /// The records behind a cultivar.
    pub fn cultivar_support(&self, cultivar: u32) -> Support {
        self.cultivars.get(&cultivar).copied().unwrap_or_default()
    }

    /// A grower's own pace on the log scale, for that grower's eyes alone: positive needs more heat.
    /// `None` without a record of theirs.
    pub fn grower_effect(&self, grower: u32) -> Option<f64> {
        let solved = self.solved.as_ref()?;
        let place = solved.levels.iter().position(|(factor, _)| *factor == GROWER)?;
        let level = solved.levels[place].1.get(&(grower, 0, 0))?;
        solved.solution.effects[place].get(level).copied()
    }

    /// What a season had shown of each region by the end of `as_of`, later records hidden.
    pub fn season_effects_on(
        &self,
        places: &[Place<'_>],
        waits: &[Wait],
        season: i32,
        as_of: i32,
    ) -> SeasonEffects {
        let then: Vec<Wait> = waits
            .iter()
            .filter(|wait| wait.season == season && wait.stop_day <= as_of && doubt(wait, i32::MAX).is_none())
            .map(|wait| Wait {
                seen: wait.seen.map(|day| day.filter(|day| *day <= as_of)),
                looked_until: wait.looked_until.map(|day| day.min(as_of)),
                ..*wait
            })
            .collect();
        let mut tables = Tables::new(places, self.settings.rule);
        self.season_effects(&mut tables, &then.iter().collect::<Vec<_>>(), (season, as_of))
    }

    fn season_effects(
        &self,
        tables: &mut Tables<'_>,
        waits: &[&Wait],
        (season, as_of): (i32, i32),
    ) -> SeasonEffects {
        let sd = self.parameters.spreads.region_season;
        let mut found = HashMap::new();
        if sd <= 0.0 {
            return found;
        }
        let mut regions: BTreeMap<u32, (Vec<Sighting>, Cell)> = BTreeMap::new();
        for wait in waits.iter().filter(|wait| wait.season == season) {
            if let Some(sighting) = self.sighting(tables, wait, as_of) {
                let (sightings, cell) = regions.entry(wait.region).or_default();
                sightings.push(sighting);
                cell.add(wait);
            }
        }
        for (region, (sightings, cell)) in regions {
            let (mut weights, mut first, mut second) = (0.0, 0.0, 0.0);
            let nodes: Vec<(f64, f64)> = (0..NODES)
                .map(|node| {
                    let u = sd * REACH * (2.0 * f64::from(node) / f64::from(NODES - 1) - 1.0);
                    let prior = -0.5 * (u / sd).powi(2);
                    (u, prior + sightings.iter().map(|sighting| sighting.log_likelihood(u)).sum::<f64>())
                })
                .collect();
            let top = nodes.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
            for (u, log) in nodes {
                let weight = (log - top).exp();
                weights += weight;
                first += weight * u;
                second += weight * u * u;
            }
            let mean = first / weights;
            let support = cell.support();
            let ready = sightings.iter().filter(|sighting| sighting.ready).count();
            found.insert(
                region,
                SeasonEffect {
                    mean,
                    sd: (second / weights - mean * mean).max(0.0).sqrt(),
                    ready,
                    waiting: sightings.len() - ready,
                    growers: support.growers,
                    largest_grower_share: support.largest_grower_share,
                },
            );
        }
        found
    }

    fn sighting(&self, tables: &mut Tables<'_>, wait: &Wait, as_of: i32) -> Option<Sighting> {
        let spreads = &self.parameters.spreads;
        let ask = Ask { region: None, ..Ask::of(wait) };
        let expected = self.requirement(&ask)?;
        let base = expected.base_c;
        // What the region's season itself adds is what is looked for.
        let variance = |extra: f64| {
            let all = (expected.sd_log() / self.parameters.calibration[wait.group as usize]).powi(2);
            (all - spreads.region_season.powi(2)).max(1e-6) + extra
        };
        if let Some(Ok(row)) = row(tables, wait, 0, base, &self.settings) {
            let extra = spreads.residual.powi(2) * (1.0 / row.weight - 1.0);
            return Some(Sighting {
                log_heat: row.y - expected.mean_log,
                sd: variance(extra).sqrt(),
                ready: true,
                written: 1.0,
            });
        }
        let until = wait.looked_until?.min(as_of);
        let heat = tables.of(wait.place, base).between(wait.stop_day, until)?;
        (heat > 0.0).then(|| Sighting {
            log_heat: heat.ln() - expected.mean_log,
            sd: variance(0.0).sqrt(),
            ready: false,
            written: self.parameters.written,
        })
    }
}

/// One plant of the season under way: its log heat so far less what is expected.
#[derive(Debug, Clone, Copy)]
struct Sighting {
    log_heat: f64,
    sd: f64,
    ready: bool,
    written: f64,
}

impl Sighting {
    fn log_likelihood(&self, u: f64) -> f64 {
        let z = (self.log_heat - u) / self.sd;
        if self.ready {
            -0.5 * z * z
        } else {
            // Nothing is written: not ready, or ready and not written down.
            (1.0 - self.written * normal::cdf(z)).max(f64::MIN_POSITIVE).ln()
        }
    }
}
