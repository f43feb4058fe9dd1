//! Fabrics of a production.

use analysis::draft::GirthReduction;
use rusqlite::{Connection, Row, params};
use serde::Serialize;
use uuid::Uuid;

use super::{StoreError, StoreResult, is_taken, missing};

/// Fabrics listed at most.
const LIST_LIMIT: i64 = 200;

/// A fabric gloves are cut from.
#[derive(Debug, Clone, Serialize)]
pub struct Fabric {
    /// Id.
    pub id: Uuid,
    /// Name, unique in the production.
    pub name: String,
    /// Remark.
    pub note: String,
    /// Girth reduction by zone, once it is known.
    pub reduction: Option<GirthReduction>,
    /// Stretch test as entered, JSON.
    pub test: Option<String>,
}

fn from_row(row: &Row<'_>) -> rusqlite::Result<Fabric> {
    let zones: [Option<f64>; 4] = [row.get(3)?, row.get(4)?, row.get(5)?, row.get(6)?];
    let reduction = match zones {
        [Some(palm), Some(wrist), Some(fingers), Some(thumb)] => {
            Some(GirthReduction { palm, wrist, fingers, thumb })
        }
        _ => None,
    };
    Ok(Fabric {
        id: row.get(0)?,
        name: row.get(1)?,
        note: row.get(2)?,
        reduction,
        test: row.get(7)?,
    })
}

const SELECT: &str = "SELECT id, name, note, palm, wrist, fingers, thumb, test FROM fabric";

/// Adds a fabric.
///
/// # Errors
/// Refused when the production has a fabric of that name.
pub fn add(
    c: &Connection,
    production: Uuid,
    name: &str,
    note: &str,
    reduction: Option<GirthReduction>,
    test: Option<&str>,
) -> StoreResult<Uuid> {
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO fabric (id, production, name, note, palm, wrist, fingers, thumb, test)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            id,
            production,
            name,
            note,
            reduction.map(|r| r.palm),
            reduction.map(|r| r.wrist),
            reduction.map(|r| r.fingers),
            reduction.map(|r| r.thumb),
            test
        ],
    )
    .map_err(|error| {
        if is_taken(&error) {
            StoreError::Refused {
                field: "name",
                code: "fabric_name_taken",
                message: "This production has a fabric of that name.".to_owned(),
            }
        } else {
            error.into()
        }
    })?;
    Ok(id)
}

/// Fabrics of a production by name.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection, production: Uuid) -> StoreResult<Vec<Fabric>> {
    let sql = format!("{SELECT} WHERE production = ?1 ORDER BY name LIMIT ?2");
    let mut statement = c.prepare(&sql)?;
    let rows = statement.query_map(params![production, LIST_LIMIT], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// One fabric.
///
/// # Errors
/// [`StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Fabric> {
    c.query_row(&format!("{SELECT} WHERE id = ?1"), [id], from_row).map_err(missing)
}
