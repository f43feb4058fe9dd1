//! `handcall lay`: the pieces of a cast on cloth, fabric by fabric.

use std::io::Write;
use std::path::PathBuf;
use std::time::Instant;

use analysis::model::HandModel;
use thiserror::Error;

use super::draft::progress_bar;
use super::roster_args::{RosterArgs, RosterError};
use crate::batch::{FolderSink, Sink, gloves_of, stems};
use crate::dates::today;
use crate::export::SheetLabels;
use crate::export::csv::table;
use crate::export::pdf::PdfError;
use crate::lay::cast::Cutting;
use crate::lay::search::{Cloth, Lay, LayError, search};

/// `handcall lay`: lays the gloves of everybody in a roster on cloth.
#[derive(Debug, clap::Args)]
pub struct LayArgs {
    #[command(flatten)]
    roster: RosterArgs,
    /// Folder for the lays; made if it is missing.
    #[arg(long)]
    out: PathBuf,
    /// Usable width of the cloth, mm.
    #[arg(long, default_value_t = 1400.0, value_parser = millimetres)]
    width: f64,
    /// Room between pieces, mm.
    #[arg(long, default_value_t = 3.0, value_parser = millimetres)]
    gap: f64,
    /// Never lay a piece head down: for cloth with a nap or a pattern that has a top.
    #[arg(long)]
    one_way: bool,
    /// Seconds to search for each fabric.
    #[arg(long, default_value_t = 30)]
    seconds: u64,
    /// Pairs more, of the largest gloves, for test gloves.
    #[arg(long, default_value_t = 0)]
    spare: usize,
    /// Production, as it is to stand on the pieces.
    #[arg(long, default_value = "")]
    production: String,
}

fn millimetres(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(mm) if (0.0..=10_000.0).contains(&mm) => Ok(mm),
        _ => Err("use millimetres, 0 to 10000".to_owned()),
    }
}

/// Why there is no lay.
#[derive(Debug, Error)]
pub enum LayCommandError {
    /// The roster.
    #[error(transparent)]
    Roster(#[from] RosterError),
    /// The cloth.
    #[error("{0}: {1}")]
    Lay(String, LayError),
    /// A file.
    #[error("A lay cannot be written: {0}")]
    Write(#[from] std::io::Error),
    /// A page.
    #[error("A lay cannot be written: {0}")]
    Pdf(#[from] PdfError),
}

/// Runs the command: each fabric as SVG, DXF and PDF, and what to buy as a table and as `cloth.csv`.
///
/// # Errors
/// [`LayCommandError`]; a performer who cannot be drafted is named and left out.
pub fn run(args: &LayArgs) -> Result<(), LayCommandError> {
    let performers = args.roster.performers()?;
    let mut sink = FolderSink::new(&args.out)?;
    let model = HandModel::published();
    let labels = SheetLabels {
        production: args.production.clone(),
        performer_code: String::new(),
        fabric: String::new(),
        version: "1".to_owned(),
        date: today(),
    };
    let mut gloves = Vec::new();
    for performer in &performers {
        let (drafted, refused) = gloves_of(&model, performer, &labels);
        gloves.extend(drafted);
        for (side, error) in refused {
            eprintln!("{}, {}: {error}", performer.code, side.key());
        }
    }
    let cuttings = Cutting::by_fabric(gloves, args.spare);
    let names: Vec<&str> = cuttings.iter().map(|cutting| cutting.fabric.as_str()).collect();
    let stems = stems(&names);
    let cloth = Cloth { width_mm: args.width, gap_mm: args.gap, may_lie_head_down: !args.one_way };
    let mut rows = Vec::new();
    let mut out = std::io::stdout().lock();
    for (cutting, stem) in cuttings.iter().zip(stems) {
        let fabric = &cutting.fabric;
        let lay = laid(cutting, cloth, args.seconds)?;
        let name = format!("lay-{stem}.svg");
        sink.file(&name, cutting.svg(&lay, cloth).as_bytes())?;
        sink.file(&format!("lay-{stem}.dxf"), cutting.dxf(&lay).as_bytes())?;
        sink.file(&format!("lay-{stem}.pdf"), &cutting.pdf(&lay, cloth)?)?;
        let (gloves, pieces) = (cutting.gloves.len(), cutting.outlines.len());
        // A closed pipe behind us is no failure of the lays.
        let _ = writeln!(
            out,
            "{fabric}: {gloves} gloves, {pieces} pieces: {:.2} m of {:.0} mm, {:.1} % used (largest first: {:.2} m, {:.1} %): {name}",
            lay.length_mm / 1000.0,
            args.width,
            lay.used * 100.0,
            lay.plain_mm / 1000.0,
            lay.used * lay.length_mm / lay.plain_mm * 100.0
        );
        rows.push(vec![
            fabric.clone(),
            gloves.to_string(),
            pieces.to_string(),
            format!("{:.0}", args.width),
            format!("{:.0}", lay.length_mm.ceil()),
            format!("{:.1}", lay.used * 100.0),
            name,
        ]);
    }
    let header = ["fabric", "gloves", "pieces", "width_mm", "length_mm", "used_percent", "lay"];
    sink.file("cloth.csv", &table(&header, rows))?;
    Ok(())
}

/// Searches for so many seconds, with a bar on the error stream.
fn laid(cutting: &Cutting, cloth: Cloth, seconds: u64) -> Result<Lay, LayCommandError> {
    let budget = seconds.max(1) as usize;
    let (began, bar) = (Instant::now(), progress_bar("seconds"));
    bar(0, budget);
    let share = || {
        let gone = began.elapsed().as_secs_f64();
        bar((gone as usize).min(budget - 1), budget);
        gone / budget as f64
    };
    let lay = search(&cutting.outlines, cloth, &share)
        .map_err(|error| LayCommandError::Lay(cutting.fabric.clone(), error))?;
    bar(budget, budget);
    Ok(lay)
}
