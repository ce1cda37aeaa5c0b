//! Diary records as lines of a table.

use storksbill_db::rows::plants::DiaryEntry;
use storksbill_domain::ids::{DiaryId, PlantId};

use super::dto::{DiaryIn, DiaryPatch, label_of};
use super::pots;
use crate::http::json::Check;
use crate::http::patch::Patch;
use crate::http::problem::Problem;
use crate::tables::sheet::{Faults, Line, Sheet, cell};

/// The columns, in the order of an export.
pub const COLUMNS: [&str; 9] =
    ["id", "version", "plant_id", "plant_label", "day", "kind", "how_many", "pot_mm", "note"];

/// A record, beside its plant's label, as a line of [`COLUMNS`].
pub fn written((entry, label): (DiaryEntry, Option<String>)) -> [String; 9] {
    [
        entry.id.to_string(),
        entry.version.to_string(),
        entry.plant_id.to_string(),
        label.unwrap_or_default(),
        entry.day.to_string(),
        entry.kind.to_string(),
        cell(entry.how_many),
        cell(entry.pot_um.map(pots::millimetres)),
        entry.note.unwrap_or_default(),
    ]
}

/// A line that was read: an edit of the record of an id, or a new record.
#[derive(Debug)]
pub struct DiaryLine {
    /// Where in the file.
    pub number: u64,
    /// The record it edits; a new record where null or absent.
    pub id: Patch<DiaryId>,
    /// The version that was exported, where the table says so.
    pub version: Option<i32>,
    /// The plant, where the table names it by id.
    pub plant_id: Option<PlantId>,
    /// The plant's label, where the table names it.
    pub plant_label: Option<String>,
    /// The fields. A column that is not in the table leaves an edited record's field as it is.
    pub patch: DiaryPatch,
    /// What is wrong with it by itself.
    pub faults: Faults,
}

/// Reads a table of diary records.
///
/// # Errors
/// As [`Sheet::read`]; faults of single lines are in the lines.
pub fn read(bytes: &[u8]) -> Result<Vec<DiaryLine>, Problem> {
    Ok(Sheet::read(bytes, &COLUMNS)?.lines().map(read_line).collect())
}

fn read_line(mut line: Line<'_>) -> DiaryLine {
    let id = line.id("id");
    let patch = DiaryPatch {
        day: line.day("day"),
        kind: line.word("kind"),
        how_many: line.whole("how_many"),
        pot_mm: line.number("pot_mm"),
        note: line.text("note"),
    };
    let plant_id = line.id("plant_id").value().copied();
    let plant_label = line.text("plant_label").value().and_then(|label| label_of(label));
    let version = line.whole("version").value().copied();
    let is_new = !matches!(id, Patch::Value(_)) && line.faults.is_clean("id");
    if is_new {
        line.require(&["day", "kind"]);
        if plant_label.is_none() {
            line.require(&["plant_id"]);
        }
    }
    line.faults.of(|found| patch.check(found));
    DiaryLine { number: line.number, id, version, plant_id, plant_label, patch, faults: line.faults }
}

/// The new record of a line without faults.
pub fn new_entry(patch: &DiaryPatch) -> Option<DiaryIn> {
    Some(DiaryIn {
        day: *patch.day.value()?,
        kind: *patch.kind.value()?,
        how_many: patch.how_many.value().copied(),
        pot_mm: patch.pot_mm.value().copied(),
        note: patch.note.value().cloned(),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use chrono::NaiveDate;
    use storksbill_domain::words::DiaryKind;

    use super::*;
    use crate::tables::sheet::{refuse, write};

    fn entry() -> DiaryEntry {
        DiaryEntry {
            id: DiaryId::fresh(),
            plant_id: PlantId::fresh(),
            day: NaiveDate::from_ymd_opt(2026, 3, 1).unwrap(),
            kind: DiaryKind::Potting,
            how_many: Some(2),
            pot_um: Some(57_150),
            note: Some("+ grit\r\nand \"chalk\"".to_owned()),
            version: 3,
            created_at: NaiveDate::from_ymd_opt(2026, 3, 1).unwrap().into(),
        }
    }

    #[test]
    fn a_record_that_was_written_reads_back_as_no_change() {
        let full = entry();
        let bare =
            DiaryEntry { kind: DiaryKind::ShowReady, how_many: None, pot_um: None, note: None, ..entry() };
        let lines = [(full.clone(), Some("@3".to_owned())), (bare.clone(), None)].map(written);
        let read = read(&write(&COLUMNS, lines.into_iter()).unwrap()).unwrap();
        for (line, entry) in read.iter().zip([&full, &bare]) {
            assert!(line.faults.is_empty(), "{:?}", line.faults);
            assert_eq!((&line.id, line.version), (&Patch::Value(entry.id), Some(3)));
            assert_eq!(line.plant_id, Some(entry.plant_id));
            let other = DiaryEntry { id: entry.id, plant_id: entry.plant_id, ..self::entry() };
            assert_eq!(line.patch.applied_to(&other), *entry);
        }
        assert_eq!(read[0].plant_label.as_deref(), Some("@3"));
        assert_eq!(read[1].plant_label, None);
    }

    #[test]
    fn what_a_new_record_lacks_is_said_at_once() {
        let csv = "plant_label,day,kind,pot_mm\nbench 3,2026-03-01,potting,9\n,,pruning,\n";
        let lines = read(csv.as_bytes()).unwrap();
        let problem = refuse(lines.iter().map(|line| (line.number, &line.faults))).unwrap_err();
        let named: Vec<_> = problem
            .errors()
            .iter()
            .map(|e| format!("{} {} {}", e.pointer, e.detail.split(':').next().unwrap(), e.code))
            .collect();
        assert_eq!(
            named,
            [
                "line 2 pot_mm out-of-range",
                "line 3 kind unknown-word",
                "line 3 day required",
                "line 3 plant_id required"
            ]
        );
    }
}
