//! Source: D. J. Abraham, A. Blum, T. Sandholm, "Clearing algorithms for barter exchange markets: enabling
//! nationwide kidney exchanges", ACM Conference on Electronic Commerce 2007, 295-304, figure 1: five agents,
//! 1 <-> 2 <-> 3 <-> 4 -> 5 -> 1, all gains alike; at most four can be served by cycles of up to 2, 3 or 4.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod support;

use storksbill_exchange::{MaxRing, MeetingRules, check_meeting, meet};
use support::{Draft, checked, members, values};

#[test]
fn five_agents() {
    let market = Draft::of_arcs(&[(1, 2), (2, 1), (2, 3), (3, 2), (3, 4), (4, 3), (4, 5), (5, 1)]).market();
    for max in [MaxRing::Two, MaxRing::Three] {
        let plan = checked(&market, max);
        assert_eq!(values(&plan), (4, 400));
        assert!(plan.levels[0].proved);
        assert_eq!(members(&plan), vec![vec![1, 2], vec![3, 4]]);
        assert_eq!(plan.spent.rings, 3);
    }
}

/// Without a limit on length all five are served, by one ring.
#[test]
fn five_agents_at_once() {
    let market = Draft::of_arcs(&[(1, 2), (2, 1), (2, 3), (3, 2), (3, 4), (4, 3), (4, 5), (5, 1)]).market();
    let meeting = meet(&market, MeetingRules::default()).unwrap();
    assert_eq!(check_meeting(&market, &meeting), Ok(()));
    assert_eq!((meeting.levels[0].value, meeting.levels[0].bound), (5, 5));
    assert_eq!(meeting.rings[0].moves.iter().map(|step| step.from).collect::<Vec<_>>(), vec![1, 2, 3, 4, 5]);
}
