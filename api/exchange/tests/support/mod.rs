//! Small markets and a second, exhaustive way to the same answers.
#![allow(dead_code, reason = "each test file uses its part")]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]
#![allow(clippy::cast_possible_wrap, clippy::cast_sign_loss, reason = "test code, small numbers")]

pub(crate) mod four;

use storksbill_exchange::{
    Giver, LevelName, Market, MaxRing, Member, Offer, Plan, Preset, Rules, Want, Wish, Worth, check, solve,
};

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
    pub(crate) givers: Vec<Giver>,
}

impl Draft {
    /// One plant each: an arc `u -> v` says that `v` wants the plant of `u`, all wants alike.
    pub(crate) fn of_arcs(arcs: &[(u64, u64)]) -> Self {
        let mut ids: Vec<u64> = arcs.iter().flat_map(|&(u, v)| [u, v]).collect();
        ids.sort_unstable();
        ids.dedup();
        let mut draft = Self::default();
        for &id in &ids {
            draft.members.push(Member::new(id, 1, 1));
            draft.offers.push(Offer { id, member: id, item: id, quantity: 1 });
            let items: Vec<(u64, u16)> =
                arcs.iter().filter(|&&(_, v)| v == id).map(|&(u, _)| (u, 1)).collect();
            if !items.is_empty() {
                draft.wants.push(Want::any(id, id, &items));
            }
        }
        draft
    }

    pub(crate) fn market(&self) -> Market {
        let rarity = |offer: &Offer| (offer.item % 3) as u32;
        Market::build(&self.members, &self.offers, &self.wants, |offer, want| {
            Ok(Worth { rarity: rarity(offer), ..Worth::by_rank(offer, want) })
        })
        .and_then(|market| market.with_givers(&self.givers))
        .unwrap()
    }

    /// A few members, few items, small caps: enough for ties, parallel offers and groups of items.
    pub(crate) fn random(lcg: &mut Lcg) -> Self {
        let (members, items) = (2 + lcg.below(5), 2 + lcg.below(4));
        let mut draft = Self::default();
        for member in 0..members {
            let (give, receive) = (lcg.below(3) as u16, 1 + lcg.below(2) as u16);
            let credit = lcg.below(20) as i16 - 10;
            draft.members.push(Member { credit, ..Member::new(10 * member, give, receive) });
            for item in 0..items {
                let id = 100 * member + item;
                match lcg.below(4) {
                    0 => {
                        let quantity = 1 + lcg.below(2) as u16;
                        draft.offers.push(Offer { id, member: 10 * member, item, quantity });
                    }
                    1 | 2 => {
                        let (rank, need) = (1 + lcg.below(4) as u16, 1 + lcg.below(2) as u16);
                        draft.wants.push(Want { need, ..Want::one(id, 10 * member, item, rank) });
                    }
                    _ => {}
                }
            }
        }
        // Sometimes one want takes either of two items.
        if draft.wants.len() > 1 && lcg.below(2) == 0 {
            let other = draft.wants[1].items[0].item;
            let want = draft.wants[0].clone();
            let own = draft.offers.iter().any(|offer| offer.member == want.member && offer.item == other);
            if !own && want.rank_of(other).is_none() {
                draft.wants[0].items.push(Wish { item: other, rank: 1 + lcg.below(4) as u16 });
            }
        }
        draft
    }

    /// The same with one or two givers.
    pub(crate) fn random_with_givers(lcg: &mut Lcg) -> Self {
        let mut draft = Self::random(lcg);
        for _ in 0..=lcg.below(2) {
            let member = draft.members[lcg.below(draft.members.len() as u64) as usize].id;
            if draft.givers.iter().all(|giver| giver.member != member) {
                draft.givers.push(Giver { member, starts: 1 + lcg.below(2) as u16 });
            }
        }
        draft
    }
}

/// Wants served, then weight.
pub(crate) fn rules(max_ring: MaxRing) -> Rules {
    Rules { preset: Preset::Count, max_ring, ..Rules::default() }
}

/// Solves, checks the plan and returns it.
pub(crate) fn checked_under(market: &Market, rules: &Rules) -> Plan {
    let plan = solve(market, rules);
    assert_eq!(check(market, &plan), Ok(()), "{plan:?}");
    for level in &plan.levels {
        assert!(level.value <= level.bound, "{level:?}");
    }
    plan
}

pub(crate) fn checked(market: &Market, max_ring: MaxRing) -> Plan {
    checked_under(market, &rules(max_ring))
}

/// The values of the levels.
pub(crate) fn levels(plan: &Plan) -> Vec<i64> {
    plan.levels.iter().map(|level| level.value).collect()
}

pub(crate) fn values(plan: &Plan) -> (i64, i64) {
    (plan.levels[0].value, plan.levels[1].value)
}

/// The members of every ring of a plan.
pub(crate) fn members(plan: &Plan) -> Vec<Vec<u64>> {
    plan.rings.iter().map(|ring| ring.moves.iter().map(|step| step.from).collect()).collect()
}

/// A possible hand-over: places of offer and want in a draft, and what it is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Step {
    pub(crate) from: u64,
    pub(crate) to: u64,
    pub(crate) item: u64,
    offer: usize,
    want: usize,
    weight: i64,
    rarity: i64,
}

/// A ring, or a chain that a giver starts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Walk {
    pub(crate) ring: bool,
    pub(crate) steps: Vec<Step>,
    /// Steps of a ring of three with a possible hand-over the other way.
    back: i64,
}

fn steps(draft: &Draft) -> Vec<Step> {
    let mut steps = Vec::new();
    for (o, offer) in draft.offers.iter().enumerate() {
        for (w, want) in draft.wants.iter().enumerate() {
            let Some(rank) = want.rank_of(offer.item) else { continue };
            if offer.member != want.member {
                let weight = (100 - 5 * (i64::from(rank) - 1)).max(5);
                let rarity = offer.item as i64 % 3;
                let (from, to, item) = (offer.member, want.member, offer.item);
                steps.push(Step { from, to, item, offer: o, want: w, weight, rarity });
            }
        }
    }
    steps
}

/// The rings of a draft, found by trying all pairs and triples of hand-overs, in canonical order; then its
/// chains, found by walking on from every giver.
pub(crate) fn all_walks(draft: &Draft, longest: usize, chain: usize) -> Vec<Walk> {
    let steps = steps(draft);
    let opposite = |step: &Step| steps.iter().any(|other| (other.from, other.to) == (step.to, step.from));
    let mut rings = Vec::new();
    for a in &steps {
        for b in &steps {
            if a.from < b.from && a.to == b.from && b.to == a.from {
                rings.push(Walk { ring: true, steps: vec![*a, *b], back: 0 });
            }
            for c in &steps {
                let distinct = a.from < b.from && a.from < c.from && b.from != c.from;
                if longest == 3 && distinct && a.to == b.from && b.to == c.from && c.to == a.from {
                    let back = [a, b, c].iter().filter(|step| opposite(step)).count() as i64;
                    rings.push(Walk { ring: true, steps: vec![*a, *b, *c], back });
                }
            }
        }
    }
    rings.sort_by_key(|ring| {
        let members: Vec<u64> = ring.steps.iter().map(|step| step.from).collect();
        let id = |step: &Step| (step.item, draft.offers[step.offer].id, draft.wants[step.want].id);
        let rest: Vec<_> = ring.steps.iter().map(id).collect();
        (ring.steps.len(), members, rest)
    });
    let mut front: Vec<Vec<Step>> = Vec::new();
    for length in 1..=chain {
        let mut next = Vec::new();
        if length == 1 {
            let starts = |step: &&Step| draft.givers.iter().any(|giver| giver.member == step.from);
            next.extend(steps.iter().filter(starts).map(|step| vec![*step]));
        }
        for walk in &front {
            for step in steps.iter().filter(|step| step.from == walk[walk.len() - 1].to) {
                next.push(walk.iter().chain([step]).copied().collect());
            }
        }
        rings.extend(next.iter().map(|steps| Walk { ring: false, steps: steps.clone(), back: 0 }));
        front = next;
    }
    rings
}

/// What one run of a walk adds to a level; members served are counted elsewhere.
fn worth(draft: &Draft, rules: &Rules, walk: &Walk, level: LevelName) -> i64 {
    let (p, s) = (f64::from(rules.drop_ppm) / 1e6, f64::from(rules.step_ppm) / 1e6);
    let round = |expected: f64| (1e4 * expected).round() as i64;
    let sum = |of: &dyn Fn(&Step) -> i64| walk.steps.iter().map(of).sum();
    let credit = |step: &Step| {
        let member = draft.members.iter().find(|member| member.id == step.to).unwrap();
        8 + i64::from(member.credit.clamp(-7, 7))
    };
    let length = walk.steps.len() as i64;
    match level {
        LevelName::Expected if !walk.ring => {
            (1..=length as i32).map(|k| round((1.0 - p).powi(k + 1) * s.powi(k))).sum()
        }
        LevelName::Expected if length == 2 => round(2.0 * ((1.0 - p) * s).powi(2)),
        LevelName::Expected => {
            let mended = 2.0 * walk.back as f64 * p * (1.0 - p).powi(2) * s.powi(2);
            round(3.0 * ((1.0 - p) * s).powi(3) + mended)
        }
        LevelName::MembersServed => 0,
        LevelName::WantsServed => length,
        LevelName::RankWeight => sum(&|step| step.weight),
        LevelName::Rarity => sum(&|step| step.rarity),
        LevelName::EffectivePairs => i64::from(walk.ring && (length == 2 || walk.back > 0)),
        LevelName::FewestThrees => -i64::from(walk.ring && length == 3),
        LevelName::BackArcs => walk.back,
        LevelName::Credit => sum(&credit),
    }
}

/// The best plan of a draft by trying every one, the first in the order of [`all_walks`] among equals: the
/// values of its levels, and how often each walk is made.
pub(crate) fn exhaustive(draft: &Draft, rules: &Rules, walks: &[Walk]) -> (Vec<i64>, Vec<u16>) {
    let mut search = Search::new(draft, rules, walks);
    let mut room = search.full.clone();
    search.go(0, &mut room, &mut vec![0; rules.preset.levels().len()]);
    search.best
}

/// The values of the best plan that gives the want at this place at least so many cuttings.
pub(crate) fn exhaustive_with(
    draft: &Draft,
    rules: &Rules,
    walks: &[Walk],
    want: usize,
    least: i64,
) -> Option<Vec<i64>> {
    let most = i64::from(draft.wants[want].need);
    let row = 2 * draft.members.len() + draft.offers.len() + want;
    let mut search = Search::new(draft, rules, walks);
    search.forced = Some((row, most - least));
    let mut room = search.full.clone();
    search.go(0, &mut room, &mut vec![0; rules.preset.levels().len()]);
    Some(search.best.0).filter(|best| !best.is_empty())
}

struct Search {
    rows: Vec<Vec<usize>>,
    gains: Vec<Vec<i64>>,
    /// The place of the level of members served, and the rows that tell who is.
    served: Option<usize>,
    receiving: std::ops::Range<usize>,
    full: Vec<i64>,
    /// A row and the room it may have left at most.
    forced: Option<(usize, i64)>,
    times: Vec<u16>,
    best: (Vec<i64>, Vec<u16>),
}

impl Search {
    fn new(draft: &Draft, rules: &Rules, walks: &[Walk]) -> Self {
        let mut room: Vec<i64> = Vec::new();
        room.extend(draft.members.iter().map(|m| i64::from(m.give)));
        room.extend(draft.members.iter().map(|m| i64::from(m.receive)));
        room.extend(draft.offers.iter().map(|offer| i64::from(offer.quantity)));
        room.extend(draft.wants.iter().map(|want| i64::from(want.need)));
        room.extend(draft.givers.iter().map(|giver| i64::from(giver.starts)));
        let (members, offers, wants) = (draft.members.len(), draft.offers.len(), draft.wants.len());
        let place = |id: u64| draft.members.iter().position(|m| m.id == id).unwrap();
        let rows = |walk: &Walk| {
            let mut rows: Vec<usize> = walk
                .steps
                .iter()
                .flat_map(|step| {
                    let (give, receive) = (place(step.from), members + place(step.to));
                    [give, receive, 2 * members + step.offer, 2 * members + offers + step.want]
                })
                .collect();
            if !walk.ring {
                let giver = draft.givers.iter().position(|giver| giver.member == walk.steps[0].from).unwrap();
                rows.push(2 * members + offers + wants + giver);
            }
            rows
        };
        let names = rules.preset.levels();
        Search {
            rows: walks.iter().map(rows).collect(),
            gains: walks
                .iter()
                .map(|walk| names.iter().map(|&level| worth(draft, rules, walk, level)).collect())
                .collect(),
            served: names.iter().position(|&level| level == LevelName::MembersServed),
            receiving: members..2 * members,
            full: room,
            forced: None,
            times: vec![0; walks.len()],
            best: (Vec::new(), Vec::new()),
        }
    }

    fn go(&mut self, walk: usize, room: &mut Vec<i64>, value: &mut Vec<i64>) {
        if walk == self.rows.len() {
            if self.forced.is_some_and(|(row, most)| room[row] > most) {
                return;
            }
            let mut value = value.clone();
            if let Some(at) = self.served {
                value[at] = self.receiving.clone().filter(|&row| room[row] < self.full[row]).count() as i64;
            }
            // More runs of earlier walks are tried first, so only a strictly better plan replaces the best.
            if value > self.best.0 {
                self.best = (value, self.times.clone());
            }
            return;
        }
        // A row a walk passes twice has room for half as many.
        let rows = self.rows[walk].clone();
        let mut most = i64::MAX;
        for &row in &rows {
            let passes = rows.iter().filter(|&&other| other == row).count() as i64;
            most = most.min(room[row] / passes);
        }
        for times in (0..=most).rev() {
            for &row in &rows {
                room[row] -= times;
            }
            self.times[walk] = times as u16;
            let step = |value: &mut Vec<i64>, times: i64, gains: &[i64]| {
                for (sum, gain) in value.iter_mut().zip(gains) {
                    *sum += times * gain;
                }
            };
            step(value, times, &self.gains[walk]);
            self.go(walk + 1, room, value);
            step(value, -times, &self.gains[walk]);
            self.times[walk] = 0;
            for &row in &rows {
                room[row] += times;
            }
        }
    }
}
