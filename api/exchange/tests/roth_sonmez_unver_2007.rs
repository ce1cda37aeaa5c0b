//! Source: A. E. Roth, T. Sonmez, M. U. Unver, "Efficient kidney exchange: coincidence of wants in markets with
//! compatibility-based preferences", American Economic Review 97(3) (2007), 828-851, example 1: fourteen
//! patient-donor pairs; 8 can be served by exchanges of two, 11 with three.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod support;

use storksbill_exchange::{Market, MaxRing, MeetingRules, check_meeting, meet};
use support::{Draft, checked, values};

const PAIRS: [(&str, &str); 14] = [
    ("A", "AB"),
    ("B", "AB"),
    ("O", "A"),
    ("O", "A"),
    ("O", "B"),
    ("A", "B"),
    ("A", "B"),
    ("A", "B"),
    ("B", "A"),
    ("A", "A"),
    ("A", "A"),
    ("A", "A"),
    ("B", "O"),
    ("AB", "O"),
];

fn market() -> Market {
    let can_give =
        |donor: &str, patient: &str| donor == "O" || donor.chars().all(|kind| patient.contains(kind));
    let mut arcs = Vec::new();
    for (from, (_, donor)) in (0u64..).zip(PAIRS) {
        for (to, (patient, _)) in (0u64..).zip(PAIRS) {
            if from != to && can_give(donor, patient) {
                arcs.push((from, to));
            }
        }
    }
    assert_eq!(arcs.len(), 89); // computed
    Draft::of_arcs(&arcs).market()
}

#[test]
fn fourteen_pairs() {
    let market = market();
    assert_eq!(values(&checked(&market, MaxRing::Two)), (8, 800));
    assert_eq!(values(&checked(&market, MaxRing::Three)), (11, 1100));
}

/// Twelve with exchanges of four (published), and no more without any limit (computed).
#[test]
fn fourteen_pairs_at_once() {
    let market = market();
    let meeting = meet(&market, MeetingRules::default()).unwrap();
    assert_eq!(check_meeting(&market, &meeting), Ok(()));
    assert_eq!((meeting.levels[0].value, meeting.levels[0].bound), (12, 12));
}
