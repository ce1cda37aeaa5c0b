//! Tumours in 71 groups of rats: R. E. Tarone, Biometrics 38, 1982, 215-220, as Table 5.1 of A. Gelman and
//! others, "Bayesian Data Analysis", 3rd ed. 2014. The list is typed from memory; its moments agree with the
//! book's 1.4 and 8.6. Further digits, the fit and the posterior intervals by `SciPy` 1.17.1 (`betabinom`,
//! `beta.ppf`, `optimize`).
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::beta_binomial::{BetaBinomial, Fit, Hyperprior, Spread, Trials};
use storksbill_pedigree::intervals::Confidence;

const LEVEL: Confidence = Confidence::NINETY_FIVE;

/// Tumours, rats, how many such groups.
const GROUPS: [(u64, u64, usize); 39] = [
    (0, 20, 7),
    (0, 19, 4),
    (0, 18, 2),
    (0, 17, 1),
    (1, 20, 4),
    (1, 19, 2),
    (1, 18, 2),
    (2, 25, 1),
    (2, 24, 1),
    (2, 23, 1),
    (2, 20, 6),
    (1, 10, 1),
    (5, 49, 1),
    (2, 19, 1),
    (5, 46, 1),
    (3, 27, 1),
    (2, 17, 1),
    (7, 49, 1),
    (7, 47, 1),
    (3, 20, 2),
    (2, 13, 1),
    (9, 48, 1),
    (10, 50, 1),
    (4, 20, 7),
    (10, 48, 1),
    (4, 19, 3),
    (5, 22, 1),
    (11, 46, 1),
    (12, 49, 1),
    (5, 20, 2),
    (6, 23, 1),
    (5, 19, 1),
    (6, 22, 1),
    (6, 20, 3),
    (16, 52, 1),
    (15, 47, 1),
    (15, 46, 1),
    (9, 24, 1),
    (4, 14, 1),
];

fn rats() -> Vec<Trials> {
    let groups = GROUPS.iter().flat_map(|&(y, n, times)| vec![(y, n); times]);
    groups.map(|(y, n)| Trials::new(y, n).unwrap()).collect()
}

fn fit(trials: &[Trials], hyperprior: Hyperprior) -> Fit {
    match BetaBinomial::fit(trials, hyperprior) {
        Spread::Between(fit) => fit,
        Spread::None(all) => panic!("no spread in {all:?}"),
    }
}

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() < within, "{found} for {expected}");
}

#[test]
fn the_list_and_its_moments() {
    let rats = rats();
    assert_eq!(rats.len(), 71);
    assert_eq!(rats.iter().map(|trials| trials.count()).sum::<u64>(), 267);
    assert_eq!(rats.iter().map(|trials| trials.of()).sum::<u64>(), 1_739);
    // The 70 historical groups; the current one is the last.
    let rates: Vec<f64> =
        rats.iter().take(70).map(|trials| trials.count() as f64 / trials.of() as f64).collect();
    let mean = rates.iter().sum::<f64>() / 70.0;
    let deviation = (rates.iter().map(|rate| (rate - mean).powi(2)).sum::<f64>() / 69.0).sqrt();
    near(mean, 0.136_007, 6e-7);
    near(deviation, 0.103_492, 6e-7);
    let prior = BetaBinomial::from_moments(mean, deviation).unwrap();
    near(prior.alpha, 1.356_149, 1e-6);
    near(prior.beta, 8.615_058, 1e-6);
    let current = BetaBinomial { alpha: 1.4, beta: 8.6 }.posterior(Trials::new(4, 14).unwrap());
    near(current.mean(), 0.225, 1e-12);
    near(current.standard_deviation(), 0.083_516, 6e-7);
    near(current.interval(LEVEL).low, 0.085_396_177, 1e-9);
    near(current.interval(LEVEL).high, 0.407_789_866, 1e-9);
}

#[test]
fn the_greatest_likelihood() {
    let found = fit(&rats(), Hyperprior::Flat);
    near(found.distribution.alpha, 2.341_614_5, 1e-6);
    near(found.distribution.beta, 14.114_805_4, 5e-6);
    near(found.distribution.mean(), 0.142_291_9, 1e-7);
    near(found.distribution.total(), 16.456_419_9, 5e-6);
    near(found.log_likelihood, -156.568_929_883, 1e-8);
}

#[test]
fn the_mode_under_the_books_prior() {
    let found = fit(&rats(), Hyperprior::Diffuse).distribution;
    near(found.alpha, 2.227_230_5, 1e-6);
    near(found.beta, 13.283_757, 1e-6);
}

#[test]
fn rates_drawn_towards_the_others() {
    let between = fit(&rats(), Hyperprior::Flat).distribution;
    for (y, n, mean, limits) in [
        (0, 20, 0.064_231, Some((0.010_215, 0.162_193))),
        (1, 20, 0.091_661, Some((0.022_248, 0.202_759))),
        (2, 25, 0.104_727, None),
        (1, 10, 0.126_306, None),
        (15, 47, 0.273_284, Some((0.171_778, 0.388_318))),
        (4, 14, 0.208_219, Some((0.086_216, 0.366_352))),
    ] {
        let rate = between.posterior(Trials::new(y, n).unwrap());
        near(rate.mean(), mean, 6e-7);
        if let Some((low, high)) = limits {
            near(rate.interval(LEVEL).low, low, 6e-7);
            near(rate.interval(LEVEL).high, high, 6e-7);
        }
    }
}

#[test]
fn five_crosses() {
    let crosses = [(3, 10), (0, 8), (7, 12), (2, 4), (5, 20)].map(|(y, n)| Trials::new(y, n).unwrap());
    let found = fit(&crosses, Hyperprior::Flat);
    near(found.distribution.alpha, 3.323_352, 1e-6);
    near(found.distribution.beta, 7.151_348, 2e-6);
    near(found.log_likelihood, -10.248_516_717, 1e-8);
    let weak = BetaBinomial { alpha: 1.0, beta: 1.0 };
    for (trials, mean) in crosses.into_iter().zip([0.333_333_33, 0.1, 0.571_428_57, 0.5, 0.272_727_27]) {
        near(weak.posterior(trials).mean(), mean, 6e-9);
    }
    let stronger = BetaBinomial { alpha: 2.0, beta: 5.0 };
    for (prior, y, n, low, high) in [
        (weak, 3, 10, 0.109_263_44, 0.609_742_56),
        (weak, 0, 8, 0.002_809_14, 0.336_267_12),
        (weak, 5, 20, 0.112_809_40, 0.471_659_83),
        (stronger, 3, 10, 0.110_169_95, 0.523_770_82),
        (stronger, 0, 8, 0.017_794_52, 0.338_684_49),
    ] {
        let found = prior.posterior(Trials::new(y, n).unwrap()).interval(LEVEL);
        near(found.low, low, 6e-9);
        near(found.high, high, 6e-9);
    }
    near(stronger.posterior(Trials::new(3, 10).unwrap()).mean(), 0.294_117_65, 6e-9);
    near(stronger.posterior(Trials::new(0, 8).unwrap()).mean(), 0.133_333_33, 6e-9);
}

#[test]
fn chances_of_ten() {
    let rates = BetaBinomial { alpha: 2.0, beta: 3.0 };
    let chances = [
        0.065_934_065_9,
        0.109_890_109_9,
        0.134_865_134_9,
        0.143_856_143_9,
        0.139_860_139_9,
        0.125_874_125_9,
        0.104_895_104_9,
        0.079_920_079_9,
        0.053_946_053_9,
        0.029_970_030_0,
        0.010_989_011_0,
    ];
    for (y, chance) in (0..=10).zip(chances) {
        near(rates.probability(Trials::new(y, 10).unwrap()), chance, 6e-11);
    }
}

#[test]
fn counts_that_differ_less_than_by_chance_have_one_rate() {
    let alike = [(5, 10), (5, 10), (5, 10), (5, 10)].map(|(y, n)| Trials::new(y, n).unwrap());
    assert_eq!(BetaBinomial::fit(&alike, Hyperprior::Flat), Spread::None(Trials::new(20, 40).unwrap()));
    let never = [(0, 10), (0, 3)].map(|(y, n)| Trials::new(y, n).unwrap());
    assert_eq!(BetaBinomial::fit(&never, Hyperprior::Flat), Spread::None(Trials::new(0, 13).unwrap()));
}
