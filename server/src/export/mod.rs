//! Sheets: a draft as lines and text on paper, screen or cutter.
//!
//! [`drawing`] turns a piece into ink once; each renderer only writes that ink down, so that the
//! page, the download and the print cannot differ.

pub mod check_bar;
pub mod csv;
pub mod drawing;
pub mod dxf;
pub mod font;
pub mod forecast;
mod hatching;
pub mod ink;
pub mod pdf;
mod placing;
#[cfg(test)]
mod sample;
pub mod svg;
#[cfg(test)]
mod text_tests;

use analysis::hand::Side;

/// What is written on every sheet beside the lines. Date and version are inputs: the same labels
/// and the same draft give the same bytes. The performer's name is deliberately absent.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SheetLabels {
    /// Name of the production.
    pub production: String,
    /// Code of the performer, never the name.
    pub performer_code: String,
    /// Name of the fabric.
    pub fabric: String,
    /// Version of the draft, for example "3".
    pub version: String,
    /// Date as it is to be read, for example "2026-03-14".
    pub date: String,
}

/// "Left" or "Right".
#[must_use]
pub fn side_name(side: Side) -> &'static str {
    match side {
        Side::Left => "Left",
        Side::Right => "Right",
    }
}
