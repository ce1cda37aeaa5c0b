//! What is taken and sent.

use chrono::{DateTime, NaiveDateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::cultivar_names::OtherName;
use storksbill_domain::day::Day;
use storksbill_domain::ids::{CultivarId, CultivarNameId, MemberId};
use storksbill_domain::names;
use storksbill_domain::nomenclature::{Finding, Likeness, PlantName, Severity, Style, format};
use storksbill_domain::words::OtherNameKind;
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};

/// Longest text that is read.
const LONGEST: usize = 300;

/// A name to be checked.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NameIn {
    /// The cultivar's name, with or without genus, species, Group and quotation marks; at most 300 characters:
    /// `Pelargonium 'Harbour Light'`, or `Harbour Light`.
    pub name: String,
    /// The day it was published, where it was; rules that came later do not bind it. Leave it out for a new name.
    #[serde(default)]
    pub published_on: Option<Day>,
    /// The cultivar of the register whose name it is, so that it is not held against itself.
    #[serde(default)]
    pub cultivar_id: Option<CultivarId>,
}

impl Check for NameIn {
    fn check(&self, found: &mut Findings) {
        found.text("/name", &self.name, 1, LONGEST);
    }
}

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// Worth knowing.
    Info,
    /// Against advice, or for a person to decide.
    Warning,
    /// Bars the name from being proposed for registration. It can be recorded all the same.
    Error,
}

/// Something that speaks against a name.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub struct NameFinding {
    /// The rule; stable.
    pub rule: String,
    /// How much it weighs.
    pub severity: Weight,
    /// Where in the text: the first byte, and the byte after the last, counted from 0 in UTF-8.
    pub span: [usize; 2],
    /// The same in a sentence.
    pub message: String,
    /// The whole text, mended, where that can be done.
    pub fix: Option<String>,
}

impl NameFinding {
    pub(super) fn of(finding: Finding) -> Self {
        Self {
            rule: finding.rule.id().to_owned(),
            severity: match finding.severity {
                Severity::Info => Weight::Info,
                Severity::Warning => Weight::Warning,
                Severity::Error => Weight::Error,
            },
            span: [finding.span.start, finding.span.end],
            message: finding.message,
            fix: finding.fix,
        }
    }
}

/// A name of the register that is close to the one asked about.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
pub struct NearName {
    /// The cultivar.
    pub cultivar_id: CultivarId,
    /// Its name.
    pub name: String,
    /// How it is like the one asked about, in words.
    pub likeness: String,
    /// Where it is a synonym or any other name of the cultivar: what the cultivar is called.
    #[serde(default)]
    pub other_name_of: Option<String>,
}

impl NearName {
    pub(super) fn words(likeness: Likeness) -> String {
        match likeness {
            Likeness::Same => "the same name".to_owned(),
            Likeness::Edits(1) => "one letter apart".to_owned(),
            Likeness::Edits(n) => format!("{n} letters apart"),
            Likeness::Alike(_) => "much alike".to_owned(),
            Likeness::Sound => "sounds alike".to_owned(),
        }
    }
}

/// The parts of a name.
#[derive(Debug, Serialize, ToSchema)]
pub struct NameParts {
    /// The genus.
    pub genus: Option<String>,
    /// The species.
    pub species: Option<String>,
    /// The grex.
    pub grex: Option<String>,
    /// The Group, without the word.
    pub group: Option<String>,
    /// The cultivar epithet, without quotation marks.
    pub epithet: Option<String>,
    /// A trade designation, which is no name under the rules.
    pub trade_designation: Option<String>,
}

/// A name, read, written properly, and checked.
#[derive(Debug, Serialize, ToSchema)]
pub struct NameOut {
    /// As it is properly written.
    pub written: String,
    /// The same with markup for print: Latin in italics.
    pub html: String,
    /// Its parts.
    pub parts: NameParts,
    /// Whether it could be proposed for registration as far as the rules here tell. A registrar decides.
    pub may_be_proposed: bool,
    /// What speaks against it.
    pub findings: Vec<NameFinding>,
    /// Names of the register that are close to it, the closest first; at most 20.
    pub near: Vec<NearName>,
}

impl NameOut {
    pub(super) fn parts(name: &PlantName) -> NameParts {
        NameParts {
            genus: name.genus.clone(),
            species: name.species.clone(),
            grex: name.grex.clone(),
            group: name.group.clone(),
            epithet: name.epithet.clone(),
            trade_designation: name.trade_designation.clone(),
        }
    }

    pub(super) fn written(name: &PlantName) -> (String, String) {
        (format(name, Style::Text), format(name, Style::Html))
    }
}

/// Another name of a cultivar.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OtherNameIn {
    /// The name, up to 120 characters.
    pub name: String,
    /// What it is.
    pub kind: OtherNameKind,
    /// Anything else, up to 1,000 characters.
    #[serde(default)]
    pub note: Option<String>,
}

impl Check for OtherNameIn {
    fn check(&self, found: &mut Findings) {
        found.text("/name", &self.name, 1, 120);
        if !self.name.trim().is_empty() && names::search_key(&self.name).is_empty() {
            found.add("/name", "no-letters", "needs a letter or a digit, or nobody could look it up");
        }
        found.optional_text("/note", self.note.as_deref(), 1000);
    }
}

impl OtherNameIn {
    pub(super) fn into_row(self, cultivar_id: CultivarId, by: MemberId, now: NaiveDateTime) -> OtherName {
        OtherName {
            id: CultivarNameId::fresh(),
            cultivar_id,
            name: names::tidy(&self.name),
            name_key: names::search_key(&self.name),
            kind: self.kind,
            note: self.note,
            entered_by: by,
            created_at: now,
        }
    }
}

/// Another name of a cultivar.
#[derive(Debug, Serialize, ToSchema)]
pub struct OtherNameOut {
    /// Identity.
    pub id: CultivarNameId,
    /// Whose name it is.
    pub cultivar_id: CultivarId,
    /// The name.
    pub name: String,
    /// What it is.
    pub kind: OtherNameKind,
    /// Anything else.
    pub note: Option<String>,
    /// Who entered it.
    pub entered_by: MemberId,
    /// When.
    pub created_at: DateTime<Utc>,
}

impl OtherNameOut {
    pub(super) fn of(row: OtherName) -> Self {
        Self {
            id: row.id,
            cultivar_id: row.cultivar_id,
            name: row.name,
            kind: row.kind,
            note: row.note,
            entered_by: row.entered_by,
            created_at: row.created_at.and_utc(),
        }
    }
}
