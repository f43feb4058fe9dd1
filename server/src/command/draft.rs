//! `handcall draft`: a roster with measurements to a folder of drafts.

use std::fs::File;
use std::io::{BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;

use analysis::model::HandModel;
use thiserror::Error;

use super::roster_args::{RosterArgs, RosterError};
use crate::batch::{self, BatchError, BatchOrder, BatchReport, FolderSink, Sink, ZipSink};
use crate::dates::today;
use crate::export::pdf::Paper;

/// `handcall draft`: drafts gloves for everybody in a roster with measurements.
#[derive(Debug, clap::Args)]
pub struct DraftArgs {
    #[command(flatten)]
    roster: RosterArgs,
    /// Folder for the drafts, made if it is missing; one ZIP if the name ends in `.zip`.
    #[arg(long)]
    out: PathBuf,
    /// Paper: a4, letter, a3, tabloid, or a roll such as roll-914 (mm).
    #[arg(long, default_value = "a4", value_parser = paper)]
    paper: Paper,
    /// Production, as it is to stand on the pieces.
    #[arg(long, default_value = "")]
    production: String,
    /// Version of the drafts.
    #[arg(long, default_value = "1")]
    version: String,
    /// Date on the pieces; today if left out.
    #[arg(long)]
    date: Option<String>,
}

pub(super) fn paper(key: &str) -> Result<Paper, String> {
    Paper::from_key(key).ok_or_else(|| "use a4, letter, a3, tabloid or roll-WIDTH in mm".to_owned())
}

/// Why no drafts were made.
#[derive(Debug, Error)]
pub enum DraftCommandError {
    /// The roster.
    #[error(transparent)]
    Roster(#[from] RosterError),
    /// The folder cannot be made.
    #[error("{0} cannot be made: {1}")]
    Folder(PathBuf, std::io::Error),
    /// The batch failed.
    #[error(transparent)]
    Batch(#[from] BatchError),
}

/// Runs the command: problems of the roster and progress on the error stream, the table on the
/// output.
///
/// # Errors
/// [`DraftCommandError`]; a performer who cannot be drafted is a line of the table.
pub fn run(args: &DraftArgs) -> Result<(), DraftCommandError> {
    let performers = args.roster.performers()?;
    let date = args.date.clone().unwrap_or_else(today);
    let order = BatchOrder::of_one_version(
        &args.production,
        (&args.version, &date),
        args.paper,
        performers,
    );
    let never = AtomicBool::new(false);
    let model = HandModel::published();
    let run =
        |sink: &mut dyn Sink| batch::run(&model, &order, sink, &progress_bar("performers"), &never);
    let report = if args.out.extension().is_some_and(|e| e.eq_ignore_ascii_case("zip")) {
        into_zip(&args.out, run)?
    } else {
        let mut sink = FolderSink::new(&args.out)
            .map_err(|error| DraftCommandError::Folder(args.out.clone(), error))?;
        run(&mut sink)?
    };
    // A closed pipe behind us is no failure of the drafts.
    let _ = write_table(&mut std::io::stdout().lock(), &report);
    Ok(())
}

/// Writes a batch into one ZIP, which takes its name last.
fn into_zip(
    path: &Path,
    run: impl FnOnce(&mut dyn Sink) -> Result<BatchReport, BatchError>,
) -> Result<BatchReport, BatchError> {
    let unfinished = path.with_extension("zip.part");
    let written = File::create(&unfinished).map_err(BatchError::from).and_then(|file| {
        let mut sink = ZipSink::new(BufWriter::new(file));
        let report = run(&mut sink)?;
        sink.finish()?;
        std::fs::rename(&unfinished, path)?;
        Ok(report)
    });
    if written.is_err() {
        // The first error is the one to report.
        let _ = std::fs::remove_file(&unfinished);
    }
    written
}

/// A bar on the error stream where somebody watches it; nothing where nobody does.
pub fn progress_bar(what: &str) -> impl Fn(usize, usize) + Sync {
    const WIDTH: usize = 30;
    let is_watched = std::io::stderr().is_terminal();
    let furthest = Mutex::new(0);
    move |done: usize, total: usize| {
        // Calls come from several threads; an older one may arrive late.
        let Ok(mut furthest) = furthest.lock() else { return };
        if !is_watched || done < *furthest || (done == *furthest && done > 0) {
            return;
        }
        *furthest = done;
        let filled = WIDTH * done / total.max(1);
        let end = if done == total { "\n" } else { "" };
        let (bar, rest) = ("#".repeat(filled), ".".repeat(WIDTH - filled));
        eprint!("\r[{bar}{rest}] {done} of {total} {what}{end}");
    }
}

/// Writes one line a glove: performer, measured, estimated, flags, draft file.
///
/// # Errors
/// When the output cannot be written.
pub fn write_table(out: &mut impl Write, report: &BatchReport) -> std::io::Result<()> {
    let widest = report.results.iter().map(|r| r.code.chars().count()).max().unwrap_or(0).max(9);
    writeln!(out, "{:widest$}  measured  estimated  flags  draft", "performer")?;
    for result in &report.results {
        for glove in &result.gloves {
            let measured = glove.measured;
            let estimated = analysis::dimension::Dimension::COUNT - measured;
            let is_here = |side: Option<_>| side.is_none_or(|side| side == glove.side);
            let flags = result.flags.iter().filter(|flag| is_here(flag.side)).count();
            let draft = match &glove.outcome {
                Ok(files) => files.pdf.clone(),
                Err(why) => format!("none, {} hand: {why}", glove.side.key()),
            };
            writeln!(
                out,
                "{:widest$}  {measured:8}  {estimated:9}  {flags:5}  {draft}",
                result.code
            )?;
        }
    }
    Ok(())
}
