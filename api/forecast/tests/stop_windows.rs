//! Planning backwards against closed forms, enumeration and simulation, and the laws it obeys.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::{date, epoch_day};
use storksbill_forecast::condition::{Seen, show_condition};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::predict::stage_date;
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::stages::{Outlook, Stage, StageError, StageModel};
use storksbill_forecast::stops::{Need, Spread, StopError, StopWindow, days_to_stop, spread, window};
use storksbill_forecast::traces::Future;
use storksbill_numerics::bivariate::both_above;
use storksbill_numerics::normal;

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

fn day(year: i32, month: u32, of_month: u32) -> i32 {
    epoch_day(year, month, of_month).unwrap()
}

/// Weather of 15 years to `last`, `by` C warmer than usual.
fn weather(seed: u64, last: i32, by: f64) -> Vec<Reading> {
    let (mut state, mut anomaly) = (seed * 7_919 + 1, 0.0);
    (last - 15 * 366..=last)
        .map(|day| {
            anomaly = 0.95 * anomaly + 1.6 * (uniform(&mut state) - 0.5);
            let wave = 10.0 - 7.0 * (std::f64::consts::TAU * f64::from(day - 20) / 365.25).cos();
            let half = 2.0 + 5.0 * uniform(&mut state);
            Reading { day, min_c: wave + by + anomaly - half, max_c: wave + by + anomaly + half }
        })
        .collect()
}

fn future_of(readings: &[Reading], today: i32, show: i32) -> Future {
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings }]).unwrap();
    let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
    let first = *days_to_stop(today, show).unwrap().start();
    Future::ahead(&table, first, today, show).unwrap()
}

fn need() -> Need {
    Need { mean_log: 1285_f64.ln(), shared_sd: 0.10, own_sd: 0.12 }
}

fn plan(readings: &[Reading], today: i32, show: i32, need: &Need) -> StopWindow {
    window(&future_of(readings, today, show), show, need, &StageModel::default(), 0.3).unwrap()
}

fn chance_of(window: &StopWindow, stop_day: i32) -> f64 {
    window.days.iter().find(|day| day.stop_day == stop_day).unwrap().ready
}

#[test]
fn the_days_to_stop() {
    let show = day(2026, 7, 4);
    assert_eq!(days_to_stop(show - 300, show), Some(show - 200..=show - 35));
    assert_eq!(days_to_stop(show - 50, show), Some(show - 50..=show - 35));
    assert_eq!(days_to_stop(show - 34, show), None);
    assert_eq!(days_to_stop(0, i32::MIN), None);
}

#[test]
fn constant_weather_gives_the_closed_form() {
    let show = day(2026, 7, 4);
    let today = show - 220;
    // 10 degree-days a day outdoors.
    let readings: Vec<Reading> =
        (today - 3_000..=today).map(|day| Reading { day, min_c: 14.0, max_c: 14.0 }).collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    let table = HeatTable::build(&series, House::Outdoors, HeatRule::default());
    let future = Future::ahead(&table, show - 200, today, show).unwrap();
    // Past best exactly 0.16 after ready: nothing is left of the increment's spread.
    let mut sharp = StageModel::default();
    sharp.covariance[4][4] = 0.0;
    let need = Need { mean_log: 1000_f64.ln(), shared_sd: 0.06, own_sd: 0.08 };
    let found = window(&future, show, &need, &sharp, 0.5).unwrap();
    assert_eq!(found.days.len(), 166);
    for at in &found.days {
        // Both the stop's day and the show's count.
        let log = (10.0 * f64::from(show - at.stop_day + 1)).ln();
        let by = |mean: f64| normal::cdf((log - mean) / 0.1);
        let (ready, over) = (by(1000_f64.ln()), by(1000_f64.ln() + 0.16));
        assert!((at.ready - (ready - over)).abs() < 1e-9, "{at:?}");
        assert!((at.too_early - (1.0 - ready)).abs() < 1e-9 && (at.over - over).abs() < 1e-9);
    }
    // The middle of the span is best: 1000 exp(0.08) = 1083.3 degree-days, 108 days, the chance
    // 2 Phi(0.8) - 1 = 0.5763.
    assert_eq!(found.best.stop_day, show - 107);
    assert!((found.best.ready - 0.5763).abs() < 1e-3);
    assert!(found.one_plant_is_enough);
    // The windows are the runs of days at or above their chance.
    for ((first, last), least) in [(found.chosen.unwrap(), 0.5), (found.near_best, 0.8 * found.best.ready)] {
        assert!(first <= found.best.stop_day && found.best.stop_day <= last);
        assert!((first..=last).all(|day| chance_of(&found, day) >= least));
        assert!(chance_of(&found, first - 1) < least && chance_of(&found, last + 1) < least);
    }
    // With 0.25 in place of 0.1 no day reaches a half: several plants are advised.
    let vague = Need { shared_sd: 0.15, own_sd: 0.20, ..need };
    let vague = window(&future, show, &vague, &sharp, 0.5).unwrap();
    assert!(!vague.one_plant_is_enough && vague.chosen.is_none());
    assert!(vague.best.ready < found.best.ready);
}

#[test]
fn each_stop_has_the_chance_of_its_own_forecast() {
    let show = day(2026, 7, 4);
    for (seed, today) in [(1, show - 230), (2, show - 120), (3, show - 60)] {
        let readings = weather(seed, today, 0.0);
        let found = plan(&readings, today, show, &need());
        let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
        let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
        let outlook = Outlook::new(need().mean_log, need().sd_log(), &StageModel::default()).unwrap();
        for at in found.days.iter().skip(1).step_by(9) {
            assert!((at.too_early + at.ready + at.over - 1.0).abs() < 1e-12);
            let future = Future::ahead(&table, at.stop_day, today, show).unwrap();
            let own = show_condition(&future, &outlook, Seen::NotReady, show..=show).unwrap()[0];
            assert!((own.ready - at.ready).abs() < 1e-9 && (own.over - at.over).abs() < 1e-9);
            // P(show) = P(ready by the day) - P(past best by the day), but for the 0.0007 of the model's
            // plants that are past best before they are ready.
            let by = |stage| stage_date(&future, &outlook, stage).unwrap().probability_by(show);
            assert!((at.ready - (by(Stage::ShowReady) - by(Stage::PastBest))).abs() < 1e-3);
        }
    }
}

#[test]
fn the_window_agrees_with_simulated_plants() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    let future = future_of(&weather(5, today, 0.0), today, show);
    let found = window(&future, show, &need(), &StageModel::default(), 0.3).unwrap();
    let end = usize::try_from(show - future.stop_day).unwrap();
    let mut state = 31;
    for at in found.days.iter().skip(20).step_by(24) {
        let from = usize::try_from(at.stop_day - future.stop_day).unwrap();
        let (mut early, mut ready) = (0_u32, 0_u32);
        for n in 0..20_000 {
            let trace = &future.traces[n % future.traces.len()];
            let heat = (trace.cumulative[end] - trace.cumulative[from - 1]).ln();
            let own = need().mean_log + need().sd_log() * gauss(&mut state);
            let over = own + 0.16 + 0.05 * gauss(&mut state);
            early += u32::from(own > heat);
            ready += u32::from(own <= heat && heat < over);
        }
        // Four standard errors of 20,000 draws.
        assert!((f64::from(ready) / 20_000.0 - at.ready).abs() < 0.0142, "{at:?} {ready}");
        assert!((f64::from(early) / 20_000.0 - at.too_early).abs() < 0.0142, "{at:?} {early}");
    }
}

#[test]
fn colder_years_want_an_earlier_stop() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    for seed in 1..8 {
        let best = |by: f64| plan(&weather(seed, today, by), today, show, &need()).best.stop_day;
        let (cold, usual, warm) = (best(-1.5), best(0.0), best(1.5));
        assert!(cold < usual && usual < warm, "seed {seed}: {cold} {usual} {warm}");
    }
}

#[test]
fn a_later_stop_is_earlier_in_its_growth() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    for seed in 1..8 {
        let found = plan(&weather(seed, today, 0.0), today, show, &need());
        assert!(found.days.windows(2).all(|pair| pair[0].too_early <= pair[1].too_early));
        assert!(found.days.windows(2).all(|pair| pair[0].over >= pair[1].over - 1e-12));
        assert!((0.2..0.6).contains(&found.best.ready));
    }
}

#[test]
fn a_leap_day_or_the_other_hemisphere_moves_nothing_much() {
    // Shows on 4 July of a leap year and of the years beside it: the best stop is so many days before.
    let before = |year: i32| {
        let show = day(year, 7, 4);
        let today = show - 230;
        show - plan(&weather(9, today, 0.0), today, show, &need()).best.stop_day
    };
    let (a, b, c) = (before(2023), before(2024), before(2025));
    assert!((a - b).abs() <= 12 && (b - c).abs() <= 12, "{a} {b} {c}");
    // 29 February itself is a day to stop like its neighbours.
    let show = day(2024, 7, 4);
    let found = plan(&weather(9, show - 230, 0.0), show - 230, show, &need());
    let leap = day(2024, 2, 29);
    let around = [chance_of(&found, leap - 1), chance_of(&found, leap), chance_of(&found, leap + 1)];
    assert!((around[0] - around[1]).abs() < 0.02 && (around[1] - around[2]).abs() < 0.02, "{around:?}");

    // The same weather half a year away, over the new year.
    let show = day(2026, 7, 4);
    let readings = weather(4, show - 230, 0.0);
    let north = plan(&readings, show - 230, show, &need());
    let turned: Vec<Reading> = readings.iter().map(|r| Reading { day: r.day - 183, ..*r }).collect();
    let south = plan(&turned, show - 230 - 183, show - 183, &need());
    assert_eq!(date(show - 183).month, 1);
    // Traces are of the same calendar dates, which half a year off meet other leap days.
    assert!((south.best.stop_day + 183 - north.best.stop_day).abs() <= 3);
    assert!((south.best.ready - north.best.ready).abs() < 0.01);
}

#[test]
fn degrees_of_either_scale_plan_alike() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    let celsius = future_of(&weather(6, today, 0.0), today, show);
    // A day's heat in Fahrenheit is 1.8 times that in Celsius, whatever the curve.
    let rule = HeatRule::default();
    let in_fahrenheit = HeatRule { base_c: 4.0 * 1.8 + 32.0, cap_c: 26.0 * 1.8 + 32.0, ..rule };
    let one = rule.day(1.5, 28.0, None);
    assert!((in_fahrenheit.day(1.5 * 1.8 + 32.0, 28.0 * 1.8 + 32.0, None) - 1.8 * one).abs() < 1e-12);
    let mut fahrenheit = celsius.clone();
    for trace in &mut fahrenheit.traces {
        trace.cumulative.iter_mut().for_each(|heat| *heat *= 1.8);
    }
    let scaled = Need { mean_log: need().mean_log + 1.8_f64.ln(), ..need() };
    let model = StageModel::default();
    let a = window(&celsius, show, &need(), &model, 0.3).unwrap();
    let b = window(&fahrenheit, show, &scaled, &model, 0.3).unwrap();
    assert_eq!((a.best.stop_day, a.chosen, a.near_best), (b.best.stop_day, b.chosen, b.near_best));
    assert!(a.days.iter().zip(&b.days).all(|(a, b)| (a.ready - b.ready).abs() < 1e-9));
    let a = spread(&celsius, show, &need(), &model, 4, 2).unwrap();
    let b = spread(&fahrenheit, show, &scaled, &model, 4, 2).unwrap();
    assert!((a.at_least_wanted - b.at_least_wanted).abs() < 1e-5);
}

/// Chance that at least `wanted` of the plants stopped on `stops` are in condition, the shared effect taken by
/// a fine grid and each plant's own chance from the bivariate normal itself.
fn brute(future: &Future, show: i32, need: &Need, stops: &[(i32, usize)], wanted: usize) -> f64 {
    let end = usize::try_from(show - future.stop_day).unwrap();
    let over_sd = need.own_sd.hypot(0.05);
    let correlation = need.own_sd / over_sd;
    let (mut whole, mut reached) = (0.0, 0.0);
    for trace in &future.traces {
        for step in -120..=120 {
            let z = f64::from(step) / 20.0;
            let weight = (-z * z / 2.0).exp();
            let mut counts = vec![1.0];
            for &(stop, number) in stops {
                let from = usize::try_from(stop - future.stop_day).unwrap();
                let before = if from == 0 { 0.0 } else { trace.cumulative[from - 1] };
                let gap = (trace.cumulative[end] - before).ln() - need.mean_log - need.shared_sd * z;
                let p = both_above(-gap / need.own_sd, (gap - 0.16) / over_sd, -correlation);
                for _ in 0..number {
                    let mut next = vec![0.0; counts.len() + 1];
                    for (have, chance) in counts.iter().enumerate() {
                        next[have] += chance * (1.0 - p);
                        next[have + 1] += chance * p;
                    }
                    counts = next;
                }
            }
            whole += weight;
            reached += weight * counts[wanted..].iter().sum::<f64>();
        }
    }
    reached / whole
}

fn check(found: &Spread, plants: usize) {
    assert_eq!(found.stops.iter().map(|(_, number)| number).sum::<usize>(), plants);
    assert!(found.stops.windows(2).all(|pair| pair[0].0 < pair[1].0));
    assert!(found.at_least_wanted >= found.one_day_at_least_wanted);
    assert!(found.expected_ready <= plants as f64);
}

#[test]
fn the_chance_of_a_spread_is_exact() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    let future = future_of(&weather(7, today, 0.0), today, show);
    for (shared_sd, own_sd) in [(0.10, 0.12), (0.15, 0.06), (0.0, 0.15), (0.02, 0.12)] {
        let need = Need { shared_sd, own_sd, ..need() };
        for (plants, wanted) in [(1, 1), (3, 1), (6, 2), (12, 4), (12, 9)] {
            let found = spread(&future, show, &need, &StageModel::default(), plants, wanted).unwrap();
            check(&found, plants);
            let direct = brute(&future, show, &need, &found.stops, wanted);
            assert!((found.at_least_wanted - direct).abs() < 1e-5, "{plants} {wanted} {found:?} {direct}");
            let direct = brute(&future, show, &need, &[(found.one_day, plants)], wanted);
            assert!(
                (found.one_day_at_least_wanted - direct).abs() < 1e-5,
                "{plants} {wanted} {found:?} {direct}"
            );
        }
    }
}

#[test]
fn one_plant_is_the_window() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    let future = future_of(&weather(8, today, 0.0), today, show);
    let alone = spread(&future, show, &need(), &StageModel::default(), 1, 1).unwrap();
    let best = window(&future, show, &need(), &StageModel::default(), 0.3).unwrap().best;
    assert!((alone.at_least_wanted - best.ready).abs() < 1e-5);
    assert!((alone.stops[0].0 - best.stop_day).abs() <= 1);
    assert!((alone.expected_ready - best.ready).abs() < 1e-5);
}

#[test]
fn a_spread_agrees_with_simulated_plants() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    let future = future_of(&weather(11, today, 0.0), today, show);
    let found = spread(&future, show, &need(), &StageModel::default(), 6, 2).unwrap();
    let end = usize::try_from(show - future.stop_day).unwrap();
    let (mut state, mut enough, mut ready) = (17, 0_u32, 0_u32);
    for n in 0..20_000 {
        let trace = &future.traces[n % future.traces.len()];
        let shared = need().shared_sd * gauss(&mut state);
        let mut have = 0;
        for &(stop, number) in &found.stops {
            let before = match usize::try_from(stop - future.stop_day).unwrap() {
                0 => 0.0,
                from => trace.cumulative[from - 1],
            };
            let heat = (trace.cumulative[end] - before).ln();
            for _ in 0..number {
                let own = need().mean_log + shared + need().own_sd * gauss(&mut state);
                let over = own + 0.16 + 0.05 * gauss(&mut state);
                have += u32::from(own <= heat && heat < over);
            }
        }
        ready += have;
        enough += u32::from(have >= 2);
    }
    // Four standard errors of a share of 20,000, and of a count of at most six.
    assert!((f64::from(enough) / 20_000.0 - found.at_least_wanted).abs() < 0.0142, "{enough} {found:?}");
    assert!((f64::from(ready) / 20_000.0 - found.expected_ready).abs() < 0.06, "{ready} {found:?}");
}

#[test]
fn a_spread_is_the_best_of_all_where_all_can_be_tried() {
    // A quick plant, so that few days are in question and every choice of days can be tried.
    let show = day(2026, 7, 4);
    let today = show - 62;
    let mut tried = 0;
    for seed in 1..5 {
        let future = future_of(&weather(seed, today, 0.0), today, show);
        for (shared_sd, own_sd) in [(0.12, 0.05), (0.05, 0.10), (0.20, 0.10)] {
            let need = Need { mean_log: 680_f64.ln(), shared_sd, own_sd };
            for (plants, wanted) in [(2, 1), (3, 1), (3, 2), (3, 3)] {
                let found = spread(&future, show, &need, &StageModel::default(), plants, wanted).unwrap();
                check(&found, plants);
                let best = best_of_all(&future, show, &need, plants, wanted);
                assert!(
                    found.at_least_wanted > best - 1e-4,
                    "seed {seed}, {need:?}, {wanted} of {plants}: {found:?}, best {best}"
                );
                tried += 1;
            }
        }
    }
    assert_eq!(tried, 48);
}

/// Every choice of days for two or three plants, the shared effect on a grid.
fn best_of_all(future: &Future, show: i32, need: &Need, plants: usize, wanted: usize) -> f64 {
    let end = usize::try_from(show - future.stop_day).unwrap();
    let over_sd = need.own_sd.hypot(0.05);
    let days = usize::try_from(show - 35 - future.stop_day).unwrap() + 1;
    let grid: Vec<(f64, f64)> =
        (-20..=20).map(|n| f64::from(n) / 4.0).map(|z| (z, (-z * z / 2.0).exp())).collect();
    let whole = grid.iter().map(|(_, weight)| weight).sum::<f64>() * future.traces.len() as f64;
    let mut weights = Vec::new();
    let mut chances = vec![Vec::new(); days];
    for trace in &future.traces {
        for &(z, weight) in &grid {
            weights.push(weight / whole);
            for (from, chances) in chances.iter_mut().enumerate() {
                let before = if from == 0 { 0.0 } else { trace.cumulative[from - 1] };
                let gap = (trace.cumulative[end] - before).ln() - need.mean_log - need.shared_sd * z;
                chances.push(both_above(-gap / need.own_sd, (gap - 0.16) / over_sd, -need.own_sd / over_sd));
            }
        }
    }
    let none = vec![0.0; weights.len()];
    let mut best: f64 = 0.0;
    for a in 0..days {
        for b in a..days {
            // Two plants are three of which one never is.
            let third: Vec<&Vec<f64>> = if plants == 2 { vec![&none] } else { chances[b..].iter().collect() };
            for third in third {
                let mut sum = 0.0;
                for (at, weight) in weights.iter().enumerate() {
                    let (p, q, r) = (chances[a][at], chances[b][at], third[at]);
                    sum += weight
                        * match wanted {
                            1 => 1.0 - (1.0 - p) * (1.0 - q) * (1.0 - r),
                            2 => p * q + p * r + q * r - 2.0 * p * q * r,
                            _ => p * q * r,
                        };
                }
                best = best.max(sum);
            }
        }
    }
    best
}

#[test]
fn staggered_stops_pay_where_the_shared_effect_is_wide() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    let future = future_of(&weather(12, today, 0.0), today, show);
    let wide = Need { shared_sd: 0.20, own_sd: 0.05, ..need() };
    let found = spread(&future, show, &wide, &StageModel::default(), 6, 1).unwrap();
    assert!(found.stops.len() >= 3, "{found:?}");
    assert!(found.at_least_wanted > found.one_day_at_least_wanted + 0.2, "{found:?}");
    // More plants never lower the chance; more wanted never raise it.
    let chance = |plants, wanted| {
        spread(&future, show, &need(), &StageModel::default(), plants, wanted).unwrap().at_least_wanted
    };
    for wanted in 1..=3 {
        let row: Vec<f64> = (3..9).map(|plants| chance(plants, wanted)).collect();
        assert!(row.windows(2).all(|pair| pair[0] <= pair[1] + 1e-4), "{row:?}");
    }
    let column: Vec<f64> = (1..=6).map(|wanted| chance(6, wanted)).collect();
    assert!(column.windows(2).all(|pair| pair[0] > pair[1]), "{column:?}");
    // The same question has the same answer.
    let again = spread(&future, show, &wide, &StageModel::default(), 6, 1).unwrap();
    assert_eq!(again, found);
}

#[test]
fn what_cannot_be_planned() {
    let show = day(2026, 7, 4);
    let today = show - 230;
    let readings = weather(1, today, 0.0);
    let future = future_of(&readings, today, show);
    let model = StageModel::default();
    for at_least in [0.0, 1.0, f64::NAN] {
        assert_eq!(window(&future, show, &need(), &model, at_least), Err(StopError::BadChance));
    }
    let bad = Err(StopError::Stages(StageError::BadNumber));
    assert_eq!(window(&future, show, &Need { mean_log: f64::NAN, ..need() }, &model, 0.3), bad);
    for bad in [Need { own_sd: 0.0, ..need() }, Need { shared_sd: -0.1, ..need() }] {
        assert_eq!(spread(&future, show, &bad, &model, 3, 1), Err(StopError::Stages(StageError::BadNumber)));
    }
    // The traces end before the show, begin too early or too late for it, or begin before today.
    assert_eq!(window(&future, show + 1, &need(), &model, 0.3), Err(StopError::NoDay));
    assert_eq!(window(&future, future.stop_day + 34, &need(), &model, 0.3), Err(StopError::NoDay));
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
    let early = Future::ahead(&table, show - 201, today, show).unwrap();
    assert_eq!(window(&early, show, &need(), &model, 0.3), Err(StopError::NoDay));
    let past = Future::ahead(&table, today - 10, today, today + 100).unwrap();
    assert_eq!(window(&past, today + 100, &need(), &model, 0.3), Err(StopError::NoDay));
    for (plants, wanted) in [(0, 0), (3, 0), (3, 4), (51, 2)] {
        assert_eq!(spread(&future, show, &need(), &model, plants, wanted), Err(StopError::BadNumber));
    }
}
