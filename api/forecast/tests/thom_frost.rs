//! Last frosts of spring. The form with a share of years beside a distribution of dates: Thom 1959, Monthly
//! Weather Review 87:293-297 (citation from memory). Quantiles: Hyndman & Fan 1996, The American Statistician
//! 50:361-365. The table of Georgetown, Delaware, is that of the Delaware weather records of 1970.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::{date, epoch_day};
use storksbill_forecast::frost::{
    FrostRisk, LastFrost, NormalFrost, Season, last_frosts, quantile_type_7, quantile_type_8,
};

fn near(own: f64, value: f64, unit: f64) {
    assert!((own - value).abs() <= unit, "{own}, published {value}");
}

/// Day of a year without a leap day.
fn day(month: u32, day: u32) -> i32 {
    epoch_day(2021, month, day).unwrap() - epoch_day(2021, 1, 1).unwrap() + 1
}

#[test]
fn georgetown() {
    // Probability of a later frost at 32 F against date, as printed.
    let frost = NormalFrost { share: 1.0, mean: f64::from(day(4, 25)), sd: 11.705 };
    for (later, month, of_month) in
        [(0.10, 5, 10), (0.33, 4, 30), (0.50, 4, 25), (0.67, 4, 20), (0.90, 4, 10)]
    {
        near(frost.quantile(1.0 - later), f64::from(day(month, of_month)), 0.5);
    }
    // Dates in days, exactly.
    near(frost.quantile(0.9) - frost.mean, 15.0, 0.001);
    near(frost.quantile(0.67) - frost.mean, 5.15, 0.005);
}

#[test]
fn klein_altendorf_1958_to_2018() {
    // Computed apart from this crate from the minima of 61 years: mean and standard deviation of the last
    // day at or below 0 C, quantiles of the normal, and the chance of one from 15 May on.
    let frost = NormalFrost { share: 1.0, mean: 114.803, sd: 14.570 };
    for (p, value) in [(0.1, 96.13), (0.5, 114.80), (0.9, 133.48)] {
        near(frost.quantile(p), value, 0.006);
    }
    near(frost.after(day(5, 15) - 1), 0.0882, 0.000_05);
    // Half as many years with a frost, half the risk.
    let rarer = NormalFrost { share: 0.5, ..frost };
    near(rarer.after(day(5, 15) - 1), 0.0441, 0.000_05);
}

#[test]
fn seattle_2012_to_2015() {
    let minima: Vec<(i32, f64)> = include_str!("data/seattle-2012-2015.csv")
        .lines()
        .skip(1)
        .map(|line| {
            let fields: Vec<&str> = line.split(',').collect();
            let date: Vec<u32> = fields[0].split('-').map(|part| part.parse().unwrap()).collect();
            (epoch_day(date[0].cast_signed(), date[1], date[2]).unwrap(), fields[1].parse().unwrap())
        })
        .collect();
    let frosts = last_frosts(&minima, 0.0, Season::NORTH);
    let dates: Vec<(i32, u32, u32)> = frosts
        .iter()
        .map(|frost| {
            let date = date(epoch_day(frost.year, 1, 1).unwrap() + frost.day.unwrap() - 1);
            (date.year, date.month, date.day)
        })
        .collect();
    assert_eq!(dates, [(2012, 3, 19), (2013, 3, 4), (2014, 2, 9), (2015, 3, 4)]);
    // Four years are too few for a probability.
    assert_eq!(FrostRisk::fit(&frosts), None);
    // Twenty below nought has not come.
    assert!(last_frosts(&minima, -20.0, Season::NORTH).iter().all(|frost| frost.day.is_none()));
}

#[test]
fn seasons_of_the_south_span_the_new_year() {
    let start = epoch_day(2019, 7, 1).unwrap();
    let end = epoch_day(2020, 1, 15).unwrap();
    assert_eq!(Season::SOUTH.of_year(2019), Some((start, end)));
    // Frost until 20 September 2019, and once more on 3 January 2020.
    let frost_free = epoch_day(2019, 9, 21).unwrap();
    let minimum = |day: i32| if day < frost_free { -1.0 } else { 4.0 };
    let mut minima: Vec<(i32, f64)> = (start..=end).map(|day| (day, minimum(day))).collect();
    let found = last_frosts(&minima, 0.0, Season::SOUTH);
    assert_eq!(found, [LastFrost { year: 2019, day: Some(frost_free - start) }]);
    let correction = (epoch_day(2020, 1, 3).unwrap(), -0.5);
    // Of two values for a day the last given counts, wherever it stands among the other days.
    minima.insert(0, correction);
    assert_eq!(last_frosts(&minima, 0.0, Season::SOUTH), found);
    minima.remove(0);
    minima.push(correction);
    minima.rotate_right(40);
    let late = correction.0 - start + 1;
    assert_eq!(last_frosts(&minima, 0.0, Season::SOUTH)[0].day, Some(late));
}

#[test]
fn a_year_with_a_hole_does_not_count() {
    let start = epoch_day(2021, 1, 1).unwrap();
    let end = epoch_day(2021, 7, 15).unwrap();
    let whole: Vec<(i32, f64)> = (start..=end).map(|day| (day, 5.0)).collect();
    assert_eq!(last_frosts(&whole, 0.0, Season::NORTH), [LastFrost { year: 2021, day: None }]);
    // 196 days: 19 may be wanting, 20 may not.
    assert_eq!(last_frosts(&whole[19..], 0.0, Season::NORTH).len(), 1);
    assert_eq!(last_frosts(&whole[20..], 0.0, Season::NORTH), []);
    let broken: Vec<(i32, f64)> = whole.iter().map(|&(day, _)| (day, f64::NAN)).collect();
    assert_eq!(last_frosts(&broken, 0.0, Season::NORTH), []);
}

#[test]
fn quantiles_of_both_types() {
    // By the definitions of Hyndman & Fan: positions 1 + (n-1)p, and (n + 1/3)p + 1/3.
    let values = [1.0, 2.0, 4.0, 8.0, 16.0];
    near(quantile_type_7(&values, 0.1).unwrap(), 1.4, 1e-12);
    near(quantile_type_7(&values, 0.9).unwrap(), 12.8, 1e-12);
    near(quantile_type_8(&values, 0.5).unwrap(), 4.0, 1e-12);
    // Position 16/3 * 0.3 + 1/3 = 29/15.
    near(quantile_type_8(&values, 0.3).unwrap(), 1.0 + 14.0 / 15.0, 1e-12);
    near(quantile_type_8(&values, 0.0).unwrap(), 1.0, 1e-12);
    near(quantile_type_8(&values, 1.0).unwrap(), 16.0, 1e-12);
    assert_eq!((quantile_type_8(&[], 0.5), quantile_type_7(&values, 1.1)), (None, None));
}

fn years(days: impl Iterator<Item = Option<i32>>) -> Vec<LastFrost> {
    (1980..).zip(days).map(|(year, day)| LastFrost { year, day }).collect()
}

#[test]
fn the_rule_follows_the_number_of_years() {
    let spread = |count: i32| years((0..count).map(|k| Some(100 + k)));
    assert_eq!(FrostRisk::fit(&spread(7)), None);
    assert!(matches!(FrostRisk::fit(&spread(8)), Some(FrostRisk::Normal(_))));
    assert!(matches!(FrostRisk::fit(&spread(29)), Some(FrostRisk::Normal(_))));
    let Some(FrostRisk::Empirical { days, years: 30 }) = FrostRisk::fit(&spread(30)) else {
        panic!("thirty years are enough for their own dates")
    };
    assert_eq!(days.len(), 30);
    // Years without a frost do not make up for those with one.
    let rare = years((0..40).map(|k| (k < 7).then_some(90)));
    assert_eq!(FrostRisk::fit(&rare), None);
}

#[test]
fn both_forms_give_risk_and_dates() {
    // Eight of ten years, dates 100 to 107: mean 103.5, variance 6.
    let fitted = FrostRisk::fit(&years((0..10).map(|k| (k < 8).then_some(100 + k)))).unwrap();
    let FrostRisk::Normal(frost) = &fitted else { panic!("eight years make a normal") };
    near(frost.share, 0.8, 1e-12);
    near(frost.mean, 103.5, 1e-12);
    near(frost.sd, 6.0_f64.sqrt(), 1e-12);
    near(fitted.after(103), 0.4, 1e-12);
    near(fitted.quantile(0.5).unwrap(), 103.5, 1e-12);

    let counted = FrostRisk::fit(&years((0..50).map(|k| (k < 40).then_some(100 + k)))).unwrap();
    near(counted.after(99), 0.8, 1e-12);
    near(counted.after(119), 0.4, 1e-12);
    near(counted.after(139), 0.0, 1e-12);
    assert_eq!(counted.safe_after(0.1), Some(134));
    assert_eq!(counted.safe_after(0.9), Some(1));
    assert_eq!(counted.safe_after(0.0), None);
    // The same date every year still leaves the spread of a day.
    let always = FrostRisk::fit(&years((0..9).map(|_| Some(110)))).unwrap();
    near(always.after(110) + always.after(109), 1.0, 1e-12);
    assert!(always.after(110) > 0.0);
}
