//! Lays as jobs of the server: the gloves of a finished batch on cloth, within a budget of time.
//!
//! The drawings are written to a folder of the lay before the store hears of them. A lay takes
//! seconds, so one that was under way when the server stopped is not gone on with.

use std::fs;
use std::io;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use actix_web::web::Data;
use rayon::prelude::*;
use thiserror::Error;
use uuid::Uuid;

use crate::app::App;
use crate::batch::{DraftInputs, FolderSink, Sink, gloves_of};
use crate::config::Config;
use crate::export::SheetLabels;
use crate::export::pdf::PdfError;
use crate::jobs::{self, Job};
use crate::lay::cast::{Cutting, Glove};
use crate::lay::search::{Cloth, LayError, search};
use crate::store::lay::{self as lays, ClothToBuy, Laying};
use crate::store::{StoreError, batch as batches};

/// Parts of the whole in which a lay tells how far it is.
pub const PARTS: usize = 1000;

/// The folder of every lay of a batch.
#[must_use]
pub fn folder_of_batch(config: &Config, batch: Uuid) -> PathBuf {
    config.batches().join(format!("{batch}-lays"))
}

/// A drawing of a lay: fabrics are numbered from 0 in the order of the lay's table.
#[must_use]
pub fn drawing(config: &Config, laying: &Laying, fabric: usize, extension: &str) -> PathBuf {
    let folder = folder_of_batch(config, laying.batch).join(laying.id.to_string());
    folder.join(name_of(fabric, extension))
}

fn name_of(fabric: usize, extension: &str) -> String {
    format!("lay-{}.{extension}", fabric + 1)
}

#[derive(Debug, Error)]
enum LayingError {
    #[error("The lay was cancelled.")]
    Cancelled,
    #[error("No glove of this batch could be drafted.")]
    Nothing,
    #[error("{0}: {1}")]
    Lay(String, LayError),
    #[error("A lay could not be written: {0}. Free some space and start again.")]
    Write(#[from] io::Error),
    #[error("A lay could not be written: {0}")]
    Pdf(#[from] PdfError),
    #[error("The database did not answer: {0}")]
    Store(#[from] StoreError),
}

/// Starts a lay that the store says is running. One lay of a batch at a time.
///
/// # Errors
/// When the system gives no thread.
pub fn start(app: &Data<App>, laying: Laying) -> io::Result<()> {
    let Some(job) = app.jobs.add(laying.batch) else { return Ok(()) };
    let (thread_app, batch) = (app.clone(), laying.batch);
    let spawned = std::thread::Builder::new().name("lay".to_owned()).spawn(move || {
        jobs::give_way();
        run(&thread_app, &job, &laying);
        thread_app.jobs.remove(laying.batch);
    });
    if spawned.is_err() {
        app.jobs.remove(batch);
    }
    spawned.map(drop)
}

fn run(app: &App, job: &Job, laying: &Laying) {
    let made = work(app, job, laying);
    let (state, message, cloths) = match made {
        Ok(cloths) => ("done", String::new(), cloths),
        Err(LayingError::Cancelled) => ("cancelled", String::new(), Vec::new()),
        Err(error) => {
            tracing::error!(%error, id = %laying.id, "lay");
            ("failed", error.to_string(), Vec::new())
        }
    };
    if state != "done" {
        let folder = folder_of_batch(&app.config, laying.batch).join(laying.id.to_string());
        // It may never have been made.
        let _ = fs::remove_dir_all(folder);
    }
    let id = laying.id;
    let noted = app.store.write_now(move |c| lays::end(c, id, (state, &message), &cloths));
    if let Err(error) = noted {
        tracing::error!(%error, %id, "end of a lay not noted");
    }
}

fn work(app: &App, job: &Job, laying: &Laying) -> Result<Vec<ClothToBuy>, LayingError> {
    let batch = laying.batch;
    let items = app.store.read_now(move |c| batches::items(c, batch))?;
    let model = app.model();
    let drafted: Vec<Vec<Glove>> = items
        .par_iter()
        .filter_map(|item| {
            let inputs = DraftInputs::read(&item.inputs)?;
            let labels = SheetLabels {
                production: inputs.production().to_owned(),
                performer_code: String::new(),
                fabric: String::new(),
                version: item.number.to_string(),
                date: item.date.clone(),
            };
            Some(gloves_of(&model, &inputs.performer(), &labels).0)
        })
        .collect();
    let order = &laying.order;
    let gloves = drafted.into_iter().flatten().collect();
    let cuttings = Cutting::by_fabric(gloves, order.spare_pairs as usize);
    if cuttings.is_empty() {
        return Err(LayingError::Nothing);
    }
    let cloth = Cloth {
        width_mm: order.width_mm,
        gap_mm: order.gap_mm,
        may_lie_head_down: !order.is_one_way,
    };
    let folder = folder_of_batch(&app.config, batch).join(laying.id.to_string());
    let mut sink = FolderSink::new(&folder)?;
    let (began, budget) = (Instant::now(), f64::from(order.seconds));
    let whole: usize = cuttings.iter().map(|cutting| cutting.outlines.len()).sum();
    let mut before = 0;
    let mut cloths = Vec::with_capacity(cuttings.len());
    for (number, cutting) in cuttings.iter().enumerate() {
        // Each fabric has time after its pieces.
        let at = |pieces: usize| budget * pieces as f64 / whole as f64;
        let (from, to) = (at(before), at(before + cutting.outlines.len()));
        before += cutting.outlines.len();
        let share = || {
            let gone = began.elapsed().as_secs_f64();
            let part = (gone / budget).clamp(0.0, 1.0) * PARTS as f64;
            job.done.store(part as usize, Ordering::Relaxed);
            if is_cancelled(&job.cancelled) { f64::INFINITY } else { (gone - from) / (to - from) }
        };
        let lay = search(&cutting.outlines, cloth, &share)
            .map_err(|error| LayingError::Lay(cutting.fabric.clone(), error))?;
        if is_cancelled(&job.cancelled) {
            return Err(LayingError::Cancelled);
        }
        sink.file(&name_of(number, "svg"), cutting.svg(&lay, cloth).as_bytes())?;
        sink.file(&name_of(number, "dxf"), cutting.dxf(&lay).as_bytes())?;
        sink.file(&name_of(number, "pdf"), &cutting.pdf(&lay, cloth)?)?;
        cloths.push(ClothToBuy {
            fabric: cutting.fabric.clone(),
            gloves: cutting.gloves.len(),
            pieces: cutting.outlines.len(),
            length_mm: lay.length_mm.ceil(),
            used: lay.used,
            plain_used: lay.used * lay.length_mm / lay.plain_mm.max(1.0),
        });
    }
    Ok(cloths)
}

fn is_cancelled(flag: &AtomicBool) -> bool {
    flag.load(Ordering::Relaxed)
}
