//! Small markets and a second, exhaustive way to the same answers.
#![allow(dead_code, reason = "each test file uses its part")]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]
#![allow(clippy::cast_possible_wrap, clippy::cast_sign_loss, reason = "test code, small numbers")]

use storksbill_exchange::{LevelName, Market, MaxRing, Member, Offer, Plan, Rules, Want, check, solve};

/// A small linear congruential generator (constants of Knuth's MMIX, *The Art of Computer Programming* 2).
pub(crate) struct Lcg(pub(crate) u64);

impl Lcg {
    pub(crate) fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }

    pub(crate) fn shuffle<T>(&mut self, list: &mut [T]) {
        for at in (1..list.len()).rev() {
            list.swap(at, self.below(at as u64 + 1) as usize);
        }
    }
}

/// Members, offers and wants before they are a market.
#[derive(Debug, Clone, Default)]
pub(crate) struct Draft {
    pub(crate) members: Vec<Member>,
    pub(crate) offers: Vec<Offer>,
    pub(crate) wants: Vec<Want>,
}

impl Draft {
    /// One plant each: an arc `u -> v` says that `v` wants the plant of `u`, all wants alike.
    pub(crate) fn of_arcs(arcs: &[(u64, u64)]) -> Self {
        let mut ids: Vec<u64> = arcs.iter().flat_map(|&(u, v)| [u, v]).collect();
        ids.sort_unstable();
        ids.dedup();
        let mut draft = Self::default();
        for &id in &ids {
            draft.members.push(Member { id, give: 1, receive: 1 });
            draft.offers.push(Offer { id, member: id, item: id, quantity: 1 });
            let items: Vec<u64> = arcs.iter().filter(|&&(_, v)| v == id).map(|&(u, _)| u).collect();
            if !items.is_empty() {
                draft.wants.push(Want { id, member: id, items, rank: 1, need: 1 });
            }
        }
        draft
    }

    pub(crate) fn market(&self) -> Market {
        Market::build(&self.members, &self.offers, &self.wants, |_, _| Ok(())).unwrap()
    }

    /// A few members, few items, small caps: enough for ties, parallel offers and groups of items.
    pub(crate) fn random(lcg: &mut Lcg) -> Self {
        let (members, items) = (2 + lcg.below(5), 2 + lcg.below(4));
        let mut draft = Self::default();
        for member in 0..members {
            draft.members.push(Member {
                id: 10 * member,
                give: lcg.below(3) as u16,
                receive: 1 + lcg.below(2) as u16,
            });
            for item in 0..items {
                let id = 100 * member + item;
                match lcg.below(4) {
                    0 => {
                        let quantity = 1 + lcg.below(2) as u16;
                        draft.offers.push(Offer { id, member: 10 * member, item, quantity });
                    }
                    1 | 2 => {
                        let (rank, need) = (1 + lcg.below(4) as u16, 1 + lcg.below(2) as u16);
                        draft.wants.push(Want { id, member: 10 * member, items: vec![item], rank, need });
                    }
                    _ => {}
                }
            }
        }
        // Sometimes one want takes either of two items.
        if draft.wants.len() > 1 && lcg.below(2) == 0 {
            let other = draft.wants[1].items[0];
            let want = draft.wants[0].clone();
            let own = draft.offers.iter().any(|offer| offer.member == want.member && offer.item == other);
            if !own && !want.items.contains(&other) {
                draft.wants[0].items.push(other);
            }
        }
        draft
    }
}

pub(crate) fn rules(max_ring: MaxRing) -> Rules {
    Rules { max_ring, ..Rules::default() }
}

/// Solves, checks the plan and returns it.
pub(crate) fn checked(market: &Market, max_ring: MaxRing) -> Plan {
    let plan = solve(market, &rules(max_ring));
    check(market, &plan).unwrap();
    assert_eq!(plan.levels[0].name, LevelName::WantsServed);
    for level in &plan.levels {
        assert!(level.value <= level.bound, "{level:?}");
    }
    plan
}

pub(crate) fn values(plan: &Plan) -> (i64, i64) {
    (plan.levels[0].value, plan.levels[1].value)
}

/// The members of every ring of a plan.
pub(crate) fn members(plan: &Plan) -> Vec<Vec<u64>> {
    plan.rings.iter().map(|ring| ring.moves.iter().map(|step| step.from).collect()).collect()
}

/// A possible hand-over by places in a draft: (from, to, item, offer, want, weight).
type Step = (u64, u64, u64, usize, usize, i64);

/// The rings of a draft, found by trying all pairs and triples of hand-overs, in canonical order.
pub(crate) fn all_rings(draft: &Draft, longest: usize) -> Vec<Vec<Step>> {
    let mut steps = Vec::new();
    for (o, offer) in draft.offers.iter().enumerate() {
        for (w, want) in draft.wants.iter().enumerate() {
            if offer.member != want.member && want.items.contains(&offer.item) {
                let weight = (100 - 5 * (i64::from(want.rank) - 1)).max(5);
                steps.push((offer.member, want.member, offer.item, o, w, weight));
            }
        }
    }
    let mut rings = Vec::new();
    for a in &steps {
        for b in &steps {
            if a.0 < b.0 && a.1 == b.0 && b.1 == a.0 {
                rings.push(vec![*a, *b]);
            }
            for c in &steps {
                if longest == 3
                    && a.0 < b.0
                    && a.0 < c.0
                    && b.0 != c.0
                    && a.1 == b.0
                    && b.1 == c.0
                    && c.1 == a.0
                {
                    rings.push(vec![*a, *b, *c]);
                }
            }
        }
    }
    rings.sort_by_key(|ring| {
        let members: Vec<u64> = ring.iter().map(|step| step.0).collect();
        let rest: Vec<_> =
            ring.iter().map(|step| (step.2, draft.offers[step.3].id, draft.wants[step.4].id)).collect();
        (ring.len(), members, rest)
    });
    rings
}

/// The best plan of a draft by trying every one, the first in canonical order among equals:
/// (wants served, weight, times of each ring of [`all_rings`]).
pub(crate) fn brute_force(draft: &Draft, longest: usize) -> (i64, i64, Vec<u16>) {
    let rings = all_rings(draft, longest);
    let mut room: Vec<i64> = draft.members.iter().map(|m| i64::from(m.give.min(m.receive))).collect();
    room.extend(draft.offers.iter().map(|offer| i64::from(offer.quantity)));
    room.extend(draft.wants.iter().map(|want| i64::from(want.need)));
    let (members, offers) = (draft.members.len(), draft.offers.len());
    let rows: Vec<Vec<usize>> = rings
        .iter()
        .map(|ring| {
            ring.iter()
                .flat_map(|step| {
                    let member = draft.members.iter().position(|m| m.id == step.0).unwrap();
                    [member, members + step.3, members + offers + step.4]
                })
                .collect()
        })
        .collect();
    let gains: Vec<(i64, i64)> =
        rings.iter().map(|ring| (ring.len() as i64, ring.iter().map(|step| step.5).sum())).collect();
    let mut search = Search { rows, gains, times: vec![0; rings.len()], best: (-1, -1, Vec::new()) };
    search.go(0, &mut room, (0, 0));
    search.best
}

struct Search {
    rows: Vec<Vec<usize>>,
    gains: Vec<(i64, i64)>,
    times: Vec<u16>,
    best: (i64, i64, Vec<u16>),
}

impl Search {
    fn go(&mut self, ring: usize, room: &mut Vec<i64>, value: (i64, i64)) {
        if ring == self.rows.len() {
            // More runs of earlier rings are tried first, so only a strictly better plan replaces the best.
            if value > (self.best.0, self.best.1) {
                self.best = (value.0, value.1, self.times.clone());
            }
            return;
        }
        let most = self.rows[ring].iter().map(|&row| room[row]).min().unwrap();
        for times in (0..=most).rev() {
            for row in self.rows[ring].clone() {
                room[row] -= times;
            }
            self.times[ring] = times as u16;
            let gain = self.gains[ring];
            self.go(ring + 1, room, (value.0 + times * gain.0, value.1 + times * gain.1));
            self.times[ring] = 0;
            for row in self.rows[ring].clone() {
                room[row] += times;
            }
        }
    }
}
