//! The lists of a batch as CSV: what to cut, and what to look at.

use super::report::{BatchReport, FEW_READINGS};
use crate::export::csv::table;

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
            row(code, side, flag.kind.key(), dimension, flag.sentence.clone());
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
