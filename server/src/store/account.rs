//! Accounts and their one-time sign-in links.

use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::{StoreError, StoreResult, is_taken, missing, now_ms};

/// What somebody may do. The table of rights is in [`crate::access`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Accounts, backups, erasure, and everything below.
    Administrator,
    /// Productions, rosters, who is done and who is flagged, and everything below.
    Supervisor,
    /// Drafts and batches.
    Cutter,
    /// Taking readings.
    Measurer,
}

impl Role {
    /// Every role.
    pub const ALL: [Role; 4] =
        [Role::Administrator, Role::Supervisor, Role::Cutter, Role::Measurer];

    /// Stable key.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Role::Administrator => "administrator",
            Role::Supervisor => "supervisor",
            Role::Cutter => "cutter",
            Role::Measurer => "measurer",
        }
    }

    /// The role with this key.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|role| role.key() == key)
    }
}

/// Somebody who may sign in.
#[derive(Debug, Clone)]
pub struct Account {
    /// Id.
    pub id: Uuid,
    /// Name to sign in with.
    pub name: String,
    /// What they may do.
    pub role: Role,
    /// argon2id hash, once a passphrase is set.
    pub passphrase_hash: Option<String>,
    /// Whether codes are asked for when signing in.
    pub has_second_factor: bool,
}

const COLUMNS: &str = "account.id, account.name, account.role, account.passphrase_hash,
    EXISTS (SELECT 1 FROM second_factor
            WHERE second_factor.account = account.id AND is_confirmed = 1)";

fn from_row(row: &Row<'_>) -> rusqlite::Result<Account> {
    let role: String = row.get(2)?;
    Ok(Account {
        id: row.get(0)?,
        name: row.get(1)?,
        // The table holds no other; the least right is the safe reading of a damaged one.
        role: Role::from_key(&role).unwrap_or(Role::Measurer),
        passphrase_hash: row.get(3)?,
        has_second_factor: row.get(4)?,
    })
}

/// Adds an account without a passphrase; it signs in by a link first.
///
/// # Errors
/// Refused when the name is taken, and over the limit.
pub fn add(c: &Connection, name: &str, role: Role) -> StoreResult<Uuid> {
    demand_room(c, ("SELECT count(*) FROM account", []), limits::ACCOUNTS, "name")?;
    let id = Uuid::now_v7();
    c.execute(
        "INSERT INTO account (id, name, role, created_ms) VALUES (?1, ?2, ?3, ?4)",
        params![id, name, role.key(), now_ms()],
    )
    .map_err(|error| {
        if is_taken(&error) {
            StoreError::Refused {
                field: "name",
                code: "account_name_taken",
                message: "There is an account of that name. Choose another name.".to_owned(),
            }
        } else {
            error.into()
        }
    })?;
    Ok(id)
}

/// The account with this name, in any case.
///
/// # Errors
/// Database errors only.
pub fn by_name(c: &Connection, name: &str) -> StoreResult<Option<Account>> {
    let sql = format!("SELECT {COLUMNS} FROM account WHERE name = ?1");
    Ok(c.query_row(&sql, [name], from_row).optional()?)
}

/// One account.
///
/// # Errors
/// [`StoreError::NotFound`].
pub fn get(c: &Connection, id: Uuid) -> StoreResult<Account> {
    c.query_row(&format!("SELECT {COLUMNS} FROM account WHERE id = ?1"), [id], from_row)
        .map_err(missing)
}

/// Every account by name.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection) -> StoreResult<Vec<Account>> {
    let mut statement = c.prepare(&format!("SELECT {COLUMNS} FROM account ORDER BY name"))?;
    let rows = statement.query_map([], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// How many accounts there are.
///
/// # Errors
/// Database errors only.
pub fn count(c: &Connection) -> StoreResult<u64> {
    let count: i64 = c.query_row("SELECT count(*) FROM account", [], |row| row.get(0))?;
    Ok(u64::try_from(count).unwrap_or(0))
}

/// The first administrator, by age of the account.
///
/// # Errors
/// Database errors only.
pub fn first_administrator(c: &Connection) -> StoreResult<Option<Account>> {
    let sql = format!(
        "SELECT {COLUMNS} FROM account WHERE role = 'administrator' ORDER BY created_ms LIMIT 1"
    );
    Ok(c.query_row(&sql, [], from_row).optional()?)
}

/// Sets the passphrase, given as its hash.
///
/// # Errors
/// Database errors only.
pub fn set_passphrase(c: &Connection, account: Uuid, hash: &str) -> StoreResult<()> {
    c.execute("UPDATE account SET passphrase_hash = ?2 WHERE id = ?1", params![account, hash])?;
    Ok(())
}

/// Stores a one-time link by the hash of its token.
///
/// # Errors
/// Database errors only.
pub fn add_link(
    c: &Connection,
    token_hash: &[u8],
    account: Uuid,
    expires_ms: i64,
) -> StoreResult<()> {
    c.execute("DELETE FROM sign_in_link WHERE expires_ms < ?1", [now_ms()])?;
    c.execute(
        "INSERT INTO sign_in_link (token_hash, account, expires_ms) VALUES (?1, ?2, ?3)",
        params![token_hash, account, expires_ms],
    )?;
    Ok(())
}

/// Whether a link with this token hash would still open.
///
/// # Errors
/// Database errors only.
pub fn link_is_open(c: &Connection, token_hash: &[u8]) -> StoreResult<bool> {
    let sql =
        "SELECT EXISTS (SELECT 1 FROM sign_in_link WHERE token_hash = ?1 AND expires_ms > ?2)";
    Ok(c.query_row(sql, params![token_hash, now_ms()], |row| row.get(0))?)
}

/// Uses a link up and gives its account; `None` when it is unknown, used or too old.
///
/// # Errors
/// Database errors only.
pub fn use_link(c: &Connection, token_hash: &[u8]) -> StoreResult<Option<Account>> {
    let sql = format!(
        "SELECT {COLUMNS} FROM sign_in_link JOIN account ON account.id = sign_in_link.account
         WHERE token_hash = ?1 AND expires_ms > ?2"
    );
    let account = c.query_row(&sql, params![token_hash, now_ms()], from_row).optional()?;
    c.execute("DELETE FROM sign_in_link WHERE token_hash = ?1", [token_hash])?;
    Ok(account)
}
