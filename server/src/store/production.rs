//! Productions.

use rusqlite::{Connection, params};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::{StoreError, StoreResult, is_taken, missing, now_ms};

/// How long a new production is kept unless somebody says otherwise, days (assumed: a season and
/// its revival).
const KEPT_DAYS: i64 = 365;

/// Longest time a production may be kept from today, days (assumed: ten years).
const LONGEST_KEPT_DAYS: i64 = 3653;

/// A show, or whatever the cast is gloved for.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Production {
    /// Id.
    pub id: Uuid,
    /// Name, unique.
    pub name: String,
    /// How many performers it has.
    pub performers: i64,
    /// Choices of the drafts that were kept for everybody, JSON, or empty.
    pub choices: String,
    /// Last day on which it is kept, "2027-03-31"; `None` where nobody has said.
    pub keep_until: Option<String>,
    /// Days until then; negative when it is over.
    pub days_left: Option<i64>,
}

/// Adds a production.
///
/// # Errors
/// Refused when the name is taken.
pub fn add(c: &Connection, name: &str) -> StoreResult<Uuid> {
    demand_room(c, ("SELECT count(*) FROM production", []), limits::PRODUCTIONS, "name")?;
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO production (id, name, created_ms, keep_until)
         VALUES (?1, ?2, ?3, date('now', ?4))",
        params![id, name, now_ms(), format!("+{KEPT_DAYS} days")],
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
    (SELECT count(*) FROM performer WHERE performer.production = production.id), choices,
    keep_until, CAST(julianday(keep_until) - julianday(date('now')) AS INTEGER) FROM production";

fn from_row(row: &rusqlite::Row<'_>) -> rusqlite::Result<Production> {
    Ok(Production {
        id: row.get(0)?,
        name: row.get(1)?,
        performers: row.get(2)?,
        choices: row.get(3)?,
        keep_until: row.get(4)?,
        days_left: row.get(5)?,
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
    let mut statement = c.prepare(&format!("{SELECT} ORDER BY created_ms DESC, id DESC"))?;
    let rows = statement.query_map([], from_row)?;
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

/// Sets the last day on which a production is kept.
///
/// # Errors
/// [`StoreError::NotFound`]; refused when the text is no day, or one too far off.
pub fn keep_until(c: &Connection, id: Uuid, day: &str) -> StoreResult<()> {
    let refused = |code, message: &str| StoreError::Refused {
        field: "until",
        code,
        message: message.to_owned(),
    };
    // SQLite normalises what it reads; a day that comes back otherwise is none.
    let (read, days): (Option<String>, Option<f64>) =
        c.query_row("SELECT date(?1), julianday(?1) - julianday(date('now'))", [day], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })?;
    if read.as_deref() != Some(day) {
        return Err(refused("day_unreadable", "Type a day as 2027-03-31."));
    }
    if days.is_none_or(|days| days > LONGEST_KEPT_DAYS as f64) {
        return Err(refused("day_far", "Choose a day within ten years."));
    }
    match c.execute("UPDATE production SET keep_until = ?2 WHERE id = ?1", params![id, day])? {
        0 => Err(StoreError::NotFound),
        _ => Ok(()),
    }
}
