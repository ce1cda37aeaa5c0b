//! The joint normal of the stages: conditioning against numerical integration, learning against the closed
//! form for monotone missing data (Anderson 1957, Journal of the American Statistical Association
//! 52:200-203), dates against simulation.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::predict::{PredictError, ready_date, stage_date};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::stages::{Increments, Outlook, STAGES, Stage, StageError, StageModel};
use storksbill_forecast::traces::Future;

/// Uniform on 0..1 (Lehmer generator of Park & Miller 1988, Communications of the ACM 31:1192-1201).
fn uniform(state: &mut u64) -> f64 {
    *state = *state * 16_807 % 2_147_483_647;
    *state as f64 / 2_147_483_647.0
}

/// A standard normal (Box & Muller 1958, Annals of Mathematical Statistics 29:610-611).
fn gauss(state: &mut u64) -> f64 {
    let radius = (-2.0 * uniform(state).ln()).sqrt();
    radius * (std::f64::consts::TAU * uniform(state)).cos()
}

fn close(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within
}

fn weather(first: i32, last: i32) -> Vec<Reading> {
    let (mut state, mut anomaly) = (77, 0.0);
    (first..=last)
        .map(|day| {
            anomaly = 0.85 * anomaly + 3.0 * (uniform(&mut state) - 0.5);
            let wave = 10.0 - 7.0 * (std::f64::consts::TAU * f64::from(day - 20) / 365.25).cos();
            Reading { day, min_c: wave + anomaly - 4.0, max_c: wave + anomaly + 5.0 }
        })
        .collect()
}

fn table(last: i32) -> HeatTable {
    let readings = weather(epoch_day(2010, 1, 1).unwrap(), last);
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    HeatTable::build(&series, House::FrostFree, HeatRule::default())
}

#[test]
fn stages_are_numbered_in_their_order() {
    assert!(Stage::ALL.iter().enumerate().all(|(at, stage)| stage.index() == at));
    assert!(Stage::ALL.is_sorted());
    let outlook = Outlook::new(1285_f64.ln(), 0.17, &StageModel::default()).unwrap();
    assert!(outlook.mean.is_sorted());
    assert!(close(outlook.mean_log(Stage::ShowReady), 1285_f64.ln(), 1e-15));
    assert!(close(outlook.sd_log(Stage::ShowReady), 0.17, 1e-15));
    assert!(close(outlook.sd_log(Stage::Bud), 0.17_f64.hypot(0.06), 1e-12));
}

#[test]
fn a_sighting_is_the_conditional_normal() {
    // Two numbers by hand: var ready .04, var delta .01: cov(ready, bud) = .04, var bud = .05.
    let mut model =
        StageModel { offset: [0.0; STAGES], covariance: [[0.0; STAGES]; STAGES], with_ready: [0.0; STAGES] };
    model.offset[0] = -0.5;
    model.covariance[0][0] = 0.01;
    let outlook = Outlook::new(7.0, 0.2, &model).unwrap();
    let seen = outlook.given_day(Stage::Bud, 6.6, 6.6).unwrap();
    assert!(close(seen.mean_log(Stage::ShowReady), 7.0 + 0.04 / 0.05 * 0.1, 1e-12));
    assert!(close(seen.sd_log(Stage::ShowReady).powi(2), 0.04 - 0.04 * 0.04 / 0.05, 1e-12));
    assert!(close(seen.mean_log(Stage::Bud), 6.6, 1e-12) && close(seen.sd_log(Stage::Bud), 0.0, 1e-12));
    // Known only to a day as wide as 0.12: 0.0012 more variance.
    let rough = outlook.given_day(Stage::Bud, 6.54, 6.66).unwrap();
    assert!(close(rough.mean_log(Stage::ShowReady), 7.0 + 0.04 / 0.0512 * 0.1, 1e-12));
    assert!(close(rough.sd_log(Stage::ShowReady).powi(2), 0.04 - 0.04 * 0.04 / 0.0512, 1e-12));
    // A requirement whose long plants also bud late.
    model.with_ready[0] = 0.01;
    let tied = Outlook::new(7.0, 0.2, &model).unwrap();
    assert!(close(tied.covariance[0][3], 0.05, 1e-12) && close(tied.covariance[0][0], 0.07, 1e-12));
}

#[test]
fn a_day_wide_sighting_agrees_with_integration_over_the_day() {
    let outlook = Outlook::new(7.0, 0.17, &StageModel::default()).unwrap();
    // 12 degree-days on the day bud is seen, at about 690.
    let (before, after) = (690_f64.ln(), 702_f64.ln());
    let seen = outlook.given_day(Stage::Bud, before, after).unwrap();
    // y_ready on a grid x bud within the day on a grid: the joint density, directly.
    let (mb, vb, c) = (outlook.mean[0], outlook.covariance[0][0], outlook.covariance[0][3]);
    let slope = c / vb;
    let rest = outlook.covariance[3][3] - c * slope;
    let (mut weight, mut first, mut second) = (0.0, 0.0, 0.0);
    for at in 0..400 {
        let bud = before + (after - before) * (f64::from(at) + 0.5) / 400.0;
        let density = (-(bud - mb).powi(2) / (2.0 * vb)).exp();
        let mean = outlook.mean[3] + slope * (bud - mb);
        weight += density;
        first += density * mean;
        second += density * (mean * mean + rest);
    }
    let (mean, variance) = (first / weight, second / weight - (first / weight).powi(2));
    assert!(close(seen.mean_log(Stage::ShowReady), mean, 1e-6));
    assert!(close(seen.sd_log(Stage::ShowReady), variance.sqrt(), 1e-6));
}

#[test]
fn the_order_of_sightings_does_not_matter() {
    let outlook = Outlook::new(7.1, 0.17, &StageModel::default()).unwrap();
    let one = outlook.given_day(Stage::Bud, 6.50, 6.52).unwrap();
    let one = one.given_day(Stage::FirstColour, 6.81, 6.82).unwrap();
    let other = outlook.given_day(Stage::FirstColour, 6.81, 6.82).unwrap();
    let other = other.given_day(Stage::Bud, 6.50, 6.52).unwrap();
    for j in 0..STAGES {
        assert!(close(one.mean[j], other.mean[j], 1e-9));
        for k in 0..STAGES {
            assert!(close(one.covariance[j][k], other.covariance[j][k], 1e-9));
        }
    }
    // Steps are independent: once colour is seen to the hour, bud has nothing more to say of ready.
    let colour = outlook.given_day(Stage::FirstColour, 6.81, 6.81).unwrap();
    let both = colour.given_day(Stage::Bud, 6.50, 6.50).unwrap();
    assert!(close(colour.mean[3], both.mean[3], 1e-9));
    // Each sighting narrows the date, the nearer stage more.
    let spread = |outlook: &Outlook| outlook.sd_log(Stage::ShowReady);
    let bud = outlook.given_day(Stage::Bud, 6.50, 6.52).unwrap();
    let floret = outlook.given_day(Stage::FirstOpenFloret, 6.90, 6.91).unwrap();
    assert!(spread(&floret) < spread(&colour) && spread(&colour) < spread(&bud) && spread(&bud) < 0.17);
}

#[test]
fn no_record_leaves_the_prior() {
    let prior = StageModel::default();
    assert_eq!(StageModel::learn(&[], &prior, 10.0).unwrap(), prior);
    assert_eq!(StageModel::learn(&[[None, None, None, Some(0.0), None]], &prior, 10.0).unwrap(), prior);
}

#[test]
fn complete_records_pool_with_the_prior_by_weight() {
    let prior = StageModel::default();
    let plants: Vec<Increments> = [0.02, -0.03, 0.05, 0.00, 0.01]
        .iter()
        .zip([0.01, 0.03, -0.02, 0.04, -0.01])
        .map(|(a, b)| [Some(-0.7 + a), Some(-0.4 + b), Some(-0.22 + a * b), None, Some(0.2 - a)])
        .collect();
    let learnt = StageModel::learn(&plants, &prior, 3.0).unwrap();
    for j in [0, 1, 2, 4] {
        let own: f64 = plants.iter().map(|plant| plant[j].unwrap()).sum();
        let mean = (3.0 * prior.offset[j] + own) / 8.0;
        assert!(close(learnt.offset[j], mean, 1e-12));
        for k in [0, 1, 2, 4] {
            let centre =
                (3.0 * prior.offset[k] + plants.iter().map(|plant| plant[k].unwrap()).sum::<f64>()) / 8.0;
            let own: f64 = plants.iter().map(|p| (p[j].unwrap() - mean) * (p[k].unwrap() - centre)).sum();
            let before = prior.covariance[j][k] + (prior.offset[j] - mean) * (prior.offset[k] - centre);
            assert!(close(learnt.covariance[j][k], (3.0 * before + own) / 8.0, 1e-12), "{j} {k}");
        }
    }
    assert_eq!(
        (learnt.offset[3], learnt.covariance[3], learnt.with_ready),
        (0.0, [0.0; STAGES], [0.0; STAGES])
    );
}

#[test]
fn missing_records_meet_the_closed_form() {
    // Colour seen on all, bud on the first 40 of 60: with no prior to speak of, the maximum likelihood is
    // that of the regression of bud on colour over the 40, taken to the colour of all 60.
    let mut state = 5;
    let plants: Vec<Increments> = (0..60)
        .map(|n| {
            let colour = -0.34 + 0.05 * gauss(&mut state);
            let bud = -0.62 + 0.8 * (colour + 0.34) + 0.04 * gauss(&mut state);
            [(n < 40).then_some(bud), Some(colour), None, None, None]
        })
        .collect();
    let learnt = StageModel::learn(&plants, &StageModel::default(), 1e-9).unwrap();
    let pairs: Vec<(f64, f64)> = plants.iter().filter_map(|p| Some((p[1]?, p[0]?))).collect();
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let (x, y): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
    let all: Vec<f64> = plants.iter().map(|plant| plant[1].unwrap()).collect();
    let product = |a: &[f64], b: &[f64]| {
        let (ma, mb) = (mean(a), mean(b));
        a.iter().zip(b).map(|(a, b)| (a - ma) * (b - mb)).sum::<f64>() / a.len() as f64
    };
    let slope = product(&x, &y) / product(&x, &x);
    let rest = product(&y, &y) - slope * product(&x, &y);
    let variance = product(&all, &all);
    assert!(close(learnt.offset[1], mean(&all), 1e-7));
    assert!(close(learnt.offset[0], mean(&y) + slope * (mean(&all) - mean(&x)), 1e-7));
    assert!(close(learnt.covariance[1][1], variance, 1e-7));
    assert!(close(learnt.covariance[0][1], slope * variance, 1e-7));
    assert!(close(learnt.covariance[0][0], rest + slope * slope * variance, 1e-7));
}

#[test]
fn learning_recovers_what_made_the_records() {
    let truth = StageModel { offset: [-0.7, -0.3, -0.15, 0.0, 0.22], ..StageModel::default() };
    let mut state = 11;
    let plants: Vec<Increments> = (0..4_000)
        .map(|_| {
            let floret = 0.04 * gauss(&mut state);
            let colour = floret + (0.05_f64.powi(2) - 0.04_f64.powi(2)).sqrt() * gauss(&mut state);
            let bud = colour + (0.06_f64.powi(2) - 0.05_f64.powi(2)).sqrt() * gauss(&mut state);
            let past = 0.05 * gauss(&mut state);
            let mut seen = |value: f64| (uniform(&mut state) < 0.5).then_some(value);
            [seen(bud - 0.7), seen(colour - 0.3), seen(floret - 0.15), None, seen(past + 0.22)]
        })
        .collect();
    let learnt = StageModel::learn(&plants, &StageModel::default(), 20.0).unwrap();
    for j in 0..STAGES {
        // Four standard errors of a mean of 2,000, and the prior's pull of 1 %.
        assert!(close(learnt.offset[j], truth.offset[j], 4.0 * 0.06 / 2_000_f64.sqrt() + 0.001), "{j}");
        for k in 0..STAGES {
            assert!(close(learnt.covariance[j][k], truth.covariance[j][k], 4e-4), "{j} {k}");
        }
    }
    // Order of the records does not matter.
    let back: Vec<Increments> = plants.iter().rev().copied().collect();
    let again = StageModel::learn(&back, &StageModel::default(), 20.0).unwrap();
    assert!((0..STAGES).all(|k| close(again.offset[k], learnt.offset[k], 1e-9)));
}

#[test]
fn what_is_no_model() {
    let model = StageModel::default();
    assert_eq!(Outlook::new(f64::NAN, 0.1, &model), Err(StageError::BadNumber));
    assert_eq!(Outlook::new(7.0, 0.0, &model), Err(StageError::BadNumber));
    let mut crooked = model.clone();
    crooked.covariance[0][1] = 0.01;
    crooked.covariance[1][0] = 0.01;
    assert_eq!(Outlook::new(7.0, 0.1, &crooked), Err(StageError::NotACovariance));
    let mut lopsided = model.clone();
    lopsided.covariance[0][1] = 0.0;
    assert_eq!(Outlook::new(7.0, 0.1, &lopsided), Err(StageError::NotACovariance));
    let mut moved = model.clone();
    moved.offset[3] = 0.1;
    assert_eq!(StageModel::learn(&[], &moved, 1.0), Err(StageError::NotACovariance));
    let mut tied = model.clone();
    tied.with_ready[0] = -0.5;
    assert_eq!(Outlook::new(7.0, 0.1, &tied), Err(StageError::NotACovariance));
    assert_eq!(StageModel::learn(&[], &model, 0.0), Err(StageError::BadNumber));
    assert_eq!(StageModel::learn(&[[Some(f64::NAN); STAGES]], &model, 1.0), Err(StageError::BadNumber));
    let outlook = Outlook::new(7.0, 0.1, &model).unwrap();
    for (before, after) in [(f64::NEG_INFINITY, 6.0), (6.1, 6.0), (6.0, f64::NAN)] {
        assert_eq!(outlook.given_day(Stage::Bud, before, after), Err(StageError::BadDay));
    }
}

#[test]
fn show_ready_is_the_stage_of_the_ready_date() {
    let stop = epoch_day(2025, 3, 11).unwrap();
    let table = table(stop + 40);
    let future = Future::ahead(&table, stop, stop + 40, stop + 240).unwrap();
    let outlook = Outlook::new(1285_f64.ln(), 0.17, &StageModel::default()).unwrap();
    let dates = ready_date(&future, 1285_f64.ln(), 0.17).unwrap();
    assert_eq!(stage_date(&future, &outlook, Stage::ShowReady).unwrap(), dates);
    let medians: Vec<i32> =
        Stage::ALL.iter().map(|&stage| stage_date(&future, &outlook, stage).unwrap().p50.unwrap()).collect();
    assert!(medians.windows(2).all(|pair| pair[0] < pair[1]), "{medians:?}");
    // A stage known exactly leaves no distribution of its day.
    let known = outlook.given_day(Stage::Bud, 6.0, 6.0).unwrap();
    assert_eq!(stage_date(&future, &known, Stage::Bud), Err(PredictError::BadRequirement));
}

#[test]
fn a_stage_seen_moves_the_date_as_simulated_plants_say() {
    // Plants drawn from the model; of those whose bud came on the day given, the ready dates by the end of
    // each day, against the distribution of the outlook given that sighting.
    let stop = epoch_day(2025, 3, 11).unwrap();
    let as_of = stop + 75;
    let table = table(as_of);
    let future = Future::ahead(&table, stop, as_of, stop + 260).unwrap();
    let model = StageModel::default();
    let (mu, sd) = (1285_f64.ln(), 0.17);
    let seen_on = stop + 70;
    let log_heat = |day: i32| table.between(stop, day).unwrap().ln();
    let (before, after) = (log_heat(seen_on - 1), log_heat(seen_on));
    let outlook = Outlook::new(mu, sd, &model).unwrap().given_day(Stage::Bud, before, after).unwrap();
    let dates = stage_date(&future, &outlook, Stage::ShowReady).unwrap();

    let mut state = 20_260_311;
    let (mut drawn, mut counts) = (0_u32, vec![0_u32; dates.cumulative.len()]);
    while drawn < 20_000 {
        let ready = mu + sd * gauss(&mut state);
        let bud = ready - 0.62 + 0.06 * gauss(&mut state);
        if !(before < bud && bud <= after) || ready <= log_heat(as_of) {
            continue;
        }
        drawn += 1;
        let trace = &future.traces[drawn as usize % future.traces.len()];
        let at = trace.cumulative.iter().position(|heat| heat.ln() >= ready).unwrap();
        let day = stop + i32::try_from(at).unwrap();
        counts[usize::try_from(day - dates.first_day).unwrap()] += 1;
    }
    let mut sum = 0.0;
    for (count, reached) in counts.iter().zip(&dates.cumulative) {
        sum += f64::from(*count) / f64::from(drawn);
        // Kolmogorov's 1 in 10,000 point over 20,000 draws is 0.0157.
        assert!(close(sum, *reached, 0.0157), "{sum} {reached}");
    }
    let blind = ready_date(&future, mu, sd).unwrap();
    assert!(dates.p75.unwrap() - dates.p25.unwrap() < blind.p75.unwrap() - blind.p25.unwrap());
    // The mean by its definition, and near the simulated one.
    let simulated: f64 = (dates.first_day..).zip(&counts).map(|(d, n)| f64::from(d) * f64::from(*n)).sum();
    assert!(close(dates.mean.unwrap(), simulated / f64::from(drawn), 0.4));
}

#[test]
fn more_seen_is_a_better_forecast() {
    // Plants grown through weather the forecast has not seen; the score is the sum over days of
    // (F(d) - 1[ready by d])^2 (Epstein 1969, Journal of Applied Meteorology 8:985-987).
    let whole = table(epoch_day(2025, 12, 31).unwrap());
    let model = StageModel::default();
    let (mu, sd) = (1285_f64.ln(), 0.17);
    let blind = Outlook::new(mu, sd, &model).unwrap();
    let mut state = 424_242;
    let mut sums = [0.0; 4];
    for year in 2016..=2025 {
        let stop = epoch_day(year, 3, 11).unwrap();
        let (as_of, last) = (stop + 85, stop + 260);
        let early = Future::ahead(&whole, stop, stop - 1, last).unwrap();
        let late = Future::ahead(&whole, stop, as_of, last).unwrap();
        let log_heat = |day: i32| whole.between(stop, day).unwrap().ln();
        let score = |future: &Future, outlook: &Outlook, ready: i32| -> f64 {
            let dates = stage_date(future, outlook, Stage::ShowReady).unwrap();
            let miss = |day: i32| dates.probability_by(day) - f64::from(u8::from(ready <= day));
            (stop..=last).map(|day| miss(day).powi(2)).sum()
        };
        for _ in 0..60 {
            let ready_log = mu + sd * gauss(&mut state);
            let bud_log = ready_log - 0.62 + 0.06 * gauss(&mut state);
            let first = |log: f64| (stop..=last).find(|&day| log_heat(day) >= log);
            let (Some(bud), Some(ready)) = (first(bud_log), first(ready_log)) else { continue };
            if ready <= as_of {
                continue;
            }
            sums[0] += score(&early, &blind, ready);
            sums[1] += score(&late, &blind, ready);
            if bud <= as_of {
                let seen = blind.given_day(Stage::Bud, log_heat(bud - 1), log_heat(bud)).unwrap();
                sums[2] += score(&late, &blind, ready);
                sums[3] += score(&late, &seen, ready);
            }
        }
    }
    let [planned, in_june, no_bud_noted, bud_noted] = sums;
    assert!(in_june < planned, "{sums:?}");
    assert!(bud_noted < 0.7 * no_bud_noted, "{sums:?}");
}

#[test]
fn colder_days_ahead_bring_no_stage_earlier() {
    let stop = epoch_day(2025, 3, 11).unwrap();
    let as_of = stop + 75;
    let (mut moved, readings) = (0, weather(epoch_day(2010, 1, 1).unwrap(), as_of));
    let dates = |by: f64, stage: Stage| {
        let readings: Vec<Reading> = readings
            .iter()
            .map(|r| {
                let by = if r.day < stop { by } else { 0.0 };
                Reading { min_c: r.min_c + by, max_c: r.max_c + by, ..*r }
            })
            .collect();
        let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
        let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
        let future = Future::ahead(&table, stop, as_of, stop + 280).unwrap();
        let log_heat = |day: i32| table.between(stop, day).unwrap().ln();
        let outlook = Outlook::new(1285_f64.ln(), 0.17, &StageModel::default()).unwrap();
        let seen = outlook.given_day(Stage::Bud, log_heat(stop + 69), log_heat(stop + 70)).unwrap();
        stage_date(&future, &seen, stage).unwrap()
    };
    for stage in [Stage::FirstColour, Stage::FirstOpenFloret, Stage::ShowReady, Stage::PastBest] {
        let (usual, colder, warmer) = (dates(0.0, stage), dates(-2.0, stage), dates(2.0, stage));
        for p in [0.05, 0.1, 0.25, 0.5, 0.75, 0.9] {
            let [usual, colder, warmer] = [&usual, &colder, &warmer].map(|dates| dates.quantile(p).unwrap());
            assert!(warmer <= usual && usual <= colder, "{stage:?} {p}");
            moved += i32::from(warmer < colder);
        }
    }
    assert!(moved >= 20, "the shift must be felt: {moved}");
}
