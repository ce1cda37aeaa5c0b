//! The society's records on `SQLite` or `PostgreSQL`, behind two doors.
//!
//! [`Db::read`] gives a closure one unchanging view of the records; [`Db::write`] lets a closure change them
//! as if nobody else wrote meanwhile. Both take synchronous closures, so nobody can wait for the network
//! inside a transaction, and a write closure may run more than once, so it must not do anything but write.
//!
//! | door | `SQLite` | `PostgreSQL` |
//! |---|---|---|
//! | read | `begin deferred` on a pooled reader | `repeatable read, read only` |
//! | write | one writing thread, `begin immediate`, queued closures share a commit | `serializable`, run again on conflict |
//!
//! [`rows`] holds the rows and their queries, one module per family of nouns; [`schema`] the tables.

mod conn;
mod error;
mod migrations;
mod postgres;
mod sqlite;

pub mod rows;
pub mod schema;

use std::sync::Arc;
use std::time::Duration;

pub use conn::Conn;
pub use error::{Constraint, DbError, OpenError, Refused};
pub use migrations::{applied, known, migrate, revert_all, revert_last, without_password};

/// The society's database: cheap to clone, one per server.
#[derive(Clone, Debug)]
pub struct Db {
    store: Arc<Store>,
}

#[derive(Debug)]
enum Store {
    Sqlite(sqlite::Store),
    Postgres(postgres::Store),
}

impl Db {
    /// Opens the database at `url`, creating a `SQLite` file that is not there, and brings it to the newest
    /// schema. `postgres://` and `postgresql://` name a `PostgreSQL` database, anything else a `SQLite` file.
    ///
    /// # Errors
    /// One line each for what a volunteer can mend: [`OpenError`].
    pub fn open(url: &str, readers: u32) -> Result<Self, OpenError> {
        let store = if is_postgres(url) {
            Store::Postgres(postgres::Store::open(url, readers)?)
        } else {
            Store::Sqlite(sqlite::Store::open(url, readers)?)
        };
        Ok(Self { store: Arc::new(store) })
    }

    /// Runs `work` on one unchanging view of the records, off the calling thread.
    pub async fn read<T, E>(
        &self,
        work: impl FnOnce(&mut Conn) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: Refused,
    {
        let store = Arc::clone(&self.store);
        let reading = off_thread(move || match &*store {
            Store::Sqlite(sqlite) => sqlite.read(work),
            Store::Postgres(postgres) => postgres.read(work),
        });
        self.in_time(postgres::READ_WITHIN, reading).await
    }

    /// [`Db::read`] for a look at a few rows by key. On `SQLite` it runs at once on the calling thread's own
    /// connection, since handing it to another thread costs twice the look; on `PostgreSQL` it is `read`.
    pub async fn glance<T, E>(
        &self,
        work: impl FnOnce(&mut Conn) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: Refused,
    {
        match &*self.store {
            Store::Sqlite(sqlite) => sqlite.glance(work),
            Store::Postgres(_) => self.read(work).await,
        }
    }

    /// A server in another process may hang without closing its connections; whoever waits for it is told.
    async fn in_time<T, E: Refused>(
        &self,
        within: Duration,
        work: impl Future<Output = Result<T, E>>,
    ) -> Result<T, E> {
        if !self.is_postgres() {
            return work.await;
        }
        match tokio::time::timeout(within, work).await {
            Ok(result) => result,
            Err(_late) => Err(E::from(DbError::Late)),
        }
    }

    /// Runs `work` as if nobody else wrote meanwhile; answers after the commit. An error undoes all of it.
    /// `work` runs again when the database found a conflict.
    pub async fn write<T, E>(
        &self,
        work: impl FnMut(&mut Conn) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: Refused,
    {
        match &*self.store {
            Store::Sqlite(sqlite) => sqlite.write(work).await,
            Store::Postgres(_) => {
                let store = Arc::clone(&self.store);
                let writing = off_thread(move || match &*store {
                    Store::Postgres(postgres) => postgres.write(work),
                    Store::Sqlite(_) => Err(E::from(DbError::Stopped)),
                });
                self.in_time(postgres::WRITE_WITHIN, writing).await
            }
        }
    }

    /// Brings everything that was written into the one file of `SQLite`, so that a copy of it is whole; nothing on
    /// `PostgreSQL`.
    ///
    /// # Errors
    /// [`DbError`]: nothing is lost, the file is not whole by itself.
    pub fn settle(&self) -> Result<(), DbError> {
        match &*self.store {
            Store::Sqlite(sqlite) => sqlite.settle(),
            Store::Postgres(_) => Ok(()),
        }
    }

    /// Whether the records are kept by `PostgreSQL`.
    pub fn is_postgres(&self) -> bool {
        matches!(&*self.store, Store::Postgres(_))
    }
}

/// Whether `url` names a `PostgreSQL` database.
pub fn is_postgres(url: &str) -> bool {
    url.starts_with("postgres://") || url.starts_with("postgresql://")
}

async fn off_thread<T, E>(work: impl FnOnce() -> Result<T, E> + Send + 'static) -> Result<T, E>
where
    T: Send + 'static,
    E: Refused,
{
    match tokio::task::spawn_blocking(work).await {
        Ok(result) => result,
        Err(_panicked_or_stopped) => Err(E::from(DbError::Stopped)),
    }
}
