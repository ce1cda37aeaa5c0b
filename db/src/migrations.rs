//! The schema's history, compiled in: one folder per database with the same names.

use diesel::prelude::*;
use diesel::sql_types::Text;
use diesel::{PgConnection, SqliteConnection};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use crate::conn::Conn;
use crate::error::OpenError;

const SQLITE: EmbeddedMigrations = embed_migrations!("../migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("../migrations/postgres");

/// Held while migrating, so that two servers starting at once on one `PostgreSQL` do not both migrate.
const MIGRATION_LOCK: i64 = 0x5374_6f72_6b73;

fn failed(why: &dyn std::fmt::Display) -> OpenError {
    OpenError::Migration { why: why.to_string() }
}

/// Brings the schema to the newest version; returns the names of what was applied.
///
/// # Errors
/// [`OpenError::Newer`] where the schema has changes this program does not know; [`OpenError::Migration`].
pub fn migrate(conn: &mut Conn) -> Result<Vec<String>, OpenError> {
    let names = |versions: Vec<diesel::migration::MigrationVersion<'_>>| {
        versions.iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    if let Conn::Postgres(pg) = conn {
        diesel::sql_query(format!("select pg_advisory_lock({MIGRATION_LOCK})"))
            .execute(pg)
            .map_err(|e| failed(&e))?;
    }
    refuse_newer(conn)?;
    let done = match conn {
        // The write lock is taken before the history is looked at, for the same reason.
        Conn::Sqlite(sqlite) => {
            sqlite.immediate_transaction(|sqlite| sqlite.run_pending_migrations(SQLITE).map(names))
        }
        Conn::Postgres(pg) => pg.run_pending_migrations(POSTGRES).map(names),
    };
    if let Conn::Postgres(pg) = conn {
        diesel::sql_query(format!("select pg_advisory_unlock({MIGRATION_LOCK})"))
            .execute(pg)
            .map_err(|e| failed(&e))?;
    }
    done.map_err(|e| failed(&e))
}

/// Takes every migration back, newest first: for tests of the `down` halves.
///
/// # Errors
/// [`OpenError::Migration`].
pub fn revert_all(conn: &mut Conn) -> Result<usize, OpenError> {
    let reverted = match conn {
        Conn::Sqlite(sqlite) => sqlite.revert_all_migrations(SQLITE).map(|v| v.len()),
        Conn::Postgres(pg) => pg.revert_all_migrations(POSTGRES).map(|v| v.len()),
    };
    reverted.map_err(|e| failed(&e))
}

/// Takes the newest migration back: for tests of what its `down` half keeps.
///
/// # Errors
/// [`OpenError::Migration`].
pub fn revert_last(conn: &mut Conn) -> Result<String, OpenError> {
    let reverted = match conn {
        Conn::Sqlite(sqlite) => sqlite.revert_last_migration(SQLITE).map(|version| version.to_string()),
        Conn::Postgres(pg) => pg.revert_last_migration(POSTGRES).map(|version| version.to_string()),
    };
    reverted.map_err(|e| failed(&e))
}

#[derive(QueryableByName)]
struct Applied {
    #[diesel(sql_type = Text)]
    version: String,
}

/// The migrations the database has, oldest first; none where it is new.
///
/// # Errors
/// [`OpenError::Migration`].
pub fn applied(conn: &mut Conn) -> Result<Vec<String>, OpenError> {
    let has_table = match conn {
        Conn::Sqlite(sqlite) => diesel::sql_query(
            "select name as version from sqlite_master where name = '__diesel_schema_migrations'",
        )
        .load::<Applied>(sqlite),
        Conn::Postgres(pg) => diesel::sql_query(
            "select table_name::text as version from information_schema.tables \
             where table_schema = current_schema() and table_name = '__diesel_schema_migrations'",
        )
        .load::<Applied>(pg),
    }
    .map_err(|e| failed(&e))?;
    if has_table.is_empty() {
        return Ok(Vec::new());
    }
    let all = "select version from __diesel_schema_migrations order by version";
    let rows = match conn {
        Conn::Sqlite(sqlite) => diesel::sql_query(all).load::<Applied>(sqlite),
        Conn::Postgres(pg) => diesel::sql_query(all).load::<Applied>(pg),
    };
    Ok(rows.map_err(|e| failed(&e))?.into_iter().map(|row| row.version).collect())
}

/// The migrations this program carries for either database, oldest first.
pub fn known(postgres: bool) -> Vec<String> {
    use diesel::migration::MigrationSource;
    let mut names = if postgres {
        MigrationSource::<diesel::pg::Pg>::migrations(&POSTGRES)
            .map(|all| all.iter().map(|m| m.name().version().to_string()).collect::<Vec<_>>())
    } else {
        MigrationSource::<diesel::sqlite::Sqlite>::migrations(&SQLITE)
            .map(|all| all.iter().map(|m| m.name().version().to_string()).collect::<Vec<_>>())
    }
    .unwrap_or_default();
    names.sort();
    names
}

fn refuse_newer(conn: &mut Conn) -> Result<(), OpenError> {
    let known = known(matches!(conn, Conn::Postgres(_)));
    match applied(conn)?.into_iter().rfind(|version| !known.contains(version)) {
        Some(migration) => Err(OpenError::Newer { migration }),
        None => Ok(()),
    }
}

/// Opens a connection of either kind without any setting, for migrations and tests.
pub(crate) fn connect(url: &str) -> Result<Conn, OpenError> {
    let conn = if crate::is_postgres(url) {
        PgConnection::establish(url).map(Conn::Postgres)
    } else {
        SqliteConnection::establish(url).map(Conn::Sqlite)
    };
    conn.map_err(|e| OpenError::Unreachable { url: without_password(url), why: reason(&e.to_string()) })
}

/// Why a database cannot be opened, in one line for whoever can mend it.
pub(crate) fn reason(text: &str) -> String {
    let line = one_line(text);
    // `SQLite` says no more of a file that is there and closed to it.
    if line == "unable to open database file" {
        return line + ": the file or its folder is not there, or cannot be read or written";
    }
    line
}

/// A database's address as it may be printed: without the password, which may stand before the `@` or among
/// the parameters.
pub fn without_password(url: &str) -> String {
    if !crate::is_postgres(url) {
        return url.to_owned();
    }
    let Some((scheme, rest)) = url.split_once("://") else { return url.to_owned() };
    let (rest, parameters) = rest.split_once('?').unwrap_or((rest, ""));
    let mut shown = match rest.rsplit_once('@') {
        Some((user, host)) => {
            let user = user.split_once(':').map_or(user, |(name, _)| name);
            format!("{scheme}://{user}@{host}")
        }
        None => format!("{scheme}://{rest}"),
    };
    let mut joint = '?';
    for parameter in parameters.split('&').filter(|p| !p.is_empty() && !p.starts_with("password=")) {
        shown.push(joint);
        shown.push_str(parameter);
        joint = '&';
    }
    shown
}

pub(crate) fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_databases_have_the_same_migrations() {
        assert_eq!(known(false), known(true));
        assert!(!known(false).is_empty());
    }

    #[test]
    fn a_password_never_reaches_a_message() {
        assert_eq!(without_password("postgres://una:secret@db/merrow"), "postgres://una@db/merrow");
        assert_eq!(without_password("postgres://una:se@cret@db/merrow"), "postgres://una@db/merrow");
        assert_eq!(
            without_password("postgres://db/merrow?user=una&password=secret&sslmode=require"),
            "postgres://db/merrow?user=una&sslmode=require"
        );
        assert_eq!(without_password("merrow.sqlite3"), "merrow.sqlite3");
    }
}
