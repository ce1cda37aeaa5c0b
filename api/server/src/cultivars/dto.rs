//! What is taken and sent.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::cultivars::{Candidate, Cultivar};
use storksbill_db::rows::permissions::Permission;
use storksbill_domain::day::{Day, Year};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::names;
use storksbill_domain::words::{CultivarStatus, GameteForm, Origin, PlantGroup, SportLayers, Visibility};
use utoipa::ToSchema;

use super::origin;
use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

/// Years a cultivar can have been raised in; the schema has the same.
const YEARS: (i32, i32) = (1600, 2200);
/// Most sets of chromosomes; the schema has the same.
const MOST_SETS: i32 = 16;
/// Most that may have given the pollen; the schema has the same.
const MOST_CANDIDATES: usize = 20;

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
    pub raised_year: Option<Year>,
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
    /// All that may have given the pollen, where it is one of several: 2 to 20, with shares that make 1,000
    /// thousandths.
    #[serde(default)]
    pub pollen_candidates: Vec<CandidateIn>,
    /// What it sported from, was struck from, or was doubled from; it then has no parents of its own.
    #[serde(default)]
    pub source_id: Option<CultivarId>,
    /// Where it comes from; when not given, `sport` with a source, `cross` with a parent, else `unknown`.
    #[serde(default)]
    pub origin: Option<Origin>,
    /// What the seed parent gave, where it is known; half of its chromosome sets when not given.
    #[serde(default)]
    pub seed_gamete: Option<GameteIn>,
    /// What the pollen parent gave, where it is known; half of its chromosome sets when not given.
    #[serde(default)]
    pub pollen_gamete: Option<GameteIn>,
    /// Of a sport: the cell layers that differ from the source, where they are known.
    #[serde(default)]
    pub sport_layers: Option<SportLayers>,
    /// Of a sport: what its shoots have been seen to go back to.
    #[serde(default)]
    pub reverts_to_id: Option<CultivarId>,
    /// Sets of chromosomes, 1 to 16: 2 for a diploid. Recorded apart from the chromosomes, since neither follows
    /// from the other.
    #[serde(default)]
    pub sets: Option<i32>,
    /// Chromosomes of a body cell (2n), 1 to 1,000.
    #[serde(default)]
    pub chromosomes: Option<i32>,
    /// Whether the chromosomes are "about" so many.
    #[serde(default)]
    pub chromosomes_about: bool,
    /// Who may see it; `society` when not given. Once shown to more it cannot be taken back.
    #[serde(default)]
    pub visibility: Option<Visibility>,
    /// Anything else, up to 4,000 characters.
    #[serde(default)]
    pub notes: Option<String>,
}

impl CultivarIn {
    /// The record it makes, with those that may have given the pollen; who enters it and when is not known yet.
    pub(super) fn record(&self) -> (Cultivar, Vec<Candidate>) {
        let mut cultivar = Cultivar {
            id: CultivarId::fresh(),
            name: names::tidy(&self.name),
            name_key: names::search_key(&self.name),
            plant_group: self.plant_group,
            raiser: self.raiser.clone(),
            raised_year: self.raised_year.map(i32::from),
            status: self.status,
            protected: self.protected,
            visibility: self.visibility.unwrap_or(Visibility::Society),
            origin: self.origin.unwrap_or(Origin::Unknown),
            seed_parent_id: self.seed_parent_id,
            pollen_parent_id: self.pollen_parent_id,
            source_id: self.source_id,
            seed_gamete: self.seed_gamete.as_ref().map(|gamete| gamete.form),
            seed_gamete_sets: self.seed_gamete.as_ref().and_then(|gamete| gamete.sets),
            seed_gamete_lambda: self.seed_gamete.as_ref().and_then(|gamete| gamete.lambda),
            pollen_gamete: self.pollen_gamete.as_ref().map(|gamete| gamete.form),
            pollen_gamete_sets: self.pollen_gamete.as_ref().and_then(|gamete| gamete.sets),
            pollen_gamete_lambda: self.pollen_gamete.as_ref().and_then(|gamete| gamete.lambda),
            sport_layers: self.sport_layers,
            reverts_to_id: self.reverts_to_id,
            sets: self.sets,
            chromosomes: self.chromosomes,
            chromosomes_about: self.chromosomes_about,
            merged_into_id: None,
            notes: self.notes.clone(),
            entered_by: None,
            version: 1,
            created_at: DateTime::UNIX_EPOCH.naive_utc(),
        };
        let candidates = candidate_rows(cultivar.id, &self.pollen_candidates);
        if self.origin.is_none() {
            cultivar.origin = origin::settled(&cultivar, candidates.len());
        }
        (cultivar, candidates)
    }
}

impl Check for CultivarIn {
    fn check(&self, found: &mut Findings) {
        check_name(found, &self.name);
        found.optional_text("/raiser", self.raiser.as_deref(), 120);
        if let Some(year) = self.raised_year {
            found.range("/raised_year", *year, YEARS.0, YEARS.1);
        }
        found.optional_text("/notes", self.notes.as_deref(), 4000);
        check_numbers(found, self.sets, self.chromosomes);
        check_gametes(found, [self.seed_gamete.as_ref(), self.pollen_gamete.as_ref()]);
        check_shares(found, &self.pollen_candidates);
        let (cultivar, candidates) = self.record();
        origin::check(&cultivar, &candidates, found);
        origin::check_shown(&cultivar, found);
    }
}

/// Changes to a cultivar.
#[derive(Debug, Clone, Default, Deserialize, ToSchema)]
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
    #[schema(value_type = Option<Year>)]
    pub raised_year: Patch<Year>,
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
    /// All that may have given the pollen; null or an empty list for none.
    #[serde(default)]
    #[schema(value_type = Option<Vec<CandidateIn>>)]
    pub pollen_candidates: Patch<Vec<CandidateIn>>,
    /// What it sported from, was struck from, or was doubled from.
    #[serde(default)]
    #[schema(value_type = Option<CultivarId>)]
    pub source_id: Patch<CultivarId>,
    /// Where it comes from; follows from parents and source where it is not mentioned.
    #[serde(default)]
    #[schema(value_type = Option<Origin>)]
    pub origin: Patch<Origin>,
    /// What the seed parent gave.
    #[serde(default)]
    #[schema(value_type = Option<GameteIn>)]
    pub seed_gamete: Patch<GameteIn>,
    /// What the pollen parent gave.
    #[serde(default)]
    #[schema(value_type = Option<GameteIn>)]
    pub pollen_gamete: Patch<GameteIn>,
    /// Of a sport: the cell layers that differ from the source.
    #[serde(default)]
    #[schema(value_type = Option<SportLayers>)]
    pub sport_layers: Patch<SportLayers>,
    /// Of a sport: what its shoots have been seen to go back to.
    #[serde(default)]
    #[schema(value_type = Option<CultivarId>)]
    pub reverts_to_id: Patch<CultivarId>,
    /// Sets of chromosomes.
    #[serde(default)]
    #[schema(value_type = Option<i32>)]
    pub sets: Patch<i32>,
    /// Chromosomes of a body cell.
    #[serde(default)]
    #[schema(value_type = Option<i32>)]
    pub chromosomes: Patch<i32>,
    /// Whether the chromosomes are "about" so many.
    #[serde(default)]
    #[schema(value_type = Option<bool>)]
    pub chromosomes_about: Patch<bool>,
    /// Who may see it; only ever more people.
    #[serde(default)]
    #[schema(value_type = Option<Visibility>)]
    pub visibility: Patch<Visibility>,
    /// Anything else.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub notes: Patch<String>,
}

impl CultivarPatch {
    /// Whether it says anything of where the cultivar comes from.
    pub(super) fn touches_origin(&self) -> bool {
        [&self.seed_parent_id, &self.pollen_parent_id, &self.source_id, &self.reverts_to_id]
            .into_iter()
            .any(|parent| *parent != Patch::Absent)
            || self.origin != Patch::Absent
            || self.pollen_candidates != Patch::Absent
            || self.seed_gamete != Patch::Absent
            || self.pollen_gamete != Patch::Absent
            || self.sport_layers != Patch::Absent
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
            ("/origin", self.origin == Patch::Null),
            ("/chromosomes_about", self.chromosomes_about == Patch::Null),
            ("/visibility", self.visibility == Patch::Null),
        ] {
            if cleared {
                found.add(pointer, "required", "cannot be cleared");
            }
        }
        found.optional_text("/raiser", self.raiser.value().map(String::as_str), 120);
        if let Some(year) = self.raised_year.value() {
            found.range("/raised_year", **year, YEARS.0, YEARS.1);
        }
        found.optional_text("/notes", self.notes.value().map(String::as_str), 4000);
        check_numbers(found, self.sets.value().copied(), self.chromosomes.value().copied());
        check_gametes(found, [self.seed_gamete.value(), self.pollen_gamete.value()]);
        check_shares(found, self.pollen_candidates.value().map(Vec::as_slice).unwrap_or_default());
    }
}

fn check_name(found: &mut Findings, name: &str) {
    found.text("/name", name, 1, 120);
    if !name.trim().is_empty() && names::search_key(name).is_empty() {
        found.add("/name", "no-letters", "needs a letter or a digit, or nobody could look it up");
    }
}

/// One that may have given the pollen.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CandidateIn {
    /// Which; null for a plant that nobody knows.
    #[serde(default)]
    pub cultivar_id: Option<CultivarId>,
    /// How likely it is the pollen parent, thousandths.
    pub share_thousandths: i32,
}

/// What a parent gave.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GameteIn {
    /// How the germ cell came about.
    pub form: GameteForm,
    /// With `stated`: how many chromosome sets it brought, 1 to 16.
    #[serde(default)]
    pub sets: Option<i32>,
    /// Probability, 0 to 1, that two homologous chromosomes in it are copies of one because of this very meiosis:
    /// for a tetraploid's usual gamete its double reduction. 0 when not given.
    #[serde(default)]
    pub lambda: Option<f64>,
}

fn check_numbers(found: &mut Findings, sets: Option<i32>, chromosomes: Option<i32>) {
    if let Some(sets) = sets {
        found.range("/sets", sets, 1, MOST_SETS);
    }
    if let Some(chromosomes) = chromosomes {
        found.range("/chromosomes", chromosomes, 1, 1000);
    }
}

fn check_gametes(found: &mut Findings, gametes: [Option<&GameteIn>; 2]) {
    for (pointer, gamete) in ["/seed_gamete", "/pollen_gamete"].into_iter().zip(gametes) {
        let Some(gamete) = gamete else { continue };
        if let Some(sets) = gamete.sets {
            found.range(&format!("{pointer}/sets"), sets, 1, MOST_SETS);
        }
        if let Some(lambda) = gamete.lambda {
            found.range(&format!("{pointer}/lambda"), lambda, 0.0, 1.0);
        }
    }
}

pub(super) fn check_shares(found: &mut Findings, candidates: &[CandidateIn]) {
    if !candidates.is_empty() && !(2..=MOST_CANDIDATES).contains(&candidates.len()) {
        let detail = format!("are 2 to {MOST_CANDIDATES}; a known pollen parent is `pollen_parent_id`");
        found.add("/pollen_candidates", "out-of-range", detail);
    }
    for (at, candidate) in candidates.iter().enumerate() {
        let pointer = format!("/pollen_candidates/{at}/share_thousandths");
        found.range(&pointer, candidate.share_thousandths, 1, 1000);
    }
}

/// The rows of those that may have given the pollen.
pub(super) fn candidate_rows(cultivar: CultivarId, candidates: &[CandidateIn]) -> Vec<Candidate> {
    let row = |(place, candidate): (i32, &CandidateIn)| Candidate {
        cultivar_id: cultivar,
        place,
        candidate_id: candidate.cultivar_id,
        share: candidate.share_thousandths,
    };
    (1..).zip(candidates).map(row).collect()
}

/// A cultivar, named or still a seedling.
#[derive(Debug, Serialize, Deserialize, ToSchema)]
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
    /// Where it comes from.
    pub origin: Origin,
    /// The parent that bore the seed.
    pub seed_parent_id: Option<CultivarId>,
    /// The parent that gave the pollen.
    pub pollen_parent_id: Option<CultivarId>,
    /// All that may have given the pollen.
    pub pollen_candidates: Vec<CandidateOut>,
    /// What it sported from, was struck from, or was doubled from.
    pub source_id: Option<CultivarId>,
    /// Which of the parents and the source are on record and not shown to you: their owner has not released them.
    pub undisclosed: Vec<OriginField>,
    /// What the seed parent gave, where it is known.
    pub seed_gamete: Option<GameteOut>,
    /// What the pollen parent gave, where it is known.
    pub pollen_gamete: Option<GameteOut>,
    /// Of a sport: the cell layers that differ from the source.
    pub sport_layers: Option<SportLayers>,
    /// Of a sport: what its shoots have been seen to go back to.
    pub reverts_to_id: Option<CultivarId>,
    /// Sets of chromosomes.
    pub sets: Option<i32>,
    /// Chromosomes of a body cell.
    pub chromosomes: Option<i32>,
    /// Whether the chromosomes are "about" so many.
    pub chromosomes_about: bool,
    /// Who may see it.
    pub visibility: Visibility,
    /// The record that stands in its place since the two were found to be the same plant.
    pub merged_into_id: Option<CultivarId>,
    /// Anything else.
    pub notes: Option<String>,
    /// The member who entered it, and who may change it until it is named.
    pub entered_by: Option<MemberId>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

/// One that may have given the pollen.
#[derive(Debug, Serialize, Deserialize, ToSchema)]
pub struct CandidateOut {
    /// Which; null for a plant that nobody knows, or that you may not see.
    pub cultivar_id: Option<CultivarId>,
    /// Whether it is on record and not shown to you.
    pub undisclosed: bool,
    /// How likely it is the pollen parent, thousandths.
    pub share_thousandths: i32,
}

/// What a parent gave.
#[derive(Debug, Serialize, Deserialize, ToSchema)]
pub struct GameteOut {
    /// How the germ cell came about.
    pub form: GameteForm,
    /// How many chromosome sets it brought, where they are stated.
    pub sets: Option<i32>,
    /// Probability that two homologous chromosomes in it are copies of one because of this very meiosis.
    pub lambda: Option<f64>,
}

/// A field of a cultivar's origin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub enum OriginField {
    /// The parent that bore the seed.
    #[serde(rename = "seed_parent_id")]
    SeedParent,
    /// The parent that gave the pollen.
    #[serde(rename = "pollen_parent_id")]
    PollenParent,
    /// What it came from.
    #[serde(rename = "source_id")]
    Source,
    /// What it goes back to.
    #[serde(rename = "reverts_to_id")]
    RevertsTo,
}

impl CultivarOut {
    /// Everybody the record names.
    pub(super) fn names(&self) -> Vec<CultivarId> {
        [self.seed_parent_id, self.pollen_parent_id, self.source_id, self.reverts_to_id]
            .into_iter()
            .chain(self.pollen_candidates.iter().map(|candidate| candidate.cultivar_id))
            .flatten()
            .collect()
    }

    /// A record that was kept whole, as it is told to somebody who may see those that `seen` holds.
    #[must_use]
    pub(super) fn shown(mut self, seen: &BTreeSet<CultivarId>) -> Self {
        for (field, id) in [
            (OriginField::SeedParent, &mut self.seed_parent_id),
            (OriginField::PollenParent, &mut self.pollen_parent_id),
            (OriginField::Source, &mut self.source_id),
            (OriginField::RevertsTo, &mut self.reverts_to_id),
        ] {
            if id.is_some_and(|id| !seen.contains(&id)) {
                *id = None;
                self.undisclosed.push(field);
            }
        }
        for candidate in &mut self.pollen_candidates {
            if candidate.cultivar_id.is_some_and(|id| !seen.contains(&id)) {
                candidate.cultivar_id = None;
                candidate.undisclosed = true;
            }
        }
        self
    }

    /// As it is told to somebody who may see those of its origins that `seen` holds.
    pub(super) fn of(cultivar: Cultivar, candidates: &[Candidate], seen: &BTreeSet<CultivarId>) -> Self {
        let mut undisclosed = Vec::new();
        let mut told = |field: OriginField, id: Option<CultivarId>| {
            let shown = id.filter(|id| seen.contains(id));
            if shown != id {
                undisclosed.push(field);
            }
            shown
        };
        let seed_parent_id = told(OriginField::SeedParent, cultivar.seed_parent_id);
        let pollen_parent_id = told(OriginField::PollenParent, cultivar.pollen_parent_id);
        let source_id = told(OriginField::Source, cultivar.source_id);
        let reverts_to_id = told(OriginField::RevertsTo, cultivar.reverts_to_id);
        let gamete =
            |form: Option<GameteForm>, sets, lambda| form.map(|form| GameteOut { form, sets, lambda });
        Self {
            id: cultivar.id,
            name: cultivar.name,
            plant_group: cultivar.plant_group,
            raiser: cultivar.raiser,
            raised_year: cultivar.raised_year,
            status: cultivar.status,
            protected: cultivar.protected,
            origin: cultivar.origin,
            seed_parent_id,
            pollen_parent_id,
            pollen_candidates: candidates
                .iter()
                .filter(|candidate| candidate.cultivar_id == cultivar.id)
                .map(|candidate| CandidateOut {
                    cultivar_id: candidate.candidate_id.filter(|id| seen.contains(id)),
                    undisclosed: candidate.candidate_id.is_some_and(|id| !seen.contains(&id)),
                    share_thousandths: candidate.share,
                })
                .collect(),
            source_id,
            undisclosed,
            seed_gamete: gamete(cultivar.seed_gamete, cultivar.seed_gamete_sets, cultivar.seed_gamete_lambda),
            pollen_gamete: gamete(
                cultivar.pollen_gamete,
                cultivar.pollen_gamete_sets,
                cultivar.pollen_gamete_lambda,
            ),
            sport_layers: cultivar.sport_layers,
            reverts_to_id,
            sets: cultivar.sets,
            chromosomes: cultivar.chromosomes,
            chromosomes_about: cultivar.chromosomes_about,
            visibility: cultivar.visibility,
            merged_into_id: cultivar.merged_into_id,
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
    pub until: Option<Day>,
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

/// A version of a cultivar that is past.
#[derive(Debug, Serialize, ToSchema)]
pub struct PastOut {
    /// The record as it was; a parent that you may not see is undisclosed.
    pub record: CultivarOut,
    /// Who changed it.
    pub changed_by: MemberId,
    /// Their name.
    pub changed_by_name: String,
    /// When.
    pub changed_at: DateTime<Utc>,
    /// Why, where it was more than an edit.
    pub why: Option<String>,
}

/// The record that stands for two.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MergeIn {
    /// The cultivar that is kept.
    pub into: CultivarId,
    /// How it is known that the two are one, up to 1,000 characters; kept in both histories.
    pub reason: String,
}

impl Check for MergeIn {
    fn check(&self, found: &mut Findings) {
        found.text("/reason", &self.reason, 1, 1000);
    }
}

/// What pointed at the merged record and points at the kept one now.
#[derive(Debug, Serialize, ToSchema)]
pub struct MovedOut {
    /// Cultivars that name it as a parent, a source, or what they go back to.
    pub offspring: i64,
    /// Plants of it.
    pub plants: i64,
    /// Offers, wants and hand-overs of the swap.
    pub swaps: i64,
    /// Its permission and its place on the conservation list.
    pub care: i64,
    /// Crosses with it as a parent, and seedlings named as it.
    pub crosses: i64,
    /// Registrations, and reports of sports.
    pub register: i64,
}

/// Two records made one.
#[derive(Debug, Serialize, ToSchema)]
pub struct MergedOut {
    /// The record that was merged; it answers with where it went.
    pub merged: CultivarOut,
    /// The record that is kept.
    pub kept: CultivarOut,
    /// What was moved, before records that the kept one had already were joined with them.
    pub moved: MovedOut,
}
