//! What becomes of a proposed ring: accepted, declined or lapsed, and its promises with it.

use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::rings::{self, Ring};
use storksbill_db::rows::swaps::{self, Offer};
use storksbill_domain::ids::MemberId;
use storksbill_domain::words::{JobKind, Listing, RingAnswer, RingState, SwapStep};

use super::steps::Mark;
use crate::http::problem::{Code, Problem};
use crate::jobs::enqueue;

/// Takes a member's answer to a ring. An answer given before may be given again; nothing changes then.
pub(super) fn answer(
    conn: &mut Conn,
    mut ring: Ring,
    member: MemberId,
    answer: RingAnswer,
    now: DateTime<Utc>,
) -> Result<Ring, Problem> {
    let mut parties = rings::parties_of(conn, ring.id)?;
    let own = parties
        .iter_mut()
        .find(|party| party.member_id == member)
        .ok_or_else(|| Problem::not_found("ring"))?;
    if own.answer == answer {
        return Ok(ring);
    }
    may_answer(&ring, own.answer, now)?;
    own.answer = answer;
    own.answered_at = Some(now.naive_utc());
    rings::update_party(conn, own)?;
    let mark = Mark::in_round(ring.round_id, Some(member), now).at_ring(ring.id);
    let step = if answer == RingAnswer::Declined { SwapStep::Declined } else { SwapStep::Accepted };
    mark.write(conn, step, None)?;
    if answer == RingAnswer::Declined {
        return fall(conn, ring, RingState::Declined, now);
    }
    ring.version += 1;
    let all = parties.iter().all(|party| party.answer == RingAnswer::Accepted);
    if all {
        ring.state = RingState::Accepted;
    }
    rings::update(conn, &ring)?;
    if all {
        Mark::in_round(ring.round_id, None, now).at_ring(ring.id).write(conn, SwapStep::Locked, None)?;
        fulfil(conn, &ring)?;
    }
    Ok(ring)
}

fn may_answer(ring: &Ring, before: RingAnswer, now: DateTime<Utc>) -> Result<(), Problem> {
    let refusal = match ring.state {
        RingState::Accepted => "Everybody has accepted this ring; talk to your partners.".to_owned(),
        RingState::HandedOver => "The cuttings of this ring were handed over.".to_owned(),
        RingState::Declined => "Somebody declined this ring; its cuttings are free again.".to_owned(),
        RingState::Lapsed => "This ring lapsed before everybody had answered.".to_owned(),
        RingState::Proposed if before != RingAnswer::Waiting => {
            format!("You have {before} this ring already; an answer stands once it is given.")
        }
        RingState::Proposed if now.naive_utc() > ring.answer_by => {
            format!("The time to answer was over at {}.", ring.answer_by.and_utc().to_rfc3339())
        }
        RingState::Proposed => return Ok(()),
    };
    Err(Problem::new(Code::WrongState, refusal))
}

/// Ends a ring that was not answered in time.
pub(super) fn lapse(conn: &mut Conn, ring: Ring, now: DateTime<Utc>) -> Result<(), Problem> {
    Mark::in_round(ring.round_id, None, now).at_ring(ring.id).write(conn, SwapStep::Lapsed, None)?;
    fall(conn, ring, RingState::Lapsed, now)?;
    Ok(())
}

/// Ends a proposed ring: frees every cutting and want of it, and asks a job for rings for those left behind.
fn fall(conn: &mut Conn, mut ring: Ring, state: RingState, now: DateTime<Utc>) -> Result<Ring, Problem> {
    ring.state = state;
    ring.version += 1;
    rings::update(conn, &ring)?;
    for hand_over in rings::hand_overs_of(conn, ring.id)? {
        swaps::release_cutting(conn, hand_over.offer_id)?;
        swaps::set_want_promised(conn, hand_over.want_id, false)?;
    }
    enqueue(conn, JobKind::SwapRecourse, Some(ring.id.as_str()), None, now)?;
    Ok(ring)
}

/// Keeps every promise of a ring for good.
fn fulfil(conn: &mut Conn, ring: &Ring) -> Result<(), Problem> {
    for hand_over in rings::hand_overs_of(conn, ring.id)? {
        swaps::fulfil_want(conn, hand_over.want_id)?;
        if let Some(mut offer) = swaps::offer(conn, hand_over.offer_id)?
            && close_if_given(conn, &mut offer)?
        {
            offer.version += 1;
            swaps::update_offer(conn, &offer)?;
        }
    }
    Ok(())
}

/// Marks an offer as fulfilled where every cutting of it is promised and no ring of it waits for answers.
pub(crate) fn close_if_given(conn: &mut Conn, offer: &mut Offer) -> Result<bool, Problem> {
    let given = offer.free() == 0 && rings::waiting_cuttings(conn, offer.id)? == 0;
    if given {
        offer.listing = Listing::Fulfilled;
    }
    Ok(given)
}
