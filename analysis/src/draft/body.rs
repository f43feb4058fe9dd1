//! The piece of palm and back: one outline, folded along the index side and drawn opened out.

use kurbo::{BezPath, CubicBez, Line, Point, Rect, Vec2};

use super::GloveOptions;
use super::cut_line::{self, Corner};
use super::layout::Layout;
use super::outline::{self, Run, line, reversed};
use super::piece::{Layer, Mark, Notch, NotchKind, Piece, PieceKind};
use super::skeleton::FINGER_NAMES;
use super::thumb::Hole;
use super::tube::Wall;

/// Tilt of the outer edge at the palm's knuckle as a share of the little finger's tilt (assumed:
/// the edge begins to turn before the joint).
const OUTER_TILT: f64 = 0.45;

/// Height of a capital in geometry marks, mm.
const TEXT_MM: f64 = 3.0;

/// Flat measures of the body, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct BodyWidths {
    /// Across the palm from the fold, along the knuckle line.
    pub(super) palm: f64,
    /// Across the wrist from the fold.
    pub(super) wrist: f64,
}

/// The half outline of palm and back, as runs with corners between them.
#[derive(Debug, Clone)]
pub(super) struct Body {
    /// Index; crotch; middle; crotch; ring; crotch; little and outer edge; bottom.
    runs: Vec<Run>,
    /// Outer end of the knuckle line.
    pub(super) knuckle: Point,
    /// Inner end of the knuckle line, on the fold.
    pub(super) knuckle_on_fold: Point,
}

/// Draws the half outline on the palm side, x < 0, from the fold at the index tip round the
/// fingers and down the outer edge to the fold at the bottom.
pub(super) fn outline(layout: &Layout, widths: BodyWidths, options: &GloveOptions) -> Body {
    let mut runs: Vec<Run> = Vec::with_capacity(8);
    let [index, _, _, little] = &layout.tubes;
    for (k, tube) in layout.tubes.iter().enumerate() {
        let mut run: Run = Vec::with_capacity(12);
        if k == 0 {
            run.push(tube.cap_from_fold());
        } else {
            let before = &layout.crotches[k - 1];
            run.extend(tube.wall_up(Wall::Near, before.far, before.opening));
            run.push(tube.cap_up(Wall::Near));
        }
        run.push(reversed(tube.cap_up(Wall::Far)));
        if let Some(crotch) = layout.crotches.get(k) {
            let wall = tube.wall_up(Wall::Far, crotch.near, crotch.opening);
            run.extend(wall.into_iter().rev().map(reversed));
            runs.push(run);
            runs.push(vec![line(crotch.near, crotch.far)]);
        } else {
            runs.push(run);
        }
    }
    let (upper, up) = little.wall_from_knuckle(Wall::Far);
    let corner = little.on_cloth(-little.half_width(0.0), 0.0);
    let knuckle_on_fold = index.origin;
    let drop = knuckle_on_fold.y - corner.y;
    let knuckle = Point::new(-(widths.palm * widths.palm - drop * drop).max(0.0).sqrt(), corner.y);
    let wrist = Point::new(-widths.wrist, 0.0);
    let bottom = Point::new(-widths.wrist, -options.below_wrist_mm);
    let tilt = little.tilt * OUTER_TILT;
    let down = Vec2::new(tilt.sin(), -tilt.cos());
    if let Some(run) = runs.last_mut() {
        run.extend(upper.into_iter().rev().map(reversed));
        let shoulder = upper[0].p0;
        run.push(blend(shoulder, -up, knuckle, down));
        run.push(blend(knuckle, down, wrist, Vec2::new(0.0, -1.0)));
        run.push(line(wrist, bottom));
    }
    runs.push(vec![line(bottom, Point::new(0.0, bottom.y))]);
    Body { runs, knuckle, knuckle_on_fold }
}

/// A cubic with handles of a third of the chord.
fn blend(a: Point, along_a: Vec2, b: Point, along_b: Vec2) -> CubicBez {
    let handle = (b - a).hypot() * 0.38;
    CubicBez::new(a, a + along_a * handle, b - along_b * handle, b)
}

impl Body {
    fn half_seam(&self) -> Run {
        self.runs.iter().flatten().copied().collect()
    }

    /// The half cut line: the seam line's parallel, one slit between two fingers where the
    /// allowances meet.
    fn half_cut(&self, layout: &Layout, options: &GloveOptions) -> Run {
        let allowance = options.seam_allowance_mm;
        let mut corners: Vec<Corner> = Vec::with_capacity(7);
        for crotch in &layout.crotches {
            corners.push(Corner::Crotch { out: crotch.out, floor: crotch.near });
            corners.push(Corner::Floor);
        }
        corners.push(Corner::Outer);
        let last = self.runs.len().saturating_sub(1);
        let parallels = self.runs.iter().enumerate().map(|(i, run)| {
            outline::parallel(run, if i == last { options.hem_mm } else { allowance })
        });
        cut_line::join(parallels.collect(), &corners, allowance)
    }

    /// The finished piece, right hand.
    pub(super) fn piece(
        &self,
        layout: &Layout,
        widths: BodyWidths,
        hole: &Hole,
        options: &GloveOptions,
    ) -> Piece {
        let seam = self.half_seam();
        let cut = self.half_cut(layout, options);
        let top = seam.first().map_or(0.0, |c| c.p0.y);
        let bottom = -options.below_wrist_mm;
        let fold = path_of(Point::new(0.0, bottom), Point::new(0.0, top));
        let hem = path_of(Point::new(-widths.wrist, bottom), Point::new(widths.wrist, bottom));
        let wrist = path_of(Point::new(-widths.wrist, 0.0), Point::new(widths.wrist, 0.0));
        let grain = Line::new(
            (-0.72 * widths.wrist, 8.0),
            (-0.72 * widths.wrist, self.knuckle.y.max(20.0) - 4.0),
        );
        let stretch_y = 8.0 + 0.12 * self.knuckle.y;
        let stretch =
            Line::new((-0.64 * widths.wrist, stretch_y), (-0.24 * widths.wrist, stretch_y));
        let label_area = Rect::new(7.0, 6.0, widths.wrist - 6.0, self.knuckle.y - 2.0);
        let mut lines = vec![
            (Layer::Cut, outline::opened_out(&cut)),
            (Layer::Seam, outline::opened_out(&seam)),
            (Layer::Seam, hole.seam()),
            (Layer::Hole, hole.cut(options.seam_allowance_mm)),
            (Layer::Fold, fold),
            (Layer::Internal, wrist),
            (Layer::Grain, path_of(stretch.p0, stretch.p1)),
        ];
        if options.hem_mm > 0.0 {
            lines.push((Layer::Internal, hem));
        }
        Piece {
            kind: PieceKind::PalmAndBack,
            name: "Palm and back".to_owned(),
            cut: 1,
            lines,
            on_fold: false,
            notches: self.notches(hole),
            marks: self.marks(layout, options, grain, stretch, widths),
            label_area,
            grain,
        }
    }

    /// Wrist and knuckle notches on both edges that are sewn together, and the thumb's eight.
    fn notches(&self, hole: &Hole) -> Vec<Notch> {
        let mut notches = Vec::with_capacity(12);
        let outer = self.runs.iter().rev().nth(1);
        let ends = outer.map(|run| run.iter().rev().take(2).map(|c| c.p0).collect::<Vec<_>>());
        for (label, at) in ["A", "B"].into_iter().zip(ends.unwrap_or_default()) {
            for side in [1.0, -1.0] {
                notches.push(Notch {
                    at: Point::new(at.x * side, at.y),
                    outward: Vec2::new(-side, 0.0),
                    label: label.to_owned(),
                    kind: NotchKind::Notch,
                });
            }
        }
        notches.extend(hole.notches());
        notches
    }

    fn marks(
        &self,
        layout: &Layout,
        options: &GloveOptions,
        grain: Line,
        stretch: Line,
        widths: BodyWidths,
    ) -> Vec<Mark> {
        let mut marks = vec![
            Mark::level(stretch.p0 + Vec2::new(0.0, 1.5), TEXT_MM, "greatest stretch"),
            Mark::upright(grain.p0 + Vec2::new(-1.5, 2.0), TEXT_MM, "grain"),
            Mark::level(Point::new(-widths.wrist + 4.0, 1.2), TEXT_MM, "wrist crease"),
            Mark::level(Point::new(-30.0, self.knuckle_on_fold.y + 6.0), TEXT_MM, "palm"),
            Mark::level(Point::new(20.0, self.knuckle_on_fold.y + 6.0), TEXT_MM, "back"),
        ];
        if options.hem_mm > 4.5 {
            marks.push(Mark::level(
                Point::new(-widths.wrist + 4.0, -options.below_wrist_mm - 3.8),
                TEXT_MM,
                "hem, fold up",
            ));
        }
        for (tube, name) in layout.tubes.iter().zip(FINGER_NAMES) {
            let at = tube.levels()[0];
            let at = at.0.midpoint(at.1);
            marks.push(Mark::level(
                at - Vec2::new(0.3 * TEXT_MM * name.len() as f64, 0.0),
                TEXT_MM,
                name,
            ));
        }
        marks
    }
}

fn path_of(a: Point, b: Point) -> BezPath {
    let mut path = BezPath::new();
    path.move_to(a);
    path.line_to(b);
    path
}
