//! Cultivars as lines of a table.

use storksbill_domain::ids::CultivarId;
use storksbill_domain::words::{GameteForm, IndividualKind, PlantGroup};

use super::dto::{CultivarPatch, GameteIn};
use crate::http::json::Check;
use crate::http::patch::Patch;
use crate::http::problem::Problem;
use crate::tables::sheet::{Faults, Line, Sheet};

/// The columns that are read, then those of an export that say nothing new.
pub const COLUMNS: [&str; 31] = [
    "id",
    "version",
    "name",
    "plant_group",
    "raiser",
    "raised_year",
    "status",
    "protected",
    "origin",
    "seed_parent_id",
    "seed_parent",
    "pollen_parent_id",
    "pollen_parent",
    "pollen_candidates",
    "source_id",
    "source",
    "reverts_to_id",
    "reverts_to",
    "seed_gamete",
    "pollen_gamete",
    "sport_layers",
    "sets",
    "chromosomes",
    "chromosomes_about",
    "visibility",
    "notes",
    "kind",
    "parents_from",
    "undisclosed",
    "entered_by",
    "inbreeding",
];

/// A cultivar as a cell names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Named {
    /// By its id.
    Id(CultivarId),
    /// By its name, with its group where the cell gives it.
    Name(String),
}

impl Named {
    /// A name that ends in a group in parentheses, parted.
    pub fn with_group(name: &str) -> Option<(&str, PlantGroup)> {
        let (name, group) = name.strip_suffix(')')?.rsplit_once('(')?;
        Some((name.trim(), group.trim().parse().ok()?))
    }
}

/// One parent or other origin of a line.
#[derive(Debug)]
pub struct Origins {
    /// The parent that bore the seed.
    pub seed_parent: Patch<Named>,
    /// The parent that gave the pollen.
    pub pollen_parent: Patch<Named>,
    /// What it came from.
    pub source: Patch<Named>,
    /// What it goes back to.
    pub reverts_to: Patch<Named>,
    /// All that may have given the pollen, with thousandths; `None` is a plant that nobody knows.
    pub candidates: Patch<Vec<(Option<Named>, i32)>>,
}

impl Origins {
    /// Everything that is named, with its column.
    pub fn named(&self) -> impl Iterator<Item = (&'static str, &Named)> {
        let parents = [
            ("seed_parent", &self.seed_parent),
            ("pollen_parent", &self.pollen_parent),
            ("source", &self.source),
            ("reverts_to", &self.reverts_to),
        ];
        let candidates = self.candidates.value().into_iter().flatten();
        parents
            .into_iter()
            .filter_map(|(column, named)| Some((column, named.value()?)))
            .chain(candidates.filter_map(|(named, _)| Some(("pollen_candidates", named.as_ref()?))))
    }
}

/// A line that was read: an edit of the cultivar of an id, or a new one.
#[derive(Debug)]
pub struct CultivarLine {
    /// Where in the file.
    pub number: u64,
    /// The cultivar it edits; a new one where null or absent.
    pub id: Patch<CultivarId>,
    /// The version that was exported, where the table says so.
    pub version: Option<i32>,
    /// The fields, but for what the line names. A column that is not in the table leaves an edited cultivar's field
    /// as it is.
    pub patch: CultivarPatch,
    /// What the line names.
    pub origins: Origins,
    /// What is wrong with it by itself.
    pub faults: Faults,
}

/// Reads a table of cultivars.
///
/// # Errors
/// As [`Sheet::read`]; faults of single lines are in the lines.
pub fn read(bytes: &[u8]) -> Result<Vec<CultivarLine>, Problem> {
    Ok(Sheet::read(bytes, &COLUMNS)?.lines().map(read_line).collect())
}

fn read_line(mut line: Line<'_>) -> CultivarLine {
    let id = line.id("id");
    let is_new = !matches!(id, Patch::Value(_)) && line.faults.is_clean("id");
    if line.word::<IndividualKind>("kind") == Patch::Value(IndividualKind::Seedling) {
        let detail = "is `cultivar` here: seedlings are numbered in their crosses; leave the line out";
        line.faults.add("kind", "not-taken", detail);
    }
    let mut patch = CultivarPatch {
        name: line.text("name"),
        plant_group: line.word("plant_group"),
        raiser: line.text("raiser"),
        raised_year: line.year("raised_year"),
        status: line.word("status"),
        protected: blank_is_false(line.truth("protected")),
        origin: blank_is_absent(line.word("origin")),
        seed_gamete: gamete(&mut line, "seed_gamete"),
        pollen_gamete: gamete(&mut line, "pollen_gamete"),
        sport_layers: line.word("sport_layers"),
        sets: line.whole("sets"),
        chromosomes: line.whole("chromosomes"),
        chromosomes_about: blank_is_false(line.truth("chromosomes_about")),
        visibility: line.word("visibility"),
        notes: line.text("notes"),
        ..CultivarPatch::default()
    };
    let mut origins = Origins {
        seed_parent: named(&mut line, "seed_parent_id", "seed_parent"),
        pollen_parent: named(&mut line, "pollen_parent_id", "pollen_parent"),
        source: named(&mut line, "source_id", "source"),
        reverts_to: named(&mut line, "reverts_to_id", "reverts_to"),
        candidates: candidates(&mut line),
    };
    if is_new {
        // It has a value when nothing is said.
        patch.visibility = blank_is_absent(patch.visibility);
        line.require(&["name", "plant_group", "status"]);
    } else {
        keep_what_is_told_elsewhere(&mut line, &mut patch, &mut origins);
    }
    line.faults.of(|found| patch.check(found));
    let version = line.whole("version").value().copied();
    CultivarLine { number: line.number, id, version, patch, origins, faults: line.faults }
}

fn blank_is_absent<T>(field: Patch<T>) -> Patch<T> {
    if matches!(field, Patch::Null) { Patch::Absent } else { field }
}

fn blank_is_false(field: Patch<bool>) -> Patch<bool> {
    if field == Patch::Null { Patch::Value(false) } else { field }
}

/// What an export could not show, or told from a cross, is not cleared by sending it back.
fn keep_what_is_told_elsewhere(line: &mut Line<'_>, patch: &mut CultivarPatch, origins: &mut Origins) {
    let from = line.text("parents_from");
    match from.value().map(String::as_str) {
        None | Some("record") => {}
        Some("cross") => {
            *origins = Origins {
                seed_parent: Patch::Absent,
                pollen_parent: Patch::Absent,
                source: Patch::Absent,
                reverts_to: Patch::Absent,
                candidates: Patch::Absent,
            };
            patch.origin = Patch::Absent;
            (patch.seed_gamete, patch.pollen_gamete) = (Patch::Absent, Patch::Absent);
            patch.sport_layers = Patch::Absent;
        }
        Some(other) => {
            let detail = format!("`{other}` is not one of: record, cross");
            line.faults.add("parents_from", "unknown-word", detail);
        }
    }
    let hidden = line.text("undisclosed");
    for column in hidden.value().map(String::as_str).unwrap_or_default().split_whitespace() {
        let field = match column {
            "seed_parent_id" => &mut origins.seed_parent,
            "pollen_parent_id" => &mut origins.pollen_parent,
            "source_id" => &mut origins.source,
            "reverts_to_id" => &mut origins.reverts_to,
            "pollen_candidates" => {
                origins.candidates = blank_is_absent(std::mem::take(&mut origins.candidates));
                continue;
            }
            other => {
                let detail = format!("`{other}` is not a column of origins");
                line.faults.add("undisclosed", "unknown-word", detail);
                continue;
            }
        };
        *field = blank_is_absent(std::mem::take(field));
    }
}

/// What either of two columns names.
fn named(line: &mut Line<'_>, id_column: &'static str, name_column: &'static str) -> Patch<Named> {
    match (line.id(id_column), line.text(name_column)) {
        (Patch::Value(_), Patch::Value(_)) => {
            line.faults.add(
                name_column,
                "twice",
                format!("is named by `{id_column}` already; leave one empty"),
            );
            Patch::Absent
        }
        (Patch::Value(id), _) => Patch::Value(Named::Id(id)),
        (_, Patch::Value(name)) => Patch::Value(Named::Name(name)),
        (Patch::Null, _) | (_, Patch::Null) => Patch::Null,
        (Patch::Absent, Patch::Absent) => Patch::Absent,
    }
}

/// `Quay Lass=600; ?=400`.
fn candidates(line: &mut Line<'_>) -> Patch<Vec<(Option<Named>, i32)>> {
    let text = match line.text("pollen_candidates") {
        Patch::Absent => return Patch::Absent,
        Patch::Null => return Patch::Null,
        Patch::Value(text) => text,
    };
    let mut all = Vec::new();
    for part in text.split(';').map(str::trim).filter(|part| !part.is_empty()) {
        let share =
            part.rsplit_once('=').and_then(|(who, share)| Some((who.trim(), share.trim().parse().ok()?)));
        let Some((who, share)) = share else {
            let detail = format!("`{part}` is not a cultivar with its thousandths, such as `Quay Lass=600`");
            line.faults.add("pollen_candidates", "invalid-value", detail);
            return Patch::Absent;
        };
        let who = match who {
            "?" => None,
            who => Some(who.parse().map_or_else(|_name| Named::Name(who.to_owned()), Named::Id)),
        };
        all.push((who, share));
    }
    Patch::Value(all)
}

/// `stated sets=3 lambda=0.1`.
fn gamete(line: &mut Line<'_>, column: &'static str) -> Patch<GameteIn> {
    let text = match line.text(column) {
        Patch::Absent => return Patch::Absent,
        Patch::Null => return Patch::Null,
        Patch::Value(text) => text,
    };
    match gamete_of(&text) {
        Ok(gamete) => Patch::Value(gamete),
        Err(detail) => {
            line.faults.add(column, "invalid-value", detail);
            Patch::Absent
        }
    }
}

fn gamete_of(text: &str) -> Result<GameteIn, String> {
    let mut words = text.split_whitespace();
    let form: GameteForm =
        words.next().unwrap_or_default().parse().map_err(|unknown| format!("{unknown}"))?;
    let mut gamete = GameteIn { form, sets: None, lambda: None };
    for word in words {
        let unclear = || format!("`{word}` is not `sets=` or `lambda=` with a number");
        match word.split_once('=') {
            Some(("sets", number)) => gamete.sets = Some(number.parse().map_err(|_number| unclear())?),
            Some(("lambda", number)) => gamete.lambda = Some(number.parse().map_err(|_number| unclear())?),
            _ => return Err(unclear()),
        }
    }
    Ok(gamete)
}
