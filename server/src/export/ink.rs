//! What a sheet is drawn with: strokes, filled shapes and text, sorted into named groups.

use kurbo::{Affine, BezPath, Point};

/// A named group of lines. Each has its own weight and dash, so that a print without colour, or
/// seen by somebody who tells no colours apart, can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Group {
    /// Where the cloth is cut, holes included.
    Cut,
    /// Where it is sewn.
    Seam,
    /// Where it is folded.
    Fold,
    /// Grain and greatest stretch.
    Grain,
    /// Notches and their numbers.
    Notches,
    /// Lines and texts that belong to the geometry: hem line, wrist line, marks.
    Marks,
    /// What the piece is and whom it is for.
    Labels,
    /// The check bars.
    Check,
    /// Where sheets of paper are trimmed and joined.
    Join,
    /// Hatching of the fit forecast.
    Hatch,
}

/// How a group's lines are drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineStyle {
    /// Width of the line, mm.
    pub width_mm: f64,
    /// Lengths of dash and gap in turn, mm; empty for a solid line.
    pub dash_mm: &'static [f64],
}

impl Group {
    /// Every group, in drawing order.
    pub const ALL: [Group; 10] = [
        Group::Hatch,
        Group::Seam,
        Group::Fold,
        Group::Marks,
        Group::Grain,
        Group::Notches,
        Group::Labels,
        Group::Check,
        Group::Join,
        Group::Cut,
    ];

    /// Stable name, used for groups in files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Group::Cut => "cut",
            Group::Seam => "seam",
            Group::Fold => "fold",
            Group::Grain => "grain",
            Group::Notches => "notches",
            Group::Marks => "marks",
            Group::Labels => "labels",
            Group::Check => "check",
            Group::Join => "join",
            Group::Hatch => "hatch",
        }
    }

    /// Weight and dash of the group's lines. All are `common practice`: the cut line is the
    /// heaviest and solid, the seam line is dashed, the fold is a chain line. No line is thinner
    /// than 0.18 mm, about two dots at 300 dpi, so that a cheap printer does not drop it.
    #[must_use]
    pub fn line(self) -> LineStyle {
        let (width_mm, dash_mm): (f64, &'static [f64]) = match self {
            Group::Cut => (0.5, &[]),
            Group::Seam => (0.3, &[3.0, 1.5]),
            Group::Fold => (0.35, &[9.0, 1.5, 1.5, 1.5]),
            Group::Grain => (0.25, &[]),
            Group::Notches => (0.35, &[]),
            Group::Marks => (0.18, &[0.8, 1.2]),
            Group::Hatch => (0.18, &[]),
            Group::Labels | Group::Check => (0.2, &[]),
            Group::Join => (0.25, &[6.0, 2.0]),
        };
        LineStyle { width_mm, dash_mm }
    }
}

/// Where a text is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// At its left end.
    Start,
    /// At its middle.
    Middle,
}

/// One thing drawn. Coordinates are mm, y up.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A line in the style of its group.
    Stroke(BezPath),
    /// A filled outline.
    Fill(BezPath),
    /// A line of text.
    Text {
        /// Where it is held on the base line.
        at: Point,
        /// Direction of the base line, radians, counter-clockwise.
        angle: f64,
        /// Height of a capital, mm.
        cap_mm: f64,
        /// Which end is held.
        anchor: Anchor,
        /// The words.
        text: String,
    },
}

impl Shape {
    /// The shape moved and turned by a rigid motion.
    #[must_use]
    pub fn moved(&self, motion: Affine) -> Shape {
        match self {
            Shape::Stroke(path) => Shape::Stroke(motion * path.clone()),
            Shape::Fill(path) => Shape::Fill(motion * path.clone()),
            Shape::Text { at, angle, cap_mm, anchor, text } => {
                let [cos, sin, ..] = motion.as_coeffs();
                Shape::Text {
                    at: motion * *at,
                    angle: angle + sin.atan2(cos),
                    cap_mm: *cap_mm,
                    anchor: *anchor,
                    text: text.clone(),
                }
            }
        }
    }
}

/// Shapes by group, in the order they were drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ink(Vec<(Group, Shape)>);

impl Ink {
    /// Draws a line.
    pub fn stroke(&mut self, group: Group, path: BezPath) {
        self.0.push((group, Shape::Stroke(path)));
    }

    /// Fills an outline.
    pub fn fill(&mut self, group: Group, path: BezPath) {
        self.0.push((group, Shape::Fill(path)));
    }

    /// Writes a line of text held at `at`; control characters in it become spaces. An empty text
    /// draws nothing.
    pub fn text(
        &mut self,
        group: Group,
        (at, angle, anchor): (Point, f64, Anchor),
        cap_mm: f64,
        text: impl Into<String>,
    ) {
        let text = text.into().replace(char::is_control, " ");
        if !text.trim().is_empty() {
            self.0.push((group, Shape::Text { at, angle, cap_mm, anchor, text }));
        }
    }

    /// Adds another drawing, moved and turned by a rigid motion.
    pub fn add(&mut self, other: &Ink, motion: Affine) {
        self.0.extend(other.0.iter().map(|(group, shape)| (*group, shape.moved(motion))));
    }

    /// The shapes of one group.
    pub fn group(&self, group: Group) -> impl Iterator<Item = &Shape> {
        self.0.iter().filter(move |(g, _)| *g == group).map(|(_, shape)| shape)
    }

    /// Every shape with its group.
    pub fn shapes(&self) -> impl Iterator<Item = (Group, &Shape)> {
        self.0.iter().map(|(group, shape)| (*group, shape))
    }
}
