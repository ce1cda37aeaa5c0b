//! Source: R. A. Mrode, "Linear Models for the Prediction of Animal Breeding Values", CABI, 2nd edition pages
//! 26-29, 3rd edition (2014) pages 22-27 and 307-310.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::needless_range_loop,
    reason = "test code"
)]

mod support;

use support::{built, close, inbreeding_is, numbered};

/// Table 2.1: the published relationship matrix (twice the kinship) and inbreeding.
#[test]
fn table_2_1() {
    let records = numbered(&[(0, 0), (0, 0), (1, 2), (1, 0), (4, 3), (5, 2)]);
    let pedigree = built(&records);
    inbreeding_is(&pedigree, &[(1, 0.0), (2, 0.0), (3, 0.0), (4, 0.0), (5, 0.125), (6, 0.125)]);
    let relationship = [
        [1.0, 0.0, 0.5, 0.5, 0.5, 0.25],
        [0.0, 1.0, 0.5, 0.0, 0.25, 0.625],
        [0.5, 0.5, 1.0, 0.25, 0.625, 0.5625],
        [0.5, 0.0, 0.25, 1.0, 0.625, 0.3125],
        [0.5, 0.25, 0.625, 0.625, 1.125, 0.6875],
        [0.25, 0.625, 0.5625, 0.3125, 0.6875, 1.125],
    ];
    for (i, row) in (1..).zip(relationship) {
        let to_all = pedigree.kinship_to_all(i).unwrap();
        for ((j, value), (id, column)) in (1..).zip(row).zip(to_all) {
            close(2.0 * pedigree.kinship(i, j).unwrap(), value);
            assert_eq!(id, j);
            close(2.0 * column, value);
        }
    }
    // Shares of the ancestors of 6: the published row of T is .25 .625 .25 .25 .5 1.
    let shares: Vec<(u64, u32, f64)> =
        pedigree.ancestors(6, 10).unwrap().iter().map(|a| (a.id, a.generation, a.share)).collect();
    assert_eq!(shares, vec![(2, 1, 0.625), (5, 1, 0.5), (3, 2, 0.25), (4, 2, 0.25), (1, 3, 0.25)]);
    // Mean kinship to all six, itself included: computed from the published matrix.
    let everybody = pedigree.ids().to_vec();
    let mean = pedigree.mean_kinship(&everybody).unwrap();
    let expected = [11.0 / 48.0, 19.0 / 96.0, 55.0 / 192.0, 43.0 / 192.0, 61.0 / 192.0, 19.0 / 64.0];
    for ((_, found), expected) in mean.iter().zip(expected) {
        close(*found, expected);
    }
    close(mean.iter().map(|(_, value)| value).sum::<f64>() / 6.0, 149.0 / 576.0);
}

/// Pages 307-310: tracing the fifth individual adds its ancestors' parts one by one, and the inbreeding of 5 is the part
/// of 1 alone. Published on the scale of relationship.
#[test]
fn tracing_one_individual() {
    let pedigree = built(&numbered(&[(0, 0), (0, 0), (1, 2), (1, 0), (4, 3), (5, 2)]));
    let mut parts = pedigree.common_ancestors(5, 5).unwrap();
    parts.sort_by_key(|one| std::cmp::Reverse(one.id));
    let mut sum = 0.0;
    for (one, (id, share, published)) in parts.iter().zip([
        (5, 1.0, 0.5),
        (4, 0.5, 0.6875),
        (3, 0.5, 0.8125),
        (2, 0.25, 0.875),
        (1, 0.5, 1.125),
    ]) {
        assert_eq!(one.id, id);
        close(one.of_first, share);
        sum += 2.0 * one.kinship;
        close(sum, published);
    }
    let explanation = pedigree.explain(5).unwrap();
    assert_eq!(explanation.common.len(), 1);
    assert_eq!(explanation.common[0].0.id, 1);
    close(explanation.common[0].1, 0.125);
    // D, what each individual's own meioses add.
    for (id, published) in (1..).zip([1.0, 1.0, 0.5, 0.75, 0.5, 0.46875]) {
        let own = pedigree.common_ancestors(id, id).unwrap().into_iter().find(|one| one.id == id).unwrap();
        close(2.0 * own.kinship, published);
    }
    // The published inverse of the relationship matrix.
    let inverse = [
        [11.0 / 6.0, 0.5, -1.0, -2.0 / 3.0, 0.0, 0.0],
        [0.5, 61.0 / 30.0, -1.0, 0.0, 8.0 / 15.0, -16.0 / 15.0],
        [-1.0, -1.0, 2.5, 0.5, -1.0, 0.0],
        [-2.0 / 3.0, 0.0, 0.5, 11.0 / 6.0, -1.0, 0.0],
        [0.0, 8.0 / 15.0, -1.0, -1.0, 38.0 / 15.0, -16.0 / 15.0],
        [0.0, -16.0 / 15.0, 0.0, 0.0, -16.0 / 15.0, 32.0 / 15.0],
    ];
    let phi = pedigree.kinship_among(&[1, 2, 3, 4, 5, 6]).unwrap();
    for i in 0..6 {
        for j in 0..6 {
            let product: f64 = (0..6).map(|k| 2.0 * phi[i][k] * inverse[k][j]).sum();
            close(product, f64::from(u8::from(i == j)));
        }
    }
}

/// Table 3.1: the pedigree is published; the answers were computed in exact fractions.
#[test]
fn table_3_1() {
    let pedigree = built(&numbered(&[(0, 0), (0, 0), (0, 0), (1, 0), (3, 2), (1, 2), (4, 5), (3, 6)]));
    inbreeding_is(&pedigree, &(1..=8).map(|id| (id, 0.0)).collect::<Vec<_>>());
    let rows = [
        (7, [0.25, 0.25, 0.25, 0.5, 0.5, 0.25, 1.0, 0.25]),
        (8, [0.25, 0.25, 0.5, 0.125, 0.375, 0.5, 0.25, 1.0]),
    ];
    for (i, row) in rows {
        for ((_, found), expected) in pedigree.kinship_to_all(i).unwrap().into_iter().zip(row) {
            close(2.0 * found, expected);
        }
    }
    let mean = pedigree.mean_kinship(&(1..=8).collect::<Vec<_>>()).unwrap();
    close(mean.iter().map(|(_, value)| value).sum::<f64>() / 8.0, 45.0 / 256.0);
}
