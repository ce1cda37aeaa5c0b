//! Cuttings on their way: sent, received, or not come.

use actix_web::{post, web};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::notices::{self, Notice};
use storksbill_db::rows::plants::{self, Plant};
use storksbill_db::rows::rings::{self, HandOver, Ring};
use storksbill_db::rows::{members, swaps};
use storksbill_domain::ids::{HandOverId, MemberId, PlantId};
use storksbill_domain::words::{
    Environment, GrowthForm, HandOverState, NoticeKind, RingState, SubjectKind, SwapStep, Visibility,
};

use super::dto::{FailureIn, ReceiptIn, RingOut};
use super::steps::Mark;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// New plants are kept apart for so long: rust stays hidden for about two weeks (common practice).
const APART: TimeDelta = TimeDelta::days(14);

/// Say that a cutting is on its way
///
/// As its giver, once everybody of the ring has accepted: it was posted, or given from hand to hand. Repeating it
/// changes nothing. Before plants go by post, ask what the plant-health rules of the place say; they may want a
/// passport. Local rules decide.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses(
        (status = 200, description = "The ring as it stands now", body = RingOut),
        (status = 409, description = "The ring is not accepted, or the cutting came already", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/swaps/hand-overs/{hand_over_id}/sent")]
pub async fn sent(auth: Auth, app: web::Data<App>, path: web::Path<HandOverId>) -> Result<Reply, Problem> {
    let (id, now) = (path.into_inner(), app.clock.now());
    app.db
        .write(move |conn| {
            let (ring, mut hand_over) = of_giver_or_receiver(conn, id, auth.member)?;
            if hand_over.giver_id != auth.member {
                return Err(Problem::new(
                    Code::NotAllowed,
                    "Only its giver says that a cutting is on its way.",
                ));
            }
            if hand_over.state == HandOverState::Promised {
                may_move(&ring, &hand_over)?;
                hand_over.state = HandOverState::Sent;
                hand_over.sent_at = Some(now.naive_utc());
                rings::update_hand_over(conn, &hand_over)?;
                mark(&ring, &hand_over, auth.member, now).write(conn, SwapStep::Sent, None)?;
            } else if hand_over.state != HandOverState::Sent {
                may_move(&ring, &hand_over)?;
            }
            Reply::versioned(ring.version, &RingOut::load(conn, &ring, auth.member)?)
        })
        .await
}

/// Say that a cutting came
///
/// As its receiver, whether or not its giver said that it was sent; with how it was. Where you say under what you
/// keep it, a plant is entered for you with where it came from, and a notice tells you when it need not be kept
/// apart any longer. Once all cuttings of a ring came, or were said not to have come, the ring is handed over.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = ReceiptIn,
    responses(
        (status = 200, description = "The ring as it stands now", body = RingOut),
        (status = 409, description = "The ring is not accepted, or this was said already", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/swaps/hand-overs/{hand_over_id}/received")]
pub async fn received(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<HandOverId>,
    body: Valid<ReceiptIn>,
) -> Result<Reply, Problem> {
    let (id, now, today, receipt) = (path.into_inner(), app.clock.now(), app.clock.today(), body.value);
    app.db
        .write(move |conn| {
            let (ring, mut hand_over) = of_giver_or_receiver(conn, id, auth.member)?;
            if hand_over.receiver_id != auth.member {
                return Err(Problem::new(Code::NotAllowed, "Only its receiver says that a cutting came."));
            }
            may_move(&ring, &hand_over)?;
            if let Some(environment) = receipt.kept_under {
                hand_over.received_plant_id = Some(enter(conn, &hand_over, environment, (now, today))?);
            }
            hand_over.state = HandOverState::Received;
            hand_over.received_at = Some(now.naive_utc());
            hand_over.condition = Some(receipt.condition);
            hand_over.note.clone_from(&receipt.note);
            rings::update_hand_over(conn, &hand_over)?;
            let words = Some(receipt.condition.to_string());
            mark(&ring, &hand_over, auth.member, now).write(conn, SwapStep::Received, words)?;
            let ring = finish(conn, ring, now)?;
            Reply::versioned(ring.version, &RingOut::load(conn, &ring, auth.member)?)
        })
        .await
}

/// Say that a cutting did not come
///
/// As its giver or its receiver, with what happened. The want is not opened again by itself: enter it anew.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = FailureIn,
    responses(
        (status = 200, description = "The ring as it stands now", body = RingOut),
        (status = 409, description = "The ring is not accepted, or the cutting came already", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/swaps/hand-overs/{hand_over_id}/failed")]
pub async fn failed(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<HandOverId>,
    body: Valid<FailureIn>,
) -> Result<Reply, Problem> {
    let (id, now, note) = (path.into_inner(), app.clock.now(), body.value.note);
    app.db
        .write(move |conn| {
            let (ring, mut hand_over) = of_giver_or_receiver(conn, id, auth.member)?;
            may_move(&ring, &hand_over)?;
            hand_over.state = HandOverState::Failed;
            hand_over.note = Some(note.clone());
            rings::update_hand_over(conn, &hand_over)?;
            mark(&ring, &hand_over, auth.member, now).write(conn, SwapStep::Failed, Some(note.clone()))?;
            let ring = finish(conn, ring, now)?;
            Reply::versioned(ring.version, &RingOut::load(conn, &ring, auth.member)?)
        })
        .await
}

/// A hand-over that the asker gives or receives, and its ring.
fn of_giver_or_receiver(
    conn: &mut Conn,
    id: HandOverId,
    asker: MemberId,
) -> Result<(Ring, HandOver), Problem> {
    let hand_over = rings::hand_over(conn, id)?
        .filter(|hand_over| hand_over.giver_id == asker || hand_over.receiver_id == asker)
        .ok_or_else(|| Problem::not_found("hand-over"))?;
    let ring = rings::find(conn, hand_over.ring_id)?.ok_or_else(|| Problem::not_found("ring"))?;
    Ok((ring, hand_over))
}

/// Refuses what is said of a cutting that is not promised, or of which all was said.
fn may_move(ring: &Ring, hand_over: &HandOver) -> Result<(), Problem> {
    let refusal = match (ring.state, hand_over.state) {
        (RingState::Accepted, HandOverState::Promised | HandOverState::Sent) => return Ok(()),
        (_, HandOverState::Received) => "This cutting was received already.".to_owned(),
        (_, HandOverState::Failed) => "This cutting was said not to have come.".to_owned(),
        (state, _) => format!("This ring is {state}; cuttings change hands once everybody has accepted."),
    };
    Err(Problem::new(Code::WrongState, refusal))
}

fn mark(ring: &Ring, hand_over: &HandOver, by: MemberId, now: DateTime<Utc>) -> Mark {
    Mark::in_round(ring.round_id, Some(by), now).at_ring(ring.id).at_hand_over(hand_over.id)
}

/// Ends a ring of which every cutting came or was said not to have come.
fn finish(conn: &mut Conn, mut ring: Ring, now: DateTime<Utc>) -> Result<Ring, Problem> {
    ring.version += 1;
    let over =
        |hand_over: &HandOver| matches!(hand_over.state, HandOverState::Received | HandOverState::Failed);
    if rings::hand_overs_of(conn, ring.id)?.iter().all(over) {
        ring.state = RingState::HandedOver;
        Mark::in_round(ring.round_id, None, now).at_ring(ring.id).write(conn, SwapStep::HandedOver, None)?;
    }
    rings::update(conn, &ring)?;
    Ok(ring)
}

/// Enters what was received as a plant, with where it came from, and a notice for the end of its weeks apart.
fn enter(
    conn: &mut Conn,
    hand_over: &HandOver,
    environment: Environment,
    (now, today): (DateTime<Utc>, NaiveDate),
) -> Result<PlantId, Problem> {
    let member = members::find(conn, hand_over.receiver_id)?.ok_or_else(|| Problem::not_found("member"))?;
    let region_id = member.region_id.ok_or_else(|| {
        Problem::field(
            "/kept_under",
            "no-region",
            "needs the region you grow in: set it in your own record, or send the receipt without kept_under",
        )
    })?;
    let (cultivar_name, _) =
        swaps::cultivar(conn, hand_over.cultivar_id, today)?.ok_or_else(|| Problem::not_found("cultivar"))?;
    let plant = Plant {
        id: PlantId::fresh(),
        owner_id: hand_over.receiver_id,
        cultivar_id: hand_over.cultivar_id,
        region_id,
        label: None,
        how_many: 1,
        pot_um: None,
        environment,
        heated_to_c: None,
        form: GrowthForm::Young,
        source_plant_id: rings::source_plant(conn, hand_over.offer_id)?,
        source_member_id: Some(hand_over.giver_id),
        got_on: Some(today),
        visibility: Visibility::Society,
        version: 1,
        created_at: now.naive_utc(),
    };
    plants::insert(conn, &plant)?;
    let words = format!(
        "{cultivar_name}, received on {today}, was to be kept apart for two weeks. Look it over on both sides of \
         the leaves before it joins the others."
    );
    let about = Some((SubjectKind::Plant, plant.id.as_str()));
    let notice = Notice::fresh(
        hand_over.receiver_id,
        NoticeKind::QuarantineOver,
        today + APART,
        words,
        about,
        now.naive_utc(),
    );
    notices::insert(conn, &notice)?;
    Ok(plant.id)
}
