//! Performers whom somebody decided to measure again. The decision is over with the next reading
//! that arrives, or when it is taken back.

use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use uuid::Uuid;

use super::{StoreResult, now_ms};

/// A decision in force.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Asked {
    /// Who decided.
    pub asked_by: String,
    /// When, ms since 1970.
    pub asked_ms: i64,
}

/// Asks for a performer to be measured again; says whether nobody had asked before.
///
/// # Errors
/// Database errors only.
pub fn ask(c: &Connection, performer: Uuid, who: &str) -> StoreResult<bool> {
    let sql = "INSERT INTO measure_again (performer, asked_by, asked_ms) VALUES (?1, ?2, ?3)
               ON CONFLICT (performer) DO NOTHING";
    Ok(c.prepare_cached(sql)?.execute(params![performer, who, now_ms()])? == 1)
}

/// Ends the decision about a performer; says whether there was one.
///
/// # Errors
/// Database errors only.
pub fn end(c: &Connection, performer: Uuid) -> StoreResult<bool> {
    let sql = "DELETE FROM measure_again WHERE performer = ?1";
    Ok(c.prepare_cached(sql)?.execute([performer])? == 1)
}

/// The decision about a performer, while it is in force.
///
/// # Errors
/// Database errors only.
pub fn of_performer(c: &Connection, performer: Uuid) -> StoreResult<Option<Asked>> {
    let sql = "SELECT asked_by, asked_ms FROM measure_again WHERE performer = ?1";
    let row = c
        .prepare_cached(sql)?
        .query_row([performer], |row| Ok(Asked { asked_by: row.get(0)?, asked_ms: row.get(1)? }))
        .optional()?;
    Ok(row)
}
