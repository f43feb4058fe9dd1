//! Backups that the server makes by itself: one every so often, so many kept, the oldest removed.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, UNIX_EPOCH};

use actix_web::rt::time::sleep;
use actix_web::web;
use thiserror::Error;

use crate::store::audit::{self, Action};
use crate::store::{Store, StoreError, backup, now_ms};

/// Who the audit trail names.
const ACTOR: &str = "schedule";

/// The clock is looked at this often at least.
const LOOK_EVERY: Duration = Duration::from_secs(60);

/// When, where to and how many.
#[derive(Debug, Clone)]
pub struct Schedule {
    /// Folder of the copies; never within the data folder, from which the erased are gone at once.
    pub folder: PathBuf,
    /// From one to the next.
    pub every: Duration,
    /// How many are kept.
    pub kept: usize,
}

/// The schedule with how it went last.
#[derive(Debug)]
pub struct Backups {
    schedule: Schedule,
    failure: Mutex<Option<String>>,
}

/// One copy that is kept.
#[derive(Debug, Clone)]
pub struct Kept {
    /// Name of the file.
    pub name: String,
    /// Counted up, so that the order holds whatever a clock does.
    pub number: u64,
    /// When it was made, ms since 1970.
    pub made_ms: i64,
    /// Size, bytes.
    pub bytes: u64,
}

/// Why no backups can be made: the folder, and what is wrong with it.
#[derive(Debug, Error)]
#[error("{0}")]
pub struct BackupsError(String);

impl Backups {
    /// Makes the folder and checks where it is.
    ///
    /// # Errors
    /// When it cannot be made, or lies within the data folder.
    pub fn new(schedule: Schedule, data: &Path) -> Result<Backups, BackupsError> {
        let folder =
            |error: io::Error| BackupsError(format!("{}: {error}", schedule.folder.display()));
        fs::create_dir_all(&schedule.folder).map_err(folder)?;
        let inside = fs::canonicalize(&schedule.folder)
            .and_then(|folder| Ok(folder.starts_with(fs::canonicalize(data)?)))
            .map_err(folder)?;
        if inside {
            let message = "lies within the data folder, where nothing of the erased may stay";
            return Err(BackupsError(format!("{} {message}", schedule.folder.display())));
        }
        Ok(Backups { schedule, failure: Mutex::default() })
    }

    /// When and where to.
    #[must_use]
    pub fn schedule(&self) -> &Schedule {
        &self.schedule
    }

    /// Why the last one failed, if it did.
    #[must_use]
    pub fn failure(&self) -> Option<String> {
        self.failure.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The copies, newest first.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub fn list(&self) -> io::Result<Vec<Kept>> {
        let mut all = Vec::new();
        for entry in fs::read_dir(&self.schedule.folder)? {
            let entry = entry?;
            let name = entry.file_name().to_string_lossy().into_owned();
            let Some(number) = number_of(&name) else { continue };
            let about = entry.metadata()?;
            let made = about.modified()?.duration_since(UNIX_EPOCH).unwrap_or_default();
            let made_ms = i64::try_from(made.as_millis()).unwrap_or(i64::MAX);
            all.push(Kept { name, number, made_ms, bytes: about.len() });
        }
        all.sort_by_key(|kept| std::cmp::Reverse(kept.number));
        Ok(all)
    }

    /// About when a copy made at this time is removed, ms since 1970: until then it holds whoever
    /// is erased after it was made.
    #[must_use]
    pub fn gone_ms(&self, made_ms: i64) -> i64 {
        let every = i64::try_from(self.schedule.every.as_millis()).unwrap_or(i64::MAX);
        let kept = i64::try_from(self.schedule.kept).unwrap_or(i64::MAX);
        made_ms.saturating_add(every.saturating_mul(kept))
    }

    /// Makes a copy if it is time for one, and removes those beyond the number.
    fn turn(&self, store: &Store) -> Result<(), StoreError> {
        let all = self.list()?;
        let every = i64::try_from(self.schedule.every.as_millis()).unwrap_or(i64::MAX);
        let newest = all.first();
        // A copy from the future is one of before the clock was set back.
        let is_due = newest.is_none_or(|kept| {
            let age = now_ms() - kept.made_ms;
            age < -every || age >= every
        });
        if !is_due {
            return Ok(());
        }
        let number = newest.map_or(1, |kept| kept.number + 1);
        let target = self.schedule.folder.join(format!("handcall-{number:06}.sqlite"));
        backup::make(store.path(), &target)?;
        store.write_now(|c| audit::add(c, ACTOR, Action::BackupMade, None))?;
        for old in self.list()?.into_iter().skip(self.schedule.kept) {
            fs::remove_file(self.schedule.folder.join(old.name))?;
        }
        Ok(())
    }
}

/// The number in the name of a copy; `None` for any other file.
fn number_of(name: &str) -> Option<u64> {
    name.strip_prefix("handcall-")?.strip_suffix(".sqlite")?.parse().ok()
}

/// Keeps to the schedule until the server stops.
pub async fn keep_to_schedule(backups: Arc<Backups>, store: Store) {
    let every = backups.schedule.every;
    loop {
        let (turning, store) = (backups.clone(), store.clone());
        let failure = match web::block(move || turning.turn(&store)).await {
            Ok(result) => result.err().map(|error| error.to_string()),
            Err(error) => Some(error.to_string()),
        };
        if let Some(reason) = &failure {
            tracing::error!(reason, "scheduled backup");
        }
        *backups.failure.lock().unwrap_or_else(PoisonError::into_inner) = failure;
        sleep((every / 4).clamp(Duration::from_millis(20), LOOK_EVERY)).await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_within_the_data_is_refused_and_copies_are_told_from_other_files() {
        let data = std::env::temp_dir().join(format!("handcall-backups-{}", uuid::Uuid::now_v7()));
        let schedule = |folder: PathBuf| Schedule { folder, every: LOOK_EVERY, kept: 3 };
        fs::create_dir_all(&data).expect("made");
        let inside = Backups::new(schedule(data.join("backups")), &data);
        assert!(inside.is_err_and(|error| error.to_string().contains("data folder")));
        let beside = data.with_extension("beside");
        let backups = Backups::new(schedule(beside.clone()), &data).expect("beside is fine");
        for name in ["handcall-000002.sqlite", "handcall-000010.sqlite", "handcall-x.sqlite", "a"] {
            fs::write(beside.join(name), "x").expect("written");
        }
        let numbers: Vec<u64> =
            backups.list().expect("listed").iter().map(|kept| kept.number).collect();
        assert_eq!(numbers, [10, 2]);
        assert_eq!(backups.gone_ms(1_000), 1_000 + 3 * 60_000);
        let _ = fs::remove_dir_all(&data);
        let _ = fs::remove_dir_all(&beside);
    }
}
