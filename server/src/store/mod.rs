//! The database: every SQL statement of the product is in this folder, one file an aggregate.
//!
//! One thread writes. Writes that arrive while it is busy are committed together, each behind its
//! own savepoint, so that many phones posting at once share one synchronisation of the disk and a
//! refused write takes nothing else with it. Nothing is acknowledged before its commit.

pub mod account;
pub mod audit;
pub mod backup;
pub mod batch;
pub mod check;
pub mod consent;
pub mod draft_version;
pub mod exercise;
pub mod fabric;
pub mod fact;
pub mod fitting;
pub mod home_link;
pub mod lay;
pub mod limits;
pub mod measure_again;
mod migrations;
pub mod performer;
pub mod production;
pub mod reading;
pub mod second_factor;
pub mod session;
pub mod subject;
pub mod workshop_model;
mod writer;

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};
use thiserror::Error;

pub use rusqlite::Connection as Conn;
use writer::Writer;

/// How long a connection waits for a lock before it gives up (assumed: longer than any batch of
/// writes, shorter than a person's patience).
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);

/// Reading connections kept open: as many as there are threads that read on a machine of two cores.
/// One that has to be opened again reads the schema and prepares every statement anew.
const READERS_KEPT: usize = 16;

/// Prepared statements a connection keeps (assumed: more than the pages have).
const STATEMENTS_KEPT: usize = 100;

/// Why the database did not do what was asked.
#[derive(Debug, Error)]
pub enum StoreError {
    /// There is no such row.
    #[error("not found")]
    NotFound,
    /// A rule of the store refuses the write: the text is for people, the field names the input.
    #[error("{message}")]
    Refused {
        /// The input concerned.
        field: &'static str,
        /// Stable code.
        code: &'static str,
        /// What is wrong and what to do.
        message: String,
    },
    /// The file was written by a newer program.
    #[error(
        "the database is of version {found}, this program knows up to {known}: start the newer program"
    )]
    Newer {
        /// Version found in the file.
        found: i64,
        /// Newest version this program knows.
        known: i64,
    },
    /// The file is damaged.
    #[error(
        "the database is damaged ({0}): nothing was changed. Run handcall check, then restore the latest backup that is sound"
    )]
    Damaged(String),
    /// The disk is full or cannot be written; nothing of the write is kept.
    #[error("the disk is full or cannot be written: {0}")]
    Storage(String),
    /// The writing thread has ended.
    #[error("the database is closed")]
    Closed,
    /// SQLite reports an error.
    #[error("database: {0}")]
    Sqlite(#[from] rusqlite::Error),
    /// The folder or the file cannot be used.
    #[error("data folder: {0}")]
    Io(#[from] std::io::Error),
}

impl StoreError {
    /// Whether the disk is at fault: full, read-only, or failing.
    #[must_use]
    pub fn is_storage(&self) -> bool {
        match self {
            StoreError::Storage(_) => true,
            StoreError::Sqlite(error) => is_storage(error),
            StoreError::Io(error) => matches!(
                error.kind(),
                std::io::ErrorKind::StorageFull
                    | std::io::ErrorKind::QuotaExceeded
                    | std::io::ErrorKind::FileTooLarge
                    | std::io::ErrorKind::ReadOnlyFilesystem
                    | std::io::ErrorKind::PermissionDenied
            ),
            _ => false,
        }
    }
}

fn is_storage(error: &rusqlite::Error) -> bool {
    use rusqlite::ErrorCode::{CannotOpen, DiskFull, ReadOnly, SystemIoFailure};
    matches!(error.sqlite_error_code(), Some(DiskFull | SystemIoFailure | ReadOnly | CannotOpen))
}

/// Result of a store function.
pub type StoreResult<T> = Result<T, StoreError>;

/// Handle on the database, cheap to clone.
#[derive(Debug, Clone)]
pub struct Store {
    inner: Arc<Inner>,
}

#[derive(Debug)]
struct Inner {
    path: PathBuf,
    writer: Writer,
    readers: Mutex<Vec<Connection>>,
    /// How often somebody was erased since the start.
    erasures: AtomicU64,
}

impl Store {
    /// Opens the database file, makes it if it is missing, and brings it to the newest version.
    ///
    /// # Errors
    /// [`StoreError`] when the file cannot be opened, is of a newer version or is damaged.
    pub fn open(path: &Path) -> StoreResult<Store> {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)?;
        }
        let connection = prepared(path).map_err(|error| at_opening(error, path))?;
        let inner = Inner {
            path: path.to_owned(),
            writer: Writer::start(connection)?,
            readers: Mutex::new(Vec::new()),
            erasures: AtomicU64::new(0),
        };
        Ok(Store { inner: Arc::new(inner) })
    }

    /// The database file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.inner.path
    }

    /// Runs `job` on the writing thread and waits, without blocking a worker, for its commit.
    ///
    /// # Errors
    /// What `job` returns, or [`StoreError::Closed`]; then nothing of the job is kept.
    pub async fn write<T: Send + 'static>(
        &self,
        job: impl FnOnce(&Connection) -> StoreResult<T> + Send + 'static,
    ) -> StoreResult<T> {
        self.inner.writer.send(job)?.await.unwrap_or(Err(StoreError::Closed))
    }

    /// [`Store::write`] for commands and threads outside the server's runtime.
    ///
    /// # Errors
    /// As [`Store::write`].
    pub fn write_now<T: Send + 'static>(
        &self,
        job: impl FnOnce(&Connection) -> StoreResult<T> + Send + 'static,
    ) -> StoreResult<T> {
        self.inner.writer.send(job)?.blocking_recv().unwrap_or(Err(StoreError::Closed))
    }

    /// Runs `job` on a reading connection, off the workers.
    ///
    /// # Errors
    /// What `job` returns, or [`StoreError::Closed`] while the server is going down.
    pub async fn read<T: Send + 'static>(
        &self,
        job: impl FnOnce(&Connection) -> StoreResult<T> + Send + 'static,
    ) -> StoreResult<T> {
        let store = self.clone();
        actix_web::web::block(move || store.read_now(job)).await.unwrap_or(Err(StoreError::Closed))
    }

    /// [`Store::read`] for commands and threads outside the server's runtime.
    ///
    /// # Errors
    /// What `job` returns.
    pub fn read_now<T>(&self, job: impl FnOnce(&Connection) -> StoreResult<T>) -> StoreResult<T> {
        let pooled = self.readers().pop();
        let connection = match pooled {
            Some(connection) => connection,
            None => self.open_reader()?,
        };
        let result = job(&connection);
        let mut readers = self.readers();
        if readers.len() < READERS_KEPT {
            readers.push(connection);
        }
        result
    }

    /// Counts the erasures since the start: what was derived from people must be derived again when
    /// it has changed.
    #[must_use]
    pub fn erasures(&self) -> u64 {
        self.inner.erasures.load(Ordering::SeqCst)
    }

    fn readers(&self) -> std::sync::MutexGuard<'_, Vec<Connection>> {
        self.inner.readers.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn open_reader(&self) -> StoreResult<Connection> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(&self.inner.path, flags)?;
        keep_statements(&connection)?;
        Ok(connection)
    }
}

/// The connection that writes: sound, in WAL mode and of the newest version.
fn prepared(path: &Path) -> StoreResult<Connection> {
    let mut connection = Connection::open(path)?;
    prepare(&connection)?;
    // SQLite falls back to reading: found out now, not by the first reading that is refused.
    if connection.is_readonly("main")? {
        return Err(StoreError::Storage(path.display().to_string()));
    }
    let found: String = connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
    if found != "ok" {
        return Err(StoreError::Damaged(found));
    }
    connection.pragma_update(None, "journal_mode", "WAL")?;
    migrations::run(&mut connection, path)?;
    Ok(connection)
}

/// Says in plain words why a database does not open.
fn at_opening(error: StoreError, path: &Path) -> StoreError {
    use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
    match &error {
        StoreError::Sqlite(sqlite) => match sqlite.sqlite_error_code() {
            Some(DatabaseCorrupt | NotADatabase) => StoreError::Damaged(sqlite.to_string()),
            _ if is_storage(sqlite) => StoreError::Storage(format!("{}: {sqlite}", path.display())),
            _ => error,
        },
        _ => error,
    }
}

fn prepare(connection: &Connection) -> StoreResult<()> {
    keep_statements(connection)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "secure_delete", true)?;
    Ok(())
}

/// What every connection has: patience, and statements that are prepared once. Without the planner's
/// stability guarantee SQLite prepares a kept statement again for every value bound to it.
fn keep_statements(connection: &Connection) -> StoreResult<()> {
    connection.busy_timeout(BUSY_TIMEOUT)?;
    connection.set_prepared_statement_cache_capacity(STATEMENTS_KEPT);
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    Ok(())
}

/// Milliseconds since 1970, by this machine's clock.
#[must_use]
pub fn now_ms() -> i64 {
    let elapsed = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    i64::try_from(elapsed.as_millis()).unwrap_or(i64::MAX)
}

/// Whether an error is a broken UNIQUE rule.
fn is_taken(error: &rusqlite::Error) -> bool {
    error.sqlite_error().is_some_and(|e| {
        e.extended_code == rusqlite::ffi::SQLITE_CONSTRAINT_UNIQUE
            || e.extended_code == rusqlite::ffi::SQLITE_CONSTRAINT_PRIMARYKEY
    })
}

fn missing(error: rusqlite::Error) -> StoreError {
    match error {
        rusqlite::Error::QueryReturnedNoRows => StoreError::NotFound,
        other => StoreError::Sqlite(other),
    }
}

#[cfg(test)]
mod fabric_tests;
#[cfg(test)]
mod keeping_tests;
#[cfg(test)]
mod limits_tests;
#[cfg(test)]
mod tests;
