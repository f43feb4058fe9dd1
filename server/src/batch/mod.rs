//! A cast to files: every performer checked, filled and drafted, both hands, into one ZIP or folder.
//!
//! Knows nothing of the store and of the web: performers, labels and paper come in; files,
//! progress and a report go out.

mod lists;
mod names;
mod report;
mod sink;

pub use lists::{attention_csv, cut_list_csv};
pub use names::FileNames;
pub use report::{BatchGlove, BatchReport, BatchResult, CutPiece, FEW_READINGS, GloveFiles};
pub use sink::{FolderSink, Sink, ZipSink};

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use analysis::check::{check_hands, trusted};
use analysis::draft::{GloveOptions, draft};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use rayon::prelude::*;
use thiserror::Error;

use crate::export::SheetLabels;
use crate::export::pdf::{self, Paper};
use crate::export::svg::{self, SvgUse};

/// Performers drafted at once before their files are written: enough to keep the cores busy, few
/// enough that a cast of a thousand does not sit in memory.
const CHUNK: usize = 16;

/// A performer to be gloved.
#[derive(Debug, Clone)]
pub struct BatchPerformer {
    /// Code; it stands on every piece.
    pub code: String,
    /// Which published people to compare with.
    pub population: Population,
    /// What was measured.
    pub hands: Hands,
    /// Keys of the flags that were looked at and kept: their readings are built upon.
    pub kept_flags: Vec<String>,
    /// Name of the fabric, for the labels.
    pub fabric: String,
    /// What to draft.
    pub options: GloveOptions,
}

/// What is to be made.
#[derive(Debug, Clone)]
pub struct BatchOrder {
    /// Name of the production.
    pub production: String,
    /// Version of the drafts.
    pub version: String,
    /// Date as it is to be read.
    pub date: String,
    /// Paper of the PDFs.
    pub paper: Paper,
    /// The performers, in their order.
    pub performers: Vec<BatchPerformer>,
}

/// Why a batch ended early. Files written before stay as the sink left them.
#[derive(Debug, Error)]
pub enum BatchError {
    /// Nobody to draft for.
    #[error("There is nobody to draft for. Add performers first.")]
    Nobody,
    /// Cancelled by whoever started it.
    #[error("The batch was cancelled.")]
    Cancelled,
    /// A file could not be written.
    #[error(
        "A file could not be written: {0}. Free some space and start again; no reading is lost."
    )]
    Write(#[from] std::io::Error),
}

/// A performer's gloves as they will be written.
struct Made {
    result: BatchResult,
    files: Vec<(String, Vec<u8>)>,
}

/// Makes a batch. `progress` hears `(performers done, all)`, from several threads; setting
/// `cancelled` ends the batch at the next performer. Same order, same bytes in the same sequence.
///
/// # Errors
/// [`BatchError`]; a performer who cannot be drafted is not an error but a line of the report.
pub fn run(
    model: &HandModel,
    order: &BatchOrder,
    sink: &mut dyn Sink,
    progress: &(dyn Fn(usize, usize) + Sync),
    cancelled: &AtomicBool,
) -> Result<BatchReport, BatchError> {
    let total = order.performers.len();
    if total == 0 {
        return Err(BatchError::Nobody);
    }
    progress(0, total);
    let done = AtomicUsize::new(0);
    let codes: Vec<&str> = order.performers.iter().map(|p| p.code.as_str()).collect();
    let names = FileNames::new(&codes, &order.version);
    let mut report = BatchReport::default();
    let numbered: Vec<(usize, &BatchPerformer)> = order.performers.iter().enumerate().collect();
    for chunk in numbered.chunks(CHUNK) {
        let made: Vec<Option<Made>> = chunk
            .par_iter()
            .map(|(index, performer)| {
                if cancelled.load(Ordering::Relaxed) {
                    return None;
                }
                let made = make(model, order, performer, &names, *index);
                progress(done.fetch_add(1, Ordering::Relaxed) + 1, total);
                Some(made)
            })
            .collect();
        for made in made {
            let made = made.ok_or(BatchError::Cancelled)?;
            for (name, bytes) in &made.files {
                sink.file(name, bytes)?;
            }
            report.results.push(made.result);
        }
    }
    sink.file("cut-list.csv", &cut_list_csv(&order.version, &report))?;
    sink.file("attention.csv", &attention_csv(&report))?;
    Ok(report)
}

fn make(
    model: &HandModel,
    order: &BatchOrder,
    performer: &BatchPerformer,
    names: &FileNames,
    index: usize,
) -> Made {
    let flags = check_hands(model, performer.population, &performer.hands);
    let open = flags.iter().filter(|flag| !performer.kept_flags.contains(&flag.key()));
    let filled = model.fill(performer.population, &trusted(&performer.hands, open));
    let labels = SheetLabels {
        production: order.production.clone(),
        performer_code: performer.code.clone(),
        fabric: performer.fabric.clone(),
        version: order.version.clone(),
        date: order.date.clone(),
    };
    let mut files = Vec::new();
    let gloves = Side::BOTH.map(|side| {
        let hand = filled.side(side);
        let outcome = draft(hand, side, &performer.options)
            .map_err(|error| error.to_string())
            .and_then(|draft| {
                let bytes = pdf::render(&draft, &labels, order.paper).map_err(|e| e.to_string())?;
                let drawing = svg::render(&draft, &labels, SvgUse::Download).into_bytes();
                let (pdf, svg) = (names.file(index, side, "pdf"), names.file(index, side, "svg"));
                files.push((pdf.clone(), bytes));
                files.push((svg.clone(), drawing));
                let pieces = draft.pieces.iter().map(CutPiece::of).collect();
                Ok(GloveFiles { pdf, svg, pieces, remarks: draft.remarks })
            });
        BatchGlove { side, measured: hand.measured(), outcome }
    });
    let result = BatchResult {
        code: performer.code.clone(),
        fabric: performer.fabric.clone(),
        flags,
        gloves: gloves.into(),
    };
    Made { result, files }
}
