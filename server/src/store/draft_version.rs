//! Versions of a performer's gloves. A version never changes; other inputs make the next one.

use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::Serialize;
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::{StoreResult, now_ms};

/// A version.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DraftVersion {
    /// Id.
    pub id: Uuid,
    /// Counts from 1 for each performer.
    pub number: i64,
    /// Everything the drafts follow from, as JSON.
    pub inputs: String,
    /// Date it was made, as it stands on the pieces.
    pub date: String,
}

const SELECT: &str = "SELECT id, number, inputs, date FROM draft_version WHERE performer = ?1";

fn from_row(row: &Row<'_>) -> rusqlite::Result<DraftVersion> {
    Ok(DraftVersion {
        id: row.get(0)?,
        number: row.get(1)?,
        inputs: row.get(2)?,
        date: row.get(3)?,
    })
}

/// The newest version of a performer's gloves.
///
/// # Errors
/// Database errors only.
pub fn latest(c: &Connection, performer: Uuid) -> StoreResult<Option<DraftVersion>> {
    let sql = format!("{SELECT} ORDER BY number DESC LIMIT 1");
    Ok(c.prepare_cached(&sql)?.query_row([performer], from_row).optional()?)
}

/// One version of a performer's gloves.
///
/// # Errors
/// Database errors only.
pub fn get(c: &Connection, performer: Uuid, id: Uuid) -> StoreResult<Option<DraftVersion>> {
    let sql = format!("{SELECT} AND id = ?2");
    Ok(c.prepare_cached(&sql)?.query_row(params![performer, id], from_row).optional()?)
}

/// Every version of a performer's gloves, oldest first.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection, performer: Uuid) -> StoreResult<Vec<DraftVersion>> {
    let mut statement = c.prepare(&format!("{SELECT} ORDER BY number"))?;
    let rows = statement.query_map([performer], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The version for these inputs: the newest one if it has the very same, a new one otherwise.
///
/// # Errors
/// Refused over the limit.
pub fn issue(
    c: &Connection,
    performer: Uuid,
    inputs: &str,
    date: &str,
) -> StoreResult<DraftVersion> {
    let newest = latest(c, performer)?;
    let number = newest.as_ref().map_or(1, |version| version.number + 1);
    if let Some(version) = newest.filter(|version| version.inputs == inputs) {
        return Ok(version);
    }
    let count = "SELECT count(*) FROM draft_version WHERE performer = ?1";
    demand_room(c, (count, [performer]), limits::FACTS, "paper")?;
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO draft_version (id, performer, number, inputs, date, made_ms)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        params![id, performer, number, inputs, date, now_ms()],
    )?;
    Ok(DraftVersion { id, number, inputs: inputs.to_owned(), date: date.to_owned() })
}
