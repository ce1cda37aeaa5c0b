//! Rounds of the cutting swap: who comes, what each was solved from, and what became of it step by step.

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use storksbill_domain::ids::{ClubId, HandOverId, MemberId, RingId, RoundId, SwapEventId};
use storksbill_domain::limits as domain_limits;
use storksbill_domain::words::{RoundAim, RoundMode, RoundState, SwapStep};

use super::limits;
use crate::schema::{members, swap_attendances, swap_events, swap_rounds};
use crate::{Conn, DbError};

/// One run of the swap.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = swap_rounds, treat_none_as_null = true)]
pub struct Round {
    /// Identity.
    pub id: RoundId,
    /// How cuttings change hands.
    pub mode: RoundMode,
    /// What it aims at.
    pub aim: RoundAim,
    /// Receivers in a chain at most; 0 for no chains.
    pub max_chain: i32,
    /// Chance in a thousand that somebody drops out.
    pub drop_out_per_mille: i32,
    /// Where it stands.
    pub state: RoundState,
    /// Whose meeting; none where everybody may come, and away from meetings.
    pub club_id: Option<ClubId>,
    /// The day of the meeting.
    pub meets_on: Option<NaiveDate>,
    /// Who opened it; none when the timer did.
    pub opened_by: Option<MemberId>,
    /// When.
    pub opened_at: NaiveDateTime,
    /// When it freezes by itself.
    pub freezes_at: Option<NaiveDateTime>,
    /// When it was frozen.
    pub frozen_at: Option<NaiveDateTime>,
    /// Days that members have to answer.
    pub answer_days: i32,
    /// Until when its rings may be answered.
    pub answer_by: Option<NaiveDateTime>,
    /// JSON: what it is solved from.
    pub snapshot: Option<String>,
    /// SHA-256 of the snapshot, hexadecimal.
    pub snapshot_sha256: Option<String>,
    /// When its rings were proposed.
    pub proposed_at: Option<NaiveDateTime>,
    /// When it was over.
    pub closed_at: Option<NaiveDateTime>,
    /// Offers with cuttings to give.
    pub offers: i32,
    /// Wants not yet promised.
    pub wants: i32,
    /// Wants that the proposed rings serve.
    pub wants_served: i32,
    /// No choice could have served more.
    pub wants_bound: i32,
    /// JSON: how good it is, what was left unmet, what one more offer would bring.
    pub outcome: Option<String>,
    /// Counts up at each change of state.
    pub version: i32,
}

/// Adds a round.
pub fn insert(conn: &mut Conn, round: &Round) -> Result<(), DbError> {
    diesel::insert_into(swap_rounds::table).values(round.clone()).execute(conn)?;
    Ok(())
}

/// Stores a round that was changed.
pub fn update(conn: &mut Conn, round: &Round) -> Result<(), DbError> {
    diesel::update(swap_rounds::table.find(round.id)).set(round.clone()).execute(conn)?;
    Ok(())
}

/// The round of this id.
pub fn find(conn: &mut Conn, id: RoundId) -> Result<Option<Round>, DbError> {
    Ok(swap_rounds::table.find(id).select(Round::as_select()).first(conn).optional()?)
}

/// When the last round was opened.
pub fn last_opened_at(conn: &mut Conn) -> Result<Option<NaiveDateTime>, DbError> {
    let last = swap_rounds::table.order(swap_rounds::opened_at.desc()).select(swap_rounds::opened_at);
    Ok(last.first(conn).optional()?)
}

/// Rounds, newest first.
pub fn page(
    conn: &mut Conn,
    after: Option<&(NaiveDateTime, String)>,
    limit: i64,
) -> Result<Vec<Round>, DbError> {
    let mut query = swap_rounds::table
        .order((swap_rounds::opened_at.desc(), swap_rounds::id.desc()))
        .limit(limit)
        .select(Round::as_select())
        .into_boxed();
    if let Some((opened_at, id)) = after {
        query = query.filter(
            swap_rounds::opened_at
                .lt(*opened_at)
                .or(swap_rounds::opened_at.eq(*opened_at).and(swap_rounds::id.lt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// Open rounds whose time to freeze has come.
pub fn due_to_freeze(conn: &mut Conn, now: NaiveDateTime) -> Result<Vec<Round>, DbError> {
    let due = swap_rounds::table
        .filter(swap_rounds::state.eq(RoundState::Open))
        .filter(swap_rounds::freezes_at.le(now))
        .order(swap_rounds::id);
    Ok(due.select(Round::as_select()).load(conn)?)
}

/// Rounds whose rings were proposed and that are not over.
pub fn proposed(conn: &mut Conn) -> Result<Vec<Round>, DbError> {
    let all = swap_rounds::table.filter(swap_rounds::state.eq(RoundState::Proposed)).order(swap_rounds::id);
    Ok(all.select(Round::as_select()).load(conn)?)
}

/// A member who comes to a round's meeting.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = swap_attendances)]
pub struct Attendance {
    /// The round.
    pub round_id: RoundId,
    /// The member.
    pub member_id: MemberId,
    /// At which table they are found.
    pub table_label: Option<String>,
    /// Since when they say so.
    pub created_at: NaiveDateTime,
}

/// Sets that a member comes.
pub fn attend(conn: &mut Conn, attendance: &Attendance) -> Result<(), DbError> {
    leave(conn, attendance.round_id, attendance.member_id)?;
    diesel::insert_into(swap_attendances::table).values(attendance.clone()).execute(conn)?;
    Ok(())
}

/// Sets that a member does not come; says whether they were to.
pub fn leave(conn: &mut Conn, round: RoundId, member: MemberId) -> Result<bool, DbError> {
    Ok(diesel::delete(swap_attendances::table.find((round, member))).execute(conn)? > 0)
}

/// Who comes, by name.
pub fn attendances(conn: &mut Conn, round: RoundId) -> Result<Vec<(Attendance, String)>, DbError> {
    let all = swap_attendances::table
        .inner_join(members::table)
        .filter(swap_attendances::round_id.eq(round))
        .order((members::name_key, members::id));
    Ok(all.select((Attendance::as_select(), members::shown_name)).load(conn)?)
}

/// A step in the life of a round.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = swap_events)]
pub struct Event {
    /// Identity.
    pub id: SwapEventId,
    /// The round.
    pub round_id: RoundId,
    /// The ring, where it concerns one.
    pub ring_id: Option<RingId>,
    /// The hand-over, where it concerns one.
    pub hand_over_id: Option<HandOverId>,
    /// Who did it; none when the server did.
    pub member_id: Option<MemberId>,
    /// When.
    pub at: NaiveDateTime,
    /// What.
    pub what: SwapStep,
    /// More of it, in words.
    pub words: Option<String>,
}

/// Adds a step.
pub fn insert_event(conn: &mut Conn, event: &Event) -> Result<(), DbError> {
    let attendance = [SwapStep::Attending, SwapStep::NotAttending];
    if attendance.contains(&event.what) {
        let own = swap_events::table
            .filter(swap_events::round_id.eq(event.round_id))
            .filter(swap_events::member_id.eq(event.member_id))
            .filter(swap_events::what.eq_any(attendance));
        limits::hold(domain_limits::ATTENDANCE, own.count().get_result(conn)?, 1)?;
    }
    diesel::insert_into(swap_events::table).values(event.clone()).execute(conn)?;
    Ok(())
}

/// The steps of a round from the first on, with the names of those who took them.
pub fn events_page(
    conn: &mut Conn,
    round: RoundId,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<(Event, Option<String>)>, DbError> {
    let mut query = swap_events::table
        .left_join(members::table)
        .filter(swap_events::round_id.eq(round))
        .order(swap_events::id)
        .limit(limit)
        .select((Event::as_select(), members::shown_name.nullable()))
        .into_boxed();
    if let Some(id) = after {
        query = query.filter(swap_events::id.gt(id.to_owned()));
    }
    Ok(query.load(conn)?)
}
