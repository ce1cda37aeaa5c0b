//! What is taken and sent.

use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::shows::{Class, Show};
use storksbill_domain::ids::{ClassId, ClubId, ShowId};
use storksbill_domain::shows::{ClassLabel, NoSuchMoment, instant};
use storksbill_domain::words::{PlantGroup, ShowState};
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

const WALL: &str = "%Y-%m-%dT%H:%M";

/// The moment that entries close: wall-clock text, zone, and the show's day, held against each other.
pub(super) fn closing(
    found: &mut Findings,
    wall: &str,
    zone: &str,
    held_on: NaiveDate,
) -> Option<DateTime<Utc>> {
    let Ok(time) = NaiveDateTime::parse_from_str(wall, WALL) else {
        found.add("/closes_wall", "not-a-time", "must be a day and time such as 2026-06-11T21:00");
        return None;
    };
    if time.date() > held_on {
        found.add("/closes_wall", "out-of-range", "must not be later than the day of the show");
    }
    match instant(time, zone) {
        Ok(moment) => Some(moment),
        Err(why @ NoSuchMoment::UnknownZone) => {
            found.add("/zone", "unknown-zone", format!("is {why}"));
            None
        }
        Err(why @ NoSuchMoment::SkippedByTheClocks) => {
            found.add("/closes_wall", "skipped-by-the-clocks", format!("is {why}"));
            None
        }
    }
}

/// A show to enter, as a draft.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShowIn {
    /// As printed on the schedule.
    #[schema(example = "Summer Show")]
    pub name: String,
    /// The day.
    pub held_on: NaiveDate,
    /// Hall and address, in words.
    pub place: String,
    /// Entries close at this time of the wall clock, on the day of the show or before: `YYYY-MM-DDTHH:MM`.
    #[schema(example = "2026-06-11T21:00")]
    pub closes_wall: String,
    /// The zone of that clock, by its name in the IANA time zone database.
    #[schema(example = "Europe/London")]
    pub zone: String,
    /// Anything else the schedule says.
    #[serde(default)]
    pub notes: Option<String>,
}

impl Check for ShowIn {
    fn check(&self, found: &mut Findings) {
        found.text("/name", &self.name, 2, 120);
        found.text("/place", &self.place, 2, 300);
        closing(found, &self.closes_wall, &self.zone, self.held_on);
        found.optional_text("/notes", self.notes.as_deref(), 4000);
    }
}

/// Changes to a show.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ShowPatch {
    /// As printed on the schedule; of a draft alone.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// The day; of a draft alone.
    #[serde(default)]
    #[schema(value_type = Option<NaiveDate>)]
    pub held_on: Patch<NaiveDate>,
    /// Hall and address, in words.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub place: Patch<String>,
    /// Entries close at this time of the wall clock; of a draft alone.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub closes_wall: Patch<String>,
    /// The zone of that clock; of a draft alone.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub zone: Patch<String>,
    /// Anything else the schedule says.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub notes: Patch<String>,
}

impl Check for ShowPatch {
    fn check(&self, found: &mut Findings) {
        for (pointer, field, most) in [("/name", &self.name, 120), ("/place", &self.place, 300)] {
            match field {
                Patch::Value(text) => found.text(pointer, text, 2, most),
                Patch::Null => found.add(pointer, "required", "cannot be cleared"),
                Patch::Absent => {}
            }
        }
        let cleared = [
            ("/held_on", self.held_on == Patch::Null),
            ("/closes_wall", self.closes_wall == Patch::Null),
            ("/zone", self.zone == Patch::Null),
        ];
        for (pointer, _) in cleared.iter().filter(|(_, cleared)| *cleared) {
            found.add(pointer, "required", "cannot be cleared");
        }
        found.optional_text("/notes", self.notes.value().map(String::as_str), 4000);
    }
}

/// A show.
#[derive(Debug, Serialize, ToSchema)]
pub struct ShowOut {
    /// Identity.
    pub id: ShowId,
    /// The club that holds it.
    pub club_id: ClubId,
    /// As printed on the schedule.
    pub name: String,
    /// The day.
    pub held_on: NaiveDate,
    /// Hall and address, in words.
    pub place: String,
    /// Entries close at this time of the wall clock: `YYYY-MM-DDTHH:MM`.
    pub closes_wall: String,
    /// The zone of that clock.
    pub zone: String,
    /// The same moment in UTC.
    pub closes_at: DateTime<Utc>,
    /// `draft` or `published`.
    pub state: ShowState,
    /// When it was published.
    pub published_at: Option<DateTime<Utc>>,
    /// Anything else the schedule says.
    pub notes: Option<String>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl ShowOut {
    pub(super) fn of(show: Show) -> Self {
        Self {
            id: show.id,
            club_id: show.club_id,
            name: show.name,
            held_on: show.held_on,
            place: show.place,
            closes_wall: show.closes_wall,
            zone: show.zone,
            closes_at: show.closes_at.and_utc(),
            state: show.state,
            published_at: show.published_at.map(|moment| moment.and_utc()),
            notes: show.notes,
            version: show.version,
        }
    }
}

/// A class to enter.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassIn {
    /// The number printed beside it, unlike that of any other class of the show: up to 3 letters, a number,
    /// up to 2 letters.
    #[schema(example = "106A")]
    pub label: String,
    /// What is asked for, in one line.
    #[schema(example = "One regal pelargonium")]
    pub title: String,
    /// What an exhibit must meet, in words.
    #[serde(default)]
    pub requirements: Option<String>,
    /// The group it is confined to.
    #[serde(default)]
    pub plant_group: Option<PlantGroup>,
    /// Largest inner diameter of the pot at the rim that is allowed, in millimetres, 10 to 2000, with at most 3
    /// decimals.
    #[serde(default)]
    #[schema(example = 127.0)]
    pub max_pot_mm: Option<f64>,
}

impl Check for ClassIn {
    fn check(&self, found: &mut Findings) {
        check_label(found, &self.label);
        found.text("/title", &self.title, 2, 200);
        found.optional_text("/requirements", self.requirements.as_deref(), 2000);
        if let Some(mm) = self.max_pot_mm {
            check_pot(found, mm);
        }
    }
}

/// Changes to a class.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassPatch {
    /// The number printed beside it.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub label: Patch<String>,
    /// What is asked for, in one line.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub title: Patch<String>,
    /// What an exhibit must meet, in words.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub requirements: Patch<String>,
    /// The group it is confined to.
    #[serde(default)]
    #[schema(value_type = Option<PlantGroup>)]
    pub plant_group: Patch<PlantGroup>,
    /// Largest inner diameter of the pot at the rim that is allowed, in millimetres.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub max_pot_mm: Patch<f64>,
}

impl Check for ClassPatch {
    fn check(&self, found: &mut Findings) {
        match &self.label {
            Patch::Value(label) => check_label(found, label),
            Patch::Null => found.add("/label", "required", "cannot be cleared"),
            Patch::Absent => {}
        }
        match &self.title {
            Patch::Value(title) => found.text("/title", title, 2, 200),
            Patch::Null => found.add("/title", "required", "cannot be cleared"),
            Patch::Absent => {}
        }
        found.optional_text("/requirements", self.requirements.value().map(String::as_str), 2000);
        if let Some(mm) = self.max_pot_mm.value() {
            check_pot(found, *mm);
        }
    }
}

fn check_label(found: &mut Findings, label: &str) {
    if let Err(why) = label.parse::<ClassLabel>() {
        found.add("/label", "not-a-class-number", format!("is {why}"));
    }
}

fn check_pot(found: &mut Findings, mm: f64) {
    if !(10.0..=2000.0).contains(&mm) {
        found.add("/max_pot_mm", "out-of-range", "must be from 10 to 2000");
    } else if (mm * 1000.0 - (mm * 1000.0).round()).abs() > 1e-6 {
        found.add("/max_pot_mm", "too-many-decimals", "takes at most 3 decimals: one micrometre");
    }
}

/// A length that was checked, in whole micrometres.
#[allow(clippy::cast_possible_truncation, reason = "a checked length is at most two million micrometres")]
pub(super) fn micrometres(mm: f64) -> i64 {
    (mm * 1000.0).round() as i64
}

/// A class of a show's schedule.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClassOut {
    /// Identity; the label is only printed.
    pub id: ClassId,
    /// The show.
    pub show_id: ShowId,
    /// The number printed beside it.
    pub label: String,
    /// What is asked for, in one line.
    pub title: String,
    /// What an exhibit must meet, in words.
    pub requirements: Option<String>,
    /// The group it is confined to.
    pub plant_group: Option<PlantGroup>,
    /// Largest inner diameter of the pot at the rim that is allowed, in millimetres.
    pub max_pot_mm: Option<f64>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl ClassOut {
    pub(super) fn of(class: Class) -> Self {
        Self {
            id: class.id,
            show_id: class.show_id,
            label: class.label,
            title: class.title,
            requirements: class.requirements,
            plant_group: class.plant_group,
            max_pot_mm: class.max_pot_um.map(|um| um as f64 / 1000.0),
            version: class.version,
        }
    }
}
