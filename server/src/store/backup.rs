//! A copy of the database taken while it is in use, and its way back.

use std::fs::File;
use std::path::{Path, PathBuf};

use rusqlite::backup::Backup;
use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::check::{self, Report};
use super::{BUSY_TIMEOUT, StoreError, StoreResult, now_ms};

/// Pages copied in one step; negative is all of them, which reads one state of the database
/// however many writers are at work.
const ALL_PAGES: i32 = -1;

/// Copies the database `source`, in use or not, to the new file `target` and checks the copy.
///
/// # Errors
/// [`StoreError`] when `target` exists, cannot be written, or the copy is not sound; then there is
/// no `target`.
pub fn make(source: &Path, target: &Path) -> StoreResult<Report> {
    if target.exists() {
        return Err(refused(
            "target",
            "backup_exists",
            target,
            "exists already: choose another name",
        ));
    }
    let connection = Connection::open_with_flags(source, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    connection.busy_timeout(BUSY_TIMEOUT)?;
    let unfinished = beside(target, "unfinished");
    let report = copy(&connection, &unfinished).and_then(|()| sound(&unfinished));
    match report {
        Ok(report) => {
            std::fs::rename(&unfinished, target)?;
            Ok(report)
        }
        Err(error) => {
            // The copy is worth nothing; the error that is returned is the first one.
            let _ = std::fs::remove_file(&unfinished);
            Err(error)
        }
    }
}

/// Puts the backup `source` in the place of `database`, which nobody may have open. Checks the
/// backup first; keeps what was there before and gives its new name.
///
/// # Errors
/// [`StoreError`] when the backup is not sound or of a newer version, or the database is in use;
/// then nothing is changed.
pub fn restore(source: &Path, database: &Path) -> StoreResult<Option<PathBuf>> {
    let report = check::file(source)?;
    if !report.is_sound() {
        return Err(refused("source", "backup_damaged", source, "is damaged: run check on it"));
    }
    if let Some(folder) = database.parent() {
        std::fs::create_dir_all(folder)?;
    }
    let arriving = beside(database, "arriving");
    let connection = Connection::open_with_flags(source, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
    if let Err(error) = copy(&connection, &arriving).and_then(|()| sound(&arriving)) {
        // As in `make`.
        let _ = std::fs::remove_file(&arriving);
        return Err(error);
    }
    let kept = database.exists().then(|| beside(database, &format!("before-restore-{}", now_ms())));
    if let Some(kept) = &kept {
        if let Err(error) = close_down(database) {
            let _ = std::fs::remove_file(&arriving);
            return Err(error);
        }
        move_aside(database, kept)?;
    }
    std::fs::rename(&arriving, database)?;
    Ok(kept)
}

fn copy(source: &Connection, target: &Path) -> StoreResult<()> {
    if target.exists() {
        std::fs::remove_file(target)?;
    }
    let mut connection = Connection::open(target)?;
    Backup::new(source, &mut connection)?.step(ALL_PAGES)?;
    // One file without companions, which can be carried away as it is.
    connection.pragma_update(None, "journal_mode", "DELETE")?;
    connection.close().map_err(|(_, error)| error)?;
    File::open(target)?.sync_all()?;
    Ok(())
}

fn sound(copy: &Path) -> StoreResult<Report> {
    let report = check::file(copy)?;
    if report.is_sound() {
        Ok(report)
    } else {
        Err(refused("source", "database_damaged", copy, "is damaged: run check"))
    }
}

/// Folds the write-ahead log into the file and makes sure that nobody else has it open. A file that
/// SQLite cannot read any more is left as it is: replacing it is what a restore is for.
fn close_down(database: &Path) -> StoreResult<()> {
    let connection = Connection::open(database)?;
    connection.busy_timeout(BUSY_TIMEOUT)?;
    let alone = connection.pragma_update(None, "locking_mode", "EXCLUSIVE").and_then(|()| {
        connection.query_row("PRAGMA journal_mode = DELETE", [], |row| row.get::<_, String>(0))
    });
    let is_free = match alone {
        Ok(mode) => mode == "delete",
        Err(error) => matches!(
            error.sqlite_error_code(),
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase)
        ),
    };
    // A damaged file may refuse to be closed too; nothing was written to it.
    let _ = connection.close();
    if is_free {
        Ok(())
    } else {
        Err(refused("database", "database_in_use", database, "is in use: stop the server first"))
    }
}

/// Moves a database out of the way with what a damaged one may have left beside it.
fn move_aside(database: &Path, kept: &Path) -> StoreResult<()> {
    std::fs::rename(database, kept)?;
    for ending in ["-wal", "-shm"] {
        let companion = with_ending(database, ending);
        if companion.exists() {
            std::fs::rename(companion, with_ending(kept, ending))?;
        }
    }
    Ok(())
}

fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

fn refused(field: &'static str, code: &'static str, path: &Path, what: &str) -> StoreError {
    StoreError::Refused { field, code, message: format!("{} {what}.", path.display()) }
}

/// `name.ext` with a word before its ending, in the same folder, so that a rename is one step.
fn beside(path: &Path, word: &str) -> PathBuf {
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or("sqlite");
    path.with_extension(format!("{word}.{ending}"))
}
