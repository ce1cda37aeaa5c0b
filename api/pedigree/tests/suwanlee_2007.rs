//! Source: S. Suwanlee, R. Baumung, J. Sölkner, I. Curik, "Evaluation of ancestral inbreeding coefficients",
//! Conservation Genetics 8 (2007), 489-495, figure 1 (published to three places).
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use support::{built, inbreeding_is, numbered};

#[test]
fn figure_1() {
    let parents = [
        (0, 0),
        (0, 0),
        (0, 0),
        (0, 0),
        (3, 4),
        (3, 4),
        (1, 2),
        (1, 2),
        (7, 5),
        (8, 6),
        (9, 10),
        (9, 10),
        (12, 11),
        (12, 11),
        (14, 13),
        (14, 13),
        (16, 15),
        (16, 15),
        (16, 15),
        (16, 15),
        (19, 17),
        (18, 20),
        (21, 22),
    ];
    let pedigree = built(&numbered(&parents));
    let mut expected: Vec<(u64, f64)> = (1..=10).map(|id| (id, 0.0)).collect();
    expected.extend([(11, 0.125), (12, 0.125), (13, 5.0 / 16.0), (14, 5.0 / 16.0)]);
    expected.extend([(15, 7.0 / 16.0), (16, 7.0 / 16.0)]);
    expected.extend((17..=20).map(|id| (id, 35.0 / 64.0)));
    expected.extend((21..=23).map(|id| (id, 81.0 / 128.0)));
    inbreeding_is(&pedigree, &expected);

    // Ballou's ancestral inbreeding: .662, .847 and .944 are printed, the others were computed from the pedigree (the
    // printed .399 of 15 comes from rounded inputs).
    let ancestral = pedigree.ancestral_inbreeding();
    for (id, expected, tolerance) in [
        (11, 0.0, 1e-12),
        (13, 0.125, 1e-12),
        (15, 0.398_437_5, 1e-12),
        (17, 0.661_621, 5e-7),
        (21, 0.846_672, 5e-7),
        (23, 0.943_700, 5e-7),
    ] {
        let (found_id, found) = ancestral[id - 1];
        assert_eq!(found_id, id as u64);
        assert!((found - expected).abs() < tolerance, "{id}: {found}");
    }
}
