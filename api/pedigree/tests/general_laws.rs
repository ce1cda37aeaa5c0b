//! What must hold on every pedigree of mixed ploidy, clones, unreduced gametes and uncertain parents.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::needless_range_loop,
    reason = "test code"
)]

mod support;

#[path = "../benches/generated/mod.rs"]
mod generated;

use storksbill_pedigree::{
    Candidate, CloneKind, Founder, Gamete, Individual, Layers, NoProspect, Origin, Parent, Pedigree, Ploidy,
    Problem, Restitution, UnknownId, Warning, Who,
};
use support::{Lcg, built, close, cross, founder, gametes, numbered, sport};

/// A side of a record in the tabular method: possible parents, sets, lambda.
type Side = (Vec<(Option<usize>, f64)>, f64, f64);

/// The two sides of a record whose gametes are stated; ids are places.
fn sides(record: &Individual, sets: &[f64]) -> [Side; 2] {
    let none = (vec![], 0.0, 0.0);
    let side = |parent: &Parent| {
        let who = match &parent.who {
            Who::Unknown => vec![(None, 1.0)],
            Who::Known(id) => vec![(Some(*id as usize), 1.0)],
            Who::OneOf(list) => list.iter().map(|one| (one.who.map(|id| id as usize), one.share)).collect(),
        };
        let Gamete::Stated { sets, lambda } = parent.gamete else { panic!("not stated") };
        (who, f64::from(sets), lambda)
    };
    match &record.origin {
        Origin::Founder => [(vec![(None, 1.0)], 1.0, 0.0), (vec![(None, 1.0)], 1.0, 0.0)],
        Origin::Cross { seed, pollen } => [side(seed), side(pollen)],
        Origin::OneGamete(parent) => [side(parent), none],
        Origin::Clone { of, .. } => [(vec![(Some(*of as usize), 1.0)], sets[*of as usize], 0.0), none],
        Origin::Doubled { of } => {
            let k = sets[*of as usize];
            [(vec![(Some(*of as usize), 1.0)], 2.0 * k, 1.0 / (2.0 * k - 1.0)), none]
        }
    }
}

/// Kinship, inbreeding and sets of all by the rules of M. G. Hamilton and R. J. Kerr (2018), row by row; record `i`
/// has the id `i`, parents first.
fn table(records: &[Individual]) -> (Vec<Vec<f64>>, Vec<f64>) {
    let n = records.len();
    let (mut phi, mut f, mut sets) = (vec![vec![0.0; n]; n], vec![0.0; n], vec![0.0; n]);
    let founder_f = |k: f64, lambdas: f64| lambdas * (k / 2.0 - 1.0) / (k + lambdas * (k / 2.0 - 1.0));
    for (i, record) in records.iter().enumerate() {
        let both = sides(record, &sets);
        let k = both[0].1 + both[1].1;
        sets[i] = k;
        for j in 0..i {
            for (who, tau, _) in &both {
                for &(parent, part) in who {
                    phi[i][j] += parent.map_or(0.0, |p| tau / k * part * phi[p][j]);
                }
            }
            phi[j][i] = phi[i][j];
        }
        if k > 1.0 {
            let unknown = both.iter().all(|side| side.0.iter().all(|one| one.0.is_none()));
            let lambda = |side: &Side| if side.1 > 1.0 { side.2 } else { 0.0 };
            f[i] = if unknown {
                founder_f(k, lambda(&both[0]) + lambda(&both[1]))
            } else {
                let mut sum = 0.0;
                for side in &both {
                    let (who, tau, lambda) = (&side.0, side.1, lambda(side));
                    if tau > 1.0 {
                        for &(parent, part) in who {
                            let of_parent = parent.map_or(founder_f(2.0 * tau, 2.0 * lambda), |p| {
                                if sets[p] < 2.0 { 1.0 } else { f[p] }
                            });
                            sum += part * tau * (tau - 1.0) * (lambda + (1.0 - lambda) * of_parent);
                        }
                    }
                }
                for &(a, p) in &both[0].0 {
                    for &(b, q) in &both[1].0 {
                        if let (Some(a), Some(b)) = (a, b) {
                            sum += 2.0 * both[0].1 * both[1].1 * p * q * phi[a][b];
                        }
                    }
                }
                sum / (k * (k - 1.0))
            };
        }
        phi[i][i] = (1.0 + (k - 1.0) * f[i]) / k;
    }
    (phi, f)
}

/// 1 to 4 sets, selfings, clones, doubling, half-founders, two possible pollen parents.
fn random(lcg: &mut Lcg, count: u64) -> Vec<Individual> {
    let mut sets: Vec<u8> = Vec::new();
    let mut records = Vec::new();
    for id in 0..count {
        let lambda = [0.0, 0.1, 1.0 / 3.0][lcg.below(3) as usize];
        let parent = |id: u64, lcg: &mut Lcg| {
            let at = lcg.below(id);
            // Not every parent is known; nor can a gamete have more sets than its parent.
            let most = u64::from(sets[at as usize]).min(2);
            if lcg.below(6) == 0 {
                (None, 1 + lcg.below(2) as u8)
            } else {
                (Some(at), 1 + lcg.below(most) as u8)
            }
        };
        let stated = |(who, sets): (Option<u64>, u8)| Parent {
            who: who.map_or(Who::Unknown, Who::Known),
            gamete: Gamete::Stated { sets, lambda },
        };
        let origin = match lcg.below(10) {
            _ if id < 3 => {
                Origin::Cross { seed: stated((None, 1)), pollen: stated((None, 1 + u8::from(id > 1))) }
            }
            0 => Origin::Founder,
            1 => Origin::Clone { of: lcg.below(id), kind: CloneKind::Cutting },
            2 => {
                let (who, tau) = parent(id, lcg);
                Origin::OneGamete(stated((who.or(Some(0)), tau.min(sets[who.unwrap_or(0) as usize]))))
            }
            3 if sets.iter().any(|&k| k <= 2) => {
                let of = (0..id).find(|&at| sets[at as usize] <= 2 && lcg.below(3) == 0);
                of.map_or(Origin::Founder, |of| Origin::Doubled { of })
            }
            4 => {
                let both = parent(id, lcg);
                Origin::Cross { seed: stated(both), pollen: stated(both) }
            }
            5 | 6 => {
                let (seed, pollen, other) = (parent(id, lcg), parent(id, lcg), parent(id, lcg));
                let share = [0.25, 0.5, 0.7][lcg.below(3) as usize];
                let candidates =
                    vec![Candidate { who: pollen.0, share }, Candidate { who: other.0, share: 1.0 - share }];
                let gamete = Gamete::Stated { sets: pollen.1.min(other.1), lambda };
                Origin::Cross { seed: stated(seed), pollen: Parent { who: Who::OneOf(candidates), gamete } }
            }
            _ => {
                let (seed, pollen) = (parent(id, lcg), parent(id, lcg));
                Origin::Cross { seed: stated(seed), pollen: stated(pollen) }
            }
        };
        let so_far: Vec<f64> = sets.iter().map(|&k| f64::from(k)).collect();
        let record = Individual::new(id, origin);
        let both = sides(&record, &so_far);
        sets.push((both[0].1 + both[1].1) as u8);
        records.push(record);
    }
    records
}

fn shuffled(lcg: &mut Lcg, records: &[Individual]) -> Vec<Individual> {
    let mut records = records.to_vec();
    for at in (1..records.len()).rev() {
        records.swap(at, lcg.below(at as u64 + 1) as usize);
    }
    records
}

#[test]
fn agrees_with_the_tabular_method() {
    let mut lcg = Lcg(5);
    let (mut inbred, mut polyploid) = (0, 0);
    for _ in 0..300 {
        let records = random(&mut lcg, 25);
        let (phi, f) = table(&records);
        let pedigree = built(&shuffled(&mut lcg, &records));
        let ids: Vec<u64> = (0..25).collect();
        let among = pedigree.kinship_among(&ids).unwrap();
        for i in 0..25 {
            close(pedigree.inbreeding(i as u64).unwrap(), f[i]);
            assert!((-1e-12..=1.0 + 1e-12).contains(&f[i]));
            inbred += i32::from(f[i] > 0.0);
            polyploid += i32::from(pedigree.sets(i as u64).unwrap().0 > 2);
            for j in 0..25 {
                close(among[i][j], phi[i][j]);
                close(pedigree.kinship(i as u64, j as u64).unwrap(), phi[i][j]);
            }
        }
        // One pass up and one down is the dense product.
        let group: Vec<u64> = (0..6).map(|_| lcg.below(25)).collect();
        for (id, mean) in pedigree.mean_kinship(&group).unwrap() {
            close(mean, group.iter().map(|&j| phi[id as usize][j as usize] / 6.0).sum());
        }
    }
    assert!(inbred > 2_000 && polyploid > 1_500, "{inbred} {polyploid}");
}

#[test]
fn parts_add_up() {
    let mut lcg = Lcg(6);
    for _ in 0..100 {
        let pedigree = built(&random(&mut lcg, 25));
        for id in 0..25 {
            let explanation = pedigree.explain(id).unwrap();
            let common: f64 = explanation.common.iter().map(|one| one.1).sum();
            let within: f64 = explanation.meiosis.iter().chain(&explanation.inbred_parent).sum();
            close(common + within + explanation.founder, pedigree.inbreeding(id).unwrap());
            let other = lcg.below(25);
            let parts = pedigree.common_ancestors(id, other).unwrap();
            close(parts.iter().map(|one| one.kinship).sum(), pedigree.kinship(id, other).unwrap());
        }
        let group: Vec<u64> = (0..5).map(|_| lcg.below(25)).collect();
        let contributions = pedigree.contributions(&group).unwrap();
        close(contributions.iter().map(|one| one.share).sum(), 1.0);
        let marginal = pedigree.marginal_contributions(&group).unwrap();
        assert!((marginal.iter().map(|one| one.share).sum::<f64>() - 1.0).abs() < 1e-9);
        assert!(marginal.windows(2).all(|pair| pair[0].share > pair[1].share - 1e-9));
        for one in pedigree.retention(&group, 0, 1).unwrap() {
            assert!(!one.exact || (-1e-12..=1.0 + 1e-12).contains(&one.retained));
        }
    }
}

#[test]
fn added_and_edited_records_come_to_the_same_as_all_at_once() {
    let mut lcg = Lcg(7);
    for _ in 0..60 {
        let records = random(&mut lcg, 25);
        let whole = built(&records);
        let mut grown = built(&records[..10]);
        for record in &records[10..] {
            grown.add(record.clone()).unwrap();
        }
        let same = |a: &Pedigree, b: &Pedigree| {
            for ((id, f), (other, g)) in a.inbreeding_all().into_iter().zip(b.inbreeding_all()) {
                assert_eq!(id, other);
                close(f, g);
            }
            for id in 0..25 {
                for ((_, f), (_, g)) in
                    a.kinship_to_all(id).unwrap().iter().zip(b.kinship_to_all(id).unwrap())
                {
                    close(*f, g);
                }
            }
        };
        same(&grown, &whole);
        for record in &records {
            // The record is kept, but for what makes no difference.
            let mut again = grown.clone();
            again.edit(grown.record(record.id).unwrap()).unwrap();
            same(&again, &whole);
        }
        // An edit of an old record is the pedigree with that record.
        let changed = Individual::new(4, Origin::cross(None, Some(1)));
        let mut edited = records.clone();
        edited[4] = changed.clone();
        if let Ok(expected) = Pedigree::build(&edited) {
            grown.edit(changed).unwrap();
            same(&grown, &expected);
        }
        // A plant without children changes nothing else.
        let before = whole.inbreeding_all();
        let mut more = records.clone();
        more.push(Individual::new(25, Origin::Clone { of: 24, kind: CloneKind::Cutting }));
        more.push(founder(26));
        for ((_, f), (_, g)) in before.iter().zip(built(&more).inbreeding_all()) {
            close(*f, g);
        }
    }
}

#[test]
fn an_edit_visits_descendants_alone() {
    let mut pedigree = Pedigree::build(generated::society(2_000)).unwrap();
    let all = pedigree.visits();
    // A plant of the last generation has no descendants: one cross is evaluated.
    pedigree.edit(Individual::new(1_999, Origin::cross(Some(1_850), Some(1_851)))).unwrap();
    let one = pedigree.visits() - all;
    assert!(one < all / 100, "{one} of {all}");
    pedigree.add(Individual::new(2_000, Origin::cross(Some(1_850), Some(1_851)))).unwrap();
    let added = pedigree.visits() - all - one;
    assert!(added < all / 50, "{added} of {all}");
}

/// The work is counted, not timed: a change that makes it more must be noticed.
#[test]
fn visits() {
    let visits = |pedigree: Result<Pedigree, _>| pedigree.map(|pedigree| pedigree.visits());
    assert_eq!(
        [
            visits(Pedigree::build(generated::society(10_000))),
            visits(Pedigree::build(generated::uniform(10_000))),
            visits(Pedigree::build(generated::window(10_000))),
        ],
        [Ok(SOCIETY), Ok(UNIFORM), Ok(WINDOW)]
    );
}

const SOCIETY: u64 = 490_718;
const UNIFORM: u64 = 1_050_323;
const WINDOW: u64 = 5_446_837;

/// Where everybody descends from everybody a table is made; traces of single crosses must agree with it.
#[test]
fn the_table_of_the_living_agrees_with_traces() {
    let records: Vec<Individual> = generated::window(4_000).collect();
    let pedigree = built(&records);
    for record in records.iter().step_by(37).skip(1) {
        let Origin::Cross { seed, pollen } = &record.origin else { continue };
        let (Who::Known(seed), Who::Known(pollen)) = (&seed.who, &pollen.who) else { continue };
        close(pedigree.inbreeding(record.id).unwrap(), pedigree.kinship(*seed, *pollen).unwrap());
    }
}

#[test]
fn a_clone_stands_for_its_source() {
    let mut lcg = Lcg(8);
    for _ in 0..40 {
        let mut records = random(&mut lcg, 20);
        let parent = |id| Parent::reduced(Some(id));
        let diploids: Vec<u64> = (0..20).filter(|&id| built(&records).sets(id).unwrap().0 == 2).collect();
        let (a, b) = (diploids[0], diploids[diploids.len() - 1]);
        records.push(sport(20, a));
        records.push(sport(21, 20));
        let pedigree = built(&records);
        let f = |seed, pollen| pedigree.prospect(&parent(seed), &parent(pollen)).unwrap().inbreeding;
        close(f(a, b), f(21, b));
        close(f(a, b), f(b, a));
        close(f(a, 21), f(a, a));
        assert!(pedigree.prospect(&parent(a), &parent(21)).unwrap().selfing);
        // The mates of one, by one column, are the crosses one by one.
        let mates = pedigree.mates(21, &diploids).unwrap();
        for mate in &mates {
            close(mate.prospect.as_ref().unwrap().inbreeding, f(21, mate.id));
            close(mate.kinship, pedigree.kinship(a, mate.id).unwrap());
        }
        assert!(mates.windows(2).all(|pair| {
            pair[0].prospect.as_ref().unwrap().inbreeding <= pair[1].prospect.as_ref().unwrap().inbreeding
        }));
    }
}

/// Own example: a and b founders, s a sport of a; c = a x b and d = s x b are full sibs, e = a x s a selfing.
#[test]
fn a_cross_with_the_own_sport_is_warned_of() {
    let pedigree =
        built(&[founder(1), founder(2), sport(3, 1), cross(4, 1, 2), cross(5, 3, 2), cross(6, 1, 3)]);
    close(pedigree.kinship(4, 5).unwrap(), 0.25);
    close(pedigree.inbreeding(6).unwrap(), 0.5);
    let warnings = pedigree.warnings();
    assert!(warnings.contains(&Warning::OwnSport { id: 6, seed: 1, pollen: 3 }));
    assert_eq!(warnings.iter().filter(|warning| matches!(warning, Warning::OwnSport { .. })).count(), 1);
    // Nobody recorded any sets: every genotype is on a guess.
    assert_eq!(warnings.len(), 6);
}

#[test]
fn sets_are_fitted_to_what_is_recorded() {
    let with = |id, origin, sets| Individual { id, origin, ploidy: Ploidy::sets(sets) };
    let pedigree = built(&[
        with(1, Origin::Founder, 4),
        founder(2),
        Individual::new(3, Origin::cross(Some(1), Some(2))),
        // One parent not known: like the other.
        cross(4, 1, 0),
        // Recorded as tetraploid, of a parent whose sets are a guess: it gave both of its own.
        with(5, Origin::cross(Some(1), Some(2)), 4),
        Individual::new(6, Origin::Doubled { of: 2 }),
        with(7, Origin::cross(Some(3), Some(1)), 4),
    ]);
    let sets: Vec<(u8, bool)> = (1..=7).map(|id| pedigree.sets(id).unwrap()).collect();
    assert_eq!(sets, [(4, false), (2, true), (3, true), (4, true), (4, false), (4, true), (4, false)]);
    assert!(pedigree.warnings().contains(&Warning::OddSets { id: 3, sets: 3 }));
    // Doubling typed as a lambda of three places falls short of what it forces.
    let rounded = built(&[gametes(1, (0, 1, 0.0), (0, 1, 0.0)), gametes(2, (1, 4, 0.333), (0, 0, 0.0))]);
    assert_eq!(rounded.warnings(), [Warning::LowLambda { id: 2 }]);
}

#[test]
fn all_problems_are_told_at_once() {
    let with = |id, origin, sets| Individual { id, origin, ploidy: Ploidy::sets(sets) };
    let parent = |who, gamete| Parent { who, gamete };
    let seed = |id, gamete| Origin::Cross { seed: parent(Who::Known(id), gamete), pollen: Parent::UNKNOWN };
    let shares = |first: f64, second: f64| {
        let one = |who, share| Candidate { who, share };
        let pollen = parent(Who::OneOf(vec![one(Some(1), first), one(None, second)]), Gamete::REDUCED);
        Origin::Cross { seed: Parent::reduced(Some(1)), pollen }
    };
    let records = [
        with(1, Origin::Founder, 2),
        with(2, Origin::Founder, 3),
        Individual::new(3, seed(2, Gamete::REDUCED)),
        with(4, Origin::cross(Some(1), Some(1)), 5),
        Individual::new(5, shares(0.5, 0.4)),
        Individual::new(6, shares(1.5, -0.5)),
        Individual::new(7, seed(2, Gamete::Unreduced(Restitution::FirstDivision))),
        with(8, Origin::sport(1), 4),
        Individual::new(9, seed(1, Gamete::Stated { sets: 1, lambda: 1.5 })),
        with(10, Origin::Founder, 0),
    ];
    let found = Pedigree::build(&records).unwrap_err();
    assert_eq!(
        found,
        [
            Problem::OddParent { id: 3, parent: 2, sets: 3 },
            Problem::Sets { id: 4, recorded: Some(5), seed: 1, pollen: 1 },
            Problem::Shares { id: 5, sum: 0.9 },
            Problem::Probability { id: 6, value: 1.5 },
            Problem::NoRestitution { id: 7, parent: 2, sets: 3 },
            Problem::CloneSets { id: 8, recorded: 4, of_source: 2 },
            Problem::Probability { id: 9, value: 1.5 },
            Problem::Sets { id: 10, recorded: Some(0), seed: 0, pollen: 0 },
        ]
    );
    assert!(found.iter().all(|problem| !problem.to_string().is_empty()));
    // A sport may go back to what is not recorded; then there is nothing to go back to.
    let layers = Some(Layers { l2: true, ..Layers::default() });
    let kind = CloneKind::Sport { layers, reverts_to: Some(77) };
    let lost = [founder(1), Individual::new(2, Origin::Clone { of: 1, kind })];
    assert_eq!(Pedigree::build(&lost).unwrap_err(), [Problem::UnknownParent { id: 2, parent: 77 }]);
    let mut pedigree = built(&records[..1]);
    assert_eq!(pedigree.add(founder(1)), Err(vec![Problem::Duplicate { id: 1 }]));
    assert_eq!(pedigree.add(cross(2, 3, 1)), Err(vec![Problem::UnknownParent { id: 2, parent: 3 }]));
    assert_eq!(
        pedigree.prospect(&Parent::reduced(Some(1)), &Parent::reduced(Some(9))),
        Err(NoProspect::Unknown(UnknownId(9)))
    );
}

#[test]
fn a_loop_is_refused_from_either_end() {
    // 1 -> 3 -> 4 -> 5, and 4 again by the sport 6.
    let records = [founder(1), founder(2), cross(3, 1, 2), cross(4, 3, 0), cross(5, 4, 2), sport(6, 4)];
    let mut pedigree = built(&records);
    assert_eq!(pedigree.would_cycle(3, &[5, 2]), Some(vec![3, 5, 4]));
    assert_eq!(pedigree.would_cycle(3, &[6]), Some(vec![3, 6, 4]));
    assert_eq!(pedigree.would_cycle(3, &[5, 3]), Some(vec![3]));
    assert_eq!(pedigree.would_cycle(5, &[3, 2]), None);
    assert_eq!(pedigree.would_cycle(99, &[3, 2]), None);
    let before = pedigree.inbreeding_all();
    let refused = pedigree.edit(cross(1, 5, 0)).unwrap_err();
    assert_eq!(refused, [Problem::Loop { ids: vec![1, 5, 4, 3] }]);
    assert_eq!(pedigree.inbreeding_all(), before);
    // Random edits: what is foretold is what is found.
    let mut lcg = Lcg(9);
    for _ in 0..200 {
        let mut records: Vec<Individual> =
            (1..=12).map(|id| cross(id, lcg.below(id), lcg.below(id))).collect();
        let pedigree = built(&records);
        let (child, seed, pollen) = (1 + lcg.below(12), 1 + lcg.below(12), 1 + lcg.below(12));
        records[child as usize - 1] = cross(child, seed, pollen);
        let length = pedigree.would_cycle(child, &[seed, pollen]).map(|found| found.len());
        let built = Pedigree::build(&records).err().map(|problems| {
            let [Problem::Loop { ids }] = problems.as_slice() else { panic!("{problems:?}") };
            ids.len()
        });
        assert_eq!(length, built);
    }
}

#[test]
fn loops_of_any_length_are_found() {
    let count = 5_000;
    let mut pedigree = built(&(1..=count).map(|id| cross(id, id - 1, 0)).collect::<Vec<_>>());
    assert_eq!(pedigree.would_cycle(1, &[count]).unwrap().len() as u64, count);
    let problems = pedigree.edit(cross(1, count, 0)).unwrap_err();
    assert!(matches!(&problems[..], [Problem::Loop { ids }] if ids.len() as u64 == count));
}

#[test]
fn completeness_counts_known_ancestors() {
    // 5 = (1 x 2) x (unknown), 6 = 5 x 4.
    let pedigree = built(&numbered(&[(0, 0), (0, 0), (1, 2), (3, 0), (3, 4), (5, 4)]));
    assert_eq!(pedigree.completeness(6, 4).unwrap(), [1.0, 0.75, 0.625, 0.125]);
    let known = pedigree.equivalent_generations();
    // 3: 1; 4: .5 (1 + 1) = 1; 5: .5 (1 + 1) + .5 (1 + 1) = 2; 6: .5 * 3 + .5 * 2 = 2.5.
    let expected = [0.0, 0.0, 1.0, 1.0, 2.0, 2.5];
    for ((_, found), expected) in known.into_iter().zip(expected) {
        close(found, expected);
    }
}

#[test]
fn a_sport_is_no_new_member_or_founder() {
    let plain = built(&[founder(1), founder(2), cross(3, 1, 2), cross(4, 3, 2)]);
    let sported = built(&[founder(1), founder(2), sport(5, 1), cross(3, 5, 2), cross(4, 3, 2), sport(6, 4)]);
    assert_eq!(plain.contributions(&[4]).unwrap(), sported.contributions(&[4, 6]).unwrap());
    assert_eq!(
        plain.marginal_contributions(&[3, 4]).unwrap(),
        sported.marginal_contributions(&[3, 4, 6]).unwrap()
    );
    assert_eq!(plain.contributions(&[4]).unwrap()[0].founder, Founder::Individual(1));
}
