//! Source: M. G. Hamilton, R. J. Kerr, "Computation of the inverse additive relationship matrix for autopolyploid
//! and multiple-ploidy populations", Theoretical and Applied Genetics 131 (2018), 851-860,
//! doi 10.1007/s00122-017-3041-y.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_pedigree::{Gamete, Individual, Origin, Parent, Ploidy, Restitution, Who};
use support::{built, close, gametes, inbreeding_is};

/// Kinship of table 1 as the authors' program gave it (stored with sgkit 0.10.0), rows up to the diagonal.
const TABLE_1: [&[f64]; 8] = [
    &[0.5],
    &[0.0, 0.307_798_800_184_587],
    &[0.0, 0.307_798_800_184_587, 0.615_597_600_369_174],
    &[0.5, 0.0, 0.0, 0.5205],
    &[0.25, 0.153_899_400_092_293, 0.307_798_800_184_587, 0.25, 0.5],
    &[0.25, 0.153_899_400_092_293, 0.307_798_800_184_587, 0.25, 0.278_899_400_092_293, 0.397_589_524_688_51],
    &[
        0.125,
        0.230_849_100_138_44,
        0.307_798_800_184_587,
        0.125,
        0.216_399_400_092_293,
        0.275_744_462_390_402,
        0.397_214_445_816_028,
    ],
    &[
        0.125,
        0.230_849_100_138_44,
        0.307_798_800_184_587,
        0.125,
        0.216_399_400_092_293,
        0.275_744_462_390_402,
        0.253_296_781_264_421,
        0.397_214_445_816_028,
    ],
];

/// Table 1: diploids and tetraploids, a half-clone, unreduced gametes. Inbreeding in exact fractions.
fn table_1_is(records: &[Individual]) {
    let pedigree = built(records);
    let last = 3_828_164_449.0 / 19_503_000_000.0;
    inbreeding_is(
        &pedigree,
        &[
            (1, 0.0),
            (2, 167.0 / 2167.0),
            (3, 501.0 / 2167.0),
            (4, 0.041),
            (5, 0.0),
            (6, 639_653.0 / 3_250_500.0),
            (7, last),
            (8, last),
        ],
    );
    let everybody: Vec<u64> = (1..=8).collect();
    let phi = pedigree.kinship_among(&everybody).unwrap();
    for (i, row) in TABLE_1.iter().enumerate() {
        for (j, &expected) in row.iter().enumerate() {
            close(phi[i][j], expected);
            close(phi[j][i], expected);
            close(pedigree.kinship(i as u64 + 1, j as u64 + 1).unwrap(), expected);
        }
    }
    // The paper's scale of relationship: 2 phi sqrt(k_i / 2 * k_j / 2).
    let relationship = |i: u64, j: u64| {
        let half = |id| f64::from(pedigree.sets(id).unwrap().0) / 2.0;
        2.0 * pedigree.kinship(i, j).unwrap() * (half(i) * half(j)).sqrt()
    };
    close(relationship(2, 2), 1.231_195_200_738_35);
    close(relationship(3, 2), 0.870_586_475_406_418);
    close(relationship(6, 2), 0.615_597_600_369_174);
    close(relationship(6, 6), 1.590_358_098_754_04);
    close(relationship(7, 6), 1.102_977_849_561_61);
    close(relationship(8, 7), 1.013_187_125_057_68);
}

#[test]
fn table_1_by_sets_and_lambda() {
    table_1_is(&[
        gametes(1, (0, 1, 0.0), (0, 1, 0.0)),
        gametes(2, (0, 2, 0.167), (0, 2, 0.167)),
        gametes(3, (0, 0, 0.0), (2, 2, 0.167)),
        gametes(4, (1, 2, 0.041), (0, 0, 0.0)),
        gametes(5, (1, 1, 0.0), (3, 1, 0.0)),
        gametes(6, (1, 2, 0.918), (3, 2, 0.041)),
        gametes(7, (6, 2, 0.167), (2, 2, 0.167)),
        gametes(8, (6, 2, 0.167), (2, 2, 0.167)),
    ]);
}

/// The same table as a grower would say it.
#[test]
fn table_1_by_what_happened() {
    let of = |who: Who, gamete| Parent { who, gamete };
    let reduced = |who| of(who, Gamete::Reduced { double_reduction: 0.167 });
    let whole = |id, how| of(Who::Known(id), Gamete::Unreduced(how));
    let unknown = Origin::Cross { seed: reduced(Who::Unknown), pollen: reduced(Who::Unknown) };
    let last = || Origin::Cross { seed: reduced(Who::Known(6)), pollen: reduced(Who::Known(2)) };
    table_1_is(&[
        Individual::new(1, Origin::Founder),
        Individual { id: 2, origin: unknown, ploidy: Ploidy::sets(4) },
        Individual::new(3, Origin::OneGamete(reduced(Who::Known(2)))),
        Individual::new(4, Origin::OneGamete(whole(1, Restitution::FirstDivision))),
        Individual::new(5, Origin::cross(Some(1), Some(3))),
        Individual::new(
            6,
            Origin::Cross {
                seed: whole(1, Restitution::SecondDivision),
                pollen: whole(3, Restitution::FirstDivision),
            },
        ),
        Individual::new(7, last()),
        Individual::new(8, last()),
    ]);
}

/// Example OR4.1: diploids and triploids; the pedigree is published, the answers were computed in exact
/// fractions and agree with sgkit 0.10.0.
#[test]
fn example_or4_1() {
    let triploid = |id, pollen| gametes(id, (1, 1, 0.0), (pollen, 2, 0.918));
    let plain = |id, seed, pollen| gametes(id, (seed, 1, 0.0), (pollen, 1, 0.0));
    let pedigree = built(&[
        plain(1, 0, 0),
        plain(2, 0, 0),
        plain(3, 1, 2),
        plain(4, 1, 2),
        plain(5, 1, 3),
        triploid(6, 2),
        triploid(7, 2),
        triploid(8, 3),
    ]);
    let expected = [(5, 0.25), (6, 153.0 / 500.0), (7, 153.0 / 500.0), (8, 709.0 / 1500.0)];
    inbreeding_is(&pedigree, &expected);
    let phi = |a, b| pedigree.kinship(a, b).unwrap();
    close(phi(6, 6), 403.0 / 750.0);
    close(phi(6, 7), 5.0 / 18.0);
    close(phi(8, 8), 1459.0 / 2250.0);
    close(phi(6, 8), 2.0 / 9.0);
    close(phi(8, 3), 5.0 / 12.0);
    // What the meioses of 6 to 8 add: each is its own ancestor with this part.
    for id in 6..=8 {
        let own = pedigree.common_ancestors(id, id).unwrap().into_iter().find(|one| one.id == id).unwrap();
        close(own.kinship, 292.0 / 1125.0);
    }
}
