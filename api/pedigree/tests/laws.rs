//! What must hold on every pedigree: agreement with the tabular method, independence of the order of records,
//! sports as their sources, loops refused, depth without end.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_pedigree::{Individual, Pedigree, Problem, UnknownId};
use support::{Lcg, built, close, cross, founder, sport, table};

fn random(lcg: &mut Lcg, count: u64) -> Vec<Individual> {
    (1..=count)
        .map(|id| match lcg.below(10) {
            _ if id == 1 => founder(id),
            0 => founder(id),
            1 => sport(id, 1 + lcg.below(id - 1)),
            2 => cross(id, 1 + lcg.below(id - 1), 0),
            _ => cross(id, 1 + lcg.below(id - 1), 1 + lcg.below(id - 1)),
        })
        .collect()
}

#[test]
fn agrees_with_the_tabular_method_on_random_pedigrees() {
    let mut lcg = Lcg(1);
    let mut inbred = 0;
    for _ in 0..200 {
        let mut records = random(&mut lcg, 30);
        let phi = table(&records);
        // The order of the records must not matter.
        for at in (1..records.len()).rev() {
            records.swap(at, lcg.below(at as u64 + 1) as usize);
        }
        let pedigree = built(&records);
        let group: Vec<u64> = (0..5).map(|_| 1 + lcg.below(30)).collect();
        let mean = pedigree.mean_kinship(&group).unwrap();
        for i in 0..30u64 {
            let row = &phi[i as usize];
            let f = pedigree.inbreeding(i + 1).unwrap();
            close(f, 2.0 * row[i as usize] - 1.0);
            inbred += i32::from(f > 0.0);
            let to_all = pedigree.kinship_to_all(i + 1).unwrap();
            for j in 0..30u64 {
                close(to_all[j as usize].1, row[j as usize]);
                close(pedigree.kinship(i + 1, j + 1).unwrap(), row[j as usize]);
            }
            let expected: f64 = group.iter().map(|&j| row[j as usize - 1] / 5.0).sum();
            close(mean[i as usize].1, expected);
        }
    }
    assert!(inbred > 1000, "{inbred}");
}

#[test]
fn founders_shares_add_up() {
    // 6 is a child of 4 = 1 x 2 and of 5, a sport of 3.
    let pedigree = built(&[founder(1), founder(2), founder(3), cross(4, 1, 2), sport(5, 3), cross(6, 4, 5)]);
    let found: Vec<(u64, u32, f64)> =
        pedigree.ancestors(6, 9).unwrap().iter().map(|a| (a.id, a.generation, a.share)).collect();
    assert_eq!(found, vec![(3, 1, 0.5), (4, 1, 0.5), (5, 1, 0.5), (1, 2, 0.25), (2, 2, 0.25)]);
    let near: Vec<u64> = pedigree.ancestors(6, 1).unwrap().iter().map(|a| a.id).collect();
    assert_eq!(near, vec![3, 4, 5]);
    assert_eq!(pedigree.ancestors(6, 0).unwrap(), vec![]);
    assert_eq!(pedigree.ancestors(7, 1), Err(UnknownId(7)));
}

/// Own example: 1, 2 founders, 3 a sport of 1.
#[test]
fn a_sport_is_its_source() {
    let records =
        [founder(1), founder(2), sport(3, 1), cross(4, 1, 2), cross(5, 3, 2), cross(6, 1, 3), sport(7, 3)];
    let pedigree = built(&records);
    close(pedigree.kinship(1, 3).unwrap(), 0.5);
    close(pedigree.kinship(3, 3).unwrap(), 0.5);
    close(pedigree.kinship(4, 5).unwrap(), 0.25);
    close(pedigree.inbreeding(6).unwrap(), 0.5);
    assert_eq!(pedigree.same_clone(1, 7), Ok(true));
    assert_eq!(pedigree.same_clone(1, 4), Ok(false));
    assert_eq!(pedigree.kinship(1, 99), Err(UnknownId(99)));
}

#[test]
fn the_shortest_loop_is_named() {
    let records = [
        founder(1),
        cross(2, 1, 5),
        cross(3, 2, 1),
        cross(4, 3, 0),
        sport(5, 4),
        cross(8, 9, 0),
        sport(9, 8),
        cross(10, 8, 4),
        cross(11, 10, 0),
    ];
    let loops = vec![Problem::Loop { ids: vec![2, 5, 4, 3] }, Problem::Loop { ids: vec![8, 9] }];
    assert_eq!(Pedigree::build(&records).unwrap_err(), loops);
    let records = [founder(1), cross(2, 1, 5), cross(3, 2, 1), cross(4, 3, 0), sport(5, 4), cross(6, 5, 1)];
    assert_eq!(Pedigree::build(&records).unwrap_err(), vec![Problem::Loop { ids: vec![2, 5, 4, 3] }]);
    assert_eq!(Pedigree::build(&[cross(1, 1, 0)]).unwrap_err(), vec![Problem::Loop { ids: vec![1] }]);
    let loops = Pedigree::build(&[cross(1, 1, 0)]).unwrap_err();
    assert_eq!(loops[0].to_string(), "individuals are their own ancestors: 1 <- 1");
}

#[test]
fn all_unknown_parents_and_duplicates_are_named() {
    let records = [founder(1), founder(1), founder(1), cross(2, 7, 8), sport(3, 9)];
    assert_eq!(
        Pedigree::build(&records).unwrap_err(),
        vec![
            Problem::Duplicate { id: 1 },
            Problem::UnknownParent { id: 2, parent: 7 },
            Problem::UnknownParent { id: 2, parent: 8 },
            Problem::UnknownParent { id: 3, parent: 9 },
        ]
    );
    assert!(built(&[]).is_empty());
}

#[test]
fn a_deep_line_needs_no_recursion() {
    let mut records = vec![founder(1), founder(2)];
    records.extend((3..=5_000).map(|id| cross(id, id - 1, id - 2)));
    let pedigree = built(&records);
    assert!(pedigree.inbreeding(5_000).unwrap() > 0.99);
    // Shares below the smallest float are dropped.
    let mut line = vec![founder(1), founder(2)];
    line.extend((3..=5_000).map(|id| cross(id, id - 1, 0)));
    line.push(cross(5_001, 5_000, 4_999));
    close(built(&line).inbreeding(5_001).unwrap(), 0.25);
    let mut clones = vec![founder(1)];
    clones.extend((2..20_000).map(|id| sport(id, id - 1)));
    close(built(&clones).kinship(1, 19_999).unwrap(), 0.5);
}
