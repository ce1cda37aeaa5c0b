//! Source: the documentation of sgkit 0.10.0, a public library of statistical genetics: its worked examples of
//! kinship, inverse kinship, inbreeding and contribution. Its values are typed here.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::needless_range_loop,
    reason = "test code"
)]

mod support;

use storksbill_pedigree::{Candidate, Individual, Origin, Parent, Pedigree, Who};
use support::{built, close, founder, gametes, inbreeding_is, numbered};

fn kinship_is<const N: usize>(pedigree: &Pedigree, ids: [u64; N], expected: [[f64; N]; N]) {
    let phi = pedigree.kinship_among(&ids).unwrap();
    for i in 0..N {
        for j in 0..N {
            close(phi[i][j], expected[i][j]);
        }
    }
}

/// The product of the kinship and its published inverse is the identity to the places printed.
fn inverse_is<const N: usize>(pedigree: &Pedigree, ids: [u64; N], inverse: [[f64; N]; N], places: f64) {
    let phi = pedigree.kinship_among(&ids).unwrap();
    for i in 0..N {
        for j in 0..N {
            let product: f64 = (0..N).map(|k| phi[i][k] * inverse[k][j]).sum();
            let identity = f64::from(u8::from(i == j));
            assert!((product - identity).abs() < places, "{i} {j}: {product}");
        }
    }
}

#[test]
fn diploid_kinship_and_its_inverse() {
    // S0 to S3 are 1 to 4.
    let pedigree = built(&numbered(&[(0, 0), (0, 0), (1, 2), (1, 3)]));
    let expected = [
        [0.5, 0.0, 0.25, 0.375],
        [0.0, 0.5, 0.25, 0.125],
        [0.25, 0.25, 0.5, 0.375],
        [0.375, 0.125, 0.375, 0.625],
    ];
    kinship_is(&pedigree, [1, 2, 3, 4], expected);
    inbreeding_is(&pedigree, &[(4, 0.25)]);
    let inverse =
        [[4.0, 1.0, -1.0, -2.0], [1.0, 3.0, -2.0, 0.0], [-1.0, -2.0, 5.0, -2.0], [-2.0, 0.0, -2.0, 4.0]];
    inverse_is(&pedigree, [1, 2, 3, 4], inverse, 1e-12);
}

/// Founders that are related (.1) and inbred (one of them .2): here by genes they may have from two wholly inbred
/// ancestors behind them.
#[test]
fn related_founders() {
    let inbred = |id, of| {
        [founder(of), gametes(of + 1, (of, 1, 0.0), (0, 0, 0.0)), gametes(id, (of + 1, 2, 1.0), (0, 0, 0.0))]
    };
    let maybe = |shares: &[(u64, f64)]| {
        let mut all: Vec<Candidate> =
            shares.iter().map(|&(id, share)| Candidate { who: Some(id), share }).collect();
        all.push(Candidate { who: None, share: 1.0 - all.iter().map(|one| one.share).sum::<f64>() });
        Parent { who: Who::OneOf(all), ..Parent::UNKNOWN }
    };
    let mut records: Vec<Individual> = [inbred(10, 20), inbred(11, 30)].concat();
    // Half of the first founder is from 10 and half a stranger's; a gene of the second is from 10 with chance .2
    // and from 11 with chance .4 on either side: .2 * .5 = .1, and .2 * .2 + .4 * .4 = .2.
    let second = || maybe(&[(10, 0.2), (11, 0.4)]);
    records.extend([
        Individual::new(0, Origin::Cross { seed: Parent::reduced(Some(10)), pollen: Parent::UNKNOWN }),
        Individual::new(1, Origin::Cross { seed: second(), pollen: second() }),
        Individual::new(2, Origin::cross(Some(0), Some(1))),
        Individual::new(3, Origin::cross(Some(0), Some(2))),
    ]);
    let expected =
        [[0.5, 0.1, 0.3, 0.4], [0.1, 0.6, 0.35, 0.225], [0.3, 0.35, 0.55, 0.425], [0.4, 0.225, 0.425, 0.65]];
    kinship_is(&built(&records), [0, 1, 2, 3], expected);
}

/// S2 is S0 doubled by its lambda, S3 = S1 x S2.
#[test]
fn somatic_doubling() {
    let records = |doubled: Individual| {
        [
            gametes(0, (0, 1, 0.0), (0, 1, 0.0)),
            gametes(1, (0, 2, 0.0), (0, 2, 0.0)),
            doubled,
            gametes(3, (1, 2, 0.1), (2, 2, 0.0)),
        ]
    };
    // 0 is a legal id; `gametes` takes it for unknown.
    let shifted = |record: Individual| Individual { id: record.id + 10, ..record };
    let doubled = Individual::new(2, Origin::Doubled { of: 10 });
    let mut rows: Vec<Individual> = records(doubled).map(shifted).to_vec();
    rows[3] = gametes(13, (11, 2, 0.1), (12, 2, 0.0));
    let pedigree = built(&rows);
    inbreeding_is(&pedigree, &[(10, 0.0), (11, 0.0), (12, 1.0 / 3.0), (13, 13.0 / 180.0)]);
    close(pedigree.kinship(13, 13).unwrap(), 73.0 / 240.0);
    assert_eq!(pedigree.sets(12), Ok((4, false)));
}

#[test]
fn half_clone() {
    let pedigree = built(&[
        gametes(10, (0, 1, 0.0), (0, 1, 0.0)),
        gametes(11, (0, 2, 0.0), (0, 2, 0.0)),
        gametes(12, (10, 2, 0.1), (11, 2, 0.0)),
        gametes(13, (12, 2, 0.0), (0, 0, 0.0)),
    ]);
    close(pedigree.kinship(12, 12).unwrap(), 0.2625);
    assert!((pedigree.kinship(13, 13).unwrap() - 0.508_333).abs() < 5e-7);
    let inverse = [
        [5.333_333_33, 3.333_333_33, -6.666_666_67, 0.0],
        [3.333_333_33, 7.333_333_33, -6.666_666_67, 0.0],
        [-6.666_666_67, -6.666_666_67, 17.401_129_94, -4.067_796_61],
        [0.0, 0.0, -4.067_796_61, 4.067_796_61],
    ];
    inverse_is(&pedigree, [10, 11, 12, 13], inverse, 1e-7);
}

/// Shares of S0 and S1 in everybody.
#[test]
fn contribution() {
    let pedigree = built(&numbered(&[(0, 0), (0, 0), (2, 1), (3, 1), (1, 3), (2, 4)]));
    for (id, first, second) in
        [(3, 0.5, 0.5), (4, 0.75, 0.25), (5, 0.75, 0.25), (6, 0.375, 0.625), (1, 1.0, 0.0), (2, 0.0, 1.0)]
    {
        let shares = pedigree.contributions(&[id]).unwrap();
        let of = |nth| {
            let founder = storksbill_pedigree::Founder::Individual(nth);
            shares.iter().find(|one| one.founder == founder).map_or(0.0, |one| one.share)
        };
        close(of(1), first);
        close(of(2), second);
    }
}
