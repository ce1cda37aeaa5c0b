//! Source: J. P. Dickerson, A. D. Procaccia, T. Sandholm, "Failure-aware kidney exchange", ACM Conference on
//! Electronic Commerce 2013: every hand-over succeeds with the same chance; a ring fails whole, a chain delivers
//! up to its first failure. With chance 1/2 a ring of three is worth 0.375 and a chain of three 0.875.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod support;

use storksbill_exchange::{Giver, Preset, Rules};
use support::{Draft, checked_under};

fn rules(step_ppm: u32, max_chain: u8) -> Rules {
    Rules { preset: Preset::Expected, drop_ppm: 0, step_ppm, max_chain, ..Rules::default() }
}

#[test]
fn even_chances() {
    let ring = [(1, 2), (2, 3), (3, 1)];
    let chain = [(4, 5), (5, 6), (6, 7)];
    let value = |arcs: &[(u64, u64)], givers: &[u64]| {
        let mut draft = Draft::of_arcs(arcs);
        draft.givers.extend(givers.iter().map(|&member| Giver { member, starts: 1 }));
        checked_under(&draft.market(), &rules(500_000, 3)).levels[0].value
    };
    assert_eq!(value(&ring, &[]), 3_750);
    assert_eq!(value(&chain, &[4]), 8_750);
    let both: Vec<(u64, u64)> = ring.iter().chain(&chain).copied().collect();
    assert_eq!(value(&both, &[4]), 12_500);
}

/// Sums of 0.9^k; computed.
#[test]
fn longer_chains_add_ever_less() {
    let mut draft = Draft::of_arcs(&[(1, 2), (2, 3), (3, 4), (4, 5)]);
    draft.givers.push(Giver { member: 1, starts: 1 });
    let market = draft.market();
    let value = |longest| checked_under(&market, &rules(900_000, longest)).levels[0].value;
    assert_eq!([0, 1, 2, 3, 4].map(value), [0, 9_000, 17_100, 24_390, 30_951]);
}
