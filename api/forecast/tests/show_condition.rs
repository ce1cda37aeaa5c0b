//! The chances of show condition against brute force, and the laws they obey.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::condition::{ConditionDay, ConditionError, Seen, expected_days, show_condition};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::predict::{PredictError, stage_date, stage_date_not_yet};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::stages::{Outlook, STAGES, Stage, StageModel};
use storksbill_forecast::traces::Future;
use storksbill_numerics::normal;

/// Uniform on 0..1 (Lehmer generator of Park & Miller 1988, Communications of the ACM 31:1192-1201).
fn uniform(state: &mut u64) -> f64 {
    *state = *state * 16_807 % 2_147_483_647;
    *state as f64 / 2_147_483_647.0
}

fn weather(seed: u64, last: i32) -> Vec<Reading> {
    let (mut state, mut anomaly) = (seed * 7_919 + 1, 0.0);
    (epoch_day(2010, 1, 1).unwrap()..=last)
        .map(|day| {
            anomaly = 0.85 * anomaly + 3.0 * (uniform(&mut state) - 0.5);
            let wave = 10.0 - 7.0 * (std::f64::consts::TAU * f64::from(day - 20) / 365.25).cos();
            Reading { day, min_c: wave + anomaly - 4.0, max_c: wave + anomaly + 5.0 }
        })
        .collect()
}

fn table_of(readings: &[Reading]) -> HeatTable {
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings }]).unwrap();
    HeatTable::build(&series, House::FrostFree, HeatRule::default())
}

fn outlook() -> Outlook {
    Outlook::new(1285_f64.ln(), 0.17, &StageModel::default()).unwrap()
}

fn density(z: f64) -> f64 {
    (-z * z / 2.0).exp() / std::f64::consts::TAU.sqrt()
}

/// Trapezium rule, many steps, of a function that vanishes at both ends or is smooth.
fn integral(from: f64, to: f64, steps: u32, f: impl Fn(f64) -> f64) -> f64 {
    let step = (to - from) / f64::from(steps);
    let inner: f64 = (1..steps).map(|at| f(from + step * f64::from(at))).sum();
    step * (inner + f64::midpoint(f(from), f(to)))
}

/// Simpson's rule from the trapezium's.
fn simpson(from: f64, to: f64, steps: u32, f: impl Fn(f64) -> f64 + Copy) -> f64 {
    (4.0 * integral(from, to, 2 * steps, f) - integral(from, to, steps, f)) / 3.0
}

/// Brute force: `y_r` on a fine grid, `y_o` given it in closed form.
fn by_integration(future: &Future, outlook: &Outlook, seen: Seen, day: i32) -> [f64; 3] {
    let (mr, mo) = (outlook.mean_log(Stage::ShowReady), outlook.mean_log(Stage::PastBest));
    let vr = outlook.sd_log(Stage::ShowReady).powi(2);
    let slope = outlook.covariance_of(Stage::ShowReady, Stage::PastBest) / vr;
    let rest = (outlook.sd_log(Stage::PastBest).powi(2) - slope * slope * vr).sqrt();
    let mut sums = [0.0; 3];
    for trace in &future.traces {
        let log_at = |day: i32| {
            usize::try_from(day - future.stop_day).map_or(f64::NEG_INFINITY, |at| trace.cumulative[at].ln())
        };
        let (now, then) = (log_at(future.as_of), log_at(day));
        let over_after = |y: f64, a: f64| normal::survival((a - mo - slope * (y - mr)) / rest);
        let weigh = |y: f64| density((y - mr) / vr.sqrt()) / vr.sqrt();
        let (low, high) = (mr - 9.0 * vr.sqrt(), mr + 9.0 * vr.sqrt());
        let cut = |a: f64| a.clamp(low, high);
        let (a, b) = (cut(now), cut(then));
        match seen {
            Seen::NotReady => {
                sums[0] += simpson(b, high, 1_000, weigh);
                sums[1] += simpson(a, b, 1_000, |y| weigh(y) * over_after(y, then));
                sums[2] += simpson(a, b, 1_000, |y| weigh(y) * (1.0 - over_after(y, then)));
            }
            Seen::InCondition => {
                sums[1] += simpson(low, a, 1_000, |y| weigh(y) * over_after(y, then));
                sums[2] += simpson(low, a, 1_000, |y| weigh(y) * (over_after(y, now) - over_after(y, then)));
            }
        }
    }
    let whole: f64 = sums.iter().sum();
    sums.map(|sum| sum / whole)
}

fn assert_same(days: &[ConditionDay], brute: impl Fn(i32) -> [f64; 3], within: f64) {
    for at in days {
        let [early, ready, over] = brute(at.day);
        assert!((at.too_early - early).abs() < within, "{at:?} {early}");
        assert!((at.ready - ready).abs() < within, "{at:?} {ready}");
        assert!((at.over - over).abs() < within, "{at:?} {over}");
    }
}

#[test]
fn chances_agree_with_brute_integration() {
    let stop = epoch_day(2025, 3, 11).unwrap();
    let readings = weather(3, stop + 130);
    let table = table_of(&readings);
    let wide = StageModel {
        covariance: {
            // Some plants past best before they are ready: two standard deviations from it.
            let mut covariance = StageModel::default().covariance;
            covariance[4][4] = 0.08_f64.powi(2);
            covariance
        },
        with_ready: [0.0, 0.0, 0.0, 0.0, -0.005],
        ..StageModel::default()
    };
    let wide = Outlook::new(1285_f64.ln(), 0.17, &wide).unwrap();
    for outlook in [outlook(), wide] {
        for (as_of, seen) in [
            (stop - 20, Seen::NotReady),
            (stop + 60, Seen::NotReady),
            (stop + 105, Seen::NotReady),
            (stop + 130, Seen::NotReady),
            (stop + 105, Seen::InCondition),
        ] {
            let future = Future::ahead(&table, stop, as_of, stop + 200).unwrap();
            let days = show_condition(&future, &outlook, seen, as_of + 1..=stop + 200).unwrap();
            let some: Vec<ConditionDay> = days.iter().copied().skip(7).step_by(17).collect();
            assert_same(&some, |day| by_integration(&future, &outlook, seen, day), 1e-9);
        }
    }
}

#[test]
fn a_plant_seen_ready_on_a_day_agrees_with_brute_integration() {
    let stop = epoch_day(2025, 3, 11).unwrap();
    let table = table_of(&weather(3, stop + 110));
    let as_of = stop + 110;
    let future = Future::ahead(&table, stop, as_of, stop + 180).unwrap();
    let log_heat = |day: i32| table.between(stop, day).unwrap().ln();
    let seen_on = stop + 104;
    let outlook = outlook().given_day(Stage::ShowReady, log_heat(seen_on - 1), log_heat(seen_on)).unwrap();
    let days = show_condition(&future, &outlook, Seen::InCondition, as_of + 1..=stop + 180).unwrap();
    assert_same(&days, |day| by_integration(&future, &outlook, Seen::InCondition, day), 1e-9);
    // What matters is the heat since: past best is 0.16 +- 0.05 beyond the ready log heat.
    let middle = f64::midpoint(log_heat(seen_on - 1), log_heat(seen_on));
    let still = |a: f64| normal::survival((a - middle - 0.16) / 0.05);
    for at in &days {
        let expected: f64 = future
            .traces
            .iter()
            .map(|t| {
                still(t.cumulative[usize::try_from(at.day - stop).unwrap()].ln()) / still(log_heat(as_of))
            })
            .sum::<f64>()
            / future.traces.len() as f64;
        assert!((at.ready - expected).abs() < 2e-3, "{at:?} {expected}");
        assert!(at.too_early.abs() < 1e-15);
    }
}

#[test]
fn the_three_sum_to_one_and_are_the_differences_of_the_dates() {
    for seed in 1..8 {
        let stop = epoch_day(2025, 3, 11).unwrap();
        let table = table_of(&weather(seed, stop + 120));
        for as_of in [stop - 30, stop + 50, stop + 120] {
            let future = Future::ahead(&table, stop, as_of, stop + 260).unwrap();
            let outlook = outlook();
            let from = as_of.max(stop - 1) + 1;
            let days = show_condition(&future, &outlook, Seen::NotReady, from..=stop + 260).unwrap();
            let ready = stage_date(&future, &outlook, Stage::ShowReady).unwrap();
            // Past best, given not yet ready.
            let over = stage_date_not_yet(&future, &outlook, Stage::PastBest, Stage::ShowReady).unwrap();
            for at in &days {
                assert!((at.too_early + at.ready + at.over - 1.0).abs() < 1e-12);
                assert!(at.too_early >= 0.0 && at.ready >= 0.0 && at.over >= 0.0);
                assert!((ready.probability_by(at.day) - (1.0 - at.too_early)).abs() < 1e-9);
                // Past best before ready has a chance of 0.0007 in the model.
                let difference = ready.probability_by(at.day) - over.probability_by(at.day);
                assert!((at.ready - difference).abs() < 2e-3, "{at:?} {difference}");
            }
            assert!(days.windows(2).all(|pair| pair[0].too_early >= pair[1].too_early));
            assert!(days.windows(2).all(|pair| pair[0].over <= pair[1].over + 1e-12));
        }
    }
}

#[test]
fn heat_shortens_the_show_condition() {
    let stop = epoch_day(2025, 3, 11).unwrap();
    let seen_on = stop + 100;
    let length = |by: f64| {
        let readings: Vec<Reading> = weather(2, seen_on)
            .into_iter()
            .map(|r| {
                // This season is the same; the past years, which serve as the days ahead, are moved.
                let by = if r.day < stop { by } else { 0.0 };
                Reading { min_c: r.min_c + by, max_c: r.max_c + by, ..r }
            })
            .collect();
        let table = table_of(&readings);
        let log_heat = |day: i32| table.between(stop, day).unwrap().ln();
        let future = Future::ahead(&table, stop, seen_on, seen_on + 120).unwrap();
        let outlook =
            outlook().given_day(Stage::ShowReady, log_heat(seen_on - 1), log_heat(seen_on)).unwrap();
        let days = show_condition(&future, &outlook, Seen::InCondition, seen_on + 1..=seen_on + 120).unwrap();
        expected_days(&days)
    };
    let (cool, usual, hot) = (length(-4.0), length(0.0), length(4.0));
    assert!(hot + 1.0 < usual && usual + 1.0 < cool, "{hot} {usual} {cool}");
}

#[test]
fn a_plant_without_a_bud_is_later_than_one_merely_not_ready() {
    let stop = epoch_day(2025, 3, 11).unwrap();
    let as_of = stop + 85;
    let table = table_of(&weather(6, as_of));
    let future = Future::ahead(&table, stop, as_of, stop + 260).unwrap();
    let outlook = outlook();
    let ready = stage_date(&future, &outlook, Stage::ShowReady).unwrap();
    let medians: Vec<i32> = [Stage::Bud, Stage::FirstColour, Stage::FirstOpenFloret]
        .iter()
        .map(|&stage| stage_date_not_yet(&future, &outlook, Stage::ShowReady, stage).unwrap().p50.unwrap())
        .collect();
    assert!(medians.is_sorted_by(|a, b| a > b), "{medians:?}");
    assert!(*medians.last().unwrap() >= ready.p50.unwrap());
    assert_eq!(stage_date_not_yet(&future, &outlook, Stage::ShowReady, Stage::ShowReady).unwrap(), ready);
    // Against integration over the bud, which is the same observed heat in every trace.
    let bud = stage_date_not_yet(&future, &outlook, Stage::ShowReady, Stage::Bud).unwrap();
    let (mb, sb) = (outlook.mean_log(Stage::Bud), outlook.sd_log(Stage::Bud));
    let (mr, sr) = (outlook.mean_log(Stage::ShowReady), outlook.sd_log(Stage::ShowReady));
    let slope = outlook.covariance_of(Stage::Bud, Stage::ShowReady) / (sb * sb);
    let rest = (sr * sr - slope * slope * sb * sb).sqrt();
    let now = table.between(stop, as_of).unwrap().ln();
    let survival = |a: f64| {
        simpson(now, mb + 9.0 * sb, 1_000, |y| {
            density((y - mb) / sb) / sb * normal::survival((a - mr - slope * (y - mb)) / rest)
        })
    };
    for day in (as_of + 1..stop + 240).step_by(20) {
        let at = usize::try_from(day - stop).unwrap();
        let later: f64 = future.traces.iter().map(|trace| survival(trace.cumulative[at].ln())).sum();
        let expected = 1.0 - later / (survival(now) * future.traces.len() as f64);
        assert!((bud.probability_by(day) - expected).abs() < 1e-9, "{day}");
    }
    // Planned ahead nothing is known, whatever is not yet seen.
    let plan = Future::ahead(&table, stop, stop - 10, stop + 260).unwrap();
    let (a, b) = (
        stage_date_not_yet(&plan, &outlook, Stage::ShowReady, Stage::Bud).unwrap(),
        stage_date(&plan, &outlook, Stage::ShowReady).unwrap(),
    );
    assert!(a.cumulative.iter().zip(&b.cumulative).all(|(a, b)| (a - b).abs() < 1e-12));
}

#[test]
fn what_cannot_be_said() {
    let stop = epoch_day(2025, 3, 11).unwrap();
    let table = table_of(&weather(1, stop + 200));
    let future = Future::ahead(&table, stop, stop + 20, stop + 100).unwrap();
    let ask = |future: &Future, seen, days| show_condition(future, &outlook(), seen, days);
    assert_eq!(ask(&future, Seen::NotReady, stop + 20..=stop + 30), Err(ConditionError::BadDays));
    assert_eq!(ask(&future, Seen::NotReady, stop + 90..=stop + 101), Err(ConditionError::BadDays));
    let empty = stop + 50..=stop + 40;
    assert_eq!(ask(&future, Seen::NotReady, empty), Err(ConditionError::BadDays));
    let ahead = Future::ahead(&table, stop, stop - 5, stop + 100).unwrap();
    assert_eq!(ask(&ahead, Seen::InCondition, stop..=stop + 1), Err(ConditionError::NotStopped));
    // Days between the day of issue and the stop are too early for certain.
    let before = ask(&ahead, Seen::NotReady, stop - 3..=stop - 1).unwrap();
    assert!(before.iter().all(|at| (at.too_early - 1.0).abs() < 1e-15));
    // In condition after 20 days in March, not ready after 200: neither has a chance.
    assert_eq!(ask(&future, Seen::InCondition, stop + 21..=stop + 30), Err(ConditionError::Impossible));
    let late = Future::ahead(&table, stop, stop + 200, stop + 220).unwrap();
    let quick = Outlook::new(400_f64.ln(), 0.1, &StageModel::default()).unwrap();
    assert_eq!(
        show_condition(&late, &quick, Seen::NotReady, stop + 201..=stop + 220),
        Err(ConditionError::Impossible)
    );
    assert_eq!(
        stage_date_not_yet(&late, &quick, Stage::ShowReady, Stage::Bud),
        Err(PredictError::LongOverdue)
    );
    let broken = Outlook { mean: [f64::NAN; STAGES], ..outlook() };
    assert_eq!(
        show_condition(&future, &broken, Seen::NotReady, stop + 30..=stop + 40),
        Err(ConditionError::BadOutlook)
    );
}

#[test]
fn a_plant_seen_ready_to_the_minute_leaves_past_best_alone() {
    let stop = epoch_day(2025, 3, 11).unwrap();
    let table = table_of(&weather(1, stop + 100));
    let log_heat = |day: i32| table.between(stop, day).unwrap().ln();
    let ready = log_heat(stop + 95);
    let seen = outlook().given_day(Stage::ShowReady, ready, ready).unwrap();
    let future = Future::ahead(&table, stop, stop + 100, stop + 160).unwrap();
    let days = show_condition(&future, &seen, Seen::InCondition, stop + 101..=stop + 160).unwrap();
    let still = |a: f64| normal::survival((a - ready - 0.16) / 0.05);
    for at in &days {
        let place = usize::try_from(at.day - stop).unwrap();
        let sum: f64 = future.traces.iter().map(|trace| still(trace.cumulative[place].ln())).sum();
        let expected = sum / future.traces.len() as f64 / still(log_heat(stop + 100));
        assert!((at.ready - expected).abs() < 1e-12, "{at:?} {expected}");
        assert!(at.too_early.abs() < 1e-15);
    }
}
