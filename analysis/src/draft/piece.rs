//! What a draft is made of: pieces with their lines and marks. All coordinates are mm in the
//! piece's own frame, y up; renderers flip for page coordinates.

use kurbo::{BezPath, Line, Point, Rect, Shape};

use crate::hand::Side;

/// Which part of a glove a piece is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PieceKind {
    /// Palm and back in one outline, to be cut on the fold along the index side.
    PalmAndBack,
    /// The thumb, folded along its back.
    Thumb,
}

/// Which lines a path belongs to; renderers and exporters group by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layer {
    /// Where the cloth is cut.
    Cut,
    /// Where it is sewn.
    Seam,
    /// Where it is folded.
    Fold,
    /// Direction of the grain, and of the greatest stretch.
    Grain,
    /// A hole cut inside the piece (the thumb hole); its seam line lies outside it.
    Hole,
    /// Other lines inside the piece: hem line, wrist line.
    Internal,
}

/// A short mark across a seam line that meets its twin on another piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Notch {
    /// Where it stands on the seam line.
    pub at: Point,
    /// Unit vector out of the piece.
    pub outward: kurbo::Vec2,
    /// The same on both pieces, for example "T3".
    pub label: String,
}

/// Text on a piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Left end of the base line.
    pub at: Point,
    /// Direction of the base line, radians, counter-clockwise.
    pub angle: f64,
    /// Height of a capital, mm.
    pub size_mm: f64,
    /// The text.
    pub text: String,
}

/// One pattern piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Which part it is.
    pub kind: PieceKind,
    /// Name for people.
    pub name: String,
    /// How many to cut for one glove.
    pub cut: u32,
    /// Every line by layer. Seam and cut lines are closed; a piece cut on the fold is drawn whole
    /// or as a half with a [`Layer::Fold`] edge, and says so in `on_fold`.
    pub lines: Vec<(Layer, BezPath)>,
    /// Whether the piece is drawn as a half, to be cut on folded cloth.
    pub on_fold: bool,
    /// Notches.
    pub notches: Vec<Notch>,
    /// Places and sizes of text that belong to the geometry (notch numbers are in `notches`).
    pub marks: Vec<Mark>,
    /// A clear rectangle inside the piece where a renderer may write its label block.
    pub label_area: Rect,
    /// The grain line.
    pub grain: Line,
}

impl Piece {
    /// Bounding box of all lines, mm.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        self.lines
            .iter()
            .map(|(_, path)| path.bounding_box())
            .reduce(|a, b| a.union(b))
            .unwrap_or(Rect::ZERO)
    }
}

/// Two seam lines that are sewn together.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamPair {
    /// What is sewn, for example "thumb base to thumb hole".
    pub name: String,
    /// Length of the first, mm.
    pub first_mm: f64,
    /// Length of the second, mm.
    pub second_mm: f64,
}

/// A drafted glove.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Which hand.
    pub side: Side,
    /// Its pieces.
    pub pieces: Vec<Piece>,
    /// Seams that are sewn together, with their lengths.
    pub seams: Vec<SeamPair>,
    /// Remarks for the cutter: what could not be kept, what was added.
    pub remarks: Vec<String>,
}

pub(crate) fn stand_in(side: Side) -> Draft {
    let body = Rect::new(0.0, -20.0, 160.0, 185.0);
    let piece = Piece {
        kind: PieceKind::PalmAndBack,
        name: "Palm and back".to_owned(),
        cut: 1,
        lines: vec![
            (Layer::Cut, body.inflate(3.0, 3.0).to_path(0.01)),
            (Layer::Seam, body.to_path(0.01)),
        ],
        on_fold: false,
        notches: Vec::new(),
        marks: Vec::new(),
        label_area: Rect::new(90.0, 10.0, 150.0, 60.0),
        grain: Line::new((80.0, 0.0), (80.0, 80.0)),
    };
    Draft { side, pieces: vec![piece], seams: Vec::new(), remarks: Vec::new() }
}
