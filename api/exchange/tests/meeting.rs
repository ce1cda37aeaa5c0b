//! Meetings: everybody at once, rings of any length. The instances are this project's own, the answers by
//! exhaustive search over all sets of hand-overs.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]
#![allow(clippy::cast_possible_wrap, clippy::cast_sign_loss, reason = "test code, small numbers")]

mod support;

use std::collections::BTreeSet;

use storksbill_exchange::{
    Aim, Giver, Market, MaxRing, Meeting, MeetingFault, MeetingRules, Member, Offer, Want, accounts,
    check_meeting, meet, unlock_meeting,
};
use support::four::{A, AMBER, B, C, D, JADE, OPAL, PEARL, RUBY, four_members};
use support::{Draft, Lcg, checked, values};

fn held(market: &Market, leximin: bool) -> Meeting {
    let meeting = meet(market, MeetingRules { leximin }).unwrap();
    assert_eq!(check_meeting(market, &meeting), Ok(()), "{meeting:?}");
    assert!(meeting.levels.iter().all(|level| level.proved), "{meeting:?}");
    assert!(meeting.accounts.iter().all(storksbill_exchange::Account::not_worse_off));
    meeting
}

fn value(meeting: &Meeting, aim: Aim) -> i64 {
    meeting.levels.iter().find(|level| level.aim == aim).unwrap().value
}

/// From, to, item, of every cutting.
fn moves(meeting: &Meeting) -> Vec<(u64, u64, u64)> {
    let step = |h: &storksbill_exchange::HandOver| (h.step.from, h.step.to, h.step.item);
    meeting.hand_overs.iter().flat_map(|h| vec![step(h); usize::from(h.times)]).collect()
}

#[test]
fn four_members_in_balance() {
    let meeting = held(&four_members().market(), false);
    assert_eq!(value(&meeting, Aim::WantsServed), 4);
    assert_eq!(value(&meeting, Aim::Weight), 395);
    assert_eq!(moves(&meeting), vec![(A, B, RUBY), (A, C, RUBY), (B, A, JADE), (C, A, AMBER)]);
    assert_eq!(meeting.rings.len(), 2);
    assert!(meeting.chains.is_empty());

    let mut draft = four_members();
    draft.members[0].give = 1;
    assert_eq!(value(&held(&draft.market(), false), Aim::Weight), 200);

    let mut draft = four_members();
    draft.offers[0].quantity = 1;
    assert_eq!(value(&held(&draft.market(), false), Aim::Weight), 390);
}

#[test]
fn a_gift_ends_with_somebody_who_gives_less() {
    let mut draft = four_members();
    draft.givers.push(Giver { member: D, starts: 1 });
    let meeting = held(&draft.market(), false);
    assert_eq!(value(&meeting, Aim::Weight), 485);
    let all = vec![(A, C, RUBY), (A, C, OPAL), (B, A, JADE), (C, A, AMBER), (D, B, PEARL)];
    assert_eq!(moves(&meeting), all);
    assert_eq!(meeting.chains.len(), 1);
    let walk: Vec<u64> = meeting.chains[0].moves.iter().map(|step| step.to).collect();
    assert_eq!(walk, vec![B, A, C]);

    draft.offers.remove(3); // C offers nothing
    let meeting = held(&draft.market(), false);
    assert_eq!(value(&meeting, Aim::Weight), 295);
    assert_eq!(moves(&meeting), vec![(A, C, RUBY), (B, A, JADE), (D, B, PEARL)]);
    assert!(meeting.rings.is_empty());
}

#[test]
fn an_allowance_needs_both_sides() {
    let draft = |plus, minus| {
        let mut draft = Draft::of_arcs(&[(1, 2)]);
        draft.members[0].plus = plus;
        draft.members[1].minus = minus;
        held(&draft.market(), false)
    };
    assert_eq!(value(&draft(1, 0), Aim::WantsServed), 0);
    assert_eq!(value(&draft(0, 1), Aim::WantsServed), 0);
    let meeting = draft(1, 1);
    assert_eq!(value(&meeting, Aim::WantsServed), 1);
    assert_eq!(value(&meeting, Aim::OnAllowance), -1);
    assert_eq!((meeting.chains.len(), meeting.rings.len()), (1, 0));
}

/// A square of four pairs has two best plans; the first in order of hand-overs is taken.
#[test]
fn ties_go_to_the_first() {
    let arcs = [(0, 1), (1, 0), (1, 2), (2, 1), (2, 3), (3, 2), (3, 0), (0, 3)];
    let meeting = held(&Draft::of_arcs(&arcs).market(), false);
    assert_eq!(moves(&meeting), vec![(0, 1, 0), (1, 0, 1), (2, 3, 2), (3, 2, 3)]);
}

/// One ring of seven, which no ring of three can replace.
#[test]
fn rings_may_be_long() {
    let arcs: Vec<(u64, u64)> = (0..7).map(|at| (at, (at + 1) % 7)).collect();
    let market = Draft::of_arcs(&arcs).market();
    assert_eq!(values(&checked(&market, MaxRing::Three)), (0, 0));
    let meeting = held(&market, true);
    assert_eq!((meeting.rings.len(), meeting.rings[0].moves.len()), (1, 7));
    assert_eq!(value(&meeting, Aim::ReceivedAtLeast(1)), 7);
}

/// Three to five members with caps up to three, each with items of their own that about half the others want.
fn lively(lcg: &mut Lcg) -> Draft {
    let members = 3 + lcg.below(3);
    let mut draft = Draft::default();
    for member in 0..members {
        let (give, receive) = (1 + lcg.below(3) as u16, 1 + lcg.below(3) as u16);
        draft.members.push(Member { credit: lcg.below(5) as i16 - 2, ..Member::new(member, give, receive) });
        let quantity = 1 + lcg.below(2) as u16;
        draft.offers.push(Offer { id: member, member, item: member, quantity });
        for item in (0..members).filter(|&item| item != member) {
            if lcg.below(2) == 0 {
                draft.wants.push(Want::one(10 * member + item, member, item, 1 + lcg.below(3) as u16));
            }
        }
    }
    draft
}

/// Random departures from balance.
fn loose(lcg: &mut Lcg) -> Draft {
    let mut draft = match lcg.below(4) {
        0 => Draft::random(lcg),
        1 => Draft::random_with_givers(lcg),
        _ => lively(lcg),
    };
    for member in &mut draft.members {
        if lcg.below(3) == 0 {
            member.plus = lcg.below(3) as u16;
        }
        if lcg.below(3) == 0 {
            member.minus = lcg.below(3) as u16;
        }
    }
    draft
}

/// A hand-over by places in a draft.
#[derive(Clone, Copy)]
struct Step {
    from: usize,
    to: usize,
    offer: usize,
    want: usize,
    most: i64,
    weight: i64,
    rarity: i64,
}

fn steps(draft: &Draft) -> Vec<Step> {
    let place = |id: u64| draft.members.iter().position(|member| member.id == id).unwrap();
    let mut steps = Vec::new();
    for (offer, o) in draft.offers.iter().enumerate() {
        for (want, w) in draft.wants.iter().enumerate() {
            let Some(rank) = w.rank_of(o.item) else { continue };
            steps.push(Step {
                from: place(o.member),
                to: place(w.member),
                offer,
                want,
                most: i64::from(o.quantity.min(w.need)),
                weight: (100 - 5 * (i64::from(rank) - 1)).max(5),
                rarity: o.item as i64 % 3,
            });
        }
    }
    steps.sort_by_key(|s| {
        let (offer, want) = (&draft.offers[s.offer], &draft.wants[s.want]);
        (s.from, s.to, offer.item, offer.id, want.id)
    });
    steps
}

/// Wants served, what members receive (least first) where that counts, weight, rarity, credit, less what is
/// given on allowance, and how much of each hand-over: the larger the better.
type Worth = (i64, Vec<i64>, [i64; 4], Vec<i64>);

struct Exhaustive<'a> {
    draft: &'a Draft,
    steps: &'a [Step],
    leximin: bool,
    flow: Vec<i64>,
    room: Vec<i64>,
    best: Option<Worth>,
}

impl Exhaustive<'_> {
    fn rows(&self, step: Step) -> [usize; 4] {
        let (members, offers) = (self.draft.members.len(), self.draft.offers.len());
        [step.from, members + step.to, 2 * members + step.offer, 2 * members + offers + step.want]
    }

    fn search(&mut self) {
        let Some(&step) = self.steps.get(self.flow.len()) else {
            if let Some(worth) = self.worth()
                && self.best.as_ref() < Some(&worth)
            {
                self.best = Some(worth);
            }
            return;
        };
        let rows = self.rows(step);
        let most = rows.iter().map(|&row| self.room[row]).min().unwrap().min(step.most);
        for times in 0..=most {
            for row in rows {
                self.room[row] -= times;
            }
            self.flow.push(times);
            self.search();
            self.flow.pop();
            for row in rows {
                self.room[row] += times;
            }
        }
    }

    /// `None` where the differences of given and received cannot be explained: by trying, for every member,
    /// all ways to use their allowances, and keeping the sums of what is given less received on allowance.
    fn worth(&self) -> Option<Worth> {
        let members = &self.draft.members;
        let (mut given, mut received) = (vec![0; members.len()], vec![0; members.len()]);
        let mut sums = [0i64; 4];
        for (step, &times) in self.steps.iter().zip(&self.flow) {
            given[step.from] += times;
            received[step.to] += times;
            sums[0] += times * step.weight;
            sums[1] += times * step.rarity;
            sums[2] += times * (8 + i64::from(members[step.to].credit.clamp(-7, 7)));
        }
        let mut reach = BTreeSet::from([0i64]);
        for (at, member) in members.iter().enumerate() {
            let starts = self.draft.givers.iter().find(|giver| giver.member == member.id);
            let starts = starts.map_or(0, |giver| i64::from(giver.starts));
            let mut next = BTreeSet::new();
            for plus in 0..=i64::from(member.plus).min(given[at]) {
                for minus in 0..=i64::from(member.minus).min(received[at]) {
                    for start in 0..=starts.min(given[at] - plus) {
                        // What a gift ends with here.
                        let end = start + plus - minus - (given[at] - received[at]);
                        let possible = if self.draft.givers.is_empty() { end == 0 } else { end >= 0 };
                        if possible && end + minus <= received[at] {
                            next.extend(reach.iter().map(|sum| sum + plus - minus));
                        }
                    }
                }
            }
            sums[3] -= (given[at] - received[at] - starts).max(0);
            reach = next;
        }
        reach.contains(&0).then(|| {
            let served = self.flow.iter().sum();
            received.sort_unstable();
            let fair = if self.leximin { received } else { Vec::new() };
            (served, fair, sums, self.flow.clone())
        })
    }
}

#[test]
fn agrees_with_exhaustive_search() {
    let mut lcg = Lcg(21);
    let (mut cases, mut served, mut chains, mut fairer, mut allowed) = (0, 0, 0, 0, 0);
    while cases < 1000 {
        let draft = loose(&mut lcg);
        let steps = steps(&draft);
        if steps.len() < 3 || steps.len() > 13 {
            continue; // nothing to choose, or too many plans to try them all
        }
        cases += 1;
        let market = draft.market();
        let mut moves = Vec::new();
        for leximin in [false, true] {
            let mut room: Vec<i64> = draft.members.iter().map(|m| i64::from(m.give)).collect();
            room.extend(draft.members.iter().map(|m| i64::from(m.receive)));
            room.extend(draft.offers.iter().map(|offer| i64::from(offer.quantity)));
            room.extend(draft.wants.iter().map(|want| i64::from(want.need)));
            let flow = Vec::new();
            let mut all = Exhaustive { draft: &draft, steps: &steps, leximin, flow, room, best: None };
            all.search();
            let (most, received, sums, flow) = all.best.unwrap();
            let meeting = held(&market, leximin);
            assert_eq!(value(&meeting, Aim::WantsServed), most, "{draft:?}");
            assert_eq!(value(&meeting, Aim::Weight), sums[0], "{draft:?}");
            if leximin {
                let mut found: Vec<i64> = meeting.accounts.iter().map(|a| i64::from(a.received)).collect();
                found.sort_unstable();
                assert_eq!(found, received, "{draft:?}");
            }
            let expected: Vec<(u64, u64, u16)> = steps
                .iter()
                .zip(&flow)
                .filter(|&(_, &times)| times > 0)
                .map(|(step, &times)| (draft.offers[step.offer].id, draft.wants[step.want].id, times as u16))
                .collect();
            let found: Vec<(u64, u64, u16)> =
                meeting.hand_overs.iter().map(|h| (h.step.offer, h.step.want, h.times)).collect();
            assert_eq!(found, expected, "{draft:?}");
            served += i32::from(most > 0);
            chains += i32::from(!meeting.chains.is_empty());
            allowed += i32::from(sums[3] < 0);
            moves.push(found);
        }
        fairer += i32::from(moves[0] != moves[1]);
    }
    // The cases must not be trivial.
    assert!(
        served > 1200 && chains > 300 && allowed > 100 && fairer > 20,
        "{served} {chains} {allowed} {fairer}"
    );
}

#[test]
fn a_meeting_serves_no_fewer_than_rings_by_post() {
    let mut lcg = Lcg(22);
    let mut more = 0;
    for _ in 0..300 {
        let market = lively(&mut lcg).market();
        let meeting = held(&market, false);
        let reached = (value(&meeting, Aim::WantsServed), value(&meeting, Aim::Weight));
        let by_post = values(&checked(&market, MaxRing::Three));
        assert!(reached >= by_post);
        more += i32::from(reached > by_post);
    }
    assert!(more > 20, "{more}");
}

#[test]
fn order_of_input_does_not_matter() {
    let mut lcg = Lcg(23);
    for _ in 0..60 {
        let mut draft = loose(&mut lcg);
        let meetings = [held(&draft.market(), false), held(&draft.market(), true)];
        let unlocked = unlock_meeting(&draft.market()).unwrap();
        for _ in 0..20 {
            lcg.shuffle(&mut draft.members);
            lcg.shuffle(&mut draft.offers);
            lcg.shuffle(&mut draft.wants);
            lcg.shuffle(&mut draft.givers);
            assert_eq!([held(&draft.market(), false), held(&draft.market(), true)], meetings);
            assert_eq!(unlock_meeting(&draft.market()).unwrap(), unlocked);
        }
    }
}

#[test]
fn weights_scaled_alike_change_nothing() {
    let mut lcg = Lcg(24);
    for _ in 0..60 {
        let draft = loose(&mut lcg);
        let scaled = Market::build(&draft.members, &draft.offers, &draft.wants, |offer, want| {
            let worth = storksbill_exchange::Worth::by_rank(offer, want);
            let rarity = 1_000 * (offer.item % 3) as u32;
            Ok(storksbill_exchange::Worth { weight: 1_000 * worth.weight, rarity })
        })
        .and_then(|market| market.with_givers(&draft.givers))
        .unwrap();
        assert_eq!(moves(&held(&scaled, false)), moves(&held(&draft.market(), false)));
    }
}

/// One more offer is worth what a meeting with one more giver serves on top.
#[test]
fn unlocked_wants_are_those_another_giver_would_serve() {
    let mut lcg = Lcg(25);
    let (mut none, mut one, mut more) = (0, 0, 0);
    for _ in 0..150 {
        let draft = loose(&mut lcg);
        let before = value(&held(&draft.market(), false), Aim::WantsServed);
        let unlocked = unlock_meeting(&draft.market()).unwrap();
        let items: BTreeSet<u64> =
            draft.wants.iter().flat_map(|want| want.items.iter().map(|wish| wish.item)).collect();
        for item in items {
            let mut with = draft.clone();
            with.members.push(Member::new(9_999, 1, 0));
            with.offers.push(Offer { id: 9_999, member: 9_999, item, quantity: 1 });
            with.givers.push(Giver { member: 9_999, starts: 1 });
            let grown = value(&held(&with.market(), false), Aim::WantsServed) - before;
            let told = unlocked.iter().find(|unlock| unlock.item == item).map_or(0, |u| i64::from(u.more));
            assert_eq!(told, grown, "item {item} of {draft:?}");
            *(if grown == 0 {
                &mut none
            } else if grown == 1 {
                &mut one
            } else {
                &mut more
            }) += 1;
        }
        assert!(unlocked.is_sorted_by_key(|unlock| (std::cmp::Reverse(unlock.more), unlock.item)));
    }
    assert!(none > 50 && one > 50 && more > 50, "{none} {one} {more}");
}

#[test]
fn a_tampered_meeting_is_found_out() {
    let mut draft = four_members();
    draft.givers.push(Giver { member: D, starts: 1 });
    let market = draft.market();
    let meeting = held(&market, false);
    let fault = |change: &dyn Fn(&mut Meeting)| {
        let mut other = meeting.clone();
        change(&mut other);
        // Accounts follow the hand-overs, so that it is not them that give the change away.
        other.accounts = accounts(&market, other.hand_overs.iter().map(|h| (&h.step, h.times)));
        check_meeting(&market, &other)
    };
    assert_eq!(fault(&|_| ()), Ok(()));
    assert_eq!(
        fault(&|m| m.hand_overs[0].step.item = 77),
        Err(MeetingFault::NoSuchHandOver { hand_over: 0 })
    );
    assert_eq!(fault(&|m| m.hand_overs.swap(0, 1)), Err(MeetingFault::NoSuchHandOver { hand_over: 1 }));
    assert_eq!(fault(&|m| m.hand_overs[1].times = 2), Err(MeetingFault::OverOffer { offer: 2 }));
    assert_eq!(fault(&|m| m.hand_overs[0].times = 2), Err(MeetingFault::OverWant { want: 5 }));
    assert_eq!(fault(&|m| m.hand_overs.truncate(2)), Err(MeetingFault::Unbalanced { member: A }));
    assert_eq!(fault(&|m| m.levels[0].value = 6), Err(MeetingFault::WrongValue { level: 0 }));
    assert_eq!(fault(&|m| m.levels[1].bound = 490), Err(MeetingFault::WrongBound { level: 1 }));
    assert_eq!(fault(&|m| m.levels[1].potentials.fill(0)), Err(MeetingFault::WrongBound { level: 1 }));
    assert_eq!(fault(&|m| m.levels.truncate(2)), Err(MeetingFault::WrongValue { level: 2 }));
    assert_eq!(fault(&|m| m.chains.clear()), Err(MeetingFault::WrongStory));
    assert_eq!(fault(&|m| m.rings[0].moves.swap(0, 1)), Ok(())); // a ring may be told from any of its members
    assert_eq!(fault(&|m| m.chains[0].moves.swap(0, 1)), Err(MeetingFault::WrongStory));
    let mut wrong = meeting.clone();
    wrong.accounts[0].given += 1;
    assert_eq!(check_meeting(&market, &wrong), Err(MeetingFault::WrongAccount { member: A }));
}

#[test]
fn accounts_tell_who_is_worse_off() {
    let market = four_members().market();
    let meeting = held(&market, false);
    let steps: Vec<_> = meeting.hand_overs.iter().map(|h| h.step).collect();
    // A gives two rubies and only receives a jade.
    let part = accounts(&market, steps.iter().take(3).map(|step| (step, 1)));
    assert_eq!((part[0].given, part[0].received), (2, 1));
    assert!(!part[0].not_worse_off());
    assert!(part[1].not_worse_off() && part[2].not_worse_off());
    // C is given what nobody asked for.
    let mut strange = steps[0];
    strange.to = C;
    let part = accounts(&market, [(&strange, 2)]);
    assert_eq!((part[2].received, part[2].unasked), (2, 2));
    assert!(!part[2].not_worse_off());
}

#[test]
fn an_empty_market_has_an_empty_meeting() {
    let meeting = held(&Draft::default().market(), true);
    assert!(meeting.hand_overs.is_empty());
    assert_eq!(value(&meeting, Aim::WantsServed), 0);
}
