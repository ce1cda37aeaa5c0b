//! Exhibitors and entries as they are taken and sent.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::entries::{Entry, Event, Exhibitor, Receipt};
use storksbill_domain::day::{Day, Year};
use storksbill_domain::ids::{
    ClassId, CultivarId, EntryId, ExhibitorId, MemberId, PlantId, ReceiptId, ShowEventId, ShowId,
};
use storksbill_domain::shows::Pence;
use storksbill_domain::shows::{
    Answer, ClassLabel, MeasuredFrom, MeasuredTo, PastResult, ReasonCode, ReasonTold,
};
use storksbill_domain::words::{EntryState, GrowthForm, Payment, PlantGroup, PublishAs};
use utoipa::ToSchema;

use super::facts::Item;
use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

/// Most plants of one exhibit.
const MOST_ITEMS: usize = 50;
/// Largest length, millimetres.
const MOST_MM: f64 = 10_000.0;

/// A height, and how it was measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HeightIn {
    /// Millimetres.
    pub mm: f64,
    /// From where.
    pub measured_from: MeasuredFrom,
    /// To where.
    pub measured_to: MeasuredTo,
}

/// A plant of an exhibit: one that the server keeps, or what is said of it. What is said here stands before what the
/// plant's record says; what is not said is taken from there, and is otherwise not known.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ItemIn {
    /// One of the exhibitor's own plants.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plant_id: Option<PlantId>,
    /// Its cultivar; that of the plant when not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cultivar_id: Option<CultivarId>,
    /// Its group; that of the cultivar when not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plant_group: Option<PlantGroup>,
    /// The name on the card; that of the cultivar when not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// How many: plants of the batch, or stems and blooms cut; 1 when not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// Grown to which form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form: Option<GrowthForm>,
    /// Held since.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held_since: Option<Day>,
    /// Internal diameter of the pot at the rim, millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pot_mm: Option<f64>,
    /// Heights, each measured its own way.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heights: Vec<HeightIn>,
    /// Clear stem, millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clear_stem_mm: Option<f64>,
    /// Diameter of the basket, millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basket_mm: Option<f64>,
    /// Diameter of the bloom, millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bloom_mm: Option<f64>,
    /// Expected to be in flower on the day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_flower: Option<bool>,
    /// Raised from seed by the exhibitor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub raised_by_exhibitor: Option<bool>,
    /// In commerce.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is_introduced: Option<bool>,
    /// The year in which the cultivar was introduced.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub introduced: Option<Year>,
    /// Shown before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub was_shown: Option<bool>,
    /// Took no first before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_first_yet: Option<bool>,
}

fn check_items(found: &mut Findings, items: &[ItemIn]) {
    if items.is_empty() || items.len() > MOST_ITEMS {
        found.add("/items", "out-of-range", format!("are 1 to {MOST_ITEMS}"));
    }
    for (at, item) in items.iter().enumerate() {
        let pointer = |field: &str| format!("/items/{at}/{field}");
        found.optional_text(&pointer("name"), item.name.as_deref(), 120);
        if let Some(count) = item.count {
            found.range(&pointer("count"), count, 1, 10_000);
        }
        for (field, mm) in [
            ("pot_mm", item.pot_mm),
            ("clear_stem_mm", item.clear_stem_mm),
            ("basket_mm", item.basket_mm),
            ("bloom_mm", item.bloom_mm),
        ] {
            if let Some(mm) = mm {
                found.range(&pointer(field), mm, 0.0, MOST_MM);
            }
        }
        for (nth, height) in item.heights.iter().enumerate() {
            found.range(&pointer(&format!("heights/{nth}/mm")), height.mm, 0.0, MOST_MM);
        }
    }
}

/// An entry to make.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryIn {
    /// In which class.
    pub class_id: ClassId,
    /// Whose; your own when not given. Officers of the club alone enter for others.
    #[serde(default)]
    pub exhibitor_id: Option<ExhibitorId>,
    /// The plants.
    pub items: Vec<ItemIn>,
    /// What stands on the card beside the number; the cultivars' names when not given.
    #[serde(default)]
    pub label: Option<String>,
    /// Codes of the doubts that you have read: an entry that may not fit on the day is taken with them.
    #[serde(default)]
    pub acknowledged: Vec<ReasonCode>,
    /// Why it is taken after closing; officers of the club alone.
    #[serde(default)]
    pub late_reason: Option<String>,
}

impl Check for EntryIn {
    fn check(&self, found: &mut Findings) {
        check_items(found, &self.items);
        found.optional_text("/label", self.label.as_deref(), 200);
        if let Some(reason) = &self.late_reason {
            found.text("/late_reason", reason, 4, 500);
        }
    }
}

/// Changes to an entry.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct EntryPatch {
    /// In another class.
    #[serde(default)]
    #[schema(value_type = Option<ClassId>)]
    pub class_id: Patch<ClassId>,
    /// With other plants: all of them.
    #[serde(default)]
    #[schema(value_type = Option<Vec<ItemIn>>)]
    pub items: Patch<Vec<ItemIn>>,
    /// What stands on the card; null for the cultivars' names.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub label: Patch<String>,
    /// Codes of the doubts that you have read.
    #[serde(default)]
    #[schema(value_type = Option<Vec<ReasonCode>>)]
    pub acknowledged: Patch<Vec<ReasonCode>>,
    /// Why it is changed after closing; officers of the club alone.
    #[serde(default)]
    pub late_reason: Option<String>,
}

impl Check for EntryPatch {
    fn check(&self, found: &mut Findings) {
        for (pointer, cleared) in [
            ("/class_id", self.class_id == Patch::Null),
            ("/items", matches!(self.items, Patch::Null)),
            ("/acknowledged", self.acknowledged == Patch::Null),
        ] {
            if cleared {
                found.add(pointer, "required", "cannot be cleared");
            }
        }
        if let Some(items) = self.items.value() {
            check_items(found, items);
        }
        found.optional_text("/label", self.label.value().map(String::as_str), 200);
        if let Some(reason) = &self.late_reason {
            found.text("/late_reason", reason, 4, 500);
        }
    }
}

/// Why something is done after closing.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WithdrawalIn {
    /// Needed after closing, from officers of the club.
    #[serde(default)]
    pub reason: Option<String>,
}

impl Check for WithdrawalIn {
    fn check(&self, found: &mut Findings) {
        if let Some(reason) = &self.reason {
            found.text("/reason", reason, 4, 500);
        }
    }
}

/// Whether an exhibit may be entered, with every reason.
#[derive(Debug, Serialize, ToSchema)]
pub struct JudgementOut {
    /// Yes, no, or depends.
    pub answer: Answer,
    /// All at once: about the exhibitor, the plants, the whole.
    pub reasons: Vec<ReasonTold>,
    /// What it would cost, in pence.
    pub fee_pence: i64,
}

/// A class, as it is named beside an entry.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ClassNameOut {
    /// Identity.
    pub id: ClassId,
    /// Its number.
    pub label: ClassLabel,
    /// What is asked for.
    pub title: String,
}

/// An entry.
#[derive(Debug, Serialize, ToSchema)]
pub struct EntryOut {
    /// Identity.
    pub id: EntryId,
    /// The show.
    pub show_id: ShowId,
    /// The class.
    pub class: ClassNameOut,
    /// Whose.
    pub exhibitor_id: ExhibitorId,
    /// The exhibitor's number at this show.
    pub exhibitor_number: i32,
    /// As on the card.
    pub exhibitor_name: String,
    /// The number on the card: it tells neither whose it is nor when it was made.
    pub number: i64,
    /// What stands beside it.
    pub label: Option<String>,
    /// The plants, as they were given.
    pub items: Vec<ItemIn>,
    /// Where it stands.
    pub state: EntryState,
    /// What it costs, in pence.
    pub fee_pence: i64,
    /// The doubts that were read.
    pub acknowledged: Vec<ReasonCode>,
    /// Who typed it.
    pub entered_by: MemberId,
    /// Why it was taken after closing.
    pub late_reason: Option<String>,
    /// The class it was entered in before an official moved it.
    pub moved_from_class_id: Option<ClassId>,
    /// Why it was moved.
    pub moved_reason: Option<String>,
    /// When it came to the hall.
    pub checked_in_at: Option<DateTime<Utc>>,
    /// When it was staged.
    pub staged_at: Option<DateTime<Utc>>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

impl EntryOut {
    pub(super) fn of(
        entry: Entry,
        exhibitor: &Exhibitor,
        class: ClassNameOut,
    ) -> Result<Self, crate::http::problem::Problem> {
        let items: Vec<Item> = super::documents::part(&entry.items)?;
        Ok(Self {
            id: entry.id,
            show_id: entry.show_id,
            class,
            exhibitor_id: exhibitor.id,
            exhibitor_number: exhibitor.number,
            exhibitor_name: exhibitor.name.clone(),
            number: entry.number,
            label: entry.label,
            items: items.into_iter().map(|item| item.said).collect(),
            state: entry.state,
            fee_pence: entry.fee_pence,
            acknowledged: super::documents::part(&entry.acknowledged)?,
            entered_by: entry.entered_by,
            late_reason: entry.late_reason,
            moved_from_class_id: entry.moved_from_class_id,
            moved_reason: entry.moved_reason,
            checked_in_at: entry.checked_in_at.map(|moment| moment.and_utc()),
            staged_at: entry.staged_at.map(|moment| moment.and_utc()),
            version: entry.version,
            created_at: entry.created_at.and_utc(),
        })
    }
}

/// Something that happened.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShowEventOut {
    /// Identity.
    pub id: ShowEventId,
    /// When.
    pub at: DateTime<Utc>,
    /// Who did it; null for the server itself.
    pub by_id: Option<MemberId>,
    /// What sort of thing.
    pub kind: String,
    /// In words, with the reason.
    pub words: String,
}

impl ShowEventOut {
    pub(super) fn of(event: Event) -> Self {
        let Event { id, at, by_id, kind, words, .. } = event;
        Self { id, at: at.and_utc(), by_id, kind, words }
    }
}

/// A class, and whether a plant fits it.
#[derive(Debug, Serialize, ToSchema)]
pub struct FittingOut {
    /// The class.
    pub class: ClassNameOut,
    /// Yes, no, or depends.
    pub answer: Answer,
    /// All reasons, with what would make it fit.
    pub reasons: Vec<ReasonTold>,
}

/// A plant and the classes for it.
#[derive(Debug, Serialize, ToSchema)]
pub struct PlantClassesOut {
    /// The plant.
    pub plant_id: PlantId,
    /// Its cultivar's name.
    pub cultivar_name: String,
    /// The grower's own label.
    pub label: Option<String>,
    /// Classes in the order of their numbers.
    pub classes: Vec<FittingOut>,
}

/// What is said of how somebody shows at a show. What is not mentioned stays; null takes back what was said.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ExhibitorPatch {
    /// As on the card; null for a member's own name. Joint names are written out: `Edda and Bram Wick`.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// Several enter together.
    #[serde(default)]
    #[schema(value_type = Option<bool>)]
    pub is_joint: Patch<bool>,
    /// You grow for the trade.
    #[serde(default)]
    #[schema(value_type = Option<bool>)]
    pub in_the_trade: Patch<bool>,
    /// A word that all exhibitors of your household give alike.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub household: Patch<String>,
    /// Where a class asks for an age: the day of birth, from 1900 to today. It is shown to nobody but you and the club's
    /// officers. Who is under 18 on the day of the show is shielded from then on, at this show and others.
    #[serde(default)]
    #[schema(value_type = Option<Day>)]
    pub born_on: Patch<Day>,
    /// In published results; by name until something is said. Of those who are shielded it is never more than initials.
    #[serde(default)]
    #[schema(value_type = Option<PublishAs>)]
    pub publish_as: Patch<PublishAs>,
    /// True shields: nobody but officers reads more than initials, at this show and, of a member, at any other. No day of
    /// birth is needed for it. False ends it, which officers of a club of the member's and administrators alone may do.
    #[serde(default)]
    #[schema(value_type = Option<bool>)]
    pub is_protected: Patch<bool>,
    /// Results at shows of other societies, where a class asks for a level; an empty list says that there are none.
    #[serde(default)]
    #[schema(value_type = Option<Vec<PastResult>>)]
    pub outside_results: Patch<Vec<PastResult>>,
}

impl ExhibitorPatch {
    fn check_at(&self, at: &str, found: &mut Findings) {
        if let Some(name) = self.name.value() {
            found.text(&format!("{at}/name"), name, 2, 120);
        }
        found.optional_text(&format!("{at}/household"), self.household.value().map(String::as_str), 60);
        if self.outside_results.value().is_some_and(|results| results.len() > 1_000) {
            found.add(&format!("{at}/outside_results"), "too-many", "are at most 1000");
        }
    }
}

impl Check for ExhibitorPatch {
    fn check(&self, found: &mut Findings) {
        self.check_at("", found);
    }
}

/// An exhibitor whom an officer enters.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ExhibitorIn {
    /// The member, where it is one.
    #[serde(default)]
    pub member_id: Option<MemberId>,
    /// What they say of themselves.
    pub exhibitor: ExhibitorPatch,
}

impl Check for ExhibitorIn {
    fn check(&self, found: &mut Findings) {
        if self.member_id.is_none() && self.exhibitor.name.value().is_none() {
            found.add("/exhibitor/name", "required", "is required for a guest");
        }
        self.exhibitor.check_at("/exhibitor", found);
    }
}

/// An exhibitor of a show.
#[derive(Debug, Serialize, ToSchema)]
#[allow(clippy::struct_excessive_bools, reason = "each is one fact")]
pub struct ExhibitorOut {
    /// Identity.
    pub id: ExhibitorId,
    /// The show.
    pub show_id: ShowId,
    /// The number at this show.
    pub number: i32,
    /// The member, where it is one.
    pub member_id: Option<MemberId>,
    /// As on the card.
    pub name: String,
    /// Several enter together.
    pub is_joint: bool,
    /// Grows for the trade.
    pub in_the_trade: bool,
    /// The household's word.
    pub household: Option<String>,
    /// The day of birth, where a class asked for it.
    pub born_on: Option<NaiveDate>,
    /// In published results: as chosen, or less for those who are shielded or left.
    pub publish_as: PublishAs,
    /// Shielded, as the young are.
    pub is_protected: bool,
    /// Whether results at other shows are declared.
    pub outside_declared: bool,
    /// Those results.
    pub outside_results: Vec<PastResult>,
    /// What entries that stand cost, in pence.
    pub due_pence: i64,
    /// What was paid, in pence.
    pub paid_pence: i64,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

/// The most that one exhibitor may owe or have paid at one show, in pence: a million pounds. Above it somebody slipped
/// (a chosen number).
pub(super) const MOST_PENCE: u64 = 100_000_000;

/// Money taken from an exhibitor.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShowReceiptIn {
    /// From whom.
    pub exhibitor_id: ExhibitorId,
    /// Pence; below nought for money given back.
    pub pence: Pence,
    /// How.
    pub how: Payment,
    /// Anything else, up to 200 characters.
    #[serde(default)]
    pub note: Option<String>,
}

impl Check for ShowReceiptIn {
    fn check(&self, found: &mut Findings) {
        if self.pence == Pence(0) || self.pence.0.unsigned_abs() > 10_000_000 {
            found.add("/pence", "out-of-range", "is not nought and at most 10000000 either way");
        }
        found.optional_text("/note", self.note.as_deref(), 200);
    }
}

/// A receipt. It is never changed: money given back is another.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShowReceiptOut {
    /// Identity.
    pub id: ReceiptId,
    /// From whom.
    pub exhibitor_id: ExhibitorId,
    /// Runs on within the show.
    pub number: i32,
    /// Pence.
    pub pence: i64,
    /// How.
    pub how: Payment,
    /// Anything else.
    pub note: Option<String>,
    /// Who took it.
    pub received_by: MemberId,
    /// When.
    pub received_at: DateTime<Utc>,
}

impl ShowReceiptOut {
    pub(super) fn of(receipt: Receipt) -> Self {
        let Receipt { id, exhibitor_id, number, pence, how, note, received_by, received_at, .. } = receipt;
        Self { id, exhibitor_id, number, pence, how, note, received_by, received_at: received_at.and_utc() }
    }
}
