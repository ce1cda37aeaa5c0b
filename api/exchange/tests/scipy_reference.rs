//! Source: the reference of `SciPy`, page of `scipy.optimize.linear_sum_assignment`.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]
#![allow(clippy::cast_possible_wrap, reason = "test code")]

mod flows;

#[test]
fn three_by_three() {
    let costs = [vec![4, 1, 3], vec![2, 0, 5], vec![3, 2, 2]];
    assert_eq!(flows::assignment(&costs), (5, vec![1, 0, 2]));
    // The same as a flow of three units through six nodes.
    let arcs: Vec<(u32, u32, i64, i64)> = (0..9u32)
        .map(|cell| (cell / 3, 3 + cell % 3, 1, costs[cell as usize / 3][cell as usize % 3]))
        .collect();
    assert_eq!(flows::cheapest(&arcs, &[1, 1, 1, -1, -1, -1]), Some(5));
}
