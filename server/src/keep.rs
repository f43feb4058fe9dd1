//! Commands that keep the data: `backup`, `restore`, `check`.

use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::store::audit::{self, Action, Chain};
use crate::store::check::Report;
use crate::store::{Store, StoreError, account, backup, check, second_factor};

/// Who the audit trail names for what the command line does.
const ACTOR: &str = "command";

/// `handcall backup`: a copy of the database, taken while it is in use or not.
#[derive(Debug, clap::Args)]
pub struct BackupArgs {
    /// Data folder of the server.
    #[arg(long, default_value = "data")]
    data: PathBuf,
    /// File to write; it may not exist yet.
    to: PathBuf,
}

/// `handcall restore`: puts a backup in the place of the database. The server must be stopped.
#[derive(Debug, clap::Args)]
pub struct RestoreArgs {
    /// Data folder of the server.
    #[arg(long, default_value = "data")]
    data: PathBuf,
    /// Backup to read; it is checked before anything is replaced.
    from: PathBuf,
}

/// `handcall check`: is the database sound, and the audit trail unbroken.
#[derive(Debug, clap::Args)]
pub struct CheckArgs {
    /// Data folder of the server.
    #[arg(long, default_value = "data")]
    data: PathBuf,
    /// A backup to check instead of the data folder's database.
    #[arg(long)]
    file: Option<PathBuf>,
}

/// `handcall unlock`: removes an account's second factor, for whoever has lost phone and recovery
/// codes and is the only administrator.
#[derive(Debug, clap::Args)]
pub struct UnlockArgs {
    /// Data folder of the server.
    #[arg(long, default_value = "data")]
    data: PathBuf,
    /// Name of the account.
    name: String,
}

/// Why a command of this module failed.
#[derive(Debug, Error)]
pub enum KeepError {
    /// There is no such file.
    #[error("{0} does not exist. Name the data folder with --data, or the file itself.")]
    Missing(PathBuf),
    /// There is no such account.
    #[error("There is no account of the name {0}.")]
    Nobody(String),
    /// The store refuses or fails.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A check found something.
    #[error("The database is not sound; see above. Restore the latest backup that is.")]
    Unsound,
}

/// Makes a backup and says what is in it.
///
/// # Errors
/// [`KeepError`]; then there is no file.
pub fn backup(args: &BackupArgs) -> Result<(), KeepError> {
    let database = existing(&database_in(&args.data))?;
    let report = backup::make(&database, &args.to)?;
    let store = Store::open(&database)?;
    store.write_now(|c| audit::add(c, ACTOR, Action::BackupMade, None))?;
    println!("{}: a sound copy of {}", args.to.display(), contents(&report));
    println!("It holds whoever is erased from now on until you delete it.");
    Ok(())
}

/// Restores a backup.
///
/// # Errors
/// [`KeepError`]; then nothing is changed.
pub fn restore(args: &RestoreArgs) -> Result<(), KeepError> {
    existing(&args.from)?;
    let database = database_in(&args.data);
    let kept = backup::restore(&args.from, &database)?;
    let store = Store::open(&database)?;
    store.write_now(|c| audit::add(c, ACTOR, Action::BackupRestored, None))?;
    let report = store.read_now(check::connection_report)?;
    println!("{} is back: {}", database.display(), contents(&report));
    println!("Whoever was erased after this backup was made is in it again: erase them again.");
    if let Some(kept) = kept {
        println!(
            "What it replaced is kept as {}; delete it when it is not needed.",
            kept.display()
        );
    }
    Ok(())
}

/// Checks a database.
///
/// # Errors
/// [`KeepError::Unsound`] when something is wrong, after printing what.
pub fn check(args: &CheckArgs) -> Result<(), KeepError> {
    let file = existing(args.file.as_ref().unwrap_or(&database_in(&args.data)))?;
    let report = check::file(&file)?;
    for line in &report.damage {
        println!("damage: {line}");
    }
    for row in &report.dangling {
        println!("refers to nothing: {row}");
    }
    if let Some(Chain { broken_at: Some(number), .. }) = &report.audit {
        println!("audit trail: entry {number} does not follow from the one before it");
    }
    if !report.is_sound() {
        return Err(KeepError::Unsound);
    }
    println!("{} is sound: {}", file.display(), contents(&report));
    if let Some(chain) = &report.audit {
        println!("Audit trail: {} entries, unbroken; last hash {}", chain.entries, chain.head);
    }
    Ok(())
}

/// Removes an account's second factor.
///
/// # Errors
/// [`KeepError`].
pub fn unlock(args: &UnlockArgs) -> Result<(), KeepError> {
    let store = Store::open(&existing(&database_in(&args.data))?)?;
    let account = store.read_now(|c| account::by_name(c, &args.name))?;
    let id = account.ok_or_else(|| KeepError::Nobody(args.name.clone()))?.id;
    store.write_now(move |c| {
        second_factor::remove(c, id)?;
        audit::add(c, ACTOR, Action::SecondFactorRemoved, Some(id))
    })?;
    println!("{} signs in without a second factor now.", args.name);
    Ok(())
}

fn database_in(data: &Path) -> PathBuf {
    data.join("handcall.sqlite")
}

fn existing(path: &Path) -> Result<PathBuf, KeepError> {
    if path.is_file() { Ok(path.to_owned()) } else { Err(KeepError::Missing(path.to_owned())) }
}

fn contents(report: &Report) -> String {
    format!("{} performers, {} readings", report.performers, report.readings)
}
