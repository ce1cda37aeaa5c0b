//! What is taken and sent.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::plants::{DiaryEntry, Held, Plant};
use storksbill_domain::day::Day;
use storksbill_domain::ids::{CultivarId, DiaryId, MemberId, PlantId, RegionId};
use storksbill_domain::names;
use storksbill_domain::words::{DiaryKind, Environment, GrowthForm, PlantGroup, Visibility};
use utoipa::ToSchema;

use super::{pots, rules};
use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;
use crate::http::problem::Problem;

/// Who may see a plant of which nothing else is said.
pub(super) fn society() -> Visibility {
    Visibility::Society
}

/// A plant to enter, or several of one batch.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlantIn {
    /// What it is.
    pub cultivar_id: CultivarId,
    /// How many of them, 0 to 100,000; they share one label and one diary.
    pub how_many: i32,
    /// Pot size: the inner diameter at the rim in millimetres, 10 to 2,000, with at most three decimals. An
    /// inch is 25.4 mm: a 4.5 in pot is 114.3.
    #[serde(default)]
    pub pot_mm: Option<f64>,
    /// Under what it grows.
    pub environment: Environment,
    /// The temperature kept, 0 to 35 degrees C: required where the environment is `heated`, empty otherwise.
    #[serde(default)]
    pub heated_to_c: Option<f64>,
    /// The form it is grown to.
    pub form: GrowthForm,
    /// Your own label, at most 120 characters.
    #[serde(default)]
    pub label: Option<String>,
    /// Where it grows; the region of your own record when not given.
    #[serde(default)]
    pub region_id: Option<RegionId>,
    /// The plant it was taken from; you must be able to see it.
    #[serde(default)]
    pub source_plant_id: Option<PlantId>,
    /// Who gave it.
    #[serde(default)]
    pub source_member_id: Option<MemberId>,
    /// The day it was got, from 1900 to today.
    #[serde(default)]
    pub got_on: Option<Day>,
    /// Who may see it and its diary; the society when not given.
    #[serde(default = "society")]
    pub visibility: Visibility,
}

impl Check for PlantIn {
    fn check(&self, found: &mut Findings) {
        rules::how_many(self.how_many, found);
        if let Some(mm) = self.pot_mm {
            rules::pot(mm, found);
        }
        if let Some(celsius) = self.heated_to_c {
            rules::temperature(celsius, found);
        }
        rules::heating(self.environment, self.heated_to_c, found);
        found.optional_text("/label", self.label.as_deref(), rules::LABEL);
    }
}

impl PlantIn {
    /// The checked plant as it is kept; refused where it still names no region.
    pub(super) fn into_plant(self, owner_id: MemberId, now: DateTime<Utc>) -> Result<Plant, Problem> {
        let region_id =
            self.region_id.ok_or_else(|| Problem::field("/region_id", "required", rules::NO_REGION))?;
        Ok(Plant {
            id: PlantId::fresh(),
            owner_id,
            cultivar_id: self.cultivar_id,
            region_id,
            label: self.label.as_deref().and_then(label_of),
            how_many: self.how_many,
            pot_um: self.pot_mm.and_then(pots::micrometres),
            environment: self.environment,
            heated_to_c: self.heated_to_c,
            form: self.form,
            source_plant_id: self.source_plant_id,
            source_member_id: self.source_member_id,
            got_on: self.got_on.map(NaiveDate::from),
            visibility: self.visibility,
            version: 1,
            created_at: now.naive_utc(),
        })
    }
}

/// A label as it is kept and compared; none where there is nothing in it.
pub(super) fn label_of(text: &str) -> Option<String> {
    Some(names::tidy(text)).filter(|label| !label.is_empty())
}

fn note_of(text: &str) -> Option<String> {
    Some(text.trim().to_owned()).filter(|note| !note.is_empty())
}

/// Changes to a plant.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PlantPatch {
    /// What it is.
    #[serde(default)]
    #[schema(value_type = Option<CultivarId>)]
    pub cultivar_id: Patch<CultivarId>,
    /// How many of them are held now, 0 to 100,000.
    #[serde(default)]
    #[schema(value_type = Option<i32>)]
    pub how_many: Patch<i32>,
    /// Pot size: the inner diameter at the rim in millimetres, with at most three decimals.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub pot_mm: Patch<f64>,
    /// Under what it grows; leaving the heat, send `heated_to_c` as null beside it.
    #[serde(default)]
    #[schema(value_type = Option<Environment>)]
    pub environment: Patch<Environment>,
    /// The temperature kept, 0 to 35 degrees C: required where the environment is `heated`, empty otherwise.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub heated_to_c: Patch<f64>,
    /// The form it is grown to.
    #[serde(default)]
    #[schema(value_type = Option<GrowthForm>)]
    pub form: Patch<GrowthForm>,
    /// Your own label.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub label: Patch<String>,
    /// Where it grows.
    #[serde(default)]
    #[schema(value_type = Option<RegionId>)]
    pub region_id: Patch<RegionId>,
    /// The plant it was taken from.
    #[serde(default)]
    #[schema(value_type = Option<PlantId>)]
    pub source_plant_id: Patch<PlantId>,
    /// Who gave it.
    #[serde(default)]
    #[schema(value_type = Option<MemberId>)]
    pub source_member_id: Patch<MemberId>,
    /// The day it was got: not after today, nor after the first record of its diary.
    #[serde(default)]
    #[schema(value_type = Option<Day>)]
    pub got_on: Patch<Day>,
    /// Who may see it and its diary.
    #[serde(default)]
    #[schema(value_type = Option<Visibility>)]
    pub visibility: Patch<Visibility>,
}

/// A field that always has a value.
fn kept<T>(pointer: &str, field: &Patch<T>, found: &mut Findings) {
    if matches!(field, Patch::Null) {
        found.add(pointer, "required", "must have a value");
    }
}

impl Check for PlantPatch {
    fn check(&self, found: &mut Findings) {
        kept("/cultivar_id", &self.cultivar_id, found);
        kept("/how_many", &self.how_many, found);
        kept("/environment", &self.environment, found);
        kept("/form", &self.form, found);
        kept("/region_id", &self.region_id, found);
        kept("/visibility", &self.visibility, found);
        if let Some(number) = self.how_many.value() {
            rules::how_many(*number, found);
        }
        if let Some(mm) = self.pot_mm.value() {
            rules::pot(*mm, found);
        }
        if let Some(celsius) = self.heated_to_c.value() {
            rules::temperature(*celsius, found);
        }
        found.optional_text("/label", self.label.value().map(String::as_str), rules::LABEL);
    }
}

impl PlantPatch {
    /// The plant as the checked edit leaves it.
    pub(super) fn applied_to(&self, plant: &Plant) -> Plant {
        fn keep<T: Copy>(patch: &Patch<T>, field: &mut T) {
            if let Some(value) = patch.value() {
                *field = *value;
            }
        }
        let mut plant = plant.clone();
        keep(&self.cultivar_id, &mut plant.cultivar_id);
        keep(&self.how_many, &mut plant.how_many);
        keep(&self.environment, &mut plant.environment);
        keep(&self.form, &mut plant.form);
        keep(&self.region_id, &mut plant.region_id);
        keep(&self.visibility, &mut plant.visibility);
        apply_text(&self.label, label_of, &mut plant.label);
        apply_pot(&self.pot_mm, &mut plant.pot_um);
        self.heated_to_c.clone().apply(&mut plant.heated_to_c);
        self.source_plant_id.clone().apply(&mut plant.source_plant_id);
        self.source_member_id.clone().apply(&mut plant.source_member_id);
        self.got_on.clone().map(NaiveDate::from).apply(&mut plant.got_on);
        plant
    }
}

fn apply_text(patch: &Patch<String>, kept_as: fn(&str) -> Option<String>, field: &mut Option<String>) {
    match patch {
        Patch::Absent => {}
        Patch::Null => *field = None,
        Patch::Value(text) => *field = kept_as(text),
    }
}

fn apply_pot(patch: &Patch<f64>, field: &mut Option<i64>) {
    match patch {
        Patch::Absent => {}
        Patch::Null => *field = None,
        Patch::Value(mm) => *field = pots::micrometres(*mm),
    }
}

/// What a plant is.
#[derive(Debug, Serialize, ToSchema)]
pub struct PlantCultivar {
    /// The cultivar.
    pub id: CultivarId,
    /// Its name.
    pub name: String,
    /// Its group.
    pub plant_group: PlantGroup,
}

/// A plant, or several of one batch, that a member holds.
#[derive(Debug, Serialize, ToSchema)]
pub struct PlantOut {
    /// Identity.
    pub id: PlantId,
    /// Whose.
    pub owner_id: MemberId,
    /// What it is.
    pub cultivar: PlantCultivar,
    /// How many of them are held now.
    pub how_many: i32,
    /// Pot size: the inner diameter at the rim, millimetres.
    pub pot_mm: Option<f64>,
    /// Under what it grows.
    pub environment: Environment,
    /// The temperature kept, degrees C, where it is heated.
    pub heated_to_c: Option<f64>,
    /// The form it is grown to.
    pub form: GrowthForm,
    /// The grower's own label.
    pub label: Option<String>,
    /// Where it grows.
    pub region_id: RegionId,
    /// The plant it was taken from.
    pub source_plant_id: Option<PlantId>,
    /// Who gave it.
    pub source_member_id: Option<MemberId>,
    /// The day it was got.
    pub got_on: Option<NaiveDate>,
    /// Who may see it and its diary.
    pub visibility: Visibility,
    /// The record of the latest day in its diary; the last entered where a day has several.
    pub latest_record: Option<DiaryOut>,
    /// Counts up at each edit of the plant (not of its diary); also the `ETag`.
    pub version: i32,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

impl PlantOut {
    pub(super) fn of(held: Held) -> Self {
        let plant = held.plant;
        Self {
            id: plant.id,
            owner_id: plant.owner_id,
            cultivar: PlantCultivar {
                id: plant.cultivar_id,
                name: held.cultivar,
                plant_group: held.plant_group,
            },
            how_many: plant.how_many,
            pot_mm: plant.pot_um.map(pots::millimetres),
            environment: plant.environment,
            heated_to_c: plant.heated_to_c,
            form: plant.form,
            label: plant.label,
            region_id: plant.region_id,
            source_plant_id: plant.source_plant_id,
            source_member_id: plant.source_member_id,
            got_on: plant.got_on,
            visibility: plant.visibility,
            latest_record: held.latest.map(DiaryOut::of),
            version: plant.version,
            created_at: plant.created_at.and_utc(),
        }
    }
}

/// A diary record to enter.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DiaryIn {
    /// The day it tells of: not before the plant was got, at the latest tomorrow (it is tomorrow already in
    /// some zones).
    pub day: Day,
    /// What it tells.
    pub kind: DiaryKind,
    /// How many plants or blooms it concerns, where that is counted. A `loss` counts no more plants than are
    /// held when it is recorded, and does not change the plant's `how_many`: change that on the plant.
    #[serde(default)]
    pub how_many: Option<i32>,
    /// The new pot, for `potting` alone: the inner diameter at the rim in millimetres, with at most three
    /// decimals. It does not change the plant's `pot_mm`: change that on the plant.
    #[serde(default)]
    pub pot_mm: Option<f64>,
    /// In words, at most 2,000 characters; required where the kind is `note`.
    #[serde(default)]
    pub note: Option<String>,
}

impl Check for DiaryIn {
    fn check(&self, found: &mut Findings) {
        if let Some(number) = self.how_many {
            rules::how_many(number, found);
        }
        if let Some(mm) = self.pot_mm {
            rules::pot(mm, found);
        }
        found.optional_text("/note", self.note.as_deref(), rules::NOTE);
        rules::kind(self.kind, self.how_many, self.pot_mm.is_some(), self.note.as_deref(), found);
    }
}

impl DiaryIn {
    /// The checked record as it is kept.
    pub(super) fn into_entry(self, plant_id: PlantId, now: DateTime<Utc>) -> DiaryEntry {
        DiaryEntry {
            id: DiaryId::fresh(),
            plant_id,
            day: self.day.into(),
            kind: self.kind,
            how_many: self.how_many,
            pot_um: self.pot_mm.and_then(pots::micrometres),
            note: self.note.as_deref().and_then(note_of),
            version: 1,
            created_at: now.naive_utc(),
        }
    }
}

/// Changes to a diary record; it stays with its plant.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DiaryPatch {
    /// The day it tells of.
    #[serde(default)]
    #[schema(value_type = Option<Day>)]
    pub day: Patch<Day>,
    /// What it tells.
    #[serde(default)]
    #[schema(value_type = Option<DiaryKind>)]
    pub kind: Patch<DiaryKind>,
    /// How many plants or blooms it concerns.
    #[serde(default)]
    #[schema(value_type = Option<i32>)]
    pub how_many: Patch<i32>,
    /// The new pot, for `potting` alone, millimetres.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub pot_mm: Patch<f64>,
    /// In words.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub note: Patch<String>,
}

impl Check for DiaryPatch {
    fn check(&self, found: &mut Findings) {
        kept("/day", &self.day, found);
        kept("/kind", &self.kind, found);
        if let Some(number) = self.how_many.value() {
            rules::how_many(*number, found);
        }
        if let Some(mm) = self.pot_mm.value() {
            rules::pot(*mm, found);
        }
        found.optional_text("/note", self.note.value().map(String::as_str), rules::NOTE);
    }
}

impl DiaryPatch {
    /// The record as the checked edit leaves it.
    pub(super) fn applied_to(&self, entry: &DiaryEntry) -> DiaryEntry {
        let mut entry = entry.clone();
        if let Some(day) = self.day.value() {
            entry.day = (*day).into();
        }
        if let Some(kind) = self.kind.value() {
            entry.kind = *kind;
        }
        self.how_many.clone().apply(&mut entry.how_many);
        apply_pot(&self.pot_mm, &mut entry.pot_um);
        apply_text(&self.note, note_of, &mut entry.note);
        entry
    }
}

/// A dated record of a plant.
#[derive(Debug, Serialize, ToSchema)]
pub struct DiaryOut {
    /// Identity.
    pub id: DiaryId,
    /// Of which plant.
    pub plant_id: PlantId,
    /// The day it tells of.
    pub day: NaiveDate,
    /// What it tells.
    pub kind: DiaryKind,
    /// How many plants or blooms it concerns, where that is counted.
    pub how_many: Option<i32>,
    /// The new pot of a potting: the inner diameter at the rim, millimetres.
    pub pot_mm: Option<f64>,
    /// In words.
    pub note: Option<String>,
    /// Counts up at each edit; send it in quotes as `If-Match`.
    pub version: i32,
}

impl DiaryOut {
    pub(super) fn of(entry: DiaryEntry) -> Self {
        Self {
            id: entry.id,
            plant_id: entry.plant_id,
            day: entry.day,
            kind: entry.kind,
            how_many: entry.how_many,
            pot_mm: entry.pot_um.map(pots::millimetres),
            note: entry.note,
            version: entry.version,
        }
    }
}
