//! What the forecasts would have said of the years that are over, and how right they would have been.
//!
//! A part of the records is held out, everything is estimated anew from the rest (standard deviations and
//! bases too), and each held-out plant is forecast on days of issue that do not look at its outcome: so many
//! weeks before the day on which plants of its group, stopped when it was, are ready on average. Of the
//! season under test the forecast knows what had been seen by the day of issue. Plants ready by then have
//! nothing to forecast. Two references are scored on the same plants and days: the group's mean days from
//! stop to ready, and the group's mean heat with one base for all.
//!
//! Scores: Gneiting & Raftery 2007, Journal of the American Statistical Association 102:359-378
//! (continuous ranked probability score, here over whole days); Czado, Gneiting & Held 2009, Biometrics
//! 65:1254-1261 (probability integral transform of counts, mid-point); Brier 1950, Monthly Weather Review
//! 78:1-3.
#![allow(clippy::indexing_slicing, reason = "numeric kernel: indices are made here")]

use std::collections::{BTreeMap, BTreeSet};

use storksbill_numerics::normal;

use crate::calendar;
use crate::condition::{Seen, show_condition};
use crate::degree_days::HeatRule;
use crate::fit::{Ask, Fit, FitError, Parameters, Requirement, SeasonEffects, Settings, estimate, refresh};
use crate::predict::stage_date;
use crate::records::{Believed, Place, Wait, doubt, heat_to, repeated};
use crate::scores;
use crate::series::HeatTable;
use crate::stages::{Outlook, Stage};
use crate::traces::{Future, MOST_TRACES, Trace};

/// What is held out at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Scheme {
    /// One season; the days ahead are those of every other year.
    LeaveSeasonOut,
    /// One region, its every season.
    LeaveRegionOut,
    /// The growers in ten parts, one part at a time.
    LeaveGrowersOut,
    /// One season, told from the seasons before it alone, weather and records.
    Forward,
}

/// When a forecast is issued.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Issue {
    /// The season's own weather is used to the end: how well heat tells the date, with no weather to guess.
    OwnWeather,
    /// So many weeks before the usual day of such a plant.
    WeeksAhead(i32),
    /// On the same day of each season, counted from 1 on 1 January of its year.
    DayOfSeason(i32),
}

/// Who forecasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Method {
    Engine,
    /// Normal about the group's mean days from the stop.
    MeanDays,
    /// Log-normal about the group's mean heat above the rule's base.
    FixedHeat,
}

impl Method {
    pub const ALL: [Method; 3] = [Method::Engine, Method::MeanDays, Method::FixedHeat];
}

/// Bins of the probability integral transform and of the reliability table.
pub const BINS: usize = 10;

/// One bin of a reliability table.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bin {
    pub forecasts: usize,
    /// Sum of the probabilities told.
    pub told: f64,
    /// How often it came so.
    pub came: usize,
}

/// Scores of one method at one lead. Days; errors are the median told less the day that came.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Scores {
    pub n: usize,
    pub bias: f64,
    pub mae: f64,
    pub rmse: f64,
    pub crps: f64,
    /// Shares of days within the central 50, 80 and 90 % by the mid-point transform.
    pub cover50: f64,
    pub cover80: f64,
    pub cover90: f64,
    pub pit: [usize; BINS],
    /// Brier score of "in show condition on the day", the day being the usual one of such a plant; `None`
    /// where no plant has what decides it.
    pub brier: Option<f64>,
    pub reliability: [Bin; BINS],
}

/// One line of a report.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    pub issue: Issue,
    pub method: Method,
    pub scores: Scores,
}

/// A backtest of one scheme.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    pub scheme: Scheme,
    /// Parts held out.
    pub folds: usize,
    pub lines: Vec<Line>,
    /// Mean base over folds of each group that was forecast, degrees C.
    pub bases: BTreeMap<u32, f64>,
}

/// What is asked of [`run`].
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    pub scheme: Scheme,
    pub issues: Vec<Issue>,
    /// Days after the stop that are reckoned.
    pub horizon: i32,
}

impl Default for Plan {
    /// One season left out, 12, 8, 4 and 2 weeks ahead, 300 days.
    fn default() -> Self {
        Plan {
            scheme: Scheme::LeaveSeasonOut,
            issues: [12, 8, 4, 2].map(Issue::WeeksAhead).to_vec(),
            horizon: 300,
        }
    }
}

/// One plant that can be scored.
#[derive(Debug, Clone, Copy)]
struct Case {
    wait: Wait,
    ready: i32,
}

/// Growers are held out in so many parts.
const GROWER_PARTS: u32 = 10;

impl Scheme {
    fn part(self, wait: &Wait) -> i64 {
        match self {
            Scheme::LeaveSeasonOut | Scheme::Forward => i64::from(wait.season),
            Scheme::LeaveRegionOut => i64::from(wait.region),
            Scheme::LeaveGrowersOut => i64::from(wait.grower % GROWER_PARTS),
        }
    }

    fn trains_on(self, part: i64, wait: &Wait) -> bool {
        match self {
            Scheme::Forward => i64::from(wait.season) < part,
            _ => self.part(wait) != part,
        }
    }
}

/// Runs a backtest; `progress` is told the share done after each part.
///
/// Cost: parts x (one estimate + plants x issues x traces x days of the normal distribution function).
pub fn run(
    places: &[Place<'_>],
    waits: &[Wait],
    settings: &Settings,
    plan: &Plan,
    progress: &mut dyn FnMut(f64),
) -> Result<Report, FitError> {
    let cases = cases(places, waits, settings);
    let parts: BTreeSet<i64> = cases.iter().map(|case| plan.scheme.part(&case.wait)).collect();
    let mut tallies: BTreeMap<(Issue, Method), Tally> = BTreeMap::new();
    let mut bases: BTreeMap<u32, (f64, usize)> = BTreeMap::new();
    let mut folds = 0;
    let mut start: Option<Parameters> = None;
    for (done, &part) in parts.iter().enumerate() {
        progress(done as f64 / parts.len() as f64);
        let training: Vec<Wait> =
            waits.iter().filter(|wait| plan.scheme.trains_on(part, wait)).copied().collect();
        // Every season that is trained on is over.
        let over = Settings { season: i32::MAX, ..settings.clone() };
        let parameters = estimate(places, &training, &over, start.as_ref())?;
        let fit = refresh(places, &training, &over, &parameters)?;
        let held_out: Vec<&Case> = cases.iter().filter(|case| plan.scheme.part(&case.wait) == part).collect();
        let mut fold = Fold::new(places, &training, settings, plan, &fit);
        let season_waits: Vec<Wait> =
            waits.iter().filter(|wait| plan.scheme.part(wait) == part).copied().collect();
        let mut scored = false;
        for case in held_out {
            for &issue in &plan.issues {
                for (method, told) in fold.forecasts(case, issue, &season_waits) {
                    tallies.entry((issue, method)).or_default().add(case, &told);
                    scored = true;
                    if method == Method::Engine {
                        let (sum, count) = bases.entry(case.wait.group).or_default();
                        *sum += parameters.bases[case.wait.group as usize];
                        *count += 1;
                    }
                }
            }
        }
        folds += usize::from(scored);
        start = Some(parameters);
    }
    progress(1.0);
    Ok(Report {
        scheme: plan.scheme,
        folds,
        lines: tallies
            .into_iter()
            .map(|((issue, method), tally)| Line { issue, method, scores: tally.scores() })
            .collect(),
        bases: bases.into_iter().map(|(group, (sum, count))| (group, sum / count as f64)).collect(),
    })
}

fn cases(places: &[Place<'_>], waits: &[Wait], settings: &Settings) -> Vec<Case> {
    let mut tables = BTreeMap::new();
    let again = repeated(waits);
    waits
        .iter()
        .zip(again)
        .filter(|(wait, again)| {
            !again && wait.season < settings.season && doubt(wait, settings.as_of).is_none()
        })
        .filter_map(|(wait, _)| {
            let ready = wait.seen_on(Stage::ShowReady)?;
            let table = table_of(&mut tables, places, wait.place, settings.rule)?;
            heat_to(table, wait.stop_day, ready, settings.believed).ok()?;
            Some(Case { wait: *wait, ready })
        })
        .collect()
}

type TableMap = BTreeMap<(u32, u64), HeatTable>;

fn table_of<'a>(
    tables: &'a mut TableMap,
    places: &[Place<'_>],
    place: u32,
    rule: HeatRule,
) -> Option<&'a HeatTable> {
    let of = places.get(place as usize)?;
    Some(
        tables
            .entry((place, rule.base_c.to_bits()))
            .or_insert_with(|| HeatTable::build_with(of.series, of.house, of.gain, rule)),
    )
}

/// A group's mean and standard deviation, of days or of log heat.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    n: f64,
    sum: f64,
    squares: f64,
}

impl Moments {
    fn add(&mut self, value: f64) {
        self.n += 1.0;
        self.sum += value;
        self.squares += value * value;
    }

    fn mean(&self) -> f64 {
        self.sum / self.n
    }

    /// Predictive: of one more value about the mean of those known. At least `floor`.
    fn sd(&self, floor: f64) -> f64 {
        let variance = (self.squares - self.sum * self.mean()) / (self.n - 1.0);
        (variance.max(0.0) * (1.0 + 1.0 / self.n)).sqrt().max(floor)
    }
}

/// A forecast: the probability of ready by the end of each day, and of being in show condition.
struct Told {
    first_day: i32,
    cumulative: Vec<f64>,
    /// The day that decides the Brier score and the chance told of being in condition on it.
    on_the_day: Option<(i32, f64)>,
}

struct Fold<'a> {
    places: &'a [Place<'a>],
    settings: &'a Settings,
    plan: &'a Plan,
    fit: &'a Fit,
    tables: TableMap,
    days: BTreeMap<u32, Moments>,
    heats: BTreeMap<u32, Moments>,
    effects: BTreeMap<(i32, i32), SeasonEffects>,
}

impl<'a> Fold<'a> {
    fn new(
        places: &'a [Place<'a>],
        training: &[Wait],
        settings: &'a Settings,
        plan: &'a Plan,
        fit: &'a Fit,
    ) -> Fold<'a> {
        let mut tables = TableMap::new();
        let (mut days, mut heats) = (BTreeMap::<u32, Moments>::new(), BTreeMap::<u32, Moments>::new());
        for wait in training {
            let Some(ready) = wait.seen_on(Stage::ShowReady) else { continue };
            let Some(table) = table_of(&mut tables, places, wait.place, settings.rule) else { continue };
            if let Ok(heat) = heat_to(table, wait.stop_day, ready, settings.believed) {
                days.entry(wait.group).or_default().add(f64::from(ready - wait.stop_day));
                heats.entry(wait.group).or_default().add(heat.ln());
            }
        }
        Fold { places, settings, plan, fit, tables, days, heats, effects: BTreeMap::new() }
    }

    fn forecasts(&mut self, case: &Case, issue: Issue, season_waits: &[Wait]) -> Vec<(Method, Told)> {
        let wait = &case.wait;
        let Some(days) = self.days.get(&wait.group).copied().filter(|days| days.n >= 2.0) else {
            return Vec::new();
        };
        #[expect(clippy::cast_possible_truncation, reason = "days of a wait")]
        let usual = wait.stop_day + days.mean().round() as i32;
        let Some(as_of) = issued_on(wait, issue, usual) else { return Vec::new() };
        if case.ready <= as_of {
            return Vec::new();
        }
        let mut told = Vec::with_capacity(3);
        let Some(requirement) = self.requirement(wait, issue, as_of, season_waits) else {
            return told;
        };
        let heats = self.heats[&wait.group];
        let fixed = Requirement {
            mean_log: heats.mean(),
            shared_sd: 0.0,
            own_sd: heats.sd(0.02),
            base_c: self.settings.rule.base_c,
            ..requirement
        };
        // The engine and its references are scored on the same plants: all or none.
        let engine = self.by_heat(wait, &requirement, issue, as_of, usual);
        let by_heat = self.by_heat(wait, &fixed, issue, as_of, usual);
        let by_days = by_days(wait, &days, as_of, self.plan.horizon);
        if let (Some(engine), Some(by_heat), Some(by_days)) = (engine, by_heat, by_days) {
            told.push((Method::Engine, engine));
            told.push((Method::MeanDays, by_days));
            told.push((Method::FixedHeat, by_heat));
        }
        told
    }

    fn requirement(
        &mut self,
        wait: &Wait,
        issue: Issue,
        as_of: i32,
        season_waits: &[Wait],
    ) -> Option<Requirement> {
        let ask = Ask {
            group: wait.group,
            environment: wait.environment,
            cultivar: Some(wait.cultivar),
            grower: Some(wait.grower),
            region: None,
        };
        let of_season = matches!(self.plan.scheme, Scheme::LeaveSeasonOut | Scheme::Forward);
        if issue == Issue::OwnWeather || !of_season {
            return self.fit.requirement(&ask);
        }
        // What had been seen by the Monday before: one grid for all plants of a week.
        let monday = (as_of - 4).div_euclid(7) * 7 + 4;
        if !self.effects.contains_key(&(wait.season, monday)) {
            let effects = self.fit.season_effects_on(self.places, season_waits, wait.season, monday);
            self.effects.insert((wait.season, monday), effects);
        }
        let effect = self.effects[&(wait.season, monday)].get(&wait.region);
        self.fit.requirement_with(&ask, effect)
    }

    fn by_heat(
        &mut self,
        wait: &Wait,
        requirement: &Requirement,
        issue: Issue,
        as_of: i32,
        usual: i32,
    ) -> Option<Told> {
        let rule = HeatRule { base_c: requirement.base_c, ..self.settings.rule };
        let last_day = wait.stop_day + self.plan.horizon;
        let own_weather = issue == Issue::OwnWeather;
        let scheme = self.plan.scheme;
        let table = table_of(&mut self.tables, self.places, wait.place, rule)?;
        let future = future(table, scheme, own_weather, wait.stop_day, as_of, last_day)?;
        let stages = self.fit.stages.get(wait.group as usize)?;
        let outlook = Outlook::new(requirement.mean_log, requirement.sd_log(), stages).ok()?;
        let dates = stage_date(&future, &outlook, Stage::ShowReady).ok()?;
        let on_the_day = (usual > as_of && usual <= future.last_day)
            .then(|| show_condition(&future, &outlook, Seen::NotReady, usual..=usual).ok())
            .flatten()
            .and_then(|days| days.first().map(|day| (day.day, day.ready)));
        Some(Told { first_day: dates.first_day, cumulative: dates.cumulative, on_the_day })
    }
}

/// The day of issue; none where it cannot be named.
fn issued_on(wait: &Wait, issue: Issue, usual: i32) -> Option<i32> {
    match issue {
        // Nothing of the season was seen before the stop.
        Issue::OwnWeather => Some(wait.stop_day - 1),
        Issue::WeeksAhead(weeks) => Some(usual - 7 * weeks),
        Issue::DayOfSeason(day) => Some(calendar::epoch_day(wait.season, 1, 1)? + day - 1),
    }
}

/// Heat from the stop as known on `as_of`, with a trace for every year the scheme may look at; with the
/// season's own weather alone, one trace. `None` where weather is missing.
fn future(
    table: &HeatTable,
    scheme: Scheme,
    own_weather: bool,
    stop_day: i32,
    as_of: i32,
    last_day: i32,
) -> Option<Future> {
    if own_weather {
        let last_day = last_day.min(table.last_day());
        let cumulative = cumulative(stop_day..=last_day, |day| table.day_heat(day))?;
        return Some(Future {
            stop_day,
            as_of,
            last_day,
            observed_days: cumulative.len(),
            filled_days: 0,
            traces: vec![Trace { years_back: 0, cumulative }],
        });
    }
    let known = |day: i32| if day <= as_of { table.day_heat(day) } else { None };
    let later = if scheme == Scheme::Forward { 0 } else { MOST_TRACES };
    let traces: Vec<Trace> = (-later..=MOST_TRACES)
        .filter(|&back| back != 0)
        .filter_map(|back| {
            let of_year = |day: i32| {
                let then = calendar::years_back(day, back)?;
                // A year told forward is one whose days are all over.
                if back > 0 || !(stop_day..=last_day).contains(&then) { table.day_heat(then) } else { None }
            };
            let cumulative = cumulative(stop_day..=last_day, |day| known(day).or_else(|| of_year(day)))?;
            Some(Trace { years_back: back, cumulative })
        })
        .collect();
    (!traces.is_empty()).then_some(Future {
        stop_day,
        as_of,
        last_day,
        observed_days: usize::try_from(as_of - stop_day + 1).unwrap_or(0),
        filled_days: 0,
        traces,
    })
}

fn cumulative(
    days: std::ops::RangeInclusive<i32>,
    mut heat: impl FnMut(i32) -> Option<f64>,
) -> Option<Vec<f64>> {
    let mut sum = 0.0;
    days.map(|day| {
        sum += heat(day)?;
        Some(sum)
    })
    .collect()
}

fn by_days(wait: &Wait, days: &Moments, as_of: i32, horizon: i32) -> Option<Told> {
    let (mean, sd) = (days.mean(), days.sd(1.0));
    // Whole days: a wait of d days ends between d - 1/2 and d + 1/2.
    let by = |day: i32| normal::cdf((f64::from(day - wait.stop_day) + 0.5 - mean) / sd);
    let first_day = wait.stop_day.max(as_of + 1);
    let before = if first_day > as_of + 1 { 0.0 } else { by(as_of) };
    let left = 1.0 - before;
    if left < 1e-12 {
        return None;
    }
    let cumulative: Vec<f64> = (first_day..=wait.stop_day + horizon)
        .map(|day| ((by(day) - before) / left).clamp(0.0, 1.0))
        .collect();
    Some(Told { first_day, cumulative, on_the_day: None })
}

#[derive(Debug, Clone, Default)]
struct Tally {
    scores: Scores,
    decided: usize,
    brier: f64,
}

impl Tally {
    fn add(&mut self, case: &Case, told: &Told) {
        let scores = &mut self.scores;
        scores.n += 1;
        let at = told.cumulative.iter().position(|reached| *reached >= 0.5).unwrap_or(told.cumulative.len());
        // Days of a wait are few enough for every conversion here.
        let median = told.first_day + i32::try_from(at).unwrap_or(i32::MAX / 4);
        let error = f64::from(median - case.ready);
        scores.bias += error;
        scores.mae += error.abs();
        scores.rmse += error * error;
        let (first, told_by) = (told.first_day, &told.cumulative);
        // Cumulative probabilities of the reckoned days never fall and none is empty, so both are scores.
        scores.crps += scores::crps_days_to_horizon(first, told_by, case.ready).unwrap_or(f64::NAN);
        let pit = scores::mid_pit(first, told_by, case.ready).unwrap_or(f64::NAN);
        scores.pit[bin(pit)] += 1;
        for (cover, share) in
            [(&mut scores.cover50, 0.5), (&mut scores.cover80, 0.8), (&mut scores.cover90, 0.9)]
        {
            *cover += f64::from(u8::from((pit - 0.5).abs() <= share / 2.0));
        }
        if let Some((day, chance)) = told.on_the_day
            && let Some(came) = in_condition(case, day)
        {
            self.decided += 1;
            self.brier += (chance - f64::from(u8::from(came))).powi(2);
            let bin = &mut scores.reliability[bin(chance)];
            bin.forecasts += 1;
            bin.told += chance;
            bin.came += usize::from(came);
        }
    }

    fn scores(mut self) -> Scores {
        let n = self.scores.n as f64;
        let scores = &mut self.scores;
        for sum in [
            &mut scores.bias,
            &mut scores.mae,
            &mut scores.crps,
            &mut scores.cover50,
            &mut scores.cover80,
            &mut scores.cover90,
        ] {
            *sum /= n;
        }
        scores.rmse = (scores.rmse / n).sqrt();
        scores.brier = (self.decided > 0).then(|| self.brier / self.decided as f64);
        self.scores
    }
}

/// Whether a plant was in show condition on a day; `None` where its diary does not tell.
fn in_condition(case: &Case, day: i32) -> Option<bool> {
    if case.ready > day {
        return Some(false);
    }
    case.wait.seen_on(Stage::PastBest).map(|past| past > day)
}

fn bin(share: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 1 times ten")]
    let bin = (share.clamp(0.0, 1.0) * BINS as f64) as usize;
    bin.min(BINS - 1)
}

/// The dates of the records believed for the whole of a heat rule, for callers with none of their own.
pub const ANY_HEAT: Believed = Believed { least: 0.0, most: f64::INFINITY };
