//! What is taken and sent.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::registrations::{Registration, Step, Told};
use storksbill_domain::day::Day;
use storksbill_domain::ids::{CultivarId, MemberId, RegistrationId, RegistrationStepId, SeedlingId};
use storksbill_domain::words::{PlantGroup, RegistrationState, RegistrationStepKind};
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::problem::{Code, Problem};
use crate::names::{NameFinding, NearName, Weight};
use crate::notices::check_words;

/// Longest name that is read; what is too long by the rules is a finding.
const NAME: usize = 120;
/// Longest reason.
const WORDS: usize = 1000;

/// A name to propose: for a cultivar that you entered, or that became of a seedling of yours.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProposalIn {
    /// The cultivar; give it or the seedling.
    #[serde(default)]
    pub cultivar_id: Option<CultivarId>,
    /// A numbered seedling of yours that is entered as a cultivar.
    #[serde(default)]
    pub seedling_id: Option<SeedlingId>,
    /// The name, up to 120 characters; of a full name the epithet is taken.
    pub name: String,
    /// The day it was published, where it was; rules that came later do not bind it.
    #[serde(default)]
    pub published_on: Option<Day>,
    /// What the registrar should know, up to 1,000 characters.
    #[serde(default)]
    pub words: Option<String>,
}

impl Check for ProposalIn {
    fn check(&self, found: &mut Findings) {
        if self.cultivar_id.is_some() == self.seedling_id.is_some() {
            found.add("", "one-of", "give a cultivar or a seedling");
        }
        check_name(found, &self.name);
        if let Some(words) = &self.words {
            check_words(found, "/words", words, WORDS);
        }
    }
}

fn check_name(found: &mut Findings, name: &str) {
    found.text("/name", name, 1, NAME);
    if !name.trim().is_empty() && storksbill_domain::names::search_key(name).is_empty() {
        found.add("/name", "no-letters", "needs a letter or a digit, or nobody could look it up");
    }
}

/// An answer to the registrar, which proposes the name again.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NameAnswerIn {
    /// The answer, up to 1,000 characters.
    pub words: String,
    /// Another name instead; the same when not given.
    #[serde(default)]
    pub name: Option<String>,
}

impl Check for NameAnswerIn {
    fn check(&self, found: &mut Findings) {
        check_words(found, "/words", &self.words, WORDS);
        if let Some(name) = &self.name {
            check_name(found, name);
        }
    }
}

/// A question, or why a name is refused; the proposer is told it.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReasonIn {
    /// In words, up to 1,000 characters.
    pub reason: String,
}

impl Check for ReasonIn {
    fn check(&self, found: &mut Findings) {
        check_words(found, "/reason", &self.reason, WORDS);
    }
}

/// Why, where there is anything to say; send `{}` where there is not.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RemarkIn {
    /// In words, up to 1,000 characters.
    #[serde(default)]
    pub reason: Option<String>,
}

impl Check for RemarkIn {
    fn check(&self, found: &mut Findings) {
        if let Some(reason) = &self.reason {
            check_words(found, "/reason", reason, WORDS);
        }
    }
}

/// What spoke against a name when it was proposed; kept with it.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Against {
    pub findings: Vec<NameFinding>,
    pub near: Vec<NearName>,
}

impl Against {
    /// As it is stored.
    pub fn text(&self) -> Result<String, Problem> {
        serde_json::to_string(self)
            .map_err(|error| Problem::new(Code::Internal, format!("The findings cannot be kept: {error}.")))
    }

    pub fn read(text: &str) -> Result<Self, Problem> {
        serde_json::from_str(text)
            .map_err(|error| Problem::new(Code::Internal, format!("The findings cannot be read: {error}.")))
    }

    /// Refuses a name that the rules bar, with each finding that does.
    pub fn bar(&self) -> Result<(), Problem> {
        let mut found = Findings::default();
        for finding in self.findings.iter().filter(|finding| finding.severity == Weight::Error) {
            found.add("/name", &finding.rule, &finding.message);
        }
        found.into_result()
    }

    /// Whether somebody has to say why it is registered all the same.
    pub fn warns(&self) -> bool {
        self.findings.iter().any(|finding| finding.severity == Weight::Warning)
    }
}

/// A name before the registrar.
#[derive(Debug, Serialize, ToSchema)]
pub struct RegistrationOut {
    /// Identity.
    pub id: RegistrationId,
    /// The cultivar.
    pub cultivar_id: CultivarId,
    /// What the cultivar is called now.
    pub cultivar_name: String,
    /// Who proposed it.
    pub proposed_by: MemberId,
    /// Their name.
    pub proposer_name: String,
    /// The name proposed, without quotation marks.
    pub name: String,
    /// The day it was published, where it was before it was proposed.
    pub published_on: Option<NaiveDate>,
    /// Where it stands.
    pub state: RegistrationState,
    /// What spoke against it when it was last proposed; places are those of `name`.
    pub findings: Vec<NameFinding>,
    /// Names of the register that were close to it then.
    pub near: Vec<NearName>,
    /// Its number in the register, once it is registered.
    pub registration_no: Option<i32>,
    /// The day it was registered.
    pub registered_on: Option<NaiveDate>,
    /// Counts up at each step.
    pub version: i32,
    /// When it was first proposed.
    pub created_at: DateTime<Utc>,
}

impl RegistrationOut {
    pub(super) fn of((row, cultivar_name, proposer_name): Told) -> Result<Self, Problem> {
        let Against { findings, near } = Against::read(&row.findings)?;
        let Registration { id, cultivar_id, proposed_by, name, published_on, state, .. } = row;
        Ok(Self {
            id,
            cultivar_id,
            cultivar_name,
            proposed_by,
            proposer_name,
            name,
            published_on,
            state,
            findings,
            near,
            registration_no: row.registration_no,
            registered_on: row.registered_on,
            version: row.version,
            created_at: row.created_at.and_utc(),
        })
    }
}

/// A step in the registration of a name.
#[derive(Debug, Serialize, ToSchema)]
pub struct StepOut {
    /// Identity.
    pub id: RegistrationStepId,
    /// What was done.
    pub kind: RegistrationStepKind,
    /// Who did it.
    pub member_id: MemberId,
    /// Their name.
    pub member_name: String,
    /// The name at that time.
    pub name: String,
    /// What then spoke against it.
    pub findings: Vec<NameFinding>,
    /// Why.
    pub reason: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

impl StepOut {
    pub(super) fn of((step, member_name): (Step, String)) -> Result<Self, Problem> {
        Ok(Self {
            id: step.id,
            kind: step.kind,
            member_id: step.taken_by,
            member_name,
            name: step.name,
            findings: Against::read(&step.findings)?.findings,
            reason: step.reason,
            at: step.created_at.and_utc(),
        })
    }
}

/// A parent in the register.
#[derive(Debug, Serialize, ToSchema)]
pub struct RegisterParent {
    /// Its name; null where it is not disclosed.
    pub name: Option<String>,
    /// It is known and not disclosed.
    pub undisclosed: bool,
}

/// One that may have given the pollen.
#[derive(Debug, Serialize, ToSchema)]
pub struct RegisterCandidate {
    /// Which; null for a stranger.
    pub parent: Option<RegisterParent>,
    /// How likely, in thousandths.
    pub share_thousandths: i32,
}

/// A registered name.
#[derive(Debug, Serialize, ToSchema)]
pub struct RegisterEntry {
    /// Its number in the register.
    pub number: i32,
    /// The name, without quotation marks.
    pub name: String,
    /// The cultivar.
    pub cultivar_id: CultivarId,
    /// What the cultivar is called now; another name where its record was merged into another since.
    pub current_name: String,
    /// Its group.
    pub plant_group: PlantGroup,
    /// Who raised it.
    pub raiser: Option<String>,
    /// The parent that bore the seed; null where it is not known.
    pub seed_parent: Option<RegisterParent>,
    /// The parent that gave the pollen; null where it is not known, or one of several.
    pub pollen_parent: Option<RegisterParent>,
    /// Those of whom one gave the pollen, with how likely each is; empty where it is one or not known.
    pub pollen_candidates: Vec<RegisterCandidate>,
    /// What it sported from, was struck from, or was doubled from; null where that is not known.
    pub source: Option<RegisterParent>,
    /// The day it was registered.
    pub registered_on: NaiveDate,
}
