//! The market: who offers what to whom, checked and put in order.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// A member and how many cuttings they are ready to send and to receive in this round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Member {
    /// The caller's number for the member; unique.
    pub id: u64,
    /// Cuttings the member may give away at most.
    pub give: u16,
    /// Cuttings the member may receive at most.
    pub receive: u16,
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

/// What a member would like: any one of `items`, `need` times over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Want {
    /// The caller's number for the want; unique among wants.
    pub id: u64,
    /// Who wants: the `id` of a [`Member`].
    pub member: u64,
    /// The items that would serve it, each equally well; at least one, none twice.
    pub items: Vec<u64>,
    /// 1 for the dearest wish, 2 for the next, and so on.
    pub rank: u16,
    /// How many cuttings, at least 1.
    pub need: u16,
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

/// Something wrong with the offers or wants handed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Problem {
    /// Two members share this `id`.
    DuplicateMember(u64),
    /// Two offers share this `id`.
    DuplicateOffer(u64),
    /// Two wants share this `id`.
    DuplicateWant(u64),
    /// An offer names a member that is not in the market.
    OfferWithoutMember { offer: u64, member: u64 },
    /// A want names a member that is not in the market.
    WantWithoutMember { want: u64, member: u64 },
    /// An offer of no cuttings.
    ZeroQuantity { offer: u64 },
    /// A want of no cuttings.
    ZeroNeed { want: u64 },
    /// Ranks start at 1.
    ZeroRank { want: u64 },
    /// A want that lists no item.
    NoItems { want: u64 },
    /// A want that lists an item twice.
    RepeatedItem { want: u64, item: u64 },
    /// A member wants what the same member offers.
    SelfWant { want: u64, offer: u64 },
    /// More members, offers or wants than can be numbered in 32 bits.
    TooLarge,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::DuplicateMember(id) => write!(f, "member {id} is listed twice"),
            Self::DuplicateOffer(id) => write!(f, "offer {id} is listed twice"),
            Self::DuplicateWant(id) => write!(f, "want {id} is listed twice"),
            Self::OfferWithoutMember { offer, member } => {
                write!(f, "offer {offer} belongs to member {member}, who is not in the market")
            }
            Self::WantWithoutMember { want, member } => {
                write!(f, "want {want} belongs to member {member}, who is not in the market")
            }
            Self::ZeroQuantity { offer } => write!(f, "offer {offer} offers no cuttings"),
            Self::ZeroNeed { want } => write!(f, "want {want} asks for no cuttings"),
            Self::ZeroRank { want } => write!(f, "want {want} has rank 0; ranks start at 1"),
            Self::NoItems { want } => write!(f, "want {want} names no item"),
            Self::RepeatedItem { want, item } => write!(f, "want {want} names item {item} twice"),
            Self::SelfWant { want, offer } => {
                write!(f, "want {want} asks for what the same member offers in offer {offer}")
            }
            Self::TooLarge => write!(f, "the market has more entries than 32 bits can number"),
        }
    }
}

impl std::error::Error for Problem {}

/// One possible hand-over, by positions in the sorted lists of a [`Market`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Arc {
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) offer: u32,
    pub(crate) want: u32,
    pub(crate) weight: u32,
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
    /// `allowed` is asked once for every offer and want of different members that match by item; what it
    /// refuses is kept with the reason. Cost: `O(m log m)` for `m` matches.
    ///
    /// # Errors
    ///
    /// Every [`Problem`] found, members first, then offers, then wants, each by id.
    pub fn build(
        members: &[Member],
        offers: &[Offer],
        wants: &[Want],
        allowed: impl Fn(&Offer, &Want) -> Result<(), Reason>,
    ) -> Result<Self, Vec<Problem>> {
        let mut problems = Vec::new();
        let mut members = members.to_vec();
        let mut offers = offers.to_vec();
        let mut wants = wants.to_vec();
        members.sort_by_key(|member| member.id);
        offers.sort_by_key(|offer| offer.id);
        wants.sort_by_key(|want| want.id);
        for want in &mut wants {
            want.items.sort_unstable();
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
        Ok(Self { members, offers, wants, arcs, first, refused })
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
        if want.rank == 0 {
            problems.push(Problem::ZeroRank { want: id });
        }
        if want.items.is_empty() {
            problems.push(Problem::NoItems { want: id });
        }
        let mut last = None;
        for &item in &want.items {
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
    allowed: impl Fn(&Offer, &Want) -> Result<(), Reason>,
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
        for &(offer_at, offer) in want.items.iter().filter_map(|item| by_item.get(item)).flatten() {
            // A member's own offers were refused as SelfWant; unknown members likewise.
            let (Some(&from), Some(&to)) = (position.get(&offer.member), position.get(&want.member)) else {
                continue;
            };
            match allowed(offer, want) {
                Ok(()) => found.push((
                    offer.item,
                    Arc { from, to, offer: offer_at, want: want_at, weight: rank_weight(want.rank) },
                )),
                Err(reason) => refused.push((offer.id, want.id, reason)),
            }
        }
    }
    index(found.len())?;
    found.sort_by_key(|(item, arc)| (arc.from, arc.to, *item, arc.offer, arc.want));
    refused.sort_unstable();
    Ok((found.into_iter().map(|(_, arc)| arc).collect(), refused))
}
