//! The engine finds again what the demonstration's diaries were drawn from.
//!
//! The truth is the model stated in `seed_demo::diary`, `people` and `cultivars`; no published figure stands
//! here. What is read is what a server reads: stops, stages and the stations' weather, never the drawn
//! effects.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use seed_demo::cultivars::CULTIVAR_SD;
use seed_demo::demo::{Demo, Scale};
use seed_demo::diary::{self, Heat, REGION_SEASON_SD, RESIDUAL_SD, handbook_group, house, region_season};
use seed_demo::people::GROWER_SD;
use seed_demo::places::REGIONS;
use seed_demo::random::Random;
use seed_demo::weather::{Springs, Weather};
use storksbill_domain::words::{DiaryKind, PlantGroup};
use storksbill_forecast::backtest::{self, Issue, Method, Plan, Report, Scheme};
use storksbill_forecast::calendar;
use storksbill_forecast::fit::{
    Ask, BaseSearch, Fit, Parameters, Regime, Settings, Spreads, estimate, refresh,
};
use storksbill_forecast::glass::{Gain, House};
use storksbill_forecast::records::{Place, Wait};
use storksbill_forecast::series::RegionSeries;
use storksbill_forecast::stages::{STAGES, Stage};

const THIS_SEASON: i32 = 2026;
/// The base of the heat the truth is stated in, degrees C.
const TRUE_BASE_C: f64 = 4.0;

/// The demonstration of 150 members and five past seasons on 10 May 2026.
fn demonstration(seed: u64) -> Demo {
    let today = calendar::epoch_day(THIS_SEASON, 5, 10).unwrap();
    Demo::generate(Scale { members: 150, years: 5, seed, today }).unwrap()
}

/// The same with nothing in it that the engine does not suppose: cultivars that are no relatives (in the
/// demonstration a group's cultivars descend from a few founders, so that its mean strays further and its
/// cultivars lie closer together), no spring made to differ, and 25 years of weather.
fn supposed(seed: u64) -> Demo {
    let mut demo = demonstration(seed);
    let mut random = Random::stream(seed, "strangers", &[]);
    for cultivar in &mut demo.cultivars {
        cultivar.effect = random.normal(0.0, CULTIVAR_SD);
    }
    let from = calendar::epoch_day(2001, 1, 1).unwrap();
    let even = Springs { cold: None, warm: None };
    demo.weather = Weather::generate(seed, from, demo.scale.today - 1, even);
    let heat = Heat::of(&demo.weather, &demo.plants).unwrap();
    let seasons = demo.scale.seasons();
    demo.diary = diary::generate(seed, seasons, &demo.people, &demo.cultivars, &demo.plants, &heat);
    demo
}

fn stage_of(kind: DiaryKind) -> Option<Stage> {
    match kind {
        DiaryKind::BudSeen => Some(Stage::Bud),
        DiaryKind::FirstColour => Some(Stage::FirstColour),
        DiaryKind::FirstOpenFloret => Some(Stage::FirstOpenFloret),
        DiaryKind::ShowReady => Some(Stage::ShowReady),
        DiaryKind::PastBest => Some(Stage::PastBest),
        _ => None,
    }
}

/// How many levels a factor has, and the harmonic mean of their records.
struct Levels {
    count: f64,
    records: f64,
}

/// What can be read of a demonstration.
struct Read {
    demo: Demo,
    series: Vec<RegionSeries>,
    /// Regions and houses; the index is a wait's place.
    houses: Vec<(usize, House)>,
    waits: Vec<Wait>,
}

impl Read {
    fn of(demo: Demo) -> Read {
        let series = (0..REGIONS.len()).map(|at| demo.weather.series(at).unwrap()).collect();
        let mut houses: Vec<(usize, House)> = Vec::new();
        // A grower has looked until the last thing written in a year.
        let mut looked: BTreeMap<(usize, i32), i32> = BTreeMap::new();
        for record in &demo.diary.records {
            let year = calendar::date(record.day).year;
            let last = looked.entry((demo.plants[record.plant].owner, year)).or_insert(record.day);
            *last = record.day.max(*last);
        }
        let mut waits: Vec<Wait> = Vec::new();
        let mut open: Option<Wait> = None;
        for record in &demo.diary.records {
            let plant = &demo.plants[record.plant];
            let number = u32::try_from(record.plant).unwrap();
            if record.kind == DiaryKind::Stopping {
                // A later stop takes the place of an earlier one, unless that one's flowers came between.
                let season = calendar::date(record.day + 31).year;
                if let Some(before) = open.take()
                    && (before.plant != number || before.season != season)
                {
                    waits.push(before);
                }
                let key = (plant.region, house(plant.place));
                let place = houses.iter().position(|known| *known == key).unwrap_or_else(|| {
                    houses.push(key);
                    houses.len() - 1
                });
                open = Some(Wait {
                    plant: number,
                    group: demo.cultivars[plant.cultivar].group as u32,
                    cultivar: u32::try_from(plant.cultivar).unwrap(),
                    grower: u32::try_from(plant.owner).unwrap(),
                    region: u32::try_from(plant.region).unwrap(),
                    environment: plant.place.environment as u32,
                    place: u32::try_from(place).unwrap(),
                    season,
                    stop_day: record.day,
                    seen: [None; STAGES],
                    looked_until: looked.get(&(plant.owner, season)).copied(),
                });
            } else if let Some(stage) = stage_of(record.kind)
                && let Some(wait) = open.as_mut().filter(|wait| wait.plant == number)
            {
                wait.seen[stage.index()].get_or_insert(record.day);
            }
        }
        waits.extend(open);
        Read { demo, series, houses, waits }
    }

    fn places(&self) -> Vec<Place<'_>> {
        let place = |(region, house): &(usize, House)| Place {
            series: &self.series[*region],
            house: *house,
            gain: Gain::default(),
        };
        self.houses.iter().map(place).collect()
    }

    /// The society's own settings, but for the base, which is kept where the truth is stated.
    fn settings(&self) -> Settings {
        let handbook = PlantGroup::ALL.iter().map(|group| Some(handbook_group(*group).degree_days()));
        let all = Settings::new(handbook.collect(), self.demo.scale.today - 1, THIS_SEASON);
        Settings { bases: None, ..all }
    }

    /// Parameters and effects.
    fn fit(&self, settings: &Settings) -> (Parameters, Fit) {
        let places = self.places();
        let parameters = estimate(&places, &self.waits, settings, None).unwrap();
        let fit = refresh(&places, &self.waits, settings, &parameters).unwrap();
        (parameters, fit)
    }

    /// Waits with a stage to learn from, of the seasons that are over.
    fn told(&self) -> impl Iterator<Item = &Wait> {
        self.waits.iter().filter(|wait| wait.season < THIS_SEASON && wait.seen != [None; STAGES])
    }

    fn levels<K: Ord>(&self, key: impl Fn(&Wait) -> K) -> Levels {
        let mut records: BTreeMap<K, f64> = BTreeMap::new();
        for wait in self.told() {
            *records.entry(key(wait)).or_default() += 1.0;
        }
        let count = records.len() as f64;
        Levels { count, records: count / records.values().map(|records| 1.0 / records).sum::<f64>() }
    }

    /// Cultivars with records, by group, with the effect that was drawn.
    fn drawn(&self) -> BTreeMap<u32, BTreeMap<u32, f64>> {
        let mut drawn: BTreeMap<u32, BTreeMap<u32, f64>> = BTreeMap::new();
        for wait in self.told() {
            let effect = self.demo.cultivars[wait.cultivar as usize].effect;
            drawn.entry(wait.group).or_default().insert(wait.cultivar, effect);
        }
        drawn
    }

    /// The spread of the drawn effects about their groups' means.
    fn drawn_spread(&self) -> f64 {
        let (mut squares, mut freedom) = (0.0, 0.0);
        for group in self.drawn().values() {
            let mean = mean(group.values().copied());
            squares += group.values().map(|effect| (effect - mean).powi(2)).sum::<f64>();
            freedom += group.len() as f64 - 1.0;
        }
        (squares / freedom).sqrt()
    }

    fn commonest_environment(&self) -> u32 {
        let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
        for wait in self.told() {
            *counts.entry(wait.environment).or_default() += 1;
        }
        *counts.iter().max_by_key(|(_, count)| **count).unwrap().0
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    sum / count
}

/// A number that was stated and what was made of the records.
#[derive(Debug)]
struct Finding {
    what: String,
    truth: f64,
    found: f64,
    /// Standard error of `found` about `truth`.
    error: f64,
}

impl Finding {
    fn new(what: impl Into<String>, truth: f64, found: f64, error: f64) -> Finding {
        Finding { what: what.into(), truth, found, error }
    }

    fn errors_off(&self) -> f64 {
        (self.found - self.truth) / self.error
    }
}

/// Standard deviations against the truth and their sampling errors: with `q` levels of `m` records each (the
/// harmonic mean) that of a variance component is `(s^2 + residual^2 / m) sqrt(2 / q)`, and half of that over
/// `s` the standard deviation's own.
fn spreads(read: &Read, found: &Spreads, true_cultivar: f64) -> Vec<Finding> {
    let residual = RESIDUAL_SD.powi(2);
    let sampled = |what: &str, truth: f64, found: f64, levels: Levels| {
        let variance = (truth.powi(2) + residual / levels.records) * (2.0 / levels.count).sqrt();
        Finding::new(format!("spread: {what}"), truth, found, variance / (2.0 * truth))
    };
    let n = read.told().count() as f64;
    vec![
        sampled("cultivar", true_cultivar, found.cultivar, read.levels(|wait| wait.cultivar)),
        sampled("grower", GROWER_SD, found.grower, read.levels(|wait| wait.grower)),
        sampled(
            "region and season",
            REGION_SEASON_SD,
            found.region_season,
            read.levels(|wait| (wait.region, wait.season)),
        ),
        Finding::new("spread: residual", RESIDUAL_SD, found.residual, RESIDUAL_SD / (2.0 * n).sqrt()),
    ]
}

/// The group's own season is not in the truth: its variance, against the sampling error of a variance that
/// is nought.
fn own_season(read: &Read, found: &Spreads) -> Finding {
    let levels = read.levels(|wait| (wait.region, wait.season, wait.group));
    let error = RESIDUAL_SD.powi(2) / levels.records * (2.0 / levels.count).sqrt();
    Finding::new("variance: region, season and group", 0.0, found.region_season_group.powi(2), error)
}

/// Mean and standard deviation of what the fit knows of a plant, but for its season and its own residual.
fn known(fit: &Fit, ask: &Ask) -> (f64, f64) {
    let spreads = &fit.parameters.spreads;
    let found = fit.requirement(&Ask { region: None, ..*ask }).unwrap();
    let shared = found.shared_sd / fit.parameters.calibration[ask.group as usize];
    let season = spreads.region_season.powi(2) + spreads.region_season_group.powi(2);
    let unknown = |asked: Option<u32>, sd: f64| if asked.is_none() { sd.powi(2) } else { 0.0 };
    let others = unknown(ask.cultivar, spreads.cultivar) + unknown(ask.grower, spreads.grower);
    (found.mean_log, (shared.powi(2) - season - others).sqrt())
}

fn log_handbook(group: u32) -> f64 {
    handbook_group(PlantGroup::ALL[group as usize]).degree_days().ln()
}

/// Each group's mean against the handbook's value it was drawn about, or about the mean of its own cultivars.
fn groups(read: &Read, fit: &Fit, own_cultivars: bool) -> Vec<Finding> {
    let environment = read.commonest_environment();
    let finding = |(&group, cultivars): (&u32, &BTreeMap<u32, f64>)| {
        let ask = Ask { group, environment, cultivar: None, grower: None, region: None };
        let (found, error) = known(fit, &ask);
        let stray = if own_cultivars { mean(cultivars.values().copied()) } else { 0.0 };
        let name = PlantGroup::ALL[group as usize];
        Finding::new(format!("group: {name}"), log_handbook(group) + stray, found, error)
    };
    read.drawn().iter().map(finding).collect()
}

/// What is known of every twentieth plant's cultivar and grower.
fn plants(read: &Read, fit: &Fit) -> Vec<Finding> {
    let finding = |wait: &Wait| {
        let ask = Ask {
            group: wait.group,
            environment: wait.environment,
            cultivar: Some(wait.cultivar),
            grower: Some(wait.grower),
            region: None,
        };
        let (found, error) = known(fit, &ask);
        let effects = read.demo.cultivars[wait.cultivar as usize].effect
            + read.demo.people[wait.grower as usize].effect;
        Finding::new(format!("plant {}", wait.plant), log_handbook(wait.group) + effects, found, error)
    };
    read.told().step_by(20).map(finding).collect()
}

/// The effect of the season under way on each region.
fn seasons(read: &Read, fit: &Fit) -> Vec<Finding> {
    (0..REGIONS.len())
        .filter_map(|region| {
            let found = fit.season_effect(u32::try_from(region).unwrap())?;
            let truth = region_season(read.demo.scale.seed, region, THIS_SEASON);
            Some(Finding::new(format!("season: {}", REGIONS[region].name), truth, found.mean, found.sd))
        })
        .collect()
}

/// The truth's stages: shift from show-ready and its spread.
const STAGE_TRUTH: [(Stage, (f64, f64)); 4] = [
    (Stage::Bud, diary::BUD_SEEN),
    (Stage::FirstColour, diary::FIRST_COLOUR),
    (Stage::FirstOpenFloret, diary::FIRST_OPEN_FLORET),
    (Stage::PastBest, diary::PAST_BEST),
];

/// Each group's stage offsets. The common ones count as thirty of a group's own plants, so the error is that
/// of the mean of own plants and of those thirty.
fn stages(read: &Read, fit: &Fit) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (group, name) in PlantGroup::ALL.iter().enumerate() {
        for (stage, (offset, sd)) in STAGE_TRUTH {
            let seen: Vec<&Wait> = read
                .waits
                .iter()
                .filter(|wait| wait.seen_on(stage).is_some() && wait.seen_on(Stage::ShowReady).is_some())
                .collect();
            let own = seen.iter().filter(|wait| wait.group as usize == group).count() as f64;
            let weight = own / (own + 30.0);
            let common = sd / (seen.len() as f64 + 20.0).sqrt();
            let error = (weight * sd / own.max(1.0).sqrt()).hypot((1.0 - weight) * common);
            let found = fit.stages[group].offset[stage.index()];
            findings.push(Finding::new(format!("stage: {name} {stage:?}"), offset, found, error));
        }
    }
    findings
}

/// Growers write a readiness down with a stated chance, where it comes before the year is out.
fn written(read: &Read, found: &Parameters) -> Finding {
    let over: Vec<_> = read.demo.diary.flowerings.iter().filter(|f| f.season < THIS_SEASON).collect();
    let n = over.len() as f64;
    let truth = diary::READY_WRITTEN * over.iter().filter(|f| f.show_ready.is_some()).count() as f64 / n;
    Finding::new("written", truth, found.written, (truth * (1.0 - truth) / n).sqrt())
}

fn assert_within_three(findings: &[Finding]) {
    let far: Vec<&Finding> = findings.iter().filter(|finding| finding.errors_off().abs() > 3.0).collect();
    assert!(!findings.is_empty() && far.is_empty(), "{far:#?}");
}

/// The demonstration's own seed.
const SEED: u64 = 11;

/// Every number is started from another than the truth, so that what is found is the records' doing.
#[test]
fn what_the_records_were_drawn_from_is_found_whatever_the_fit_starts_from() {
    let read = Read::of(demonstration(SEED));
    let mut settings = read.settings();
    for handbook in settings.handbook.iter_mut().flatten() {
        *handbook *= 1.1;
    }
    settings.spreads = Spreads {
        cultivar: 0.12,
        grower: 0.04,
        region_season: 0.09,
        region_season_group: 0.02,
        residual: 0.15,
        ..settings.spreads
    };
    for stage in [Stage::Bud, Stage::FirstColour, Stage::FirstOpenFloret, Stage::PastBest] {
        settings.stages.offset[stage.index()] += 0.03;
    }
    let (parameters, fit) = read.fit(&settings);
    assert_eq!(parameters.regime, Regime::Full);
    // Cultivars of the demonstration are relatives; what is found is how those with records differ.
    let mut findings = spreads(&read, &parameters.spreads, read.drawn_spread());
    findings.push(own_season(&read, &parameters.spreads));
    findings.push(written(&read, &parameters));
    findings.extend(groups(&read, &fit, true));
    assert_within_three(&findings);
    // A stage's offset over all groups: the prior stands for some forty plants more.
    let offsets = stages(&read, &fit);
    for (at, (stage, (offset, sd))) in STAGE_TRUTH.iter().enumerate() {
        let own: Vec<&Finding> = offsets.iter().skip(at).step_by(STAGE_TRUTH.len()).collect();
        let found = mean(own.iter().map(|finding| finding.found));
        let seen = read.told().filter(|wait| wait.seen_on(*stage).is_some()).count() as f64;
        let pull = 0.03 * 20.0 / (seen + 20.0);
        let error = 2.0 * sd / seen.sqrt();
        assert!((found - offset).abs() <= 3.0 * error + pull, "{stage:?}: {found} of {offset}");
    }
}

/// The profile over a few hundred records leaves a base to within about a degree: over forty seeds those
/// found differ by 0.6 C from the truth in the mean square.
#[test]
fn the_base_of_every_group_is_found_within_the_reach_of_its_profile() {
    let read = Read::of(demonstration(SEED));
    let settings = Settings { bases: Some(BaseSearch::default()), ..read.settings() };
    let found = estimate(&read.places(), &read.waits, &settings, None).unwrap();
    assert_eq!(found.bases.len(), PlantGroup::ALL.len());
    assert!(found.bases.iter().all(|base| (base - TRUE_BASE_C).abs() <= 3.0 * 0.6), "{:?}", found.bases);
    let others = spreads(&read, &found.spreads, read.drawn_spread());
    assert_within_three(&others);
}

/// Plants of one season are told from one weather and one estimate: of some 2,300 forecasts a seed the shares
/// that come within what was told vary over forty seeds as those of this many independent ones.
const INDEPENDENT_FORECASTS: f64 = 280.0;

#[test]
fn left_out_seasons_come_within_what_is_told_of_them() {
    let read = Read::of(demonstration(SEED));
    let report =
        backtest::run(&read.places(), &read.waits, &read.settings(), &Plan::default(), &mut |_| ()).unwrap();
    let lines: Vec<_> = report.lines.iter().filter(|line| line.method == Method::Engine).collect();
    assert_eq!((report.folds, lines.len()), (5, 4));
    for line in lines {
        for (share, covered) in [(0.5, line.scores.cover50), (0.9, line.scores.cover90)] {
            let error = (share * (1.0_f64 - share) / INDEPENDENT_FORECASTS).sqrt();
            let off = (covered - share).abs();
            assert!(off <= 3.0 * error, "{:?}: {covered:.3} of {share}", line.issue);
        }
    }
}

/// Seeds of the slow test.
const SEEDS: u64 = 40;

/// Of one seed.
struct Told {
    findings: BTreeMap<&'static str, Vec<Finding>>,
    report: Report,
}

fn told_of(seed: u64) -> Told {
    let read = Read::of(supposed(seed));
    let settings = read.settings();
    let (parameters, fit) = read.fit(&settings);
    let searched = Settings { bases: Some(BaseSearch::default()), ..settings.clone() };
    let searched = estimate(&read.places(), &read.waits, &searched, None).unwrap();
    let mut stated = spreads(&read, &parameters.spreads, CULTIVAR_SD);
    stated.push(written(&read, &parameters));
    let base = |base: &f64| Finding::new("base", TRUE_BASE_C, *base, 0.6);
    let findings = BTreeMap::from([
        ("parameters", stated),
        ("own season", vec![own_season(&read, &parameters.spreads)]),
        ("bases", searched.bases.iter().map(base).collect()),
        ("groups", groups(&read, &fit, false)),
        ("plants", plants(&read, &fit)),
        ("season under way", seasons(&read, &fit)),
        ("stages", stages(&read, &fit)),
    ]);
    let mut issues = Plan::default().issues;
    issues.push(Issue::OwnWeather);
    let plan = Plan { scheme: Scheme::LeaveSeasonOut, issues, horizon: 250 };
    let report = backtest::run(&read.places(), &read.waits, &settings, &plan, &mut |_| ()).unwrap();
    Told { findings, report }
}

fn told_of_all() -> Vec<Told> {
    let (next, told) = (AtomicU64::new(0), Mutex::new(Vec::new()));
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some(seed) = Some(next.fetch_add(1, Ordering::Relaxed)).filter(|seed| *seed < SEEDS)
                {
                    let one = told_of(seed);
                    told.lock().unwrap().push(one);
                }
            });
        }
    });
    told.into_inner().unwrap()
}

/// Mean over seeds and its standard error.
fn over_seeds(values: &[f64]) -> (f64, f64) {
    let (n, middle) = (values.len() as f64, mean(values.iter().copied()));
    let squares = values.iter().map(|value| (value - middle).powi(2)).sum::<f64>();
    (middle, (squares / (n - 1.0) / n).sqrt())
}

/// Share of the findings of a kind that lie within so many errors of the truth, seed by seed.
fn within(told: &[Told], kind: &str, errors: f64) -> Vec<f64> {
    let share = |one: &Told| {
        mean(
            one.findings[kind]
                .iter()
                .map(|finding| f64::from(u8::from(finding.errors_off().abs() <= errors))),
        )
    };
    told.iter().map(share).collect()
}

/// Within three standard errors over the seeds, or within `slack`.
fn faults_of_share(what: &str, nominal: f64, shares: &[f64], slack: f64) -> Option<String> {
    let (share, error) = over_seeds(shares);
    let off = (share - nominal).abs();
    (off > (3.0 * error).max(slack)).then(|| format!("{what}: {share:.3} +- {error:.3} of {nominal}"))
}

/// The model's own suppositions hold in every seed, so what it says of its errors must hold over them.
#[test]
#[ignore = "slow: forty seeds"]
fn over_forty_seeds_as_much_lies_within_each_interval_as_it_says() {
    let told = told_of_all();
    let mut faults: Vec<Option<String>> = Vec::new();
    for (at, first) in told[0].findings["parameters"].iter().enumerate() {
        let off: Vec<f64> = told.iter().map(|one| one.findings["parameters"][at].errors_off()).collect();
        let (middle, error) = over_seeds(&off);
        faults.push(
            (middle.abs() > 3.0 * error)
                .then(|| format!("{}: {middle:.2} +- {error:.2} errors off", first.what)),
        );
    }
    // Normal quantiles of the central half, nine tenths and 99.73 %.
    for (errors, nominal) in [(0.674_490, 0.5), (1.644_854, 0.9), (3.0, 0.997_3)] {
        for kind in ["parameters", "groups", "plants"] {
            // Nine parameters and forty seeds: one more or less is 0.3 %.
            faults.push(faults_of_share(kind, nominal, &within(&told, kind, errors), 0.005));
        }
    }
    faults.push(faults_of_share("own season", 1.0, &within(&told, "own season", 3.0), 0.0));
    let bases = |one: &Told| mean(one.findings["bases"].iter().map(|base| base.found));
    let (base, error) = over_seeds(&told.iter().map(bases).collect::<Vec<f64>>());
    faults.push(((base - TRUE_BASE_C).abs() > 3.0 * error).then(|| format!("base {base:.2} +- {error:.2}")));
    for (at, (stage, _)) in STAGE_TRUTH.iter().enumerate() {
        let of_stage = |one: &Told| {
            mean(one.findings["stages"].iter().skip(at).step_by(STAGE_TRUTH.len()).map(Finding::errors_off))
        };
        let (middle, error) = over_seeds(&told.iter().map(of_stage).collect::<Vec<f64>>());
        // Days are whole, and a floret drawn before the first colour is not written: a fifth of an error.
        faults.push(
            (middle.abs() > (3.0 * error).max(0.2)).then(|| format!("{stage:?}: {middle:.2} errors off")),
        );
    }
    // One in a hundred more or less is the standard deviations' own uncertainty, held as calibration.
    faults.extend(faults_of_forecasts(&told, Issue::OwnWeather, 0.01));
    let faults: Vec<String> = faults.into_iter().flatten().collect();
    assert!(faults.is_empty(), "{faults:#?}");
}

/// Shares within the middle half and nine tenths of what was told at one lead.
fn faults_of_forecasts(told: &[Told], issue: Issue, slack: f64) -> [Option<String>; 2] {
    let covered = |nominal: f64| -> Vec<f64> {
        let scores = told.iter().map(|one| {
            let own = |line: &&backtest::Line| line.issue == issue && line.method == Method::Engine;
            &one.report.lines.iter().find(own).unwrap().scores
        });
        scores.map(|scores| if nominal < 0.6 { scores.cover50 } else { scores.cover90 }).collect()
    };
    [0.5, 0.9]
        .map(|nominal| faults_of_share(&format!("forecasts {issue:?}"), nominal, &covered(nominal), slack))
}
