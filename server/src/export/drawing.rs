//! A piece as ink: every line of the draft in its group, notches, arrows and the label block.

use std::f64::consts::PI;

use analysis::draft::{Layer, Notch, Piece};
use analysis::hand::Side;
use kurbo::{BezPath, ParamCurve, ParamCurveArclen, PathEl, Point, Rect, Shape, Vec2};

use super::font::{SMALLEST_CAP_MM, fitted, text_width_mm};
use super::ink::{Anchor, Group, Ink};
use super::{SheetLabels, side_name};

/// How far a notch reaches into and out of the piece, mm (`common practice`: short enough not to
/// reach through a 3 mm seam allowance when it is snipped).
const NOTCH_IN_MM: f64 = 1.5;
const NOTCH_OUT_MM: f64 = 2.0;

/// Capitals of a notch's number, mm.
const NOTCH_CAP_MM: f64 = 1.6;

/// Largest capitals of the label block, mm.
const LABEL_CAP_MM: f64 = 3.0;

/// Height of a line of the label block over its capitals.
const LABEL_LEADING: f64 = 1.75;

/// Length of an arrow head, mm.
const ARROW_MM: f64 = 3.0;

/// Everything there is to draw of one piece, in the piece's own frame.
#[must_use]
pub fn piece_ink(piece: &Piece, side: Side, labels: &SheetLabels) -> Ink {
    let mut ink = Ink::default();
    for (layer, path) in &piece.lines {
        ink.stroke(group_of(*layer), path.clone());
        if *layer == Layer::Fold {
            caption_fold(&mut ink, path, piece);
        }
    }
    for notch in &piece.notches {
        draw_notch(&mut ink, piece, notch);
    }
    for mark in &piece.marks {
        let place = (mark.at, mark.angle, Anchor::Start);
        ink.text(Group::Marks, place, mark.size_mm, mark.text.clone());
    }
    draw_grain(&mut ink, piece);
    write_labels(&mut ink, piece, side, labels);
    ink
}

/// The group a line of the draft is drawn in.
#[must_use]
pub fn group_of(layer: Layer) -> Group {
    match layer {
        Layer::Cut | Layer::Hole | Layer::Slit => Group::Cut,
        Layer::Seam => Group::Seam,
        Layer::Fold => Group::Fold,
        Layer::Grain => Group::Grain,
        Layer::Internal => Group::Marks,
    }
}

fn draw_notch(ink: &mut Ink, piece: &Piece, notch: &Notch) {
    let mut path = BezPath::new();
    path.move_to(notch.at - notch.outward * NOTCH_IN_MM);
    path.line_to(notch.at + notch.outward * NOTCH_OUT_MM);
    ink.stroke(Group::Notches, path);
    // The number stands upright on the cloth, its middle behind the notch's end.
    let behind = |side: f64| notch.at + notch.outward * side * (NOTCH_OUT_MM + NOTCH_CAP_MM);
    let middle = if is_cloth(piece, behind(-1.0)) { behind(-1.0) } else { behind(1.0) };
    let base = middle - Vec2::new(0.0, NOTCH_CAP_MM / 2.0);
    ink.text(Group::Notches, (base, 0.0, Anchor::Middle), NOTCH_CAP_MM, notch.label.clone());
}

fn draw_grain(ink: &mut Ink, piece: &Piece) {
    let line = piece.grain;
    let along = line.p1 - line.p0;
    if along.hypot() < 2.0 * ARROW_MM {
        return;
    }
    let mut shaft = BezPath::new();
    shaft.move_to(line.p0);
    shaft.line_to(line.p1);
    ink.stroke(Group::Grain, shaft);
    for (tip, inward) in [(line.p0, along), (line.p1, -along)] {
        ink.fill(Group::Grain, arrow_head(tip, inward.normalize()));
    }
    if !piece.marks.iter().any(|mark| mark.text.contains("grain")) {
        let angle = upright(along.atan2());
        let aside = Vec2::from_angle(angle + PI / 2.0) * 1.2;
        ink.text(Group::Grain, (line.eval(0.5) + aside, angle, Anchor::Middle), 2.0, "grain");
    }
}

fn arrow_head(tip: Point, inward: Vec2) -> BezPath {
    let (base, half) = (tip + inward * ARROW_MM, Vec2::new(-inward.y, inward.x) * (ARROW_MM / 4.0));
    let mut path = BezPath::new();
    path.move_to(tip);
    path.line_to(base + half);
    path.line_to(base - half);
    path.close_path();
    path
}

/// Writes "fold" beside the middle of the longest straight part of a fold line.
fn caption_fold(ink: &mut Ink, path: &BezPath, piece: &Piece) {
    let longest = path.segments().max_by(|a, b| a.arclen(0.1).total_cmp(&b.arclen(0.1)));
    let Some(segment) = longest else { return };
    let (start, middle, end) = (segment.start(), segment.eval(0.5), segment.end());
    let angle = upright((end - start).atan2());
    // Away from the label block, where the piece goes on there.
    let normal = Vec2::from_angle(angle + PI / 2.0);
    let away = (middle - piece.label_area.center()).dot(normal) >= 0.0;
    let side =
        if is_cloth(piece, middle + normal * if away { 4.0 } else { -4.0 }) { away } else { !away };
    let base = middle + normal * if side { 1.2 } else { -3.2 };
    let words = if piece.on_fold { "place on fold" } else { "fold" };
    ink.text(Group::Fold, (base, angle, Anchor::Middle), 2.0, words);
}

/// Whether a point lies on the piece as cut, holes left out.
fn is_cloth(piece: &Piece, p: Point) -> bool {
    let within = |wanted: Layer| {
        piece.lines.iter().any(|(layer, path)| *layer == wanted && path.contains(p))
    };
    within(Layer::Cut) && !within(Layer::Hole)
}

/// The same direction, or its reverse, so that text along it is not upside down.
fn upright(angle: f64) -> f64 {
    if angle > PI / 2.0 + 1e-9 {
        angle - PI
    } else if angle <= -PI / 2.0 + 1e-9 {
        angle + PI
    } else {
        angle
    }
}

/// The label block: whom the piece is for and what it is, as large as its place allows.
fn write_labels(ink: &mut Ink, piece: &Piece, side: Side, labels: &SheetLabels) {
    let area = piece.label_area;
    let lines: Vec<(f64, String)> =
        label_lines(piece, side, labels).into_iter().filter(|(_, text)| !text.is_empty()).collect();
    if lines.is_empty() || area.width() <= 0.0 || area.height() <= 0.0 {
        return;
    }
    let height_in_caps: f64 = lines.iter().map(|(scale, _)| scale * LABEL_LEADING).sum();
    let width_in_caps =
        lines.iter().map(|(scale, text)| text_width_mm(text, *scale)).fold(0.0, f64::max);
    let largest = |along: f64, across: f64| (across / height_in_caps).min(along / width_in_caps);
    let (level, turned) =
        (largest(area.width(), area.height()), largest(area.height(), area.width()));
    // Turned a quarter where that lets the letters be a good deal larger.
    let is_turned = level < LABEL_CAP_MM && turned > 1.3 * level;
    let (corner, angle, along) = if is_turned {
        (Point::new(area.x0, area.y0), PI / 2.0, area.height())
    } else {
        (Point::new(area.x0, area.y1), 0.0, area.width())
    };
    let cap = if is_turned { turned } else { level };
    let cap = cap.clamp(SMALLEST_CAP_MM, LABEL_CAP_MM);
    let down = Vec2::from_angle(angle - PI / 2.0);
    let mut depth = 0.0;
    for (scale, text) in lines {
        let wanted = cap * scale;
        depth += wanted * LABEL_LEADING;
        let (text, cap_mm) = fitted(&text, wanted, along);
        let base = corner + down * (depth - wanted * (LABEL_LEADING - 1.0) / 2.0);
        ink.text(Group::Labels, (base, angle, Anchor::Start), cap_mm, text);
    }
}

/// Lines of the label block with their size relative to the block's capitals.
fn label_lines(piece: &Piece, side: Side, labels: &SheetLabels) -> Vec<(f64, String)> {
    let cut = match (piece.cut, piece.on_fold) {
        (n, false) => format!("cut {n}"),
        (n, true) => format!("cut {n} on the fold"),
    };
    let version = match (labels.version.is_empty(), labels.date.is_empty()) {
        (false, false) => format!("version {}, {}", labels.version, labels.date),
        (false, true) => format!("version {}", labels.version),
        (true, _) => labels.date.clone(),
    };
    vec![
        (1.4, [labels.performer_code.as_str(), side_name(side)].join(" ").trim().to_owned()),
        (1.0, format!("{}: {cut}", piece.name)),
        (1.0, labels.production.clone()),
        (1.0, labels.fabric.clone()),
        (1.0, version),
    ]
}

/// A piece's bounding box with room for the half of its lines' width and for its notches.
#[must_use]
pub fn printed_bounds(piece: &Piece) -> Rect {
    let reach = |notch: &Notch| {
        Rect::from_points(
            notch.at - notch.outward * NOTCH_IN_MM,
            notch.at + notch.outward * NOTCH_OUT_MM,
        )
    };
    let lines = piece.bounds();
    let all = piece.notches.iter().map(reach).fold(lines, |a, b| a.union(b));
    all.inflate(Group::Cut.line().width_mm, Group::Cut.line().width_mm)
}

/// Whether a path has any point in it, and none that is not a finite number.
#[must_use]
pub fn is_drawable(path: &BezPath) -> bool {
    let finite = |element: &PathEl| match *element {
        PathEl::MoveTo(p) | PathEl::LineTo(p) => p.is_finite(),
        PathEl::QuadTo(a, p) => a.is_finite() && p.is_finite(),
        PathEl::CurveTo(a, b, p) => a.is_finite() && b.is_finite() && p.is_finite(),
        PathEl::ClosePath => true,
    };
    !path.elements().is_empty() && path.elements().iter().all(finite)
}
