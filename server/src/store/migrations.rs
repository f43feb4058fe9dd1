//! The schema, forwards only, one step a version. A copy of the file is kept before each change.

use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::{StoreError, StoreResult};

pub(super) const STEPS: &[&str] = &[
    include_str!("schema_1.sql"),
    include_str!("schema_2.sql"),
    include_str!("schema_3.sql"),
    include_str!("schema_4.sql"),
    include_str!("schema_5.sql"),
    include_str!("schema_6.sql"),
    include_str!("schema_7.sql"),
    include_str!("schema_8.sql"),
    include_str!("schema_9.sql"),
    include_str!("schema_10.sql"),
    include_str!("schema_11.sql"),
];

/// Newest version this program knows.
pub(super) const KNOWN: i64 = STEPS.len() as i64;

/// What stands before the number in the name of a copy kept before a migration.
const COPY: &str = "before-";

/// Copies of the database that migrations kept.
pub(super) fn copies(path: &Path) -> StoreResult<Vec<PathBuf>> {
    let (Some(folder), Some(stem)) = (path.parent(), path.file_stem().and_then(|s| s.to_str()))
    else {
        return Ok(Vec::new());
    };
    let start = format!("{stem}.{COPY}");
    let is_copy = |file: &PathBuf| {
        file.file_name().and_then(|name| name.to_str()).is_some_and(|name| name.starts_with(&start))
    };
    let files = std::fs::read_dir(folder)?.collect::<Result<Vec<_>, _>>()?;
    Ok(files.into_iter().map(|entry| entry.path()).filter(is_copy).collect())
}

pub(super) fn run(connection: &mut Connection, path: &Path) -> StoreResult<()> {
    let found: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if found > KNOWN {
        return Err(StoreError::Newer { found, known: KNOWN });
    }
    let done = usize::try_from(found).unwrap_or(0);
    if done > 0 && done < STEPS.len() {
        let copy = path.with_extension(format!("{COPY}{KNOWN}.sqlite"));
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
