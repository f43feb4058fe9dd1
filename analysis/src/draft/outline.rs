//! Runs of cubics, their parallels and how those meet: the seam line and the cut line beside it.

use kurbo::{
    BezPath, CubicBez, ParamCurve, ParamCurveArclen, ParamCurveDeriv, PathEl, Point, Vec2,
    offset::offset_cubic,
};

use crate::tolerance::CURVE_MM;

/// Cubics with continuous tangents, in drawing order.
pub(super) type Run = Vec<CubicBez>;

/// A straight line as a cubic.
pub(super) fn line(a: Point, b: Point) -> CubicBez {
    CubicBez::new(a, a.lerp(b, 1.0 / 3.0), a.lerp(b, 2.0 / 3.0), b)
}

/// The same cubic drawn backwards.
pub(super) fn reversed(c: CubicBez) -> CubicBez {
    CubicBez::new(c.p3, c.p2, c.p1, c.p0)
}

/// Whether all control points lie on the chord.
pub(super) fn is_straight(c: &CubicBez) -> bool {
    let chord = c.p3 - c.p0;
    let length = chord.hypot();
    length < CURVE_MM || [c.p1, c.p2].iter().all(|p| (*p - c.p0).cross(chord).abs() < 1e-7 * length)
}

/// The parallel of a run at a distance to the right of its direction.
pub(super) fn parallel(run: &[CubicBez], distance: f64) -> Run {
    let mut result = Vec::with_capacity(run.len() * 2);
    let mut scratch = BezPath::new();
    for cubic in run {
        if is_straight(cubic) {
            let chord = cubic.p3 - cubic.p0;
            if chord.hypot() > 0.0 {
                let direction = chord.normalize();
                let shift = Vec2::new(direction.y, -direction.x) * distance;
                result.push(line(cubic.p0 + shift, cubic.p3 + shift));
            }
            continue;
        }
        offset_cubic(*cubic, -distance, CURVE_MM, &mut scratch);
        result.extend(scratch.segments().map(|segment| segment.to_cubic()));
    }
    result
}

/// Where a run passes a height along a direction, counted from its end or its start.
#[derive(Debug, Clone, Copy)]
pub(super) struct Passing {
    cubic: usize,
    t: f64,
    /// The point.
    pub(super) at: Point,
}

/// Which end of a run a search starts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    /// The first point drawn.
    Start,
    /// The last point drawn.
    Finish,
}

/// First place, from the given end, where the run's height along `direction` is `height`.
pub(super) fn passing(run: &[CubicBez], end: End, direction: Vec2, height: f64) -> Option<Passing> {
    let level = |p: Point| p.to_vec2().dot(direction) - height;
    let count = run.len();
    (0..count).map(|i| if end == End::Start { i } else { count - 1 - i }).find_map(|i| {
        let cubic = run.get(i)?;
        let t = root([cubic.p0, cubic.p1, cubic.p2, cubic.p3].map(level))?;
        Some(Passing { cubic: i, t, at: cubic.eval(t) })
    })
}

/// A zero of a cubic polynomial in Bernstein form whose ends differ in sign: Newton's steps, halved
/// intervals where a step leaves its interval.
fn root([p0, p1, p2, p3]: [f64; 4]) -> Option<f64> {
    if p0 * p3 > 0.0 {
        return None;
    }
    let (c1, c2, c3) = (3.0 * (p1 - p0), 3.0 * (p0 - 2.0 * p1 + p2), p3 - p0 + 3.0 * (p1 - p2));
    let (mut low, mut high) = (0.0, 1.0);
    let mut t = if (p0 - p3).abs() > 0.0 { p0 / (p0 - p3) } else { 0.0 };
    for _ in 0..40 {
        let value = p0 + t * (c1 + t * (c2 + t * c3));
        if value.abs() < 1e-10 {
            break;
        }
        if value * p0 > 0.0 {
            low = t
        } else {
            high = t
        }
        let slope = c1 + t * (2.0 * c2 + t * 3.0 * c3);
        let next = t - value / slope;
        t = if next > low && next < high { next } else { f64::midpoint(low, high) };
    }
    Some(t)
}

/// A path as chains of points, one for each closed or open part, whose chords keep within
/// `tolerance` of it. A cubic needs `n = sqrt(6 M / (8 tolerance))` chords, M being the larger of its
/// two second differences.
pub(super) fn chain(path: &BezPath, tolerance: f64) -> Vec<Point> {
    let mut points = Vec::with_capacity(path.elements().len() * 6);
    let mut last = Point::ORIGIN;
    let mut first = Point::ORIGIN;
    let mut push = |p: Point| {
        if points.last().is_none_or(|q: &Point| (*q - p).hypot2() > 1e-12) {
            points.push(p);
        }
    };
    for el in path.elements() {
        match *el {
            PathEl::MoveTo(p) => {
                push(p);
                (first, last) = (p, p);
            }
            PathEl::LineTo(p) => {
                push(p);
                last = p;
            }
            PathEl::QuadTo(_, p) => {
                push(p);
                last = p;
            }
            PathEl::CurveTo(p1, p2, p3) => {
                let cubic = CubicBez::new(last, p1, p2, p3);
                let bend = |a: Point, b: Point, c: Point| {
                    (a.to_vec2() - 2.0 * b.to_vec2() + c.to_vec2()).hypot()
                };
                let most = bend(last, p1, p2).max(bend(p1, p2, p3));
                let count = (0.75 * most / tolerance).sqrt().ceil().clamp(1.0, 64.0);
                let mut i = 1.0;
                while i < count {
                    push(cubic.eval(i / count));
                    i += 1.0;
                }
                push(p3);
                last = p3;
            }
            PathEl::ClosePath => push(first),
        }
    }
    points
}

/// Drops what lies beyond the place, towards the given end.
pub(super) fn trim(run: &mut Run, end: End, place: Passing) {
    let Some(cubic) = run.get(place.cubic).copied() else { return };
    match end {
        End::Start => {
            run.drain(..place.cubic);
            if let Some(first) = run.first_mut() {
                *first = cubic.subsegment(place.t..1.0);
            }
        }
        End::Finish => {
            run.truncate(place.cubic + 1);
            if let Some(last) = run.last_mut() {
                *last = cubic.subsegment(0.0..place.t);
            }
        }
    }
}

/// Where two straight continuations cross: `a + s da = b + t db`.
pub(super) fn crossing(a: Point, da: Vec2, b: Point, db: Vec2) -> Option<Point> {
    let det = da.cross(db);
    if det.abs() < 1e-9 {
        return None;
    }
    Some(a + da * ((b - a).cross(db) / det))
}

/// Direction of travel at the end of a run.
pub(super) fn direction_at(run: &[CubicBez], end: End) -> Option<(Point, Vec2)> {
    match end {
        End::Start => run.first().map(|c| (c.p0, (c.p1 - c.p0).normalize())),
        End::Finish => run.last().map(|c| (c.p3, (c.p3 - c.p2).normalize())),
    }
}

/// A closed path from two half outlines that run from the fold x = 0 back to it,
/// counter-clockwise on the side x < 0: the palm as drawn, the back as its mirror image.
pub(super) fn opened_out(palm: &[CubicBez], back: &[CubicBez]) -> BezPath {
    let mut path = BezPath::with_capacity(palm.len() * 2 + 2);
    let Some(first) = palm.first() else { return path };
    path.move_to(Point::new(0.0, first.p0.y));
    for cubic in palm {
        push(&mut path, cubic);
    }
    for cubic in back.iter().rev() {
        push(&mut path, &reversed(mirrored(*cubic)));
    }
    // The last point lies on the fold to the last bit, as the first does.
    if let Some(PathEl::LineTo(p) | PathEl::CurveTo(_, _, p)) = path.elements_mut().last_mut()
        && p.x.abs() < 1e-9
    {
        p.x = 0.0;
    }
    path.close_path();
    path
}

/// A closed path from a whole outline.
pub(super) fn closed(run: &[CubicBez]) -> BezPath {
    let mut path = BezPath::with_capacity(run.len() + 2);
    if let Some(first) = run.first() {
        path.move_to(first.p0);
    }
    for cubic in run {
        push(&mut path, cubic);
    }
    path.close_path();
    path
}

/// The mirror image at x = 0.
pub(super) fn mirrored(c: CubicBez) -> CubicBez {
    let mirror = |p: Point| Point::new(-p.x, p.y);
    CubicBez::new(mirror(c.p0), mirror(c.p1), mirror(c.p2), mirror(c.p3))
}

/// A straight open path.
pub(super) fn stroke(a: Point, b: Point) -> BezPath {
    let mut path = BezPath::new();
    path.move_to(a);
    path.line_to(b);
    path
}

/// Point and direction of travel at a length along a run, and the length of the run when it is
/// shorter.
pub(super) fn at_length(run: &[CubicBez], length: f64) -> Option<(Point, Vec2)> {
    let mut left = length;
    for (n, cubic) in run.iter().enumerate() {
        let here = cubic.arclen(CURVE_MM);
        if left <= here || n + 1 == run.len() {
            let t = cubic.inv_arclen(left.clamp(0.0, here), CURVE_MM);
            let along = cubic.deriv().eval(t).to_vec2();
            return Some((cubic.eval(t), along.normalize()));
        }
        left -= here;
    }
    None
}

/// Length of a run, mm.
pub(super) fn length(run: &[CubicBez]) -> f64 {
    run.iter().map(|cubic| cubic.arclen(CURVE_MM)).sum()
}

fn push(path: &mut BezPath, cubic: &CubicBez) {
    if is_straight(cubic) {
        // Two straight pieces that continue each other across the fold are one line.
        if let Some(PathEl::LineTo(previous)) = path.elements().last().copied() {
            let before = path.elements().iter().rev().nth(1).and_then(PathEl::end_point);
            if let Some(before) = before
                && ((previous - before).cross(cubic.p3 - previous)).abs() < 1e-9
                && (previous - before).dot(cubic.p3 - previous) > 0.0
            {
                path.pop();
            }
        }
        path.line_to(cubic.p3);
    } else {
        path.curve_to(cubic.p1, cubic.p2, cubic.p3);
    }
}
