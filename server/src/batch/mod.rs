//! A cast to files: every performer checked, filled and drafted, both hands, into one ZIP or folder.
//!
//! Knows nothing of the store and of the web: performers, labels and paper come in; files,
//! progress and a report go out.

mod inputs;
mod lists;
mod names;
mod report;
mod sink;

pub use inputs::DraftInputs;
pub use lists::{attention_csv, cut_list_csv, labels_pdf};
pub use names::{file_name, stems};
pub use report::{
    BatchGlove, BatchReport, BatchResult, Called, CutPiece, FEW_READINGS, GloveFiles,
};
pub use sink::{FolderSink, Sink, ZipSink};

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use analysis::check::{Flag, check_hands, trusted};
use analysis::draft::{DraftError, GloveOptions, draft, master};
use analysis::fabric::FabricFacts;
use analysis::hand::{Hands, Side};
use analysis::model::{FilledHands, HandModel, Population};
use rayon::prelude::*;
use thiserror::Error;

use crate::export::pdf::{self, Paper, PdfError};
use crate::export::svg::{self, SvgUse};
use crate::export::{SheetLabels, dxf};
use crate::lay::cast::Glove;

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
    /// Keys of flags that somebody looked at and kept.
    pub kept_flags: Vec<String>,
    /// Who they are called with, for the call sheet, or empty. No draft follows from it.
    pub call: String,
    /// Name of the fabric, for the labels.
    pub fabric: String,
    /// What is known of the fabric; the options follow from it, and a version keeps it.
    pub cloth: Option<FabricFacts>,
    /// What to draft.
    pub options: GloveOptions,
    /// Largest difference between the hands, a share, up to which both gloves come from one
    /// master; `None` when each hand has its own draft.
    pub master: Option<f64>,
}

/// A performer of a batch, with the version that is drafted.
#[derive(Debug, Clone)]
pub struct BatchItem {
    /// Who, and from what.
    pub performer: BatchPerformer,
    /// Start of the file names; see [`stems`].
    pub stem: String,
    /// Version of the drafts.
    pub version: String,
    /// Date of the version as it is to be read.
    pub date: String,
}

/// What is to be made.
#[derive(Debug, Clone)]
pub struct BatchOrder {
    /// Name of the production.
    pub production: String,
    /// Paper of the PDFs.
    pub paper: Paper,
    /// The performers, in their order.
    pub items: Vec<BatchItem>,
}

impl BatchOrder {
    /// Everybody under one version and date.
    #[must_use]
    pub fn of_one_version(
        production: &str,
        (version, date): (&str, &str),
        paper: Paper,
        performers: Vec<BatchPerformer>,
    ) -> BatchOrder {
        let codes: Vec<&str> = performers.iter().map(|p| p.code.as_str()).collect();
        let stems = stems(&codes);
        let item = |(performer, stem)| BatchItem {
            performer,
            stem,
            version: version.to_owned(),
            date: date.to_owned(),
        };
        BatchOrder {
            production: production.to_owned(),
            paper,
            items: performers.into_iter().zip(stems).map(item).collect(),
        }
    }
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
#[derive(Debug, Clone)]
pub struct Made {
    /// What became of them.
    pub result: BatchResult,
    /// Names and contents of their files.
    pub files: Vec<(String, Vec<u8>)>,
}

/// Makes a batch into one place: every performer's files, the cut list and the list of who needs
/// attention. `progress` hears `(performers done, all)`, from several threads; setting `cancelled`
/// ends the batch at the next performer. Same order, same bytes in the same sequence.
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
    let total = order.items.len();
    progress(0, total);
    let mut report = BatchReport::default();
    each(model, order, &|done| progress(done, total), cancelled, &mut |made| {
        for made in made {
            write_files(sink, &made.files)?;
            report.results.push(made.result);
        }
        Ok(())
    })?;
    write_lists(sink, &order.production, order.paper, &report)?;
    Ok(report)
}

/// Makes the drafts of everybody on all cores and hands them over in their order, some at a time.
/// `progress` hears how many are done, from several threads.
///
/// # Errors
/// As [`run`], and what `keep` returns.
pub fn each(
    model: &HandModel,
    order: &BatchOrder,
    progress: &(dyn Fn(usize) + Sync),
    cancelled: &AtomicBool,
    keep: &mut dyn FnMut(Vec<Made>) -> Result<(), BatchError>,
) -> Result<(), BatchError> {
    if order.items.is_empty() {
        return Err(BatchError::Nobody);
    }
    let done = AtomicUsize::new(0);
    for chunk in order.items.chunks(CHUNK) {
        let made: Option<Vec<Made>> = chunk
            .par_iter()
            .map(|item| {
                if cancelled.load(Ordering::Relaxed) {
                    return None;
                }
                let made = make(model, order, item);
                progress(done.fetch_add(1, Ordering::Relaxed) + 1);
                Some(made)
            })
            .collect();
        keep(made.ok_or(BatchError::Cancelled)?)?;
    }
    Ok(())
}

/// Writes some files.
///
/// # Errors
/// When one cannot be written.
pub fn write_files(sink: &mut dyn Sink, files: &[(String, Vec<u8>)]) -> std::io::Result<()> {
    files.iter().try_for_each(|(name, bytes)| sink.file(name, bytes))
}

/// Writes the lists of a batch: cut list, who needs attention, call sheet, what cloth, labels.
///
/// # Errors
/// When one cannot be written.
pub fn write_lists(
    sink: &mut dyn Sink,
    production: &str,
    paper: Paper,
    report: &BatchReport,
) -> std::io::Result<()> {
    let pdf = |made: Result<Vec<u8>, PdfError>| made.map_err(std::io::Error::other);
    sink.file("cut-list.csv", &cut_list_csv(report))?;
    sink.file("cut-list.pdf", &pdf(lists::cut_list_pdf(production, report, paper))?)?;
    sink.file("attention.csv", &attention_csv(report))?;
    sink.file("call-sheet.csv", &lists::call_sheet_csv(report))?;
    sink.file("call-sheet.pdf", &pdf(lists::call_sheet_pdf(production, report, paper))?)?;
    sink.file("cloth.csv", &lists::order_csv(report))?;
    match labels_pdf((production, ""), report, paper, &|_| None) {
        // Nobody was drafted: there is nothing to label.
        Err(PdfError::Empty) => Ok(()),
        made => sink.file("labels.pdf", &pdf(made)?),
    }
}

/// The hands that the gloves are drafted from: each its own, or the master twice where one is asked
/// for and the two are alike enough.
#[must_use]
pub fn hands_to_draft(filled: &FilledHands, tolerance: Option<f64>) -> FilledHands {
    let (left, right) = (filled.side(Side::Left), filled.side(Side::Right));
    match tolerance.and_then(|tolerance| master(left, right, tolerance)) {
        Some(master) => {
            FilledHands { left: master, right: master, weights: filled.weights.clone() }
        }
        None => filled.clone(),
    }
}

/// The hands a performer's gloves are drafted from, filled from what no open flag calls a slip; and
/// the open flags.
#[must_use]
pub fn drafted_hands(model: &HandModel, performer: &BatchPerformer) -> (FilledHands, Vec<Flag>) {
    let flags = check_hands(model, performer.population, &performer.hands);
    let is_kept = |flag: &Flag| performer.kept_flags.contains(&flag.key());
    let open: Vec<Flag> = flags.into_iter().filter(|flag| !is_kept(flag)).collect();
    let filled = model.fill(performer.population, &trusted(&performer.hands, &open));
    (hands_to_draft(&filled, performer.master), open)
}

/// Both gloves of a performer as drafts, for a lay; and why there is none for a side.
#[must_use]
pub fn gloves_of(
    model: &HandModel,
    performer: &BatchPerformer,
    labels: &SheetLabels,
) -> (Vec<Glove>, Vec<(Side, DraftError)>) {
    let (hands, _) = drafted_hands(model, performer);
    let labels = SheetLabels {
        performer_code: performer.code.clone(),
        fabric: performer.fabric.clone(),
        ..labels.clone()
    };
    let (mut gloves, mut refused) = (Vec::new(), Vec::new());
    for side in Side::BOTH {
        match draft(hands.side(side), side, &performer.options) {
            Ok(draft) => gloves.push(Glove { draft, labels: labels.clone() }),
            Err(error) => refused.push((side, error)),
        }
    }
    (gloves, refused)
}

fn make(model: &HandModel, order: &BatchOrder, item: &BatchItem) -> Made {
    let performer = &item.performer;
    let (hands, open) = drafted_hands(model, performer);
    let used = trusted(&performer.hands, &open);
    let labels = SheetLabels {
        production: order.production.clone(),
        performer_code: performer.code.clone(),
        fabric: performer.fabric.clone(),
        version: item.version.clone(),
        date: item.date.clone(),
    };
    let mut files = Vec::new();
    let gloves = Side::BOTH.map(|side| {
        let hand = hands.side(side);
        let outcome = draft(hand, side, &performer.options)
            .map_err(|error| error.to_string())
            .and_then(|draft| {
                let bytes = pdf::render(&draft, &labels, order.paper).map_err(|e| e.to_string())?;
                let drawing = svg::render(&draft, &labels, SvgUse::Download).into_bytes();
                let name = |extension| file_name(&item.stem, side, &item.version, extension);
                let (pdf, svg, dxf) = (name("pdf"), name("svg"), name("dxf"));
                files.push((pdf.clone(), bytes));
                files.push((svg.clone(), drawing));
                files.push((dxf.clone(), dxf::render(&draft, &labels).into_bytes()));
                let pieces = draft.pieces.iter().map(CutPiece::of).collect();
                let remarks = draft.remarks.iter().map(ToString::to_string).collect();
                Ok(GloveFiles { pdf, svg, dxf, pieces, remarks })
            });
        let measured = performer.hands.side(side);
        let set_aside = measured.iter().filter(|(dimension, reading)| {
            reading.is_some() && used.side(side)[*dimension].is_none()
        });
        let set_aside = set_aside.map(|(dimension, _)| dimension).collect();
        BatchGlove { side, measured: hand.measured(), set_aside, outcome }
    });
    let result = BatchResult {
        code: performer.code.clone(),
        call: performer.call.clone(),
        fabric: performer.fabric.clone(),
        version: item.version.clone(),
        flags: open,
        gloves: gloves.into(),
    };
    Made { result, files }
}
