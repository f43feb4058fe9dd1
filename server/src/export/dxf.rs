//! A draft as DXF for cutters, after ASTM D6673-10: one block a piece, layers by kind of line.
//!
//! The standard names release 13; only what release 12 has already is used, so that any reader
//! opens the file. Curves are polylines whose chords stay within [`CHORD_MM`] of the curve. Layer
//! numbers are from memory of the standard's table (see [`Layer`]'s match below), to be checked
//! against the text before a cutter that reads them by number is relied on.

use std::fmt::Write as _;

use analysis::draft::{Draft, Layer, Piece};
use kurbo::{Affine, BezPath, ParamCurveNearest, PathEl, Point, Vec2};

use super::{SheetLabels, side_name};

/// Largest distance of a chord from its curve, mm: the outline of a glove then measures at most
/// a few tenths of a millimetre short.
pub const CHORD_MM: f64 = 0.02;

/// A corner bends by more than this, radians (assumed: 10 degrees); smaller bends are curve points.
const CORNER: f64 = 0.175;

/// Layer names. ASTM D6673-10, from memory.
mod layers {
    pub const BOUNDARY: &str = "1";
    pub const TURN_POINTS: &str = "2";
    pub const CURVE_POINTS: &str = "3";
    pub const NOTCHES: &str = "4";
    pub const MIRROR: &str = "6";
    pub const GRAIN: &str = "7";
    pub const INTERNAL: &str = "8";
    pub const CUT_OUTS: &str = "11";
    pub const SEW: &str = "14";
    pub const TEXT: &str = "15";
}

/// Writes a draft as DXF, one unit to one millimetre. Same input, same bytes.
#[must_use]
pub fn render(draft: &Draft, labels: &SheetLabels) -> String {
    let mut dxf = Writer::default();
    dxf.header();
    dxf.section("BLOCKS");
    let names: Vec<String> = draft.pieces.iter().map(|piece| block_name(draft, piece)).collect();
    for (piece, name) in draft.pieces.iter().zip(&names) {
        dxf.block(name, draft, piece, labels);
    }
    dxf.end_section();
    dxf.section("ENTITIES");
    let style = format!("{} {}", labels.performer_code, side_name(draft.side));
    for (line, text) in [
        format!("STYLE NAME: {style}"),
        format!("VERSION: {}", labels.version),
        format!("CREATION DATE: {}", labels.date),
        "AUTHOR: Handcall".to_owned(),
        "UNITS: METRIC".to_owned(),
        "CURVE TYPE: POLYLINE".to_owned(),
    ]
    .iter()
    .enumerate()
    {
        dxf.text(layers::BOUNDARY, Point::new(0.0, -10.0 * (line as f64 + 1.0)), 5.0, text);
    }
    for name in &names {
        dxf.pair(0, "INSERT");
        dxf.pair(8, layers::BOUNDARY);
        dxf.pair(2, name);
        dxf.point(10, Point::ZERO);
    }
    dxf.end_section();
    dxf.pair(0, "EOF");
    dxf.out
}

/// A piece where it lies on cloth.
#[derive(Debug, Clone, Copy)]
pub struct OnCloth<'a> {
    /// The glove it is of.
    pub draft: &'a Draft,
    /// The piece.
    pub piece: &'a Piece,
    /// What stands on it.
    pub labels: &'a SheetLabels,
    /// From the piece's frame to the cloth's, mm: moved, and turned by nothing or a half turn.
    pub motion: Affine,
}

/// Writes a lay as DXF: a block for each piece, inserted where it lies.
#[must_use]
pub fn render_lay(pieces: &[OnCloth<'_>]) -> String {
    let mut dxf = Writer::default();
    let name = |number: usize, one: &OnCloth<'_>| {
        let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_uppercase() } else { '-' };
        let code: String = one.labels.performer_code.chars().map(plain).collect();
        format!("{}-{code}-{}", number + 1, block_name(one.draft, one.piece))
    };
    dxf.header();
    dxf.section("BLOCKS");
    for (number, one) in pieces.iter().enumerate() {
        dxf.block(&name(number, one), one.draft, one.piece, one.labels);
    }
    dxf.end_section();
    dxf.section("ENTITIES");
    for (number, one) in pieces.iter().enumerate() {
        let [cos, sin, ..] = one.motion.as_coeffs();
        dxf.pair(0, "INSERT");
        dxf.pair(8, layers::BOUNDARY);
        dxf.pair(2, &name(number, one));
        dxf.point(10, one.motion * Point::ZERO);
        dxf.pair(50, &format!("{:.4}", sin.atan2(cos).to_degrees()));
    }
    dxf.end_section();
    dxf.pair(0, "EOF");
    dxf.out
}

/// Name of a piece's block: letters, digits and hyphens alone.
fn block_name(draft: &Draft, piece: &Piece) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_uppercase() } else { '-' };
    format!("{}-{}", side_name(draft.side), piece.name).chars().map(plain).collect()
}

fn write_piece(dxf: &mut Writer, draft: &Draft, piece: &Piece, labels: &SheetLabels) {
    for (layer, path) in &piece.lines {
        let name = match layer {
            Layer::Cut => layers::BOUNDARY,
            Layer::Hole | Layer::Slit => layers::CUT_OUTS,
            Layer::Seam => layers::SEW,
            Layer::Fold if piece.on_fold => layers::MIRROR,
            Layer::Fold | Layer::Internal => layers::INTERNAL,
            // Grain is written once, below.
            Layer::Grain => continue,
        };
        for line in polylines(path) {
            dxf.polyline(name, &line);
            if *layer == Layer::Cut {
                dxf.vertex_points(&line);
            }
        }
    }
    dxf.line(layers::GRAIN, piece.grain.p0, piece.grain.p1);
    for notch in &piece.notches {
        dxf.pair(0, "POINT");
        dxf.pair(8, layers::NOTCHES);
        dxf.point(10, on_the_edge(piece, notch.at));
    }
    for mark in &piece.marks {
        dxf.text(layers::TEXT, mark.at, mark.size_mm, &mark.text);
    }
    let area = piece.label_area;
    for (line, text) in [
        format!("Piece Name: {}", piece.name),
        format!("Size: {} {}", labels.performer_code, side_name(draft.side)),
        format!("Quantity: {}", piece.cut),
        format!("Material: {}", labels.fabric),
        format!("Annotation: {} version {} {}", labels.production, labels.version, labels.date),
    ]
    .iter()
    .enumerate()
    {
        let at = Point::new(area.x0, area.y1 - 4.0 * (line as f64 + 1.0));
        dxf.text(layers::BOUNDARY, at, 2.0, text);
    }
}

/// The point of the cut edge, holes included, nearest to a notch on its seam line.
fn on_the_edge(piece: &Piece, seam: Point) -> Point {
    let edges = piece.lines.iter().filter(|(l, _)| matches!(l, Layer::Cut | Layer::Hole));
    let segments = edges.flat_map(|(_, path)| path.segments());
    let nearest = segments.map(|segment| {
        let near = segment.nearest(seam, CHORD_MM);
        (near.distance_sq, kurbo::ParamCurve::eval(&segment, near.t))
    });
    nearest.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(seam, |(_, at)| at)
}

/// A path's runs as points; a closed run ends where it began, without saying so twice.
struct Polyline {
    points: Vec<Point>,
    is_closed: bool,
}

fn polylines(path: &BezPath) -> Vec<Polyline> {
    let mut runs: Vec<Polyline> = Vec::new();
    kurbo::flatten(path.elements().iter().copied(), CHORD_MM, |element| match element {
        PathEl::MoveTo(p) => runs.push(Polyline { points: vec![p], is_closed: false }),
        PathEl::LineTo(p) => {
            if let Some(run) = runs.last_mut() {
                run.points.push(p);
            }
        }
        PathEl::ClosePath => {
            if let Some(run) = runs.last_mut() {
                run.is_closed = true;
            }
        }
        // Flattening leaves no curves.
        PathEl::QuadTo(..) | PathEl::CurveTo(..) => {}
    });
    for run in &mut runs {
        let ends_meet = |points: &[Point]| match (points.first(), points.last()) {
            (Some(a), Some(b)) => points.len() > 2 && a.distance(*b) < CHORD_MM,
            _ => false,
        };
        if ends_meet(&run.points) {
            run.points.pop();
            run.is_closed = true;
        }
    }
    runs
}

#[derive(Default)]
struct Writer {
    out: String,
}

impl Writer {
    fn pair(&mut self, code: u16, value: &str) {
        let _ = write!(self.out, "{code:3}\r\n{value}\r\n");
    }

    fn header(&mut self) {
        self.section("HEADER");
        self.pair(9, "$ACADVER");
        self.pair(1, "AC1009");
        self.pair(9, "$INSUNITS");
        self.pair(70, "4");
        self.end_section();
    }

    fn block(&mut self, name: &str, draft: &Draft, piece: &Piece, labels: &SheetLabels) {
        self.pair(0, "BLOCK");
        self.pair(8, layers::BOUNDARY);
        self.pair(2, name);
        self.pair(70, "0");
        self.point(10, Point::ZERO);
        self.pair(3, name);
        write_piece(self, draft, piece, labels);
        self.pair(0, "ENDBLK");
        self.pair(8, layers::BOUNDARY);
    }

    fn section(&mut self, name: &str) {
        self.pair(0, "SECTION");
        self.pair(2, name);
    }

    fn end_section(&mut self) {
        self.pair(0, "ENDSEC");
    }

    fn point(&mut self, code: u16, at: Point) {
        for (code, value) in [(code, at.x), (code + 10, at.y), (code + 20, 0.0)] {
            self.pair(code, &format!("{value:.4}"));
        }
    }

    fn polyline(&mut self, layer: &str, line: &Polyline) {
        self.pair(0, "POLYLINE");
        self.pair(8, layer);
        self.pair(66, "1");
        self.point(10, Point::ZERO);
        self.pair(70, if line.is_closed { "1" } else { "0" });
        for point in &line.points {
            self.pair(0, "VERTEX");
            self.pair(8, layer);
            self.point(10, *point);
        }
        self.pair(0, "SEQEND");
        self.pair(8, layer);
    }

    /// Turn and curve points of an outline: every vertex by how much the outline bends there.
    fn vertex_points(&mut self, line: &Polyline) {
        let count = line.points.len();
        for (index, at) in line.points.iter().enumerate() {
            let before = line.points.get((index + count - 1) % count).copied().unwrap_or(*at);
            let after = line.points.get((index + 1) % count).copied().unwrap_or(*at);
            let (into, out): (Vec2, Vec2) = (*at - before, after - *at);
            let bend = into.cross(out).atan2(into.dot(out)).abs();
            let layer = if bend > CORNER { layers::TURN_POINTS } else { layers::CURVE_POINTS };
            self.pair(0, "POINT");
            self.pair(8, layer);
            self.point(10, *at);
        }
    }

    fn line(&mut self, layer: &str, from: Point, to: Point) {
        self.pair(0, "LINE");
        self.pair(8, layer);
        self.point(10, from);
        self.point(11, to);
    }

    /// A line of text; what is not ASCII is written by its number, as release 12 asks.
    fn text(&mut self, layer: &str, at: Point, height: f64, text: &str) {
        let mut plain = String::new();
        for c in text.chars() {
            match c {
                ' '..='~' => plain.push(c),
                c if c.is_control() => plain.push(' '),
                c => {
                    let _ = write!(plain, "\\U+{:04X}", u32::from(c));
                }
            }
        }
        self.pair(0, "TEXT");
        self.pair(8, layer);
        self.point(10, at);
        self.pair(40, &format!("{height:.2}"));
        self.pair(1, plain.trim());
    }
}
