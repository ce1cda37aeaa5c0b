//! The day, judging and results as they are taken and sent.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_domain::ids::{ClassId, EntryId, MemberId, ProtestId, ShowId};
use storksbill_domain::shows::Pence;
use storksbill_domain::shows::{
    Answer, EntryNumber, JudgedExhibit, JudgesChoice, Points, ReasonTold, ResultFinding, ShowResults,
    TrophyOutcome, Verdict,
};
use storksbill_domain::words::{ProtestState, ResultState};
use utoipa::ToSchema;

use super::entry_dto::{ClassNameOut, ItemIn};
use super::published::{number_not_name, numbers_not_names};
use crate::http::json::{Check, Findings};

/// What came to the hall, and what a steward measured.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StagingIn {
    /// Whether it stands on the bench; else it has only come to the hall.
    #[serde(default)]
    pub staged: bool,
    /// The plants as the steward measured them, in the order of the entry; as entered when not given.
    #[serde(default)]
    pub measured: Option<Vec<ItemIn>>,
}

impl Check for StagingIn {
    fn check(&self, found: &mut Findings) {
        if self.measured.as_ref().is_some_and(|items| items.is_empty() || items.len() > 50) {
            found.add("/measured", "out-of-range", "are 1 to 50");
        }
    }
}

/// An exhibit in the hall, and whether it fits its class as it was measured.
#[derive(Debug, Serialize, ToSchema)]
pub struct StagedOut {
    /// Identity.
    pub entry_id: EntryId,
    /// The number on the card.
    pub number: i64,
    /// Its class.
    pub class: ClassNameOut,
    /// When it came to the hall.
    pub checked_in_at: Option<DateTime<Utc>>,
    /// When it was staged.
    pub staged_at: Option<DateTime<Utc>>,
    /// Whether it fits.
    pub answer: Answer,
    /// What is to be put right before judging, or moved to the class that it fits.
    pub reasons: Vec<ReasonTold>,
    /// The entry's version; also the `ETag`.
    pub version: i32,
}

/// To which class, and why.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MoveIn {
    /// The class that it fits.
    pub class_id: ClassId,
    /// Why, 4 to 500 characters.
    pub reason: String,
}

impl Check for MoveIn {
    fn check(&self, found: &mut Findings) {
        found.text("/reason", &self.reason, 4, 500);
    }
}

/// What a judge says of a class.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JudgmentIn {
    /// The exhibits that something is said of; those not named have no place.
    pub judged: Vec<JudgedExhibit>,
    /// Places that are shared on purpose.
    #[serde(default)]
    pub equal: Vec<u32>,
    /// Places withheld for want of merit or competition.
    #[serde(default)]
    pub withheld: Vec<u32>,
    /// A remark for the class, up to 500 characters; everybody reads it with the results.
    #[serde(default)]
    pub remark: Option<String>,
    /// Why it is corrected; needed from the second version on.
    #[serde(default)]
    pub reason: Option<String>,
    /// The judge's name; the asker's own where the asker judges the class.
    #[serde(default)]
    pub judge: Option<String>,
    /// The judge has signed it.
    #[serde(default)]
    pub signed_off: bool,
}

impl Check for JudgmentIn {
    fn check(&self, found: &mut Findings) {
        found.optional_text("/remark", self.remark.as_deref(), 500);
        if let Some(reason) = &self.reason {
            found.text("/reason", reason, 4, 500);
        }
        found.optional_text("/judge", self.judge.as_deref(), 120);
        for (at, judged) in self.judged.iter().enumerate() {
            let (Verdict::NotAsSchedule { reason } | Verdict::Disqualified { reason }) = &judged.verdict
            else {
                continue;
            };
            found.text(&format!("/judged/{at}/verdict/reason"), reason, 4, 500);
        }
    }
}

/// An exhibit as a steward looks for it.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToStageOut {
    /// The entry.
    pub entry_id: EntryId,
    /// Its number.
    pub number: i64,
    /// Where it stands.
    pub class: ClassNameOut,
    /// What stands on its card beside the number.
    pub label: Option<String>,
    /// When it came to the hall.
    pub checked_in_at: Option<DateTime<Utc>>,
    /// When it was staged.
    pub staged_at: Option<DateTime<Utc>>,
    /// Counts up at each change; the number in the `ETag` of the entry.
    pub version: i32,
}

/// A class as its judge sees it: entry numbers, and no names.
#[derive(Debug, Serialize, ToSchema)]
pub struct JudgingOut {
    /// The class.
    pub class: ClassNameOut,
    /// The numbers of its staged exhibits.
    pub staged: Vec<EntryNumber>,
    /// What was said last.
    pub judgment: Option<JudgmentOut>,
}

/// What was said of a class.
#[derive(Debug, Serialize, ToSchema)]
pub struct JudgmentOut {
    /// The show.
    pub show_id: ShowId,
    /// The class.
    pub class_id: ClassId,
    /// 1 for the first; also the `ETag`.
    pub version: i32,
    /// The exhibits that something was said of.
    pub judged: Vec<JudgedExhibit>,
    /// Places shared on purpose.
    pub equal: Vec<u32>,
    /// Places withheld.
    pub withheld: Vec<u32>,
    /// A remark for the class.
    pub remark: Option<String>,
    /// Why it was corrected.
    pub reason: Option<String>,
    /// Who judged.
    pub judge: String,
    /// The judge has signed it.
    pub signed_off: bool,
    /// Who typed it.
    pub entered_by: MemberId,
    /// When.
    pub entered_at: DateTime<Utc>,
}

/// What judges chose for a trophy.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChoiceIn {
    /// The best exhibit, the winner among equals, or withheld.
    pub choice: JudgesChoice,
    /// Who chose, 2 to 200 characters.
    pub judge: String,
}

impl Check for ChoiceIn {
    fn check(&self, found: &mut Findings) {
        found.text("/judge", &self.judge, 2, 200);
    }
}

/// Results to give out.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ResultsIn {
    /// How firm: provisional first, final when no protest is open.
    pub state: ResultState,
    /// Why they are given out anew; needed from the second time on, unless they only become final.
    #[serde(default)]
    pub reason: Option<String>,
}

impl Check for ResultsIn {
    fn check(&self, found: &mut Findings) {
        if let Some(reason) = &self.reason {
            found.text("/reason", reason, 4, 500);
        }
    }
}

/// Results as they would be given out now, with all working: for officers of the club.
#[derive(Debug, Serialize, ToSchema)]
pub struct WorkingOut {
    /// Class by class, exhibitor by exhibitor, trophy by trophy.
    pub results: ShowResults,
    /// What does not add up; an `error` keeps them from being given out.
    pub findings: Vec<ResultFinding>,
}

/// One exhibit in published results.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub struct PublishedLine {
    /// Its number.
    pub entry: i64,
    /// Whose, by the exhibitor's number at the show; `names` beside the results tells the name. Null of an exhibit that
    /// was put out: whose it was is not published.
    #[serde(default, deserialize_with = "number_not_name")]
    pub exhibitor: Option<i32>,
    /// What stood on the card; null of an exhibit that was put out.
    pub label: Option<String>,
    /// Its place.
    pub place: Option<u32>,
    /// How many share the place.
    pub sharing: u32,
    /// What was said, where it has no place.
    #[schema(value_type = Option<Verdict>)]
    pub verdict: Option<serde_json::Value>,
    /// Its points.
    #[schema(value_type = Points)]
    pub points: serde_json::Value,
}

/// A class in published results.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub struct PublishedClass {
    /// Identity.
    pub class_id: ClassId,
    /// Its number.
    pub label: String,
    /// What was asked for.
    pub title: String,
    /// How many exhibits were staged.
    pub staged: u32,
    /// Places withheld.
    pub withheld: Vec<u32>,
    /// The judge's remark.
    pub remark: Option<String>,
    /// Exhibits of which something was said, by place.
    pub lines: Vec<PublishedLine>,
}

/// A trophy in published results.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub struct PublishedTrophy {
    /// What it is known by.
    pub key: String,
    /// As printed.
    pub title: String,
    /// Who won it, by their numbers at the show; several where it is shared, none where it is not won.
    #[serde(deserialize_with = "numbers_not_names")]
    pub winners: Vec<i32>,
    /// For which exhibit.
    pub entry: Option<i64>,
    /// How it ended.
    #[schema(value_type = TrophyOutcome)]
    pub outcome: serde_json::Value,
}

/// Results as they were given out.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub struct PublishedOut {
    /// Class by class.
    pub classes: Vec<PublishedClass>,
    /// Trophy by trophy.
    pub trophies: Vec<PublishedTrophy>,
}

/// How an exhibitor is told now.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToldName {
    /// The exhibitor's number at the show.
    pub exhibitor: i32,
    /// By name, by initials, or as `Exhibitor 17`: as the exhibitor chose, less for those who are shielded or left.
    pub name: String,
}

/// Results as they were given out, each time.
#[derive(Debug, Serialize, ToSchema)]
pub struct ResultsOut {
    /// The show.
    pub show_id: ShowId,
    /// 1 for the first time.
    pub number: i32,
    /// How firm.
    pub state: ResultState,
    /// SHA-256 of `results` as canonical JSON (RFC 8785), in hex. Names stand beside them and are not in it.
    pub sha256: String,
    /// False of results that were given out when names still stood in what was hashed: they are not told any more, so that
    /// the hash cannot be worked out from `results`.
    pub is_as_hashed: bool,
    /// By which version of the schedule.
    pub schedule_number: i32,
    /// Why they were given out anew.
    pub reason: Option<String>,
    /// When.
    pub given_at: DateTime<Utc>,
    /// Until when protests are taken, where they are.
    pub protests_until: Option<DateTime<Utc>>,
    /// The results: exhibitors by their numbers.
    pub results: PublishedOut,
    /// Who they are, by number, as they are told today. A name that is taken back changes here at once.
    pub names: Vec<ToldName>,
}

/// A protest to raise.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProtestIn {
    /// About which class.
    #[serde(default)]
    pub class_id: Option<ClassId>,
    /// What is held, 10 to 2,000 characters.
    pub words: String,
    /// What is paid with it, in pence.
    #[serde(default)]
    pub deposit_pence: Pence,
}

impl Check for ProtestIn {
    fn check(&self, found: &mut Findings) {
        found.text("/words", &self.words, 10, 2_000);
        found.range("/deposit_pence", self.deposit_pence.0, 0, 1_000_000);
    }
}

/// What was decided.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DecisionIn {
    /// `upheld` or `dismissed`.
    pub state: ProtestState,
    /// Who sat, 2 to 500 characters.
    pub sat: String,
    /// What they found, 4 to 2,000 characters.
    pub outcome: String,
    /// Whether the deposit is given back.
    pub deposit_returned: bool,
}

impl Check for DecisionIn {
    fn check(&self, found: &mut Findings) {
        if !matches!(self.state, ProtestState::Upheld | ProtestState::Dismissed) {
            found.add("/state", "not-a-decision", "is `upheld` or `dismissed`");
        }
        found.text("/sat", &self.sat, 2, 500);
        found.text("/outcome", &self.outcome, 4, 2_000);
    }
}

/// A protest.
#[derive(Debug, Serialize, ToSchema)]
pub struct ProtestOut {
    /// Identity.
    pub id: ProtestId,
    /// The show.
    pub show_id: ShowId,
    /// About which class.
    pub class_id: Option<ClassId>,
    /// Who raised it.
    pub raised_by: MemberId,
    /// When.
    pub raised_at: DateTime<Utc>,
    /// What is held.
    pub words: String,
    /// What was paid with it, in pence.
    pub deposit_pence: i64,
    /// Where it stands.
    pub state: ProtestState,
    /// Who sat.
    pub sat: Option<String>,
    /// What they found.
    pub outcome: Option<String>,
    /// Whether the deposit was given back.
    pub deposit_returned: Option<bool>,
    /// When it was decided.
    pub decided_at: Option<DateTime<Utc>>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}
