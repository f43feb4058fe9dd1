//! Readings: facts that are added, or withdrawn by a later fact, never changed.

use std::collections::HashMap;

use analysis::dimension::Dimension;
use analysis::hand::Side;
use rusqlite::{Connection, Row, params};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{StoreError, StoreResult, missing, now_ms};

/// Readings of one performer at most (assumed: 50 dimensions, ten repeats each).
pub const PERFORMER_LIMIT: i64 = 500;

/// Origin of a reading that the performer took at home.
pub const HOME: &str = "self";

/// Origin of a value that a flag suggested and somebody took: nothing was measured.
pub const REPAIR: &str = "repair";

/// A reading to be stored, or as stored.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Reading {
    /// Made by whoever took it, so that sending it twice changes nothing.
    pub id: Uuid,
    /// The performer.
    pub performer: Uuid,
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// As typed.
    pub typed: String,
    /// Key of the unit it was understood in.
    pub unit: String,
    /// In millimetres.
    pub mm: f64,
    /// What it was taken with.
    pub instrument: String,
    /// `form`, `repair`, `import` or `self`.
    pub origin: String,
    /// Who took it.
    pub measurer: String,
    /// Which phone or table.
    pub device: String,
    /// When, by that device's clock, ms since 1970.
    pub taken_ms: i64,
}

const COLUMNS: &str = "reading.id, reading.performer, side, dimension, typed, unit, mm, instrument,
    origin, reading.measurer, device, taken_ms";

fn from_row(row: &Row<'_>) -> rusqlite::Result<Option<Reading>> {
    let (side, dimension): (String, String) = (row.get(2)?, row.get(3)?);
    // A dimension of another program version is left out of the summary, not out of the table.
    let (Some(side), Some(dimension)) = (Side::from_key(&side), Dimension::from_key(&dimension))
    else {
        return Ok(None);
    };
    Ok(Some(Reading {
        id: row.get(0)?,
        performer: row.get(1)?,
        side,
        dimension,
        typed: row.get(4)?,
        unit: row.get(5)?,
        mm: row.get(6)?,
        instrument: row.get(7)?,
        origin: row.get(8)?,
        measurer: row.get(9)?,
        device: row.get(10)?,
        taken_ms: row.get(11)?,
    }))
}

/// Adds a reading; one that is stored already is left as it is. Says whether it was new. A new one
/// that was measured ends the decision to measure its performer again.
///
/// # Errors
/// [`StoreError::NotFound`] when the performer does not exist; refused over the limit, for a minor
/// without a guardian's consent, or when the id already belongs to another performer's reading.
pub fn add(c: &Connection, reading: &Reading) -> StoreResult<bool> {
    let performer = super::performer::get(c, reading.performer)?;
    let count: i64 = c
        .prepare_cached("SELECT count(*) FROM reading WHERE performer = ?1")?
        .query_row([reading.performer], |row| row.get(0))?;
    let known: Option<Uuid> = c
        .prepare_cached("SELECT performer FROM reading WHERE id = ?1")?
        .query_row([reading.id], |row| row.get(0))
        .map(Some)
        .or_else(|e| if e == rusqlite::Error::QueryReturnedNoRows { Ok(None) } else { Err(e) })?;
    if known.is_some_and(|performer| performer != reading.performer) {
        return Err(StoreError::Refused {
            field: "id",
            code: "reading_id_taken",
            message: "Another performer's reading has this id.".to_owned(),
        });
    }
    if known.is_none() {
        super::consent::demand(c, &performer)?;
    }
    if known.is_none() && count >= PERFORMER_LIMIT {
        return Err(StoreError::Refused {
            field: "value",
            code: "too_many_readings",
            message: format!("One performer holds {PERFORMER_LIMIT} readings at most."),
        });
    }
    let added = c
        .prepare_cached(
            "INSERT INTO reading (id, performer, side, dimension, typed, unit, mm, instrument,
                                  origin, measurer, device, taken_ms, received_ms)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)
             ON CONFLICT (id) DO NOTHING",
        )?
        .execute(params![
            reading.id,
            reading.performer,
            reading.side.key(),
            reading.dimension.key(),
            reading.typed,
            reading.unit,
            reading.mm,
            reading.instrument,
            reading.origin,
            reading.measurer,
            reading.device,
            reading.taken_ms,
            now_ms()
        ])?;
    if added == 1 && reading.origin != REPAIR {
        super::measure_again::end(c, reading.performer)?;
    }
    Ok(added == 1)
}

const IN_USE: &str = "LEFT JOIN withdrawal ON withdrawal.reading = reading.id
    WHERE withdrawal.reading IS NULL";

/// Readings of one performer that are in use, oldest first.
///
/// # Errors
/// Database errors only.
pub fn of_performer(c: &Connection, performer: Uuid) -> StoreResult<Vec<Reading>> {
    let sql = format!(
        "SELECT {COLUMNS} FROM reading {IN_USE} AND reading.performer = ?1
         ORDER BY received_ms, reading.id LIMIT ?2"
    );
    let mut statement = c.prepare_cached(&sql)?;
    let rows = statement.query_map(params![performer, PERFORMER_LIMIT], from_row)?;
    Ok(rows.filter_map(Result::transpose).collect::<Result<_, _>>()?)
}

/// Readings in use of a whole production, by performer.
///
/// # Errors
/// Database errors only.
pub fn of_production(c: &Connection, production: Uuid) -> StoreResult<HashMap<Uuid, Vec<Reading>>> {
    let sql = format!(
        "SELECT {COLUMNS} FROM reading JOIN performer ON performer.id = reading.performer {IN_USE}
         AND performer.production = ?1 ORDER BY received_ms, reading.id"
    );
    let mut statement = c.prepare_cached(&sql)?;
    let rows = statement.query_map([production], from_row)?;
    let mut by_performer: HashMap<Uuid, Vec<Reading>> = HashMap::new();
    for reading in rows.filter_map(Result::transpose) {
        let reading = reading?;
        by_performer.entry(reading.performer).or_default().push(reading);
    }
    Ok(by_performer)
}

/// One reading, in use or withdrawn.
///
/// # Errors
/// [`StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Reading> {
    c.query_row(&format!("SELECT {COLUMNS} FROM reading WHERE reading.id = ?1"), [id], from_row)
        .map_err(missing)?
        .ok_or(StoreError::NotFound)
}

/// Takes a reading out of use by a later fact. Doing it twice changes nothing.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such reading.
pub fn withdraw(c: &Connection, id: Uuid, reason: &str, measurer: &str) -> StoreResult<()> {
    get(c, id)?;
    c.execute(
        "INSERT INTO withdrawal (reading, reason, measurer, at_ms) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT (reading) DO NOTHING",
        params![id, reason, measurer, now_ms()],
    )?;
    Ok(())
}
