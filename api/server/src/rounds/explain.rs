//! Solve a round, and say why its rings are as they are, what was left unmet and what one more offer would
//! bring.

use std::collections::BTreeMap;

use actix_web::{get, web};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use storksbill_db::rows::{cultivars, rings};
use storksbill_domain::ids::{CultivarId, RoundId, WantId};
use storksbill_domain::words::RoundMode;
use storksbill_exchange::{
    Aim, Forced, Level, LevelName, Loss, MeetingRules, Plan, Stopped, Tie, Unlock, Unmet, Why, Work,
    explain_ring, explain_want, meet, solve as solve_rings, unlock_by_post, unlock_meeting, unmet_at_meeting,
};

use super::dto::{ExplanationOut, RingOut};
use super::market::{Hindrance, Line, Numbered, rules};
use super::open::found;
use super::snapshot::Snapshot;
use crate::app::App;
use crate::hex::hex;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// So many cultivars of which one more would be of use are told at most.
const MOST_UNLOCKS: usize = 50;
/// So many rings, wants and cultivars are looked into one by one at most, each by a small search of its own.
const MOST_CASES: usize = 60;
/// Work of one such search.
const CASE: Work = Work { rings: 20_000, search: 200_000, tie_searches: 0 };

/// What came of the search.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    pub(super) lines: Vec<Line>,
    pub(super) outcome: Outcome,
    /// The answer as the search gave it, where it is one of rings and chains.
    plan: Option<Plan>,
}

/// What is kept of the answer beside its rings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Outcome {
    /// SHA-256, hexadecimal, of who gives what to whom.
    pub(super) answer_sha256: String,
    /// Wants that could be met at most.
    pub(super) wants_bound: i64,
    pub(super) aims: Vec<AimKept>,
    /// Every aim was brought to its end within the work allowed.
    pub(super) finished: bool,
    /// Of several equally good answers this is the first in the order of members and cultivars.
    pub(super) first_of_equals: bool,
    pub(super) unmet: Vec<UnmetKept>,
    pub(super) unlocks: Vec<UnlockKept>,
}

/// One aim: what was reached, and what could be at most.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct AimKept {
    pub(super) aim: String,
    pub(super) value: i64,
    pub(super) bound: i64,
    pub(super) proved: bool,
}

/// A want that was left, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct UnmetKept {
    pub(super) want: WantId,
    pub(super) why: Unserved,
    /// What kept matching cuttings from it, and how often.
    pub(super) hindrances: Vec<(Hindrance, usize)>,
    /// What meeting it would cost the others, where that was looked into.
    pub(super) price: Option<String>,
}

/// Why a want was left unmet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Unserved {
    /// Nobody offers it.
    NobodyOffers,
    /// It is offered, but no such cutting may come to you.
    KeptBack,
    /// You give as many cuttings as your terms allow.
    GiveLimit,
    /// You receive as many cuttings as your terms allow.
    ReceiveLimit,
    /// Nobody wants what you offer, and no gift reaches you.
    NothingToGive,
    /// No ring or chain that is short enough comes by.
    NoRingCloses,
    /// A ring would meet it, but only in the place of others that are at least as good.
    BetterRing,
}

/// One more cutting of this, and so many more wants would be met.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct UnlockKept {
    pub(super) cultivar: CultivarId,
    pub(super) more: u32,
}

/// Solves a round. The same snapshot always gives the same answer.
pub(super) fn solve(snapshot: &Snapshot) -> Result<Solved, Problem> {
    let numbered = Numbered::of(snapshot)?;
    if snapshot.mode == RoundMode::Meeting { at_meeting(&numbered) } else { Ok(in_rings(&numbered)) }
}

fn in_rings(numbered: &Numbered<'_>) -> Solved {
    let plan = solve_rings(&numbered.market, &rules(numbered.snapshot));
    let wants_bound = plan.levels.iter().find(|level| level.name == LevelName::WantsServed);
    let lines = numbered.lines(&plan.rings, &plan.chains);
    let outcome = Outcome {
        answer_sha256: fingerprint(&lines),
        wants_bound: wants_bound.map_or_else(|| most_wants(numbered), Level::least_bound),
        aims: plan.levels.iter().map(aim_of_rings).collect(),
        finished: plan.stopped == Stopped::No,
        first_of_equals: plan.tie == Tie::First,
        unmet: unmet(numbered, &plan.unmet),
        unlocks: Vec::new(),
    };
    Solved { lines, outcome, plan: Some(plan) }
}

fn fingerprint(lines: &[Line]) -> String {
    let mut hash = Sha256::new();
    for (at, line) in lines.iter().enumerate() {
        for step in &line.steps {
            hash.update(format!("{at} {} {}\n", step.offer, step.want));
        }
    }
    hex(&hash.finalize())
}

/// Wants that anything can meet: the bound where no aim counts wants.
fn most_wants(numbered: &Numbered<'_>) -> i64 {
    i64::try_from(numbered.market.wants().len()).unwrap_or(i64::MAX)
}

fn at_meeting(numbered: &Numbered<'_>) -> Result<Solved, Problem> {
    let market = &numbered.market;
    let too_large =
        |error| Problem::new(Code::Internal, format!("This round is too large to be solved: {error}."));
    let meeting = meet(market, MeetingRules::default()).map_err(too_large)?;
    let unlocks = unlock_meeting(market).map_err(too_large)?;
    let wants_bound = meeting.levels.iter().find(|level| level.aim == Aim::WantsServed);
    let lines = numbered.lines(&meeting.rings, &meeting.chains);
    let outcome = Outcome {
        answer_sha256: fingerprint(&lines),
        wants_bound: wants_bound.map_or(0, |level| level.bound),
        aims: meeting
            .levels
            .iter()
            .map(|level| AimKept {
                aim: aim_at_meeting(level.aim),
                value: level.value,
                bound: level.bound,
                proved: level.proved,
            })
            .collect(),
        finished: true,
        first_of_equals: true,
        unmet: unmet(numbered, &unmet_at_meeting(market, &meeting)),
        unlocks: unlocks_kept(numbered, &unlocks),
    };
    Ok(Solved { lines, outcome, plan: None })
}

/// Why each line was chosen, as far as that was looked into; what meeting a want that was left would cost, and
/// what one more cutting would bring, are added to the outcome. Takes its time: the rings are proposed before.
pub(super) fn look_into(snapshot: &Snapshot, solved: &mut Solved) -> Result<Vec<Option<String>>, Problem> {
    let Some(plan) = &solved.plan else { return Ok(vec![None; solved.lines.len()]) };
    let numbered = Numbered::of(snapshot)?;
    let market = &numbered.market;
    let proved = plan.levels.iter().all(|level| level.proved);
    let mut told = Vec::with_capacity(solved.lines.len());
    for (at, ring) in plan.rings.iter().enumerate() {
        let case = (at < MOST_CASES).then(|| explain_ring(market, plan, at, &CASE)).flatten();
        let words = case.map(|case| match &case.without {
            None if proved => "Other choices are as good in everything; this is one of them.".to_owned(),
            None => "A choice without it was found that is no worse; neither is proved the best.".to_owned(),
            Some(loss) => format!("Without it the best other choice found would have {}.", lost(loss)),
        });
        told.extend(std::iter::repeat_n(words, usize::from(ring.times)));
    }
    told.resize(solved.lines.len(), None);
    let open = plan.unmet.iter().filter(|unmet| unmet.why == Why::BetterRing).take(MOST_CASES);
    for unmet in open {
        let Some(case) = explain_want(market, plan, unmet.want, &CASE) else { continue };
        let id = usize::try_from(unmet.want).ok().and_then(|at| snapshot.wants.get(at)).map(|want| want.id);
        let price = match case.forced {
            Forced::NoPlan => None,
            Forced::AsGood => Some(if proved {
                "a choice that meets it is as good in everything, and this one was taken".to_owned()
            } else {
                "a choice that meets it was found that is no worse; neither is proved the best".to_owned()
            }),
            Forced::Costs(loss) => Some(format!("the best choice found that meets it has {}", lost(&loss))),
        };
        if let Some(kept) = solved.outcome.unmet.iter_mut().find(|kept| Some(kept.want) == id) {
            kept.price = price;
        }
    }
    let mut wanted: Vec<u64> = plan
        .unmet
        .iter()
        .filter_map(|unmet| market.wants().binary_search_by_key(&unmet.want, |want| want.id).ok())
        .flat_map(|at| {
            market.wants().get(at).into_iter().flat_map(|want| want.items.iter().map(|wish| wish.item))
        })
        .collect();
    wanted.sort_unstable();
    wanted.dedup();
    wanted.truncate(MOST_CASES);
    let rules = storksbill_exchange::Rules { work: CASE, ..rules(snapshot) };
    // Every number asked for is the market's own.
    let unlocks = unlock_by_post(market, &rules, &wanted).unwrap_or_default();
    solved.outcome.unlocks = unlocks_kept(&numbered, &unlocks);
    Ok(told)
}

/// What falls short, in words: "2 wants met fewer, of 118".
fn lost(loss: &Loss) -> String {
    let aim = aim_words(loss.level);
    if loss.at_least == loss.at_most {
        format!("{} less of \u{201c}{aim}\u{201d}, of {}", loss.at_most, loss.value)
    } else {
        format!("{} to {} less of \u{201c}{aim}\u{201d}, of {}", loss.at_least, loss.at_most, loss.value)
    }
}

fn unlocks_kept(numbered: &Numbered<'_>, unlocks: &[Unlock]) -> Vec<UnlockKept> {
    unlocks
        .iter()
        .take(MOST_UNLOCKS)
        .filter_map(|unlock| {
            Some(UnlockKept { cultivar: numbered.cultivar(unlock.item)?, more: unlock.more })
        })
        .collect()
}

fn unmet(numbered: &Numbered<'_>, unmet: &[Unmet]) -> Vec<UnmetKept> {
    let mut refused: BTreeMap<u64, BTreeMap<Hindrance, usize>> = BTreeMap::new();
    for (_, want, reason) in numbered.market.refused() {
        if let Some(hindrance) = Hindrance::of(*reason) {
            *refused.entry(*want).or_default().entry(hindrance).or_default() += 1;
        }
    }
    let wants = &numbered.snapshot.wants;
    let found = unmet.iter().filter_map(|unmet| {
        let hindrances = refused.remove(&unmet.want).unwrap_or_default().into_iter().collect();
        let want = wants.get(usize::try_from(unmet.want).ok()?)?.id;
        Some(UnmetKept { want, why: unserved(unmet.why), hindrances, price: None })
    });
    // Those that nothing on the list can meet took no part in the search.
    let hopeless = wants.iter().filter(|want| want.cultivars.is_empty());
    let hopeless = hopeless.map(|want| UnmetKept {
        want: want.id,
        why: Unserved::NobodyOffers,
        hindrances: Vec::new(),
        price: None,
    });
    let mut all: Vec<UnmetKept> = found.chain(hopeless).collect();
    all.sort_by_key(|unmet| unmet.want);
    all
}

fn unserved(reason: Why) -> Unserved {
    match reason {
        Why::NobodyOffers => Unserved::NobodyOffers,
        Why::Refused(_) => Unserved::KeptBack,
        Why::GiveLimit => Unserved::GiveLimit,
        Why::ReceiveLimit => Unserved::ReceiveLimit,
        Why::NothingToGive => Unserved::NothingToGive,
        Why::NoRingCloses => Unserved::NoRingCloses,
        Why::BetterRing => Unserved::BetterRing,
    }
}

fn aim_of_rings(level: &Level) -> AimKept {
    let aim = aim_words(level.name).to_owned();
    AimKept { aim, value: level.value, bound: level.least_bound(), proved: level.proved }
}

fn aim_words(level: LevelName) -> &'static str {
    match level {
        LevelName::Expected => "cuttings expected to arrive, in ten-thousandths",
        LevelName::MembersServed => "members who receive anything",
        LevelName::WantsServed => "wants met",
        LevelName::RankWeight => "how dear the wants met are",
        LevelName::Rarity => "cuttings of what few hold",
        LevelName::EffectivePairs => "swaps that stand though one drops out",
        LevelName::FewestThrees => "fewest rings of three",
        LevelName::BackArcs => "ways to mend a ring of three",
        LevelName::Credit => "those who gave more than they received",
    }
}

fn aim_at_meeting(aim: Aim) -> String {
    match aim {
        Aim::WantsServed => "wants met".to_owned(),
        Aim::ReceivedAtLeast(least) => format!("members who receive {least} or more"),
        Aim::Weight => "how dear the wants met are".to_owned(),
        Aim::Rarity => "cuttings of what few hold".to_owned(),
        Aim::Credit => "those who gave more than they received".to_owned(),
        Aim::OnAllowance => "fewest cuttings given for nothing".to_owned(),
    }
}

/// Why is it so?
///
/// How good the answer is, aim by aim, with what could be reached at most; of your own wants that were left,
/// why; and which cultivars, if somebody offered one cutting more, would meet how many more wants. Officers read
/// the reasons of every want that was left, without whose it is.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses(
        (status = 200, description = "Why the round is as it is", body = ExplanationOut),
        (status = 409, description = "Nothing has been proposed yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/swaps/rounds/{round_id}/why")]
pub async fn why(auth: Auth, app: web::Data<App>, path: web::Path<RoundId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let told = app
        .db
        .read(move |conn| {
            let round = found(conn, id)?;
            let text = round.outcome.as_deref().ok_or_else(|| {
                Problem::new(
                    Code::WrongState,
                    "Nothing has been proposed in this round, so nothing can be told of it.",
                )
            })?;
            let outcome: Outcome = serde_json::from_str(text).map_err(|error| {
                Problem::new(Code::Internal, format!("The answer cannot be read again: {error}."))
            })?;
            let snapshot = Snapshot::of(&round)?;
            let own = rings::own_of_round(conn, auth.member, id)?;
            let own = RingOut::load_all(conn, &own, auth.member)?;
            let named: Vec<CultivarId> = outcome
                .unlocks
                .iter()
                .map(|unlock| unlock.cultivar)
                .chain(snapshot.wants.iter().flat_map(|want| want.cultivars.iter().copied().take(1)))
                .collect();
            let names: BTreeMap<CultivarId, String> =
                cultivars::names_of(conn, &named)?.into_iter().collect();
            Ok::<_, Problem>(ExplanationOut::of(&auth, &snapshot, &outcome, &names, own))
        })
        .await?;
    Reply::ok(&told)
}
