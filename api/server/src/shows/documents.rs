//! Schedules as they are kept: JSON documents, those that were published with a hash.

use std::str::FromStr;

use sha2::{Digest, Sha256};
use storksbill_db::Conn;
use storksbill_db::rows::cultivars;
use storksbill_db::rows::shows::{self, Show, Version};
use storksbill_domain::ids::{ClassId, ShowId};
use storksbill_domain::shows::{PrintedNames, ScheduleClass, ShowSchedule, named_cultivars};

use crate::hex::hex;
use crate::http::problem::{Code, Problem};

/// A schedule that was stored.
///
/// # Errors
/// 500 where it is not one.
pub fn read(document: &str) -> Result<ShowSchedule, Problem> {
    serde_json::from_str(document).map_err(|error| unreadable("A stored schedule", &error))
}

/// A stored list or record of the day.
///
/// # Errors
/// 500 where it is not one.
pub fn part<T: serde::de::DeserializeOwned>(document: &str) -> Result<T, Problem> {
    serde_json::from_str(document).map_err(|error| unreadable("A stored record", &error))
}

/// As it is stored.
///
/// # Errors
/// 500 where it cannot be written.
pub fn written<T: serde::Serialize>(value: &T) -> Result<String, Problem> {
    serde_json::to_string(value).map_err(|error| unreadable("A record", &error))
}

fn unreadable(what: &str, error: &serde_json::Error) -> Problem {
    Problem::new(Code::Internal, format!("{what} cannot be read: {error}."))
}

/// The hash of a document's bytes.
pub fn hash(document: &str) -> String {
    hex(&Sha256::digest(document.as_bytes()))
}

/// The version in force.
///
/// # Errors
/// 409 where none was published.
pub fn in_force(conn: &mut Conn, show: &Show) -> Result<(Version, ShowSchedule), Problem> {
    let version = shows::version(conn, show.id, show.schedule_number)?
        .ok_or_else(|| Problem::new(Code::WrongState, "Its schedule is not published yet."))?;
    let schedule = read(&version.document)?;
    Ok((version, schedule))
}

/// A class of a schedule.
///
/// # Errors
/// 404.
pub fn class(schedule: &ShowSchedule, id: ClassId) -> Result<&ScheduleClass, Problem> {
    schedule.classes.iter().find(|class| class.id == id).ok_or_else(|| Problem::not_found("class"))
}

/// The show's zone, where a wall clock is told.
pub fn zone(show: &Show) -> Result<chrono_tz::Tz, Problem> {
    chrono_tz::Tz::from_str(&show.zone)
        .map_err(|_unknown| Problem::new(Code::Internal, format!("{} is no time zone.", show.zone)))
}

/// The show of a document, for messages.
pub fn title(show: &Show) -> String {
    format!("{} of {}", show.name, show.held_on)
}

/// Where a show is found.
pub fn address(id: ShowId) -> String {
    format!("/api/v1/shows/{id}")
}

/// The names that a schedule's rules refer to by id.
pub fn printed_names(conn: &mut Conn, schedule: &ShowSchedule) -> Result<PrintedNames, Problem> {
    let named = cultivars::of_ids(conn, &named_cultivars(schedule))?;
    Ok(PrintedNames::of(schedule, named.into_iter().map(|one| (one.id, one.name)).collect()))
}
