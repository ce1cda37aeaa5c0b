//! A plant as the exports tell it.

use std::fmt::Write as _;

use serde::Serialize;
use storksbill_db::rows::crosses::Seedling;
use storksbill_db::rows::cultivars::Cultivar;
use storksbill_db::rows::lines::{Descent, Gave, Line};
use storksbill_domain::ids::{CrossId, IndividualId, MemberId};
use storksbill_domain::words::{IndividualKind, Origin, PlantGroup, SportLayers, Visibility};
use utoipa::ToSchema;

use super::asker::Asker;
use super::dto::{DescentOut, IndividualOut, PollenParentOut};
use super::look::descent;
use super::whole::{Whole, unnumbered};
use crate::cultivars::GameteOut;
use crate::http::problem::Problem;

/// The version of [`PedigreeLineOut`], which stands in every line.
const SCHEMA_VERSION: u32 = 1;

/// The columns of the table.
pub(super) const COLUMNS: [&str; 27] = [
    "id",
    "kind",
    "name",
    "plant_group",
    "status",
    "origin",
    "parents_from",
    "seed_parent_id",
    "pollen_parent_id",
    "pollen_candidates",
    "source_id",
    "seed_gamete",
    "pollen_gamete",
    "sport_layers",
    "reverts_to_id",
    "sets",
    "chromosomes",
    "chromosomes_about",
    "raised_year",
    "raiser",
    "protected",
    "visibility",
    "notes",
    "entered_by",
    "version",
    "undisclosed",
    "inbreeding",
];

/// Where parents are recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ParentsFrom {
    /// On the plant's own record.
    Record,
    /// On the cross that it was raised from.
    Cross,
}

/// A field of a plant's origin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub enum HiddenField {
    /// The parent that bore the seed.
    #[serde(rename = "seed_parent_id")]
    SeedParent,
    /// The one parent that gave the pollen.
    #[serde(rename = "pollen_parent_id")]
    PollenParent,
    /// One of those that may have given the pollen.
    #[serde(rename = "pollen_candidates")]
    PollenCandidates,
    /// What it came from.
    #[serde(rename = "source_id")]
    Source,
    /// What it goes back to.
    #[serde(rename = "reverts_to_id")]
    RevertsTo,
}

impl HiddenField {
    const fn as_str(self) -> &'static str {
        match self {
            Self::SeedParent => "seed_parent_id",
            Self::PollenParent => "pollen_parent_id",
            Self::PollenCandidates => "pollen_candidates",
            Self::Source => "source_id",
            Self::RevertsTo => "reverts_to_id",
        }
    }
}

/// One of several that may have given the pollen.
#[derive(Debug, Serialize, ToSchema)]
pub struct PossibleParentOut {
    /// Which; null for a plant that nobody knows, or that is undisclosed.
    pub id: Option<IndividualId>,
    /// Whether it is on record and not shown to you.
    pub undisclosed: bool,
    /// How likely it is the pollen parent, thousandths.
    pub share_thousandths: i32,
}

/// A cultivar or a numbered seedling, with all that is on record of it and that you may see.
#[derive(Debug, Serialize, ToSchema)]
pub struct PedigreeLineOut {
    /// The version of this schema: 1. It counts up when a field changes its meaning or goes away, not when one is
    /// added.
    pub schema_version: u32,
    /// Identity.
    pub id: IndividualId,
    /// What it is.
    pub kind: IndividualKind,
    /// A cultivar's name or a seedling's label.
    pub name: String,
    /// A cultivar's group.
    pub plant_group: Option<PlantGroup>,
    /// How far it has come: of a cultivar `seedling`, `on_trial` or `named`; a seedling has words of its own.
    pub status: String,
    /// Where it comes from.
    pub origin: Origin,
    /// Where its parents are recorded; null where none are, or where that is not shown to you.
    pub parents_from: Option<ParentsFrom>,
    /// The parent that bore the seed; of a plant from one egg, its parent.
    pub seed_parent_id: Option<IndividualId>,
    /// The one parent that gave the pollen.
    pub pollen_parent_id: Option<IndividualId>,
    /// All that may have given the pollen, where it is one of several.
    pub pollen_candidates: Vec<PossibleParentOut>,
    /// What a sport, cutting or doubled plant came from.
    pub source_id: Option<IndividualId>,
    /// What the seed parent gave, where it is known.
    pub seed_gamete: Option<GameteOut>,
    /// What the pollen parent gave, where it is known.
    pub pollen_gamete: Option<GameteOut>,
    /// Of a sport: the cell layers that differ from the source.
    pub sport_layers: Option<SportLayers>,
    /// Of a sport: what its shoots have been seen to go back to. It may stand on a later line.
    pub reverts_to_id: Option<IndividualId>,
    /// Which of these are on record and not shown to you: their owner has not released them.
    pub undisclosed: Vec<HiddenField>,
    /// Sets of chromosomes, where they are recorded.
    pub sets: Option<i32>,
    /// Chromosomes of a body cell.
    pub chromosomes: Option<i32>,
    /// Whether the chromosomes are "about" so many.
    pub chromosomes_about: bool,
    /// The year it was raised.
    pub raised_year: Option<i32>,
    /// Who raised it, as recorded of a cultivar.
    pub raiser: Option<String>,
    /// Breeders' rights in a cultivar are in force.
    pub protected: bool,
    /// Who may see it.
    pub visibility: Visibility,
    /// Anything else.
    pub notes: Option<String>,
    /// The member who entered it.
    pub entered_by: Option<MemberId>,
    /// The cross of a seedling.
    pub cross_id: Option<CrossId>,
    /// The version of the record, as in its `ETag`.
    pub version: i32,
    /// The coefficient of inbreeding, 0 to 1, over everybody on record.
    pub inbreeding: f64,
}

/// The record that a plant of the pedigree has.
pub(super) enum Kept<'a> {
    Cultivar(&'a Cultivar),
    Seedling(&'a Seedling),
}

impl PedigreeLineOut {
    /// A plant that the asker may see, as far as the asker may see it.
    pub(super) fn of(
        whole: &Whole,
        asker: &Asker,
        (number, line): (u64, &Line),
        kept: &Kept<'_>,
    ) -> Result<Self, Problem> {
        let DescentOut { origin, seed_parent, pollen_parents, source } = descent(whole, asker, line)?;
        let mut undisclosed = Vec::new();
        let mut told = |field: HiddenField, individual: Option<IndividualOut>| {
            if individual.as_ref().is_some_and(|individual| individual.undisclosed) {
                undisclosed.push(field);
            }
            individual.and_then(|individual| individual.id)
        };
        let seed_parent_id = told(HiddenField::SeedParent, seed_parent);
        let mut pollen_parent_id = None;
        let mut pollen_candidates = Vec::new();
        if pollen_parents.len() > 1 {
            for PollenParentOut { individual, share_thousandths } in pollen_parents {
                let hidden = individual.as_ref().is_some_and(|individual| individual.undisclosed);
                let id = individual.and_then(|individual| individual.id);
                pollen_candidates.push(PossibleParentOut { id, undisclosed: hidden, share_thousandths });
            }
        } else if let Some(one) = pollen_parents.into_iter().next() {
            pollen_parent_id = told(HiddenField::PollenParent, one.individual);
        }
        let source_id = told(HiddenField::Source, source);
        let (mut sport_layers, mut reverts_to_id) = (None, None);
        if let Descent::Sport { layers, reverts_to, .. } = &line.descent {
            sport_layers = *layers;
            let to =
                reverts_to.and_then(|id| whole.number(id)).map(|number| whole.line(number)).transpose()?;
            reverts_to_id = told(HiddenField::RevertsTo, to.map(|line| IndividualOut::told(line, asker)));
        }
        if pollen_candidates.iter().any(|candidate| candidate.undisclosed) {
            undisclosed.push(HiddenField::PollenCandidates);
        }
        let seen = asker.sees_origin(line);
        let parents_from = match (&line.descent, line.kind) {
            (Descent::Unknown, _) => None,
            (_, IndividualKind::Seedling) => Some(ParentsFrom::Cross),
            _ if line.parents_told_by.is_some() => Some(ParentsFrom::Cross),
            _ => Some(ParentsFrom::Record),
        };
        let gamete = |gave: Gave| {
            let form = gave.form.filter(|_| seen)?;
            Some(GameteOut { form, sets: gave.sets, lambda: gave.lambda })
        };
        let (status, raiser, protected, notes, cross_id, version) = match kept {
            Kept::Cultivar(kept) => (
                kept.status.to_string(),
                kept.raiser.clone(),
                kept.protected,
                kept.notes.clone(),
                None,
                kept.version,
            ),
            Kept::Seedling(kept) => {
                (kept.status.to_string(), None, false, kept.notes.clone(), Some(kept.cross_id), kept.version)
            }
        };
        Ok(Self {
            schema_version: SCHEMA_VERSION,
            id: line.id,
            kind: line.kind,
            name: line.name.clone(),
            plant_group: line.plant_group,
            status,
            origin: origin.unwrap_or(Origin::Unknown),
            parents_from: parents_from.filter(|_| seen),
            seed_parent_id,
            pollen_parent_id,
            pollen_candidates,
            source_id,
            seed_gamete: gamete(line.seed_gave),
            pollen_gamete: gamete(line.pollen_gave),
            sport_layers,
            reverts_to_id,
            undisclosed,
            sets: line.sets,
            chromosomes: line.chromosomes,
            chromosomes_about: line.chromosomes_about,
            raised_year: line.raised_year,
            raiser,
            protected,
            visibility: line.visibility,
            notes,
            entered_by: line.owner,
            cross_id,
            version,
            inbreeding: whole.pedigree.inbreeding(number).map_err(unnumbered)?,
        })
    }

    /// Its parents or source, as far as they are told.
    pub(super) fn parents(&self) -> impl Iterator<Item = IndividualId> {
        let of_pollen = self.pollen_candidates.iter().filter_map(|candidate| candidate.id);
        [self.seed_parent_id, self.pollen_parent_id, self.source_id].into_iter().flatten().chain(of_pollen)
    }

    /// As a line of [`COLUMNS`].
    pub(super) fn cells(self) -> [String; 27] {
        fn cell<T: ToString>(value: Option<T>) -> String {
            value.map(|value| value.to_string()).unwrap_or_default()
        }
        let hidden: Vec<&str> = self.undisclosed.iter().map(|field| field.as_str()).collect();
        let candidates = if self.undisclosed.contains(&HiddenField::PollenCandidates) {
            String::new()
        } else {
            let each = self.pollen_candidates.iter().map(|candidate| {
                let who = candidate.id.map_or_else(|| "?".to_owned(), |id| id.to_string());
                format!("{who}={}", candidate.share_thousandths)
            });
            each.collect::<Vec<_>>().join("; ")
        };
        let parents_from = self.parents_from.map(|from| match from {
            ParentsFrom::Record => "record",
            ParentsFrom::Cross => "cross",
        });
        [
            self.id.to_string(),
            self.kind.to_string(),
            self.name,
            cell(self.plant_group),
            self.status,
            self.origin.to_string(),
            cell(parents_from),
            cell(self.seed_parent_id),
            cell(self.pollen_parent_id),
            candidates,
            cell(self.source_id),
            self.seed_gamete.as_ref().map(in_words).unwrap_or_default(),
            self.pollen_gamete.as_ref().map(in_words).unwrap_or_default(),
            cell(self.sport_layers),
            cell(self.reverts_to_id),
            cell(self.sets),
            cell(self.chromosomes),
            self.chromosomes_about.to_string(),
            cell(self.raised_year),
            self.raiser.unwrap_or_default(),
            self.protected.to_string(),
            self.visibility.to_string(),
            self.notes.unwrap_or_default(),
            cell(self.entered_by),
            self.version.to_string(),
            hidden.join(" "),
            self.inbreeding.to_string(),
        ]
    }
}

/// A gamete in one cell: its form, then what is stated of it.
fn in_words(gamete: &GameteOut) -> String {
    let mut words = gamete.form.to_string();
    if let Some(sets) = gamete.sets {
        let _ = write!(words, " sets={sets}");
    }
    if let Some(lambda) = gamete.lambda {
        let _ = write!(words, " lambda={lambda}");
    }
    words
}
