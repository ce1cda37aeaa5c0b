//! The market: who offers what to whom, checked and put in order.

use std::collections::{BTreeMap, BTreeSet};

/// A member and how many cuttings they are ready to send and to receive in this round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Member {
    /// The caller's number for the member; unique.
    pub id: u64,
    /// Cuttings the member may give away at most.
    pub give: u16,
    /// Cuttings the member may receive at most.
    pub receive: u16,
    /// Given less received in rounds before: those in credit come first among plans equal in all else.
    pub credit: i16,
    /// At a meeting: cuttings the member may give beyond those received.
    pub plus: u16,
    /// At a meeting: cuttings the member may receive beyond those given.
    pub minus: u16,
}

impl Member {
    /// A member who gives as many as they receive, with nothing carried over.
    pub const fn new(id: u64, give: u16, receive: u16) -> Self {
        Self { id, give, receive, credit: 0, plus: 0, minus: 0 }
    }
}

/// A member who gives without asking for anything back: the start of a chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Giver {
    /// The `id` of a [`Member`]; each at most once.
    pub member: u64,
    /// Chains the member may start, at least 1. Their cuttings count towards [`Member::give`] too.
    pub starts: u16,
}

/// Cuttings of one item that a member offers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Offer {
    /// The caller's number for the offer; unique among offers.
    pub id: u64,
    /// Who offers: the `id` of a [`Member`].
    pub member: u64,
    /// What is offered (a cultivar, say).
    pub item: u64,
    /// How many, at least 1.
    pub quantity: u16,
}

/// One item that would serve a want, and how dear it is to the member.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wish {
    pub item: u64,
    /// 1 for the dearest wish, 2 for the next, and so on.
    pub rank: u16,
}

/// What a member would like: any of `items`, `need` cuttings in all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Want {
    /// The caller's number for the want; unique among wants.
    pub id: u64,
    /// Who wants: the `id` of a [`Member`].
    pub member: u64,
    /// The items that would serve it; at least one, none twice.
    pub items: Vec<Wish>,
    /// How many cuttings, at least 1.
    pub need: u16,
}

impl Want {
    /// One cutting of one item.
    pub fn one(id: u64, member: u64, item: u64, rank: u16) -> Self {
        Self::any(id, member, &[(item, rank)])
    }

    /// One cutting of any of these `(item, rank)`.
    pub fn any(id: u64, member: u64, items: &[(u64, u16)]) -> Self {
        let items = items.iter().map(|&(item, rank)| Wish { item, rank }).collect();
        Self { id, member, items, need: 1 }
    }

    /// The rank of an item of this want.
    pub fn rank_of(&self, item: u64) -> Option<u16> {
        self.items.iter().find(|wish| wish.item == item).map(|wish| wish.rank)
    }
}

/// Why the caller does not allow a hand-over. The numbers are the caller's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reason(pub u32);

/// What a served want of this rank is worth: 100 for rank 1, 5 less for each further rank, never below 5.
///
/// ```
/// assert_eq!([1, 2, 20, 500].map(storksbill_exchange::rank_weight), [100, 95, 5, 5]);
/// ```
#[must_use]
pub fn rank_weight(rank: u16) -> u32 {
    100u32.saturating_sub(5 * u32::from(rank).saturating_sub(1)).max(5)
}

/// What a hand-over is worth to the round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Worth {
    /// How much it is wished for, larger for more; see [`rank_weight`].
    pub weight: u32,
    /// How much it does for the safety of the item, larger where fewer growers keep it.
    pub rarity: u32,
}

impl Worth {
    /// Rank alone: [`rank_weight`] of the offered item in the want, no rarity.
    pub fn by_rank(offer: &Offer, want: &Want) -> Self {
        Self { weight: rank_weight(want.rank_of(offer.item).unwrap_or(u16::MAX)), rarity: 0 }
    }
}

/// Something wrong with the offers or wants handed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Problem {
    /// Two members share this `id`.
    #[error("member {0} is listed twice")]
    DuplicateMember(u64),
    /// Two offers share this `id`.
    #[error("offer {0} is listed twice")]
    DuplicateOffer(u64),
    /// Two wants share this `id`.
    #[error("want {0} is listed twice")]
    DuplicateWant(u64),
    /// An offer names a member that is not in the market.
    #[error("offer {offer} belongs to member {member}, who is not in the market")]
    OfferWithoutMember { offer: u64, member: u64 },
    /// A want names a member that is not in the market.
    #[error("want {want} belongs to member {member}, who is not in the market")]
    WantWithoutMember { want: u64, member: u64 },
    /// An offer of no cuttings.
    #[error("offer {offer} offers no cuttings")]
    ZeroQuantity { offer: u64 },
    /// A want of no cuttings.
    #[error("want {want} asks for no cuttings")]
    ZeroNeed { want: u64 },
    /// Ranks start at 1.
    #[error("want {want} has rank 0; ranks start at 1")]
    ZeroRank { want: u64 },
    /// A want that lists no item.
    #[error("want {want} names no item")]
    NoItems { want: u64 },
    /// A want that lists an item twice.
    #[error("want {want} names item {item} twice")]
    RepeatedItem { want: u64, item: u64 },
    /// A member wants what the same member offers.
    #[error("want {want} asks for what the same member offers in offer {offer}")]
    SelfWant { want: u64, offer: u64 },
    /// A giver names a member that is not in the market.
    #[error("giver {member} is not in the market")]
    GiverWithoutMember { member: u64 },
    /// Two givers name this member.
    #[error("giver {0} is listed twice")]
    DuplicateGiver(u64),
    /// A giver who starts no chain.
    #[error("giver {member} starts no chain")]
    ZeroStarts { member: u64 },
    /// More members, offers or wants than can be numbered in 32 bits.
    #[error("the market has more entries than 32 bits can number")]
    TooLarge,
    /// All wants served at the largest weight or rarity would come to 2^62 or more.
    #[error("weights times needs reach 2^62")]
    TooHeavy,
}

/// One possible hand-over, by positions in the sorted lists of a [`Market`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Arc {
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) offer: u32,
    pub(crate) want: u32,
    pub(crate) weight: u32,
    pub(crate) rarity: u32,
}

/// Members, offers, wants and every possible hand-over among them, in an order that does not depend on the
/// order they were given in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Market {
    /// By id.
    pub(crate) members: Vec<Member>,
    /// By id.
    pub(crate) offers: Vec<Offer>,
    /// By id.
    pub(crate) wants: Vec<Want>,
    /// By member.
    pub(crate) givers: Vec<Giver>,
    /// By (from, to, item, offer, want).
    pub(crate) arcs: Vec<Arc>,
    /// `arcs[first[u]..first[u + 1]]` start at member `u`.
    pub(crate) first: Vec<u32>,
    /// By (offer, want); ids.
    pub(crate) refused: Vec<(u64, u64, Reason)>,
}

impl Market {
    /// Checks offers and wants and works out every possible hand-over.
    ///
    /// `allowed` is asked once for every offer and want of different members that match by item and says what
    /// the hand-over is worth ([`Worth::by_rank`] where rank is all that counts); what it refuses is kept with
    /// the reason. Cost: `O(m log m)` for `m` matches.
    ///
    /// # Errors
    ///
    /// Every [`Problem`] found, members first, then offers, then wants, each by id.
    pub fn build(
        members: &[Member],
        offers: &[Offer],
        wants: &[Want],
        allowed: impl Fn(&Offer, &Want) -> Result<Worth, Reason>,
    ) -> Result<Self, Vec<Problem>> {
        let mut problems = Vec::new();
        let mut members = members.to_vec();
        let mut offers = offers.to_vec();
        let mut wants = wants.to_vec();
        members.sort_by_key(|member| member.id);
        offers.sort_by_key(|offer| offer.id);
        wants.sort_by_key(|want| want.id);
        for want in &mut wants {
            want.items.sort_unstable_by_key(|wish| (wish.item, wish.rank));
        }
        repeated(&members, |member| member.id, Problem::DuplicateMember, &mut problems);
        repeated(&offers, |offer| offer.id, Problem::DuplicateOffer, &mut problems);
        repeated(&wants, |want| want.id, Problem::DuplicateWant, &mut problems);
        if [members.len(), offers.len(), wants.len()].iter().any(|&n| u32::try_from(n).is_err()) {
            problems.push(Problem::TooLarge);
            return Err(problems);
        }
        let known: BTreeSet<u64> = members.iter().map(|member| member.id).collect();
        check_offers(&offers, &known, &mut problems);
        check_wants(&wants, &offers, &known, &mut problems);
        if !problems.is_empty() {
            return Err(problems);
        }
        let (arcs, refused) = hand_overs(&members, &offers, &wants, allowed)?;
        let mut first = Vec::with_capacity(members.len() + 1);
        for from in 0..=members.len() {
            first.push(index(arcs.partition_point(|arc| (arc.from as usize) < from))?);
        }
        let units: u64 = wants.iter().map(|want| u64::from(want.need)).sum();
        let dearest = arcs.iter().map(|arc| arc.weight.max(arc.rarity)).max().unwrap_or(0);
        if u128::from(units) * u128::from(dearest) >= 1 << 62 {
            return Err(vec![Problem::TooHeavy]);
        }
        Ok(Self { members, offers, wants, givers: Vec::new(), arcs, first, refused })
    }

    /// The same market with members who start chains.
    ///
    /// # Errors
    ///
    /// Every [`Problem`] found, by member.
    pub fn with_givers(mut self, givers: &[Giver]) -> Result<Self, Vec<Problem>> {
        let mut problems = Vec::new();
        let mut givers = givers.to_vec();
        givers.sort_by_key(|giver| giver.member);
        repeated(&givers, |giver| giver.member, Problem::DuplicateGiver, &mut problems);
        for &Giver { member, starts } in &givers {
            if self.member_at(member).is_none() {
                problems.push(Problem::GiverWithoutMember { member });
            }
            if starts == 0 {
                problems.push(Problem::ZeroStarts { member });
            }
        }
        self.givers = givers;
        if problems.is_empty() { Ok(self) } else { Err(problems) }
    }

    /// True when `from` may hand anything to `to`; places of members.
    pub(crate) fn connects(&self, from: u32, to: u32) -> bool {
        let from = from as usize;
        let (Some(&low), Some(&high)) = (self.first.get(from), self.first.get(from + 1)) else {
            return false;
        };
        let own = self.arcs.get(low as usize..high as usize).unwrap_or(&[]);
        own.binary_search_by_key(&to, |arc| arc.to).is_ok()
    }

    /// The hand-overs a member can make, as places in the market's list.
    pub(crate) fn out_of(&self, member: usize) -> std::ops::Range<u32> {
        let at = |member: usize| self.first.get(member).copied().unwrap_or(0);
        at(member)..at(member + 1)
    }

    /// The place of a member in [`Market::members`].
    pub(crate) fn member_at(&self, id: u64) -> Option<usize> {
        self.members.binary_search_by_key(&id, |member| member.id).ok()
    }

    /// The givers, by member.
    pub fn givers(&self) -> &[Giver] {
        &self.givers
    }

    /// The members, by id.
    pub fn members(&self) -> &[Member] {
        &self.members
    }

    /// The offers, by id.
    pub fn offers(&self) -> &[Offer] {
        &self.offers
    }

    /// The wants, by id, the items of each in ascending order.
    pub fn wants(&self) -> &[Want] {
        &self.wants
    }

    /// How many hand-overs are possible.
    pub fn hand_overs(&self) -> usize {
        self.arcs.len()
    }

    /// The hand-overs the caller's rule did not allow: offer, want, reason; by offer and want.
    pub fn refused(&self) -> &[(u64, u64, Reason)] {
        &self.refused
    }
}

fn index(position: usize) -> Result<u32, Vec<Problem>> {
    u32::try_from(position).map_err(|_too_large| vec![Problem::TooLarge])
}

fn repeated<T>(
    sorted: &[T],
    id: impl Fn(&T) -> u64,
    problem: fn(u64) -> Problem,
    problems: &mut Vec<Problem>,
) {
    let mut last = None;
    let mut told = None;
    for entry in sorted {
        let this = Some(id(entry));
        if last == this && told != this {
            problems.push(problem(id(entry)));
            told = this;
        }
        last = this;
    }
}

fn check_offers(offers: &[Offer], known: &BTreeSet<u64>, problems: &mut Vec<Problem>) {
    for offer in offers {
        if !known.contains(&offer.member) {
            problems.push(Problem::OfferWithoutMember { offer: offer.id, member: offer.member });
        }
        if offer.quantity == 0 {
            problems.push(Problem::ZeroQuantity { offer: offer.id });
        }
    }
}

fn check_wants(wants: &[Want], offers: &[Offer], known: &BTreeSet<u64>, problems: &mut Vec<Problem>) {
    let mut own = BTreeMap::new();
    for offer in offers {
        own.entry((offer.member, offer.item)).or_insert(offer.id);
    }
    for want in wants {
        let id = want.id;
        if !known.contains(&want.member) {
            problems.push(Problem::WantWithoutMember { want: id, member: want.member });
        }
        if want.need == 0 {
            problems.push(Problem::ZeroNeed { want: id });
        }
        if want.items.iter().any(|wish| wish.rank == 0) {
            problems.push(Problem::ZeroRank { want: id });
        }
        if want.items.is_empty() {
            problems.push(Problem::NoItems { want: id });
        }
        let mut last = None;
        for &Wish { item, .. } in &want.items {
            if last == Some(item) {
                problems.push(Problem::RepeatedItem { want: id, item });
            } else if let Some(&offer) = own.get(&(want.member, item)) {
                problems.push(Problem::SelfWant { want: id, offer });
            }
            last = Some(item);
        }
    }
}

type HandOvers = (Vec<Arc>, Vec<(u64, u64, Reason)>);

fn hand_overs(
    members: &[Member],
    offers: &[Offer],
    wants: &[Want],
    allowed: impl Fn(&Offer, &Want) -> Result<Worth, Reason>,
) -> Result<HandOvers, Vec<Problem>> {
    let mut position = BTreeMap::new();
    for (at, member) in members.iter().enumerate() {
        position.insert(member.id, index(at)?);
    }
    let mut by_item: BTreeMap<u64, Vec<(u32, &Offer)>> = BTreeMap::new();
    for (at, offer) in offers.iter().enumerate() {
        by_item.entry(offer.item).or_default().push((index(at)?, offer));
    }
    let mut found: Vec<(u64, Arc)> = Vec::new();
    let mut refused = Vec::new();
    for (want_at, want) in wants.iter().enumerate() {
        let want_at = index(want_at)?;
        for &(offer_at, offer) in want.items.iter().filter_map(|wish| by_item.get(&wish.item)).flatten() {
            // A member's own offers were refused as SelfWant; unknown members likewise.
            let (Some(&from), Some(&to)) = (position.get(&offer.member), position.get(&want.member)) else {
                continue;
            };
            match allowed(offer, want) {
                Ok(Worth { weight, rarity }) => {
                    let arc = Arc { from, to, offer: offer_at, want: want_at, weight, rarity };
                    found.push((offer.item, arc));
                }
                Err(reason) => refused.push((offer.id, want.id, reason)),
            }
        }
    }
    index(found.len())?;
    found.sort_by_key(|(item, arc)| (arc.from, arc.to, *item, arc.offer, arc.want));
    refused.sort_unstable();
    Ok((found.into_iter().map(|(_, arc)| arc).collect(), refused))
}
