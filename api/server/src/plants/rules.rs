//! What must hold of a plant and of a diary record, whether it comes as JSON, as an edit or in a table.

use chrono::{Datelike, NaiveDate, TimeDelta};
use storksbill_db::rows::plants::{DiaryEntry, Plant};
use storksbill_domain::words::{DiaryKind, Environment};

use super::pots;
use crate::http::json::Findings;

/// Most plants of one batch.
pub const MOST: i32 = 100_000;
/// Longest label, characters.
pub const LABEL: usize = 120;
/// Longest note, characters.
pub const NOTE: usize = 2000;

/// Why a plant cannot do without a region.
pub const NO_REGION: &str = "is required while your own record names no region";

/// A number of plants or blooms.
pub fn how_many(number: i32, found: &mut Findings) {
    found.range("/how_many", number, 0, MOST);
}

/// A pot size in millimetres.
pub fn pot(mm: f64, found: &mut Findings) {
    if !(pots::LEAST_MM..=pots::MOST_MM).contains(&mm) {
        found.range("/pot_mm", mm, pots::LEAST_MM, pots::MOST_MM);
    } else if pots::micrometres(mm).is_none() {
        found.add("/pot_mm", "too-precise", "takes at most three decimals: 4.5 inches are 114.3");
    }
}

/// A temperature kept, degrees C.
pub fn temperature(celsius: f64, found: &mut Findings) {
    found.range("/heated_to_c", celsius, 0.0, 35.0);
}

/// The temperature is given where the plant is heated, and only there.
pub fn heating(environment: Environment, heated_to_c: Option<f64>, found: &mut Findings) {
    match (environment, heated_to_c) {
        (Environment::Heated, None) => {
            found.add("/heated_to_c", "required", "is required for a heated plant: the degrees C kept");
        }
        (Environment::Heated, Some(_)) | (_, None) => {}
        (_, Some(_)) => {
            found.add("/heated_to_c", "must-be-empty", "must be empty unless the environment is `heated`");
        }
    }
}

/// The day a plant was got: not to come, and not after the first record of its diary.
pub fn got_on(day: NaiveDate, today: NaiveDate, first_record: Option<NaiveDate>, found: &mut Findings) {
    if day > today {
        found.add("/got_on", "in-future", format!("must not be after today, {today}"));
    } else if day.year() < 1900 {
        found.add("/got_on", "out-of-range", "must not be before 1900");
    } else if let Some(first) = first_record.filter(|first| day > *first) {
        found.add("/got_on", "after-diary", format!("must not be after the plant's first record, {first}"));
    }
}

/// What a record of this kind needs and what it cannot have.
pub fn kind(kind: DiaryKind, how_many: Option<i32>, has_pot: bool, note: Option<&str>, found: &mut Findings) {
    if has_pot && kind != DiaryKind::Potting {
        found.add("/pot_mm", "must-be-empty", "must be empty unless the kind is `potting`");
    }
    if kind == DiaryKind::Loss && how_many == Some(0) {
        found.add("/how_many", "out-of-range", "must be at least 1 for a loss, or empty where not counted");
    }
    if kind == DiaryKind::Note && note.is_none_or(|note| note.trim().is_empty()) {
        found.add("/note", "required", "is required where the kind is `note`");
    }
}

/// A diary record as a whole, beside its plant.
pub fn entry(
    before: Option<&DiaryEntry>,
    after: &DiaryEntry,
    plant: &Plant,
    today: NaiveDate,
    found: &mut Findings,
) {
    kind(after.kind, after.how_many, after.pot_um.is_some(), after.note.as_deref(), found);
    day(after.day, plant.got_on, today, found);
    // What was right when it was recorded stays right after the plants were counted anew.
    if before.is_none_or(|before| (before.kind, before.how_many) != (after.kind, after.how_many)) {
        loss(after, plant.how_many, found);
    }
}

/// The day a record tells of: not before the plant was got, and not to come. Tomorrow is taken, since it is
/// tomorrow already in other zones than the server's.
fn day(day: NaiveDate, got_on: Option<NaiveDate>, today: NaiveDate, found: &mut Findings) {
    if day - today > TimeDelta::days(1) {
        found.add("/day", "in-future", format!("must not be after today, {today}"));
    } else if day.year() < 1900 {
        found.add("/day", "out-of-range", "must not be before 1900");
    } else if let Some(got) = got_on.filter(|got| day < *got) {
        found.add("/day", "before-got", format!("must not be before the plant was got, {got}"));
    }
}

/// A loss counts no more plants than are held when it is recorded. Recording it does not change how many are
/// held: that stays the grower's to say.
fn loss(entry: &DiaryEntry, held: i32, found: &mut Findings) {
    if entry.kind == DiaryKind::Loss && entry.how_many.is_some_and(|lost| lost > held) {
        let detail =
            format!("must not exceed the {held} held; record a loss before you lower the plant's how_many");
        found.add("/how_many", "too-many", detail);
    }
}

#[cfg(test)]
mod tests {
    use storksbill_domain::ids::{CultivarId, DiaryId, MemberId, PlantId, RegionId};
    use storksbill_domain::words::{GrowthForm, Visibility};

    use super::*;

    fn date(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn codes(found: Findings) -> Vec<String> {
        let problem = found.into_result().err();
        let errors = problem.iter().flat_map(crate::http::problem::Problem::errors);
        errors.map(|error| format!("{} {}", error.pointer, error.code)).collect()
    }

    fn codes_of(check: impl FnOnce(&mut Findings)) -> Vec<String> {
        let mut found = Findings::default();
        check(&mut found);
        codes(found)
    }

    #[test]
    fn the_temperature_is_given_for_heat_and_only_there() {
        for environment in Environment::ALL {
            let heated = *environment == Environment::Heated;
            let with = codes_of(|found| heating(*environment, Some(12.0), found));
            let without = codes_of(|found| heating(*environment, None, found));
            assert_eq!(with.is_empty(), heated, "{environment}");
            assert_eq!(without.is_empty(), !heated, "{environment}");
        }
    }

    #[test]
    fn a_plant_was_got_in_the_past_and_before_its_diary_begins() {
        let today = date("2026-05-10");
        let first = Some(date("2026-03-01"));
        for (day, first, expected) in [
            ("2026-05-10", None, ""),
            ("2026-05-11", None, "/got_on in-future"),
            ("1899-12-31", None, "/got_on out-of-range"),
            ("2026-03-01", first, ""),
            ("2026-03-02", first, "/got_on after-diary"),
        ] {
            assert_eq!(codes_of(|found| got_on(date(day), today, first, found)).join(" "), expected, "{day}");
        }
    }

    fn plant() -> Plant {
        Plant {
            id: PlantId::fresh(),
            owner_id: MemberId::fresh(),
            cultivar_id: CultivarId::fresh(),
            region_id: RegionId::fresh(),
            label: None,
            how_many: 3,
            pot_um: None,
            environment: Environment::FrostFree,
            heated_to_c: None,
            form: GrowthForm::Bush,
            source_plant_id: None,
            source_member_id: None,
            got_on: Some(date("2026-02-01")),
            visibility: Visibility::Society,
            version: 1,
            created_at: date("2026-02-01").into(),
        }
    }

    fn record(day: &str, kind: DiaryKind) -> DiaryEntry {
        DiaryEntry {
            id: DiaryId::fresh(),
            plant_id: PlantId::fresh(),
            day: date(day),
            kind,
            how_many: None,
            pot_um: None,
            note: None,
            version: 1,
            created_at: date("2026-02-01").into(),
        }
    }

    #[test]
    fn a_record_fits_its_kind_its_plant_and_the_day() {
        let today = date("2026-05-10");
        let counted = |kind, how_many| DiaryEntry { how_many: Some(how_many), ..record("2026-04-01", kind) };
        let potted = |kind| DiaryEntry { pot_um: Some(114_300), ..record("2026-04-01", kind) };
        for (entry_of, expected) in [
            (record("2026-05-11", DiaryKind::Stopping), ""),
            (record("2026-05-12", DiaryKind::Stopping), "/day in-future"),
            (record("2026-02-01", DiaryKind::Stopping), ""),
            (record("2026-01-31", DiaryKind::Stopping), "/day before-got"),
            // Ready for the bench without any stopping on record: nothing is wrong with that.
            (record("2026-04-01", DiaryKind::ShowReady), ""),
            (potted(DiaryKind::Potting), ""),
            (potted(DiaryKind::Stopping), "/pot_mm must-be-empty"),
            (counted(DiaryKind::Loss, 3), ""),
            (counted(DiaryKind::Loss, 4), "/how_many too-many"),
            (counted(DiaryKind::Loss, 0), "/how_many out-of-range"),
            (counted(DiaryKind::Disbudding, 40), ""),
            (record("2026-04-01", DiaryKind::Loss), ""),
            (record("2026-04-01", DiaryKind::Note), "/note required"),
        ] {
            let found = codes_of(|found| entry(None, &entry_of, &plant(), today, found));
            assert_eq!(found.join(" "), expected, "{entry_of:?}");
        }
    }

    #[test]
    fn a_loss_recorded_before_the_count_was_lowered_may_still_be_annotated() {
        let before = DiaryEntry { how_many: Some(4), ..record("2026-04-01", DiaryKind::Loss) };
        let annotated = DiaryEntry { note: Some("frost".to_owned()), ..before.clone() };
        let raised = DiaryEntry { how_many: Some(5), ..before.clone() };
        let check = |after| {
            codes_of(|found| entry(Some(&before), &after, &plant(), date("2026-05-10"), found)).join(" ")
        };
        assert_eq!(check(annotated), "");
        assert_eq!(check(raised), "/how_many too-many");
    }
}
