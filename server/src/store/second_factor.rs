//! Second factors of accounts, their recovery codes, and sign-ins that wait for a code.

use rusqlite::{Connection, OptionalExtension, params};
use uuid::Uuid;

use super::{StoreResult, now_ms};
use crate::access::totp;

/// How long the page that asks for a code may stay open (assumed: long enough to find the phone).
const HALF_LASTS_MS: i64 = 10 * 60 * 1000;

/// What an account has of it.
#[derive(Debug, Clone)]
pub struct SecondFactor {
    /// Shared with the app.
    pub secret: Vec<u8>,
    /// Whether a first code has fitted: from then on codes are asked for.
    pub is_confirmed: bool,
    /// Step of the last code taken.
    pub last_step: i64,
}

/// The second factor of an account, confirmed or begun.
///
/// # Errors
/// Database errors only.
pub fn get(c: &Connection, account: Uuid) -> StoreResult<Option<SecondFactor>> {
    let sql = "SELECT secret, is_confirmed, last_step FROM second_factor WHERE account = ?1";
    let found = c.query_row(sql, [account], |row| {
        Ok(SecondFactor { secret: row.get(0)?, is_confirmed: row.get(1)?, last_step: row.get(2)? })
    });
    Ok(found.optional()?)
}

/// Whether codes are asked for.
///
/// # Errors
/// Database errors only.
pub fn is_on(c: &Connection, account: Uuid) -> StoreResult<bool> {
    Ok(get(c, account)?.is_some_and(|factor| factor.is_confirmed))
}

/// Begins with a secret; one that is confirmed stays as it is.
///
/// # Errors
/// Database errors only.
pub fn begin(c: &Connection, account: Uuid, secret: &[u8]) -> StoreResult<()> {
    c.execute(
        "INSERT INTO second_factor (account, secret) VALUES (?1, ?2)
         ON CONFLICT (account) DO UPDATE SET secret = ?2, last_step = 0 WHERE is_confirmed = 0",
        params![account, secret],
    )?;
    Ok(())
}

/// Confirms the factor by its first code and stores new recovery codes by their hashes. Says
/// whether the code fitted.
///
/// # Errors
/// Database errors only.
pub fn confirm(
    c: &Connection,
    account: Uuid,
    typed: &str,
    recovery: &[Vec<u8>],
) -> StoreResult<bool> {
    if !take_code(c, account, typed)? {
        return Ok(false);
    }
    c.execute("UPDATE second_factor SET is_confirmed = 1 WHERE account = ?1", [account])?;
    c.execute("DELETE FROM recovery_code WHERE account = ?1", [account])?;
    for hash in recovery {
        c.execute(
            "INSERT INTO recovery_code (account, code_hash) VALUES (?1, ?2)",
            params![account, hash],
        )?;
    }
    Ok(true)
}

/// Takes a code of the app, or a recovery code; neither is taken twice.
///
/// # Errors
/// Database errors only.
pub fn take(c: &Connection, account: Uuid, typed: &str) -> StoreResult<bool> {
    if take_code(c, account, typed)? {
        return Ok(true);
    }
    let used = c.execute(
        "DELETE FROM recovery_code WHERE account = ?1 AND code_hash = ?2",
        params![account, totp::recovery_hash(typed)],
    )?;
    Ok(used == 1)
}

fn take_code(c: &Connection, account: Uuid, typed: &str) -> StoreResult<bool> {
    let Some(factor) = get(c, account)? else { return Ok(false) };
    let fitting = totp::fitting_step(&factor.secret, typed, now_ms(), factor.last_step);
    let Some(step) = fitting else { return Ok(false) };
    c.execute(
        "UPDATE second_factor SET last_step = ?2 WHERE account = ?1",
        params![account, step],
    )?;
    Ok(true)
}

/// How many recovery codes are left.
///
/// # Errors
/// Database errors only.
pub fn recovery_left(c: &Connection, account: Uuid) -> StoreResult<i64> {
    let sql = "SELECT count(*) FROM recovery_code WHERE account = ?1";
    Ok(c.query_row(sql, [account], |row| row.get(0))?)
}

/// Removes the factor with its recovery codes.
///
/// # Errors
/// Database errors only.
pub fn remove(c: &Connection, account: Uuid) -> StoreResult<()> {
    c.execute("DELETE FROM second_factor WHERE account = ?1", [account])?;
    c.execute("DELETE FROM recovery_code WHERE account = ?1", [account])?;
    Ok(())
}

/// Notes that passphrase or link was right and a code is awaited.
///
/// # Errors
/// Database errors only.
pub fn await_code(
    c: &Connection,
    token_hash: &[u8],
    account: Uuid,
    by_link: bool,
) -> StoreResult<()> {
    let now = now_ms();
    c.execute("DELETE FROM half_sign_in WHERE expires_ms < ?1", [now])?;
    c.execute(
        "INSERT INTO half_sign_in (token_hash, account, by_link, expires_ms)
         VALUES (?1, ?2, ?3, ?4)",
        params![token_hash, account, by_link, now + HALF_LASTS_MS],
    )?;
    Ok(())
}

/// The account that waits for a code under this token, and whether it came by a link.
///
/// # Errors
/// Database errors only.
pub fn awaited(c: &Connection, token_hash: &[u8]) -> StoreResult<Option<(Uuid, bool)>> {
    let sql = "SELECT account, by_link FROM half_sign_in WHERE token_hash = ?1 AND expires_ms > ?2";
    let found =
        c.query_row(sql, params![token_hash, now_ms()], |row| Ok((row.get(0)?, row.get(1)?)));
    Ok(found.optional()?)
}

/// Ends the wait.
///
/// # Errors
/// Database errors only.
pub fn end_wait(c: &Connection, token_hash: &[u8]) -> StoreResult<()> {
    c.execute("DELETE FROM half_sign_in WHERE token_hash = ?1", [token_hash])?;
    Ok(())
}
