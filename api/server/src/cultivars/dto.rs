//! What is taken and sent.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::cultivars::Cultivar;
use storksbill_db::rows::permissions::Permission;
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::names;
use storksbill_domain::words::{CultivarStatus, PlantGroup};
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

/// Years a cultivar can have been raised in; the schema has the same.
const YEARS: (i32, i32) = (1600, 2200);

/// A cultivar to enter.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CultivarIn {
    /// Name or seedling number, unlike that of any other cultivar of the group.
    pub name: String,
    /// Its group.
    pub plant_group: PlantGroup,
    /// Who raised it.
    #[serde(default)]
    pub raiser: Option<String>,
    /// The year it was raised, 1600 to 2200.
    #[serde(default)]
    pub raised_year: Option<i32>,
    /// How far it has come; only the registrar enters named ones.
    pub status: CultivarStatus,
    /// Breeders' rights are in force: ask the holder before propagating it for others, and defer to local rules.
    #[serde(default)]
    pub protected: bool,
    /// The parent that bore the seed, where known.
    #[serde(default)]
    pub seed_parent_id: Option<CultivarId>,
    /// The parent that gave the pollen, where known.
    #[serde(default)]
    pub pollen_parent_id: Option<CultivarId>,
    /// For a sport: what it sported from; it then has no parents of its own.
    #[serde(default)]
    pub sport_of_id: Option<CultivarId>,
    /// Anything else, up to 4,000 characters.
    #[serde(default)]
    pub notes: Option<String>,
}

impl Check for CultivarIn {
    fn check(&self, found: &mut Findings) {
        check_name(found, &self.name);
        found.optional_text("/raiser", self.raiser.as_deref(), 120);
        if let Some(year) = self.raised_year {
            found.range("/raised_year", year, YEARS.0, YEARS.1);
        }
        found.optional_text("/notes", self.notes.as_deref(), 4000);
        check_origin(found, [self.seed_parent_id, self.pollen_parent_id], self.sport_of_id);
    }
}

/// Changes to a cultivar.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CultivarPatch {
    /// Name or seedling number.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// Its group.
    #[serde(default)]
    #[schema(value_type = Option<PlantGroup>)]
    pub plant_group: Patch<PlantGroup>,
    /// Who raised it.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub raiser: Patch<String>,
    /// The year it was raised.
    #[serde(default)]
    #[schema(value_type = Option<i32>)]
    pub raised_year: Patch<i32>,
    /// How far it has come; only the registrar makes it named.
    #[serde(default)]
    #[schema(value_type = Option<CultivarStatus>)]
    pub status: Patch<CultivarStatus>,
    /// Breeders' rights are in force: ask the holder before propagating it for others, and defer to local rules.
    #[serde(default)]
    #[schema(value_type = Option<bool>)]
    pub protected: Patch<bool>,
    /// The parent that bore the seed.
    #[serde(default)]
    #[schema(value_type = Option<CultivarId>)]
    pub seed_parent_id: Patch<CultivarId>,
    /// The parent that gave the pollen.
    #[serde(default)]
    #[schema(value_type = Option<CultivarId>)]
    pub pollen_parent_id: Patch<CultivarId>,
    /// What it sported from.
    #[serde(default)]
    #[schema(value_type = Option<CultivarId>)]
    pub sport_of_id: Patch<CultivarId>,
    /// Anything else.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub notes: Patch<String>,
}

impl CultivarPatch {
    /// Whether it says anything of where the cultivar comes from.
    pub(super) fn touches_origin(&self) -> bool {
        [&self.seed_parent_id, &self.pollen_parent_id, &self.sport_of_id]
            .into_iter()
            .any(|parent| *parent != Patch::Absent)
    }
}

impl Check for CultivarPatch {
    fn check(&self, found: &mut Findings) {
        if let Some(name) = self.name.value() {
            check_name(found, name);
        }
        for (pointer, cleared) in [
            ("/name", self.name == Patch::Null),
            ("/plant_group", self.plant_group == Patch::Null),
            ("/status", self.status == Patch::Null),
            ("/protected", self.protected == Patch::Null),
        ] {
            if cleared {
                found.add(pointer, "required", "cannot be cleared");
            }
        }
        found.optional_text("/raiser", self.raiser.value().map(String::as_str), 120);
        if let Some(year) = self.raised_year.value() {
            found.range("/raised_year", *year, YEARS.0, YEARS.1);
        }
        found.optional_text("/notes", self.notes.value().map(String::as_str), 4000);
    }
}

fn check_name(found: &mut Findings, name: &str) {
    found.text("/name", name, 1, 120);
    if !name.trim().is_empty() && names::search_key(name).is_empty() {
        found.add("/name", "no-letters", "needs a letter or a digit, or nobody could look it up");
    }
}

/// A sport has one source and no parents.
pub(super) fn check_origin(
    found: &mut Findings,
    parents: [Option<CultivarId>; 2],
    sport_of: Option<CultivarId>,
) {
    if sport_of.is_some() && parents.iter().any(Option::is_some) {
        found.add("/sport_of_id", "sport-with-parents", "a sport has a source and no parents; leave out one");
    }
}

/// A cultivar, named or still a seedling.
#[derive(Debug, Serialize, ToSchema)]
pub struct CultivarOut {
    /// Identity.
    pub id: CultivarId,
    /// Name or seedling number.
    pub name: String,
    /// Its group.
    pub plant_group: PlantGroup,
    /// Who raised it.
    pub raiser: Option<String>,
    /// The year it was raised.
    pub raised_year: Option<i32>,
    /// How far it has come.
    pub status: CultivarStatus,
    /// Breeders' rights are in force: ask the holder before propagating it for others, and defer to local rules.
    pub protected: bool,
    /// The parent that bore the seed.
    pub seed_parent_id: Option<CultivarId>,
    /// The parent that gave the pollen.
    pub pollen_parent_id: Option<CultivarId>,
    /// What it sported from.
    pub sport_of_id: Option<CultivarId>,
    /// Anything else.
    pub notes: Option<String>,
    /// The member who entered it, and who may change it until it is named.
    pub entered_by: Option<MemberId>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl CultivarOut {
    pub(super) fn of(cultivar: Cultivar) -> Self {
        Self {
            id: cultivar.id,
            name: cultivar.name,
            plant_group: cultivar.plant_group,
            raiser: cultivar.raiser,
            raised_year: cultivar.raised_year,
            status: cultivar.status,
            protected: cultivar.protected,
            seed_parent_id: cultivar.seed_parent_id,
            pollen_parent_id: cultivar.pollen_parent_id,
            sport_of_id: cultivar.sport_of_id,
            notes: cultivar.notes,
            entered_by: cultivar.entered_by,
            version: cultivar.version,
        }
    }
}

/// The permission of the holder of a protected cultivar's rights.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PermissionIn {
    /// What was permitted, by whom and when, 2 to 1,000 characters; members can read it.
    pub words: String,
    /// The last day it holds; without an end when not given.
    #[serde(default)]
    pub until: Option<NaiveDate>,
}

impl Check for PermissionIn {
    fn check(&self, found: &mut Findings) {
        found.text("/words", &self.words, 2, 1000);
    }
}

/// The permission of the holder of a protected cultivar's rights.
#[derive(Debug, Serialize, ToSchema)]
pub struct PermissionOut {
    /// Of which cultivar.
    pub cultivar_id: CultivarId,
    /// What was permitted, by whom and when.
    pub words: String,
    /// The last day it holds; null where no end was set.
    pub until: Option<NaiveDate>,
    /// The officer who recorded it.
    pub recorded_by: MemberId,
    /// When.
    pub recorded_at: DateTime<Utc>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl PermissionOut {
    pub(super) fn of(permission: Permission) -> Self {
        Self {
            cultivar_id: permission.cultivar_id,
            words: permission.words,
            until: permission.until_on,
            recorded_by: permission.recorded_by,
            recorded_at: permission.recorded_at.and_utc(),
            version: permission.version,
        }
    }
}
