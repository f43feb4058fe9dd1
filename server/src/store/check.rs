//! Is this database sound: SQLite's own checks, the references, the audit chain.

use std::path::Path;

use rusqlite::{Connection, OpenFlags};
use serde::Serialize;

use super::audit::{self, Chain};
use super::{StoreError, StoreResult, migrations};

/// Complaints of SQLite that are listed at most.
const COMPLAINTS: usize = 20;

/// What a check found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Report {
    /// Version of the schema.
    pub version: i64,
    /// What SQLite's integrity check complains of; empty when it is content.
    pub damage: Vec<String>,
    /// Rows that refer to nothing, as "table row".
    pub dangling: Vec<String>,
    /// The audit chain; `None` in a file from before there was one.
    pub audit: Option<Chain>,
    /// Performers held.
    pub performers: i64,
    /// Readings held, withdrawn ones included.
    pub readings: i64,
}

impl Report {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.damage.is_empty()
            && self.dangling.is_empty()
            && self.audit.as_ref().is_none_or(|chain| chain.broken_at.is_none())
    }
}

/// Checks a database file without changing it.
///
/// # Errors
/// [`StoreError`] when the file cannot be read, is no database of ours, or is of a newer version.
pub fn file(path: &Path) -> StoreResult<Report> {
    if !path.is_file() {
        return Err(StoreError::NotFound);
    }
    let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    connection.busy_timeout(super::BUSY_TIMEOUT)?;
    connection_report(&connection)
}

/// Checks an open database.
///
/// # Errors
/// As [`file`].
pub fn connection_report(c: &Connection) -> StoreResult<Report> {
    let version: i64 = c.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if version > migrations::KNOWN {
        return Err(StoreError::Newer { found: version, known: migrations::KNOWN });
    }
    let damage = texts(c, &format!("PRAGMA integrity_check({COMPLAINTS})"), |row| row.get(0))?;
    let dangling = texts(c, "PRAGMA foreign_key_check", |row| {
        let (table, row): (String, Option<i64>) = (row.get(0)?, row.get(1)?);
        Ok(format!("{table} {}", row.unwrap_or_default()))
    })?;
    let count = |table: &str| {
        c.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get::<_, i64>(0))
    };
    Ok(Report {
        version,
        damage: damage.into_iter().filter(|line| line != "ok").collect(),
        dangling: dangling.into_iter().take(COMPLAINTS).collect(),
        audit: if version >= 2 { Some(audit::verify(c)?) } else { None },
        performers: count("performer")?,
        readings: count("reading")?,
    })
}

fn texts(
    c: &Connection,
    sql: &str,
    text: impl Fn(&rusqlite::Row<'_>) -> rusqlite::Result<String>,
) -> StoreResult<Vec<String>> {
    let mut statement = c.prepare(sql)?;
    let rows = statement.query_map([], |row| text(row))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
