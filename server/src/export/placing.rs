//! Where a text may stand: beside lines and other texts, never on them.

use analysis::draft::Piece;
use kurbo::{BezPath, Line, PathEl, Point, Rect, Vec2};

use super::font::text_width_mm;
use super::ink::Anchor;

/// How close chords keep to the lines of a piece, mm.
const CHORD_MM: f64 = 0.05;

/// How far letters reach below their base line, over the height of a capital (the deepest letters of
/// the embedded font).
const DESCENT: f64 = 0.33;

/// Corners of the box that a line of text fills, in order round it.
#[must_use]
pub fn text_box(at: Point, angle: f64, anchor: Anchor, cap_mm: f64, text: &str) -> [Point; 4] {
    let along = Vec2::from_angle(angle);
    let up = along.turn_90() * cap_mm;
    let width = along * text_width_mm(text, cap_mm);
    let start = match anchor {
        Anchor::Start => at,
        Anchor::Middle => at - width * 0.5,
    };
    let low = start - up * DESCENT;
    [low, low + width, start + width + up, start + up]
}

/// The lines and texts that are there already.
#[derive(Debug, Clone, Default)]
pub struct Obstacles {
    chords: Vec<Line>,
    texts: Vec<[Point; 4]>,
}

impl Obstacles {
    /// Every line of a piece.
    #[must_use]
    pub fn of(piece: &Piece) -> Obstacles {
        let mut all = Obstacles::default();
        for (_, path) in &piece.lines {
            all.add_path(path);
        }
        all
    }

    /// Adds a path.
    pub fn add_path(&mut self, path: &BezPath) {
        let (mut start, mut last) = (Point::ORIGIN, Point::ORIGIN);
        kurbo::flatten(path, CHORD_MM, |element| match element {
            PathEl::MoveTo(p) => (start, last) = (p, p),
            PathEl::LineTo(p) => {
                self.chords.push(Line::new(last, p));
                last = p;
            }
            _ => self.chords.push(Line::new(last, start)),
        });
    }

    /// Adds the box of a text.
    pub fn add_text(&mut self, corners: [Point; 4]) {
        self.texts.push(corners);
    }

    /// Whether a box touches none of them.
    #[must_use]
    pub fn is_free(&self, corners: [Point; 4]) -> bool {
        let [a, b, c, d] = corners;
        let bounds = Rect::from_points(a, c).union_pt(b).union_pt(d);
        let beside = |line: &Line| {
            (line.p0.x < bounds.x0 && line.p1.x < bounds.x0)
                || (line.p0.x > bounds.x1 && line.p1.x > bounds.x1)
                || (line.p0.y < bounds.y0 && line.p1.y < bounds.y0)
                || (line.p0.y > bounds.y1 && line.p1.y > bounds.y1)
        };
        let on_line =
            self.chords.iter().any(|line| !beside(line) && meet(&corners, &[line.p0, line.p1]));
        !on_line && !self.texts.iter().any(|other| meet(&corners, other))
    }
}

/// Whether two convex outlines have a point in common: no side of either parts them.
fn meet(one: &[Point], other: &[Point]) -> bool {
    let parted = |shape: &[Point]| {
        (0..shape.len()).any(|i| {
            let (Some(a), Some(b)) = (shape.get(i), shape.get((i + 1) % shape.len())) else {
                return false;
            };
            let axis = (*b - *a).turn_90();
            let range = |points: &[Point]| {
                let along = points.iter().map(|p| p.to_vec2().dot(axis));
                along.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                    (low.min(v), high.max(v))
                })
            };
            let (first, second) = (range(one), range(other));
            first.1 < second.0 || second.1 < first.0
        })
    };
    !(parted(one) || parted(other))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_is_free_beside_lines_and_texts_and_not_on_them() {
        let mut all = Obstacles::default();
        all.add_path(&BezPath::from_svg("M0 0L20 20").expect("a path"));
        let at = |x: f64, y: f64| text_box(Point::new(x, y), 0.0, Anchor::Start, 2.0, "T4");
        assert!(all.is_free(at(8.0, 1.0)) && all.is_free(at(0.0, 12.0)));
        assert!(!all.is_free(at(8.0, 8.0)) && !all.is_free(at(-1.0, -0.5)));
        all.add_text(at(8.0, 1.0));
        assert!(!all.is_free(at(9.0, 2.0)) && all.is_free(at(14.0, 1.0)));
    }

    /// A chord that would be missed by looking at ends only: it runs right through.
    #[test]
    fn a_line_right_through_a_box_is_met() {
        let mut all = Obstacles::default();
        all.add_path(&BezPath::from_svg("M-50 1L50 1").expect("a path"));
        let turned = text_box(Point::new(0.0, -3.0), 1.2, Anchor::Start, 2.0, "back of thumb");
        assert!(!all.is_free(turned));
    }
}
