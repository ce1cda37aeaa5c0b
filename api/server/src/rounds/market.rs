//! From a snapshot to the rings it makes.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use storksbill_domain::ids::{CultivarId, MemberId, OfferId, WantId};
use storksbill_domain::words::{RingKind, RoundAim, RoundMode};
use storksbill_exchange::{
    Chain, Giver, Market, MaxRing, Member, Move, Offer, Preset, Reason, Ring, Rules, Want, Wish, Work, Worth,
    rank_weight,
};

use super::snapshot::{MemberFacts, OfferFacts, Snapshot, WantFacts};
use crate::http::problem::{Code, Problem};

/// What keeps a cutting that would match from going to whoever wants it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Hindrance {
    /// A health hold.
    Held,
    /// Not declared healthy in the last 30 days.
    NotDeclared,
    /// Breeders' rights, and no permission recorded.
    Protected,
    /// Another plant-health zone, or none known.
    OtherZone,
    /// They share no club, and one of them does not post.
    NotTogether,
    /// Further away than one of them wants.
    TooFar,
    /// One of them does not swap with the other; nobody is told which.
    NotPaired,
}

impl Hindrance {
    const ALL: [Self; 7] = [
        Self::Held,
        Self::NotDeclared,
        Self::Protected,
        Self::OtherZone,
        Self::NotTogether,
        Self::TooFar,
        Self::NotPaired,
    ];

    fn reason(self) -> Reason {
        Reason((0..).zip(Self::ALL).find(|(_, known)| *known == self).map_or(0, |(at, _)| at))
    }

    pub(super) fn of(reason: Reason) -> Option<Self> {
        usize::try_from(reason.0).ok().and_then(|at| Self::ALL.get(at).copied())
    }

    /// In the words of a sentence: "of which one is ...".
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Held => "held back for plant health",
            Self::NotDeclared => "not declared healthy in the last 30 days",
            Self::Protected => "under breeders' rights, with no permission recorded",
            Self::OtherZone => "in another plant-health zone",
            Self::NotTogether => "with somebody who neither meets you at a club nor posts",
            Self::TooFar => "further away than you or they want",
            // Whose wish it is stays theirs.
            Self::NotPaired => "not to be brought together with you",
        }
    }
}

/// One cutting from one member to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Step {
    pub(super) giver: MemberId,
    pub(super) receiver: MemberId,
    pub(super) offer: OfferId,
    pub(super) want: WantId,
    pub(super) cultivar: CultivarId,
}

/// A ring or chain as it would be proposed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Line {
    pub(super) kind: RingKind,
    pub(super) steps: Vec<Step>,
}

/// A snapshot with the numbers that stand for its members and cultivars in the search.
///
/// Gifts belong to a second self of their giver, who receives nothing: so a gift starts a chain, and what the
/// member offers in exchange does not.
#[derive(Debug)]
pub(super) struct Numbered<'a> {
    pub(super) snapshot: &'a Snapshot,
    pub(super) market: Market,
    items: Vec<CultivarId>,
}

impl<'a> Numbered<'a> {
    pub(super) fn of(snapshot: &'a Snapshot) -> Result<Self, Problem> {
        let items: BTreeSet<CultivarId> = snapshot
            .offers
            .iter()
            .map(|offer| offer.cultivar)
            .chain(snapshot.wants.iter().flat_map(|want| want.cultivars.iter().copied()))
            .collect();
        let items: Vec<CultivarId> = items.into_iter().collect();
        let market = Drawing { snapshot, items: &items }.market()?;
        Ok(Self { snapshot, market, items })
    }

    /// What the numbers stand for.
    pub(super) fn step(&self, step: &Move) -> Option<Step> {
        let offer = self.snapshot.offers.get(usize::try_from(step.offer).ok()?)?;
        let want = self.snapshot.wants.get(usize::try_from(step.want).ok()?)?;
        Some(Step {
            giver: offer.member,
            receiver: want.member,
            offer: offer.id,
            want: want.id,
            cultivar: offer.cultivar,
        })
    }

    pub(super) fn cultivar(&self, item: u64) -> Option<CultivarId> {
        self.items.get(usize::try_from(item).ok()?).copied()
    }

    /// Rings and chains as they are proposed, each as often as it is run.
    pub(super) fn lines(&self, rings: &[Ring], chains: &[Chain]) -> Vec<Line> {
        let rings = rings.iter().map(|ring| (RingKind::Ring, ring.moves.as_slice(), ring.times));
        let chains = chains.iter().map(|chain| (RingKind::Chain, chain.moves.as_slice(), chain.times));
        rings
            .chain(chains)
            .flat_map(|(kind, moves, times)| {
                let steps: Vec<Step> = moves.iter().filter_map(|step| self.step(step)).collect();
                std::iter::repeat_n(Line { kind, steps }, usize::from(times))
            })
            .collect()
    }
}

/// Rings kept and work for the whole: a round of five hundred members is to be proposed within seconds, and
/// says how far it may fall short.
const WORK: Work = Work { rings: 100_000, search: 40_000_000, tie_searches: 50 };

/// How the search is to be made.
pub(super) fn rules(snapshot: &Snapshot) -> Rules {
    Rules {
        preset: match snapshot.aim {
            RoundAim::Society => Preset::Society,
            RoundAim::Expected => Preset::Expected,
            RoundAim::Robust => Preset::Robust,
            RoundAim::Count => Preset::Count,
        },
        max_ring: if snapshot.mode == RoundMode::Pairs { MaxRing::Two } else { MaxRing::Three },
        max_chain: u8::try_from(snapshot.max_chain).unwrap_or(0),
        drop_ppm: u32::try_from(snapshot.drop_out_per_mille).unwrap_or(0) * 1000,
        work: WORK,
        ..Rules::default()
    }
}

struct Drawing<'a> {
    snapshot: &'a Snapshot,
    items: &'a [CultivarId],
}

impl Drawing<'_> {
    fn market(&self) -> Result<Market, Problem> {
        let snapshot = self.snapshot;
        let mut members = Vec::with_capacity(snapshot.members.len());
        for (id, facts) in (0..).zip(&snapshot.members) {
            let credit = facts.credit.clamp(-7, 7);
            let most = |number: i32| u16::try_from(number).unwrap_or(0);
            members.push(Member {
                credit: i16::try_from(credit).unwrap_or(0),
                ..Member::new(id, most(facts.give), most(facts.receive))
            });
        }
        let mut gifts: BTreeMap<u64, u16> = BTreeMap::new();
        let mut offers = Vec::with_capacity(snapshot.offers.len());
        for (id, facts) in (0..).zip(&snapshot.offers) {
            let quantity = u16::try_from(facts.free).unwrap_or(u16::MAX);
            let own = self.member(&facts.member)?;
            let member = if facts.gift { own + self.second_selves() } else { own };
            if facts.gift {
                let all = gifts.entry(member).or_default();
                *all = all.saturating_add(quantity);
            }
            offers.push(Offer { id, member, item: self.item(&facts.cultivar)?, quantity });
        }
        members.extend(gifts.iter().map(|(&id, &all)| Member::new(id, all, 0)));
        let mut wants = Vec::with_capacity(snapshot.wants.len());
        // A want that nothing can meet has no place in the search.
        for (id, facts) in (0..).zip(&snapshot.wants).filter(|(_, facts)| !facts.cultivars.is_empty()) {
            let items = (0..).zip(&facts.cultivars).map(|(place, cultivar)| {
                let rank = facts.rank + if facts.all_alike { 0 } else { place };
                Ok(Wish { item: self.item(cultivar)?, rank: u16::try_from(rank).unwrap_or(u16::MAX) })
            });
            let items = items.collect::<Result<Vec<Wish>, Problem>>()?;
            wants.push(Want { id, member: self.member(&facts.member)?, items, need: 1 });
        }
        let givers: Vec<Giver> = gifts.iter().map(|(&member, &starts)| Giver { member, starts }).collect();
        let refused: BTreeSet<(MemberId, MemberId)> = snapshot.refusals.iter().copied().collect();
        let allowed = |offer: &Offer, want: &Want| self.allowed(&refused, offer, want);
        Market::build(&members, &offers, &wants, allowed)
            .and_then(|market| market.with_givers(&givers))
            .map_err(|problems| {
                let words: Vec<String> = problems.iter().map(ToString::to_string).collect();
                tracing::error!(problems = words.join("; "), "the records make no market");
                unnumbered()
            })
    }

    fn second_selves(&self) -> u64 {
        u64::try_from(self.snapshot.members.len()).unwrap_or(u64::MAX)
    }

    fn member(&self, id: &MemberId) -> Result<u64, Problem> {
        let place = self.snapshot.members.binary_search_by_key(id, |member| member.id);
        place.ok().and_then(|place| u64::try_from(place).ok()).ok_or_else(unnumbered)
    }

    fn item(&self, id: &CultivarId) -> Result<u64, Problem> {
        let place = self.items.binary_search(id);
        place.ok().and_then(|place| u64::try_from(place).ok()).ok_or_else(unnumbered)
    }

    fn allowed(
        &self,
        refused: &BTreeSet<(MemberId, MemberId)>,
        offer: &Offer,
        want: &Want,
    ) -> Result<Worth, Reason> {
        let facts = usize::try_from(offer.id).ok().and_then(|at| self.snapshot.offers.get(at));
        let wanted = usize::try_from(want.id).ok().and_then(|at| self.snapshot.wants.get(at));
        let (Some(facts), Some(wanted)) = (facts, wanted) else { return Err(Hindrance::NotPaired.reason()) };
        if let Some(hindrance) = self.hindrance(refused, facts, wanted) {
            return Err(hindrance.reason());
        }
        let rank = want.rank_of(offer.item).unwrap_or(u16::MAX);
        Ok(Worth { weight: rank_weight(rank), rarity: rarity(facts.holders) })
    }

    /// The first thing in the way.
    fn hindrance(
        &self,
        refused: &BTreeSet<(MemberId, MemberId)>,
        offer: &OfferFacts,
        want: &WantFacts,
    ) -> Option<Hindrance> {
        let facts = |id: &MemberId| {
            let place = self.snapshot.members.binary_search_by_key(id, |member| member.id).ok()?;
            self.snapshot.members.get(place)
        };
        let (giver, receiver) = (facts(&offer.member)?, facts(&want.member)?);
        if offer.member == want.member
            || refused.contains(&(giver.id, receiver.id))
            || refused.contains(&(receiver.id, giver.id))
        {
            return Some(Hindrance::NotPaired);
        }
        if offer.protected {
            return Some(Hindrance::Protected);
        }
        if offer.held {
            return Some(Hindrance::Held);
        }
        if !offer.declared {
            return Some(Hindrance::NotDeclared);
        }
        in_the_way(self.snapshot.mode, giver, receiver)
    }
}

fn in_the_way(mode: RoundMode, giver: &MemberFacts, receiver: &MemberFacts) -> Option<Hindrance> {
    let (Some(here), Some(there)) = (&giver.at, &receiver.at) else { return Some(Hindrance::OtherZone) };
    if here.zone != there.zone {
        return Some(Hindrance::OtherZone);
    }
    // At a meeting everybody hands over there, however far they came.
    if mode == RoundMode::Meeting {
        return None;
    }
    let meet = giver.clubs.iter().any(|club| receiver.clubs.binary_search(club).is_ok());
    if meet {
        return None;
    }
    if !(giver.by_post && receiver.by_post) {
        return Some(Hindrance::NotTogether);
    }
    let most = giver.within_km.into_iter().chain(receiver.within_km).min();
    let apart = kilometres((here.latitude, here.longitude), (there.latitude, there.longitude));
    most.is_some_and(|most| apart > f64::from(most)).then_some(Hindrance::TooFar)
}

/// What a cutting does for the keeping of its cultivar: the fewer hold it, the more.
fn rarity(holders: i64) -> u32 {
    match holders {
        ..=1 => 6,
        2 => 3,
        3..=5 => 1,
        _ => 0,
    }
}

/// The way over the earth as a ball of 6,371 km, its mean radius (haversine: R. W. Sinnott, "Virtues of the
/// haversine", Sky and Telescope 68(2), 1984, 159).
fn kilometres(from: (f64, f64), to: (f64, f64)) -> f64 {
    let (lat, to_lat) = (from.0.to_radians(), to.0.to_radians());
    let half = |a: f64, b: f64| ((a - b) / 2.0).sin().powi(2);
    let chord = half(lat, to_lat) + lat.cos() * to_lat.cos() * half(from.1.to_radians(), to.1.to_radians());
    2.0 * 6371.0 * chord.sqrt().min(1.0).asin()
}

fn unnumbered() -> Problem {
    Problem::new(Code::Internal, "No round could be drawn up from the offers and wants.")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// London to Paris, city centres: 343 or 344 km by any great-circle reckoning (value from memory).
    #[test]
    fn distances_are_those_of_the_globe() {
        let apart = kilometres((51.5074, -0.1278), (48.8566, 2.3522));
        assert!((apart - 343.6).abs() < 1.0, "{apart}");
        assert!(kilometres((10.0, 20.0), (10.0, 20.0)).abs() < 1e-9);
        // A quarter of the way round.
        assert!((kilometres((0.0, 0.0), (0.0, 90.0)) - 10_007.5).abs() < 1.0);
    }

    #[test]
    fn every_hindrance_comes_back_from_its_number() {
        for hindrance in Hindrance::ALL {
            assert_eq!(Hindrance::of(hindrance.reason()), Some(hindrance));
        }
        assert_eq!(Hindrance::of(Reason(99)), None);
    }
}
