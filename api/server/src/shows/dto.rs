//! What is taken and sent.

use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::shows::Show;
use storksbill_domain::day::{Day, Moment};
use storksbill_domain::ids::{ClubId, ShowId};
use storksbill_domain::shows::{NoSuchMoment, instant};
use storksbill_domain::words::ShowState;
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

/// How a time of the wall clock is written.
pub(super) const WALL: &str = "%Y-%m-%dT%H:%M";

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
    pub held_on: Day,
    /// Hall and address, in words.
    pub place: String,
    /// Entries close at this time of the wall clock, on the day of the show or before: `YYYY-MM-DDTHH:MM`.
    #[schema(example = "2026-06-11T21:00")]
    pub closes_wall: String,
    /// The zone of that clock, by its name in the IANA time zone database.
    #[schema(example = "Europe/London")]
    pub zone: String,
    /// Entries are taken from this moment on; from publication when not given.
    #[serde(default)]
    pub opens_at: Option<Moment>,
    /// When the hall opens to the public, from which the time for protests is counted.
    #[serde(default)]
    pub hall_opens_at: Option<Moment>,
    /// Anything else the schedule says.
    #[serde(default)]
    pub notes: Option<String>,
}

impl Check for ShowIn {
    fn check(&self, found: &mut Findings) {
        found.text("/name", &self.name, 2, 120);
        found.text("/place", &self.place, 2, 300);
        closing(found, &self.closes_wall, &self.zone, *self.held_on);
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
    #[schema(value_type = Option<Day>)]
    pub held_on: Patch<Day>,
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
    /// Entries are taken from this moment on; null for from publication.
    #[serde(default)]
    #[schema(value_type = Option<Moment>)]
    pub opens_at: Patch<Moment>,
    /// When the hall opens to the public.
    #[serde(default)]
    #[schema(value_type = Option<Moment>)]
    pub hall_opens_at: Patch<Moment>,
    /// Anything else the schedule says.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub notes: Patch<String>,
    /// Why something that was told of a published show is another now, 4 to 500 characters: exhibitors get it as a notice.
    #[serde(default)]
    pub reason: Option<String>,
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
        if let Some(reason) = &self.reason {
            found.text("/reason", reason, 4, 500);
        }
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
    /// Entries are taken from this moment on; from publication when null.
    pub opens_at: Option<DateTime<Utc>>,
    /// When the hall opens to the public.
    pub hall_opens_at: Option<DateTime<Utc>>,
    /// Where it stands.
    pub state: ShowState,
    /// The number of its schedule's version in force; 0 before it is published.
    pub schedule_number: i32,
    /// When its first schedule was published.
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
            opens_at: show.opens_at.map(|moment| moment.and_utc()),
            hall_opens_at: show.hall_opens_at.map(|moment| moment.and_utc()),
            state: show.state,
            schedule_number: show.schedule_number,
            published_at: show.published_at.map(|moment| moment.and_utc()),
            notes: show.notes,
            version: show.version,
        }
    }
}
