//! Batches as jobs of the server: followed, cancelled, and gone on with after a restart.
//!
//! A performer's files are written to the batch's folder before the store hears that they are
//! done; when all are, they are packed into one ZIP, which takes its name last. So a server killed
//! at any moment finds on its next start what is done and what is not, and never half a ZIP.

use std::fs::{self, File};
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

use actix_web::web::Data;
use thiserror::Error;
use uuid::Uuid;

use crate::app::App;
use crate::batch::{
    self, BatchError, BatchItem, BatchOrder, BatchPerformer, BatchReport, BatchResult, DraftInputs,
    FolderSink, Sink, ZipSink,
};
use crate::config::Config;
use crate::export::pdf::Paper;
use crate::jobs::{self, Job};
use crate::lay_job;
use crate::store::batch::{self as batches, End, Item};
use crate::store::{StoreError, StoreResult};

/// The finished ZIP of a batch.
#[must_use]
pub fn zip_of(config: &Config, id: Uuid) -> PathBuf {
    config.batches().join(format!("{id}.zip"))
}

fn folder_of(config: &Config, id: Uuid) -> PathBuf {
    config.batches().join(id.to_string())
}

fn unfinished_zip_of(config: &Config, id: Uuid) -> PathBuf {
    config.batches().join(format!("{id}.zip.part"))
}

/// Removes every file of a batch; what is not there is no error.
///
/// # Errors
/// When a file is there and cannot be removed.
pub fn remove_files(config: &Config, id: Uuid) -> io::Result<()> {
    let absent_is_fine = |result: io::Result<()>| match result {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    };
    absent_is_fine(fs::remove_file(zip_of(config, id)))?;
    absent_is_fine(fs::remove_file(unfinished_zip_of(config, id)))?;
    absent_is_fine(fs::remove_dir_all(lay_job::folder_of_batch(config, id)))?;
    absent_is_fine(fs::remove_dir_all(folder_of(config, id)))
}

/// Starts, or goes on with, a batch that the store says is running. Twice is once.
///
/// # Errors
/// When the system gives no thread.
pub fn start(app: &Data<App>, id: Uuid) -> io::Result<()> {
    let Some(job) = app.jobs.add(id) else { return Ok(()) };
    let thread_app = app.clone();
    let spawned = std::thread::Builder::new().name("batch".to_owned()).spawn(move || {
        jobs::give_way();
        run(&thread_app, &job, id);
        thread_app.jobs.remove(id);
    });
    if spawned.is_err() {
        app.jobs.remove(id);
    }
    spawned.map(drop)
}

/// Why a job stopped.
#[derive(Debug, Error)]
enum JobError {
    #[error(transparent)]
    Batch(#[from] BatchError),
    #[error("The database did not take the progress: {0}")]
    Store(#[from] StoreError),
    #[error("The batch's own inputs cannot be read. Start a new batch.")]
    Damaged,
}

impl From<io::Error> for JobError {
    fn from(error: io::Error) -> JobError {
        JobError::Batch(BatchError::Write(error))
    }
}

fn run(app: &App, job: &Job, id: Uuid) {
    let end = match work(app, job, id) {
        Ok(()) => End::Done,
        Err(JobError::Batch(BatchError::Cancelled)) => End::Cancelled,
        // The batch was deleted while it ran.
        Err(JobError::Store(StoreError::NotFound)) => End::Cancelled,
        Err(error) => {
            tracing::error!(%error, %id, "batch");
            End::Failed(error.to_string())
        }
    };
    let tidied = match &end {
        End::Done => fs::remove_dir_all(folder_of(&app.config, id)),
        End::Cancelled => remove_files(&app.config, id),
        // What is made stays for going on; half a ZIP is of no use.
        End::Failed(_) => fs::remove_file(unfinished_zip_of(&app.config, id)),
    };
    if let Err(error) = tidied
        && error.kind() != io::ErrorKind::NotFound
    {
        tracing::warn!(%error, %id, "files of a batch not removed");
    }
    if let Err(error) = app.store.write_now(move |c| batches::end(c, id, &end)) {
        tracing::error!(%error, %id, "end of a batch not noted");
    }
}

fn work(app: &App, job: &Job, id: Uuid) -> Result<(), JobError> {
    let read =
        move |c: &_| -> StoreResult<_> { Ok((batches::get(c, id)?, batches::items(c, id)?)) };
    let (batch, items) = app.store.read_now(read)?;
    let paper = Paper::from_key(&batch.paper).ok_or(JobError::Damaged)?;
    let folder = folder_of(&app.config, id);
    let mut sink = FolderSink::new(&folder)?;
    let mut results: Vec<Option<BatchResult>> =
        items.iter().map(|item| finished(item, &folder)).collect();
    let lost: Vec<i64> = items
        .iter()
        .zip(&results)
        .filter(|(item, result)| item.result.is_some() && result.is_none())
        .map(|(item, _)| item.position)
        .collect();
    if !lost.is_empty() {
        app.store.write_now(move |c| batches::forget_results(c, id, &lost))?;
    }
    let before = results.iter().flatten().count();
    job.begin_after(before);
    let mut pending = Vec::new();
    let mut places = Vec::new();
    let mut production = String::new();
    for (place, item) in items.iter().enumerate() {
        let inputs = DraftInputs::read(&item.inputs).ok_or(JobError::Damaged)?;
        inputs.production().clone_into(&mut production);
        if results.get(place).is_some_and(Option::is_none) {
            places.push(place);
            let performer = BatchPerformer { call: item.call.clone(), ..inputs.performer() };
            pending.push(BatchItem {
                performer,
                stem: item.stem.clone(),
                version: item.number.to_string(),
                date: item.date.clone(),
            });
        }
    }
    if !pending.is_empty() {
        let order = BatchOrder { production: production.clone(), paper, items: pending };
        let mut places = places.into_iter();
        let progress = |made: usize| job.done.store(before + made, Ordering::Relaxed);
        batch::each(&app.model(), &order, &progress, &job.cancelled, &mut |made| {
            let mut noted = Vec::new();
            for made in made {
                batch::write_files(&mut sink, &made.files)?;
                let Some(place) = places.next() else { continue };
                let text = serde_json::to_string(&made.result).map_err(io::Error::other)?;
                noted.push((i64::try_from(place).unwrap_or(i64::MAX), text));
                if let Some(result) = results.get_mut(place) {
                    *result = Some(made.result);
                }
            }
            let write = move |c: &_| batches::advance(c, id, &noted);
            app.store.write_now(write).map_err(|error| BatchError::Write(io::Error::other(error)))
        })?;
    }
    let again = app.store.read_now(move |c| batches::again(c, id))?;
    let again = again.iter().map(|line| serde_json::from_str(line));
    let report = BatchReport {
        results: results.into_iter().flatten().collect(),
        again: again.collect::<Result<_, _>>().map_err(|_| JobError::Damaged)?,
    };
    pack(app, job, id, &folder, (&production, paper), &report)
}

/// What became of an item, if it is done and all its files are there.
fn finished(item: &Item, folder: &Path) -> Option<BatchResult> {
    let result: BatchResult = serde_json::from_str(item.result.as_ref()?).ok()?;
    let is_there = |name: &String| {
        fs::metadata(folder.join(name)).is_ok_and(|file| file.is_file() && file.len() > 0)
    };
    let is_whole = result.files().all(is_there);
    is_whole.then_some(result)
}

/// Packs the finished files into the ZIP, the lists at its end.
fn pack(
    app: &App,
    job: &Job,
    id: Uuid,
    folder: &Path,
    (production, paper): (&str, Paper),
    report: &BatchReport,
) -> Result<(), JobError> {
    let unfinished = unfinished_zip_of(&app.config, id);
    let mut zip = ZipSink::new(BufWriter::new(File::create(&unfinished)?));
    for result in &report.results {
        if job.cancelled.load(Ordering::Relaxed) {
            return Err(BatchError::Cancelled.into());
        }
        for name in result.files() {
            zip.file(name, &fs::read(folder.join(name))?)?;
        }
    }
    batch::write_lists(&mut zip, production, paper, report)?;
    let file = zip.finish()?.into_inner().map_err(io::IntoInnerError::into_error)?;
    file.sync_all()?;
    fs::rename(&unfinished, zip_of(&app.config, id))?;
    Ok(())
}
