//! What a draft is made of: pieces with their lines and marks. All coordinates are mm in the
//! piece's own frame, y up; renderers flip for page coordinates.

use kurbo::{Affine, BezPath, Line, Point, Rect, Shape, Vec2};

use crate::hand::Side;

use super::forecast::{FitForecast, Zone};
use super::remark::Remark;

/// Which part of a glove a piece is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PieceKind {
    /// Palm and back in one outline, to be cut on the fold along the index side.
    PalmAndBack,
    /// The thumb, folded along its back.
    Thumb,
    /// A strip between two fingers, or both strips of one space as one piece.
    Fourchette,
    /// A small diamond between the roots of two fourchettes.
    Quirk,
    /// One of the two casings of the opening at the wrist.
    Casing,
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
    /// A straight cut into the piece: between two fingers, or the opening at the wrist.
    Slit,
    /// Other lines inside the piece: hem line, wrist line.
    Internal,
}

/// How a mark on a seam line is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotchKind {
    /// A notch, cut or drawn boldly.
    Notch,
    /// A plain tick, for pinning.
    Tick,
}

/// A short mark across a seam line that meets its twin on another piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Notch {
    /// Where it stands on the seam line.
    pub at: Point,
    /// Unit vector out of the piece; round a hole, into the hole.
    pub outward: Vec2,
    /// The same on both pieces, for example "T3".
    pub label: String,
    /// Notch or plain tick.
    pub kind: NotchKind,
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

/// Width of a letter over height of a capital (assumed: a plain sans serif, on the wide side).
const LETTER_WIDTH: f64 = 0.75;

/// How far letters reach below the base line over height of a capital (assumed, as above).
const DESCENT: f64 = 0.32;

impl Mark {
    /// A level text whose left end stands at `at`.
    pub(super) fn level(at: Point, size_mm: f64, text: &str) -> Mark {
        Mark { at, angle: 0.0, size_mm, text: text.to_owned() }
    }

    /// A text that reads upwards from `at`.
    pub(super) fn upright(at: Point, size_mm: f64, text: &str) -> Mark {
        Mark { at, angle: std::f64::consts::FRAC_PI_2, size_mm, text: text.to_owned() }
    }

    /// Corners of the box the text is allowed to fill, counter-clockwise from below `at`.
    #[must_use]
    pub fn corners(&self) -> [Point; 4] {
        let along = Vec2::from_angle(self.angle);
        let up = Vec2::new(-along.y, along.x) * self.size_mm;
        let width = along * (self.text.chars().count() as f64 * LETTER_WIDTH * self.size_mm);
        let low = self.at - up * DESCENT;
        [low, low + width, self.at + width + up, self.at + up]
    }

    /// The same text in the mirrored place, still readable.
    fn mirrored(&self) -> Mark {
        let [a, b, c, d] = self.corners();
        let mirror = |p: Point| Point::new(-p.x, p.y);
        let half = (b - a + (d - a)) * 0.5;
        let low = mirror(a.midpoint(c)) - half;
        Mark { at: low + (self.at - a), ..self.clone() }
    }
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
    /// Cloth left between seam line and outer cut line, mm: nowhere less.
    pub allowance_mm: f64,
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

    /// The outer line of a layer: the first one, by construction.
    #[must_use]
    pub fn outline(&self, layer: Layer) -> Option<&BezPath> {
        self.lines.iter().find(|(l, _)| *l == layer).map(|(_, path)| path)
    }

    /// The piece for the other hand.
    pub(super) fn mirrored(&self) -> Piece {
        let flip = Affine::FLIP_X;
        let mut piece = self.clone();
        for (_, path) in &mut piece.lines {
            path.apply_affine(flip);
        }
        for notch in &mut piece.notches {
            notch.at = flip * notch.at;
            notch.outward.x = -notch.outward.x;
        }
        for mark in &mut piece.marks {
            *mark = mark.mirrored();
        }
        piece.label_area =
            Rect::from_points(flip * self.label_area.origin(), flip * self.label_area_end());
        piece.grain = flip * self.grain;
        piece
    }

    fn label_area_end(&self) -> Point {
        Point::new(self.label_area.x1, self.label_area.y1)
    }
}

/// A level across a piece where girth is controlled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Which zone of the hand.
    pub zone: Zone,
    /// Position of the piece in [`Draft::pieces`].
    pub piece: usize,
    /// From the fold or one seam to the other; the piece is to be measured along it.
    pub line: Line,
    /// Girth of other pieces at this level, mm: the fourchettes beside a finger.
    pub beside_mm: f64,
    /// Girth of the glove after ease, mm: twice the length along the line and what lies beside.
    pub girth_mm: f64,
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
    /// By how much the first is meant to be longer, to be eased in; 0 for most seams.
    pub eased_mm: f64,
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
    /// Levels where girth is controlled.
    pub levels: Vec<Level>,
    /// Seam allowance, mm; round the thumb hole nowhere less.
    pub allowance_mm: f64,
    /// Width of the flat crotches, mm: as asked, or narrower where the fingers found no room.
    pub crotch_width_mm: f64,
    /// The floors of the crotches on the palm half of the first piece, from the index finger on.
    pub crotches: Vec<Line>,
    /// How the glove sits on the hand.
    pub forecast: FitForecast,
    /// Remarks for the cutter: what could not be kept, what was added.
    pub remarks: Vec<Remark>,
}

impl Draft {
    /// The draft for the other hand: mirrored, nothing else.
    pub(super) fn mirrored(self) -> Draft {
        let flip = Affine::FLIP_X;
        Draft {
            side: self.side.other(),
            pieces: self.pieces.iter().map(Piece::mirrored).collect(),
            levels: self
                .levels
                .iter()
                .map(|level| Level { line: flip * level.line, ..*level })
                .collect(),
            crotches: self.crotches.iter().map(|floor| flip * *floor).collect(),
            ..self
        }
    }
}
