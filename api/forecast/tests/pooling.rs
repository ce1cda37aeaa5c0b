//! What records do to a requirement. The weights and standard deviations asked for are those documented in
//! `pool`; the method is best linear unbiased prediction (Robinson 1991, Statistical Science 6:15-51).
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::handbook::{PlantGroup, heat_of_weeks};
use storksbill_forecast::pool::{
    Basis, Observation, Pool, PoolError, Requirement, SetAside, Spreads, Support, log_requirement,
};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};

const ZONAL: f64 = 1285.0;

fn observation(cultivar: usize, grower: usize, degree_days: f64) -> Observation {
    Observation { group: 0, cultivar, grower, region_season: grower, log_requirement: degree_days.ln() }
}

fn fit(observations: &[Observation]) -> Pool {
    Pool::fit(&[ZONAL, 1129.0], observations, Spreads::default()).unwrap()
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

#[test]
fn without_records_the_handbook_speaks() {
    let need = fit(&[]).requirement(0, Some(5)).unwrap();
    assert!(near(need.degree_days, ZONAL) && near(need.mean_log, ZONAL.ln()));
    // sqrt(0.20^2 + 0.08^2 + 0.06^2 + 0.06^2 + 0.12^2)
    assert!(near(need.sd_log, 0.068_f64.sqrt()));
    assert_eq!(
        (need.basis, need.cultivar, need.group),
        (Basis::Handbook, Support::default(), Support::default())
    );
    assert_eq!(fit(&[]).requirement(2, None), None);
}

#[test]
fn a_cultivar_weighs_n_over_n_plus_two_and_a_quarter() {
    for records in [1_usize, 2, 5, 20, 100] {
        let observations: Vec<Observation> =
            (0..records).map(|grower| observation(3, grower, 1500.0)).collect();
        let pool = fit(&observations);
        let own = pool.requirement(0, Some(3)).unwrap();
        let group = pool.requirement(0, None).unwrap();
        let weight = records as f64 / (records as f64 + 2.25);
        assert!(near(own.cultivar_weight, weight));
        assert!(near(own.mean_log, group.mean_log + weight * (1500_f64.ln() - group.mean_log)));
        assert!(group.degree_days > ZONAL && group.degree_days < own.degree_days && own.degree_days < 1500.0);
        assert_eq!((own.basis, group.basis), (Basis::Cultivar, Basis::Group));
        assert_eq!(
            (own.cultivar.records, own.cultivar.growers, own.cultivar.region_seasons),
            (records, records, records)
        );
        assert!(near(own.cultivar.largest_grower_share, 1.0 / records as f64));
    }
}

#[test]
fn one_record_by_hand() {
    let need = fit(&[observation(0, 0, 1500.0)]).requirement(0, None).unwrap();
    // The record's variance about the group: cultivar + residual + grower + region-season.
    let record = 0.0064 + 0.0144 + 0.0036 + 0.0036;
    let mean = (ZONAL.ln() / 0.04 + 1500_f64.ln() / record) / (1.0 / 0.04 + 1.0 / record);
    assert!(near(need.mean_log, mean));
    let variance = 1.0 / (1.0 / 0.04 + 1.0 / record);
    assert!(near(need.sd_log, (variance + record).sqrt()));
}

#[test]
fn records_narrow_the_forecast_and_growers_count_for_more_than_records() {
    let many_growers: Vec<Observation> = (0..40).map(|grower| observation(0, grower, 1300.0)).collect();
    let one_grower: Vec<Observation> = (0..40).map(|_| observation(0, 0, 1300.0)).collect();
    let sd = |observations: &[Observation]| fit(observations).requirement(0, Some(0)).unwrap().sd_log;
    let least = (0.0144_f64 + 0.0036 + 0.0036).sqrt();
    assert!(sd(&many_growers) < sd(&many_growers[..5]));
    assert!(sd(&many_growers[..5]) < sd(&[]));
    assert!(sd(&many_growers) > least);
    // What forty plants of one grower in one season share does not average out.
    assert!(sd(&one_grower).powi(2) > least.powi(2) + 0.0072 * (40.0_f64 / 42.25).powi(2));
    let support = fit(&one_grower).requirement(0, Some(0)).unwrap().cultivar;
    assert_eq!((support.records, support.growers, support.region_seasons), (40, 1, 1));
    assert!(near(support.largest_grower_share, 1.0));
}

#[test]
fn a_new_cultivar_is_its_group_with_the_spread_of_cultivars() {
    let observations: Vec<Observation> =
        (0..200).map(|n| observation(n % 20, n, 1400.0 + f64::from(u8::try_from(n % 7).unwrap()))).collect();
    let pool = fit(&observations);
    assert_eq!(pool.requirement(0, Some(999)), pool.requirement(0, None));
    let group = pool.requirement(0, None).unwrap();
    assert!((group.degree_days - 1403.0).abs() < 10.0, "200 records outweigh the handbook: {group:?}");
    assert!(pool.requirement(0, Some(4)).unwrap().sd_log < group.sd_log);
}

#[test]
fn groups_do_not_touch_each_other() {
    let observations = [observation(0, 0, 1500.0), observation(1, 1, 1200.0)];
    let one = Pool::fit(&[ZONAL], &observations, Spreads::default()).unwrap();
    let two = Pool::fit(&[ZONAL, 1129.0], &observations, Spreads::default()).unwrap();
    for cultivar in [None, Some(0), Some(1), Some(2)] {
        assert_eq!(one.requirement(0, cultivar), two.requirement(0, cultivar));
    }
    let empty = two.requirement(1, Some(0)).unwrap();
    assert!(near(empty.degree_days, 1129.0));
    assert_eq!(empty.basis, Basis::Handbook);
}

#[test]
fn order_and_names_do_not_matter() {
    let observations: Vec<Observation> = (0..60_u32)
        .map(|n| observation((n % 5) as usize, (n % 11) as usize, 1100.0 + 13.0 * f64::from(n % 17)))
        .collect();
    let renamed: Vec<Observation> = observations
        .iter()
        .rev()
        .map(|o| Observation { grower: 900 - 7 * o.grower, region_season: 500 + 3 * o.region_season, ..*o })
        .collect();
    let (a, b) = (fit(&observations), fit(&renamed));
    for cultivar in 0..5 {
        let (x, y): (Requirement, Requirement) =
            (a.requirement(0, Some(cultivar)).unwrap(), b.requirement(0, Some(cultivar)).unwrap());
        assert!(near(x.mean_log, y.mean_log) && near(x.sd_log, y.sd_log));
        assert_eq!(x.cultivar, y.cultivar);
    }
}

#[test]
fn equal_records_keep_a_spread() {
    let observations: Vec<Observation> = (0..500).map(|grower| observation(0, grower, 1285.0)).collect();
    let need = fit(&observations).requirement(0, Some(0)).unwrap();
    assert!(need.sd_log >= (0.0144_f64 + 0.0072).sqrt() && need.sd_log.is_finite());
    assert!(near(need.mean_log, 1285_f64.ln()));
}

#[test]
fn input_that_is_refused() {
    let fit = |handbook: &[f64], observations: &[Observation], spreads| {
        Pool::fit(handbook, observations, spreads).err()
    };
    let ok = observation(0, 0, 1200.0);
    assert_eq!(fit(&[1.0, 0.0], &[], Spreads::default()), Some(PoolError::BadHandbook { group: 1 }));
    assert_eq!(
        fit(&[1.0], &[ok, Observation { group: 1, ..ok }], Spreads::default()),
        Some(PoolError::UnknownGroup { observation: 1 })
    );
    assert_eq!(
        fit(&[1.0], &[Observation { log_requirement: f64::NAN, ..ok }], Spreads::default()),
        Some(PoolError::NotFinite { observation: 0 })
    );
    let zero = Spreads { cultivar: 0.0, ..Spreads::default() };
    assert_eq!(fit(&[1.0], &[ok], zero), Some(PoolError::BadSpread));
}

fn steady(heat: f64, days: std::ops::Range<i32>, gap: std::ops::Range<i32>) -> HeatTable {
    let readings: Vec<Reading> = days
        .filter(|day| !gap.contains(day))
        .map(|day| Reading { day, min_c: 4.0 + heat, max_c: 4.0 + heat })
        .collect();
    let series = RegionSeries::build(0.0, &[Station { height_m: 0.0, readings: &readings }]).unwrap();
    HeatTable::build(&series, House::Outdoors, HeatRule::default())
}

#[test]
fn records_set_aside_by_reason() {
    let table = steady(10.0, 0..900, 300..320);
    assert!(near(log_requirement(&table, 10, 110).unwrap(), 1005_f64.ln()));
    assert_eq!(log_requirement(&table, 10, 9), Err(SetAside::EventBeforeStop));
    assert_eq!(log_requirement(&table, 290, 330), Err(SetAside::WeatherMissing));
    assert_eq!(log_requirement(&table, 890, 905), Err(SetAside::WeatherMissing));
    assert_eq!(log_requirement(&table, -5, 100), Err(SetAside::WeatherMissing));
    assert_eq!(log_requirement(&table, 10, 10), Err(SetAside::TooLittleHeat));
    // 20 days and a half of 10 are 205, one day fewer 195.
    assert!(log_requirement(&table, 0, 20).is_ok());
    assert_eq!(log_requirement(&table, 0, 19), Err(SetAside::TooLittleHeat));
    assert_eq!(log_requirement(&table, 330, 830), Err(SetAside::TooMuchHeat));
    assert!(log_requirement(&table, 330, 829).is_ok());
    assert_eq!(log_requirement(&steady(0.0, 0..100, 0..0), 5, 60), Err(SetAside::NoHeat));
}

#[test]
fn weeks_become_the_heat_of_those_weeks() {
    let table = steady(10.0, 0..400, 0..0);
    // Sixteen weeks are 112 days and the morning of the show.
    assert!(near(heat_of_weeks(&table, 16.0, &[200, 300]).unwrap(), 1125.0));
    assert_eq!(heat_of_weeks(&table, 16.0, &[50]), None);
    assert!(near(heat_of_weeks(&table, 16.0, &[50, 200]).unwrap(), 1125.0));
}

#[test]
fn more_weeks_never_mean_less_heat_in_the_handbook() {
    for a in PlantGroup::ALL {
        for b in PlantGroup::ALL {
            if a.weeks_from_stop() < b.weeks_from_stop() {
                assert!(a.degree_days() < b.degree_days(), "{a:?} {b:?}");
            }
        }
    }
}
