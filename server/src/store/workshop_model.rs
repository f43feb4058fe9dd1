//! Whether the hand model learns from the workshop's own readings, and from which of them.

use std::collections::HashSet;

use rusqlite::{Connection, OptionalExtension, params};
use uuid::Uuid;

use super::{StoreResult, now_ms};

/// What was switched on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Switched {
    /// Readings that arrived later do not count, ms since 1970.
    pub until_ms: i64,
    /// Who did it.
    pub by: String,
}

/// The switch; `None` when it is off.
///
/// # Errors
/// Database errors only.
pub fn get(c: &Connection) -> StoreResult<Option<Switched>> {
    Ok(c.query_row("SELECT until_ms, switched_by FROM workshop_model", [], |row| {
        Ok(Switched { until_ms: row.get(0)?, by: row.get(1)? })
    })
    .optional()?)
}

/// Switches on, with every reading there is by now.
///
/// # Errors
/// Database errors only.
pub fn switch_on(c: &Connection, by: &str) -> StoreResult<()> {
    c.execute(
        "INSERT OR REPLACE INTO workshop_model (only, until_ms, switched_by) VALUES (1, ?1, ?2)",
        params![now_ms(), by],
    )?;
    Ok(())
}

/// Switches off: nothing stays of what was learned.
///
/// # Errors
/// Database errors only.
pub fn switch_off(c: &Connection) -> StoreResult<()> {
    c.execute("DELETE FROM workshop_model", [])?;
    Ok(())
}

/// Ids of all readings that arrived up to a time.
///
/// # Errors
/// Database errors only.
pub fn readings_until(c: &Connection, until_ms: i64) -> StoreResult<HashSet<Uuid>> {
    let mut statement = c.prepare("SELECT id FROM reading WHERE received_ms <= ?1")?;
    let rows = statement.query_map([until_ms], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
