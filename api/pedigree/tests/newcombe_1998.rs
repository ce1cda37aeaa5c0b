//! Table I of R. G. Newcombe, Statistics in Medicine 17, 1998, 857-872: 95 % intervals for four proportions. Its
//! Wilson column was seen in print; the other columns are the paper's as remembered. Jeffreys's interval is not in
//! the paper. Ten-digit values and further proportions by another program (Clopper and Pearson's also by
//! `SciPy` 1.17.1, `binomtest(..).proportion_ci`).
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::intervals::{Confidence, Interval, Proportion};

const LEVEL: Confidence = Confidence::NINETY_FIVE;

/// A method and its limits for the four proportions.
type Column = (fn(Proportion, Confidence) -> Interval, [(f64, f64); 4]);

fn rounds_to(found: Interval, low: f64, high: f64) {
    let near = |found: f64, printed: f64| (found - printed).abs() <= 0.000_050_01;
    assert!(near(found.low, low) && near(found.high, high), "{found:?} for {low} {high}");
}

fn exactly(found: Interval, low: f64, high: f64) {
    let near = |found: f64, typed: f64| (found - typed).abs() < 1e-10;
    assert!(near(found.low, low) && near(found.high, high), "{found:?} for {low} {high}");
}

#[test]
fn table_one() {
    let proportions = [(81, 263), (15, 148), (0, 20), (1, 29)].map(|(r, n)| Proportion::new(r, n).unwrap());
    let columns: [Column; 6] = [
        (Proportion::wilson, [(0.2553, 0.3662), (0.0624, 0.1605), (0.0, 0.1611), (0.0061, 0.1718)]),
        (Proportion::wilson_corrected, [(0.2535, 0.3682), (0.0598, 0.1644), (0.0, 0.2005), (0.0018, 0.1963)]),
        (Proportion::clopper_pearson, [(0.2527, 0.3676), (0.0578, 0.1617), (0.0, 0.1684), (0.0009, 0.1776)]),
        (Proportion::mid_p, [(0.2544, 0.3658), (0.0601, 0.1581), (0.0, 0.1391), (0.0017, 0.1585)]),
        (Proportion::likelihood, [(0.2542, 0.3655), (0.0596, 0.1567), (0.0, 0.0916), (0.0020, 0.1432)]),
        (Proportion::jeffreys, [(0.2545, 0.3656), (0.0604, 0.1576), (0.0, 0.1166), (0.0037, 0.1501)]),
    ];
    for (method, limits) in columns {
        for (proportion, (low, high)) in proportions.into_iter().zip(limits) {
            rounds_to(method(proportion, LEVEL), low, high);
        }
    }
}

#[test]
fn wilson_and_clopper_pearson_to_ten_digits() {
    for (r, n, wilson, exact) in [
        (81, 263, (0.255_288_519_9, 0.366_209_577_0), (0.252_736_745_6, 0.367_621_922_6)),
        (15, 148, (0.062_386_399_5, 0.160_487_241_7), (0.057_844_010_1, 0.161_650_490_3)),
        (0, 20, (0.0, 0.161_125_158_1), (0.0, 0.168_433_471_0)),
        (1, 29, (0.006_113_214_3, 0.171_755_218_8), (0.000_872_646_9, 0.177_644_295_5)),
        (7, 9, (0.452_588_969_1, 0.936_774_892_9), (0.399_906_426_3, 0.971_855_026_5)),
        (0, 5, (0.0, 0.434_482_464_8), (0.0, 0.521_823_750_1)),
        (5, 5, (0.565_517_535_2, 1.0), (0.478_176_249_9, 1.0)),
        (3, 40, (0.025_836_025_8, 0.198_642_335_2), (0.015_742_179_9, 0.203_864_748_7)),
    ] {
        let proportion = Proportion::new(r, n).unwrap();
        exactly(proportion.wilson(LEVEL), wilson.0, wilson.1);
        exactly(proportion.clopper_pearson(LEVEL), exact.0, exact.1);
    }
}

#[test]
fn every_interval_holds_its_proportion_and_mirrors() {
    let methods: [fn(Proportion, Confidence) -> Interval; 6] = [
        Proportion::wilson,
        Proportion::wilson_corrected,
        Proportion::clopper_pearson,
        Proportion::mid_p,
        Proportion::likelihood,
        Proportion::jeffreys,
    ];
    for n in [1, 2, 7, 40] {
        for r in 0..=n {
            let proportion = Proportion::new(r, n).unwrap();
            for method in methods {
                for level in [LEVEL, Confidence::NINETY_NINE, Confidence::new(0.5).unwrap()] {
                    let found = method(proportion, level);
                    let mirrored = method(Proportion::new(n - r, n).unwrap(), level);
                    assert!(0.0 <= found.low && found.low <= proportion.value(), "{r}/{n} {found:?}");
                    assert!(proportion.value() <= found.high && found.high <= 1.0, "{r}/{n} {found:?}");
                    assert!((found.low - 1.0 + mirrored.high).abs() < 1e-9, "{r}/{n} {found:?} {mirrored:?}");
                }
            }
        }
    }
}

#[test]
fn no_proportion_of_nothing() {
    assert_eq!(Proportion::new(0, 0), None);
    assert_eq!(Proportion::new(3, 2), None);
    assert!([0.0, 1.0, f64::NAN].into_iter().all(|level| Confidence::new(level).is_none()));
}
