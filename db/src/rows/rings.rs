//! Rings and chains of a round, their parties, and the cuttings handed over in them.

use std::collections::BTreeMap;

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, HandOverId, MemberId, OfferId, PlantId, RingId, RoundId, WantId};
use storksbill_domain::words::{CuttingCondition, HandOverState, RingAnswer, RingKind, RingState};

use super::IN_LIST;
use crate::schema::{cultivars, members, swap_hand_overs, swap_offers, swap_parties, swap_rings};
use crate::{Conn, DbError};

/// Members who hand cuttings on, in a circle or, from a gift, in a chain.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = swap_rings, treat_none_as_null = true)]
pub struct Ring {
    /// Identity.
    pub id: RingId,
    /// The round that proposed it.
    pub round_id: RoundId,
    /// Ring or chain.
    pub kind: RingKind,
    /// Where it stands.
    pub state: RingState,
    /// Until when it may be answered.
    pub answer_by: NaiveDateTime,
    /// The fallen ring it was proposed in the place of.
    pub replaces_id: Option<RingId>,
    /// Why it was chosen, in one sentence.
    pub why: Option<String>,
    /// Counts up at each answer.
    pub version: i32,
}

/// A member of a ring.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = swap_parties, primary_key(ring_id, member_id), treat_none_as_null = true)]
pub struct Party {
    /// The ring.
    pub ring_id: RingId,
    /// The member.
    pub member_id: MemberId,
    /// Place in the ring, from 0.
    pub place: i32,
    /// The member's answer to the whole ring.
    pub answer: RingAnswer,
    /// When it was given.
    pub answered_at: Option<NaiveDateTime>,
}

/// One cutting that goes from one member of a ring to another.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = swap_hand_overs, treat_none_as_null = true)]
pub struct HandOver {
    /// Identity.
    pub id: HandOverId,
    /// The ring.
    pub ring_id: RingId,
    /// Place in the ring, from 0.
    pub place: i32,
    /// Who gives.
    pub giver_id: MemberId,
    /// Who receives.
    pub receiver_id: MemberId,
    /// Out of which offer.
    pub offer_id: OfferId,
    /// For which want.
    pub want_id: WantId,
    /// What.
    pub cultivar_id: CultivarId,
    /// Where it stands.
    pub state: HandOverState,
    /// When it was posted or given.
    pub sent_at: Option<NaiveDateTime>,
    /// When it came.
    pub received_at: Option<NaiveDateTime>,
    /// How it was when it came.
    pub condition: Option<CuttingCondition>,
    /// The words of whoever said what became of it.
    pub note: Option<String>,
    /// The receiver's record of what came.
    pub received_plant_id: Option<PlantId>,
}

/// Cuttings of an offer in rings that still wait for answers.
pub fn waiting_cuttings(conn: &mut Conn, offer: OfferId) -> Result<i64, DbError> {
    let waiting = swap_hand_overs::table
        .inner_join(swap_rings::table)
        .filter(swap_hand_overs::offer_id.eq(offer))
        .filter(swap_rings::state.eq(RingState::Proposed));
    Ok(waiting.count().get_result(conn)?)
}

/// Adds a ring with its parties and hand-overs.
pub fn insert(
    conn: &mut Conn,
    ring: &Ring,
    parties: &[Party],
    hand_overs: &[HandOver],
) -> Result<(), DbError> {
    diesel::insert_into(swap_rings::table).values(ring.clone()).execute(conn)?;
    for party in parties {
        diesel::insert_into(swap_parties::table).values(party.clone()).execute(conn)?;
    }
    for hand_over in hand_overs {
        diesel::insert_into(swap_hand_overs::table).values(hand_over.clone()).execute(conn)?;
    }
    Ok(())
}

/// Stores a ring that was changed.
pub fn update(conn: &mut Conn, ring: &Ring) -> Result<(), DbError> {
    diesel::update(swap_rings::table.find(ring.id)).set(ring.clone()).execute(conn)?;
    Ok(())
}

/// Stores a party that answered.
pub fn update_party(conn: &mut Conn, party: &Party) -> Result<(), DbError> {
    diesel::update(swap_parties::table.find((party.ring_id, party.member_id)))
        .set((swap_parties::answer.eq(party.answer), swap_parties::answered_at.eq(party.answered_at)))
        .execute(conn)?;
    Ok(())
}

/// Stores a hand-over that was changed.
pub fn update_hand_over(conn: &mut Conn, hand_over: &HandOver) -> Result<(), DbError> {
    diesel::update(swap_hand_overs::table.find(hand_over.id)).set(hand_over.clone()).execute(conn)?;
    Ok(())
}

/// The ring of this id.
pub fn find(conn: &mut Conn, id: RingId) -> Result<Option<Ring>, DbError> {
    Ok(swap_rings::table.find(id).select(Ring::as_select()).first(conn).optional()?)
}

/// Every ring of a round.
pub fn of_round(conn: &mut Conn, round: RoundId) -> Result<Vec<Ring>, DbError> {
    let all = swap_rings::table.filter(swap_rings::round_id.eq(round)).order(swap_rings::id);
    Ok(all.select(Ring::as_select()).load(conn)?)
}

/// The rings of a round that the member stands in.
pub fn own_of_round(conn: &mut Conn, member: MemberId, round: RoundId) -> Result<Vec<Ring>, DbError> {
    let own = swap_parties::table
        .inner_join(swap_rings::table)
        .filter(swap_parties::member_id.eq(member))
        .filter(swap_rings::round_id.eq(round))
        .order(swap_rings::id);
    Ok(own.select(Ring::as_select()).load(conn)?)
}

/// The rings that the member stands in, newest first.
pub fn own_page(
    conn: &mut Conn,
    member: MemberId,
    state: Option<RingState>,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<Ring>, DbError> {
    let mut query = swap_parties::table
        .inner_join(swap_rings::table)
        .filter(swap_parties::member_id.eq(member))
        .order(swap_rings::id.desc())
        .limit(limit)
        .select(Ring::as_select())
        .into_boxed();
    if let Some(state) = state {
        query = query.filter(swap_rings::state.eq(state));
    }
    if let Some(id) = after {
        query = query.filter(swap_rings::id.lt(id.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// Whether a ring of the round waits for answers or for hand-overs.
pub fn any_unfinished(conn: &mut Conn, round: RoundId) -> Result<bool, DbError> {
    any_in(conn, round, vec![RingState::Proposed, RingState::Accepted])
}

/// Whether a ring of the round waits for answers.
pub fn any_waiting(conn: &mut Conn, round: RoundId) -> Result<bool, DbError> {
    any_in(conn, round, vec![RingState::Proposed])
}

fn any_in(conn: &mut Conn, round: RoundId, states: Vec<RingState>) -> Result<bool, DbError> {
    let some = swap_rings::table
        .filter(swap_rings::round_id.eq(round))
        .filter(swap_rings::state.eq_any(states))
        .limit(1)
        .select(swap_rings::id);
    Ok(some.first::<RingId>(conn).optional()?.is_some())
}

/// Proposed rings whose time to answer was over before `now`, the oldest first.
pub fn overdue(conn: &mut Conn, now: NaiveDateTime, limit: i64) -> Result<Vec<Ring>, DbError> {
    let overdue = swap_rings::table
        .filter(swap_rings::state.eq(RingState::Proposed))
        .filter(swap_rings::answer_by.lt(now))
        .order((swap_rings::answer_by, swap_rings::id))
        .limit(limit);
    Ok(overdue.select(Ring::as_select()).load(conn)?)
}

/// The parties of a ring, in their order.
pub fn parties_of(conn: &mut Conn, ring: RingId) -> Result<Vec<Party>, DbError> {
    let all = swap_parties::table.filter(swap_parties::ring_id.eq(ring)).order(swap_parties::place);
    Ok(all.select(Party::as_select()).load(conn)?)
}

/// The hand-overs of a ring, in their order.
pub fn hand_overs_of(conn: &mut Conn, ring: RingId) -> Result<Vec<HandOver>, DbError> {
    let all = swap_hand_overs::table.filter(swap_hand_overs::ring_id.eq(ring)).order(swap_hand_overs::place);
    Ok(all.select(HandOver::as_select()).load(conn)?)
}

/// Who gives to whom in the rings of a round that neither were declined nor lapsed, once for each cutting.
pub fn standing_in_round(conn: &mut Conn, round: RoundId) -> Result<Vec<(MemberId, MemberId)>, DbError> {
    let standing = swap_hand_overs::table
        .inner_join(swap_rings::table)
        .filter(swap_rings::round_id.eq(round))
        .filter(swap_rings::state.ne_all(vec![RingState::Declined, RingState::Lapsed]));
    Ok(standing.select((swap_hand_overs::giver_id, swap_hand_overs::receiver_id)).load(conn)?)
}

/// The hand-over of this id.
pub fn hand_over(conn: &mut Conn, id: HandOverId) -> Result<Option<HandOver>, DbError> {
    Ok(swap_hand_overs::table.find(id).select(HandOver::as_select()).first(conn).optional()?)
}

/// A party with the member's name and address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedParty {
    /// The party.
    pub party: Party,
    /// Full name.
    pub name: String,
    /// E-mail address: for the parties of an accepted ring alone.
    pub email: String,
}

/// The parties of these rings with names, by ring and place.
pub fn named_parties(conn: &mut Conn, rings: &[RingId]) -> Result<Vec<NamedParty>, DbError> {
    let mut all = Vec::new();
    for part in rings.chunks(IN_LIST) {
        let rows = swap_parties::table
            .inner_join(members::table)
            .filter(swap_parties::ring_id.eq_any(part.to_vec()))
            .order((swap_parties::ring_id, swap_parties::place))
            .select((Party::as_select(), members::shown_name, members::email))
            .load::<(Party, String, String)>(conn)?;
        all.extend(rows.into_iter().map(|(party, name, email)| NamedParty { party, name, email }));
    }
    Ok(all)
}

/// A hand-over with the name of its cultivar.
pub type NamedHandOver = (HandOver, String);

/// The hand-overs of these rings, by ring and place.
pub fn named_hand_overs(conn: &mut Conn, rings: &[RingId]) -> Result<Vec<NamedHandOver>, DbError> {
    let mut all = Vec::new();
    for part in rings.chunks(IN_LIST) {
        let rows = swap_hand_overs::table
            .inner_join(cultivars::table)
            .filter(swap_hand_overs::ring_id.eq_any(part.to_vec()))
            .order((swap_hand_overs::ring_id, swap_hand_overs::place))
            .select((HandOver::as_select(), cultivars::name))
            .load::<NamedHandOver>(conn)?;
        all.extend(rows);
    }
    Ok(all)
}

/// What a member gave and received in all: cuttings posted, given or said to have come.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Balance {
    /// Cuttings that came to others.
    pub given: i64,
    /// Cuttings that came to the member.
    pub received: i64,
}

/// Every member's balance, for those who have one; of `member` alone where given.
pub fn balances(conn: &mut Conn, member: Option<MemberId>) -> Result<Vec<(MemberId, Balance)>, DbError> {
    let mut all: BTreeMap<MemberId, Balance> = BTreeMap::new();
    let came = swap_hand_overs::state.eq(HandOverState::Received);
    let mut given = swap_hand_overs::table
        .filter(came)
        .group_by(swap_hand_overs::giver_id)
        .select((swap_hand_overs::giver_id, diesel::dsl::count_star()))
        .into_boxed();
    let mut received = swap_hand_overs::table
        .filter(came)
        .group_by(swap_hand_overs::receiver_id)
        .select((swap_hand_overs::receiver_id, diesel::dsl::count_star()))
        .into_boxed();
    if let Some(member) = member {
        given = given.filter(swap_hand_overs::giver_id.eq(member));
        received = received.filter(swap_hand_overs::receiver_id.eq(member));
    }
    for (who, count) in given.load::<(MemberId, i64)>(conn)? {
        all.entry(who).or_default().given = count;
    }
    for (who, count) in received.load::<(MemberId, i64)>(conn)? {
        all.entry(who).or_default().received = count;
    }
    Ok(all.into_iter().collect())
}

/// What a member gave or received, newest first: hand-over, cultivar, and the other's name.
pub fn ledger_page(
    conn: &mut Conn,
    member: MemberId,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<(HandOver, String, String)>, DbError> {
    let (givers, receivers) = diesel::alias!(members as givers, members as receivers);
    let mut query = swap_hand_overs::table
        .inner_join(swap_rings::table)
        .inner_join(cultivars::table)
        .inner_join(givers.on(givers.field(members::id).eq(swap_hand_overs::giver_id)))
        .inner_join(receivers.on(receivers.field(members::id).eq(swap_hand_overs::receiver_id)))
        .filter(swap_rings::state.eq_any([RingState::Accepted, RingState::HandedOver]))
        .filter(swap_hand_overs::giver_id.eq(member).or(swap_hand_overs::receiver_id.eq(member)))
        .order(swap_hand_overs::id.desc())
        .limit(limit)
        .select((
            HandOver::as_select(),
            cultivars::name,
            givers.field(members::shown_name),
            receivers.field(members::shown_name),
        ))
        .into_boxed();
    if let Some(id) = after {
        query = query.filter(swap_hand_overs::id.lt(id.to_owned()));
    }
    let rows = query.load::<(HandOver, String, String, String)>(conn)?;
    let other = |(hand_over, cultivar, giver, receiver): (HandOver, String, String, String)| {
        let other = if hand_over.giver_id == member { receiver } else { giver };
        (hand_over, cultivar, other)
    };
    Ok(rows.into_iter().map(other).collect())
}

/// The plant that an offer's cuttings are taken from.
pub fn source_plant(conn: &mut Conn, offer: OfferId) -> Result<Option<PlantId>, DbError> {
    Ok(swap_offers::table.find(offer).select(swap_offers::plant_id).first(conn)?)
}
