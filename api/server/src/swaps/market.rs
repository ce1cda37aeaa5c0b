//! From offers and wants to the rings a round proposes, and into the records.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::swaps::{self, HandOver, Offer, Ring, Round, Want};
use storksbill_domain::ids::{CultivarId, HandOverId, MemberId, OfferId, RingId, RoundId, WantId};
use storksbill_domain::words::{RingAnswer, RingState};
use storksbill_exchange::{LevelName, Market, Member, Plan, Preset, Rules, Worth, solve};

use crate::app::App;
use crate::http::problem::{Code, Problem};

/// Rings that one member stands in at most, per round: nobody has to pack and answer a dozen at once.
const RINGS_EACH: u16 = 5;

/// One cutting from one member to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Step {
    giver: MemberId,
    receiver: MemberId,
    offer: OfferId,
    want: WantId,
    cultivar: CultivarId,
}

/// What a round would propose, not yet held against the records again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Proposal {
    offers: usize,
    wants: usize,
    bound: i64,
    rings: Vec<Vec<Step>>,
}

/// Draws up a round from the records as they are now. The search runs on a thread of its own and outside any
/// transaction, so that it keeps no writer waiting.
pub(super) async fn draw_up(app: &App) -> Result<Proposal, Problem> {
    let today = app.clock.today();
    let (offers, wants) = app
        .db
        .read(move |conn| Ok::<_, Problem>((swaps::free_offers(conn, today)?, swaps::free_wants(conn)?)))
        .await?;
    tokio::task::spawn_blocking(move || propose(&offers, &wants)).await.unwrap_or_else(|error| {
        Err(Problem::new(Code::Internal, format!("The search for rings was cut off: {error}.")))
    })
}

/// The rings of two and three that serve most wants, then those ranked highest.
fn propose(offers: &[Offer], wants: &[Want]) -> Result<Proposal, Problem> {
    let own: BTreeSet<(MemberId, CultivarId)> = offers.iter().map(|o| (o.member_id, o.cultivar_id)).collect();
    // Nobody can have both open; one such pair, however it came about, must not stop everybody's round.
    let wants: Vec<(&Want, CultivarId)> = wants
        .iter()
        .filter_map(|want| Some((want, want.cultivar_id?)))
        .filter(|(want, cultivar)| !own.contains(&(want.member_id, *cultivar)))
        .collect();
    let members = numbered(offers.iter().map(|o| o.member_id).chain(wants.iter().map(|(w, _)| w.member_id)));
    let items = numbered(offers.iter().map(|o| o.cultivar_id).chain(wants.iter().map(|(_, c)| *c)));
    let plan = clear(&members, &items, offers, &wants)?;
    let bound = plan.levels.iter().find(|level| level.name == LevelName::WantsServed).map_or(0, |l| l.bound);
    let step = |step: &storksbill_exchange::Move| {
        let offer = offers.get(usize::try_from(step.offer).ok()?)?;
        let (want, _) = wants.get(usize::try_from(step.want).ok()?)?;
        Some(Step {
            giver: offer.member_id,
            receiver: want.member_id,
            offer: offer.id,
            want: want.id,
            cultivar: offer.cultivar_id,
        })
    };
    // A want needs one cutting, so no ring is run twice.
    let rings = plan.rings.iter().filter_map(|ring| ring.moves.iter().map(step).collect());
    Ok(Proposal { offers: offers.len(), wants: wants.len(), bound, rings: rings.collect() })
}

/// Numbers things in the order of their ids, so that the same records always make the same market.
fn numbered<T: Ord>(things: impl Iterator<Item = T>) -> BTreeMap<T, u64> {
    let distinct: BTreeSet<T> = things.collect();
    distinct.into_iter().zip(0..).collect()
}

fn clear(
    members: &BTreeMap<MemberId, u64>,
    items: &BTreeMap<CultivarId, u64>,
    offers: &[Offer],
    wants: &[(&Want, CultivarId)],
) -> Result<Plan, Problem> {
    let (mut give, mut receive) = (BTreeMap::new(), BTreeMap::new());
    let mut offered = Vec::with_capacity(offers.len());
    for (offer, id) in offers.iter().zip(0..) {
        let (member, item) = (number(members, &offer.member_id)?, number(items, &offer.cultivar_id)?);
        let quantity = u16::try_from(offer.free()).unwrap_or(0);
        let all: &mut u16 = give.entry(member).or_default();
        *all = all.saturating_add(quantity);
        offered.push(storksbill_exchange::Offer { id, member, item, quantity });
    }
    let mut wanted = Vec::with_capacity(wants.len());
    for ((want, cultivar), id) in wants.iter().zip(0..) {
        let (member, item) = (number(members, &want.member_id)?, number(items, cultivar)?);
        let rank = u16::try_from(want.want_rank).unwrap_or(u16::MAX);
        let all: &mut u16 = receive.entry(member).or_default();
        *all = all.saturating_add(1);
        wanted.push(storksbill_exchange::Want::one(id, member, item, rank));
    }
    let limit = |counted: &BTreeMap<u64, u16>, id| counted.get(&id).copied().unwrap_or(0).min(RINGS_EACH);
    let members: Vec<Member> =
        members.values().map(|&id| Member::new(id, limit(&give, id), limit(&receive, id))).collect();
    let market = Market::build(&members, &offered, &wanted, |offer, want| Ok(Worth::by_rank(offer, want)))
        .map_err(|problems| {
            let words: Vec<String> = problems.iter().map(ToString::to_string).collect();
            tracing::error!(problems = words.join("; "), "the records make no market");
            unnumbered()
        })?;
    Ok(solve(&market, &Rules { preset: Preset::Society, ..Rules::default() }))
}

fn number<T: Ord>(numbers: &BTreeMap<T, u64>, thing: &T) -> Result<u64, Problem> {
    numbers.get(thing).copied().ok_or_else(unnumbered)
}

fn unnumbered() -> Problem {
    Problem::new(Code::Internal, "No round could be drawn up from the offers and wants.")
}

/// Stores a round with those of its rings whose every offer and want is still free, and promises them, in
/// the caller's transaction. Rings hurt by what happened since the round was drawn up are left out.
pub(super) fn store(
    conn: &mut Conn,
    proposal: &Proposal,
    run_by: Option<MemberId>,
    now: DateTime<Utc>,
    answer_by: DateTime<Utc>,
) -> Result<Round, Problem> {
    let mut free: BTreeMap<OfferId, i32> = swaps::free_offers(conn, now.date_naive())?
        .into_iter()
        .map(|offer| (offer.id, offer.free()))
        .collect();
    let mut open: BTreeSet<WantId> = swaps::free_wants(conn)?.into_iter().map(|want| want.id).collect();
    let mut taken: BTreeMap<OfferId, i32> = BTreeMap::new();
    let mut sound = Vec::new();
    for steps in &proposal.rings {
        let left = |step: &Step| open.contains(&step.want) && free.get(&step.offer).is_some_and(|&n| n > 0);
        if !steps.iter().all(left) {
            continue;
        }
        for step in steps {
            open.remove(&step.want);
            free.entry(step.offer).and_modify(|n| *n -= 1);
            *taken.entry(step.offer).or_default() += 1;
        }
        sound.push(steps);
    }
    let count = |number: usize| i32::try_from(number).unwrap_or(i32::MAX);
    let round = Round {
        id: RoundId::fresh(),
        run_by,
        run_at: now.naive_utc(),
        answer_by: answer_by.naive_utc(),
        offers: count(proposal.offers),
        wants: count(proposal.wants),
        wants_served: count(sound.iter().map(|steps| steps.len()).sum()),
        wants_bound: i32::try_from(proposal.bound).unwrap_or(i32::MAX),
    };
    swaps::insert_round(conn, &round)?;
    for steps in sound {
        store_ring(conn, &round, steps)?;
    }
    for (offer, cuttings) in taken {
        swaps::promise_cuttings(conn, offer, cuttings)?;
    }
    Ok(round)
}

fn store_ring(conn: &mut Conn, round: &Round, steps: &[Step]) -> Result<(), Problem> {
    let ring = Ring {
        id: RingId::fresh(),
        round_id: round.id,
        state: RingState::Proposed,
        answer_by: round.answer_by,
        version: 1,
    };
    let hand_overs: Vec<HandOver> = steps
        .iter()
        .zip(0..)
        .map(|(step, place)| HandOver {
            id: HandOverId::fresh(),
            ring_id: ring.id,
            place,
            giver_id: step.giver,
            receiver_id: step.receiver,
            offer_id: step.offer,
            want_id: step.want,
            cultivar_id: step.cultivar,
            answer: RingAnswer::Waiting,
            answered_at: None,
        })
        .collect();
    swaps::insert_ring(conn, &ring, &hand_overs)?;
    for step in steps {
        swaps::set_want_promised(conn, step.want, true)?;
    }
    Ok(())
}
