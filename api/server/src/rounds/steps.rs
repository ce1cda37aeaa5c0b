//! The life of a round, written down step by step.

use chrono::{DateTime, Utc};
use storksbill_db::rows::rounds::{self, Event};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{HandOverId, MemberId, RingId, RoundId, SwapEventId};
use storksbill_domain::words::SwapStep;

/// Where and by whom a step was taken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mark {
    round: RoundId,
    ring: Option<RingId>,
    hand_over: Option<HandOverId>,
    member: Option<MemberId>,
    now: DateTime<Utc>,
}

impl Mark {
    /// In a round, by a member or by the server itself.
    pub(super) fn in_round(round: RoundId, member: Option<MemberId>, now: DateTime<Utc>) -> Self {
        Self { round, ring: None, hand_over: None, member, now }
    }

    pub(super) fn at_ring(self, ring: RingId) -> Self {
        Self { ring: Some(ring), ..self }
    }

    pub(super) fn at_hand_over(self, hand_over: HandOverId) -> Self {
        Self { hand_over: Some(hand_over), ..self }
    }

    /// Writes the step down, in the caller's transaction.
    pub(super) fn write(self, conn: &mut Conn, what: SwapStep, words: Option<String>) -> Result<(), DbError> {
        let event = Event {
            id: SwapEventId::fresh(),
            round_id: self.round,
            ring_id: self.ring,
            hand_over_id: self.hand_over,
            member_id: self.member,
            at: self.now.naive_utc(),
            what,
            words,
        };
        rounds::insert_event(conn, &event)
    }
}
