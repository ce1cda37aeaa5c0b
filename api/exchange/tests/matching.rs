//! Straight swaps of one cutting each are a maximum weight matching.
//!
//! Sources: the example of `max_weight_matching` in the documentation of `NetworkX`; the Petersen graph
//! (J. Petersen 1898), whose largest matching has five edges; and matchings found here by going through all
//! sets of members.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use std::collections::BTreeMap;

use storksbill_exchange::{Market, MaxRing, Preset, Reason, Rules, Worth};
use support::{Draft, Lcg, checked_under, members};

/// Members who would swap, and what the swap is worth: all of it on the hand-over to the larger member.
fn market(edges: &BTreeMap<(u64, u64), u32>) -> Market {
    let arcs: Vec<(u64, u64)> = edges.keys().flat_map(|&(u, v)| [(u, v), (v, u)]).collect();
    let draft = Draft::of_arcs(&arcs);
    Market::build(&draft.members, &draft.offers, &draft.wants, |offer, want| {
        let weight = edges.get(&(offer.member, want.member)).copied().unwrap_or(0);
        if offer.member == want.member { Err(Reason(0)) } else { Ok(Worth { weight, rarity: 0 }) }
    })
    .unwrap()
}

const DEAREST: Rules = Rules {
    preset: Preset::Wishes,
    max_ring: MaxRing::Two,
    max_chain: 0,
    drop_ppm: 0,
    step_ppm: 1_000_000,
    work: storksbill_exchange::Work { rings: 10_000, search: 50_000_000, tie_searches: 100 },
};

#[test]
fn five_members() {
    let edges =
        BTreeMap::from([((1, 2), 6), ((1, 3), 2), ((2, 3), 1), ((2, 4), 7), ((3, 5), 9), ((4, 5), 3)]);
    let plan = checked_under(&market(&edges), &DEAREST);
    assert_eq!((plan.levels[0].value, members(&plan)), (16, vec![vec![2, 4], vec![3, 5]]));
}

#[test]
fn petersen_graph() {
    let mut edges = BTreeMap::new();
    for i in 0..5u64 {
        for (u, v) in [(i, (i + 1) % 5), (i, i + 5), (i + 5, (i + 2) % 5 + 5)] {
            edges.insert((u.min(v), u.max(v)), 1);
        }
    }
    assert_eq!(edges.len(), 15);
    let plan = checked_under(&market(&edges), &Rules { preset: Preset::Count, ..DEAREST });
    assert_eq!((plan.levels[0].value, plan.rings.len()), (10, 5));
}

#[test]
fn agrees_with_all_sets_of_members() {
    let mut lcg = Lcg(31);
    let mut odd = 0;
    for _ in 0..300 {
        let n = 4 + lcg.below(9);
        let mut edges = BTreeMap::new();
        for u in 0..n {
            for v in u + 1..n {
                if lcg.below(3) == 0 {
                    edges.insert((u, v), 1 + lcg.below(100) as u32);
                }
            }
        }
        // best[set]: the dearest matching within the set.
        let mut best = vec![0u32; 1 << n];
        for set in 1usize..1 << n {
            let first = u64::from(set.trailing_zeros());
            let rest = set & !(1 << first);
            best[set] = best[rest];
            for (&(_, other), &weight) in edges.range((first, 0)..(first, n)) {
                if rest & (1 << other) != 0 {
                    best[set] = best[set].max(weight + best[rest & !(1 << other)]);
                }
            }
        }
        let plan = checked_under(&market(&edges), &DEAREST);
        assert_eq!(plan.levels[0].value, i64::from(best[(1 << n) - 1]), "{edges:?}");
        assert!(plan.levels[0].proved);
        odd += i32::from(plan.levels[0].bound > plan.levels[0].value);
    }
    // Some have rings of odd length, where the linear program alone does not do.
    assert!(odd > 10, "{odd}");
}
