//! What must hold for every draft, measured on the finished pieces.

use kurbo::{
    BezPath, Line, ParamCurve, ParamCurveDeriv, ParamCurveNearest, PathEl, PathSeg, Point, Shape,
};
use thiserror::Error;

use crate::tolerance::{CURVE_MM, SEAM_AGREEMENT_MM, TUBE_GIRTH_MM};

use super::cut_line::BLADE_MM;
use super::outline::chain;
use super::piece::{Draft, Layer, Piece, PieceKind};

/// The eight marks of thumb hole and thumb base.
const THUMB_MARKS: [&str; 8] = ["T1", "T2", "T3", "T4", "T5", "T6", "T7", "T8"];

/// How far up from a crotch the gap between two fingers is watched, mm (assumed: fingers part for
/// good within this length).
const CROTCH_REACH_MM: f64 = 25.0;

/// By how much the gap may fall short of the crotch's width, mm (assumed: below a pencil line).
const CROTCH_TOLERANCE_MM: f64 = 0.1;

/// How close chords keep to a curve when crossings are looked for, mm (assumed: well below the
/// smallest gap that matters, the blade's).
const CHORD_MM: f64 = 0.04;

/// How close chords keep to a cut line when its distance from the seam line is taken, mm (assumed:
/// points a few mm apart find any place that comes too near).
const COARSE_CHORD_MM: f64 = 0.15;

/// By how much a cut line may come too near to its seam line, mm: the blade of a slit, half on
/// either side, and the chords.
const ALLOWANCE_TOLERANCE_MM: f64 = BLADE_MM / 2.0 + 2.0 * CHORD_MM;

/// Smallest radius of a seam line, mm (assumed: below it a domestic machine cannot follow).
const RADIUS_MIN_MM: f64 = 3.0;

/// A condition a draft does not meet.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Violation {
    /// A number is not finite.
    #[error("{piece}: a line has no finite position")]
    NotFinite {
        /// Piece name.
        piece: String,
    },
    /// An outline does not close.
    #[error("{piece}: the {layer:?} line does not close")]
    Open {
        /// Piece name.
        piece: String,
        /// Which line.
        layer: Layer,
    },
    /// A line crosses itself or another of its layer.
    #[error("{piece}: the {layer:?} line crosses itself near ({:.0}, {:.0})", at.x, at.y)]
    Crossing {
        /// Piece name.
        piece: String,
        /// Which line.
        layer: Layer,
        /// Where.
        at: Point,
    },
    /// Two seams that are sewn together differ in length.
    #[error("{name}: {first_mm:.2} mm against {second_mm:.2} mm")]
    SeamLength {
        /// Which seam.
        name: String,
        /// First length.
        first_mm: f64,
        /// Second length.
        second_mm: f64,
    },
    /// Girth on the piece is not the girth after ease.
    #[error("{zone}: {drafted_mm:.1} mm round instead of {asked_mm:.1} mm")]
    Girth {
        /// Which zone.
        zone: String,
        /// Measured on the piece.
        drafted_mm: f64,
        /// Asked for.
        asked_mm: f64,
    },
    /// A bend is too sharp to sew.
    #[error("{piece}: the seam line bends with a radius of {radius_mm:.1} mm near ({:.0}, {:.0})", at.x, at.y)]
    Sharp {
        /// Piece name.
        piece: String,
        /// Radius, mm.
        radius_mm: f64,
        /// Where.
        at: Point,
    },
    /// Two neighbouring fingers come closer than the flat crotch is wide.
    #[error("fingers only {gap_mm:.1} mm apart near ({:.0}, {:.0})", at.x, at.y)]
    FingersTooClose {
        /// Distance of their seam lines, mm.
        gap_mm: f64,
        /// Where.
        at: Point,
    },
    /// A cut line comes nearer to its seam line than the allowance.
    #[error("{piece}: only {left_mm:.2} mm of {asked_mm:.1} mm left outside the seam line near ({:.0}, {:.0})", at.x, at.y)]
    Allowance {
        /// Piece name.
        piece: String,
        /// Cloth left, mm.
        left_mm: f64,
        /// Allowance asked, mm.
        asked_mm: f64,
        /// Where on the cut line.
        at: Point,
    },
    /// The label area leaves the piece.
    #[error("{piece}: the label does not fit")]
    Label {
        /// Piece name.
        piece: String,
    },
    /// Thumb hole or thumb base lacks one of its eight marks.
    #[error("{piece}: the thumb's eight marks are not all there")]
    ThumbMarks {
        /// Piece name.
        piece: String,
    },
}

impl Draft {
    /// Everything that does not hold. Empty for every draft that [`super::draft`] returns.
    #[must_use]
    pub fn check(&self) -> Vec<Violation> {
        let mut found = Vec::new();
        for (i, piece) in self.pieces.iter().enumerate() {
            let seam = piece.outline(Layer::Seam).map(|path| chain(path, CHORD_MM));
            let seam = seam.unwrap_or_default();
            check_lines(piece, &seam, &mut found);
            self.check_allowances(piece, &seam, &mut found);
            if i == 0 {
                self.check_crotches(&seam, &mut found);
            }
        }
        for seam in &self.seams {
            if !within(seam.first_mm - seam.eased_mm, seam.second_mm, SEAM_AGREEMENT_MM) {
                found.push(Violation::SeamLength {
                    name: seam.name.clone(),
                    first_mm: seam.first_mm,
                    second_mm: seam.second_mm,
                });
            }
        }
        for level in &self.levels {
            let Some(piece) = self.pieces.get(level.piece) else { continue };
            let drafted_mm = 2.0 * width_along(piece, level.line) + level.beside_mm;
            if !within(drafted_mm, level.girth_mm, TUBE_GIRTH_MM) {
                found.push(Violation::Girth {
                    zone: level.zone.to_string(),
                    drafted_mm,
                    asked_mm: level.girth_mm,
                });
            }
        }
        found
    }
}

impl Draft {
    /// Cut lines keep the allowance from the seam lines, round the outside and in the thumb hole.
    fn check_allowances(&self, piece: &Piece, seam: &[Point], found: &mut Vec<Violation>) {
        let mut check = |cut: &[Point], seam: &[Point], asked_mm: f64| {
            let asked = asked_mm - ALLOWANCE_TOLERANCE_MM;
            let short = cut.iter().find_map(|p| nearer(*p, seam, asked).map(|left| (left, *p)));
            if let Some((left_mm, at)) = short {
                found.push(Violation::Allowance {
                    piece: piece.name.clone(),
                    left_mm,
                    asked_mm,
                    at,
                });
            }
        };
        if let Some(cut) = piece.outline(Layer::Cut) {
            check(&chain(cut, COARSE_CHORD_MM), seam, piece.allowance_mm);
        }
        if let Some(hole) = piece.outline(Layer::Hole) {
            let seams = piece.lines.iter().filter(|(layer, _)| *layer == Layer::Seam);
            for (_, round) in seams.skip(1) {
                let seam = chain(round, CHORD_MM);
                check(&chain(hole, COARSE_CHORD_MM), &seam, self.allowance_mm);
            }
        }
    }

    /// Seam lines of neighbouring fingers stay at least the crotch's width apart.
    fn check_crotches(&self, points: &[Point], found: &mut Vec<Violation>) {
        for floor in &self.crotches {
            let same = |p: &Point, q: Point| (*p - q).hypot2() < 1e-9;
            let ends = [floor.p0, floor.p1].map(|q| points.iter().position(|p| same(p, q)));
            let [Some(a), Some(b)] = ends else {
                found.push(Violation::FingersTooClose { gap_mm: 0.0, at: floor.p0 });
                continue;
            };
            // Away from the floor on both sides, as far as a finger reaches before it rounds.
            let (first, last) = (a.min(b), a.max(b));
            let walk = |path: &mut dyn Iterator<Item = &Point>| -> Vec<Point> {
                let start = floor.midpoint();
                path.copied().take_while(|p| (*p - start).hypot() < CROTCH_REACH_MM).collect()
            };
            let down = walk(&mut points.iter().take(first + 1).rev());
            let up = walk(&mut points.iter().skip(last));
            for (from, to) in [(&down, &up), (&up, &down)] {
                for p in from {
                    let gap = to.windows(2).filter_map(|w| match w {
                        [q, r] => Some(Line::new(*q, *r).nearest(*p, CURVE_MM).distance_sq),
                        _ => None,
                    });
                    let gap_mm = gap.fold(f64::INFINITY, f64::min).sqrt();
                    if gap_mm < self.crotch_width_mm - CROTCH_TOLERANCE_MM {
                        found.push(Violation::FingersTooClose { gap_mm, at: *p });
                        return;
                    }
                }
            }
        }
    }
}

/// Whether two lengths agree; false when either is not a number.
fn within(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance
}

fn check_lines(piece: &Piece, seam: &[Point], found: &mut Vec<Violation>) {
    let name = || piece.name.clone();
    if piece.lines.iter().any(|(_, path)| !path.is_finite()) {
        found.push(Violation::NotFinite { piece: name() });
        return;
    }
    for (layer, path) in &piece.lines {
        if !matches!(layer, Layer::Cut | Layer::Seam | Layer::Hole) {
            continue;
        }
        if path.elements().last() != Some(&PathEl::ClosePath) {
            found.push(Violation::Open { piece: name(), layer: *layer });
        }
        if *layer == Layer::Seam
            && let Some((radius_mm, at)) = sharpest(path)
            && radius_mm < RADIUS_MIN_MM
        {
            found.push(Violation::Sharp { piece: name(), radius_mm, at });
        }
        let outer = piece.outline(Layer::Seam).is_some_and(|outline| std::ptr::eq(outline, path));
        let crossing =
            if outer { self_crossing(seam) } else { self_crossing(&chain(path, CHORD_MM)) };
        if let Some(at) = crossing {
            found.push(Violation::Crossing { piece: name(), layer: *layer, at });
        }
    }
    let takes_thumb = matches!(piece.kind, PieceKind::PalmAndBack | PieceKind::Thumb);
    let marks = piece.notches.iter().filter(|notch| notch.label.starts_with('T'));
    let distinct = THUMB_MARKS.iter().all(|label| marks.clone().any(|n| n.label == *label));
    if takes_thumb && !distinct {
        found.push(Violation::ThumbMarks { piece: name() });
    }
    let outline = piece.outline(Layer::Seam);
    let r = piece.label_area;
    let corners = [(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1)];
    let inside =
        outline.is_some_and(|seam| corners.iter().all(|c| seam.winding(Point::from(*c)) != 0));
    if !inside || r.width() <= 0.0 || r.height() <= 0.0 {
        found.push(Violation::Label { piece: name() });
    }
}

/// Length of the part of a piece along a line, from its middle to the seam or fold either way.
fn width_along(piece: &Piece, line: Line) -> f64 {
    let direction = (line.p1 - line.p0).normalize();
    // A hair beside the level, so that the probe never meets a node between two cubics.
    let middle = line.midpoint() + kurbo::Vec2::new(-direction.y, direction.x) * (2.0 * CURVE_MM);
    let reach = 0.6 * line.length();
    let probe = Line::new(middle - direction * reach, middle + direction * reach);
    let bounds = Shape::bounding_box(&probe).inflate(0.1, 0.1);
    let (mut before, mut after) = (f64::NEG_INFINITY, f64::INFINITY);
    for path in [Layer::Seam, Layer::Fold].into_iter().filter_map(|layer| piece.outline(layer)) {
        for segment in path.segments() {
            if !control_box(&segment).overlaps(bounds) {
                continue;
            }
            for hit in segment.intersect_line(probe) {
                let along = (probe.eval(hit.line_t) - middle).dot(direction);
                if along < 0.0 { before = before.max(along) } else { after = after.min(along) }
            }
        }
    }
    after - before
}

fn control_box(segment: &PathSeg) -> kurbo::Rect {
    let c = segment.to_cubic();
    kurbo::Rect::from_points(c.p0, c.p3).union_pt(c.p1).union_pt(c.p2)
}

/// Radius and place of the sharpest bend of a path's curves, corners between them left out.
fn sharpest(path: &BezPath) -> Option<(f64, Point)> {
    let mut sharpest: Option<(f64, Point)> = None;
    for segment in path.segments() {
        let PathSeg::Cubic(c) = segment else { continue };
        let first = c.deriv();
        let second = first.deriv();
        for i in 0..=8 {
            let t = f64::from(i) / 8.0;
            let (d, dd) = (first.eval(t).to_vec2(), second.eval(t).to_vec2());
            let bend = d.cross(dd).abs();
            let radius = if bend > 1e-9 { d.hypot().powi(3) / bend } else { f64::INFINITY };
            if sharpest.is_none_or(|(r, _)| radius < r) {
                sharpest = Some((radius, c.eval(t)));
            }
        }
    }
    sharpest
}

/// Distance of a point from a chain of points where it is less than `limit`.
fn nearer(p: Point, chain: &[Point], limit: f64) -> Option<f64> {
    chain.windows(2).find_map(|pair| {
        let [a, b] = pair else { return None };
        let beside = (a.x > p.x + limit && b.x > p.x + limit)
            || (a.x < p.x - limit && b.x < p.x - limit)
            || (a.y > p.y + limit && b.y > p.y + limit)
            || (a.y < p.y - limit && b.y < p.y - limit);
        if beside {
            return None;
        }
        let along = *b - *a;
        let t = ((p - *a).dot(along) / along.hypot2()).clamp(0.0, 1.0);
        let distance = (p - (*a + along * t)).hypot();
        (distance < limit).then_some(distance)
    })
}

/// A place where a closed path crosses itself.
fn self_crossing(points: &[Point]) -> Option<Point> {
    let mut chords: Vec<(usize, Point, Point)> = points
        .windows(2)
        .enumerate()
        .filter_map(|(i, pair)| match pair {
            [a, b] => Some((i, *a, *b)),
            _ => None,
        })
        .collect();
    let count = chords.len();
    // Swept from left to right: fingers stand side by side, so few chords share a place in x.
    let low = |c: &(usize, Point, Point)| c.1.x.min(c.2.x);
    let high = |c: &(usize, Point, Point)| c.1.x.max(c.2.x);
    chords.sort_unstable_by(|a, b| low(a).total_cmp(&low(b)).then(a.0.cmp(&b.0)));
    for (n, a) in chords.iter().enumerate() {
        for b in chords.iter().skip(n + 1) {
            if low(b) > high(a) {
                break;
            }
            let apart = a.0.abs_diff(b.0);
            if apart <= 1 || apart == count - 1 {
                continue;
            }
            if let Some(at) = chords_cross(a.1, a.2, b.1, b.2) {
                return Some(at);
            }
        }
    }
    None
}

fn chords_cross(a: Point, b: Point, c: Point, d: Point) -> Option<Point> {
    let (ab, cd) = (b - a, d - c);
    if a.y.max(b.y) < c.y.min(d.y) || c.y.max(d.y) < a.y.min(b.y) {
        return None;
    }
    let det = ab.cross(cd);
    if det.abs() < 1e-12 {
        return None;
    }
    let s = (c - a).cross(cd) / det;
    let t = (c - a).cross(ab) / det;
    ((0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t)).then(|| a + ab * s)
}
