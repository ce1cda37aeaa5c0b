//! What becomes of a proposed ring: accepted, declined or lapsed, and its promises with it.

use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::swaps::{self, HandOver, Offer, Ring};
use storksbill_domain::ids::MemberId;
use storksbill_domain::words::{Listing, RingAnswer, RingState};

use crate::http::problem::{Code, Problem};

/// Takes a member's answer to a ring. An answer given before may be given again; nothing changes then.
pub(super) fn answer(
    conn: &mut Conn,
    mut ring: Ring,
    member: MemberId,
    answer: RingAnswer,
    now: DateTime<Utc>,
) -> Result<Ring, Problem> {
    let mut hand_overs = swaps::hand_overs_of(conn, ring.id)?;
    let own = hand_overs
        .iter_mut()
        .find(|hand_over| hand_over.giver_id == member)
        .ok_or_else(|| Problem::not_found("ring"))?;
    if own.answer == answer {
        return Ok(ring);
    }
    may_answer(&ring, own.answer, now)?;
    own.answer = answer;
    own.answered_at = Some(now.naive_utc());
    swaps::update_hand_over(conn, own)?;
    if answer == RingAnswer::Declined {
        ring.state = RingState::Declined;
    } else if hand_overs.iter().all(|hand_over| hand_over.answer == RingAnswer::Accepted) {
        ring.state = RingState::Accepted;
    }
    ring.version += 1;
    swaps::update_ring(conn, &ring)?;
    match ring.state {
        RingState::Accepted => fulfil(conn, &hand_overs)?,
        RingState::Declined => release(conn, &hand_overs)?,
        RingState::Proposed | RingState::Lapsed => {}
    }
    Ok(ring)
}

fn may_answer(ring: &Ring, before: RingAnswer, now: DateTime<Utc>) -> Result<(), Problem> {
    let refusal = match ring.state {
        RingState::Accepted => "Everybody has accepted this ring; talk to your partners.".to_owned(),
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
pub(super) fn lapse(conn: &mut Conn, mut ring: Ring) -> Result<(), Problem> {
    let hand_overs = swaps::hand_overs_of(conn, ring.id)?;
    ring.state = RingState::Lapsed;
    ring.version += 1;
    swaps::update_ring(conn, &ring)?;
    release(conn, &hand_overs)
}

/// Frees every cutting and want of a ring for the next round.
fn release(conn: &mut Conn, hand_overs: &[HandOver]) -> Result<(), Problem> {
    for hand_over in hand_overs {
        swaps::release_cutting(conn, hand_over.offer_id)?;
        swaps::set_want_promised(conn, hand_over.want_id, false)?;
    }
    Ok(())
}

/// Keeps every promise of a ring for good.
fn fulfil(conn: &mut Conn, hand_overs: &[HandOver]) -> Result<(), Problem> {
    for hand_over in hand_overs {
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
pub(super) fn close_if_given(conn: &mut Conn, offer: &mut Offer) -> Result<bool, Problem> {
    let given = offer.free() == 0 && swaps::waiting_cuttings(conn, offer.id)? == 0;
    if given {
        offer.listing = Listing::Fulfilled;
    }
    Ok(given)
}
