//! Schedules as they are taken and sent.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::shows::Version;
use storksbill_domain::ids::{ClassId, MemberId, OfficialId, ShowId};
use storksbill_domain::shows::{
    ClassLabel, ClassRules, ClassSet, ConflictFinding, ScheduleChange, ScheduleClass, ScheduleFinding,
    ShowSchedule,
};
use storksbill_domain::words::OfficialRole;
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

/// Most classes of a schedule.
const MOST_CLASSES: usize = 2_000;

impl Check for ShowSchedule {
    fn check(&self, found: &mut Findings) {
        found.text("/title", &self.title, 2, 120);
        if self.classes.len() > MOST_CLASSES {
            found.add("/classes", "too-many", format!("are at most {MOST_CLASSES}"));
        }
        let mut met = std::collections::BTreeSet::new();
        for (at, class) in self.classes.iter().enumerate() {
            if !met.insert(class.id) {
                found.add(&format!("/classes/{at}/id"), "twice", "is the id of another class");
            }
            check_class(found, &format!("/classes/{at}"), &class.title, &class.rules);
        }
    }
}

fn check_class(found: &mut Findings, pointer: &str, title: &str, rules: &ClassRules) {
    found.text(&format!("{pointer}/title"), title, 2, 200);
    found.optional_text(&format!("{pointer}/rules/words"), rules.words.as_deref(), 2_000);
    if rules.slots.is_empty() {
        found.add(&format!("{pointer}/rules/slots"), "required", "asks for one thing at least");
    }
}

/// The schedule that is worked on.
#[derive(Debug, Serialize, ToSchema)]
pub struct DraftOut {
    /// The show.
    pub show_id: ShowId,
    /// The schedule as it would be published.
    pub schedule: ShowSchedule,
    /// What to look at before it is published; `error` keeps it from being published.
    pub findings: Vec<ScheduleFinding>,
    /// What differs from the version in force.
    pub changes: Vec<ScheduleChange>,
    /// The show's version; also the `ETag`.
    pub version: i32,
}

/// A class to put into the draft.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassIn {
    /// The number printed beside it, unlike that of any other class of the show: up to 3 letters, a number, up to
    /// 2 letters.
    #[schema(example = "106A")]
    pub label: ClassLabel,
    /// The key of the section it stands in.
    #[serde(default)]
    pub section: Option<String>,
    /// What is asked for, in one line.
    #[schema(example = "One regal pelargonium")]
    pub title: String,
    /// The class of an earlier show that it goes on from.
    #[serde(default)]
    pub follows: Option<ClassId>,
    /// What it demands.
    pub rules: ClassRules,
}

impl Check for ClassIn {
    fn check(&self, found: &mut Findings) {
        check_class(found, "", &self.title, &self.rules);
    }
}

impl ClassIn {
    pub(super) fn into_class(self, id: ClassId) -> ScheduleClass {
        let Self { label, section, title, follows, rules } = self;
        ScheduleClass { id, label, section, title, follows, rules }
    }
}

/// A class of a schedule.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClassOut {
    /// Identity; the label is only printed.
    pub id: ClassId,
    /// The show.
    pub show_id: ShowId,
    /// The number printed beside it.
    pub label: ClassLabel,
    /// The key of the section it stands in.
    pub section: Option<String>,
    /// What is asked for, in one line.
    pub title: String,
    /// The class of an earlier show that it goes on from.
    pub follows: Option<ClassId>,
    /// What it demands.
    pub rules: ClassRules,
    /// The version of the schedule it stands in; 0 for the draft.
    pub schedule_number: i32,
}

impl ClassOut {
    pub(super) fn of(show_id: ShowId, schedule_number: i32, class: ScheduleClass) -> Self {
        let ScheduleClass { id, label, section, title, follows, rules } = class;
        Self { id, show_id, label, section, title, follows, rules, schedule_number }
    }
}

/// From which show to copy.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CopyIn {
    /// A show of the same club whose schedule was published.
    pub from_show_id: ShowId,
}

impl Check for CopyIn {
    fn check(&self, _found: &mut Findings) {}
}

/// What is published.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PublicationIn {
    /// Why the schedule is amended, 4 to 500 characters; left out the first time. Everybody reads it.
    #[serde(default)]
    pub reason: Option<String>,
}

impl Check for PublicationIn {
    fn check(&self, found: &mut Findings) {
        if let Some(reason) = &self.reason {
            found.text("/reason", reason, 4, 500);
        }
    }
}

/// Why a show is called off.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CancellationIn {
    /// 4 to 500 characters; everybody reads it.
    pub reason: String,
}

impl Check for CancellationIn {
    fn check(&self, found: &mut Findings) {
        found.text("/reason", &self.reason, 4, 500);
    }
}

/// A published version of a schedule, without its text.
#[derive(Debug, Serialize, ToSchema)]
pub struct VersionOut {
    /// The show.
    pub show_id: ShowId,
    /// 1 for the first.
    pub number: i32,
    /// SHA-256 of the schedule as canonical JSON, in hex.
    pub sha256: String,
    /// Why it was amended.
    pub reason: Option<String>,
    /// What differs from the version before.
    pub changes: Vec<ScheduleChange>,
    /// When it was published.
    pub published_at: DateTime<Utc>,
}

impl VersionOut {
    pub(super) fn of(version: &Version) -> Result<Self, crate::http::problem::Problem> {
        Ok(Self {
            show_id: version.show_id,
            number: version.number,
            sha256: version.sha256.clone(),
            reason: version.reason.clone(),
            changes: super::documents::part(&version.changes)?,
            published_at: version.published_at.and_utc(),
        })
    }
}

/// A published version of a schedule.
#[derive(Debug, Serialize, ToSchema)]
pub struct ScheduleOut {
    /// Which.
    pub version: VersionOut,
    /// Its text.
    pub schedule: ShowSchedule,
}

/// A judge or steward to appoint.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OfficialIn {
    /// What they do.
    pub role: OfficialRole,
    /// The member, where it is one.
    #[serde(default)]
    pub member_id: Option<MemberId>,
    /// As printed; a member's own name when not given.
    #[serde(default)]
    pub name: Option<String>,
    /// The classes.
    pub classes: ClassSet,
}

impl Check for OfficialIn {
    fn check(&self, found: &mut Findings) {
        match (&self.name, self.member_id) {
            (Some(name), _) => found.text("/name", name, 2, 120),
            (None, None) => found.add("/name", "required", "is required for a guest"),
            (None, Some(_)) => {}
        }
    }
}

/// Changes to a judge or steward.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OfficialPatch {
    /// What they do.
    #[serde(default)]
    #[schema(value_type = Option<OfficialRole>)]
    pub role: Patch<OfficialRole>,
    /// The member, where it is one; null for a guest.
    #[serde(default)]
    #[schema(value_type = Option<MemberId>)]
    pub member_id: Patch<MemberId>,
    /// As printed; null for a member's own name.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// The classes.
    #[serde(default)]
    #[schema(value_type = Option<ClassSet>)]
    pub classes: Patch<ClassSet>,
}

impl Check for OfficialPatch {
    fn check(&self, found: &mut Findings) {
        if let Some(name) = self.name.value() {
            found.text("/name", name, 2, 120);
        }
        for (pointer, cleared) in
            [("/role", self.role == Patch::Null), ("/classes", self.classes == Patch::Null)]
        {
            if cleared {
                found.add(pointer, "required", "cannot be cleared");
            }
        }
    }
}

/// A judge or steward.
#[derive(Debug, Serialize, ToSchema)]
pub struct OfficialOut {
    /// Identity.
    pub id: OfficialId,
    /// The show.
    pub show_id: ShowId,
    /// What they do.
    pub role: OfficialRole,
    /// The member, where it is one.
    pub member_id: Option<MemberId>,
    /// As printed.
    pub name: String,
    /// The classes.
    pub classes: ClassSet,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

/// Interests that judges and stewards may not have.
#[derive(Debug, Serialize, ToSchema)]
pub struct InterestsOut {
    /// The weightiest first.
    pub findings: Vec<ConflictFinding>,
}
