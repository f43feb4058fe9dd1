//! The smaller facts of measuring: flags kept with a reason, steps skipped.

use analysis::dimension::Dimension;
use analysis::hand::Side;
use rusqlite::{Connection, params};
use serde::Serialize;
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::{StoreResult, now_ms};

/// A flag somebody looked at and kept.
#[derive(Debug, Clone, Serialize)]
pub struct Acceptance {
    /// Key of the flag: kind, side, dimension.
    pub flag: String,
    /// The medians the flag spoke of.
    pub evidence: String,
    /// Why it is kept.
    pub reason: String,
    /// Who kept it.
    pub measurer: String,
}

/// Keeps a flag with a reason. Sent twice under one id, it is kept once.
///
/// # Errors
/// Refused over the limit.
pub fn accept(
    c: &Connection,
    id: Uuid,
    performer: Uuid,
    acceptance: &Acceptance,
) -> StoreResult<()> {
    let count = "SELECT count(*) FROM acceptance WHERE performer = ?1
                 AND NOT EXISTS (SELECT 1 FROM acceptance WHERE id = ?2)";
    demand_room(c, (count, [performer, id]), limits::FACTS, "reason")?;
    c.execute(
        "INSERT INTO acceptance (id, performer, flag, evidence, reason, measurer, at_ms)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (id) DO NOTHING",
        params![
            id,
            performer,
            acceptance.flag,
            acceptance.evidence,
            acceptance.reason,
            acceptance.measurer,
            now_ms()
        ],
    )?;
    Ok(())
}

/// Flags kept for one performer, latest last.
///
/// # Errors
/// Database errors only.
pub fn acceptances(c: &Connection, performer: Uuid) -> StoreResult<Vec<Acceptance>> {
    let mut statement = c.prepare_cached(
        "SELECT flag, evidence, reason, measurer FROM acceptance
         WHERE performer = ?1 ORDER BY at_ms, id",
    )?;
    let rows = statement.query_map([performer], |row| {
        Ok(Acceptance {
            flag: row.get(0)?,
            evidence: row.get(1)?,
            reason: row.get(2)?,
            measurer: row.get(3)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Notes that a step was skipped. Sent twice under one id, it is noted once.
///
/// # Errors
/// Refused over the limit.
pub fn skip(
    c: &Connection,
    (id, performer): (Uuid, Uuid),
    (side, dimension): (Side, Dimension),
    reason: &str,
    measurer: &str,
) -> StoreResult<()> {
    let count = "SELECT count(*) FROM skip WHERE performer = ?1
                 AND NOT EXISTS (SELECT 1 FROM skip WHERE id = ?2)";
    demand_room(c, (count, [performer, id]), limits::FACTS, "reason")?;
    c.execute(
        "INSERT INTO skip (id, performer, side, dimension, reason, measurer, at_ms)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (id) DO NOTHING",
        params![id, performer, side.key(), dimension.key(), reason, measurer, now_ms()],
    )?;
    Ok(())
}

/// Steps skipped for one performer.
///
/// # Errors
/// Database errors only.
pub fn skipped(c: &Connection, performer: Uuid) -> StoreResult<Vec<(Side, Dimension)>> {
    let mut statement =
        c.prepare_cached("SELECT DISTINCT side, dimension FROM skip WHERE performer = ?1")?;
    let rows = statement
        .query_map([performer], |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?)))?;
    let mut skipped = Vec::new();
    for row in rows {
        let (side, dimension) = row?;
        if let (Some(side), Some(dimension)) =
            (Side::from_key(&side), Dimension::from_key(&dimension))
        {
            skipped.push((side, dimension));
        }
    }
    Ok(skipped)
}
