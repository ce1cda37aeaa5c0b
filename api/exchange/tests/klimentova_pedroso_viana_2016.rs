//! Source: X. Klimentova, J. P. Pedroso, A. Viana, "Maximising expectation of the number of transplants in kidney
//! exchange programmes", Computers & Operations Research 73 (2016), 1-11, and J. P. Pedroso, ICCSA 2014: the
//! expectation of a ring whose members drop out independently, with internal recourse. The figures follow from
//! the formula and were found again by going through every pattern of drop-outs, as is done here too.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    reason = "test code"
)]

mod support;

use storksbill_exchange::{LevelName, MaxRing, Preset, Rules};
use support::{Draft, checked_under};

const PAIR: [(u64, u64); 2] = [(1, 2), (2, 1)];
const THREE: [(u64, u64); 3] = [(1, 2), (2, 3), (3, 1)];
const BACK: [(u64, u64); 3] = [(2, 1), (3, 2), (1, 3)];

/// What the round expects when it runs its only ring, in ten-thousandths.
fn expected(arcs: &[(u64, u64)], drop_ppm: u32) -> i64 {
    let rules = Rules { preset: Preset::Expected, drop_ppm, ..Rules::default() };
    let plan = checked_under(&Draft::of_arcs(arcs).market(), &rules);
    assert_eq!((plan.rings.len(), plan.levels[0].name), (1, LevelName::Expected));
    plan.levels[0].value
}

/// The same by every pattern of drop-outs: the whole ring if all stay, else the pair that is left.
fn enumerated(members: u32, back: &[(u64, u64)], drop: f64) -> i64 {
    let mut sum = 0.0;
    for stay in 0u32..1 << members {
        let count = stay.count_ones();
        let chance = (1.0 - drop).powi(count as i32) * drop.powi((members - count) as i32);
        let here = |member: u64| stay & (1 << (member - 1)) != 0;
        if count == members {
            sum += chance * f64::from(members);
        } else if back.iter().any(|&(from, to)| here(from) && here(to)) {
            sum += 2.0 * chance;
        }
    }
    (1e4 * sum).round() as i64
}

#[test]
fn one_in_ten_drops_out() {
    assert_eq!(expected(&PAIR, 100_000), 16_200);
    assert_eq!(enumerated(2, &[], 0.1), 16_200);
    for (back, value) in [21_870, 23_490, 25_110, 26_730].into_iter().enumerate() {
        let arcs: Vec<(u64, u64)> = THREE.iter().chain(&BACK[..back]).copied().collect();
        assert_eq!((expected(&arcs, 100_000), enumerated(3, &BACK[..back], 0.1)), (value, value));
    }
}

/// Below one drop-out in three a bare ring of three beats a pair, above it the pair is better; with one way
/// back the ring of three always is.
#[test]
fn a_ring_of_three_against_a_pair() {
    let both: Vec<(u64, u64)> = THREE.iter().copied().chain([(1, 4), (4, 1)]).collect();
    let rings = |arcs: &[(u64, u64)], drop_ppm| {
        let rules = Rules { preset: Preset::Expected, drop_ppm, ..Rules::default() };
        let plan = checked_under(&Draft::of_arcs(arcs).market(), &rules);
        plan.rings[0].moves.len()
    };
    assert_eq!([300_000, 330_000, 340_000, 500_000].map(|ppm| rings(&both, ppm)), [3, 3, 2, 2]);
    let mended: Vec<(u64, u64)> = THREE.iter().copied().chain([(3, 2)]).collect();
    assert_eq!([340_000, 500_000, 900_000].map(|ppm| rings(&mended, ppm)), [3, 3, 3]);
    // Equal at one in three: 0.888889.
    assert_eq!([expected(&PAIR, 333_333), expected(&THREE, 333_333)], [8_889, 8_889]);
}

#[test]
fn certain_drop_out_expects_nothing() {
    let rules =
        Rules { preset: Preset::Expected, drop_ppm: 1_000_000, max_ring: MaxRing::Two, ..Rules::default() };
    assert_eq!(checked_under(&Draft::of_arcs(&PAIR).market(), &rules).levels[0].value, 0);
}
