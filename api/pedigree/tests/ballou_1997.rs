//! Source: J. D. Ballou, "Ancestral inbreeding only minimally affects inbreeding depression in mammalian
//! populations", Journal of Heredity 88 (1997), 169-178, figure 1.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use support::{built, close, inbreeding_is, numbered};

#[test]
fn figure_1() {
    let pedigree = built(&numbered(&[(0, 0), (0, 0), (0, 0), (2, 3), (2, 4), (5, 1), (5, 4)]));
    inbreeding_is(&pedigree, &[(4, 0.0), (5, 0.25), (6, 0.0), (7, 0.375)]);
    let expected = [0.0, 0.0, 0.0, 0.0, 0.0, 0.125, 0.125];
    for ((_, found), expected) in pedigree.ancestral_inbreeding().into_iter().zip(expected) {
        close(found, expected);
    }
}
