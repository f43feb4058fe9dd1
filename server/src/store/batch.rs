//! Batches of drafts: what was asked, how far it is, how it ended. The ZIP is a file beside the
//! database, named by the batch's id.

use rusqlite::{Connection, Row, params};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::{StoreResult, missing, now_ms};

/// One batch.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Batch {
    /// Id.
    pub id: Uuid,
    /// The production.
    pub production: Uuid,
    /// Paper key.
    pub paper: String,
    /// `running`, `done`, `failed` or `cancelled`.
    pub state: String,
    /// Performers finished.
    pub done: i64,
    /// Performers asked.
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

/// A performer of a new batch.
#[derive(Debug, Clone)]
pub struct NewItem {
    /// Id of the version to draft.
    pub version: Uuid,
    /// Start of the names of the files.
    pub stem: String,
    /// Who they are called with, or empty.
    pub call: String,
}

/// A performer of a batch.
#[derive(Debug, Clone)]
pub struct Item {
    /// Place in the batch, from 0.
    pub position: i64,
    /// Who it is for.
    pub performer: Uuid,
    /// Start of the names of the files.
    pub stem: String,
    /// Number of the version.
    pub number: i64,
    /// Date of the version.
    pub date: String,
    /// Inputs of the version, as JSON.
    pub inputs: String,
    /// What became of them, as JSON, once their files are written.
    pub result: Option<String>,
    /// Who they are called with, or empty.
    pub call: String,
}

/// Notes a new batch.
///
/// # Errors
/// Refused over the limit.
pub fn start(
    c: &Connection,
    production: Uuid,
    paper: &str,
    items: &[NewItem],
    started_by: &str,
) -> StoreResult<Uuid> {
    let count = "SELECT count(*) FROM batch WHERE production = ?1";
    demand_room(c, (count, [production]), limits::BATCHES, "paper")?;
    let id = Uuid::now_v7();
    let total = i64::try_from(items.len()).unwrap_or(i64::MAX);
    c.execute(
        "INSERT INTO batch (id, production, paper, state, total, started_by, started_ms)
         VALUES (?1, ?2, ?3, 'running', ?4, ?5, ?6)",
        params![id, production, paper, total, started_by, now_ms()],
    )?;
    let sql = "INSERT INTO batch_item (batch, position, version, stem, call)
               VALUES (?1, ?2, ?3, ?4, ?5)";
    let mut statement = c.prepare_cached(sql)?;
    for (position, item) in (0_i64..).zip(items) {
        statement.execute(params![id, position, item.version, item.stem, item.call])?;
    }
    Ok(id)
}

/// Notes who was left out of a batch to be measured again: performers with their lines of the call
/// sheet, JSON.
///
/// # Errors
/// Database errors only.
pub fn keep_again(c: &Connection, id: Uuid, lines: &[(Uuid, String)]) -> StoreResult<()> {
    let sql = "INSERT INTO batch_again (batch, position, performer, line) VALUES (?1, ?2, ?3, ?4)";
    let mut statement = c.prepare_cached(sql)?;
    for (position, (performer, line)) in (0_i64..).zip(lines) {
        statement.execute(params![id, position, performer, line])?;
    }
    Ok(())
}

/// The lines of those who were left out of a batch to be measured again.
///
/// # Errors
/// Database errors only.
pub fn again(c: &Connection, id: Uuid) -> StoreResult<Vec<String>> {
    let sql = "SELECT line FROM batch_again WHERE batch = ?1 ORDER BY position";
    let mut statement = c.prepare(sql)?;
    let rows = statement.query_map([id], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The performers of a batch in their order.
///
/// # Errors
/// Database errors only.
pub fn items(c: &Connection, id: Uuid) -> StoreResult<Vec<Item>> {
    let mut statement = c.prepare(
        "SELECT item.position, item.stem, version.number, version.date, version.inputs, item.result,
                version.performer, item.call
         FROM batch_item AS item JOIN draft_version AS version ON version.id = item.version
         WHERE item.batch = ?1 ORDER BY item.position",
    )?;
    let rows = statement.query_map([id], |row| {
        Ok(Item {
            position: row.get(0)?,
            stem: row.get(1)?,
            number: row.get(2)?,
            date: row.get(3)?,
            inputs: row.get(4)?,
            result: row.get(5)?,
            performer: row.get(6)?,
            call: row.get(7)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Notes what became of some performers, and how far the batch is.
///
/// # Errors
/// Database errors only.
pub fn advance(c: &Connection, id: Uuid, results: &[(i64, String)]) -> StoreResult<()> {
    let sql = "UPDATE batch_item SET result = ?3 WHERE batch = ?1 AND position = ?2";
    let mut statement = c.prepare_cached(sql)?;
    for (position, result) in results {
        statement.execute(params![id, position, result])?;
    }
    c.execute(
        "UPDATE batch SET done = (SELECT count(*) FROM batch_item
            WHERE batch = ?1 AND result IS NOT NULL) WHERE id = ?1",
        [id],
    )?;
    Ok(())
}

/// Notes that the files of some performers have to be made again.
///
/// # Errors
/// Database errors only.
pub fn forget_results(c: &Connection, id: Uuid, positions: &[i64]) -> StoreResult<()> {
    let sql = "UPDATE batch_item SET result = NULL WHERE batch = ?1 AND position = ?2";
    let mut statement = c.prepare_cached(sql)?;
    for position in positions {
        statement.execute(params![id, position])?;
    }
    advance(c, id, &[])
}

/// How a batch ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum End {
    /// The ZIP is there.
    Done,
    /// It stopped; why.
    Failed(String),
    /// Somebody cancelled it.
    Cancelled,
}

/// Notes the end of a batch.
///
/// # Errors
/// Database errors only.
pub fn end(c: &Connection, id: Uuid, end: &End) -> StoreResult<()> {
    let (state, message) = match end {
        End::Done => ("done", ""),
        End::Failed(message) => ("failed", message.as_str()),
        End::Cancelled => ("cancelled", ""),
    };
    let sql = "UPDATE batch SET state = ?2, message = ?3, ended_ms = ?4 WHERE id = ?1";
    c.execute(sql, params![id, state, message, now_ms()])?;
    Ok(())
}

/// Sets a batch that stopped running again. `false` when it is not one that stopped.
///
/// # Errors
/// Database errors only.
pub fn go_on(c: &Connection, id: Uuid) -> StoreResult<bool> {
    let sql = "UPDATE batch SET state = 'running', message = '', ended_ms = NULL
               WHERE id = ?1 AND state = 'failed'
                 AND EXISTS (SELECT 1 FROM batch_item WHERE batch = ?1)";
    Ok(c.execute(sql, [id])? == 1)
}

/// Batches that an earlier run of the server left unfinished, oldest first. Those of before there
/// were items cannot go on and are ended.
///
/// # Errors
/// Database errors only.
pub fn unfinished(c: &Connection) -> StoreResult<Vec<Uuid>> {
    c.execute(
        "UPDATE batch SET state = 'failed', ended_ms = ?1,
                message = 'The server was stopped while this batch ran. Start it again.'
         WHERE state = 'running'
           AND NOT EXISTS (SELECT 1 FROM batch_item WHERE batch = batch.id)",
        [now_ms()],
    )?;
    let mut statement =
        c.prepare("SELECT id FROM batch WHERE state = 'running' ORDER BY started_ms, id")?;
    let rows = statement.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
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
    let sql = format!("{SELECT} WHERE production = ?1 ORDER BY started_ms DESC, id DESC");
    let mut statement = c.prepare(&sql)?;
    let rows = statement.query_map([production], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}
