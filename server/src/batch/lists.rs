//! The lists of a batch: what to cut, what to look at, whom to call, what goes on the bags.

use std::collections::BTreeMap;

use analysis::dimension::Dimension;
use analysis::hand::Side;

use super::report::{BatchReport, BatchResult, Called, FEW_READINGS};
use crate::calls;
use crate::export::csv::table;
use crate::export::pdf::paperwork::{self, BagLabel};
use crate::export::pdf::{Paper, PdfError};
use crate::export::side_name;
use crate::words;

/// Every piece to cut, one a line.
#[must_use]
pub fn cut_list_csv(report: &BatchReport) -> Vec<u8> {
    let header = [
        "performer",
        "side",
        "piece",
        "cut",
        "on_fold",
        "fabric",
        "width_mm",
        "height_mm",
        "version",
        "pdf",
        "svg",
        "dxf",
        "remarks",
    ];
    let mut rows = Vec::new();
    for result in &report.results {
        for glove in &result.gloves {
            let Ok(files) = &glove.outcome else { continue };
            for piece in &files.pieces {
                rows.push(vec![
                    result.code.clone(),
                    glove.side.key().to_owned(),
                    piece.name.clone(),
                    piece.cut.to_string(),
                    if piece.on_fold { "yes" } else { "no" }.to_owned(),
                    result.fabric.clone(),
                    format!("{:.0}", piece.width_mm.ceil()),
                    format!("{:.0}", piece.height_mm.ceil()),
                    result.version.clone(),
                    files.pdf.clone(),
                    files.svg.clone(),
                    files.dxf.clone(),
                    files.remarks.join(" "),
                ]);
            }
        }
    }
    table(&header, rows)
}

/// Who is flagged, short of measurements or without a draft, and why.
#[must_use]
pub fn attention_csv(report: &BatchReport) -> Vec<u8> {
    let w = words::all().of(words::FALLBACK);
    let mut rows = Vec::new();
    let mut row = |code: &str, side: &str, kind: &str, dimension: &str, why: String| {
        rows.push(vec![
            code.to_owned(),
            side.to_owned(),
            kind.to_owned(),
            dimension.to_owned(),
            why,
        ]);
    };
    for result in &report.results {
        let code = result.code.as_str();
        for glove in &result.gloves {
            if let Err(why) = &glove.outcome {
                row(code, glove.side.key(), "not_drafted", "", why.clone());
            }
        }
        for glove in &result.gloves {
            for dimension in &glove.set_aside {
                let why = format!(
                    "{} of this hand is flagged and left out of the draft until it is measured again, repaired or kept.",
                    dimension.name()
                );
                row(code, glove.side.key(), "set_aside", dimension.key(), why);
            }
        }
        for flag in &result.flags {
            let side = flag.side.map_or("both", |side| side.key());
            let dimension = flag.dimension.map_or("", |dimension| dimension.key());
            row(code, side, flag.kind.key(), dimension, words::sentence(w, &flag.says));
        }
        let measured = result.measured();
        if measured < FEW_READINGS {
            let of = measured + result.estimated();
            let why = format!(
                "{measured} of {of} dimensions of both hands are measured; the rest is estimated from published figures."
            );
            row(code, "both", "few_readings", "", why);
        }
    }
    table(&["performer", "side", "kind", "dimension", "why"], rows)
}

const CALL_SHEET: [&str; 7] =
    ["call", "performer", "fabric", "measured", "what to do", "time", "done"];

/// Those called together stand together, calls in the order of their first appearance, whoever has
/// none at the end; in each, those to be measured again behind the others.
fn call_sheet_rows(report: &BatchReport) -> Vec<Vec<String>> {
    let row = |call: &str, code: &str, fabric: &str, measured: usize, what: String| {
        let measured = format!("{measured} of {}", 2 * Dimension::COUNT);
        let cells = [call, code, fabric, &measured, &what, "", ""];
        (call.to_owned(), cells.map(str::to_owned).to_vec())
    };
    let drafted = |result: &BatchResult| {
        let measured = result.measured();
        let what = if !result.flags.is_empty() {
            let flagged = result.flags.iter().map(|flag| place_of(flag.side, flag.dimension));
            format!("measure again: {}", flagged.collect::<Vec<_>>().join(", "))
        } else if measured < FEW_READINGS {
            "measure more: most of these hands is estimated".to_owned()
        } else {
            "fit the test glove".to_owned()
        };
        row(&result.call, &result.code, &result.fabric, measured, what)
    };
    let left_out = |one: &Called| {
        let what = match one.helps_most {
            Some((side, dimension)) => {
                format!("measure again: {}", place_of(Some(side), Some(dimension)))
            }
            None => "measure again".to_owned(),
        };
        row(&one.call, &one.code, &one.fabric, one.measured, what)
    };
    let again = report.again.iter().map(left_out);
    let mut rows: Vec<_> = report.results.iter().map(drafted).chain(again).collect();
    let calls = calls::distinct(rows.iter().map(|(call, _)| call.as_str()));
    rows.sort_by_key(|(call, _)| {
        calls.iter().position(|known| calls::is_same(known, call)).unwrap_or(calls.len())
    });
    rows.into_iter().map(|(_, cells)| cells).collect()
}

/// What a flag speaks of, for example "left hand girth".
fn place_of(side: Option<Side>, dimension: Option<Dimension>) -> String {
    let what = dimension.map_or("whole hand", |dimension| dimension.name()).to_lowercase();
    match side {
        Some(side) => format!("{} {what}", side.key()),
        None => format!("both sides, {what}"),
    }
}

/// Whom to call and what for, with room for times and ticks.
#[must_use]
pub fn call_sheet_csv(report: &BatchReport) -> Vec<u8> {
    table(&CALL_SHEET, call_sheet_rows(report))
}

/// The call sheet on paper.
///
/// # Errors
/// [`PdfError`].
pub fn call_sheet_pdf(
    production: &str,
    report: &BatchReport,
    paper: Paper,
) -> Result<Vec<u8>, PdfError> {
    let title = format!("Call sheet {production}");
    paperwork::list(title.trim(), &CALL_SHEET, &call_sheet_rows(report), paper)
}

/// The cut list on paper, with room to tick.
///
/// # Errors
/// [`PdfError`].
pub fn cut_list_pdf(
    production: &str,
    report: &BatchReport,
    paper: Paper,
) -> Result<Vec<u8>, PdfError> {
    let header = ["performer", "side", "piece", "cut", "fabric", "size, mm", "version", "done"];
    let mut rows = Vec::new();
    for result in &report.results {
        for glove in &result.gloves {
            let Ok(files) = &glove.outcome else { continue };
            for piece in &files.pieces {
                let fold = if piece.on_fold { " on the fold" } else { "" };
                rows.push(vec![
                    result.code.clone(),
                    glove.side.key().to_owned(),
                    piece.name.clone(),
                    format!("{}{fold}", piece.cut),
                    result.fabric.clone(),
                    format!("{:.0} x {:.0}", piece.width_mm.ceil(), piece.height_mm.ceil()),
                    result.version.clone(),
                    String::new(),
                ]);
            }
        }
    }
    paperwork::list(format!("Cut list {production}").trim(), &header, &rows, paper)
}

/// Gloves and pieces by fabric, with the cloth the bare boxes of the pieces would take; a lay takes
/// less.
#[must_use]
pub fn order_csv(report: &BatchReport) -> Vec<u8> {
    let mut fabrics: BTreeMap<&str, (usize, usize, u32, f64)> = BTreeMap::new();
    for result in &report.results {
        let drafted = result.gloves.iter().filter_map(|glove| glove.outcome.as_ref().ok());
        let sum = fabrics.entry(&result.fabric).or_default();
        sum.0 += 1;
        for piece in drafted.inspect(|_| sum.1 += 1).flat_map(|files| &files.pieces) {
            sum.2 += piece.cut;
            sum.3 += f64::from(piece.cut) * piece.width_mm * piece.height_mm / 1e6;
        }
    }
    let rows = fabrics.into_iter().map(|(fabric, (performers, gloves, pieces, area))| {
        vec![
            fabric.to_owned(),
            performers.to_string(),
            gloves.to_string(),
            pieces.to_string(),
            format!("{area:.2}"),
        ]
    });
    table(&["fabric", "performers", "gloves", "pieces", "boxes_m2"], rows.collect())
}

/// A label for every glove that was drafted; `link` gives the address of a performer's page by
/// their place in the report.
///
/// # Errors
/// [`PdfError::Empty`] when no glove was drafted.
pub fn labels_pdf(
    (production, date): (&str, &str),
    report: &BatchReport,
    paper: Paper,
    link: &dyn Fn(usize) -> Option<String>,
) -> Result<Vec<u8>, PdfError> {
    let mut all = Vec::new();
    for (place, result) in report.results.iter().enumerate() {
        for glove in result.gloves.iter().filter(|glove| glove.outcome.is_ok()) {
            let version = [format!("version {}", result.version), date.to_owned()];
            all.push(BagLabel {
                heading: format!("{} {}", result.code, side_name(glove.side)),
                lines: vec![
                    production.to_owned(),
                    result.fabric.clone(),
                    version.join(", ").trim_end_matches(", ").to_owned(),
                ],
                link: link(place),
            });
        }
    }
    paperwork::labels(format!("Labels {production}").trim(), &all, paper)
}
