//! Seedlings needed for one recessive or more: the computation of the table of J. R. Sedcole, Crop Science 17,
//! 1977, 667-668 (the table itself from memory); the values by exact binomial tails.
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_pedigree::Fraction;
use storksbill_pedigree::intervals::Confidence;
use storksbill_pedigree::segregation::seedlings_needed;

#[test]
fn at_least_one() {
    for (above, below, often, oftener) in [
        (1, 2, 5, 7),
        (1, 4, 11, 17),
        (1, 8, 23, 35),
        (1, 16, 47, 72),
        (1, 36, 107, 164),
        (1, 64, 191, 293),
        (1, 256, 766, 1_177),
        (9, 196, 64, 98),
        (1, 784, 2_348, 3_609),
    ] {
        let share = Fraction::new(above, below).unwrap();
        assert_eq!(seedlings_needed(share, 1, Confidence::NINETY_FIVE), Some(often), "{share}");
        assert_eq!(seedlings_needed(share, 1, Confidence::NINETY_NINE), Some(oftener), "{share}");
    }
}

#[test]
fn at_least_several() {
    for (below, needed) in [
        (2, [5, 8, 11, 16]),
        (4, [11, 18, 23, 34]),
        (8, [23, 37, 49, 71]),
        (16, [47, 75, 99, 144]),
        (36, [107, 169, 225, 327]),
        (64, [191, 302, 401, 584]),
    ] {
        let share = Fraction::new(1, below).unwrap();
        for (wanted, needed) in [1, 2, 3, 5].into_iter().zip(needed) {
            assert_eq!(seedlings_needed(share, wanted, Confidence::NINETY_FIVE), Some(needed), "{share}");
        }
    }
}

#[test]
fn the_ends() {
    assert_eq!(seedlings_needed(Fraction::ZERO, 1, Confidence::NINETY_FIVE), None);
    assert_eq!(seedlings_needed(Fraction::ONE, 4, Confidence::NINETY_FIVE), Some(4));
    assert_eq!(seedlings_needed(Fraction::new(1, 3).unwrap(), 0, Confidence::NINETY_FIVE), Some(0));
}
