//! The schema, forwards only, one step a version. A copy of the file is kept before each change.

use std::path::Path;

use rusqlite::Connection;

use super::{StoreError, StoreResult};

const STEPS: &[&str] = &[include_str!("schema_1.sql")];

pub(super) fn run(connection: &mut Connection, path: &Path) -> StoreResult<()> {
    let known = i64::try_from(STEPS.len()).unwrap_or(i64::MAX);
    let found: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if found > known {
        return Err(StoreError::Newer { found, known });
    }
    let done = usize::try_from(found).unwrap_or(0);
    if done > 0 && done < STEPS.len() {
        let copy = path.with_extension(format!("before-{known}.sqlite"));
        connection.execute("VACUUM INTO ?1", [copy.to_string_lossy()])?;
    }
    for (version, step) in (1..).zip(STEPS).skip(done) {
        let transaction = connection.transaction()?;
        transaction.execute_batch(step)?;
        transaction.pragma_update(None, "user_version", version)?;
        transaction.commit()?;
    }
    Ok(())
}
