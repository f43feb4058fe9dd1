//! Fittings, what was set by hand for the next glove, and where a fabric's memory begins.

use analysis::dimension::{Dimension, PerDimension};
use analysis::draft::GirthReduction;
use analysis::fitting::{FitZone, Memory, PerZone, Tried, Verdict};
use analysis::hand::Side;
use analysis::model::{Basis, Estimate, HandEstimate};
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::{StoreError, StoreResult, now_ms};

/// Fittings read at most of one fabric: the first ones, by when they were taken.
const FABRIC_LIMIT: i64 = 20_000;

/// What a test glove was drafted from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Glove {
    /// Number of its version.
    pub number: i64,
    /// The hand it was drafted for, mm by dimension.
    pub hand: BTreeMap<Dimension, f64>,
    /// The reduction.
    pub reduction: GirthReduction,
    /// Changes beside the reduction, mm.
    #[serde(default)]
    pub changes: PerZone,
}

impl Glove {
    /// A glove for a hand, in whole tenths of a millimetre.
    #[must_use]
    pub fn new(
        number: i64,
        hand: &HandEstimate,
        reduction: GirthReduction,
        changes: PerZone,
    ) -> Glove {
        let tenth = |mm: f64| (mm * 10.0).round() / 10.0;
        Glove {
            number,
            hand: hand.iter().map(|(d, estimate)| (d, tenth(estimate.mm))).collect(),
            reduction,
            changes,
        }
    }

    /// The hand it was drafted for.
    #[must_use]
    pub fn hand(&self) -> HandEstimate {
        HandEstimate::new(PerDimension::from_fn(|d| {
            let mm = self.hand.get(&d).copied().unwrap_or(1.0);
            Estimate { mm, low_mm: mm, high_mm: mm, basis: Basis::Estimated }
        }))
    }
}

/// A fitting in use.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Fitting {
    /// Made by the phone.
    pub id: Uuid,
    /// Whose hand.
    pub performer: Uuid,
    /// Which hand.
    pub side: Side,
    /// The version of the draft that was sewn.
    pub version: Uuid,
    /// The fabric it was sewn in.
    pub fabric: Option<Uuid>,
    /// What was said and seen.
    pub verdict: Verdict,
    /// What the glove was drafted from.
    pub glove: Glove,
    /// Remark.
    pub note: String,
    /// Who recorded it.
    pub measurer: String,
    /// On which device.
    pub device: String,
    /// When, by the device, ms since 1970.
    pub taken_ms: i64,
}

impl Fitting {
    /// The fitting as the next glove is worked out from.
    #[must_use]
    pub fn tried(&self) -> Tried {
        Tried {
            glove: self.glove.number,
            hand: self.glove.hand(),
            reduction: self.glove.reduction,
            changes: self.glove.changes,
            verdict: self.verdict.clone(),
        }
    }
}

const SELECT: &str = "SELECT id, performer, side, version, fabric, verdict, glove, note, measurer,
    device, taken_ms FROM fitting";
const IN_USE: &str = "NOT EXISTS (SELECT 1 FROM fitting_withdrawal w WHERE w.fitting = fitting.id)";

fn read<T: serde::de::DeserializeOwned>(row: &Row<'_>, column: usize) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    serde_json::from_str(&text).map_err(|error| {
        let kind = rusqlite::types::Type::Text;
        rusqlite::Error::FromSqlConversionFailure(column, kind, Box::new(error))
    })
}

fn side_of(row: &Row<'_>, column: usize) -> rusqlite::Result<Side> {
    let key: String = row.get(column)?;
    Ok(Side::from_key(&key).unwrap_or(Side::Right))
}

fn from_row(row: &Row<'_>) -> rusqlite::Result<Fitting> {
    Ok(Fitting {
        id: row.get(0)?,
        performer: row.get(1)?,
        side: side_of(row, 2)?,
        version: row.get(3)?,
        fabric: row.get(4)?,
        verdict: read(row, 5)?,
        glove: read(row, 6)?,
        note: row.get(7)?,
        measurer: row.get(8)?,
        device: row.get(9)?,
        taken_ms: row.get(10)?,
    })
}

/// Adds a fitting. Sent twice under one id, it is kept once; gives whether it was new.
///
/// # Errors
/// Refused when the id belongs to another fitting, and over the limit.
pub fn add(c: &Connection, fitting: &Fitting) -> StoreResult<bool> {
    let count = "SELECT count(*) FROM fitting WHERE performer = ?1
                 AND NOT EXISTS (SELECT 1 FROM fitting WHERE id = ?2)";
    demand_room(c, (count, [fitting.performer, fitting.id]), limits::FACTS, "version")?;
    let text = |value: serde_json::Result<String>| value.unwrap_or_default();
    let verdict = text(serde_json::to_string(&fitting.verdict));
    let added = c.execute(
        "INSERT INTO fitting (id, performer, side, version, fabric, verdict, glove, note, measurer,
             device, taken_ms, received_ms)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12) ON CONFLICT (id) DO NOTHING",
        params![
            fitting.id,
            fitting.performer,
            fitting.side.key(),
            fitting.version,
            fitting.fabric,
            verdict,
            text(serde_json::to_string(&fitting.glove)),
            fitting.note,
            fitting.measurer,
            fitting.device,
            fitting.taken_ms,
            now_ms()
        ],
    )?;
    if added == 1 {
        return Ok(true);
    }
    let held = get(c, fitting.id)?;
    let is_same = held.performer == fitting.performer
        && held.side == fitting.side
        && held.version == fitting.version
        && held.verdict == fitting.verdict;
    if is_same {
        return Ok(false);
    }
    Err(StoreError::Refused {
        field: "id",
        code: "fitting_id_taken",
        message: "This id belongs to another fitting.".to_owned(),
    })
}

/// One fitting, withdrawn or not.
///
/// # Errors
/// [`StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Fitting> {
    c.query_row(&format!("{SELECT} WHERE id = ?1"), [id], from_row).map_err(super::missing)
}

/// Takes a fitting out of use.
///
/// # Errors
/// Database errors only.
pub fn withdraw(c: &Connection, id: Uuid, reason: &str, measurer: &str) -> StoreResult<()> {
    c.execute(
        "INSERT INTO fitting_withdrawal (fitting, reason, measurer, at_ms)
         VALUES (?1, ?2, ?3, ?4) ON CONFLICT (fitting) DO NOTHING",
        params![id, reason, measurer, now_ms()],
    )?;
    Ok(())
}

/// Fittings of a performer in use, oldest first.
///
/// # Errors
/// Database errors only.
pub fn of_performer(c: &Connection, performer: Uuid) -> StoreResult<Vec<Fitting>> {
    let sql = format!("{SELECT} WHERE performer = ?1 AND {IN_USE} ORDER BY taken_ms, id");
    let mut statement = c.prepare_cached(&sql)?;
    let rows = statement.query_map([performer], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Fittings of a performer that were withdrawn, with the reason.
///
/// # Errors
/// Database errors only.
pub fn withdrawn(c: &Connection, performer: Uuid) -> StoreResult<Vec<(Fitting, String)>> {
    let mut statement = c.prepare(
        "SELECT w.fitting, w.reason FROM fitting_withdrawal w JOIN fitting ON fitting.id = w.fitting
         WHERE fitting.performer = ?1 ORDER BY w.at_ms, w.fitting",
    )?;
    let rows = statement.query_map([performer], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let ids: Vec<(Uuid, String)> = rows.collect::<Result<_, _>>()?;
    ids.into_iter().map(|(id, reason)| Ok((get(c, id)?, reason))).collect()
}

/// Fittings in a fabric that its memory learns from: in use, and since its beginning.
///
/// # Errors
/// Database errors only.
pub fn of_fabric(c: &Connection, fabric: Uuid, since_ms: i64) -> StoreResult<Vec<Fitting>> {
    let sql = format!(
        "{SELECT} WHERE fabric = ?1 AND received_ms > ?2 AND {IN_USE} ORDER BY taken_ms, id LIMIT ?3"
    );
    let mut statement = c.prepare_cached(&sql)?;
    let rows = statement.query_map(params![fabric, since_ms, FABRIC_LIMIT], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Changes of the next glove set by hand.
#[derive(Debug, Clone, Serialize)]
pub struct Edit {
    /// Id.
    pub id: Uuid,
    /// Which hand.
    pub side: Side,
    /// In which fabric.
    pub fabric: Option<Uuid>,
    /// mm by zone.
    pub zones: BTreeMap<FitZone, f64>,
    /// Who.
    pub made_by: String,
    /// When, ms since 1970.
    pub made_ms: i64,
    /// When it was undone, if it was.
    pub undone_ms: Option<i64>,
}

/// Keeps changes set by hand.
///
/// # Errors
/// Refused over the limit.
pub fn edit(
    c: &Connection,
    performer: Uuid,
    (side, fabric): (Side, Option<Uuid>),
    zones: &BTreeMap<FitZone, f64>,
    actor: &str,
) -> StoreResult<Uuid> {
    let count = "SELECT count(*) FROM fitting_edit WHERE performer = ?1";
    demand_room(c, (count, [performer]), limits::FACTS, "draft")?;
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO fitting_edit (id, performer, side, fabric, zones, made_by, made_ms)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        params![
            id,
            performer,
            side.key(),
            fabric,
            serde_json::to_string(zones).unwrap_or_default(),
            actor,
            now_ms()
        ],
    )?;
    Ok(id)
}

/// Every edit of a performer's gloves, oldest first, undone ones included.
///
/// # Errors
/// Database errors only.
pub fn edits(c: &Connection, performer: Uuid) -> StoreResult<Vec<Edit>> {
    let mut statement = c.prepare_cached(
        "SELECT id, side, fabric, zones, made_by, made_ms, undone_ms FROM fitting_edit
         WHERE performer = ?1 ORDER BY made_ms, id",
    )?;
    let rows = statement.query_map([performer], |row| {
        Ok(Edit {
            id: row.get(0)?,
            side: side_of(row, 1)?,
            fabric: row.get(2)?,
            zones: read(row, 3)?,
            made_by: row.get(4)?,
            made_ms: row.get(5)?,
            undone_ms: row.get(6)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Undoes the latest edit of a hand in a fabric that is not undone; the one before counts again.
/// Gives whether there was one.
///
/// # Errors
/// Database errors only.
pub fn undo(
    c: &Connection,
    performer: Uuid,
    (side, fabric): (Side, Option<Uuid>),
) -> StoreResult<bool> {
    let undone = c.execute(
        "UPDATE fitting_edit SET undone_ms = ?4 WHERE id = (
             SELECT id FROM fitting_edit
             WHERE performer = ?1 AND side = ?2 AND fabric IS ?3 AND undone_ms IS NULL
             ORDER BY made_ms DESC, id DESC LIMIT 1)",
        params![performer, side.key(), fabric, now_ms()],
    )?;
    Ok(undone == 1)
}

/// Begins a fabric's memory anew: with nothing, or with what another fabric had learned.
///
/// # Errors
/// Database errors only.
pub fn begin(
    c: &Connection,
    fabric: Uuid,
    inherited: Option<&Memory>,
    actor: &str,
) -> StoreResult<()> {
    let inherited = inherited.and_then(|memory| serde_json::to_string(memory).ok());
    c.execute(
        "INSERT INTO fabric_beginning (fabric, inherited, made_by, made_ms) VALUES (?1, ?2, ?3, ?4)",
        params![fabric, inherited, actor, now_ms()],
    )?;
    Ok(())
}

/// Where a fabric's memory begins.
#[derive(Debug, Clone, Default)]
pub struct Beginning {
    /// What it starts from, if it was copied.
    pub inherited: Option<Memory>,
    /// Since when fittings count, ms since 1970.
    pub since_ms: i64,
}

/// The latest beginning of a fabric's memory.
///
/// # Errors
/// Database errors only.
pub fn beginning(c: &Connection, fabric: Uuid) -> StoreResult<Beginning> {
    let found = c
        .query_row(
            "SELECT inherited, made_ms FROM fabric_beginning WHERE fabric = ?1
             ORDER BY made_ms DESC, rowid DESC LIMIT 1",
            [fabric],
            |row| Ok((row.get::<_, Option<String>>(0)?, row.get(1)?)),
        )
        .optional()?;
    Ok(found.map_or_else(Beginning::default, |(text, since_ms)| Beginning {
        inherited: text.and_then(|text| serde_json::from_str(&text).ok()),
        since_ms,
    }))
}
