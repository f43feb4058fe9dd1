//! What became of everybody in a batch.

use analysis::check::Flag;
use analysis::dimension::Dimension;
use analysis::draft::Piece;
use analysis::hand::Side;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Readings over both hands below which a performer is listed as short of measurements (assumed:
/// five whole-hand dimensions and three finger lengths fix most of a hand).
pub const FEW_READINGS: usize = 8;

/// How a batch ended.
#[derive(Debug, Clone, Default)]
pub struct BatchReport {
    /// Every performer, in the sequence of the order.
    pub results: Vec<BatchResult>,
    /// Whoever was left out to be measured again: they are called as well.
    pub again: Vec<Called>,
}

/// A performer who is called and not drafted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Called {
    /// Who they are called with, or empty.
    pub call: String,
    /// Code.
    pub code: String,
    /// Fabric.
    pub fabric: String,
    /// Dimensions of both hands that were measured.
    pub measured: usize,
    /// The one reading that would help most, if one stands out.
    pub helps_most: Option<(Side, Dimension)>,
}

/// What became of a performer.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct BatchResult {
    /// Code.
    pub code: String,
    /// Who they are called with, or empty.
    #[serde(default)]
    pub call: String,
    /// Fabric.
    pub fabric: String,
    /// Version of the drafts.
    pub version: String,
    /// What the check flagged and nobody kept.
    pub flags: Vec<Flag>,
    /// Left and right.
    pub gloves: Vec<BatchGlove>,
}

impl BatchResult {
    /// Dimensions that rest on a reading, over both hands.
    #[must_use]
    pub fn measured(&self) -> usize {
        self.gloves.iter().map(|glove| glove.measured).sum()
    }

    /// Names of the files of the gloves that were drafted.
    pub fn files(&self) -> impl Iterator<Item = &String> {
        let drafted = self.gloves.iter().filter_map(|glove| glove.outcome.as_ref().ok());
        drafted.flat_map(|files| [&files.pdf, &files.svg, &files.dxf])
    }

    /// Dimensions that were estimated, over both hands.
    #[must_use]
    pub fn estimated(&self) -> usize {
        2 * Dimension::COUNT - self.measured()
    }
}

/// A glove of the report.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct BatchGlove {
    /// Which hand.
    pub side: Side,
    /// Dimensions of this hand that rest on a reading.
    pub measured: usize,
    /// Readings that the draft leaves aside until their flag is decided.
    pub set_aside: Vec<Dimension>,
    /// The draft and its files, or why there is none.
    pub outcome: Result<GloveFiles, String>,
}

/// What was drafted of a glove.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct GloveFiles {
    /// Name of the PDF.
    pub pdf: String,
    /// Name of the SVG.
    pub svg: String,
    /// Name of the DXF.
    pub dxf: String,
    /// What to cut.
    pub pieces: Vec<CutPiece>,
    /// Remarks of the draft.
    pub remarks: Vec<String>,
}

/// A line of the cut list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CutPiece {
    /// Name of the piece.
    pub name: String,
    /// How many to cut.
    pub cut: u32,
    /// Whether it is cut on the fold.
    pub on_fold: bool,
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}

impl CutPiece {
    /// The line of a piece.
    #[must_use]
    pub fn of(piece: &Piece) -> CutPiece {
        let bounds = piece.bounds();
        CutPiece {
            name: piece.name.clone(),
            cut: piece.cut,
            on_fold: piece.on_fold,
            width_mm: bounds.width(),
            height_mm: bounds.height(),
        }
    }
}
