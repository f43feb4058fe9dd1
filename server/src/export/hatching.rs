//! Hatching as plain lines: it prints on anything and needs no pattern of the renderer.

use analysis::draft::Feel;
use kurbo::{BezPath, Point, Rect, Vec2};

/// What is hatched.
#[derive(Debug, Clone, Copy)]
pub struct Hatched<'a> {
    /// Closed rings of points; inside is whatever an odd number of them encloses.
    pub cloth: &'a [Vec<Point>],
    /// Half-planes `p . n <= c`: only their common part is hatched.
    pub within: &'a [(Vec2, f64)],
    /// Left clear, for figures.
    pub clear: Rect,
}

/// Lines of one direction.
#[derive(Debug, Clone, Copy)]
struct Lines {
    degrees: f64,
    spacing_mm: f64,
    /// Length of a dash, mm, and of a dash with its gap; `None` for whole lines.
    dash_mm: Option<(f64, f64)>,
}

/// One pattern a feeling, told apart without colour: dots, wide lines, close lines, crossed lines.
fn lines(feel: Feel) -> &'static [Lines] {
    const fn whole(degrees: f64, spacing_mm: f64) -> Lines {
        Lines { degrees, spacing_mm, dash_mm: None }
    }
    const LOOSE: &[Lines] = &[Lines { degrees: 0.0, spacing_mm: 2.2, dash_mm: Some((0.5, 2.2)) }];
    const EASY: &[Lines] = &[whole(45.0, 3.2)];
    const FIRM: &[Lines] = &[whole(45.0, 1.4)];
    const TIGHT: &[Lines] = &[whole(45.0, 1.6), whole(-45.0, 1.6)];
    match feel {
        Feel::Loose => LOOSE,
        Feel::Easy => EASY,
        Feel::Firm => FIRM,
        Feel::Tight => TIGHT,
    }
}

/// The hatching of a region, as one path of straight strokes.
#[must_use]
pub fn hatch(region: &Hatched<'_>, feel: Feel) -> BezPath {
    let mut path = BezPath::new();
    for lines in lines(feel) {
        let along = Vec2::from_angle(lines.degrees.to_radians());
        let across = along.turn_90();
        let points = || region.cloth.iter().flatten().map(|p| p.to_vec2().dot(across));
        let low = points().fold(f64::INFINITY, f64::min);
        let high = points().fold(f64::NEG_INFINITY, f64::max);
        if !(low.is_finite() && high.is_finite()) {
            continue;
        }
        let first = (low / lines.spacing_mm).ceil() as i64;
        let last = (high / lines.spacing_mm).floor() as i64;
        for n in first..=last {
            let start = across * (n as f64 * lines.spacing_mm);
            for (from, to) in spans(region, start, along) {
                stroke(&mut path, (start, along), (from, to), lines.dash_mm);
            }
        }
    }
    path
}

/// The parts of the line `start + t along` that are hatched, as intervals of t.
fn spans(region: &Hatched<'_>, start: Vec2, along: Vec2) -> Vec<(f64, f64)> {
    let mut bounds = (f64::NEG_INFINITY, f64::INFINITY);
    for (n, c) in region.within {
        let (growth, room) = (along.dot(*n), c - start.dot(*n));
        if growth.abs() < 1e-12 {
            if room < 0.0 {
                return Vec::new();
            }
        } else if growth > 0.0 {
            bounds.1 = bounds.1.min(room / growth);
        } else {
            bounds.0 = bounds.0.max(room / growth);
        }
    }
    if bounds.0 >= bounds.1 {
        return Vec::new();
    }
    let across = along.turn_90();
    let side = |p: Point| (p.to_vec2() - start).dot(across);
    let mut crossings: Vec<f64> = region
        .cloth
        .iter()
        .flat_map(|ring| ring.windows(2))
        .filter_map(|pair| {
            let [a, b] = pair else { return None };
            let (s, t) = (side(*a), side(*b));
            // An end counts for the chord that rises from it, so that a node is met once.
            ((s < 0.0) != (t < 0.0)).then(|| (a.lerp(*b, s / (s - t)).to_vec2() - start).dot(along))
        })
        .collect();
    crossings.sort_by(f64::total_cmp);
    let inside = crossings.chunks_exact(2).filter_map(|pair| match pair {
        [a, b] => Some((a.max(bounds.0), b.min(bounds.1))),
        _ => None,
    });
    let gap = gap(region.clear, start, along);
    inside
        .flat_map(|(a, b)| match gap {
            Some((low, high)) => vec![(a, b.min(low)), (a.max(high), b)],
            None => vec![(a, b)],
        })
        .filter(|(a, b)| b - a > 0.2)
        .collect()
}

/// The part of a line within a box, if any.
fn gap(clear: Rect, start: Vec2, along: Vec2) -> Option<(f64, f64)> {
    let mut part = (f64::NEG_INFINITY, f64::INFINITY);
    for (at, step, low, high) in
        [(start.x, along.x, clear.x0, clear.x1), (start.y, along.y, clear.y0, clear.y1)]
    {
        if step.abs() < 1e-12 {
            if at < low || at > high {
                return None;
            }
        } else {
            let (a, b) = ((low - at) / step, (high - at) / step);
            part = (part.0.max(a.min(b)), part.1.min(a.max(b)));
        }
    }
    (part.0 < part.1).then_some(part)
}

fn stroke(
    path: &mut BezPath,
    (start, along): (Vec2, Vec2),
    (from, to): (f64, f64),
    dash: Option<(f64, f64)>,
) {
    let mut draw = |a: f64, b: f64| {
        path.move_to((start + along * a).to_point());
        path.line_to((start + along * b).to_point());
    };
    let Some((dash, whole)) = dash else { return draw(from, to) };
    let mut n = (from / whole).ceil();
    while n * whole + dash <= to {
        draw(n * whole, n * whole + dash);
        n += 1.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::{PathEl, Shape};

    fn square(side: f64) -> Vec<Point> {
        let c = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side), (0.0, 0.0)];
        c.into_iter().map(Point::from).collect()
    }

    fn length(path: &BezPath) -> f64 {
        path.segments().map(|s| kurbo::ParamCurveArclen::arclen(&s, 0.01)).sum()
    }

    /// Lines of spacing s over an area A are A / s long in all.
    #[test]
    fn hatching_covers_the_region_and_nothing_else() {
        let cloth = [square(40.0)];
        let whole = Hatched { cloth: &cloth, within: &[], clear: Rect::ZERO };
        let area = 40.0 * 40.0;
        assert!((length(&hatch(&whole, Feel::Firm)) / (area / 1.4) - 1.0).abs() < 0.03);
        assert!((length(&hatch(&whole, Feel::Tight)) / (2.0 * area / 1.6) - 1.0).abs() < 0.03);
        let half = Hatched { within: &[(Vec2::new(1.0, 0.0), 20.0)], ..whole };
        let clear = Hatched { clear: Rect::new(5.0, 5.0, 15.0, 15.0), ..half };
        assert!((length(&hatch(&clear, Feel::Firm)) / (700.0 / 1.4) - 1.0).abs() < 0.04);
        let path = hatch(&clear, Feel::Firm);
        let inside = Rect::new(-1e-6, -1e-6, 20.0 + 1e-6, 40.0 + 1e-6);
        assert!(inside.union(path.bounding_box()) == inside);
    }

    #[test]
    fn every_feeling_has_a_pattern_of_its_own() {
        let cloth = [square(30.0)];
        let region = Hatched { cloth: &cloth, within: &[], clear: Rect::ZERO };
        let all = [Feel::Loose, Feel::Easy, Feel::Firm, Feel::Tight];
        let strokes = all.map(|feel| {
            let path = hatch(&region, feel);
            let starts = path.elements().iter().filter(|e| matches!(e, PathEl::MoveTo(_))).count();
            (starts, length(&path).round() as i64)
        });
        for (i, one) in strokes.iter().enumerate() {
            assert!(one.0 > 5 && strokes.iter().skip(i + 1).all(|other| other != one));
        }
    }

    #[test]
    fn a_hole_is_left_out() {
        let hole = square(10.0).into_iter().map(|p| p + Vec2::new(10.0, 10.0)).collect();
        let cloth = [square(40.0), hole];
        let region = Hatched { cloth: &cloth, within: &[], clear: Rect::ZERO };
        assert!((length(&hatch(&region, Feel::Firm)) / (1500.0 / 1.4) - 1.0).abs() < 0.03);
    }
}
