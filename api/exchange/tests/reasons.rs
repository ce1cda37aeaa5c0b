//! Why a ring was chosen and why a want was not served, in numbers that can be checked by hand.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod support;

use storksbill_exchange::{
    Forced, LevelName, Loss, Market, MaxRing, Reason, Work, Worth, explain_ring, explain_want,
};
use support::{Draft, Lcg, checked, rules};

fn work() -> Work {
    Work::default()
}

#[test]
fn a_ring_and_what_it_keeps_out() {
    // 1 <-> 2 of rank 1, 2 <-> 3 alike: 1 2 comes first, 3 is left.
    let market = Draft::of_arcs(&[(1, 2), (2, 1), (2, 3), (3, 2), (4, 5), (5, 4)]).market();
    let plan = checked(&market, MaxRing::Three);
    let case = explain_ring(&market, &plan, 0, &work()).unwrap();
    assert_eq!(case.adds, vec![(LevelName::WantsServed, 2), (LevelName::RankWeight, 200)]);
    assert_eq!(case.without, None); // 2 and 3 could swap as well
    let case = explain_ring(&market, &plan, 1, &work()).unwrap();
    let loss = Loss { level: LevelName::WantsServed, value: 4, at_least: 2, at_most: 2 };
    assert_eq!(case.without, Some(loss));
    assert_eq!(explain_ring(&market, &plan, 2, &work()), None);
    let case = explain_want(&market, &plan, 3, &work()).unwrap();
    assert_eq!(case.forced, Forced::AsGood);
    assert_eq!((case.possible, case.given, case.received), (1, (0, 1), (0, 1)));
    assert_eq!(explain_want(&market, &plan, 1, &work()), None);
}

#[test]
fn the_price_of_serving_a_want() {
    // 3 could swap with 1 alone, who then leaves both 2 and, over the ring 1 2 4, two more without.
    let market = Draft::of_arcs(&[(1, 2), (2, 4), (4, 1), (1, 3), (3, 1)]).market();
    let plan = checked(&market, MaxRing::Three);
    let case = explain_want(&market, &plan, 3, &work()).unwrap();
    let loss = Loss { level: LevelName::WantsServed, value: 3, at_least: 1, at_most: 1 };
    assert_eq!(case.forced, Forced::Costs(loss));
}

#[test]
fn refusals_are_counted_by_reason() {
    let draft = Draft::of_arcs(&[(1, 2), (3, 2), (4, 2), (2, 1)]);
    let market =
        Market::build(&draft.members, &draft.offers, &draft.wants, |offer, want| match offer.member {
            1 | 4 if want.member == 2 => Err(Reason(7)),
            3 => Err(Reason(5)),
            _ => Ok(Worth::by_rank(offer, want)),
        })
        .unwrap();
    let plan = checked(&market, MaxRing::Three);
    let case = explain_want(&market, &plan, 2, &work()).unwrap();
    assert_eq!(case.refused, vec![(Reason(5), 1), (Reason(7), 2)]);
    assert_eq!((case.possible, case.forced), (0, Forced::NoPlan));
}

/// Forcing each unserved want against solving with every other plan ruled out by hand: serving it can never be
/// free where the plan says it costs, and costs are within their bounds.
#[test]
fn costs_lie_within_their_bounds() {
    let mut lcg = Lcg(51);
    let (mut costs, mut none, mut free) = (0, 0, 0);
    for _ in 0..600 {
        let draft = Draft::random(&mut lcg);
        let walks = support::all_walks(&draft, 3, 0);
        if walks.len() > 14 {
            continue;
        }
        let market = draft.market();
        let plan = checked(&market, MaxRing::Three);
        for unmet in &plan.unmet {
            let case = explain_want(&market, &plan, unmet.want, &work()).unwrap();
            let want = draft.wants.iter().position(|want| want.id == unmet.want).unwrap();
            let got = i64::from(draft.wants[want].need - unmet.missing);
            let best = support::exhaustive_with(&draft, &rules(MaxRing::Three), &walks, want, got + 1);
            let now = support::levels(&plan);
            match case.forced {
                Forced::NoPlan => {
                    assert_eq!(best, None);
                    none += 1;
                }
                Forced::AsGood => {
                    assert_eq!(best, Some(now));
                    free += 1;
                }
                Forced::Costs(loss) => {
                    let best = best.unwrap();
                    let at = usize::from(loss.level == LevelName::RankWeight);
                    assert_eq!(best[..at], now[..at]);
                    let cost = now[at] - best[at];
                    assert!(cost > 0 && loss.at_least <= cost && cost <= loss.at_most, "{loss:?} {cost}");
                    costs += 1;
                }
            }
        }
    }
    assert!(costs > 50 && none > 50 && free > 5, "{costs} {none} {free}");
}
