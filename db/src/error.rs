//! What can go wrong, told apart as far as a caller can act on it.

use diesel::result::{DatabaseErrorKind, Error as DieselError};
use storksbill_domain::ids::IndividualId;
use storksbill_domain::limits::Limit;

/// A rule of the schema that a write broke. A handler turns the ones it expects into a message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Constraint(String);

impl Constraint {
    /// The constraint's name, alike on both databases: `<table>_<columns>_key`, `<table>_<what>_check`.
    pub fn name(&self) -> &str {
        &self.0
    }
}

/// A database call failed.
#[derive(Debug, thiserror::Error)]
pub enum DbError {
    /// A unique or check rule was broken.
    #[error("the schema's rule {} was broken", .0.name())]
    Constraint(Constraint),
    /// By the records somebody would be their own ancestor: a shortest loop, each a child of the next.
    #[error("individuals would be their own ancestors: {}", around(.0))]
    Loop(Vec<IndividualId>),
    /// The same rows were changed by somebody else at the same time, again and again.
    #[error("the records kept changing under the write")]
    Conflict,
    /// No free connection, or the database does not answer.
    #[error("the database does not answer: {0}")]
    Unavailable(String),
    /// There is as much of this as is taken.
    #[error("more than {} {}", .0.most, .0.of)]
    TooMany(Limit),
    /// No room is left on the disk.
    #[error("the disk is full")]
    Full,
    /// A server in another process did not answer in time; whether it did what it was asked is not known.
    #[error("the database did not answer in time")]
    Late,
    /// The process is stopping, or the closure panicked.
    #[error("the work was stopped")]
    Stopped,
    /// Anything else: a fault in this program or in the file.
    #[error("database error: {0}")]
    Other(DieselError),
}

fn around(ids: &[IndividualId]) -> String {
    ids.iter().map(IndividualId::as_str).collect::<Vec<_>>().join(" from ")
}

impl From<DieselError> for DbError {
    fn from(error: DieselError) -> Self {
        let DieselError::DatabaseError(kind, info) = &error else {
            return Self::Other(error);
        };
        match kind {
            DatabaseErrorKind::SerializationFailure => Self::Conflict,
            DatabaseErrorKind::UniqueViolation | DatabaseErrorKind::CheckViolation => {
                Self::Constraint(Constraint(
                    info.constraint_name().map_or_else(|| from_sqlite_message(info.message()), str::to_owned),
                ))
            }
            DatabaseErrorKind::ClosedConnection | DatabaseErrorKind::UnableToSendCommand => {
                Self::Unavailable(info.message().to_owned())
            }
            // SQLite's own words, and those of the system that PostgreSQL passes on (its 53100).
            _ if info.message().contains("disk is full") || info.message().contains("No space left") => {
                Self::Full
            }
            _ if info.message().starts_with("canceling statement due to") => {
                Self::Unavailable(info.message().to_owned())
            }
            // PostgreSQL's 40P01 has no kind of its own.
            _ if info.message() == "deadlock detected" => Self::Conflict,
            _ if info.message() == "database is locked" => Self::Unavailable(info.message().to_owned()),
            _ => Self::Other(error),
        }
    }
}

/// `UNIQUE constraint failed: clubs.name_key` names columns and not the rule: put its name together as the
/// migrations do. `CHECK constraint failed: clubs_x_check` names the rule.
fn from_sqlite_message(message: &str) -> String {
    let Some((_, what)) = message.split_once("failed: ") else { return message.to_owned() };
    let mut columns = what.split(", ").filter_map(|column| column.split_once('.'));
    let Some((table, first)) = columns.next() else { return what.to_owned() };
    let mut name = format!("{table}_{first}");
    for (_, column) in columns {
        name.push('_');
        name.push_str(column);
    }
    name + "_key"
}

/// What a closure given to [`crate::Db`] may fail with: its own refusals, or a database error that the door
/// must be able to see again to know whether to run the closure once more.
pub trait Refused: From<DbError> + Send + 'static {
    /// The database error this is made of, if it is.
    fn database_error(&self) -> Option<&DbError>;
}

impl Refused for DbError {
    fn database_error(&self) -> Option<&DbError> {
        Some(self)
    }
}

/// Why the database could not be opened: one clear line each.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
pub enum OpenError {
    /// No connection: wrong address, no permission, no such folder.
    #[error("cannot open the database {url}: {why}")]
    Unreachable {
        /// The URL without its password.
        url: String,
        /// What the database or the system said.
        why: String,
    },
    /// The schema carries migrations this program does not know.
    #[error(
        "the database was written by a newer program (it has the change {migration}): update this program"
    )]
    Newer {
        /// The newest of them.
        migration: String,
    },
    /// A migration failed; the schema is as before it.
    #[error("the database could not be brought up to date: {why}")]
    Migration {
        /// What the database said.
        why: String,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sqlite_messages_become_the_names_that_postgresql_gives() {
        for (message, name) in [
            ("UNIQUE constraint failed: clubs.name_key", "clubs_name_key_key"),
            (
                "UNIQUE constraint failed: show_classes.show_id, show_classes.label",
                "show_classes_show_id_label_key",
            ),
            ("CHECK constraint failed: plants_heated_check", "plants_heated_check"),
        ] {
            assert_eq!(from_sqlite_message(message), name);
        }
    }
}
