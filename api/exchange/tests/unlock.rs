//! What one more offer is worth by post, against the same market with one more giver. (For meetings:
//! `meeting.rs`.)
#![allow(clippy::unwrap_used, reason = "test code")]

mod support;

use storksbill_exchange::{
    Giver, MaxRing, Member, Offer, Preset, Rules, Unlock, Want, unlock_by_post, unlock_meeting,
};
use support::{Draft, Lcg, all_walks, exhaustive};

/// Amber would start 1 -> 2 -> 3, jade would serve 3 alone, pearl is asked for by nobody.
#[test]
fn amber_serves_three() {
    let offer = |member| Offer { id: member, member, item: member, quantity: 1 };
    let (amber, jade, pearl) = (10, 11, 12);
    let draft = Draft {
        members: (1..=3).map(|id| Member::new(id, 1, 1)).collect(),
        offers: (1..=3).map(offer).collect(),
        wants: vec![Want::one(1, 1, amber, 1), Want::one(2, 2, 1, 1), Want::any(3, 3, &[(2, 1), (jade, 2)])],
        givers: Vec::new(),
    };
    let market = draft.market();
    let rules = |max_chain| Rules { max_chain, ..Rules::default() };
    let unlocked = |max_chain| unlock_by_post(&market, &rules(max_chain), &[pearl, jade, amber]).unwrap();
    let worth = |item, more| Unlock { item, more };
    assert_eq!(unlocked(0), vec![worth(amber, 3), worth(jade, 1)]);
    assert_eq!(unlocked(1), vec![worth(amber, 1), worth(jade, 1)]);
    assert_eq!(unlocked(2), vec![worth(amber, 2), worth(jade, 1)]);
    // At a meeting everything wanted is told, 1 and 2 too: one more of 1 serves 2, then 3.
    let all = [worth(amber, 3), worth(1, 2), worth(2, 1), worth(jade, 1)];
    assert_eq!(unlock_meeting(&market).unwrap(), all);
}

#[test]
fn agrees_with_exhaustive_search_with_one_more_giver() {
    let mut lcg = Lcg(31);
    let (mut cases, mut more) = (0, 0);
    while cases < 60 {
        let draft = Draft::random_with_givers(&mut lcg);
        let Some(item) = draft.wants.first().and_then(|want| want.items.first()).map(|wish| wish.item) else {
            continue;
        };
        let mut with = draft.clone();
        with.members.push(Member::new(9_999, 1, 0));
        with.offers.push(Offer { id: 9_999, member: 9_999, item, quantity: 1 });
        with.givers.push(Giver { member: 9_999, starts: 1 });
        let walks = |draft: &Draft| all_walks(draft, 3, 2);
        if walks(&with).len() > 14 {
            continue; // too many plans to try them all
        }
        cases += 1;
        let rules =
            Rules { preset: Preset::Count, max_ring: MaxRing::Three, max_chain: 2, ..Rules::default() };
        let best = |draft: &Draft| exhaustive(draft, &rules, &walks(draft)).0.first().copied().unwrap();
        let grown = best(&with) - best(&draft);
        let unlocked = unlock_by_post(&draft.market(), &rules, &[item]).unwrap();
        let told = unlocked.first().map_or(0, |unlock| i64::from(unlock.more));
        assert_eq!(told, grown, "{draft:?}");
        more += i32::from(grown > 0);
    }
    assert!(more > 20, "{more}");
}
