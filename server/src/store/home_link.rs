//! Links for measuring at home: one performer, a stated time, a stated number of uses. They add
//! readings and read nothing back. Tokens are kept as hashes.

use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::Serialize;
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::{StoreError, StoreResult, now_ms};

/// A link in force.
#[derive(Debug, Clone, Serialize)]
pub struct HomeLink {
    /// Id.
    pub id: Uuid,
    /// The performer it is for.
    pub performer: Uuid,
    /// Until when it opens, ms since 1970.
    pub expires_ms: i64,
    /// How often it may still be opened.
    pub uses_left: i64,
}

const SELECT: &str =
    "SELECT home_link.id, performer, home_link.expires_ms, uses_left FROM home_link";

fn from_row(row: &Row<'_>) -> rusqlite::Result<HomeLink> {
    Ok(HomeLink {
        id: row.get(0)?,
        performer: row.get(1)?,
        expires_ms: row.get(2)?,
        uses_left: row.get(3)?,
    })
}

/// Stores a link by the hash of its token.
///
/// # Errors
/// Refused over the limit.
pub fn add(
    c: &Connection,
    token_hash: &[u8],
    performer: Uuid,
    expires_ms: i64,
    uses: i64,
) -> StoreResult<Uuid> {
    let id = Uuid::now_v7();
    c.execute("DELETE FROM home_link WHERE expires_ms < ?1", [now_ms()])?;
    let count = "SELECT count(*) FROM home_link WHERE performer = ?1";
    demand_room(c, (count, [performer]), limits::HOME_LINKS, "uses")?;
    c.execute(
        "INSERT INTO home_link (id, token_hash, performer, expires_ms, uses_left)
         VALUES (?1, ?2, ?3, ?4, ?5)",
        params![id, token_hash, performer, expires_ms, uses],
    )?;
    Ok(id)
}

/// Links of a performer that still open or are in use.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection, performer: Uuid) -> StoreResult<Vec<HomeLink>> {
    let sql = format!("{SELECT} WHERE performer = ?1 AND expires_ms > ?2 ORDER BY id");
    let mut statement = c.prepare(&sql)?;
    let rows = statement.query_map(params![performer, now_ms()], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The performer a link with this token hash would open for, if it would.
///
/// # Errors
/// Database errors only.
pub fn opens_for(c: &Connection, token_hash: &[u8]) -> StoreResult<Option<Uuid>> {
    let sql = "SELECT performer FROM home_link
               WHERE token_hash = ?1 AND expires_ms > ?2 AND uses_left > 0";
    Ok(c.query_row(sql, params![token_hash, now_ms()], |row| row.get(0)).optional()?)
}

/// Uses a link once and starts a visit under another token; gives the performer.
///
/// # Errors
/// [`StoreError::NotFound`] when it is unknown, too old, revoked or used up.
pub fn begin_visit(c: &Connection, token_hash: &[u8], visit_hash: &[u8]) -> StoreResult<Uuid> {
    let used = c.execute(
        "UPDATE home_link SET uses_left = uses_left - 1
         WHERE token_hash = ?1 AND expires_ms > ?2 AND uses_left > 0",
        params![token_hash, now_ms()],
    )?;
    if used == 0 {
        return Err(StoreError::NotFound);
    }
    c.execute(
        "INSERT INTO home_visit (token_hash, link)
         SELECT ?2, id FROM home_link WHERE token_hash = ?1",
        params![token_hash, visit_hash],
    )?;
    Ok(c.query_row("SELECT performer FROM home_link WHERE token_hash = ?1", [token_hash], |row| {
        row.get(0)
    })?)
}

/// The performer of a visit, while its link is in force.
///
/// # Errors
/// Database errors only.
pub fn visited(c: &Connection, visit_hash: &[u8]) -> StoreResult<Option<Uuid>> {
    let sql = "SELECT performer FROM home_visit JOIN home_link ON home_link.id = home_visit.link
               WHERE home_visit.token_hash = ?1 AND expires_ms > ?2";
    Ok(c.query_row(sql, params![visit_hash, now_ms()], |row| row.get(0)).optional()?)
}

/// Revokes a link and its visits.
///
/// # Errors
/// Database errors only.
pub fn revoke(c: &Connection, performer: Uuid, id: Uuid) -> StoreResult<()> {
    c.execute("DELETE FROM home_link WHERE id = ?1 AND performer = ?2", params![id, performer])?;
    Ok(())
}
