//! Wet nights worked through apart from this crate, hour by hour: the form of Magarey, Sutton & Russo 2005
//! (Phytopathology 95:92-100) with its constants for geranium flowers, on the sine from 3 h to 15 h.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::damp::{
    DampDay, DampOutcome, Level, damp_days, estimated_dew_point, hourly_temperature,
};
use storksbill_forecast::glass::House;
use storksbill_forecast::humidity;

/// Days alike, with the mean humidity that makes `dew_c` the dew point.
fn days(first: i32, count: i32, min_c: f64, max_c: f64, dew_c: f64) -> Vec<DampDay> {
    // The inverse of the print is rounded, so the humidity is found by bisection rather than by formula.
    let (mut low, mut high) = (0.0, 100.0);
    for _ in 0..60 {
        let middle: f64 = f64::midpoint(low, high);
        if humidity::dew_point(humidity::vapour_by_mean(min_c, max_c, middle)) < dew_c {
            low = middle;
        } else {
            high = middle;
        }
    }
    (first..first + count)
        .map(|day| DampDay { day, min_c, max_c, humidity_pct: Some(low), rain_mm: None })
        .collect()
}

fn near(own: f64, value: f64, unit: f64) {
    assert!((own - value).abs() <= unit, "{own}, expected {value}");
}

/// The second of two days alike: its dose is that of the night between them.
fn second(min_c: f64, max_c: f64, dew_c: f64, house: House) -> DampOutcome {
    damp_days(&days(100, 2, min_c, max_c, dew_c), house)[1]
}

#[test]
fn five_single_nights() {
    let outdoors = House::Outdoors;
    for (min_c, max_c, dew_c, wet_hours, dose) in [
        (4.0, 11.0, 4.0, 7, 0.0),
        (9.0, 15.0, 10.0, 11, 0.3419),
        (13.0, 19.0, 14.0, 11, 1.2001),
        (6.0, 20.0, 5.0, 3, 0.0),
        // Inside, where the heating holds 10 C.
        (10.0, 16.0, 6.0, 0, 0.0),
    ] {
        let night = second(min_c, max_c, dew_c, outdoors);
        assert_eq!(night.wet_hours, wet_hours, "{min_c} to {max_c}");
        near(night.dose, dose, 0.000_05);
        assert_eq!(night.level, Level::of(dose));
    }
}

#[test]
fn the_mean_temperature_of_the_wet_hours() {
    for (min_c, max_c, dew_c, mean) in
        [(4.0, 11.0, 4.0, 4.46), (9.0, 15.0, 10.0, 9.93), (13.0, 19.0, 14.0, 13.93), (6.0, 20.0, 5.0, 6.16)]
    {
        let vapour = humidity::saturation(dew_c);
        let wet: Vec<f64> = (0..24)
            .map(|hour| hourly_temperature(min_c, max_c, hour))
            .filter(|&t| vapour / humidity::saturation(t) >= 0.90)
            .collect();
        near(wet.iter().sum::<f64>() / wet.len() as f64, mean, 0.005);
    }
    near(hourly_temperature(4.0, 11.0, 3), 4.0, 1e-12);
    near(hourly_temperature(4.0, 11.0, 15), 11.0, 1e-12);
}

#[test]
fn a_warm_house_is_dry_where_the_garden_is_wet() {
    let night = second(4.0, 11.0, 4.0, House::Heated { at_least_c: 10.0 });
    assert_eq!((night.wet_hours, night.level), (0, Level::Low));
}

#[test]
fn doses_run_on_over_midnight_and_stop_at_a_gap() {
    let mut nights = days(100, 3, 13.0, 19.0, 14.0);
    let run_on = damp_days(&nights, House::Outdoors);
    // The first morning lacks the evening before it.
    assert!(run_on[0].dose < run_on[1].dose);
    near(run_on[2].dose, run_on[1].dose, 1e-12);
    nights[2].day += 1;
    let gap = damp_days(&nights, House::Outdoors);
    near(gap[2].dose, run_on[0].dose, 1e-12);
    // Neither the order nor a correction matters.
    nights.reverse();
    nights.insert(0, DampDay { min_c: 30.0, ..nights[0] });
    assert_eq!(damp_days(&nights, House::Outdoors), gap);
    nights.push(DampDay { day: 104, max_c: f64::NAN, ..nights[0] });
    assert_eq!(damp_days(&nights, House::Outdoors).len(), 3);
}

#[test]
fn three_bad_nights_make_a_damp_fortnight() {
    let mut all = days(100, 40, 6.0, 20.0, 2.0);
    for day in [105, 106, 110, 111] {
        all[day - 100] = days(i32::try_from(day).unwrap(), 1, 13.0, 19.0, 14.0)[0];
    }
    let outcome = damp_days(&all, House::Outdoors);
    let high: Vec<i32> = outcome.iter().filter(|o| o.level == Level::High).map(|o| o.day).collect();
    // A night alone lacks the evening before it, and gathers less than one.
    assert_eq!(high, [106, 111]);
    assert!(outcome.iter().all(|o| !o.damp_fortnight));
    all[7] = days(107, 1, 13.0, 19.0, 14.0)[0];
    let outcome = damp_days(&all, House::Outdoors);
    let flagged: Vec<i32> = outcome.iter().filter(|o| o.damp_fortnight).map(|o| o.day).collect();
    // From the third bad night, the 111th, as long as the 106th is among the last 14.
    assert_eq!(flagged, (111..=119).collect::<Vec<_>>());
}

#[test]
fn ten_cold_damp_days_of_fourteen() {
    let winter = epoch_day(2021, 1, 1).unwrap();
    let raw: Vec<DampDay> = (winter..winter + 20)
        .map(|day| DampDay { day, min_c: 2.0, max_c: 5.0, humidity_pct: Some(95.0), rain_mm: Some(3.0) })
        .collect();
    let outdoors = damp_days(&raw, House::Outdoors);
    let first = outdoors.iter().find(|o| o.cold_damp).unwrap();
    assert_eq!(first.day, winter + 9);
    assert!(outdoors.iter().all(|o| o.dose <= 0.0), "too cold for grey mould");
    assert!(damp_days(&raw, House::Heated { at_least_c: 10.0 }).iter().all(|o| !o.cold_damp));
    // Dry cold does no harm.
    let dry: Vec<DampDay> = raw.iter().map(|d| DampDay { humidity_pct: Some(60.0), ..*d }).collect();
    assert!(damp_days(&dry, House::Outdoors).iter().all(|o| !o.cold_damp));
}

#[test]
fn the_dew_point_without_a_hygrometer() {
    let day = |month| epoch_day(2022, month, 15).unwrap();
    near(estimated_dew_point(day(4), 6.0, Some(1.0)), 6.0, 1e-12);
    near(estimated_dew_point(day(4), 6.0, Some(0.9)), 3.5, 1e-12);
    near(estimated_dew_point(day(8), 6.0, None), 5.25, 1e-12);
    near(estimated_dew_point(day(12), 6.0, None), 4.5, 1e-12);
    // Rain makes the night wet, and humidity out of range is as good as none.
    let wet = DampDay { day: day(5), min_c: 12.0, max_c: 18.0, humidity_pct: None, rain_mm: Some(4.0) };
    let dry = DampDay { rain_mm: Some(0.0), ..wet };
    let hours = |day: DampDay| damp_days(&[day], House::Outdoors)[0].wet_hours;
    assert!(hours(wet) > hours(dry));
    for nonsense in [-1.0, 0.0, 140.0, f64::NAN] {
        assert_eq!(hours(DampDay { humidity_pct: Some(nonsense), ..wet }), hours(wet));
    }
}
