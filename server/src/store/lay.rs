//! Lays of the gloves of a batch on cloth: what was asked, how far it is, what to buy. The drawings
//! are files beside the batch.

use rusqlite::{Connection, Row, params};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::{StoreResult, missing, now_ms};

/// Cloth and time for a lay.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LayOrder {
    /// Usable width of the cloth, mm.
    pub width_mm: f64,
    /// Room between pieces, mm.
    pub gap_mm: f64,
    /// Whether no piece may lie head down.
    pub is_one_way: bool,
    /// Pairs more of the largest gloves of each fabric.
    pub spare_pairs: u32,
    /// Seconds to search, all fabrics together.
    pub seconds: u32,
}

/// The lay of one fabric.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClothToBuy {
    /// Name of the fabric.
    pub fabric: String,
    /// Gloves, spare ones included.
    pub gloves: usize,
    /// Pieces.
    pub pieces: usize,
    /// Length to buy, mm.
    pub length_mm: f64,
    /// Share of that cloth which is pieces.
    pub used: f64,
    /// The same of the plain fill, largest piece first.
    pub plain_used: f64,
}

/// One lay.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Laying {
    /// Id.
    pub id: Uuid,
    /// The batch whose gloves are laid.
    pub batch: Uuid,
    /// What was asked.
    pub order: LayOrder,
    /// `running`, `done`, `failed` or `cancelled`.
    pub state: String,
    /// Why it failed.
    pub message: String,
    /// By fabric, once it is done.
    pub cloths: Vec<ClothToBuy>,
    /// Who started it.
    pub started_by: String,
    /// When it started, ms since 1970.
    pub started_ms: i64,
}

const SELECT: &str =
    "SELECT id, batch, wanted, state, message, cloths, started_by, started_ms FROM lay";

fn from_row(row: &Row<'_>) -> rusqlite::Result<Laying> {
    let json = |at: usize| -> rusqlite::Result<String> { row.get(at) };
    let damaged = |at: usize, error: serde_json::Error| {
        rusqlite::Error::FromSqlConversionFailure(at, rusqlite::types::Type::Text, Box::new(error))
    };
    Ok(Laying {
        id: row.get(0)?,
        batch: row.get(1)?,
        order: serde_json::from_str(&json(2)?).map_err(|e| damaged(2, e))?,
        state: row.get(3)?,
        message: row.get(4)?,
        cloths: serde_json::from_str(&json(5)?).map_err(|e| damaged(5, e))?,
        started_by: row.get(6)?,
        started_ms: row.get(7)?,
    })
}

/// Notes a new lay.
///
/// # Errors
/// Refused over the limit.
pub fn start(c: &Connection, batch: Uuid, order: &LayOrder, by: &str) -> StoreResult<Uuid> {
    let count = "SELECT count(*) FROM lay WHERE batch = ?1";
    demand_room(c, (count, [batch]), limits::LAYS, "seconds")?;
    let id = Uuid::now_v7();
    let wanted = serde_json::to_string(order).unwrap_or_default();
    c.execute(
        "INSERT INTO lay (id, batch, wanted, started_by, started_ms) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![id, batch, wanted, by, now_ms()],
    )?;
    Ok(id)
}

/// Notes how a lay ended.
///
/// # Errors
/// Database errors only.
pub fn end(
    c: &Connection,
    id: Uuid,
    (state, message): (&str, &str),
    cloths: &[ClothToBuy],
) -> StoreResult<()> {
    let cloths = serde_json::to_string(cloths).unwrap_or_else(|_| "[]".to_owned());
    let sql = "UPDATE lay SET state = ?2, message = ?3, cloths = ?4, ended_ms = ?5 WHERE id = ?1";
    c.execute(sql, params![id, state, message, cloths, now_ms()])?;
    Ok(())
}

/// Ends the lays that an earlier run of the server left unfinished: they take seconds, and are
/// started again by whoever still wants them.
///
/// # Errors
/// Database errors only.
pub fn end_unfinished(c: &Connection) -> StoreResult<()> {
    c.execute(
        "UPDATE lay SET state = 'failed', ended_ms = ?1,
                message = 'The server was stopped while this lay was made. Start it again.'
         WHERE state = 'running'",
        [now_ms()],
    )?;
    Ok(())
}

/// One lay.
///
/// # Errors
/// [`super::StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Laying> {
    c.query_row(&format!("{SELECT} WHERE id = ?1"), [id], from_row).map_err(missing)
}

/// Lays of a batch, newest first.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection, batch: Uuid) -> StoreResult<Vec<Laying>> {
    let sql = format!("{SELECT} WHERE batch = ?1 ORDER BY started_ms DESC, id DESC");
    let mut statement = c.prepare(&sql)?;
    let rows = statement.query_map([batch], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}
