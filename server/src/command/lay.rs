//! `handcall lay`: the pieces of a cast on cloth, fabric by fabric.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use analysis::check::{check_hands, trusted};
use analysis::draft::{Draft, draft};
use analysis::hand::Side;
use analysis::model::HandModel;
use kurbo::{Affine, Point};
use thiserror::Error;

use super::draft::today;
use super::roster_args::{RosterArgs, RosterError};
use crate::batch::{BatchPerformer, FolderSink, Sink, stems};
use crate::export::SheetLabels;
use crate::export::csv::table;
use crate::export::drawing::piece_ink;
use crate::export::ink::Ink;
use crate::export::svg;
use crate::lay::outline;
use crate::lay::search::{Cloth, Lay, LayError, bottom_left, search};

/// Chords of an outline, mm; they lie well within the gap.
const CHORD_MM: f64 = 0.2;

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
}

struct Glove {
    draft: Draft,
    labels: SheetLabels,
}

/// Runs the command: one SVG a fabric, and what to buy as a table and as `cloth.csv`.
///
/// # Errors
/// [`LayCommandError`]; a performer who cannot be drafted is named and left out.
pub fn run(args: &LayArgs) -> Result<(), LayCommandError> {
    let performers = args.roster.performers()?;
    let mut sink = FolderSink::new(&args.out)?;
    let model = HandModel::published();
    let date = today();
    let mut fabrics: BTreeMap<String, Vec<Glove>> = BTreeMap::new();
    for performer in &performers {
        fabrics.entry(performer.fabric.clone()).or_default().extend(gloves_of(
            &model,
            performer,
            &args.production,
            &date,
        ));
    }
    let names: Vec<&str> = fabrics.keys().map(String::as_str).collect();
    let stems = stems(&names);
    let cloth = Cloth { width_mm: args.width, gap_mm: args.gap, may_lie_head_down: !args.one_way };
    let mut rows = Vec::new();
    let mut out = std::io::stdout().lock();
    for ((fabric, mut gloves), stem) in fabrics.into_iter().zip(stems) {
        add_spares(&mut gloves, args.spare);
        let pieces: Vec<(usize, usize)> = gloves
            .iter()
            .enumerate()
            .flat_map(|(glove, g)| (0..g.draft.pieces.len()).map(move |piece| (glove, piece)))
            .collect();
        let outlines: Vec<Vec<Point>> = gloves
            .iter()
            .flat_map(|glove| &glove.draft.pieces)
            .map(|piece| outline(piece, Affine::IDENTITY, CHORD_MM))
            .collect();
        let named = |error| LayCommandError::Lay(fabric.clone(), error);
        let plain = bottom_left(&outlines, cloth).map_err(named)?;
        let (began, budget) = (Instant::now(), Duration::from_secs(args.seconds.max(1)));
        let share = || began.elapsed().as_secs_f64() / budget.as_secs_f64();
        let lay = search(&outlines, cloth, &share).map_err(named)?;
        let name = format!("lay-{stem}.svg");
        sink.file(&name, drawing(&gloves, &pieces, &lay, cloth).as_bytes())?;
        // A closed pipe behind us is no failure of the lays.
        let _ = writeln!(
            out,
            "{fabric}: {} gloves, {} pieces: {:.2} m of {:.0} mm, {:.1} % used (largest first: {:.2} m, {:.1} %): {name}",
            gloves.len(),
            pieces.len(),
            lay.length_mm / 1000.0,
            args.width,
            lay.used * 100.0,
            plain.length_mm / 1000.0,
            plain.used * 100.0
        );
        rows.push(vec![
            fabric.clone(),
            gloves.len().to_string(),
            pieces.len().to_string(),
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

fn gloves_of(
    model: &HandModel,
    performer: &BatchPerformer,
    production: &str,
    date: &str,
) -> Vec<Glove> {
    let flags = check_hands(model, performer.population, &performer.hands);
    let filled = model.fill(performer.population, &trusted(&performer.hands, &flags));
    let labels = SheetLabels {
        production: production.to_owned(),
        performer_code: performer.code.clone(),
        fabric: performer.fabric.clone(),
        version: "1".to_owned(),
        date: date.to_owned(),
    };
    let mut gloves = Vec::new();
    for side in Side::BOTH {
        match draft(filled.side(side), side, &performer.options) {
            Ok(draft) => gloves.push(Glove { draft, labels: labels.clone() }),
            Err(error) => eprintln!("{}, {}: {error}", performer.code, side.key()),
        }
    }
    gloves
}

/// Adds the largest pairs once more.
fn add_spares(gloves: &mut Vec<Glove>, pairs: usize) {
    let size = |glove: &Glove| -> f64 {
        glove.draft.pieces.iter().map(|piece| piece.bounds().area()).sum()
    };
    let mut largest: Vec<Glove> = Vec::new();
    for side in Side::BOTH {
        let mut of_side: Vec<&Glove> = gloves.iter().filter(|g| g.draft.side == side).collect();
        of_side.sort_by(|a, b| size(b).total_cmp(&size(a)));
        for glove in of_side.into_iter().take(pairs) {
            let mut labels = glove.labels.clone();
            labels.performer_code += " spare";
            largest.push(Glove { draft: glove.draft.clone(), labels });
        }
    }
    gloves.append(&mut largest);
}

fn drawing(gloves: &[Glove], pieces: &[(usize, usize)], lay: &Lay, cloth: Cloth) -> String {
    let mut ink = Ink::default();
    for laid in &lay.laid {
        let Some((glove, piece)) = pieces.get(laid.piece) else { continue };
        let Some(glove) = gloves.get(*glove) else { continue };
        let Some(piece) = glove.draft.pieces.get(*piece) else { continue };
        ink.add(&piece_ink(piece, glove.draft.side, &glove.labels), laid.motion);
    }
    svg::render_ink("lay", "Lay", &ink, kurbo::Size::new(cloth.width_mm, lay.length_mm))
}
