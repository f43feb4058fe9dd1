//! Batches of drafts: what was asked, how far it is, how it ended. The ZIP is a file beside the
//! database, named by the batch's id.

use rusqlite::{Connection, Row, params};
use serde::Serialize;
use uuid::Uuid;

use super::{StoreResult, missing, now_ms};

/// Batches listed at most.
const LIST_LIMIT: i64 = 50;

/// One batch.
#[derive(Debug, Clone, Serialize)]
pub struct Batch {
    /// Id.
    pub id: Uuid,
    /// The production.
    pub production: Uuid,
    /// Paper key.
    pub paper: String,
    /// `running`, `done` or `failed`.
    pub state: String,
    /// Gloves finished.
    pub done: i64,
    /// Gloves asked.
    pub total: i64,
    /// Why it failed.
    pub message: String,
    /// Who started it.
    pub started_by: String,
    /// When it started, ms since 1970.
    pub started_ms: i64,
}

const SELECT: &str = "SELECT id, production, paper, state, done, total, message, started_by,
    started_ms FROM batch";

fn from_row(row: &Row<'_>) -> rusqlite::Result<Batch> {
    Ok(Batch {
        id: row.get(0)?,
        production: row.get(1)?,
        paper: row.get(2)?,
        state: row.get(3)?,
        done: row.get(4)?,
        total: row.get(5)?,
        message: row.get(6)?,
        started_by: row.get(7)?,
        started_ms: row.get(8)?,
    })
}

/// Notes a new batch.
///
/// # Errors
/// Database errors only.
pub fn start(
    c: &Connection,
    production: Uuid,
    paper: &str,
    total: i64,
    started_by: &str,
) -> StoreResult<Uuid> {
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO batch (id, production, paper, state, total, started_by, started_ms)
         VALUES (?1, ?2, ?3, 'running', ?4, ?5, ?6)",
        params![id, production, paper, total, started_by, now_ms()],
    )?;
    Ok(id)
}

/// Notes how far a batch is.
///
/// # Errors
/// Database errors only.
pub fn advance(c: &Connection, id: Uuid, done: i64) -> StoreResult<()> {
    c.execute("UPDATE batch SET done = ?2 WHERE id = ?1", params![id, done])?;
    Ok(())
}

/// Notes the end of a batch; a message means that it failed.
///
/// # Errors
/// Database errors only.
pub fn end(c: &Connection, id: Uuid, failure: Option<&str>) -> StoreResult<()> {
    c.execute(
        "UPDATE batch SET state = ?2, message = ?3, ended_ms = ?4,
                done = CASE WHEN ?2 = 'done' THEN total ELSE done END
         WHERE id = ?1",
        params![
            id,
            if failure.is_some() { "failed" } else { "done" },
            failure.unwrap_or(""),
            now_ms()
        ],
    )?;
    Ok(())
}

/// Marks the batches that an earlier run of the server left unfinished.
///
/// # Errors
/// Database errors only.
pub fn end_interrupted(c: &Connection) -> StoreResult<()> {
    c.execute(
        "UPDATE batch SET state = 'failed', ended_ms = ?1,
                message = 'The server was stopped while this batch ran. Start it again.'
         WHERE state = 'running'",
        [now_ms()],
    )?;
    Ok(())
}

/// One batch.
///
/// # Errors
/// [`super::StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Batch> {
    c.query_row(&format!("{SELECT} WHERE id = ?1"), [id], from_row).map_err(missing)
}

/// Batches of a production, newest first.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection, production: Uuid) -> StoreResult<Vec<Batch>> {
    let sql = format!("{SELECT} WHERE production = ?1 ORDER BY started_ms DESC, id DESC LIMIT ?2");
    let mut statement = c.prepare(&sql)?;
    let rows = statement.query_map(params![production, LIST_LIMIT], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}
