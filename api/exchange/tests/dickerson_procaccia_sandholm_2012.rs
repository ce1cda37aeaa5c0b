//! Source: the `PrefLib` library of preference data, data set 00036 (kidney data, pools without altruists), files 00036-00000001, -03 and -05;
//! J. P. Dickerson, A. D. Procaccia, T. Sandholm, "Optimizing kidney exchange with transplant chains: theory
//! and reality", AAMAS 2012. The arcs are published; no optimum is: the answers were computed by exhaustive
//! search and two integer-programming solvers.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod support;

use storksbill_exchange::{MaxRing, MeetingRules, Tie, check_meeting, meet};
use support::{Draft, checked, members, values};

/// File 00036-00000001: 59 arcs among 16 pairs.
const ONE: [(u64, u64); 59] = [
    (1, 5),
    (1, 6),
    (2, 1),
    (2, 3),
    (2, 11),
    (2, 12),
    (3, 5),
    (3, 8),
    (4, 1),
    (4, 3),
    (4, 11),
    (6, 1),
    (6, 3),
    (6, 11),
    (7, 1),
    (7, 3),
    (7, 11),
    (7, 12),
    (8, 1),
    (8, 3),
    (8, 11),
    (9, 1),
    (9, 3),
    (9, 11),
    (9, 12),
    (10, 1),
    (10, 2),
    (10, 3),
    (10, 5),
    (10, 8),
    (10, 9),
    (10, 11),
    (10, 12),
    (10, 14),
    (10, 15),
    (10, 16),
    (12, 1),
    (12, 3),
    (12, 11),
    (13, 2),
    (13, 3),
    (13, 5),
    (13, 7),
    (13, 8),
    (13, 9),
    (13, 11),
    (13, 14),
    (13, 15),
    (13, 16),
    (14, 1),
    (14, 3),
    (14, 11),
    (14, 12),
    (15, 1),
    (15, 3),
    (15, 11),
    (16, 5),
    (16, 6),
    (16, 8),
];
/// File 00036-00000003: 50 arcs among 16 pairs.
const THREE: [(u64, u64); 50] = [
    (1, 2),
    (1, 3),
    (1, 4),
    (1, 5),
    (1, 6),
    (1, 8),
    (1, 10),
    (1, 12),
    (1, 13),
    (1, 14),
    (1, 16),
    (2, 13),
    (3, 2),
    (3, 4),
    (3, 6),
    (4, 3),
    (4, 13),
    (5, 4),
    (5, 6),
    (7, 2),
    (7, 3),
    (7, 4),
    (7, 5),
    (7, 6),
    (7, 8),
    (7, 12),
    (7, 13),
    (7, 14),
    (7, 15),
    (7, 16),
    (8, 3),
    (8, 13),
    (9, 3),
    (9, 13),
    (10, 3),
    (10, 9),
    (10, 13),
    (11, 2),
    (11, 4),
    (11, 6),
    (12, 3),
    (12, 13),
    (13, 4),
    (13, 6),
    (14, 2),
    (14, 4),
    (15, 3),
    (15, 13),
    (16, 2),
    (16, 6),
];
/// File 00036-00000005: 70 arcs among 16 pairs.
const FIVE: [(u64, u64); 70] = [
    (1, 6),
    (1, 7),
    (1, 12),
    (1, 15),
    (2, 15),
    (3, 4),
    (3, 6),
    (3, 7),
    (3, 10),
    (3, 11),
    (3, 12),
    (3, 13),
    (3, 15),
    (4, 6),
    (4, 7),
    (4, 12),
    (4, 15),
    (5, 4),
    (5, 6),
    (5, 7),
    (5, 8),
    (5, 10),
    (5, 11),
    (5, 12),
    (5, 13),
    (5, 14),
    (5, 15),
    (6, 13),
    (6, 15),
    (7, 15),
    (8, 6),
    (8, 7),
    (8, 12),
    (8, 15),
    (9, 1),
    (9, 2),
    (9, 4),
    (9, 6),
    (9, 7),
    (9, 8),
    (9, 10),
    (9, 11),
    (9, 12),
    (9, 13),
    (9, 14),
    (9, 15),
    (10, 13),
    (10, 15),
    (11, 6),
    (11, 7),
    (11, 12),
    (11, 15),
    (12, 15),
    (13, 2),
    (13, 3),
    (13, 6),
    (13, 7),
    (13, 8),
    (13, 11),
    (13, 12),
    (13, 14),
    (13, 15),
    (13, 16),
    (14, 6),
    (14, 7),
    (14, 8),
    (14, 12),
    (14, 15),
    (15, 13),
    (16, 15),
];

/// Arcs, wants served by rings of two, of up to three, rings of up to three, and the first of the best plans.
fn agrees(arcs: &[(u64, u64)], two: i64, three: i64, rings: u64, first: &[&[u64]]) {
    let market = Draft::of_arcs(arcs).market();
    assert_eq!(values(&checked(&market, MaxRing::Two)), (two, 100 * two));
    let plan = checked(&market, MaxRing::Three);
    assert_eq!(values(&plan), (three, 100 * three));
    assert!(plan.levels.iter().all(|level| level.proved));
    assert_eq!(plan.spent.rings, rings);
    assert_eq!((members(&plan), plan.tie), (first.iter().map(|ring| ring.to_vec()).collect(), Tie::First));
}

#[test]
fn file_1() {
    agrees(&ONE, 4, 4, 2, &[&[1, 6], &[3, 8]]);
}

#[test]
fn file_3() {
    agrees(&THREE, 2, 2, 2, &[&[3, 4]]);
}

#[test]
fn file_5() {
    agrees(&FIVE, 2, 3, 17, &[&[2, 15, 13]]);
}

/// Without a limit on length; the values by OR-tools 9.15.6755 (minimum cost flow).
#[test]
fn all_at_once() {
    for (arcs, most) in [(&ONE[..], 4), (&THREE[..], 4), (&FIVE[..], 5)] {
        let market = Draft::of_arcs(arcs).market();
        let meeting = meet(&market, MeetingRules::default()).unwrap();
        assert_eq!(check_meeting(&market, &meeting), Ok(()));
        assert_eq!((meeting.levels[0].value, meeting.levels[0].bound), (most, most));
    }
}
