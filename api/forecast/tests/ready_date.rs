//! The distribution of the ready date, against the closed form it must have when the weather is constant.
//! Normal points: Abramowitz & Stegun 1964, Table 26.5 (the 10 % point is 1.2815515655).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::{epoch_day, years_back};
use storksbill_forecast::degree_days::{HeatRule, Method};
use storksbill_forecast::glass::House;
use storksbill_forecast::predict::{PredictError, ready_date};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::traces::{Anomaly, Future, FutureError, Weathering, present_anomaly};
use storksbill_numerics::normal;

fn day(year: i32, month: u32, of_month: u32) -> i32 {
    epoch_day(year, month, of_month).unwrap()
}

/// Outdoor weather giving `heat(day)` degree-days a day: a constant temperature above the base of 4.
fn table(first: i32, last: i32, heat: impl Fn(i32) -> Option<f64>) -> HeatTable {
    let readings: Vec<Reading> = (first..=last)
        .filter_map(|day| heat(day).map(|heat| Reading { day, min_c: 4.0 + heat, max_c: 4.0 + heat }))
        .collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    HeatTable::build(&series, House::Outdoors, HeatRule::default())
}

#[test]
fn constant_weather_gives_the_log_normal_itself() {
    let (stop, as_of) = (day(2026, 3, 11), day(2026, 3, 1));
    let table = table(day(2020, 1, 1), as_of, |_| Some(10.0));
    let future = Future::ahead(&table, stop, as_of, stop + 250).unwrap();
    // 2020 itself can stand for the days up to November 2026; 2019 is not there.
    assert_eq!(future.traces.iter().map(|trace| trace.years_back).collect::<Vec<_>>(), [1, 2, 3, 4, 5, 6]);
    assert_eq!((future.observed_days, future.filled_days), (0, 0));
    let (mu, tau) = (1000_f64.ln(), 0.15);
    let dates = ready_date(&future, mu, tau).unwrap();
    assert_eq!(dates.first_day, stop);
    for (offset, reached) in (1..).zip(&dates.cumulative) {
        let closed = normal::cdf(((10.0 * f64::from(offset)).ln() - mu) / tau);
        assert!((reached - closed).abs() < 1e-9, "day {offset}");
    }
    // 1000 degree-days at 10 a day: the hundredth day.
    assert_eq!(dates.p50, Some(stop + 99));
    // exp(-+1.2815515655 * 0.15) x 100 days = 82.51 and 121.20: the 83rd and the 122nd day.
    assert_eq!((dates.p10, dates.p90), (Some(stop + 82), Some(stop + 121)));
    // exp(-+0.6744897502 * 0.15) x 100 days = 90.38 and 110.65: the 91st and the 111th day.
    assert_eq!((dates.p25, dates.p75), (Some(stop + 90), Some(stop + 110)));
    // A log-normal's mean, 100 exp(0.15^2 / 2) = 101.13 days, and half a day for the day's end.
    assert!((dates.mean.unwrap() - f64::from(stop) - (101.131 - 0.5)).abs() < 0.01);
    assert!((dates.probability_by(stop + 99) - 0.5).abs() < 1e-9);
    assert!(dates.ready_by_as_of.abs() < 1e-15);
}

#[test]
fn a_plant_not_ready_yet_is_conditioned_on_it() {
    let stop = day(2026, 3, 11);
    let table = table(day(2020, 1, 1), stop + 109, |_| Some(10.0));
    let whole =
        ready_date(&Future::ahead(&table, stop, stop - 1, stop + 250).unwrap(), 1000_f64.ln(), 0.15).unwrap();
    let as_of = stop + 94;
    let later =
        ready_date(&Future::ahead(&table, stop, as_of, stop + 250).unwrap(), 1000_f64.ln(), 0.15).unwrap();
    assert_eq!(later.first_day, as_of + 1);
    let passed = whole.probability_by(as_of);
    assert!((later.ready_by_as_of - passed).abs() < 1e-12);
    for at in as_of..=stop + 250 {
        let expected = (whole.probability_by(at) - passed) / (1.0 - passed);
        assert!((later.probability_by(at) - expected).abs() < 1e-12);
    }
    assert!(later.p10 > whole.p10 && later.p50 > whole.p50 && later.p90 > whole.p90);
}

#[test]
fn traces_spread_the_date_and_mix_evenly() {
    let stop = day(2026, 3, 11);
    // One cold and one warm past year.
    let heat = |day| Some(if storksbill_forecast::calendar::date(day).year == 2025 { 8.0 } else { 12.0 });
    let table = table(day(2024, 1, 1), stop - 1, heat);
    let future = Future::ahead(&table, stop, stop - 1, stop + 200).unwrap();
    assert_eq!(future.traces.len(), 2);
    let dates = ready_date(&future, 1000_f64.ln(), 0.10).unwrap();
    let phi = |heat: f64| normal::cdf((heat.ln() - 1000_f64.ln()) / 0.10);
    let expected = f64::midpoint(phi(800.0), phi(1200.0));
    assert!((dates.probability_by(stop + 99) - expected).abs() < 1e-9);
    assert!((future.mean_heat(stop + 99).unwrap() - 1000.0).abs() < 1e-6);
    assert_eq!((future.mean_heat(stop - 1), future.mean_heat(stop + 201)), (None, None));
}

#[test]
fn mass_beyond_the_horizon_is_said_and_not_shared_out() {
    let stop = day(2026, 3, 11);
    let table = table(day(2024, 1, 1), stop - 1, |_| Some(10.0));
    let dates =
        ready_date(&Future::ahead(&table, stop, stop - 1, stop + 99).unwrap(), 1000_f64.ln(), 0.15).unwrap();
    assert!((dates.beyond_horizon - 0.5).abs() < 1e-9);
    assert_eq!((dates.p75, dates.p90, dates.mean), (None, None, None));
    let within: f64 = dates.by_day().map(|(_, own)| own).sum();
    assert!((within + dates.beyond_horizon - 1.0).abs() < 1e-12);
    assert!((dates.probability_by(stop + 500) - 0.5).abs() < 1e-9);
    assert!(dates.probability_by(stop - 1).abs() < 1e-15);
}

#[test]
fn the_leap_day_takes_the_28th_of_a_common_year() {
    // 28 February is warm in 2023, 29 February 2020 warmer; all else is 10.
    let heat = |at| {
        Some(if at == day(2023, 2, 28) {
            14.0
        } else if at == day(2020, 2, 29) {
            18.0
        } else {
            10.0
        })
    };
    let (stop, as_of) = (day(2024, 2, 27), day(2024, 2, 26));
    let table = table(day(2019, 1, 1), as_of, heat);
    let future = Future::ahead(&table, stop, as_of, day(2024, 3, 2)).unwrap();
    let daily = |years_back: i32| -> Vec<i32> {
        let sums = &future.traces.iter().find(|trace| trace.years_back == years_back).unwrap().cumulative;
        let mut before = 0.0;
        sums.iter()
            .map(|&sum| {
                let own = (10.0 * (sum - before)).round();
                before = sum;
                (0..400).find(|&whole| f64::from(whole) >= own).unwrap()
            })
            .collect()
    };
    // 27, 28, 29 February, 1, 2 March of 2024, tenths of a degree-day.
    assert_eq!(daily(1), [100, 140, 140, 100, 100]);
    assert_eq!(daily(4), [100, 100, 180, 100, 100]);
    // From a common year no day is the 29th: a leap year behind it gives its other days.
    assert_eq!(years_back(day(2025, 3, 1), 1), Some(day(2024, 3, 1)));
}

#[test]
fn a_gap_this_season_is_filled_by_each_trace_and_counted() {
    let stop = day(2026, 3, 11);
    let gap = stop + 10..stop + 20;
    let heat = |at| {
        if gap.contains(&at) {
            None
        } else if at >= stop {
            Some(5.0)
        } else {
            Some(10.0)
        }
    };
    let table = table(day(2023, 1, 1), stop + 29, heat);
    let future = Future::ahead(&table, stop, stop + 34, stop + 150).unwrap();
    // Ten in the gap and five since the last reading.
    assert_eq!((future.observed_days, future.filled_days), (20, 15));
    let to_as_of = future.mean_heat(stop + 34).unwrap();
    assert!((to_as_of - (20.0 * 5.0 + 15.0 * 10.0)).abs() < 1e-9, "{to_as_of}");
}

#[test]
fn a_year_with_a_gap_ahead_is_no_trace() {
    let (stop, as_of) = (day(2026, 3, 11), day(2026, 3, 10));
    let holed = day(2024, 6, 1)..day(2024, 6, 11);
    let table = table(day(2023, 1, 1), as_of, |at| (!holed.contains(&at)).then_some(10.0));
    let future = Future::ahead(&table, stop, as_of, stop + 150).unwrap();
    assert_eq!(future.traces.iter().map(|trace| trace.years_back).collect::<Vec<_>>(), [1, 3]);
    // The hole does not matter to a horizon before it.
    assert_eq!(Future::ahead(&table, stop, as_of, stop + 60).unwrap().traces.len(), 3);
}

#[test]
fn weather_after_the_day_of_issue_is_not_looked_at() {
    let (stop, as_of) = (day(2025, 3, 11), day(2025, 5, 1));
    let known = table(day(2020, 1, 1), as_of, |_| Some(10.0));
    let more = table(day(2020, 1, 1), as_of + 300, |at| Some(if at > as_of { 20.0 } else { 10.0 }));
    assert_eq!(
        Future::ahead(&known, stop, as_of, stop + 200).unwrap(),
        Future::ahead(&more, stop, as_of, stop + 200).unwrap()
    );
}

#[test]
fn what_cannot_be_forecast() {
    let stop = day(2026, 3, 11);
    let table = table(day(2024, 1, 1), stop + 400, |_| Some(10.0));
    assert_eq!(Future::ahead(&table, stop, stop + 20, stop + 10), Err(FutureError::HorizonPast));
    assert_eq!(Future::ahead(&table, stop, stop - 20, stop - 1), Err(FutureError::HorizonPast));
    assert_eq!(Future::ahead(&table, stop, stop, stop + 1_100), Err(FutureError::WindowTooLong));
    assert_eq!(Future::ahead(&table, i32::MIN, i32::MIN, i32::MAX), Err(FutureError::WindowTooLong));
    assert_eq!(
        Future::ahead(&table, stop - 5_000, stop - 5_000, stop - 4_900),
        Err(FutureError::NoCompleteYear)
    );
    let future = Future::ahead(&table, stop, stop + 10, stop + 100).unwrap();
    for (mean, sd) in [(f64::NAN, 0.1), (7.0, 0.0), (7.0, -1.0), (7.0, f64::INFINITY)] {
        assert_eq!(ready_date(&future, mean, sd), Err(PredictError::BadRequirement));
    }
    let at_horizon = Future::ahead(&table, stop, stop + 100, stop + 100).unwrap();
    assert_eq!(ready_date(&at_horizon, 7.0, 0.1), Err(PredictError::NoDayAhead));
    // A year of heat for a plant that needs 200 degree-days, known to within 1 %.
    let overdue = Future::ahead(&table, stop, stop + 350, stop + 400).unwrap();
    assert_eq!(ready_date(&overdue, 200_f64.ln(), 0.01), Err(PredictError::LongOverdue));
    // Overdue by less, it is still forecast, and said to be overdue.
    let late = ready_date(&overdue, 1_200_f64.ln(), 0.15).unwrap();
    assert!(late.ready_by_as_of > 0.999_999 && late.p50.is_some());
}

/// The series behind [`table`], at `temperature(day)` all day.
fn series(first: i32, last: i32, temperature: impl Fn(i32) -> Option<f64>) -> RegionSeries {
    let readings: Vec<Reading> = (first..=last)
        .filter_map(|day| temperature(day).map(|at| Reading { day, min_c: at, max_c: at }))
        .collect();
    RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap()
}

fn outdoors(min: f64, max: f64) -> (f64, f64) {
    House::Outdoors.inside(min, max)
}

fn leaning() -> Weathering {
    Weathering { anomaly: Some(Anomaly::default()), ..Weathering::default() }
}

#[test]
fn past_years_that_are_not_moved_are_the_plain_ones() {
    let (stop, as_of) = (day(2025, 3, 11), day(2025, 5, 1));
    let wave = |at: i32| Some(10.0 - 7.0 * (f64::from(at % 1_000) / 58.0).cos());
    // Ten days of this season are missing too.
    let holed = |at: i32| if (stop + 5..stop + 15).contains(&at) { None } else { wave(at) };
    let readings: Vec<Reading> = (day(2018, 1, 1)..=as_of)
        .filter_map(|day| holed(day).map(|at| Reading { day, min_c: at - 4.0, max_c: at + 5.0 }))
        .collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    for house in [House::FrostFree, House::Heated { at_least_c: 7.0 }, House::Outdoors] {
        for method in [Method::SingleSine, Method::DoubleSine, Method::Average2] {
            let rule = HeatRule { method, ..HeatRule::default() };
            let plain =
                Future::ahead(&HeatTable::build(&series, house, rule), stop, as_of, stop + 200).unwrap();
            let inside = |min, max| house.inside(min, max);
            let days = (stop, as_of, stop + 200);
            let moved = Future::weathered(&series, inside, rule, days, &Weathering::default()).unwrap();
            assert_eq!(moved.traces.len(), plain.traces.len());
            assert_eq!((moved.observed_days, moved.filled_days), (plain.observed_days, plain.filled_days));
            for (a, b) in moved.traces.iter().zip(&plain.traces) {
                assert_eq!(a.years_back, b.years_back);
                assert!(a.cumulative.iter().zip(&b.cumulative).all(|(a, b)| (a - b).abs() < 1e-8));
            }
        }
    }
}

#[test]
fn a_warm_month_leans_on_the_days_ahead_and_fades() {
    let (stop, as_of) = (day(2025, 3, 11), day(2025, 4, 30));
    // 14 C in the past, 18 C the last 30 days.
    let series = series(day(2020, 1, 1), as_of, |at| Some(if at > as_of - 30 { 18.0 } else { 14.0 }));
    assert!((present_anomaly(&series, as_of, &leaning()).unwrap() - 4.0).abs() < 1e-12);
    assert_eq!(present_anomaly(&series, as_of, &Weathering::default()), None);
    let days = (stop, as_of, stop + 120);
    let future = Future::weathered(&series, outdoors, HeatRule::default(), days, &leaning()).unwrap();
    for trace in &future.traces {
        let seen = usize::try_from(as_of - stop).unwrap();
        let mut expected = trace.cumulative[seen];
        assert!((expected - (21.0 * 10.0 + 30.0 * 14.0)).abs() < 1e-9, "{expected}");
        for (lead, heat) in (1..).zip(&trace.cumulative[seen + 1..]) {
            expected += 10.0 + 0.5 * 4.0 * (-f64::from(lead) / 15.0).exp();
            assert!((heat - expected).abs() < 1e-8, "{lead}");
        }
    }
    // A house held at 20 C by its heating does not feel it.
    let heated = House::Heated { at_least_c: 20.0 };
    let inside = |min, max| heated.inside(min, max);
    let rule = HeatRule { method: Method::Average1, ..HeatRule::default() };
    let heat = |weathering: &Weathering| {
        let future = Future::weathered(&series, inside, rule, days, weathering).unwrap();
        future.mean_heat(stop + 120).unwrap()
    };
    // Inside 20 by night and 19 to 23 by day: only the part of the shift above 20 by day counts.
    assert!(heat(&leaning()) >= heat(&Weathering::default()));
    let cold = |min: f64, max: f64| heated.inside(min - 20.0, max - 20.0);
    let same = |weathering: &Weathering| {
        Future::weathered(&series, cold, rule, days, weathering).unwrap().mean_heat(stop + 120).unwrap()
    };
    assert!((same(&leaning()) - same(&Weathering::default())).abs() < 1e-9);
    // Fewer than half of the days to compare: no anomaly is made up.
    let short = self::series(day(2020, 1, 1), as_of, |at| {
        if (as_of - 29..=as_of - 10).contains(&at) { None } else { Some(14.0) }
    });
    assert_eq!(present_anomaly(&short, as_of, &leaning()), None);
}

#[test]
fn a_trend_warms_each_trace_by_its_age() {
    let (stop, as_of) = (day(2025, 3, 11), day(2025, 3, 10));
    let series = series(day(2000, 1, 1), as_of, |_| Some(14.0));
    let days = (stop, as_of, stop + 99);
    let warming = Weathering { trend_c_per_year: 0.03, ..Weathering::default() };
    let future = Future::weathered(&series, outdoors, HeatRule::default(), days, &warming).unwrap();
    assert_eq!(future.traces.len(), 25);
    for trace in &future.traces {
        let expected = 100.0 * (10.0 + 0.03 * f64::from(trace.years_back));
        assert!((trace.cumulative[99] - expected).abs() < 1e-8);
    }
    // The anomaly is measured against the past so moved: a flat climate now looks cool.
    let both = Weathering { anomaly: Some(Anomaly::default()), most_years: 10, ..warming };
    assert!((present_anomaly(&series, as_of, &both).unwrap() + 0.03 * 5.5).abs() < 1e-9);
    let few = Future::weathered(&series, outdoors, HeatRule::default(), days, &both).unwrap();
    assert_eq!(few.traces.len(), 10);
}

#[test]
fn moved_past_years_know_nothing_after_the_day_of_issue() {
    let (stop, as_of) = (day(2025, 3, 11), day(2025, 5, 1));
    let known = series(day(2020, 1, 1), as_of, |at| Some(12.0 + f64::from(at % 7)));
    let more = series(day(2020, 1, 1), as_of + 300, |at| {
        Some(if at > as_of { 30.0 } else { 12.0 + f64::from(at % 7) })
    });
    let rule = HeatRule { method: Method::DoubleSine, ..HeatRule::default() };
    let days = (stop, as_of, stop + 200);
    let ahead = |series: &RegionSeries| Future::weathered(series, outdoors, rule, days, &leaning()).unwrap();
    assert_eq!(ahead(&known), ahead(&more));
}

#[test]
fn a_weathering_that_is_no_number_is_refused() {
    let (stop, as_of) = (day(2025, 3, 11), day(2025, 5, 1));
    let series = series(day(2020, 1, 1), as_of, |_| Some(14.0));
    let anomaly = |share, days, decay_days| Weathering {
        anomaly: Some(Anomaly { share, days, decay_days }),
        ..Weathering::default()
    };
    for bad in [
        anomaly(f64::NAN, 30, 15.0),
        anomaly(0.5, 0, 15.0),
        anomaly(0.5, 30, 0.0),
        Weathering { trend_c_per_year: f64::INFINITY, ..Weathering::default() },
        Weathering { most_years: 0, ..Weathering::default() },
    ] {
        let days = (stop, as_of, stop + 200);
        let answer = Future::weathered(&series, outdoors, HeatRule::default(), days, &bad);
        assert_eq!(answer, Err(FutureError::BadWeathering));
    }
}
