//! Rounds that do not work with all rings: bounds from circulations, plans by local search.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_exchange::{
    Forced, Giver, Market, MaxRing, Member, Offer, Plan, Preset, Rules, Stopped, Want, Work, Worth, check,
    explain_ring, explain_want, rank_weight, replan, solve, unlock_by_post,
};
use support::{Draft, Lcg, all_walks, checked_under, exhaustive, exhaustive_with, levels};

const PRESETS: [Preset; 5] =
    [Preset::Expected, Preset::Robust, Preset::Count, Preset::Wishes, Preset::Society];
/// One ring for each want at most is kept.
const FEW: Work = Work { rings: 0, search: 100_000, tie_searches: 0 };

/// Random drafts with few walks, and the rules to run them under.
fn drafts(seed: u64, count: usize, mut case: impl FnMut(&Draft, &Rules)) {
    let mut lcg = Lcg(seed);
    let mut cases = 0;
    while cases < count {
        let draft = Draft::random_with_givers(&mut lcg);
        let max_chain = lcg.below(4) as u8;
        let walks = all_walks(&draft, 3, usize::from(max_chain));
        if !(2..=14).contains(&walks.len()) || walks.iter().all(|walk| !walk.ring) {
            continue;
        }
        let step_ppm = if lcg.below(2) == 0 { 1_000_000 } else { 900_000 };
        let preset = PRESETS[cases % 5];
        case(&draft, &Rules { preset, max_chain, step_ppm, work: FEW, ..Rules::default() });
        cases += 1;
    }
}

#[test]
fn bounds_hold_against_exhaustive_search() {
    let (mut best_met, mut all_proved) = (0, 0);
    drafts(71, 1_000, |draft, rules| {
        let plan = checked_under(&draft.market(), rules);
        let walks = all_walks(draft, 3, usize::from(rules.max_chain));
        let (best, _) = exhaustive(draft, rules, &walks);
        let values = levels(&plan);
        assert!(values <= best, "{draft:?}");
        // A bound speaks of plans that keep the levels before.
        let kept = values.iter().zip(&best).take_while(|(value, best)| value == best).count();
        for (level, &best) in plan.levels.iter().zip(&best).take(kept + 1) {
            assert!(level.bound >= best, "{level:?} {best} {draft:?}");
            assert!(!level.proved || level.value == best, "{level:?} {best} {draft:?}");
        }
        let proved = plan.levels.iter().all(|level| level.proved);
        assert_eq!(plan.stopped == Stopped::ByWork, !proved);
        best_met += i32::from(values == best);
        all_proved += i32::from(proved);
    });
    // Neither the search nor the bounds may be idle.
    assert!(best_met > 800, "{best_met}");
    assert!(all_proved > 250, "{all_proved}");
}

#[test]
fn what_a_want_costs_lies_between_what_is_told() {
    let mut told = 0;
    drafts(72, 800, |draft, rules| {
        let market = draft.market();
        let plan = checked_under(&market, rules);
        let walks = all_walks(draft, 3, usize::from(rules.max_chain));
        let (best, _) = exhaustive(draft, rules, &walks);
        if levels(&plan) != best {
            return;
        }
        for unmet in &plan.unmet {
            let place = draft.wants.iter().position(|want| want.id == unmet.want).unwrap();
            let served = i64::from(draft.wants[place].need - unmet.missing);
            let with = exhaustive_with(draft, rules, &walks, place, served + 1);
            let case = explain_want(&market, &plan, unmet.want, &rules.work).unwrap();
            match (case.forced, with) {
                (Forced::NoPlan, _) => {}
                (Forced::AsGood, with) => assert_eq!(with, Some(best.clone()), "{draft:?}"),
                (Forced::Costs(loss), with) => {
                    let with = with.unwrap();
                    let at = plan.levels.iter().position(|level| level.name == loss.level).unwrap();
                    // The plan met keeps the levels before, so the best plan does.
                    assert_eq!(with[..at], best[..at], "{draft:?}");
                    let lost = best[at] - with[at];
                    assert!((loss.at_least..=loss.at_most).contains(&lost), "{loss:?} {lost} {draft:?}");
                    told += 1;
                }
            }
        }
    });
    assert!(told > 300, "{told}");
}

/// Members offer four cultivars, one and two cuttings in turn, and want six, of `kinds` with few favourites.
/// With `gifts`, every tenth gives for nothing.
fn society(count: u64, kinds: u64, gifts: bool) -> Market {
    let mut lcg = Lcg(5);
    let (mut members, mut offers, mut wants, mut givers) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for member in 0..count {
        let mut drawn: Vec<u64> = Vec::new();
        while drawn.len() < 10 {
            let kind = lcg.below(kinds) * lcg.below(kinds) / kinds;
            if !drawn.contains(&kind) {
                drawn.push(kind);
            }
        }
        let gives = gifts && member % 10 == 0;
        members.push(Member::new(member, 5, if gives { 0 } else { 5 }));
        if gives {
            givers.push(Giver { member, starts: 5 });
        }
        for (quantity, &item) in [1, 2, 1, 2].into_iter().zip(&drawn) {
            offers.push(Offer { id: offers.len() as u64, member, item, quantity });
        }
        for (rank, &item) in (1..).zip(&drawn[4..]).filter(|_| !gives) {
            wants.push(Want::one(wants.len() as u64, member, item, rank));
        }
    }
    Market::build(&members, &offers, &wants, |offer, want| {
        let weight = rank_weight(want.rank_of(offer.item).unwrap());
        Ok(Worth { weight, rarity: u32::from(offer.item > kinds / 2) })
    })
    .and_then(|market| market.with_givers(&givers))
    .unwrap()
}

const WORK: Work = Work { rings: 6_000, search: 2_000_000, tie_searches: 0 };

fn plan(market: &Market, max_chain: u8) -> Plan {
    let rules = Rules { preset: Preset::Society, max_chain, work: WORK, ..Rules::default() };
    let plan = solve(market, &rules);
    assert_eq!(check(market, &plan), Ok(()));
    plan
}

#[test]
fn a_dense_market_is_cleared_within_its_work_and_near_its_bound() {
    for gifts in [false, true] {
        let market = society(100, 40, gifts);
        let plan = plan(&market, 4);
        assert!(plan.spent.rings > 10 * plan.spent.rings_kept, "{:?}", plan.spent);
        assert!(plan.spent.search <= WORK.search, "{:?}", plan.spent);
        let wants = &plan.levels[0];
        assert!(wants.bound >= wants.value && 100 * wants.value >= 85 * wants.bound, "{wants:?}");
        assert!(gifts != plan.chains.is_empty(), "{:?}", plan.chains.len());
        assert_eq!(plan, self::plan(&market, 4));
    }
}

#[test]
fn more_work_never_makes_the_first_level_worse() {
    let market = society(100, 40, false);
    let rules = |search| Rules {
        preset: Preset::Society,
        work: Work { search, ..WORK },
        max_ring: MaxRing::Three,
        ..Rules::default()
    };
    let values: Vec<i64> = [0, 200_000, 2_000_000, 8_000_000]
        .map(|search| checked_under(&market, &rules(search)).levels[0].value)
        .to_vec();
    assert!(values.is_sorted() && values[0] < values[3], "{values:?}");
}

#[test]
fn questions_about_a_dense_market_are_answered_from_its_plan() {
    let market = society(100, 40, true);
    let plan = plan(&market, 4);
    let case = Work { rings: 2_000, search: 50_000, tie_searches: 0 };
    let mut missed = 0;
    for at in 0..20 {
        let told = explain_ring(&market, &plan, at, &case).unwrap();
        assert!(
            told.without.is_none_or(|loss| loss.at_least <= loss.at_most && loss.at_most > 0),
            "{told:?}"
        );
        missed += i32::from(told.without.is_some());
    }
    assert!(missed > 0);
    let forced = |want| explain_want(&market, &plan, want, &case).unwrap().forced;
    let costs = plan.unmet.iter().take(20).filter(|unmet| matches!(forced(unmet.want), Forced::Costs(_)));
    assert!(costs.count() > 5);
    // Nobody outside the market can have too few of what everybody has and nobody wants.
    let items: Vec<u64> = (0..45).collect();
    let rules = Rules { work: case, ..plan.rules };
    let unlocks = unlock_by_post(&market, &rules, &items).unwrap();
    assert!(!unlocks.is_empty() && unlocks.iter().all(|unlock| unlock.item < 40 && unlock.more > 0));
    assert!(unlocks.is_sorted_by_key(|unlock| (u32::MAX - unlock.more, unlock.item)));
    let again = replan(&market, &plan, &[11, 12, 13], &plan.rules, &mut || false);
    assert_eq!(check(&again.free, &again.fresh), Ok(()));
}
