//! Productions.

use rusqlite::{Connection, params};
use serde::Serialize;
use uuid::Uuid;

use super::{StoreError, StoreResult, is_taken, missing, now_ms};

/// Productions listed at most.
const LIST_LIMIT: i64 = 500;

/// A show, or whatever the cast is gloved for.
#[derive(Debug, Clone, Serialize)]
pub struct Production {
    /// Id.
    pub id: Uuid,
    /// Name, unique.
    pub name: String,
    /// How many performers it has.
    pub performers: i64,
    /// Choices of the drafts that were kept for everybody, JSON, or empty.
    pub choices: String,
}

/// Adds a production.
///
/// # Errors
/// Refused when the name is taken.
pub fn add(c: &Connection, name: &str) -> StoreResult<Uuid> {
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO production (id, name, created_ms) VALUES (?1, ?2, ?3)",
        params![id, name, now_ms()],
    )
    .map_err(|error| {
        if is_taken(&error) {
            StoreError::Refused {
                field: "name",
                code: "production_name_taken",
                message: "There is a production of that name. Choose another name.".to_owned(),
            }
        } else {
            error.into()
        }
    })?;
    Ok(id)
}

const SELECT: &str = "SELECT id, name,
    (SELECT count(*) FROM performer WHERE performer.production = production.id), choices FROM production";

fn from_row(row: &rusqlite::Row<'_>) -> rusqlite::Result<Production> {
    Ok(Production {
        id: row.get(0)?,
        name: row.get(1)?,
        performers: row.get(2)?,
        choices: row.get(3)?,
    })
}

/// One production.
///
/// # Errors
/// [`StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Production> {
    c.prepare_cached(&format!("{SELECT} WHERE id = ?1"))?.query_row([id], from_row).map_err(missing)
}

/// Every production, newest first.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection) -> StoreResult<Vec<Production>> {
    let mut statement =
        c.prepare(&format!("{SELECT} ORDER BY created_ms DESC, id DESC LIMIT ?1"))?;
    let rows = statement.query_map([LIST_LIMIT], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Keeps choices of everybody's drafts, JSON; empty forgets them.
///
/// # Errors
/// Database errors only.
pub fn keep_choices(c: &Connection, id: Uuid, choices: &str) -> StoreResult<()> {
    c.execute("UPDATE production SET choices = ?2 WHERE id = ?1", params![id, choices])?;
    Ok(())
}
