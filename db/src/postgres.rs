//! `PostgreSQL`: a pool, serialisable writes, and another try when two of them met.
//!
//! Under `read committed` two read-modify-writes lose one of them without any error. Under `serializable`
//! the database refuses one of them instead, and it is run again.

use std::time::Duration;

use diesel::connection::SimpleConnection;
use diesel::r2d2::{ConnectionManager, CustomizeConnection, Pool};

use crate::conn::Conn;
use crate::error::{DbError, OpenError, Refused};
use crate::migrations::{connect, migrate, one_line, without_password};

/// Tries before a write gives up with [`DbError::Conflict`]; with the growing pause below about 8 s in all.
const TRIES: u32 = 40;

/// Longest wait for a read: a statement that takes longer is ended by the database itself, unless it hangs.
pub(crate) const READ_WITHIN: Duration = Duration::from_secs(40);
/// Longest wait for a write, which may be many statements of a large table. All four spans are common practice.
pub(crate) const WRITE_WITHIN: Duration = Duration::from_secs(120);

/// What a connection of the pool may wait for.
const PATIENCE: &str = "set statement_timeout = '30s'; set lock_timeout = '10s'; \
                        set idle_in_transaction_session_timeout = '120s'";

#[derive(Debug)]
struct Patience;

impl CustomizeConnection<Conn, diesel::r2d2::Error> for Patience {
    fn on_acquire(&self, conn: &mut Conn) -> Result<(), diesel::r2d2::Error> {
        conn.batch_execute(PATIENCE).map_err(diesel::r2d2::Error::QueryError)
    }
}

/// The address with what the library is told of a server that has gone without a word: unless it says so itself.
fn with_patience(url: &str) -> String {
    let mut url = url.to_owned();
    for (name, value) in [("connect_timeout", "10"), ("tcp_user_timeout", "15000")] {
        if !url.contains(name) {
            url.push(if url.contains('?') { '&' } else { '?' });
            url.extend([name, "=", value]);
        }
    }
    url
}

#[derive(Debug)]
pub(crate) struct Store {
    pool: Pool<ConnectionManager<Conn>>,
}

impl Store {
    pub(crate) fn open(url: &str, connections: u32) -> Result<Self, OpenError> {
        migrate(&mut connect(url)?)?;
        let pool = Pool::builder()
            .max_size(connections.max(1))
            .min_idle(Some(1))
            .connection_timeout(Duration::from_secs(10))
            .connection_customizer(Box::new(Patience))
            .build(ConnectionManager::new(with_patience(url)))
            .map_err(|e| OpenError::Unreachable {
                url: without_password(url),
                why: one_line(&e.to_string()),
            })?;
        Ok(Self { pool })
    }

    pub(crate) fn read<T, E: Refused>(&self, work: impl FnOnce(&mut Conn) -> Result<T, E>) -> Result<T, E> {
        let mut conn = self.pool.get().map_err(|e| DbError::Unavailable(e.to_string()))?;
        conn.batch_execute("begin isolation level repeatable read, read only").map_err(DbError::from)?;
        let result = work(&mut conn);
        conn.batch_execute("commit").map_err(DbError::from)?;
        result
    }

    pub(crate) fn write<T, E: Refused>(
        &self,
        mut work: impl FnMut(&mut Conn) -> Result<T, E>,
    ) -> Result<T, E> {
        let mut tries = 0;
        loop {
            let result = self.attempt(&mut work);
            tries += 1;
            match &result {
                Err(error) if tries < TRIES && matches!(error.database_error(), Some(DbError::Conflict)) => {
                    std::thread::sleep(pause(tries));
                }
                _ => return result,
            }
        }
    }

    fn attempt<T, E: Refused>(&self, work: &mut impl FnMut(&mut Conn) -> Result<T, E>) -> Result<T, E> {
        let mut conn = self.pool.get().map_err(|e| DbError::Unavailable(e.to_string()))?;
        conn.batch_execute("begin isolation level serializable").map_err(DbError::from)?;
        let result = work(&mut conn);
        if result.is_err() {
            // A connection that cannot roll back is found broken when it is next asked for.
            drop(conn.batch_execute("rollback"));
            return result;
        }
        // After a failed statement that `work` passed over, a bare `commit` rolls back and reports no error.
        // Any statement before it, in the same message, fails instead.
        match conn.batch_execute("select 1; commit") {
            Ok(()) => result,
            Err(error) => {
                drop(conn.batch_execute("rollback"));
                Err(E::from(DbError::from(error)))
            }
        }
    }
}

/// Grows to 250 ms and differs between threads, so that the same two do not meet again.
fn pause(tries: u32) -> Duration {
    use std::hash::{BuildHasher, Hasher};
    let most = (2_u64 << tries.min(7)).min(250);
    let random = std::collections::hash_map::RandomState::new().build_hasher().finish();
    Duration::from_micros(500 + random % (most * 1000))
}
