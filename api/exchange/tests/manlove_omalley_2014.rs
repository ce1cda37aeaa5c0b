//! Source: D. F. Manlove, G. O'Malley, "Paired and altruistic kidney donation in the UK: algorithms and
//! experimentation", ACM Journal of Experimental Algorithmics 19 (2014), article 2.6: criteria one after the
//! other, beginning with what survives a drop-out. The instance is this project's own.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod support;

use storksbill_exchange::{LevelName, Preset, Rules, Tie};
use support::{Draft, checked_under, levels, members};

#[test]
fn a_ring_of_three_with_a_way_back_counts_as_a_pair() {
    let arcs = [(0, 1), (1, 0), (1, 2), (2, 0), (3, 4), (4, 5), (5, 3)];
    let rules = Rules { preset: Preset::Robust, ..Rules::default() };
    let plan = checked_under(&Draft::of_arcs(&arcs).market(), &rules);
    assert_eq!(members(&plan), vec![vec![0, 1, 2], vec![3, 4, 5]]);
    // Effective pairs, cuttings, rings of three below zero, ways back, weight.
    assert_eq!(levels(&plan), vec![1, 6, -2, 1, 600]);
    assert_eq!(plan.levels[2].name, LevelName::FewestThrees);
    assert!(plan.levels.iter().all(|level| level.proved));
    assert_eq!(plan.tie, Tie::First);
}
