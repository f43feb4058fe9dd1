//! Fabrics of a production. A change makes the next version; an older one stays as it was.

use analysis::fabric::FabricFacts;
use rusqlite::types::Type;
use rusqlite::{Connection, Row, params};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::{StoreError, StoreResult, is_taken, missing, now_ms};

/// Fabrics of one production at most.
pub const PRODUCTION_LIMIT: i64 = 200;

/// Versions listed at most.
const VERSIONS_LISTED: i64 = 100;

/// A fabric gloves are cut from, as it stands now.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Fabric {
    /// Id.
    pub id: Uuid,
    /// The production.
    pub production: Uuid,
    /// Name, unique in the production.
    pub name: String,
    /// Remark.
    pub note: String,
    /// Number of the version, from 1.
    pub version: i64,
    /// Material, stretch tests and limits.
    pub facts: FabricFacts,
}

/// What is entered for a fabric.
#[derive(Debug, Clone, PartialEq)]
pub struct NewFabric {
    /// Name, unique in the production.
    pub name: String,
    /// Remark.
    pub note: String,
    /// Material, stretch tests and limits.
    pub facts: FabricFacts,
}

impl NewFabric {
    /// A fabric of which nothing but its name is known.
    #[must_use]
    pub fn named(name: &str) -> NewFabric {
        let (note, facts) = (String::new(), FabricFacts::default());
        NewFabric { name: name.to_owned(), note, facts }
    }
}

/// A fabric as it once stood.
#[derive(Debug, Clone, Serialize)]
pub struct FabricVersion {
    /// Number, from 1.
    pub number: i64,
    /// Name then.
    pub name: String,
    /// Remark then.
    pub note: String,
    /// Material, stretch tests and limits then.
    pub facts: FabricFacts,
    /// Account that entered it; empty for what was there before versions were kept.
    pub made_by: String,
    /// When, ms since 1970; 0 for what was there before versions were kept.
    pub made_ms: i64,
}

fn facts(row: &Row<'_>, column: usize) -> rusqlite::Result<FabricFacts> {
    let text: String = row.get(column)?;
    serde_json::from_str(&text).map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(column, Type::Text, Box::new(error))
    })
}

fn from_row(row: &Row<'_>) -> rusqlite::Result<Fabric> {
    Ok(Fabric {
        id: row.get(0)?,
        production: row.get(1)?,
        name: row.get(2)?,
        note: row.get(3)?,
        version: row.get(4)?,
        facts: facts(row, 5)?,
    })
}

const SELECT: &str = "SELECT fabric.id, production, fabric.name, note, number, facts
    FROM fabric JOIN fabric_version AS v ON v.fabric = fabric.id
        AND number = (SELECT max(number) FROM fabric_version WHERE fabric = v.fabric)";

fn add_version(
    c: &Connection,
    id: Uuid,
    number: i64,
    new: &NewFabric,
    actor: &str,
) -> StoreResult<()> {
    let facts = serde_json::to_string(&new.facts).unwrap_or_default();
    c.execute(
        "INSERT INTO fabric_version (fabric, number, name, note, facts, made_by, made_ms)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        params![id, number, new.name, new.note, facts, actor, now_ms()],
    )?;
    Ok(())
}

fn name_taken(error: rusqlite::Error) -> StoreError {
    if is_taken(&error) {
        StoreError::Refused {
            field: "name",
            code: "fabric_name_taken",
            message: "This production has a fabric of that name.".to_owned(),
        }
    } else {
        error.into()
    }
}

/// Adds a fabric.
///
/// # Errors
/// Refused when the production has a fabric of that name, or holds no more.
pub fn add(c: &Connection, production: Uuid, new: &NewFabric, actor: &str) -> StoreResult<Uuid> {
    let count: i64 =
        c.query_row("SELECT count(*) FROM fabric WHERE production = ?1", [production], |row| {
            row.get(0)
        })?;
    if count >= PRODUCTION_LIMIT {
        return Err(StoreError::Refused {
            field: "name",
            code: "fabrics_full",
            message: format!("A production holds {PRODUCTION_LIMIT} fabrics at most."),
        });
    }
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO fabric (id, production, name) VALUES (?1, ?2, ?3)",
        params![id, production, new.name],
    )
    .map_err(name_taken)?;
    add_version(c, id, 1, new, actor)?;
    Ok(id)
}

/// Changes a fabric and gives the number of its version: the next one, or the present one when
/// nothing differs.
///
/// # Errors
/// [`StoreError::NotFound`]; refused when another fabric of the production has the name.
pub fn change(c: &Connection, id: Uuid, new: &NewFabric, actor: &str) -> StoreResult<i64> {
    let Fabric { name, note, facts, version, .. } = get(c, id)?;
    if *new == (NewFabric { name, note, facts }) {
        return Ok(version);
    }
    c.execute("UPDATE fabric SET name = ?2 WHERE id = ?1", params![id, new.name])
        .map_err(name_taken)?;
    add_version(c, id, version + 1, new, actor)?;
    Ok(version + 1)
}

/// Fabrics of a production by name.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection, production: Uuid) -> StoreResult<Vec<Fabric>> {
    let sql = format!("{SELECT} WHERE production = ?1 ORDER BY fabric.name LIMIT ?2");
    let mut statement = c.prepare_cached(&sql)?;
    let rows = statement.query_map(params![production, PRODUCTION_LIMIT], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// One fabric.
///
/// # Errors
/// [`StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Fabric> {
    c.query_row(&format!("{SELECT} WHERE fabric.id = ?1"), [id], from_row).map_err(missing)
}

/// Versions of a fabric, newest first.
///
/// # Errors
/// Database errors only.
pub fn versions(c: &Connection, id: Uuid) -> StoreResult<Vec<FabricVersion>> {
    let mut statement = c.prepare(
        "SELECT number, name, note, facts, made_by, made_ms FROM fabric_version
         WHERE fabric = ?1 ORDER BY number DESC LIMIT ?2",
    )?;
    let rows = statement.query_map(params![id, VERSIONS_LISTED], |row| {
        Ok(FabricVersion {
            number: row.get(0)?,
            name: row.get(1)?,
            note: row.get(2)?,
            facts: facts(row, 3)?,
            made_by: row.get(4)?,
            made_ms: row.get(5)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}
