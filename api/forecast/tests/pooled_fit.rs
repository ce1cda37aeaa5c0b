//! The pooled fit on records drawn from a known truth, and the laws it must keep.
//!
//! Truth, weather and records are invented here; nothing stands on a source but the model itself.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::backtest::{Issue, Method, Plan, Scheme, run};
use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::fit::{
    Ask, Basis, Enough, Fit, Parameters, Regime, Settings, Spreads, estimate, refresh,
};
use storksbill_forecast::glass::{Gain, House};
use storksbill_forecast::records::{Place, SetAside, Wait};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::stages::{STAGES, Stage};

/// A stream of numbers, the same at every run.
struct Draws(u64);

impl Draws {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let word = (self.0 ^ (self.0 >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        ((word ^ (word >> 32)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn normal(&mut self, sd: f64) -> f64 {
        // The sum of twelve uniforms is close enough to normal for the sizes here.
        sd * ((0..12).map(|_| self.unit()).sum::<f64>() - 6.0)
    }

    fn below(&mut self, n: u32) -> u32 {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "below n")]
        let drawn = (self.unit() * f64::from(n)) as u32;
        drawn
    }
}

const FIRST: i32 = 2014;
const LAST: i32 = 2025;
const REGIONS: u32 = 4;
const GROUPS: u32 = 3;
const CULTIVARS: u32 = 60;
const GROWERS: u32 = 80;

fn weather(region: u32) -> RegionSeries {
    let mut draws = Draws(900 + u64::from(region));
    let mut swing = 0.0;
    let mut readings = Vec::new();
    for day in epoch_day(FIRST - 2, 1, 1).unwrap()..=epoch_day(LAST, 12, 31).unwrap() {
        swing = 0.9 * swing + draws.normal(1.3);
        let year = 1.2 * (f64::from(day.div_euclid(365) * 7919 % 11) / 5.0 - 1.0);
        let wave =
            9.5 - f64::from(region) - 7.5 * (std::f64::consts::TAU * f64::from(day - 20) / 365.25).cos();
        let mean = wave + swing + year;
        let half = 3.0 + draws.unit() * 3.0;
        readings.push(Reading { day, min_c: mean - half, max_c: mean + half });
    }
    RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap()
}

fn places(series: &[RegionSeries]) -> Vec<Place<'_>> {
    let houses = [House::FrostFree, House::Heated { at_least_c: 5.0 }];
    series
        .iter()
        .flat_map(|series| houses.map(|house| Place { series, house, gain: Gain::default() }))
        .collect()
}

struct Truth {
    spreads: Spreads,
    degree_days: [f64; GROUPS as usize],
    bases: [f64; GROUPS as usize],
    /// Addition of the heated house.
    heated: f64,
}

impl Truth {
    fn usual() -> Truth {
        Truth {
            spreads: Spreads::default(),
            degree_days: [1285.0, 1441.0, 1129.0],
            bases: [4.0; 3],
            heated: 0.05,
        }
    }
}

/// Records of plants from a truth; of the last season only what was written by `as_of`.
fn records(truth: &Truth, places: &[Place<'_>], seed: u64, plants: u32, as_of: i32) -> Vec<Wait> {
    let mut draws = Draws(seed);
    let mut effects = |n: u32, sd: f64| (0..n).map(|_| draws.normal(sd)).collect::<Vec<f64>>();
    let cultivars = effects(CULTIVARS, truth.spreads.cultivar);
    let growers = effects(GROWERS, truth.spreads.grower);
    let seasons = effects(REGIONS * 12, truth.spreads.region_season);
    let tables: Vec<Vec<HeatTable>> = truth
        .bases
        .iter()
        .map(|&base_c| {
            let rule = HeatRule { base_c, ..HeatRule::default() };
            places.iter().map(|place| HeatTable::build(place.series, place.house, rule)).collect()
        })
        .collect();
    let mut waits = Vec::new();
    for season in FIRST..=LAST {
        for number in 0..plants {
            let cultivar = draws.below(CULTIVARS);
            let group = cultivar % GROUPS;
            let grower = draws.below(GROWERS);
            let (region, environment) = (grower % REGIONS, draws.below(2));
            let place = region * 2 + environment;
            let stop_day = epoch_day(season, 1, 25).unwrap() + i32::try_from(draws.below(70)).unwrap();
            let log = truth.degree_days[group as usize].ln()
                + cultivars[cultivar as usize]
                + growers[grower as usize]
                + seasons[(region * 12) as usize + usize::try_from(season - FIRST).unwrap()]
                + truth.heated * f64::from(environment)
                + draws.normal(truth.spreads.residual);
            let table = &tables[group as usize][place as usize];
            let reach = |log: f64| {
                (stop_day..stop_day + 300)
                    .find(|&day| table.between(stop_day, day).is_some_and(|heat| heat >= log.exp()))
            };
            let mut seen = [None; STAGES];
            let floret = draws.normal(0.03) - 0.20;
            let past = draws.normal(0.05).max(-0.1) + 0.16;
            seen[Stage::FirstOpenFloret.index()] = reach(log + floret.min(-0.02));
            seen[Stage::ShowReady.index()] = reach(log).filter(|_| draws.unit() < 0.85);
            seen[Stage::PastBest.index()] = reach(log + past.max(0.02));
            let seen = seen.map(|day| day.filter(|day| *day <= as_of));
            if stop_day <= as_of {
                waits.push(Wait {
                    plant: number + plants * u32::try_from(season - FIRST).unwrap(),
                    group,
                    cultivar,
                    grower,
                    region,
                    environment,
                    place,
                    season,
                    stop_day,
                    seen,
                    looked_until: Some(as_of),
                });
            }
        }
    }
    waits
}

fn settings(as_of: i32) -> Settings {
    Settings::new(vec![Some(1285.0), Some(1441.0), Some(1129.0)], as_of, LAST)
}

fn end_of_spring() -> i32 {
    epoch_day(LAST, 5, 31).unwrap()
}

fn weathers() -> Vec<RegionSeries> {
    (0..REGIONS).map(weather).collect()
}

fn ask(group: u32) -> Ask {
    Ask { group, environment: 0, cultivar: None, grower: None, region: None }
}

fn close(found: f64, truth: f64, within: f64) -> bool {
    (found - truth).abs() <= within
}

#[test]
fn the_truth_is_recovered() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let truth = Truth { bases: [4.0, 4.0, 7.0], degree_days: [1285.0, 1441.0, 800.0], ..Truth::usual() };
    let waits = records(&truth, &places, 1, 400, as_of);
    let found = estimate(&places, &waits, &settings(as_of), None).unwrap();
    assert_eq!(found.regime, Regime::Full);
    assert!(found.records > 4_000, "{}", found.records);
    // Sampling errors of a standard deviation from q levels: sd / sqrt(2 q), three of them.
    let within = |levels: f64, sd: f64| 3.0 * sd / (2.0 * levels).sqrt();
    for (what, found, truth, levels) in [
        ("cultivar", found.spreads.cultivar, 0.08, 60.0),
        ("grower", found.spreads.grower, 0.06, 80.0),
        ("region and season", found.spreads.region_season, 0.06, 44.0),
        ("residual", found.spreads.residual, 0.12, 1_000.0),
    ] {
        assert!(close(found, truth, within(levels, truth)), "{what}: {found} for {truth}");
    }
    for (group, (base, truth)) in found.bases.iter().zip([4.0, 4.0, 7.0]).enumerate() {
        assert!(close(*base, truth, 1.5), "base of group {group}: {base} for {truth}");
    }
    let fit = refresh(&places, &waits, &settings(as_of), &found).unwrap();
    for stages in &fit.stages {
        assert!(close(stages.offset[Stage::FirstOpenFloret.index()], -0.20, 0.02), "{stages:?}");
        assert!(close(stages.offset[Stage::PastBest.index()], 0.16, 0.02), "{stages:?}");
    }
    assert!(close(found.written, 0.85, 0.03), "{}", found.written);
    for (group, factor) in found.calibration.iter().enumerate() {
        assert!(close(*factor, 1.0, 0.12), "calibration of group {group}: {factor}");
    }
    // The mean of a group with a base of its own is compared in days by the backtest; the others' here.
    for group in [0, 1] {
        if close(found.bases[group as usize], 4.0, 0.1) {
            let need = fit.requirement(&ask(group)).unwrap();
            let far = (need.mean_log - truth.degree_days[group as usize].ln()) / 0.05;
            assert!(far.abs() < 3.0, "group {group}: {} degree-days", need.degree_days());
        }
    }
}

#[test]
fn without_the_jacobian_the_least_base_would_win() {
    // The criterion of log heat alone falls as the base falls, whatever the truth; dates do not.
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let truth = Truth { bases: [6.0; 3], degree_days: [1000.0, 1100.0, 900.0], ..Truth::usual() };
    let waits = records(&truth, &places, 2, 300, as_of);
    let flat = Settings {
        bases: Some(storksbill_forecast::fit::BaseSearch { prior_sd: 100.0, ..Default::default() }),
        ..settings(as_of)
    };
    let found = estimate(&places, &waits, &flat, None).unwrap();
    for base in &found.bases {
        assert!(close(*base, 6.0, 2.0), "{:?}", found.bases);
    }
}

fn same(a: &Parameters, b: &Parameters) {
    for (a, b) in [
        (a.spreads.cultivar, b.spreads.cultivar),
        (a.spreads.grower, b.spreads.grower),
        (a.spreads.region_season, b.spreads.region_season),
        (a.spreads.residual, b.spreads.residual),
    ] {
        assert!(close(a, b, 1e-3 * b.max(0.05)), "{a} and {b}");
    }
    assert_eq!(a.bases, b.bases);
}

#[test]
fn a_warm_start_ends_where_a_cold_one_does() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let waits = records(&Truth::usual(), &places, 3, 200, as_of);
    let settings = settings(as_of);
    let cold = estimate(&places, &waits, &settings, None).unwrap();
    // Yesterday's estimate knew half of the records.
    let yesterday = estimate(&places, &waits[..waits.len() / 2], &settings, None).unwrap();
    let warm = estimate(&places, &waits, &settings, Some(&yesterday)).unwrap();
    same(&warm, &cold);
    let (cold, warm) = (
        refresh(&places, &waits, &settings, &cold).unwrap(),
        refresh(&places, &waits, &settings, &warm).unwrap(),
    );
    for group in 0..GROUPS {
        let (a, b) = (cold.requirement(&ask(group)).unwrap(), warm.requirement(&ask(group)).unwrap());
        assert!(close(a.mean_log, b.mean_log, 1e-4), "{a:?} {b:?}");
        assert!(close(a.sd_log(), b.sd_log(), 1e-3), "{a:?} {b:?}");
    }
}

#[test]
fn a_refresh_takes_a_new_record_without_a_new_estimate() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let waits = records(&Truth::usual(), &places, 4, 200, as_of);
    let settings = settings(as_of);
    let parameters = estimate(&places, &waits, &settings, None).unwrap();
    let of = |fit: &Fit| fit.requirement(&Ask { cultivar: Some(0), ..ask(0) }).unwrap();
    let before = refresh(&places, &waits, &settings, &parameters).unwrap();
    // One more plant of cultivar 0, much later than usual.
    let mut more = waits.clone();
    let late = waits
        .iter()
        .find(|wait| wait.cultivar == 0 && wait.season < LAST && wait.seen_on(Stage::ShowReady).is_some())
        .copied()
        .unwrap();
    let mut seen = [None; STAGES];
    seen[Stage::ShowReady.index()] = late.seen_on(Stage::ShowReady).map(|day| day + 12);
    more.push(Wait { plant: 999_999, seen, ..late });
    let after = refresh(&places, &more, &settings, &parameters).unwrap();
    assert!(of(&after).mean_log > of(&before).mean_log);
    assert_eq!(of(&after).cultivar.records, of(&before).cultivar.records + 1);
}

#[test]
fn few_records_leave_the_handbook_and_some_move_the_means_alone() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let waits = records(&Truth::usual(), &places, 5, 100, as_of);
    let settings = settings(as_of);
    let over: Vec<Wait> = waits.iter().filter(|wait| wait.season < LAST).copied().collect();
    let by_season = |n: usize| over.iter().step_by(over.len() / n).copied().collect::<Vec<Wait>>();

    let handbook = estimate(&places, &by_season(20), &settings, None).unwrap();
    assert_eq!(handbook.regime, Regime::Handbook);
    let fit = refresh(&places, &by_season(20), &settings, &handbook).unwrap();
    let need = fit.requirement(&ask(0)).unwrap();
    assert!(close(need.mean_log, 1285_f64.ln(), 1e-12));
    assert_eq!(need.basis, Basis::Handbook);

    let means = estimate(&places, &by_season(150), &settings, None).unwrap();
    assert_eq!(means.regime, Regime::Means);
    assert_eq!(means.spreads, Spreads::default());
    assert!(means.bases.iter().all(|base| close(*base, 4.0, 0.0)));

    // Two seasons are not three, however many records.
    let short: Vec<Wait> = over.iter().filter(|wait| wait.season < FIRST + 2).copied().collect();
    assert!(short.len() > 150);
    assert_eq!(estimate(&places, &short, &settings, None).unwrap().regime, Regime::Handbook);
}

#[test]
fn plants_not_yet_ready_hold_back_the_season_index() {
    let (series, as_of) = (weathers(), epoch_day(LAST, 7, 5).unwrap());
    let places = places(&series);
    let waits = records(&Truth::usual(), &places, 6, 300, as_of);
    let settings = settings(as_of);
    let parameters = estimate(&places, &waits, &settings, None).unwrap();
    let all = refresh(&places, &waits, &settings, &parameters).unwrap();
    let ready_only: Vec<Wait> = waits
        .iter()
        .filter(|wait| wait.season < LAST || wait.seen.iter().any(Option::is_some))
        .copied()
        .collect();
    let early_birds = refresh(&places, &ready_only, &settings, &parameters).unwrap();
    for region in 0..REGIONS {
        let (all, early) = (all.season_effect(region).unwrap(), early_birds.season_effect(region).unwrap());
        assert!(all.ready > 0 && all.waiting > 0, "{all:?}");
        assert_eq!(early.waiting, 0);
        assert!(all.mean > early.mean, "{all:?} {early:?}");
    }
}

#[test]
fn the_season_effect_nears_the_truth_as_records_come() {
    // Every region's last season is drawn from N(0, 0.06^2); by the year's end it is all but known.
    let (series, as_of) = (weathers(), epoch_day(LAST, 11, 30).unwrap());
    let places = places(&series);
    let truth = Truth::usual();
    let waits = records(&truth, &places, 7, 300, as_of);
    let mut draws = Draws(7);
    for _ in 0..CULTIVARS + GROWERS {
        draws.normal(1.0);
    }
    let drawn: Vec<f64> = (0..REGIONS * 12).map(|_| draws.normal(truth.spreads.region_season)).collect();
    let settings = settings(as_of);
    let parameters = estimate(&places, &waits, &settings, None).unwrap();
    let fit = refresh(&places, &waits, &settings, &parameters).unwrap();
    for region in 0..REGIONS {
        let found = fit.season_effect(region).unwrap();
        let truth = drawn[(region * 12 + 11) as usize];
        assert!(close(found.mean, truth, 0.03), "{found:?} for {truth}");
        assert!(found.sd < 0.03, "{found:?}");
    }
}

#[test]
fn a_grower_with_a_slow_house_is_told_so() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let mut waits = records(&Truth::usual(), &places, 8, 300, as_of);
    // Grower 3 is late by about a seventh of the heat.
    for wait in waits.iter_mut().filter(|wait| wait.grower == 3) {
        wait.seen = wait.seen.map(|day| day.map(|day| day + 9));
    }
    let settings = settings(as_of);
    let parameters = estimate(&places, &waits, &settings, None).unwrap();
    let fit = refresh(&places, &waits, &settings, &parameters).unwrap();
    assert!(fit.grower_effect(3).unwrap() > 0.05, "{:?}", fit.grower_effect(3));
    assert_eq!(fit.grower_effect(12_345), None);
    let own = fit.requirement(&Ask { grower: Some(3), ..ask(0) }).unwrap();
    let anybody = fit.requirement(&ask(0)).unwrap();
    assert!(own.mean_log > anybody.mean_log && own.shared_sd < anybody.shared_sd);
}

#[test]
fn what_cannot_be_is_set_aside_by_name() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let mut waits = records(&Truth::usual(), &places, 9, 200, as_of);
    let complete = |wait: &Wait| wait.season < LAST && wait.seen.iter().flatten().count() == 3;
    let good: Vec<Wait> = waits.iter().filter(|wait| complete(wait)).take(6).copied().collect();
    let first = waits.len();
    let with = |wait: &Wait, stage: Stage, day: i32| {
        let mut wait = Wait { plant: wait.plant + 1_000_000, ..*wait };
        wait.seen[stage.index()] = Some(day);
        wait
    };
    let ready = |wait: &Wait| wait.seen_on(Stage::ShowReady).unwrap();
    waits.push(good[0]);
    waits.push(with(&good[1], Stage::FirstOpenFloret, good[1].stop_day - 3));
    waits.push(with(&good[2], Stage::PastBest, ready(&good[2]) - 1));
    waits.push(with(&good[3], Stage::PastBest, as_of + 10));
    let mut hurried = with(&good[4], Stage::ShowReady, good[4].stop_day + 6);
    hurried.seen[Stage::FirstOpenFloret.index()] = None;
    waits.push(hurried);
    // A hundred and fifty days late: believable heat, but not of such a plant.
    let mut odd = with(&good[5], Stage::ShowReady, ready(&good[5]) + 150);
    odd.seen[Stage::PastBest.index()] = None;
    waits.push(odd);
    let settings = settings(as_of);
    let parameters = estimate(&places, &waits, &settings, None).unwrap();
    let fit = refresh(&places, &waits, &settings, &parameters).unwrap();
    let reason = |number: usize| {
        fit.set_aside.iter().find(|(wait, _)| *wait == first + number).map(|(_, reason)| *reason)
    };
    assert_eq!(reason(0), Some(SetAside::Duplicate));
    assert_eq!(reason(1), Some(SetAside::EventBeforeStop));
    assert_eq!(reason(2), Some(SetAside::StagesOutOfOrder));
    assert_eq!(reason(3), Some(SetAside::InTheFuture));
    assert_eq!(reason(4), Some(SetAside::TooLittleHeat));
    assert_eq!(reason(5), Some(SetAside::FarFromOthers));
    let others = fit.set_aside.iter().filter(|(wait, _)| *wait < first).count();
    assert!(others <= 3, "{others} good records set aside of {first}");
}

#[test]
fn order_and_names_do_not_matter() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let waits = records(&Truth::usual(), &places, 10, 100, as_of);
    let settings = Settings { bases: None, ..settings(as_of) };
    let parameters = estimate(&places, &waits, &settings, None).unwrap();
    let mut renamed: Vec<Wait> = waits
        .iter()
        .map(|wait| Wait { cultivar: 500 - wait.cultivar, grower: 7 * wait.grower + 3, ..*wait })
        .collect();
    renamed.reverse();
    let before = refresh(&places, &waits, &settings, &parameters).unwrap();
    let after = refresh(&places, &renamed, &settings, &parameters).unwrap();
    for cultivar in 0..CULTIVARS {
        let group = cultivar % GROUPS;
        let a = before.requirement(&Ask { cultivar: Some(cultivar), ..ask(group) }).unwrap();
        let b = after.requirement(&Ask { cultivar: Some(500 - cultivar), ..ask(group) }).unwrap();
        assert!(close(a.mean_log, b.mean_log, 1e-9) && close(a.sd_log(), b.sd_log(), 1e-9));
    }
}

#[test]
fn a_group_without_a_record_changes_nothing() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let waits = records(&Truth::usual(), &places, 11, 100, as_of);
    let three = settings(as_of);
    let mut four = three.clone();
    four.handbook.push(Some(1400.0));
    let fit = |settings: &Settings| {
        let parameters = estimate(&places, &waits, settings, None).unwrap();
        refresh(&places, &waits, settings, &parameters).unwrap()
    };
    let (three, four) = (fit(&three), fit(&four));
    for group in 0..GROUPS {
        assert_eq!(three.requirement(&ask(group)), four.requirement(&ask(group)));
    }
    let unknown = four.requirement(&ask(3)).unwrap();
    assert!(close(unknown.mean_log, 1400_f64.ln(), 1e-12));
    assert_eq!(unknown.basis, Basis::Handbook);
}

#[test]
fn records_all_alike_do_not_break_the_fit() {
    let (series, as_of) = (weathers(), end_of_spring());
    let places = places(&series);
    let waits: Vec<Wait> = (0..400)
        .map(|plant| {
            let season = FIRST + i32::try_from(plant % 8).unwrap();
            let stop_day = epoch_day(season, 3, 1).unwrap();
            let mut seen = [None; STAGES];
            seen[Stage::ShowReady.index()] = Some(stop_day + 110);
            Wait {
                plant,
                group: 0,
                cultivar: 0,
                grower: plant % 6,
                region: 0,
                environment: 0,
                place: 0,
                season,
                stop_day,
                seen,
                looked_until: None,
            }
        })
        .collect();
    let settings = settings(as_of);
    let parameters = estimate(&places, &waits, &settings, None).unwrap();
    let fit = refresh(&places, &waits, &settings, &parameters).unwrap();
    let need = fit.requirement(&Ask { cultivar: Some(0), grower: Some(2), ..ask(0) }).unwrap();
    assert!(need.mean_log.is_finite() && need.sd_log() > 0.0 && need.sd_log().is_finite(), "{need:?}");
}

#[test]
fn the_backtest_beats_both_references_and_covers_as_often_as_it_says() {
    let (series, as_of) = (weathers(), epoch_day(LAST, 11, 30).unwrap());
    let places = places(&series);
    let waits = records(&Truth::usual(), &places, 12, 150, as_of);
    let settings = Settings {
        bases: None,
        calibration_from: Enough { records: usize::MAX, seasons: 0 },
        ..settings(as_of)
    };
    let mut told = Vec::new();
    let report = run(&places, &waits, &settings, &Plan::default(), &mut |done| told.push(done)).unwrap();
    assert_eq!(report.folds, 11);
    assert!(told.windows(2).all(|pair| pair[0] <= pair[1]) && told.last() == Some(&1.0));
    let line = |weeks: i32, method: Method| {
        let issue = Issue::WeeksAhead(weeks);
        &report.lines.iter().find(|line| line.issue == issue && line.method == method).unwrap().scores
    };
    for weeks in [12, 8, 4, 2] {
        let engine = line(weeks, Method::Engine);
        let (days, heat) = (line(weeks, Method::MeanDays), line(weeks, Method::FixedHeat));
        assert_eq!(engine.n, days.n);
        assert!(engine.crps < days.crps && engine.crps < heat.crps, "{weeks}: {engine:?} {days:?} {heat:?}");
        // Plants of one season share its weather: about eleven independent seasons stand behind a share.
        assert!(close(engine.cover90, 0.9, 0.07), "{weeks}: {engine:?}");
        assert!(close(engine.cover50, 0.5, 0.13), "{weeks}: {engine:?}");
        assert_eq!(engine.pit.iter().sum::<usize>(), engine.n);
    }
    assert!(line(2, Method::Engine).crps < line(12, Method::Engine).crps);
    let brier = line(4, Method::Engine).brier.unwrap();
    assert!(brier > 0.0 && brier < 0.25, "{brier}");
    let every: usize = line(4, Method::Engine).reliability.iter().map(|bin| bin.forecasts).sum();
    assert!(every > 200, "{every}");
}

#[test]
fn the_schemes_hold_out_what_they_say() {
    let (series, as_of) = (weathers(), epoch_day(LAST, 11, 30).unwrap());
    let places = places(&series);
    let waits = records(&Truth::usual(), &places, 13, 60, as_of);
    let settings = Settings { bases: None, ..settings(as_of) };
    let folds = |scheme| {
        let plan = Plan { scheme, issues: vec![Issue::WeeksAhead(4)], horizon: 300 };
        let report = run(&places, &waits, &settings, &plan, &mut |_| {}).unwrap();
        (report.folds, report.lines.iter().map(|line| line.scores.n).max().unwrap())
    };
    assert_eq!(folds(Scheme::LeaveRegionOut).0, 4);
    assert_eq!(folds(Scheme::LeaveGrowersOut).0, 10);
    // Told forward, the first seasons have too little before them and fewer plants are told.
    let (forward, told) = folds(Scheme::Forward);
    assert!(forward < 11 && told < folds(Scheme::LeaveSeasonOut).1, "{forward} {told}");
}
