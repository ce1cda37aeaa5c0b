//! What is taken and sent.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::Conn;
use storksbill_db::rows::rings::{self, HandOver, NamedHandOver, NamedParty, Ring};
use storksbill_db::rows::rounds::{Attendance, Event, Round};
use storksbill_domain::day::{Day, Moment};
use storksbill_domain::ids::{
    ClubId, CultivarId, HandOverId, MemberId, OfferId, PlantId, RingId, RoundId, SwapEventId, WantId,
};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{
    CuttingCondition, Environment, HandOverState, RingAnswer, RingKind, RingState, RoundAim, RoundMode,
    RoundState, SwapStep,
};
use utoipa::ToSchema;

use super::explain::{AimKept, Outcome, UnmetKept, Unserved};
use super::snapshot::Snapshot;
use crate::http::json::{Check, Findings};
use crate::http::problem::Problem;

const LONGEST_TABLE: usize = 40;
const LONGEST_NOTE: usize = 1000;

/// How a round is to be run.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RoundIn {
    /// `by_post` (in person or by post, rings of two and three, and chains), `meeting` (everybody hands over at
    /// one meeting: rings of any length) or `pairs`; `by_post` when not given.
    #[serde(default)]
    pub mode: Option<RoundMode>,
    /// What it aims at: `society`, `expected`, `robust` or `count`; `society` when not given.
    #[serde(default)]
    pub aim: Option<RoundAim>,
    /// Receivers in a chain that a gift starts, 0 to 4; 4 when not given, 0 for no chains.
    #[serde(default)]
    pub max_chain: Option<i32>,
    /// Chance in a thousand that somebody drops out, 0 to 900, for the aims `expected` and `robust`; 100 when
    /// not given.
    #[serde(default)]
    pub drop_out_per_mille: Option<i32>,
    /// The club whose meeting it is, where the mode is `meeting`.
    #[serde(default)]
    pub club_id: Option<ClubId>,
    /// The day of the meeting; required where the mode is `meeting`, empty otherwise.
    #[serde(default)]
    pub meets_on: Option<Day>,
    /// When it freezes by itself; when not given, an officer freezes it.
    #[serde(default)]
    pub freezes_at: Option<Moment>,
    /// Days that members have to answer, 1 to 60; what the society set when not given.
    #[serde(default)]
    pub answer_within_days: Option<i32>,
}

impl Check for RoundIn {
    fn check(&self, found: &mut Findings) {
        if let Some(days) = self.answer_within_days {
            found.range("/answer_within_days", days, 1, 60);
        }
        if let Some(most) = self.max_chain {
            found.range("/max_chain", most, 0, 4);
        }
        if let Some(chance) = self.drop_out_per_mille {
            found.range("/drop_out_per_mille", chance, 0, 900);
        }
        let meeting = self.mode == Some(RoundMode::Meeting);
        if meeting && self.meets_on.is_none() {
            found.add("/meets_on", "required", "give the day of the meeting");
        }
        if !meeting && self.meets_on.is_some() {
            found.add("/meets_on", "not-together", "goes with mode `meeting` alone");
        }
        if !meeting && self.club_id.is_some() {
            found.add("/club_id", "not-together", "goes with mode `meeting` alone");
        }
    }
}

/// One run of the swap.
#[derive(Debug, Serialize, ToSchema)]
pub struct RoundOut {
    /// Identity.
    pub id: RoundId,
    /// How cuttings change hands.
    pub mode: RoundMode,
    /// What it aims at.
    pub aim: RoundAim,
    /// Receivers in a chain at most; 0 for no chains.
    pub max_chain: i32,
    /// Chance in a thousand that somebody drops out, as reckoned with.
    pub drop_out_per_mille: i32,
    /// Where it stands.
    pub state: RoundState,
    /// The club whose meeting it is.
    pub club_id: Option<ClubId>,
    /// The day of the meeting.
    pub meets_on: Option<NaiveDate>,
    /// Who opened it; null when it opened by itself.
    pub opened_by: Option<MemberId>,
    /// When.
    pub opened_at: DateTime<Utc>,
    /// When it freezes by itself; null where an officer freezes it.
    pub freezes_at: Option<DateTime<Utc>>,
    /// When it was frozen.
    pub frozen_at: Option<DateTime<Utc>>,
    /// SHA-256, hexadecimal, of everything it was solved from.
    pub snapshot_sha256: Option<String>,
    /// When its rings were proposed.
    pub proposed_at: Option<DateTime<Utc>>,
    /// Days that members have to answer.
    pub answer_days: i32,
    /// Until when the rings it first proposed may be answered.
    pub answer_by: Option<DateTime<Utc>>,
    /// When it was over.
    pub closed_at: Option<DateTime<Utc>>,
    /// Offers that had cuttings to give.
    pub offers: i32,
    /// Wants that were not promised yet.
    pub wants: i32,
    /// Wants that the proposed rings serve, if everybody accepts.
    pub wants_served: i32,
    /// No choice could have served more wants than this.
    pub wants_bound: i32,
    /// Counts up at each change of state; also the `ETag`.
    pub version: i32,
}

impl RoundOut {
    pub(super) fn of(round: &Round) -> Self {
        Self {
            id: round.id,
            mode: round.mode,
            aim: round.aim,
            max_chain: round.max_chain,
            drop_out_per_mille: round.drop_out_per_mille,
            state: round.state,
            club_id: round.club_id,
            meets_on: round.meets_on,
            opened_by: round.opened_by,
            opened_at: round.opened_at.and_utc(),
            freezes_at: round.freezes_at.map(|at| at.and_utc()),
            frozen_at: round.frozen_at.map(|at| at.and_utc()),
            snapshot_sha256: round.snapshot_sha256.clone(),
            proposed_at: round.proposed_at.map(|at| at.and_utc()),
            answer_days: round.answer_days,
            answer_by: round.answer_by.map(|at| at.and_utc()),
            closed_at: round.closed_at.map(|at| at.and_utc()),
            offers: round.offers,
            wants: round.wants,
            wants_served: round.wants_served,
            wants_bound: round.wants_bound,
            version: round.version,
        }
    }
}

/// A round and its rings.
#[derive(Debug, Serialize, ToSchema)]
pub struct RoundWithRings {
    /// The round.
    pub round: RoundOut,
    /// To an officer every ring it proposed, to others those they stand in.
    pub rings: Vec<RingOut>,
}

/// That you come to a round held at a meeting.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AttendanceIn {
    /// At which table you are found, at most 40 characters.
    #[serde(default)]
    pub table: Option<String>,
}

impl Check for AttendanceIn {
    fn check(&self, found: &mut Findings) {
        found.optional_text("/table", self.table.as_deref(), LONGEST_TABLE);
    }
}

/// Somebody who comes to a round held at a meeting.
#[derive(Debug, Serialize, ToSchema)]
pub struct AttendanceOut {
    /// Who.
    pub member_id: MemberId,
    /// By name.
    pub name: String,
    /// At which table they are found.
    pub table: Option<String>,
}

impl AttendanceOut {
    pub(super) fn of((attendance, name): (Attendance, String)) -> Self {
        Self { member_id: attendance.member_id, name, table: attendance.table_label }
    }
}

/// A step in the life of a round.
#[derive(Debug, Serialize, ToSchema)]
pub struct EventOut {
    /// Identity.
    pub id: SwapEventId,
    /// When.
    pub at: DateTime<Utc>,
    /// What.
    pub what: SwapStep,
    /// Who did it; null when the server did, and of answers to rings, so that nobody can tell who declined.
    pub member_id: Option<MemberId>,
    /// Who did it, by name; null where the id is.
    pub member_name: Option<String>,
    /// The ring, where it concerns one.
    pub ring_id: Option<RingId>,
    /// The hand-over, where it concerns one.
    pub hand_over_id: Option<HandOverId>,
    /// More of it, in words.
    pub words: Option<String>,
}

impl EventOut {
    pub(super) fn of((event, member_name): (Event, Option<String>)) -> Self {
        let told = !matches!(event.what, SwapStep::Accepted | SwapStep::Declined);
        Self {
            id: event.id,
            at: event.at.and_utc(),
            what: event.what,
            member_id: event.member_id.filter(|_| told),
            member_name: member_name.filter(|_| told),
            ring_id: event.ring_id,
            hand_over_id: event.hand_over_id,
            words: event.words,
        }
    }
}

/// A member of a ring.
#[derive(Debug, Serialize, ToSchema)]
pub struct PartnerOut {
    /// The member.
    pub member_id: MemberId,
    /// Full name.
    pub name: String,
    /// E-mail address: told to the members of the ring once it is accepted, else null.
    pub email: Option<String>,
    /// The member's answer to the whole ring: your own, and everybody's once all have accepted. Else null, so that
    /// nobody can tell who declined.
    pub answer: Option<RingAnswer>,
    /// When it was given, where it is told.
    pub answered_at: Option<DateTime<Utc>>,
}

/// One cutting that goes from one member of a ring to another.
#[derive(Debug, Serialize, ToSchema)]
pub struct HandOverOut {
    /// Identity.
    pub id: HandOverId,
    /// Who gives it.
    pub giver_id: MemberId,
    /// Who gives it, by name.
    pub giver_name: String,
    /// Who receives it.
    pub receiver_id: MemberId,
    /// Who receives it, by name.
    pub receiver_name: String,
    /// What.
    pub cultivar_id: CultivarId,
    /// What, by name.
    pub cultivar_name: String,
    /// Out of which offer.
    pub offer_id: OfferId,
    /// For which want.
    pub want_id: WantId,
    /// Where it stands.
    pub state: HandOverState,
    /// When it was posted or given.
    pub sent_at: Option<DateTime<Utc>>,
    /// When it came.
    pub received_at: Option<DateTime<Utc>>,
    /// How it was when it came.
    pub condition: Option<CuttingCondition>,
    /// The words of whoever said what became of it.
    pub note: Option<String>,
    /// The receiver's record of it; told to the receiver alone.
    pub received_plant_id: Option<PlantId>,
}

/// Members who hand cuttings on: in a ring everybody gives one and receives one; in a chain a gift is passed on,
/// the first gives for nothing and the last receives and gives nothing.
#[derive(Debug, Serialize, ToSchema)]
pub struct RingOut {
    /// Identity.
    pub id: RingId,
    /// The round that proposed it.
    pub round_id: RoundId,
    /// `ring` or `chain`.
    pub kind: RingKind,
    /// `proposed`, `accepted`, `declined`, `lapsed` or `handed_over`.
    pub state: RingState,
    /// Until when it may be answered.
    pub answer_by: DateTime<Utc>,
    /// The ring that fell through and in whose place this one was proposed.
    pub replaces_id: Option<RingId>,
    /// Why it was chosen, in one sentence.
    pub why: Option<String>,
    /// Its members in their order, each giving to the next.
    pub partners: Vec<PartnerOut>,
    /// What goes from whom to whom.
    pub hand_overs: Vec<HandOverOut>,
    /// Counts up at each answer; also the `ETag`.
    pub version: i32,
}

impl RingOut {
    /// The ring as `asker` may see it.
    pub(super) fn load(conn: &mut Conn, ring: &Ring, asker: MemberId) -> Result<Self, Problem> {
        let (parties, hand_overs) =
            (rings::named_parties(conn, &[ring.id])?, rings::named_hand_overs(conn, &[ring.id])?);
        Ok(Self::of(ring, &parties, hand_overs, asker))
    }

    /// The rings as `asker` may see them.
    pub(super) fn load_all(conn: &mut Conn, rings: &[Ring], asker: MemberId) -> Result<Vec<Self>, Problem> {
        let ids: Vec<RingId> = rings.iter().map(|ring| ring.id).collect();
        let mut parties: BTreeMap<RingId, Vec<NamedParty>> = BTreeMap::new();
        for named in rings::named_parties(conn, &ids)? {
            parties.entry(named.party.ring_id).or_default().push(named);
        }
        let mut hand_overs: BTreeMap<RingId, Vec<NamedHandOver>> = BTreeMap::new();
        for named in rings::named_hand_overs(conn, &ids)? {
            hand_overs.entry(named.0.ring_id).or_default().push(named);
        }
        let of_ring = |ring: &Ring| {
            let parties = parties.remove(&ring.id).unwrap_or_default();
            Self::of(ring, &parties, hand_overs.remove(&ring.id).unwrap_or_default(), asker)
        };
        Ok(rings.iter().map(of_ring).collect())
    }

    fn of(ring: &Ring, parties: &[NamedParty], hand_overs: Vec<NamedHandOver>, asker: MemberId) -> Self {
        let is_partner = parties.iter().any(|named| named.party.member_id == asker);
        let promised = matches!(ring.state, RingState::Accepted | RingState::HandedOver);
        let partners = parties.iter().map(|named| {
            let told = promised || named.party.member_id == asker;
            PartnerOut {
                member_id: named.party.member_id,
                name: named.name.clone(),
                email: (is_partner && promised).then(|| named.email.clone()),
                answer: told.then_some(named.party.answer),
                answered_at: named.party.answered_at.filter(|_| told).map(|moment| moment.and_utc()),
            }
        });
        let name_of = |id: MemberId| {
            let known = parties.iter().find(|named| named.party.member_id == id);
            known.map(|named| named.name.clone()).unwrap_or_default()
        };
        let given = hand_overs.into_iter().map(|(hand_over, cultivar_name)| {
            HandOverOut::of(
                &hand_over,
                cultivar_name,
                (name_of(hand_over.giver_id), name_of(hand_over.receiver_id)),
                asker,
            )
        });
        Self {
            id: ring.id,
            round_id: ring.round_id,
            kind: ring.kind,
            state: ring.state,
            answer_by: ring.answer_by.and_utc(),
            replaces_id: ring.replaces_id,
            why: ring.why.clone(),
            hand_overs: given.collect(),
            partners: partners.collect(),
            version: ring.version,
        }
    }
}

impl HandOverOut {
    pub(super) fn of(
        hand_over: &HandOver,
        cultivar_name: String,
        (giver_name, receiver_name): (String, String),
        asker: MemberId,
    ) -> Self {
        Self {
            id: hand_over.id,
            giver_id: hand_over.giver_id,
            giver_name,
            receiver_id: hand_over.receiver_id,
            receiver_name,
            cultivar_id: hand_over.cultivar_id,
            cultivar_name,
            offer_id: hand_over.offer_id,
            want_id: hand_over.want_id,
            state: hand_over.state,
            sent_at: hand_over.sent_at.map(|at| at.and_utc()),
            received_at: hand_over.received_at.map(|at| at.and_utc()),
            condition: hand_over.condition,
            note: hand_over.note.clone(),
            received_plant_id: hand_over.received_plant_id.filter(|_| hand_over.receiver_id == asker),
        }
    }
}

/// An answer to a proposed ring.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AnswerIn {
    /// `accepted` or `declined`.
    pub answer: RingAnswer,
}

impl Check for AnswerIn {
    fn check(&self, found: &mut Findings) {
        if self.answer == RingAnswer::Waiting {
            found.add("/answer", "out-of-range", "must be accepted or declined");
        }
    }
}

/// How a cutting came.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReceiptIn {
    /// How it was: `good`, `limp`, `poor` or `dead`.
    pub condition: CuttingCondition,
    /// More of it, at most 1,000 characters; the giver reads it.
    #[serde(default)]
    pub note: Option<String>,
    /// Under what it is kept: then a plant is entered for it, with where it came from, and a notice tells when
    /// its two weeks apart are over. Without it no plant is entered. Not for `dead` ones; not `heated`: enter
    /// such a plant yourself.
    #[serde(default)]
    pub kept_under: Option<Environment>,
}

impl Check for ReceiptIn {
    fn check(&self, found: &mut Findings) {
        found.optional_text("/note", self.note.as_deref(), LONGEST_NOTE);
        if self.condition == CuttingCondition::Dead && self.kept_under.is_some() {
            found.add("/kept_under", "not-together", "a dead cutting is not kept");
        }
        if self.kept_under == Some(Environment::Heated) {
            found.add(
                "/kept_under",
                "out-of-range",
                "enter a plant under heat yourself, with its temperature",
            );
        }
    }
}

/// That a cutting did not come.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FailureIn {
    /// What happened, 1 to 1,000 characters; both sides and officers read it.
    pub note: String,
}

impl Check for FailureIn {
    fn check(&self, found: &mut Findings) {
        found.text("/note", &self.note, 1, LONGEST_NOTE);
    }
}

/// What a member gave and received in all rounds.
#[derive(Debug, Serialize, ToSchema)]
pub struct BalanceOut {
    /// Cuttings that came to others.
    pub given: i64,
    /// Cuttings that came to you.
    pub received: i64,
}

/// A line of the ledger.
#[derive(Debug, Serialize, ToSchema)]
pub struct LedgerLine {
    /// The hand-over.
    pub id: HandOverId,
    /// True where you gave it, false where you received it.
    pub given: bool,
    /// To whom you gave it, or from whom it came.
    pub other_name: String,
    /// What, by name.
    pub cultivar_name: String,
    /// Where it stands.
    pub state: HandOverState,
    /// When it was posted or given.
    pub sent_at: Option<DateTime<Utc>>,
    /// When it came.
    pub received_at: Option<DateTime<Utc>>,
    /// How it was when it came.
    pub condition: Option<CuttingCondition>,
}

impl LedgerLine {
    pub(super) fn of(
        (hand_over, cultivar_name, other_name): (HandOver, String, String),
        own: MemberId,
    ) -> Self {
        Self {
            id: hand_over.id,
            given: hand_over.giver_id == own,
            other_name,
            cultivar_name,
            state: hand_over.state,
            sent_at: hand_over.sent_at.map(|at| at.and_utc()),
            received_at: hand_over.received_at.map(|at| at.and_utc()),
            condition: hand_over.condition,
        }
    }
}

/// One aim of a round: what was reached, and how much could be at most.
#[derive(Debug, Serialize, ToSchema)]
pub struct AimOut {
    /// What is counted.
    pub aim: String,
    /// How much of it the proposed rings reach.
    pub value: i64,
    /// No choice that keeps the aims before reaches more.
    pub bound: i64,
    /// Whether it is proved that nothing better is possible.
    pub proved: bool,
}

/// A want that was left, and why.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnmetOut {
    /// The want; null where it is another member's.
    pub want_id: Option<WantId>,
    /// What was wanted, by name; the first of several. Null where it is another member's.
    pub cultivar_name: Option<String>,
    /// Why.
    pub why: Unserved,
    /// The same in a sentence, with the numbers.
    pub words: String,
}

/// One more cutting of this would meet so many more wants.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnlockOut {
    /// Which.
    pub cultivar_id: CultivarId,
    /// By name.
    pub cultivar_name: String,
    /// Wants met more than now, if somebody offered one cutting of it and asked for nothing.
    pub more: u32,
    /// The same in a sentence.
    pub words: String,
}

/// Why a round is as it is.
#[derive(Debug, Serialize, ToSchema)]
pub struct ExplanationOut {
    /// How good the answer is, the most important aim first.
    pub aims: Vec<AimOut>,
    /// How far the answer may fall short of the best, in the first aim, as a share of what could be at most: 0
    /// where it is proved best.
    pub gap: f64,
    /// Whether every aim was brought to its end within the work allowed.
    pub finished: bool,
    /// Whether this is the first of all equally good answers.
    pub first_of_equals: bool,
    /// Your own rings, with why each was chosen.
    pub rings: Vec<RingOut>,
    /// Your wants that were left; to officers, all.
    pub unmet: Vec<UnmetOut>,
    /// What one more offer would bring, the most useful first; at most 50.
    pub unlocks: Vec<UnlockOut>,
}

impl ExplanationOut {
    pub(super) fn of(
        asker: &Actor,
        snapshot: &Snapshot,
        outcome: &Outcome,
        names: &BTreeMap<CultivarId, String>,
        rings: Vec<RingOut>,
    ) -> Self {
        let want = |id: WantId| {
            let place = snapshot.wants.binary_search_by_key(&id, |want| want.id).ok()?;
            snapshot.wants.get(place)
        };
        let unmet = outcome.unmet.iter().filter_map(|unmet| {
            let want = want(unmet.want)?;
            let own = want.member == asker.member;
            let name = want.cultivars.first().and_then(|cultivar| names.get(cultivar)).filter(|_| own);
            (own || asker.is_officer()).then(|| UnmetOut {
                want_id: own.then_some(unmet.want),
                cultivar_name: name.cloned(),
                why: unmet.why,
                words: words_of(unmet),
            })
        });
        let unlocks = outcome.unlocks.iter().filter_map(|unlock| {
            let cultivar_name = names.get(&unlock.cultivar)?.clone();
            let words = match unlock.more {
                1 => format!("If somebody offered one more {cultivar_name}, one more want would be met."),
                more => {
                    format!("If somebody offered one more {cultivar_name}, {more} more wants would be met.")
                }
            };
            Some(UnlockOut { cultivar_id: unlock.cultivar, cultivar_name, more: unlock.more, words })
        });
        Self {
            aims: outcome.aims.iter().map(AimOut::of).collect(),
            gap: outcome.aims.first().map_or(0.0, gap),
            finished: outcome.finished,
            first_of_equals: outcome.first_of_equals,
            unmet: unmet.collect(),
            unlocks: unlocks.collect(),
            rings,
        }
    }
}

impl AimOut {
    fn of(kept: &AimKept) -> Self {
        Self { aim: kept.aim.clone(), value: kept.value, bound: kept.bound, proved: kept.proved }
    }
}

#[expect(clippy::cast_precision_loss, reason = "a share, told to a few digits")]
fn gap(first: &AimKept) -> f64 {
    if first.proved || first.bound <= 0 {
        0.0
    } else {
        (first.bound - first.value) as f64 / first.bound as f64
    }
}

fn words_of(unmet: &UnmetKept) -> String {
    match unmet.why {
        Unserved::NobodyOffers => "Nobody in this round offers it.".to_owned(),
        Unserved::KeptBack => {
            let told = unmet.hindrances.iter().map(|(hindrance, n)| format!("{n} {}", hindrance.words()));
            let told: Vec<String> = told.collect();
            format!("It is offered, but none may come to you: {}.", told.join("; "))
        }
        Unserved::GiveLimit => {
            "You give as many cuttings as your terms allow; raise `give_most` to receive more.".to_owned()
        }
        Unserved::ReceiveLimit => {
            "You receive as many cuttings as your terms allow; raise `receive_most` for more.".to_owned()
        }
        Unserved::NothingToGive => {
            "Nobody in this round wants what you offer, and no gift reaches you: offer something else too."
                .to_owned()
        }
        Unserved::NoRingCloses => {
            "It is offered, but no ring or chain that is short enough leads to you.".to_owned()
        }
        Unserved::BetterRing => {
            let words =
                "A ring would meet it, but only in the place of others that together are at least as good";
            match &unmet.price {
                Some(price) => format!("{words}: {price}."),
                None => format!("{words}."),
            }
        }
    }
}
