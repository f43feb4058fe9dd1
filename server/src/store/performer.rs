//! Performers of a production.

use analysis::model::Population;
use rusqlite::{Connection, Row, params};
use serde::{Serialize, Serializer};
use uuid::Uuid;

use super::{StoreError, StoreResult, is_taken, missing, now_ms};

/// Performers of one production at most; a larger roster is refused.
pub const PRODUCTION_LIMIT: i64 = 2000;

/// Somebody to be gloved.
#[derive(Debug, Clone, Serialize)]
pub struct Performer {
    /// Id.
    pub id: Uuid,
    /// The production.
    pub production: Uuid,
    /// Code, unique in the production; all that stands on drafts.
    pub code: String,
    /// Name, or empty.
    pub name: String,
    /// Which published people they are compared with, serialised as its key.
    #[serde(serialize_with = "as_key")]
    pub population: Population,
    /// Fabric of their gloves, if chosen.
    pub fabric: Option<Uuid>,
    /// Who they are called with, or empty.
    pub call: String,
    /// Remark.
    pub note: String,
    /// Choices of their drafts that were kept for them alone, JSON, or empty.
    pub choices: String,
}

fn as_key<S: Serializer>(population: &Population, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&population.key())
}

/// What is entered for a performer.
#[derive(Debug, Clone)]
pub struct NewPerformer {
    /// Code, unique in the production.
    pub code: String,
    /// Name, or empty.
    pub name: String,
    /// Which published people they are compared with.
    pub population: Population,
    /// Fabric of their gloves, if chosen.
    pub fabric: Option<Uuid>,
    /// Who they are called with, or empty.
    pub call: String,
    /// Remark.
    pub note: String,
}

const SELECT: &str =
    "SELECT id, production, code, name, population, fabric, note, choices, call FROM performer";

fn from_row(row: &Row<'_>) -> rusqlite::Result<Performer> {
    let population: String = row.get(4)?;
    Ok(Performer {
        id: row.get(0)?,
        production: row.get(1)?,
        code: row.get(2)?,
        name: row.get(3)?,
        population: Population::from_key(&population).unwrap_or(Population::Adults),
        fabric: row.get(5)?,
        note: row.get(6)?,
        choices: row.get(7)?,
        call: row.get(8)?,
    })
}

/// Adds a performer at the end of the roster.
///
/// # Errors
/// Refused when the code is taken or the production is full.
pub fn add(c: &Connection, production: Uuid, new: &NewPerformer) -> StoreResult<Uuid> {
    let (count, last): (i64, i64) = c.query_row(
        "SELECT count(*), coalesce(max(position), 0) FROM performer WHERE production = ?1",
        [production],
        |row| Ok((row.get(0)?, row.get(1)?)),
    )?;
    if count >= PRODUCTION_LIMIT {
        return Err(StoreError::Refused {
            field: "code",
            code: "production_full",
            message: format!("A production holds {PRODUCTION_LIMIT} performers at most."),
        });
    }
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO performer
            (id, production, code, name, population, fabric, note, position, created_ms, call)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        params![
            id,
            production,
            new.code,
            new.name,
            new.population.key(),
            new.fabric,
            new.note,
            last + 1,
            now_ms(),
            new.call
        ],
    )
    .map_err(|error| {
        if is_taken(&error) {
            StoreError::Refused {
                field: "code",
                code: "performer_code_taken",
                message: format!(
                    "The code \u{201c}{}\u{201d} is taken in this production. Choose another.",
                    new.code
                ),
            }
        } else {
            error.into()
        }
    })?;
    Ok(id)
}

/// Compares a performer with other published people.
///
/// # Errors
/// [`StoreError::NotFound`].
pub fn set_population(c: &Connection, id: Uuid, population: Population) -> StoreResult<()> {
    let changed = c.execute(
        "UPDATE performer SET population = ?2 WHERE id = ?1",
        params![id, population.key()],
    )?;
    if changed == 1 { Ok(()) } else { Err(StoreError::NotFound) }
}

/// Says who some performers are called with; empty forgets it.
///
/// # Errors
/// Database errors only.
pub fn set_call(c: &Connection, performers: &[Uuid], call: &str) -> StoreResult<()> {
    let mut statement = c.prepare_cached("UPDATE performer SET call = ?2 WHERE id = ?1")?;
    for performer in performers {
        statement.execute(params![performer, call])?;
    }
    Ok(())
}

/// One performer.
///
/// # Errors
/// [`StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Performer> {
    c.prepare_cached(&format!("{SELECT} WHERE id = ?1"))?.query_row([id], from_row).map_err(missing)
}

/// The roster in its order.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection, production: Uuid) -> StoreResult<Vec<Performer>> {
    let sql = format!("{SELECT} WHERE production = ?1 ORDER BY position LIMIT ?2");
    let mut statement = c.prepare_cached(&sql)?;
    let rows = statement.query_map(params![production, PRODUCTION_LIMIT], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Says which fabric a performer's gloves are cut from.
///
/// # Errors
/// [`StoreError::NotFound`]; refused when the fabric is not of their production.
pub fn set_fabric(c: &Connection, id: Uuid, fabric: Option<Uuid>) -> StoreResult<()> {
    let production = get(c, id)?.production;
    let is_here = match fabric {
        Some(fabric) => super::fabric::get(c, fabric)?.production == production,
        None => true,
    };
    if !is_here {
        return Err(StoreError::Refused {
            field: "fabric",
            code: "not_on_the_list",
            message: "Choose a fabric of the list.".to_owned(),
        });
    }
    c.execute("UPDATE performer SET fabric = ?2 WHERE id = ?1", params![id, fabric])?;
    Ok(())
}

/// Gives a fabric to everybody of a production who has none; says to how many.
///
/// # Errors
/// Database errors only.
pub fn give_fabric(c: &Connection, production: Uuid, fabric: Uuid) -> StoreResult<usize> {
    Ok(c.execute(
        "UPDATE performer SET fabric = ?2 WHERE production = ?1 AND fabric IS NULL",
        params![production, fabric],
    )?)
}

/// Keeps choices of a performer's drafts, JSON; empty forgets them.
///
/// # Errors
/// Database errors only.
pub fn keep_choices(c: &Connection, id: Uuid, choices: &str) -> StoreResult<()> {
    c.execute("UPDATE performer SET choices = ?2 WHERE id = ?1", params![id, choices])?;
    Ok(())
}
