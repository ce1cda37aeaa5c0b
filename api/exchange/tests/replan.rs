//! Members drop out of a plan: what stands stays, and nobody is asked for more than they agreed to.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use std::collections::BTreeMap;

use storksbill_exchange::{Move, Preset, Replan, Rules, check, replan};
use support::{Draft, Lcg, checked_under};

const COUNT: Rules = Rules {
    preset: Preset::Count,
    max_ring: storksbill_exchange::MaxRing::Three,
    max_chain: 3,
    drop_ppm: 0,
    step_ppm: 1_000_000,
    work: storksbill_exchange::Work { rings: 10_000, search: 50_000_000, tie_searches: 100 },
};

fn members(rings: &[storksbill_exchange::Ring]) -> Vec<Vec<u64>> {
    rings.iter().map(|ring| ring.moves.iter().map(|step| step.from).collect()).collect()
}

/// A ring of three loses one member; the other two can still swap, and a ring elsewhere is not touched.
#[test]
fn the_pair_left_over_swaps() {
    let arcs = [(1, 2), (2, 3), (3, 1), (2, 1), (4, 5), (5, 6), (6, 4)];
    let market = Draft::of_arcs(&arcs).market();
    let plan = checked_under(&market, &COUNT);
    assert_eq!(members(&plan.rings), vec![vec![1, 2, 3], vec![4, 5, 6]]);
    let new = replan(&market, &plan, &[3], &COUNT, &mut || false);
    assert_eq!(members(&new.kept), vec![vec![4, 5, 6]]);
    assert_eq!(members(&new.mended), vec![vec![1, 2]]);
    assert!(new.fresh.rings.is_empty());
    // Without the way back there is nothing to mend, but 1 finds another partner among those left out.
    let arcs = [(1, 2), (2, 3), (3, 1), (1, 7), (7, 1)];
    let market = Draft::of_arcs(&arcs).market();
    let plan = checked_under(&market, &COUNT);
    assert_eq!(members(&plan.rings), vec![vec![1, 2, 3]]);
    let new = replan(&market, &plan, &[2], &COUNT, &mut || false);
    assert_eq!((new.mended.len(), members(&new.fresh.rings)), (0, vec![vec![1, 7]]));
}

#[test]
fn a_chain_stands_up_to_the_gap() {
    let mut draft = Draft::of_arcs(&[(1, 2), (2, 3), (3, 4)]);
    draft.givers.push(storksbill_exchange::Giver { member: 1, starts: 1 });
    let market = draft.market();
    let plan = checked_under(&market, &COUNT);
    assert_eq!(plan.chains[0].moves.len(), 3);
    let new = replan(&market, &plan, &[4], &COUNT, &mut || false);
    assert_eq!(new.kept_chains[0].moves, plan.chains[0].moves[..2].to_vec());
    let new = replan(&market, &plan, &[2], &COUNT, &mut || false);
    assert!(new.kept_chains.is_empty() && new.fresh.chains.is_empty());
}

fn all(new: &Replan) -> Vec<(Move, u64)> {
    let rings = new.kept.iter().chain(&new.mended).chain(&new.fresh.rings);
    let rings = rings.flat_map(|ring| ring.moves.iter().map(|step| (*step, u64::from(ring.times))));
    let chains = new.kept_chains.iter().chain(&new.fresh.chains);
    rings
        .chain(chains.flat_map(|chain| chain.moves.iter().map(|step| (*step, u64::from(chain.times)))))
        .collect()
}

#[test]
fn what_stands_stays_and_all_limits_hold() {
    let mut lcg = Lcg(41);
    let (mut hurt, mut mended, mut fresh) = (0, 0, 0);
    for _ in 0..1_500 {
        let draft = Draft::random_with_givers(&mut lcg);
        let market = draft.market();
        let plan = checked_under(&market, &COUNT);
        if plan.rings.is_empty() {
            continue;
        }
        let gone = plan.rings[lcg.below(plan.rings.len() as u64) as usize].moves[0].from;
        let new = replan(&market, &plan, &[gone], &COUNT, &mut || false);
        check(&new.free, &new.fresh).unwrap();
        let stand: Vec<_> = plan
            .rings
            .iter()
            .filter(|ring| ring.moves.iter().all(|step| step.from != gone))
            .cloned()
            .collect();
        assert_eq!(new.kept, stand);
        let mut sums: BTreeMap<(char, u64), u64> = BTreeMap::new();
        for (step, times) in all(&new) {
            assert!(step.from != gone && step.to != gone);
            for key in [('g', step.from), ('r', step.to), ('o', step.offer), ('w', step.want)] {
                *sums.entry(key).or_default() += times;
            }
        }
        let of = |kind, id| sums.get(&(kind, id)).copied().unwrap_or(0);
        for member in &draft.members {
            assert!(of('g', member.id) <= u64::from(member.give));
            assert!(of('r', member.id) <= u64::from(member.receive));
        }
        assert!(draft.offers.iter().all(|offer| of('o', offer.id) <= u64::from(offer.quantity)));
        assert!(draft.wants.iter().all(|want| of('w', want.id) <= u64::from(want.need)));
        hurt += 1;
        mended += new.mended.len();
        fresh += new.fresh.rings.len() + new.fresh.chains.len();
    }
    assert!(hurt > 200 && mended > 5 && fresh > 20, "{hurt} {mended} {fresh}");
}
