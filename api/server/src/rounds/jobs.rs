//! The work of the three kinds of job: solve a frozen round, mend a fallen ring, solve a round again.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::{Value, json};
use storksbill_db::Conn;
use storksbill_db::rows::jobs::Job;
use storksbill_db::rows::rings::{self, HandOver, Party, Ring};
use storksbill_db::rows::rounds::{self, Round};
use storksbill_db::rows::{merging, swaps};
use storksbill_domain::ids::{CultivarId, HandOverId, MemberId, OfferId, RingId, RoundId, WantId};
use storksbill_domain::words::{HandOverState, RingAnswer, RingState, RoundState, SwapStep};

use super::explain::{Outcome, Solved, look_into, solve};
use super::market::Line;
use super::open::{end, found, in_state};
use super::snapshot::Snapshot;
use super::steps::Mark;
use crate::app::App;
use crate::http::problem::{Code, Problem};
use crate::jobs::{Progress, blocking};

/// Solves a frozen round and proposes its rings.
pub async fn round(app: &App, job: &Job, progress: &Progress) -> Result<Value, Problem> {
    let id = subject::<RoundId>(job)?;
    let round = app.db.read(move |conn| found(conn, id)).await?;
    in_state(&round, &[RoundState::Frozen])?;
    progress
        .report(0.1, format!("Looks for rings among {} offers and {} wants.", round.offers, round.wants))
        .await?;
    let snapshot = Arc::new(Snapshot::of(&round)?);
    let asked = Arc::clone(&snapshot);
    let solved = Arc::new(blocking(move || solve(&asked)).await?);
    progress.report(0.6, "Proposes the rings.").await?;
    let now = app.clock.now();
    let proposal = Arc::clone(&solved);
    let (round, stored) = app.db.write(move |conn| propose(conn, id, &proposal, now)).await?;
    progress.report(0.7, "The rings are proposed; looks into why.").await?;
    let (solved, reasons) = blocking(move || {
        let mut solved = Arc::unwrap_or_clone(solved);
        let reasons = look_into(&snapshot, &mut solved)?;
        Ok((solved, reasons))
    })
    .await?;
    app.db.write(move |conn| tell_why(conn, id, &solved, &stored, &reasons)).await?;
    let words = format!("{} of {} wants are met if everybody accepts.", round.wants_served, round.wants);
    progress.report(1.0, words).await?;
    Ok(json!({ "round": id, "wants_served": round.wants_served, "wants_bound": round.wants_bound }))
}

/// The ring that each proposed line became, by the line's place in the answer.
type Stored = Vec<(usize, RingId)>;

fn propose(
    conn: &mut Conn,
    id: RoundId,
    solved: &Solved,
    now: DateTime<Utc>,
) -> Result<(Round, Stored), Problem> {
    let mut round = found(conn, id)?;
    in_state(&round, &[RoundState::Frozen])?;
    let answer_by = (now + TimeDelta::days(round.answer_days.into())).naive_utc();
    let count = |number: usize| i32::try_from(number).unwrap_or(i32::MAX);
    let kept = Standing::load(conn, now)?.sound(&solved.lines);
    let served: usize = kept.iter().map(|(_, line)| line.steps.len()).sum();
    round.state = RoundState::Proposed;
    round.proposed_at = Some(now.naive_utc());
    round.answer_by = Some(answer_by);
    round.wants_served = count(served);
    round.wants_bound = i32::try_from(solved.outcome.wants_bound).unwrap_or(i32::MAX);
    round.outcome = Some(to_text(&solved.outcome)?);
    round.version += 1;
    rounds::update(conn, &round)?;
    let words = format!("{} rings and chains, {served} cuttings", kept.len());
    Mark::in_round(id, None, now).write(conn, SwapStep::Proposed, Some(words))?;
    let mut stored = Vec::with_capacity(kept.len());
    for (at, line) in kept {
        stored.push((at, store(conn, &round, line, None)?));
    }
    Ok((round, stored))
}

/// Adds to a round and its rings why they are as they are.
fn tell_why(
    conn: &mut Conn,
    id: RoundId,
    solved: &Solved,
    stored: &[(usize, RingId)],
    reasons: &[Option<String>],
) -> Result<(), Problem> {
    for (at, ring) in stored {
        if let Some(Some(why)) = reasons.get(*at)
            && let Some(mut ring) = rings::find(conn, *ring)?
        {
            ring.why = Some(why.clone());
            rings::update(conn, &ring)?;
        }
    }
    let mut round = found(conn, id)?;
    round.outcome = Some(to_text(&solved.outcome)?);
    rounds::update(conn, &round)?;
    Ok(())
}

/// Looks for rings for the members that a fallen ring left behind, among what nobody was promised. Every other
/// ring of the round stays as it is.
pub async fn recourse(app: &App, job: &Job, progress: &Progress) -> Result<Value, Problem> {
    let id = subject::<RingId>(job)?;
    let (now, today) = (app.clock.now(), app.clock.today());
    let fallen = app.db.read(move |conn| Fallen::load(conn, id)).await?;
    let nothing = |words: &str| json!({ "rings": 0, "words": words });
    if fallen.round.state != RoundState::Proposed || fallen.round.meets_on.is_some_and(|day| day < today) {
        progress.report(1.0, "The round is over.").await?;
        return Ok(nothing("The round is over."));
    }
    let Ok(snapshot) = Snapshot::of(&fallen.round) else {
        return Ok(nothing("The round was solved before snapshots were kept."));
    };
    progress.report(0.3, "Looks for rings among what is free.").await?;
    let (left, behind) = app.db.read(move |conn| fallen.left_of(conn, snapshot, now)).await?;
    let solved = blocking(move || solve(&left)).await?;
    let stored = app.db.write(move |conn| mend(conn, id, &solved, &behind, now)).await?;
    let words = format!("{stored} rings in its place.");
    progress.report(1.0, words.clone()).await?;
    Ok(json!({ "rings": stored, "words": words }))
}

fn mend(
    conn: &mut Conn,
    fallen: RingId,
    solved: &Solved,
    behind: &BTreeSet<MemberId>,
    now: DateTime<Utc>,
) -> Result<usize, Problem> {
    let ring = rings::find(conn, fallen)?.ok_or_else(|| Problem::not_found("ring"))?;
    let round = found(conn, ring.round_id)?;
    let mut kept = Standing::load(conn, now)?.sound(&solved.lines);
    kept.retain(|(_, line)| {
        line.steps.iter().any(|s| behind.contains(&s.giver) || behind.contains(&s.receiver))
    });
    // Those who answered once have as long again.
    let answer_by = (now + TimeDelta::days(round.answer_days.into())).naive_utc();
    let round = Round { answer_by: Some(answer_by), ..round };
    let stored = kept.len();
    for (_, line) in kept {
        let id = store(conn, &round, line, Some(fallen))?;
        Mark::in_round(round.id, None, now).at_ring(id).write(conn, SwapStep::Replaced, None)?;
    }
    Ok(stored)
}

/// Solves a round again from its snapshot and says whether the answer is the same.
pub async fn rerun(app: &App, job: &Job, progress: &Progress) -> Result<Value, Problem> {
    let id = subject::<RoundId>(job)?;
    let round = app.db.read(move |conn| found(conn, id)).await?;
    progress.report(0.1, "Solves the round again.").await?;
    let snapshot = Snapshot::of(&round)?;
    let (_, hash) = snapshot.to_text()?;
    let whole = round.snapshot_sha256.as_deref() == Some(hash.as_str());
    let solved = blocking(move || solve(&snapshot)).await?;
    let before = round.outcome.as_deref().and_then(|text| serde_json::from_str::<Outcome>(text).ok());
    let same = before.is_some_and(|before| before.answer_sha256 == solved.outcome.answer_sha256);
    let words = match (whole, same) {
        (true, true) => "The same answer.",
        (true, false) => {
            "Another answer: this server solves rounds differently from the one that proposed it."
        }
        (false, _) => "The snapshot is not what its SHA-256 was made of.",
    };
    progress.report(1.0, words).await?;
    Ok(json!({ "round": id, "same": whole && same, "words": words }))
}

fn subject<T: std::str::FromStr>(job: &Job) -> Result<T, Problem> {
    let id = job.subject.as_deref().and_then(|id| id.parse().ok());
    id.ok_or_else(|| Problem::new(Code::Internal, "The job names no record."))
}

fn to_text(outcome: &Outcome) -> Result<String, Problem> {
    serde_json::to_string(outcome)
        .map_err(|error| Problem::new(Code::Internal, format!("The answer cannot be written: {error}.")))
}

/// What may still be promised, in the transaction that promises it.
struct Standing {
    free: BTreeMap<OfferId, i32>,
    open: BTreeSet<WantId>,
}

impl Standing {
    fn load(conn: &mut Conn, now: DateTime<Utc>) -> Result<Self, Problem> {
        let free = swaps::free_offers(conn, now.date_naive())?;
        let open = swaps::free_wants(conn)?;
        Ok(Self {
            free: free.into_iter().map(|offer| (offer.id, offer.free())).collect(),
            open: open.into_iter().map(|want| want.id).collect(),
        })
    }

    /// The lines, with their places, whose every offer and want is still free; those hurt by what happened since
    /// are left out.
    fn sound(mut self, lines: &[Line]) -> Vec<(usize, &Line)> {
        let mut sound = Vec::new();
        for (at, line) in lines.iter().enumerate() {
            let mut wanted: BTreeMap<OfferId, i32> = BTreeMap::new();
            for step in &line.steps {
                *wanted.entry(step.offer).or_default() += 1;
            }
            let whole = line.steps.iter().all(|step| self.open.contains(&step.want))
                && wanted.iter().all(|(offer, n)| self.free.get(offer).is_some_and(|free| free >= n));
            if !whole {
                continue;
            }
            for step in &line.steps {
                self.open.remove(&step.want);
            }
            for (offer, n) in wanted {
                self.free.entry(offer).and_modify(|free| *free -= n);
            }
            sound.push((at, line));
        }
        sound
    }
}

/// Stores a ring and promises what it needs.
fn store(
    conn: &mut Conn,
    round: &Round,
    line: &Line,
    replaces_id: Option<RingId>,
) -> Result<RingId, Problem> {
    let answer_by =
        round.answer_by.ok_or_else(|| Problem::new(Code::Internal, "The round has no time to answer."))?;
    let ring = Ring {
        id: RingId::fresh(),
        round_id: round.id,
        kind: line.kind,
        state: RingState::Proposed,
        answer_by,
        replaces_id,
        why: None,
        version: 1,
    };
    let mut met = BTreeSet::new();
    let people = line.steps.iter().flat_map(|step| [step.giver, step.receiver]);
    let parties: Vec<Party> = people
        .filter(|member| met.insert(*member))
        .zip(0..)
        .map(|(member_id, place)| Party {
            ring_id: ring.id,
            member_id,
            place,
            answer: RingAnswer::Waiting,
            answered_at: None,
        })
        .collect();
    // A record may have been merged into another since the round was frozen.
    let given: Vec<CultivarId> = line.steps.iter().map(|step| step.cultivar).collect();
    let standing = merging::standing_for(conn, &given)?;
    let hand_overs: Vec<HandOver> = line
        .steps
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
            cultivar_id: standing.get(&step.cultivar).copied().unwrap_or(step.cultivar),
            state: HandOverState::Promised,
            sent_at: None,
            received_at: None,
            condition: None,
            note: None,
            received_plant_id: None,
        })
        .collect();
    rings::insert(conn, &ring, &parties, &hand_overs)?;
    for step in &line.steps {
        swaps::promise_cuttings(conn, step.offer, 1)?;
        swaps::set_want_promised(conn, step.want, true)?;
    }
    Ok(ring.id)
}

/// A fallen ring and its round.
struct Fallen {
    round: Round,
    parties: Vec<Party>,
}

impl Fallen {
    fn load(conn: &mut Conn, id: RingId) -> Result<Self, Problem> {
        let ring = rings::find(conn, id)?.ok_or_else(|| Problem::not_found("ring"))?;
        Ok(Self { round: found(conn, ring.round_id)?, parties: rings::parties_of(conn, id)? })
    }

    /// What of the snapshot is left: nothing promised, nothing of those who did not accept, limits less what
    /// members stand in already. And who was left behind.
    fn left_of(
        &self,
        conn: &mut Conn,
        mut left: Snapshot,
        now: DateTime<Utc>,
    ) -> Result<(Snapshot, BTreeSet<MemberId>), Problem> {
        let of = |answers: &[RingAnswer]| -> BTreeSet<MemberId> {
            let some = self.parties.iter().filter(|party| answers.contains(&party.answer));
            some.map(|party| party.member_id).collect()
        };
        let declined = of(&[RingAnswer::Declined]);
        // Of a ring that lapsed, those who never answered are not asked again.
        let silent = if declined.is_empty() { of(&[RingAnswer::Waiting]) } else { BTreeSet::new() };
        let gone: BTreeSet<MemberId> = declined.union(&silent).copied().collect();
        let behind: BTreeSet<MemberId> =
            self.parties.iter().map(|party| party.member_id).filter(|id| !gone.contains(id)).collect();
        let standing = Standing::load(conn, now)?;
        left.offers.retain_mut(|offer| {
            offer.free = offer.free.min(standing.free.get(&offer.id).copied().unwrap_or(0));
            offer.free > 0 && !gone.contains(&offer.member)
        });
        left.wants.retain(|want| standing.open.contains(&want.id) && !gone.contains(&want.member));
        for (giver, receiver) in rings::standing_in_round(conn, self.round.id)? {
            // Members are in the order of their ids.
            if let Ok(at) = left.members.binary_search_by_key(&giver, |member| member.id)
                && let Some(member) = left.members.get_mut(at)
            {
                member.give -= 1;
            }
            if let Ok(at) = left.members.binary_search_by_key(&receiver, |member| member.id)
                && let Some(member) = left.members.get_mut(at)
            {
                member.receive -= 1;
            }
        }
        Ok((left, behind))
    }
}

/// Closes every round of which nothing waits any more.
pub(super) fn close_finished(conn: &mut Conn, now: DateTime<Utc>) -> Result<usize, Problem> {
    let mut closed = 0;
    for mut round in rounds::proposed(conn)? {
        if !rings::any_unfinished(conn, round.id)? {
            round.state = RoundState::Closed;
            end(conn, &mut round, SwapStep::Closed, None, now)?;
            closed += 1;
        }
    }
    Ok(closed)
}
