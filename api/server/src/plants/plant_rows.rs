//! Plants as lines of a table.

use storksbill_db::rows::plants::{CultivarName, Plant};
use storksbill_domain::ids::PlantId;
use storksbill_domain::words::PlantGroup;

use super::dto::{PlantIn, PlantPatch, society};
use super::pots;
use crate::http::json::Check;
use crate::http::patch::Patch;
use crate::http::problem::Problem;
use crate::tables::sheet::{Faults, Line, Sheet, cell};

/// The columns, in the order of an export.
pub const COLUMNS: [&str; 16] = [
    "id",
    "version",
    "cultivar_id",
    "cultivar",
    "plant_group",
    "how_many",
    "label",
    "pot_mm",
    "environment",
    "heated_to_c",
    "form",
    "region_id",
    "source_plant_id",
    "source_member_id",
    "got_on",
    "visibility",
];

/// A plant as a line of [`COLUMNS`].
pub fn written((plant, cultivar): (Plant, CultivarName)) -> [String; 16] {
    [
        plant.id.to_string(),
        plant.version.to_string(),
        cultivar.id.to_string(),
        cultivar.name,
        cultivar.plant_group.to_string(),
        plant.how_many.to_string(),
        plant.label.unwrap_or_default(),
        cell(plant.pot_um.map(pots::millimetres)),
        plant.environment.to_string(),
        cell(plant.heated_to_c),
        plant.form.to_string(),
        plant.region_id.to_string(),
        cell(plant.source_plant_id),
        cell(plant.source_member_id),
        cell(plant.got_on),
        plant.visibility.to_string(),
    ]
}

/// A line that was read: an edit of the plant of an id, or a new plant.
#[derive(Debug)]
pub struct PlantLine {
    /// Where in the file.
    pub number: u64,
    /// The plant it edits; a new plant where null or absent.
    pub id: Patch<PlantId>,
    /// The version that was exported, where the table says so.
    pub version: Option<i32>,
    /// The cultivar's name, where the table names it.
    pub cultivar: Option<String>,
    /// The cultivar's group, where the table names it.
    pub plant_group: Option<PlantGroup>,
    /// The fields. A column that is not in the table leaves an edited plant's field as it is.
    pub patch: PlantPatch,
    /// What is wrong with it by itself.
    pub faults: Faults,
}

/// Reads a table of plants.
///
/// # Errors
/// As [`Sheet::read`]; faults of single lines are in the lines.
pub fn read(bytes: &[u8]) -> Result<Vec<PlantLine>, Problem> {
    Ok(Sheet::read(bytes, &COLUMNS)?.lines().map(read_line).collect())
}

fn read_line(mut line: Line<'_>) -> PlantLine {
    let id = line.id("id");
    let mut patch = PlantPatch {
        cultivar_id: line.id("cultivar_id"),
        how_many: line.whole("how_many"),
        pot_mm: line.number("pot_mm"),
        environment: line.word("environment"),
        heated_to_c: line.number("heated_to_c"),
        form: line.word("form"),
        label: line.text("label"),
        region_id: line.id("region_id"),
        source_plant_id: line.id("source_plant_id"),
        source_member_id: line.id("source_member_id"),
        got_on: line.day("got_on"),
        visibility: line.word("visibility"),
    };
    let cultivar = line.text("cultivar");
    let plant_group = line.word("plant_group").value().copied();
    // Either of the two names it; it is blank where both are, or where the only one is.
    match (&patch.cultivar_id, &cultivar) {
        (Patch::Null, Patch::Value(_)) => patch.cultivar_id = Patch::Absent,
        (Patch::Absent, Patch::Null) => patch.cultivar_id = Patch::Null,
        _ => {}
    }
    let cultivar = cultivar.value().cloned();
    let version = line.whole("version").value().copied();
    let is_new = !matches!(id, Patch::Value(_)) && line.faults.is_clean("id");
    if is_new {
        // These have a value when nothing is said.
        blank_is_absent(&mut patch.region_id);
        blank_is_absent(&mut patch.visibility);
        line.require(&["how_many", "environment", "form"]);
        if cultivar.is_none() {
            line.require(&["cultivar_id"]);
        }
    }
    line.faults.of(|found| patch.check(found));
    PlantLine { number: line.number, id, version, cultivar, plant_group, patch, faults: line.faults }
}

fn blank_is_absent<T: PartialEq>(field: &mut Patch<T>) {
    if *field == Patch::Null {
        *field = Patch::Absent;
    }
}

/// The new plant of a line without faults whose cultivar was found.
pub fn new_plant(patch: &PlantPatch) -> Option<PlantIn> {
    Some(PlantIn {
        cultivar_id: *patch.cultivar_id.value()?,
        how_many: *patch.how_many.value()?,
        pot_mm: patch.pot_mm.value().copied(),
        environment: *patch.environment.value()?,
        heated_to_c: patch.heated_to_c.value().copied(),
        form: *patch.form.value()?,
        label: patch.label.value().cloned(),
        region_id: patch.region_id.value().copied(),
        source_plant_id: patch.source_plant_id.value().copied(),
        source_member_id: patch.source_member_id.value().copied(),
        got_on: patch.got_on.value().copied(),
        visibility: patch.visibility.value().copied().unwrap_or_else(society),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use chrono::NaiveDate;
    use storksbill_domain::ids::{CultivarId, MemberId, RegionId};
    use storksbill_domain::words::{Environment, GrowthForm, Visibility};

    use super::*;
    use crate::tables::sheet::{refuse, write};

    fn plant() -> Plant {
        Plant {
            id: PlantId::fresh(),
            owner_id: MemberId::fresh(),
            cultivar_id: CultivarId::fresh(),
            region_id: RegionId::fresh(),
            label: Some("=A1, \"bench\"".to_owned()),
            how_many: 3,
            pot_um: Some(114_300),
            environment: Environment::Heated,
            heated_to_c: Some(7.5),
            form: GrowthForm::HangingPot,
            source_plant_id: Some(PlantId::fresh()),
            source_member_id: Some(MemberId::fresh()),
            got_on: NaiveDate::from_ymd_opt(2025, 9, 14),
            visibility: Visibility::Club,
            version: 4,
            created_at: NaiveDate::from_ymd_opt(2025, 9, 14).unwrap().into(),
        }
    }

    fn name_of(plant: &Plant) -> CultivarName {
        CultivarName {
            id: plant.cultivar_id,
            name: "-Mère".to_owned(),
            name_key: "mere".to_owned(),
            plant_group: PlantGroup::Regal,
            visibility: Visibility::Society,
        }
    }

    #[test]
    fn a_plant_that_was_written_reads_back_as_no_change() {
        let full = plant();
        let bare = Plant {
            label: None,
            pot_um: None,
            environment: Environment::Outdoors,
            heated_to_c: None,
            source_plant_id: None,
            source_member_id: None,
            got_on: None,
            ..plant()
        };
        let lines = [&full, &bare].map(|plant| written((plant.clone(), name_of(plant))));
        let read = read(&write(&COLUMNS, lines.into_iter()).unwrap()).unwrap();
        for (line, plant) in read.iter().zip([&full, &bare]) {
            assert!(line.faults.is_empty(), "{:?}", line.faults);
            assert_eq!((&line.id, line.version), (&Patch::Value(plant.id), Some(4)));
            assert_eq!(line.cultivar.as_deref(), Some("-Mère"));
            assert_eq!(line.patch.applied_to(plant), *plant);
            // Everything is said, so it is the same from whatever it was before.
            let other = Plant { id: plant.id, owner_id: plant.owner_id, ..self::plant() };
            let after = Plant { version: 4, created_at: plant.created_at, ..line.patch.applied_to(&other) };
            assert_eq!(after, *plant);
        }
    }

    #[test]
    fn a_new_plant_needs_little_and_what_it_lacks_is_said_at_once() {
        let csv = "cultivar,how_many,environment,form,visibility,region_id\n\
                   Quay,2,outdoors,bush,,\n\
                   ,,,,private,\n\
                   Quay,0.5,heated,bush,all,Vale\n";
        let lines = read(csv.as_bytes()).unwrap();
        let complete =
            PlantPatch { cultivar_id: Patch::Value(CultivarId::fresh()), ..lines[0].patch.clone() };
        assert!(lines[0].faults.is_empty());
        assert_eq!(new_plant(&complete).unwrap().visibility, Visibility::Society);
        assert!(new_plant(&lines[0].patch).is_none());
        let problem = refuse(lines.iter().map(|line| (line.number, &line.faults))).unwrap_err();
        let named: Vec<_> = problem
            .errors()
            .iter()
            .map(|e| format!("{} {} {}", e.pointer, e.detail.split(':').next().unwrap(), e.code))
            .collect();
        assert_eq!(
            named,
            [
                "line 3 how_many required",
                "line 3 environment required",
                "line 3 form required",
                "line 3 cultivar_id required",
                "line 4 how_many wrong-type",
                "line 4 region_id invalid-value",
                "line 4 visibility unknown-word",
            ]
        );
    }

    #[test]
    fn an_edit_says_what_changes_and_may_not_blank_what_must_be() {
        let plant = plant();
        let csv = format!("id,how_many,label\n{0},5,\n{0},,x\nnot-an-id,3,\n", plant.id);
        let lines = read(csv.as_bytes()).unwrap();
        let after = lines[0].patch.applied_to(&plant);
        assert_eq!(after, Plant { how_many: 5, label: None, ..plant });
        assert!(lines[0].faults.is_empty());
        for (line, code) in [(1, "how_many: must have a value"), (2, "id: not an id")] {
            let problem = refuse([(1, &lines[line].faults)].into_iter()).unwrap_err();
            assert_eq!(problem.errors().len(), 1);
            assert!(problem.errors()[0].detail.starts_with(code), "{problem}");
        }
    }
}
