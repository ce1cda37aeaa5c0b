//! What must hold on every market: agreement with exhaustive search, independence of the order of the input,
//! more possibilities never make less, and every plan passes the check.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_exchange::{
    Fault, Market, MaxRing, Plan, Preset, Rules, Stopped, Tie, Why, Worth, check, solve_until,
};
use support::{Draft, Lcg, Walk, all_walks, checked, checked_under, exhaustive, levels, members, values};

const PRESETS: [Preset; 5] =
    [Preset::Expected, Preset::Robust, Preset::Count, Preset::Wishes, Preset::Society];

/// Members and items of a ring (from, to, item), and how often it runs.
type Run = (Vec<(u64, u64, u64)>, u16);

fn runs(walks: &[Walk], times: &[u16]) -> Vec<Run> {
    let name = |walk: &Walk| walk.steps.iter().map(|step| (step.from, step.to, step.item)).collect();
    walks
        .iter()
        .zip(times)
        .filter(|&(_, &times)| times > 0)
        .map(|(walk, &times)| (name(walk), times))
        .collect()
}

fn rings(plan: &Plan) -> Vec<Run> {
    plan.rings
        .iter()
        .map(|ring| (ring.moves.iter().map(|m| (m.from, m.to, m.item)).collect(), ring.times))
        .collect()
}

#[test]
fn agrees_with_exhaustive_search_on_rings() {
    let mut lcg = Lcg(1);
    let (mut cases, mut with_rings, mut tied) = (0, 0, 0);
    while cases < 1_200 {
        let draft = Draft::random(&mut lcg);
        for (max_ring, longest) in [(MaxRing::Two, 2), (MaxRing::Three, 3)] {
            let walks = all_walks(&draft, longest, 0);
            if walks.len() < 2 || walks.len() > 16 {
                continue; // nothing to choose, or too many plans to try them all
            }
            let rules = Rules { preset: PRESETS[cases % 5], max_ring, ..Rules::default() };
            cases += 1;
            let plan = checked_under(&draft.market(), &rules);
            let (best, times) = exhaustive(&draft, &rules, &walks);
            assert_eq!(levels(&plan), best, "{:?} {draft:?}", rules.preset);
            assert!(plan.levels.iter().all(|level| level.proved), "{draft:?}");
            assert_eq!(plan.tie, Tie::First);
            tied += i32::from(plan.spent.tie_searches > 0);
            with_rings += i32::from(!plan.rings.is_empty());
            assert_eq!(rings(&plan), runs(&walks, &times), "{draft:?}");
        }
    }
    // The cases must not be trivial.
    assert!(with_rings > 700, "{with_rings}");
    assert!(tied > 60, "{tied}");
}

#[test]
fn agrees_with_exhaustive_search_on_chains() {
    let mut lcg = Lcg(21);
    let (mut cases, mut with_chains) = (0, 0);
    while cases < 1_000 {
        let draft = Draft::random_with_givers(&mut lcg);
        let max_chain = 1 + lcg.below(4) as u8;
        let walks = all_walks(&draft, 3, usize::from(max_chain));
        if walks.len() < 2 || walks.len() > 14 {
            continue;
        }
        let step_ppm = if lcg.below(2) == 0 { 1_000_000 } else { 900_000 };
        let rules = Rules { preset: PRESETS[cases % 5], max_chain, step_ppm, ..Rules::default() };
        cases += 1;
        let plan = checked_under(&draft.market(), &rules);
        assert_eq!(levels(&plan), exhaustive(&draft, &rules, &walks).0, "{rules:?} {draft:?}");
        assert!(plan.levels.iter().all(|level| level.proved), "{draft:?}");
        with_chains += i32::from(!plan.chains.is_empty());
    }
    assert!(with_chains > 500, "{with_chains}");
}

#[test]
fn order_of_input_does_not_matter() {
    let mut lcg = Lcg(2);
    for _ in 0..60 {
        let mut draft = Draft::random(&mut lcg);
        let plan = checked(&draft.market(), MaxRing::Three);
        lcg.shuffle(&mut draft.members);
        lcg.shuffle(&mut draft.offers);
        lcg.shuffle(&mut draft.wants);
        assert_eq!(checked(&draft.market(), MaxRing::Three), plan);
    }
}

#[test]
fn order_of_input_does_not_matter_for_chains_and_any_aims() {
    let mut lcg = Lcg(22);
    for case in 0..100 {
        let mut draft = Draft::random_with_givers(&mut lcg);
        let rules = Rules { preset: PRESETS[case % 5], max_chain: 3, ..Rules::default() };
        let plan = checked_under(&draft.market(), &rules);
        lcg.shuffle(&mut draft.members);
        lcg.shuffle(&mut draft.offers);
        lcg.shuffle(&mut draft.wants);
        lcg.shuffle(&mut draft.givers);
        assert_eq!(checked_under(&draft.market(), &rules), plan);
    }
}

#[test]
fn larger_weights_in_proportion_give_the_same_plan() {
    let mut lcg = Lcg(23);
    let mut with_rings = 0;
    for case in 0..500 {
        let draft = Draft::random(&mut lcg);
        let rules = Rules { preset: PRESETS[case % 5], ..Rules::default() };
        let plan = |factor: u32| {
            let market = Market::build(&draft.members, &draft.offers, &draft.wants, |offer, want| {
                let worth = Worth::by_rank(offer, want);
                Ok(Worth { weight: factor * worth.weight, rarity: factor * (offer.item as u32 % 3) })
            });
            checked_under(&market.unwrap(), &rules)
        };
        let (once, sevenfold) = (plan(1), plan(7));
        assert_eq!(rings(&once), rings(&sevenfold));
        with_rings += i32::from(!once.rings.is_empty());
    }
    assert!(with_rings > 100, "{with_rings}");
}

/// The caller's clock ends a round early, with a plan that is still true.
#[test]
fn a_round_stopped_by_the_clock_says_so() {
    let mut lcg = Lcg(24);
    let mut stopped = 0;
    for _ in 0..20 {
        let arcs: Vec<(u64, u64)> = (0..900)
            .map(|cell| (cell / 30, cell % 30))
            .filter(|&(from, to)| from != to && lcg.below(8) == 0)
            .collect();
        let market = Draft::of_arcs(&arcs).market();
        let whole = checked_under(&market, &Rules::default());
        let mut asked = 0;
        let plan = solve_until(&market, &Rules::default(), &mut || {
            asked += 1;
            asked > 2
        });
        assert_eq!(check(&market, &plan), Ok(()));
        assert!(levels(&plan) <= levels(&whole));
        assert_eq!(plan.stopped == Stopped::ByClock, asked > 2);
        stopped += i32::from(asked > 2);
    }
    assert!(stopped > 5, "{stopped}");
}

#[test]
fn another_offer_never_lowers_the_best() {
    let mut lcg = Lcg(3);
    let mut raised = 0;
    for _ in 0..200 {
        let mut draft = Draft::random(&mut lcg);
        let before = values(&checked(&draft.market(), MaxRing::Three));
        let Some(want) = draft.wants.first().cloned() else { continue };
        let Some(giver) = draft.members.iter().find(|member| {
            let wants = |item| draft.wants.iter().any(|w| w.member == member.id && w.rank_of(item).is_some());
            member.id != want.member && !wants(want.items[0].item)
        }) else {
            continue;
        };
        let offer =
            storksbill_exchange::Offer { id: 9_999, member: giver.id, item: want.items[0].item, quantity: 1 };
        draft.offers.push(offer);
        let after = values(&checked(&draft.market(), MaxRing::Three));
        assert!(after >= before, "{draft:?}");
        raised += i32::from(after > before);
    }
    assert!(raised > 10, "{raised}");
}

#[test]
fn longer_rings_never_serve_fewer() {
    let mut lcg = Lcg(4);
    for _ in 0..100 {
        let market = Draft::random(&mut lcg).market();
        let (two, three) = (checked(&market, MaxRing::Two), checked(&market, MaxRing::Three));
        assert!(values(&two) <= values(&three));
    }
}

#[test]
fn a_tampered_plan_is_found_out() {
    let market = Draft::of_arcs(&[(1, 2), (2, 1), (2, 3), (3, 2), (3, 1)]).market();
    let plan = checked(&market, MaxRing::Three);
    assert_eq!(members(&plan).len(), 1);

    let mut twice = plan.clone();
    twice.rings.push(plan.rings[0].clone());
    assert_eq!(check(&market, &twice), Err(Fault::OverLimit { member: 1 }));

    let mut open = plan.clone();
    open.rings[0].moves.pop();
    assert_eq!(check(&market, &open), Err(Fault::NotARing { ring: 0 }));

    let mut turned = plan.clone();
    turned.rings[0].moves.rotate_left(1);
    assert_eq!(check(&market, &turned), Err(Fault::NotARing { ring: 0 }));

    let mut other = plan.clone();
    other.rings[0].moves[0].item = 77;
    assert_eq!(check(&market, &other), Err(Fault::NoSuchMove { ring: 0 }));

    let mut proud = plan.clone();
    proud.levels[1].value += 5;
    assert_eq!(check(&market, &proud), Err(Fault::WrongValue { level: 1 }));

    let mut cheap = plan.clone();
    cheap.levels[0].prices.fill(0);
    assert_eq!(check(&market, &cheap), Err(Fault::WrongBound { level: 0 }));

    let mut silent = plan.clone();
    silent.rings.clear();
    assert_eq!(check(&market, &silent), Err(Fault::WrongUnmet { want: 1 }));

    assert_eq!(check(&market, &plan), Ok(()));
}

#[test]
fn every_unserved_want_has_its_reason() {
    use storksbill_exchange::{Member, Offer, Reason, Unmet, Want};
    let member = |id| Member::new(id, 1, 1);
    let offer = |id, member, item| Offer { id, member, item, quantity: 1 };
    let members = [member(1), member(2), member(3), member(4), Member::new(5, 0, 3)];
    let offers = [offer(1, 1, 10), offer(2, 2, 20), offer(3, 3, 30), offer(4, 4, 40)];
    let wants = [
        Want::one(1, 1, 20, 1),
        Want::one(2, 2, 10, 1),
        Want::one(3, 1, 99, 2), // nobody has it
        Want::one(4, 2, 40, 2), // 4 may not send to 2
        Want::one(5, 3, 10, 1), // 3 has nothing anybody wants in return, 1 <-> 2 closes
        Want::one(6, 4, 30, 1), // 3 gives to 4, but 4's plant may not travel
        Want::one(7, 5, 10, 1), // 5 gives nothing
        Want::one(8, 1, 30, 3), // ring 1 -> 3 -> 1 is possible, but 1 has swapped already
    ];
    let market = Market::build(&members, &offers, &wants, |offer, want| {
        if offer.member == 4 && want.member == 2 { Err(Reason(7)) } else { Ok(Worth::by_rank(offer, want)) }
    })
    .unwrap();
    assert_eq!(market.refused(), &[(4, 4, Reason(7))]);
    let plan = checked(&market, MaxRing::Three);
    assert_eq!(support::members(&plan), vec![vec![1, 2]]);
    let why: Vec<(u64, Why)> = plan.unmet.iter().map(|&Unmet { want, why, .. }| (want, why)).collect();
    assert_eq!(
        why,
        vec![
            (3, Why::NobodyOffers),
            (4, Why::Refused(Reason(7))),
            (5, Why::BetterRing),
            (6, Why::NothingToGive),
            (7, Why::GiveLimit),
            (8, Why::ReceiveLimit),
        ]
    );
}
