//! What is taken and sent.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::crosses::{Cross, CrossCount, Parent, Pollination, Seedling};
use storksbill_domain::crosses::{Counts, RIPE_AFTER, SOW_AFTER, THROUGH_AFTER, days_later, stigma_opens_on};
use storksbill_domain::day::Day;
use storksbill_domain::ids::{
    CrossCountId, CrossId, CultivarId, MemberId, PlantId, PollinationId, SeedlingId,
};
use storksbill_domain::words::{
    BloomStage, CrossCountKind, CrossStage, CrossWarning, Gamete, LossCause, OutcomeBasis, ParentSide,
    PlantGroup, SeedlingStatus, Visibility,
};
use storksbill_pedigree::success::{Basis, Estimate};
use utoipa::ToSchema;

use super::OVULES;
use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

/// Most characters of a cross's number.
const NUMBER: usize = 40;
/// Most characters of notes.
const NOTES: usize = 4_000;
/// Most pollen parents of which any may be it.
const CANDIDATES: usize = 20;
/// The shares of all pollen parents.
const WHOLE: i32 = 1_000;

/// A parent of a cross: one of a cultivar, a numbered seedling and a plant.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ParentIn {
    /// A cultivar.
    #[serde(default)]
    pub cultivar_id: Option<CultivarId>,
    /// A numbered seedling that you may see.
    #[serde(default)]
    pub seedling_id: Option<SeedlingId>,
    /// A plant that you may see.
    #[serde(default)]
    pub plant_id: Option<PlantId>,
    /// How likely it is the pollen parent, in thousandths; the shares of all make 1,000. Left out where the
    /// pollen parent is known, and for the seed parent.
    #[serde(default)]
    #[schema(minimum = 1, maximum = 1000)]
    pub share_thousandths: Option<i32>,
}

impl ParentIn {
    fn check(&self, pointer: &str, found: &mut Findings) {
        let given = [self.cultivar_id.is_some(), self.seedling_id.is_some(), self.plant_id.is_some()];
        if given.into_iter().filter(|given| *given).count() != 1 {
            found.add(pointer, "one-of", "names one of cultivar_id, seedling_id and plant_id");
        }
    }

    fn row(&self, cross_id: CrossId, side: ParentSide, place: i32) -> Parent {
        Parent {
            cross_id,
            side,
            place,
            cultivar_id: self.cultivar_id,
            seedling_id: self.seedling_id,
            plant_id: self.plant_id,
            share: self.share_thousandths.unwrap_or(WHOLE),
        }
    }
}

fn check_seed(parent: &ParentIn, found: &mut Findings) {
    parent.check("/seed_parent", found);
    if parent.share_thousandths.is_some() {
        found.add("/seed_parent/share_thousandths", "not-taken", "the seed parent is known");
    }
}

fn check_pollen(parents: &[ParentIn], found: &mut Findings) {
    for (at, parent) in parents.iter().enumerate() {
        parent.check(&format!("/pollen_parents/{at}"), found);
        if let Some(share) = parent.share_thousandths {
            found.range(&format!("/pollen_parents/{at}/share_thousandths"), share, 1, WHOLE);
        }
    }
    if parents.len() > CANDIDATES {
        found.add("/pollen_parents", "too-many", format!("takes at most {CANDIDATES}"));
    }
    if parents.is_empty() || (parents.len() == 1 && parents.iter().all(|p| p.share_thousandths.is_none())) {
        return;
    }
    let shares: i64 = parents.iter().map(|parent| i64::from(parent.share_thousandths.unwrap_or(0))).sum();
    if shares != i64::from(WHOLE) || parents.iter().any(|parent| parent.share_thousandths.is_none()) {
        found.add(
            "/pollen_parents",
            "shares",
            format!("each needs its share, and they make {WHOLE} thousandths, not {shares}"),
        );
    }
}

fn pollen_rows(parents: &[ParentIn], cross: CrossId) -> Vec<Parent> {
    parents.iter().zip(1..).map(|(parent, place)| parent.row(cross, ParentSide::Pollen, place)).collect()
}

/// A cross's number as it is kept: without white space at its ends.
fn tidy(text: &str) -> Option<String> {
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

/// A cross to enter.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CrossIn {
    /// As on your label, at most 40 characters, unlike your others. Without one the server gives the next of the
    /// year: 2026-017.
    #[serde(default)]
    pub number: Option<String>,
    /// The parent that bears the seed.
    pub seed_parent: ParentIn,
    /// The parent that gave the pollen; several where any of them may be it, with their shares; none where it
    /// is not known.
    #[serde(default)]
    pub pollen_parents: Vec<ParentIn>,
    /// Whether the egg carried half the chromosome sets of the seed parent or all, where you know.
    #[serde(default)]
    pub seed_gamete: Option<Gamete>,
    /// The same of the pollen.
    #[serde(default)]
    pub pollen_gamete: Option<Gamete>,
    /// Who may see it, its counts and its seedlings: you alone when not given.
    #[serde(default = "private")]
    pub visibility: Visibility,
    /// While it is private: whether its counts may enter pooled figures, where it is never shown. What others
    /// may see is pooled anyway.
    #[serde(default)]
    pub pooled: bool,
    /// Anything else, at most 4,000 characters.
    #[serde(default)]
    pub notes: Option<String>,
}

fn private() -> Visibility {
    Visibility::Private
}

impl Check for CrossIn {
    fn check(&self, found: &mut Findings) {
        if let Some(number) = &self.number {
            found.text("/number", number, 1, NUMBER);
        }
        check_seed(&self.seed_parent, found);
        check_pollen(&self.pollen_parents, found);
        found.optional_text("/notes", self.notes.as_deref(), NOTES);
    }
}

impl CrossIn {
    /// The checked cross under this number, with its parents.
    pub(super) fn into_rows(
        self,
        raiser_id: MemberId,
        number: String,
        now: DateTime<Utc>,
    ) -> (Cross, Vec<Parent>) {
        let id = CrossId::fresh();
        let mut parents = vec![self.seed_parent.row(id, ParentSide::Seed, 1)];
        parents.extend(pollen_rows(&self.pollen_parents, id));
        let cross = Cross {
            id,
            raiser_id,
            number,
            seed_gamete: self.seed_gamete,
            pollen_gamete: self.pollen_gamete,
            visibility: self.visibility,
            pooled: self.pooled,
            notes: self.notes.as_deref().and_then(tidy),
            version: 1,
            created_at: now.naive_utc(),
        };
        (cross, parents)
    }

    /// The number that was given.
    pub(super) fn own_number(&self) -> Option<String> {
        self.number.as_deref().and_then(tidy)
    }
}

/// Changes to a cross.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CrossPatch {
    /// As on your label.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub number: Patch<String>,
    /// The parent that bears the seed.
    #[serde(default)]
    #[schema(value_type = Option<ParentIn>)]
    pub seed_parent: Patch<ParentIn>,
    /// All pollen parents in the place of those before; null or none where it is not known.
    #[serde(default)]
    #[schema(value_type = Option<Vec<ParentIn>>)]
    pub pollen_parents: Patch<Vec<ParentIn>>,
    /// Whether the egg was unreduced.
    #[serde(default)]
    #[schema(value_type = Option<Gamete>)]
    pub seed_gamete: Patch<Gamete>,
    /// Whether the pollen was unreduced.
    #[serde(default)]
    #[schema(value_type = Option<Gamete>)]
    pub pollen_gamete: Patch<Gamete>,
    /// Who may see it, its counts and its seedlings.
    #[serde(default)]
    #[schema(value_type = Option<Visibility>)]
    pub visibility: Patch<Visibility>,
    /// Whether its counts may be pooled while it is private.
    #[serde(default)]
    #[schema(value_type = Option<bool>)]
    pub pooled: Patch<bool>,
    /// Anything else.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub notes: Patch<String>,
}

impl Check for CrossPatch {
    fn check(&self, found: &mut Findings) {
        for (pointer, null) in [
            ("/number", matches!(self.number, Patch::Null)),
            ("/seed_parent", matches!(self.seed_parent, Patch::Null)),
            ("/visibility", matches!(self.visibility, Patch::Null)),
            ("/pooled", matches!(self.pooled, Patch::Null)),
        ] {
            if null {
                found.add(pointer, "required", "must have a value");
            }
        }
        if let Some(number) = self.number.value() {
            found.text("/number", number, 1, NUMBER);
        }
        if let Some(parent) = self.seed_parent.value() {
            check_seed(parent, found);
        }
        if let Some(parents) = self.pollen_parents.value() {
            check_pollen(parents, found);
        }
        found.optional_text("/notes", self.notes.value().map(String::as_str), NOTES);
    }
}

impl CrossPatch {
    /// The cross as the checked edit leaves it.
    pub(super) fn applied_to(&self, cross: &Cross) -> Cross {
        let mut cross = cross.clone();
        if let Some(number) = self.number.value().and_then(|number| tidy(number)) {
            cross.number = number;
        }
        cross.visibility = self.visibility.value().copied().unwrap_or(cross.visibility);
        cross.pooled = self.pooled.value().copied().unwrap_or(cross.pooled);
        self.seed_gamete.clone().apply(&mut cross.seed_gamete);
        self.pollen_gamete.clone().apply(&mut cross.pollen_gamete);
        self.notes.clone().apply(&mut cross.notes);
        cross
    }

    /// The parents that it names.
    pub(super) fn named_parents(&self, cross: CrossId) -> Vec<Parent> {
        let seed = self.seed_parent.value().map(|parent| parent.row(cross, ParentSide::Seed, 1));
        let pollen = self.pollen_parents.value().map(|parents| pollen_rows(parents, cross));
        seed.into_iter().chain(pollen.into_iter().flatten()).collect()
    }

    /// The parents as the edit leaves them; none where it leaves them as they are.
    pub(super) fn parents_after(&self, cross: CrossId, before: &[Parent]) -> Option<Vec<Parent>> {
        if self.seed_parent == Patch::Absent && self.pollen_parents == Patch::Absent {
            return None;
        }
        let stays = |side: ParentSide| match side {
            ParentSide::Seed => self.seed_parent == Patch::Absent,
            ParentSide::Pollen => self.pollen_parents == Patch::Absent,
        };
        let kept = before.iter().copied().filter(|parent| stays(parent.side));
        Some(kept.chain(self.named_parents(cross)).collect())
    }
}

/// A parent of a cross.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ParentOut {
    /// A cultivar: itself, or what the plant is.
    pub cultivar_id: Option<CultivarId>,
    /// A numbered seedling.
    pub seedling_id: Option<SeedlingId>,
    /// A plant.
    pub plant_id: Option<PlantId>,
    /// The cultivar's name, or the seedling's number; null where it is undisclosed.
    pub name: Option<String>,
    /// How likely it is the one, thousandths.
    pub share_thousandths: i32,
    /// Whether it is a plant or seedling that you may not see: then nothing else is told.
    pub undisclosed: bool,
}

/// Something worth a second look; the record is kept all the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct WarningOut {
    /// What it is about.
    pub code: CrossWarning,
    /// The reason, in words.
    pub words: String,
    /// The day to come back, where waiting mends it.
    pub come_back_on: Option<NaiveDate>,
}

impl WarningOut {
    pub(super) fn new(code: CrossWarning, words: impl Into<String>) -> Self {
        Self { code, words: words.into(), come_back_on: None }
    }
}

/// Sums of what was counted by now; null where nothing was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct CountsOut {
    /// Florets worked.
    pub florets: Option<i64>,
    /// Florets that took.
    pub takes: Option<i64>,
    /// Seeds harvested.
    pub harvested: Option<i64>,
    /// Seeds sown.
    pub sown: Option<i64>,
    /// Seedlings that came up.
    pub germinated: Option<i64>,
    /// Seedlings lost.
    pub lost: Option<i64>,
    /// Seedlings pricked out.
    pub pricked_out: Option<i64>,
    /// Seedlings that flowered.
    pub flowered: Option<i64>,
    /// Seedlings kept.
    pub kept: Option<i64>,
    /// Seedlings with numbers.
    pub numbered: Option<i64>,
}

impl CountsOut {
    pub(super) fn of(counts: Counts) -> Self {
        Self {
            florets: counts.florets,
            takes: counts.takes,
            harvested: counts.harvested,
            sown: counts.sown,
            germinated: counts.germinated,
            lost: counts.lost,
            pricked_out: counts.pricked_out,
            flowered: counts.flowered,
            kept: counts.kept,
            numbered: counts.numbered,
        }
    }
}

/// Seeds beyond what the florets can hold.
pub fn seed_warning(counts: &Counts) -> Option<WarningOut> {
    let (seeds, most) = counts.too_many_seeds(*OVULES)?;
    let words = format!(
        "{seeds} seeds were harvested, and at {} a floret there can be {most}: was a count left out?",
        *OVULES
    );
    Some(WarningOut::new(CrossWarning::ManySeeds, words))
}

/// A cross.
#[derive(Debug, Serialize, ToSchema)]
pub struct CrossOut {
    /// Identity.
    pub id: CrossId,
    /// Whose.
    pub raiser_id: MemberId,
    /// The same by name.
    pub raiser_name: String,
    /// As on the raiser's label.
    pub number: String,
    /// The parent that bears the seed.
    pub seed_parent: ParentOut,
    /// The pollen parent; several where any may be it; none where it is not known.
    pub pollen_parents: Vec<ParentOut>,
    /// Whether the egg was unreduced.
    pub seed_gamete: Option<Gamete>,
    /// Whether the pollen was unreduced.
    pub pollen_gamete: Option<Gamete>,
    /// Who may see it.
    pub visibility: Visibility,
    /// Whether its counts may be pooled while it is private.
    pub pooled: bool,
    /// Anything else.
    pub notes: Option<String>,
    /// Sums of what was counted.
    pub counts: CountsOut,
    /// What is worth a second look; told to the raiser.
    pub warnings: Vec<WarningOut>,
    /// Counts up at each edit of the cross (not of its counts); also the `ETag`.
    pub version: i32,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

/// A day's work with pollen.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PollinationIn {
    /// The day.
    pub day: Day,
    /// Florets worked, 1 to 10,000.
    pub florets: i32,
    /// Whether they were stripped of petals.
    #[serde(default)]
    pub petals_removed: Option<bool>,
    /// How old the seed parent's blooms were.
    #[serde(default)]
    pub seed_bloom: Option<BloomStage>,
    /// How old the blooms were that gave the pollen.
    #[serde(default)]
    pub pollen_bloom: Option<BloomStage>,
    /// Who did it; you when not given.
    #[serde(default)]
    pub worked_by: Option<MemberId>,
}

impl Check for PollinationIn {
    fn check(&self, found: &mut Findings) {
        found.range("/florets", self.florets, 1, 10_000);
    }
}

impl PollinationIn {
    pub(super) fn into_row(self, cross_id: CrossId, raiser: MemberId, now: DateTime<Utc>) -> Pollination {
        Pollination {
            id: PollinationId::fresh(),
            cross_id,
            day: self.day.into(),
            florets: self.florets,
            petals_removed: self.petals_removed,
            seed_bloom: self.seed_bloom,
            pollen_bloom: self.pollen_bloom,
            worked_by: self.worked_by.unwrap_or(raiser),
            created_at: now.naive_utc(),
        }
    }
}

/// A day's work with pollen.
#[derive(Debug, Serialize, ToSchema)]
pub struct PollinationOut {
    /// Identity.
    pub id: PollinationId,
    /// Of which cross.
    pub cross_id: CrossId,
    /// The day.
    pub day: NaiveDate,
    /// Florets worked.
    pub florets: i32,
    /// Whether they were stripped of petals.
    pub petals_removed: Option<bool>,
    /// How old the seed parent's blooms were.
    pub seed_bloom: Option<BloomStage>,
    /// How old the blooms were that gave the pollen.
    pub pollen_bloom: Option<BloomStage>,
    /// Who did it.
    pub worked_by: MemberId,
    /// When seed should be ripe: six weeks later (common practice).
    pub harvest_due_on: NaiveDate,
    /// What is worth a second look.
    pub warnings: Vec<WarningOut>,
}

impl PollinationOut {
    pub(super) fn of(row: &Pollination) -> Self {
        Self {
            warnings: bloom_warnings(row),
            harvest_due_on: days_later(row.day, RIPE_AFTER),
            id: row.id,
            cross_id: row.cross_id,
            day: row.day,
            florets: row.florets,
            petals_removed: row.petals_removed,
            seed_bloom: row.seed_bloom,
            pollen_bloom: row.pollen_bloom,
            worked_by: row.worked_by,
        }
    }
}

fn bloom_warnings(row: &Pollination) -> Vec<WarningOut> {
    let mut warnings = Vec::new();
    if let Some(stage) = row.seed_bloom
        && let Some(day) = stigma_opens_on(stage, row.day)
    {
        let words = "Pollen is shed as a bloom opens and the stigma opens days later, so the seed parent's bloom \
            should be the older one: come back when the lobes of its stigma have spread.";
        let warning = WarningOut::new(CrossWarning::StigmaClosed, words);
        warnings.push(WarningOut { come_back_on: Some(day), ..warning });
    }
    match row.pollen_bloom {
        Some(BloomStage::Bud) => {
            let words = "A bud sheds no pollen: come back as it opens.";
            let warning = WarningOut::new(CrossWarning::NoPollen, words);
            warnings.push(WarningOut { come_back_on: Some(days_later(row.day, 1)), ..warning });
        }
        Some(BloomStage::StigmaOpen | BloomStage::Fading) => {
            let words =
                "The anthers fall before the stigma opens: take pollen from a bloom that opened today.";
            warnings.push(WarningOut::new(CrossWarning::NoPollen, words));
        }
        Some(BloomStage::Opening | BloomStage::Open) | None => {}
    }
    warnings
}

/// Something counted on a day.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CountIn {
    /// The day.
    pub day: Day,
    /// What was counted.
    pub kind: CrossCountKind,
    /// How many more than were entered before, 0 to 100,000; 0 says that it was looked for and there were none.
    pub how_many: i32,
    /// Why, for `lost` alone.
    #[serde(default)]
    pub cause: Option<LossCause>,
}

impl Check for CountIn {
    fn check(&self, found: &mut Findings) {
        found.range("/how_many", self.how_many, 0, 100_000);
        if self.cause.is_some() && self.kind != CrossCountKind::Lost {
            found.add("/cause", "not-taken", "goes with `lost` alone");
        }
    }
}

impl CountIn {
    pub(super) fn into_row(self, cross_id: CrossId, now: DateTime<Utc>) -> CrossCount {
        CrossCount {
            id: CrossCountId::fresh(),
            cross_id,
            day: self.day.into(),
            kind: self.kind,
            how_many: self.how_many,
            cause: self.cause,
            created_at: now.naive_utc(),
        }
    }
}

/// Something counted on a day.
#[derive(Debug, Serialize, ToSchema)]
pub struct CountOut {
    /// Identity.
    pub id: CrossCountId,
    /// Of which cross.
    pub cross_id: CrossId,
    /// The day.
    pub day: NaiveDate,
    /// What was counted.
    pub kind: CrossCountKind,
    /// How many more than were entered before it.
    pub how_many: i32,
    /// Why they were lost.
    pub cause: Option<LossCause>,
    /// When the next is due: sowing two weeks after a harvest, seedlings three weeks after a sowing (common
    /// practice).
    pub next_due_on: Option<NaiveDate>,
}

impl CountOut {
    pub(super) fn of(row: &CrossCount) -> Self {
        Self {
            next_due_on: next_due(row),
            id: row.id,
            cross_id: row.cross_id,
            day: row.day,
            kind: row.kind,
            how_many: row.how_many,
            cause: row.cause,
        }
    }
}

/// When what follows a count is due (common practice).
pub fn next_due(row: &CrossCount) -> Option<NaiveDate> {
    match row.kind {
        CrossCountKind::Harvested if row.how_many > 0 => Some(days_later(row.day, SOW_AFTER)),
        CrossCountKind::Sown if row.how_many > 0 => Some(days_later(row.day, THROUGH_AFTER)),
        _ => None,
    }
}

/// A count that was entered, and how the cross stands with it.
#[derive(Debug, Serialize, ToSchema)]
pub struct CountedOut {
    /// Identity of the count.
    pub id: CrossCountId,
    /// The count.
    pub count: CountOut,
    /// Sums of what was counted by now.
    pub totals: CountsOut,
    /// What is worth a second look.
    pub warnings: Vec<WarningOut>,
}

/// A seedling to number.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SeedlingIn {
    /// Within the cross, 1 to 100,000; the next one when not given. A number is never given twice.
    #[serde(default)]
    pub number: Option<i32>,
    /// Anything else, at most 4,000 characters.
    #[serde(default)]
    pub notes: Option<String>,
}

impl Check for SeedlingIn {
    fn check(&self, found: &mut Findings) {
        if let Some(number) = self.number {
            found.range("/number", number, 1, 100_000);
        }
        found.optional_text("/notes", self.notes.as_deref(), NOTES);
    }
}

impl SeedlingIn {
    pub(super) fn into_row(self, cross_id: CrossId, number: i32, now: DateTime<Utc>) -> Seedling {
        Seedling {
            id: SeedlingId::fresh(),
            cross_id,
            number,
            status: SeedlingStatus::OnTrial,
            cultivar_id: None,
            notes: self.notes.as_deref().and_then(tidy),
            version: 1,
            created_at: now.naive_utc(),
        }
    }
}

/// Changes to a seedling; its number stays.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SeedlingPatch {
    /// How far it has come; `named` with the cultivar it was entered as.
    #[serde(default)]
    #[schema(value_type = Option<SeedlingStatus>)]
    pub status: Patch<SeedlingStatus>,
    /// The cultivar it was entered as, for `named` alone.
    #[serde(default)]
    #[schema(value_type = Option<CultivarId>)]
    pub cultivar_id: Patch<CultivarId>,
    /// Anything else.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub notes: Patch<String>,
}

impl Check for SeedlingPatch {
    fn check(&self, found: &mut Findings) {
        if matches!(self.status, Patch::Null) {
            found.add("/status", "required", "must have a value");
        }
        found.optional_text("/notes", self.notes.value().map(String::as_str), NOTES);
    }
}

impl SeedlingPatch {
    pub(super) fn applied_to(&self, seedling: &Seedling) -> Seedling {
        let mut seedling = seedling.clone();
        seedling.status = self.status.value().copied().unwrap_or(seedling.status);
        self.cultivar_id.clone().apply(&mut seedling.cultivar_id);
        self.notes.clone().apply(&mut seedling.notes);
        seedling
    }
}

/// A numbered seedling, as visible as its cross.
#[derive(Debug, Serialize, ToSchema)]
pub struct SeedlingOut {
    /// Identity.
    pub id: SeedlingId,
    /// Of which cross.
    pub cross_id: CrossId,
    /// Within the cross.
    pub number: i32,
    /// The cross's number and its own, as on the label: 2026-017/3.
    pub label: String,
    /// How far it has come.
    pub status: SeedlingStatus,
    /// The cultivar it was entered as.
    pub cultivar_id: Option<CultivarId>,
    /// Anything else.
    pub notes: Option<String>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
    /// When it was entered.
    pub created_at: DateTime<Utc>,
}

impl SeedlingOut {
    pub(super) fn of(seedling: Seedling, cross_number: &str) -> Self {
        Self {
            label: seedling_label(cross_number, seedling.number),
            id: seedling.id,
            cross_id: seedling.cross_id,
            number: seedling.number,
            status: seedling.status,
            cultivar_id: seedling.cultivar_id,
            notes: seedling.notes,
            version: seedling.version,
            created_at: seedling.created_at.and_utc(),
        }
    }
}

/// A seedling's number after that of its cross.
pub fn seedling_label(cross_number: &str, number: i32) -> String {
    format!("{cross_number}/{number}")
}

/// A rate of success.
#[derive(Debug, Serialize, ToSchema)]
pub struct EstimateOut {
    /// The mean, 0 to 1.
    pub mean: f64,
    /// The interval's lower end.
    pub low: f64,
    /// The interval's upper end.
    pub high: f64,
    /// What the estimate leans on.
    pub basis: OutcomeBasis,
    /// Records of just what was asked for.
    pub own_records: usize,
    /// Records of the pool.
    pub records: usize,
    /// Different crosses of the pool.
    pub crosses: usize,
    /// Seed parents of the pool.
    pub seed_parents: usize,
}

impl EstimateOut {
    pub(super) fn of(estimate: &Estimate) -> Self {
        Self {
            mean: estimate.mean,
            low: estimate.interval.low,
            high: estimate.interval.high,
            basis: match estimate.basis {
                Basis::ThreeLevels => OutcomeBasis::ThreeLevels,
                Basis::TwoLevels => OutcomeBasis::TwoLevels,
                Basis::OneRate => OutcomeBasis::OneRate,
                Basis::WeakPrior => OutcomeBasis::WeakPrior,
            },
            own_records: estimate.own_records,
            records: estimate.records,
            crosses: estimate.crosses,
            seed_parents: estimate.seed_parents,
        }
    }
}

/// Success at one stage; null where fewer growers than the least stand behind it.
#[derive(Debug, Serialize, ToSchema)]
pub struct StageOut {
    /// The stage.
    pub stage: CrossStage,
    /// A seed parent of the group of which nothing else is known.
    pub group: Option<EstimateOut>,
    /// This seed parent with pollen of the group.
    pub seed_parent: Option<EstimateOut>,
    /// This cross.
    pub cross: Option<EstimateOut>,
}

/// How often a cross succeeds, stage by stage.
#[derive(Debug, Serialize, ToSchema)]
pub struct OutcomesOut {
    /// The seed parent's group.
    pub seed_group: PlantGroup,
    /// The pollen parent's group.
    pub pollen_group: PlantGroup,
    /// How much of what may be the intervals hold.
    pub confidence: f64,
    /// Fewest growers behind a figure that is told.
    pub least_growers: usize,
    /// The stages in their order.
    pub stages: Vec<StageOut>,
}
