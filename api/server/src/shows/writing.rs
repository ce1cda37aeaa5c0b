//! The one road by which an entry is written, whichever verb or table asks for it: so no rule of a judged class, of a
//! show whose results are out, or of the young depends on the verb.

use storksbill_db::rows::entries::{self, Entry};
use storksbill_db::rows::judging;
use storksbill_db::rows::shows::Show;
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{ClassId, ShowId};
use storksbill_domain::shows::{ScheduleClass, ShowSchedule};
use storksbill_domain::words::{EntryState, ShowState};

use super::documents;
use super::naming::shield_in_class;
use crate::http::problem::{Code, Problem};

/// Stores a new entry.
///
/// # Errors
/// 409 where its class is judged, or results are out.
pub(super) fn enter(
    conn: &mut Conn,
    show: &Show,
    schedule: &ShowSchedule,
    entry: &Entry,
) -> Result<(), Problem> {
    hall_is_open(show)?;
    not_judged(conn, show.id, &[entry.class_id])?;
    entries::insert(conn, entry)?;
    shield_in_class(conn, show.id, entry.exhibitor_id, documents::class(schedule, entry.class_id)?)
}

/// Stores an entry that was changed, and counts its version up.
///
/// # Errors
/// 409 where it was withdrawn, results are out, or a judge saw what would be otherwise: its class, its plants, its card,
/// whether it stands and whether it was staged.
pub(super) fn change(
    conn: &mut Conn,
    show: &Show,
    schedule: &ShowSchedule,
    before: &Entry,
    after: &mut Entry,
) -> Result<(), Problem> {
    hall_is_open(show)?;
    if before.state == EntryState::Withdrawn {
        return Err(Problem::new(Code::WrongState, "It was withdrawn; enter again."));
    }
    if after.staged_at.is_some() {
        // What stood on the bench already has stood there since.
        after.staged_at = before.staged_at.or(after.staged_at);
        after.checked_in_at = before.checked_in_at.or(after.checked_in_at).or(after.staged_at);
    }
    let moved = before.class_id != after.class_id;
    if moved
        || before.state != after.state
        || before.staged_at.is_some() != after.staged_at.is_some()
        || before.items != after.items
        || before.label != after.label
    {
        not_judged(conn, show.id, &[before.class_id, after.class_id])?;
    }
    after.version = before.version + 1;
    entries::update(conn, after)?;
    if moved {
        shield_in_class(conn, show.id, after.exhibitor_id, documents::class(schedule, after.class_id)?)?;
    }
    Ok(())
}

/// Shields whoever stands in a class that came to be for the young.
///
/// # Errors
/// Those of the database.
pub(super) fn shield_entered(conn: &mut Conn, show: ShowId, schedule: &ShowSchedule) -> Result<(), Problem> {
    if !schedule.classes.iter().any(ScheduleClass::is_for_the_young) {
        return Ok(());
    }
    for entry in entries::standing(conn, show)? {
        if let Ok(class) = documents::class(schedule, entry.class_id) {
            shield_in_class(conn, show, entry.exhibitor_id, class)?;
        }
    }
    Ok(())
}

/// Refuses where one of these classes is judged: what its judge saw stays as it was.
fn not_judged(conn: &mut Conn, show: ShowId, classes: &[ClassId]) -> Result<(), Problem> {
    for class in classes {
        if !judging::of_class(conn, show, *class)?.is_empty() {
            return Err(Problem::new(
                Code::WrongState,
                "A class that it stands in, or would, is judged already.",
            ));
        }
    }
    Ok(())
}

fn hall_is_open(show: &Show) -> Result<(), Problem> {
    if show.state == ShowState::Published {
        Ok(())
    } else {
        Err(Problem::new(Code::WrongState, "The hall is closed: the show has no results to come."))
    }
}

/// Two first entries of one member at once: the later one runs again and finds the exhibitor.
pub(super) fn met_oneself(error: DbError) -> DbError {
    match error {
        DbError::Constraint(rule) if rule.name() == "show_exhibitors_show_id_member_id_key" => {
            DbError::Conflict
        }
        other => other,
    }
}
