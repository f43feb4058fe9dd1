//! Sessions, kept by the hash of their token.

use rusqlite::{Connection, OptionalExtension, params};
use uuid::Uuid;

use super::account::Role;
use super::{StoreResult, now_ms};

/// A session ends when it is not used for this long (assumed: one working day).
pub const IDLE_END_MS: i64 = 12 * 3600 * 1000;

/// A session ends after this long in any case (assumed: one week of fittings).
pub const ABSOLUTE_END_MS: i64 = 7 * 24 * 3600 * 1000;

/// `seen_ms` is written this often at most, so that reading a page rarely writes.
const SEEN_STEP_MS: i64 = 5 * 60 * 1000;

/// Somebody signed in.
#[derive(Debug, Clone)]
pub struct Session {
    /// Account id.
    pub account: Uuid,
    /// Account name.
    pub name: String,
    /// What they may do.
    pub role: Role,
    /// Token every form carries.
    pub csrf: String,
    /// Whether a one-time link began it: then a passphrase is set without the old one.
    pub by_link: bool,
    /// Whether the account has a passphrase yet.
    pub has_passphrase: bool,
    /// Whether the account has a second factor.
    pub has_second_factor: bool,
    /// Whether the last use is old enough to be written anew.
    pub is_stale: bool,
}

/// Stores a new session and forgets those that have ended.
///
/// # Errors
/// Database errors only.
pub fn add(
    c: &Connection,
    token_hash: &[u8],
    account: Uuid,
    csrf: &str,
    by_link: bool,
) -> StoreResult<()> {
    let now = now_ms();
    c.execute(
        "DELETE FROM session WHERE seen_ms < ?1 OR created_ms < ?2",
        [now - IDLE_END_MS, now - ABSOLUTE_END_MS],
    )?;
    c.execute(
        "INSERT INTO session (token_hash, account, csrf, created_ms, seen_ms, by_link)
         VALUES (?1, ?2, ?3, ?4, ?4, ?5)",
        params![token_hash, account, csrf, now, by_link],
    )?;
    Ok(())
}

/// The session with this token hash, unless it has ended.
///
/// # Errors
/// Database errors only.
pub fn find(c: &Connection, token_hash: &[u8]) -> StoreResult<Option<Session>> {
    let now = now_ms();
    let sql = "SELECT account.id, account.name, account.role, session.csrf,
                      account.passphrase_hash IS NOT NULL, session.seen_ms,
                      session.by_link,
                      EXISTS (SELECT 1 FROM second_factor
                              WHERE second_factor.account = account.id AND is_confirmed = 1)
               FROM session JOIN account ON account.id = session.account
               WHERE token_hash = ?1 AND seen_ms > ?2 AND session.created_ms > ?3";
    let bounds = params![token_hash, now - IDLE_END_MS, now - ABSOLUTE_END_MS];
    Ok(c.prepare_cached(sql)?
        .query_row(bounds, |row| {
            let role: String = row.get(2)?;
            let seen_ms: i64 = row.get(5)?;
            Ok(Session {
                account: row.get(0)?,
                name: row.get(1)?,
                role: Role::from_key(&role).unwrap_or(Role::Measurer),
                csrf: row.get(3)?,
                by_link: row.get(6)?,
                has_passphrase: row.get(4)?,
                has_second_factor: row.get(7)?,
                is_stale: now - seen_ms > SEEN_STEP_MS,
            })
        })
        .optional()?)
}

/// Notes that a session is in use.
///
/// # Errors
/// Database errors only.
pub fn touch(c: &Connection, token_hash: &[u8]) -> StoreResult<()> {
    c.execute(
        "UPDATE session SET seen_ms = ?2 WHERE token_hash = ?1",
        params![token_hash, now_ms()],
    )?;
    Ok(())
}

/// Ends one session.
///
/// # Errors
/// Database errors only.
pub fn end(c: &Connection, token_hash: &[u8]) -> StoreResult<()> {
    c.execute("DELETE FROM session WHERE token_hash = ?1", [token_hash])?;
    Ok(())
}

/// Ends every session of an account.
///
/// # Errors
/// Database errors only.
pub fn end_all(c: &Connection, account: Uuid) -> StoreResult<()> {
    c.execute("DELETE FROM session WHERE account = ?1", [account])?;
    Ok(())
}

/// Ends every session of an account but one.
///
/// # Errors
/// Database errors only.
pub fn end_others(c: &Connection, account: Uuid, kept: &[u8]) -> StoreResult<()> {
    c.execute(
        "DELETE FROM session WHERE account = ?1 AND token_hash <> ?2",
        params![account, kept],
    )?;
    Ok(())
}
