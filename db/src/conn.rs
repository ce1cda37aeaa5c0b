//! The connection both databases share, and the one place that tells them apart.

use diesel::{PgConnection, SqliteConnection};

/// A connection to either database.
#[derive(diesel::MultiConnection)]
pub enum Conn {
    /// The embedded database.
    Sqlite(SqliteConnection),
    /// A `PostgreSQL` server, or one that speaks its protocol.
    Postgres(PgConnection),
}

impl std::fmt::Debug for Conn {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Sqlite(_) => "Conn::Sqlite",
            Self::Postgres(_) => "Conn::Postgres",
        })
    }
}
