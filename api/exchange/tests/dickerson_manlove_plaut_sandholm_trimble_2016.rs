//! Source: J. P. Dickerson, D. F. Manlove, B. Plaut, T. Sandholm, J. Trimble, "Position-indexed formulations for
//! kidney exchange", ACM Conference on Economics and Computation 2016 (the formulation). The instance is this
//! project's own, its answers by exhaustive search.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod support;

use storksbill_exchange::{Giver, LevelName, Preset, Rules};
use support::{Draft, checked_under};

/// Hand-overs made, by the longest chain allowed.
fn moves(giver_reaches: u64) -> [i64; 5] {
    let mut draft = Draft::of_arcs(&[(0, 1), (1, 0), (1, 2), (2, 3), (9, giver_reaches)]);
    draft.givers.push(Giver { member: 9, starts: 1 });
    let market = draft.market();
    [0, 1, 2, 3, 4].map(|max_chain| {
        let rules = Rules { preset: Preset::Count, max_chain, ..Rules::default() };
        let plan = checked_under(&market, &rules);
        assert_eq!(plan.levels[0].name, LevelName::WantsServed);
        assert!(plan.levels.iter().all(|level| level.proved));
        plan.levels[0].value
    })
}

#[test]
fn the_longest_chain_allowed() {
    assert_eq!(moves(0), [2, 2, 2, 3, 4]);
    assert_eq!(moves(2), [2, 3, 4, 4, 4]);
}
