//! Source: the guide of OR-tools (Google), chapters "Minimum cost flows" and "Solving an assignment problem".
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]
#![allow(clippy::cast_possible_wrap, reason = "test code")]

mod flows;

use flows::{assignment, cheapest};

/// Five nodes, nine arcs (from, to, capacity, cost), 20 units from node 0 to nodes 3 and 4: cost 150.
#[test]
fn minimum_cost_flow() {
    let arcs = [
        (0, 1, 15, 4),
        (0, 2, 8, 4),
        (1, 2, 20, 2),
        (1, 3, 4, 2),
        (1, 4, 10, 6),
        (2, 3, 15, 1),
        (2, 4, 4, 3),
        (3, 4, 20, 2),
        (4, 2, 5, 3),
    ];
    assert_eq!(cheapest(&arcs, &[20, 0, 0, -5, -15]), Some(150));
    assert_eq!(cheapest(&arcs, &[24, 0, 0, -5, -19]), None); // nodes 1 and 2 take in no more than 23
}

/// Four workers, four of their tasks: cost 265, worker 0 does task 3, and so on down.
#[test]
fn four_workers() {
    let costs = [vec![90, 80, 75, 70], vec![35, 85, 55, 65], vec![125, 95, 90, 95], vec![45, 110, 95, 115]];
    assert_eq!(assignment(&costs), (265, vec![3, 2, 1, 0]));
}
