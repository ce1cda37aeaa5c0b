//! `SQLite`: pooled readers, and one thread that writes.
//!
//! Connections that all write starve each other under `busy_timeout`, which sleeps and does not queue. So
//! one thread owns the writing connection. Closures that queued while it was busy run one after another,
//! each in its own savepoint, and share one commit; every caller is answered only after that commit. The
//! cost of a durable write falls with the load: one `fsync` for all that wait.

use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use diesel::connection::SimpleConnection;
use diesel::r2d2::{ConnectionManager, CustomizeConnection, Pool};
use tokio::sync::oneshot;

use crate::conn::Conn;
use crate::error::{DbError, OpenError, Refused};
use crate::migrations::{connect, migrate, reason};

/// Most closures that share one commit: bounds how long the first of them waits for the last.
const SHARED_COMMIT: usize = 64;

/// Longest wait for another server that starts on the same file, as long as `busy_timeout` below.
const PATIENCE: Duration = Duration::from_secs(10);

/// `synchronous = full`: an acknowledged record survives a power cut, not only a crash of the program. The
/// shared commit makes it affordable.
const WRITER: &str = "pragma foreign_keys = on; pragma busy_timeout = 10000; pragma journal_mode = wal; \
                      pragma synchronous = full; pragma cache_size = -16000; pragma mmap_size = 268435456; pragma journal_size_limit = 16777216;";
const READER: &str = "pragma foreign_keys = on; pragma busy_timeout = 10000; pragma query_only = on; \
                      pragma cache_size = -4000; pragma mmap_size = 268435456;";

#[derive(Debug)]
pub(crate) struct Store {
    path: String,
    serial: u64,
    readers: Pool<ConnectionManager<Conn>>,
    queue: mpsc::Sender<Box<dyn Job>>,
}

#[derive(Debug)]
struct ReaderPragmas;

impl CustomizeConnection<Conn, diesel::r2d2::Error> for ReaderPragmas {
    fn on_acquire(&self, conn: &mut Conn) -> Result<(), diesel::r2d2::Error> {
        conn.batch_execute(READER).map_err(diesel::r2d2::Error::QueryError)
    }
}

thread_local! {
    /// The calling thread's own reader, with the serial of the store it reads.
    static OWN_READER: RefCell<Option<(u64, Conn)>> = const { RefCell::new(None) };
}

impl Store {
    pub(crate) fn open(path: &str, readers: u32) -> Result<Self, OpenError> {
        static SERIAL: AtomicU64 = AtomicU64::new(1);
        let unreachable = |why: &str| OpenError::Unreachable { url: path.to_owned(), why: reason(why) };
        let others_may_read = keep_private(path);
        let mut writer = connect(path)?;
        // Turning the journal over is the one step that does not wait for another server's by itself.
        let started = Instant::now();
        while let Err(error) = writer.batch_execute(WRITER) {
            if error.to_string() != "database is locked" || started.elapsed() > PATIENCE {
                return Err(unreachable(&error.to_string()));
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        // A write that changes nothing turns a read-only file into one clear line at start; taking the write
        // lock would not, since on such a file SQLite silently takes a reader's instead.
        writer.batch_execute("pragma user_version = 0").map_err(|e| unreachable(&e.to_string()))?;
        migrate(&mut writer)?;
        if others_may_read {
            tracing::warn!(
                path,
                "other users of this machine may read the database; mend it with: chmod 600"
            );
        }
        let readers = Pool::builder()
            .max_size(readers.max(1))
            .min_idle(Some(1))
            .test_on_check_out(false)
            .connection_timeout(Duration::from_secs(10))
            .connection_customizer(Box::new(ReaderPragmas))
            .build(ConnectionManager::new(path))
            .map_err(|e| unreachable(&e.to_string()))?;
        let (queue, waiting) = mpsc::channel();
        std::thread::Builder::new()
            .name("sqlite-writer".to_owned())
            .spawn(move || write_all(&mut writer, &waiting))
            .map_err(|e| unreachable(&e.to_string()))?;
        Ok(Self { path: path.to_owned(), serial: SERIAL.fetch_add(1, Ordering::Relaxed), readers, queue })
    }

    pub(crate) fn read<T, E: Refused>(&self, work: impl FnOnce(&mut Conn) -> Result<T, E>) -> Result<T, E> {
        let mut conn = self.readers.get().map_err(|e| DbError::Unavailable(e.to_string()))?;
        in_read_transaction(&mut conn, work)
    }

    /// Brings everything that was written into the one file.
    pub(crate) fn settle(&self) -> Result<(), DbError> {
        let mut conn = connect(&self.path).map_err(|e| DbError::Unavailable(e.to_string()))?;
        Ok(conn.batch_execute("pragma busy_timeout = 10000; pragma wal_checkpoint(truncate)")?)
    }

    pub(crate) fn glance<T, E: Refused>(&self, work: impl FnOnce(&mut Conn) -> Result<T, E>) -> Result<T, E> {
        // Taken out and put back: a panic in `work` drops the connection with its open transaction.
        let own = OWN_READER.take().filter(|(serial, _)| *serial == self.serial);
        let mut conn = if let Some((_, conn)) = own {
            conn
        } else {
            let mut conn = connect(&self.path).map_err(|e| DbError::Unavailable(e.to_string()))?;
            conn.batch_execute(READER).map_err(DbError::from)?;
            conn
        };
        let result = in_read_transaction(&mut conn, work);
        if result.as_ref().err().is_none_or(|error| error.database_error().is_none()) {
            OWN_READER.set(Some((self.serial, conn)));
        }
        result
    }

    pub(crate) async fn write<T, E>(
        &self,
        work: impl FnMut(&mut Conn) -> Result<T, E> + Send + 'static,
    ) -> Result<T, E>
    where
        T: Send + 'static,
        E: Refused,
    {
        let (answer, answered) = oneshot::channel();
        self.queue
            .send(Box::new(Waiting { work, result: None, answer }))
            .map_err(|_closed| DbError::Stopped)?;
        answered.await.unwrap_or_else(|_dropped| Err(E::from(DbError::Stopped)))
    }
}

/// Makes a new file one that its owner alone may read, as `SQLite` then makes those beside it. Whether others may read
/// one that was there. What stands in the way of either is told when the file is opened.
fn keep_private(path: &str) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
        if path == ":memory:" || path.starts_with("file:") {
            return false;
        }
        let made = std::fs::OpenOptions::new().write(true).create_new(true).mode(0o600).open(path);
        if made.is_ok() {
            return false;
        }
        std::fs::metadata(path).is_ok_and(|about| about.is_file() && about.permissions().mode() & 0o077 != 0)
    }
    #[cfg(not(unix))]
    false
}

fn in_read_transaction<T, E: Refused>(
    conn: &mut Conn,
    work: impl FnOnce(&mut Conn) -> Result<T, E>,
) -> Result<T, E> {
    conn.batch_execute("begin deferred").map_err(DbError::from)?;
    let result = work(conn);
    conn.batch_execute("commit").map_err(DbError::from)?;
    result
}

/// A queued write of any result type.
trait Job: Send {
    /// Does the work in a savepoint of its own.
    fn run(&mut self, conn: &mut Conn);
    /// Answers the caller, with the work's result where the commit held.
    fn finish(self: Box<Self>, committed: Result<(), DbError>);
}

struct Waiting<F, T, E> {
    work: F,
    result: Option<Result<T, E>>,
    answer: oneshot::Sender<Result<T, E>>,
}

impl<F, T, E> Job for Waiting<F, T, E>
where
    F: FnMut(&mut Conn) -> Result<T, E> + Send,
    T: Send,
    E: Refused,
{
    fn run(&mut self, conn: &mut Conn) {
        let result =
            conn.batch_execute("savepoint job").map_err(DbError::from).map_err(E::from).and_then(|()| {
                // A panic in one closure must not take the others' work or the thread with it.
                catch_unwind(AssertUnwindSafe(|| (self.work)(conn)))
                    .unwrap_or_else(|_panic| Err(E::from(DbError::Stopped)))
            });
        let end = if result.is_ok() { "release job" } else { "rollback to job; release job" };
        self.result = Some(match conn.batch_execute(end) {
            Ok(()) => result,
            Err(error) => Err(E::from(DbError::from(error))),
        });
    }

    fn finish(self: Box<Self>, committed: Result<(), DbError>) {
        let result = match (committed, self.result) {
            (Ok(()), Some(result)) => result,
            // A refusal stands whether or not the others' work was kept.
            (Err(_), Some(Err(refusal))) => Err(refusal),
            (Err(error), _) => Err(E::from(error)),
            (Ok(()), None) => Err(E::from(DbError::Stopped)),
        };
        // The caller may have gone away; the write stands all the same.
        drop(self.answer.send(result));
    }
}

/// The writing thread: ends when the last [`Store`] is dropped and the queue is empty.
fn write_all(conn: &mut Conn, waiting: &mpsc::Receiver<Box<dyn Job>>) {
    while let Ok(first) = waiting.recv() {
        let begun = conn.batch_execute("begin immediate").map_err(DbError::from);
        if let Err(error) = begun {
            first.finish(Err(error));
            continue;
        }
        let mut done = Vec::new();
        let mut next = Some(first);
        while let Some(mut job) = next {
            job.run(conn);
            done.push(job);
            next = if done.len() < SHARED_COMMIT { waiting.try_recv().ok() } else { None };
        }
        let mut committed = conn.batch_execute("commit").map_err(DbError::from);
        if committed.is_err() && conn.batch_execute("rollback").is_err() {
            tracing::error!("a failed commit could not be rolled back");
        }
        let last = done.pop();
        for job in done {
            // The error's text goes to each; the error itself cannot be cloned.
            let outcome = match &committed {
                Ok(()) => Ok(()),
                Err(DbError::Full) => Err(DbError::Full),
                Err(error) => Err(DbError::Unavailable(error.to_string())),
            };
            job.finish(outcome);
        }
        if let Some(job) = last {
            job.finish(std::mem::replace(&mut committed, Ok(())));
        }
    }
}
