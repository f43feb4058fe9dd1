//! The piece of palm and back: one outline, folded along the index side and drawn opened out.

use kurbo::{BezPath, CubicBez, Line, Point, Rect, Vec2};

use super::cut_line::{self, BLADE_MM, Corner, CutLine};
use super::layout::Layout;
use super::outline::{self, Run, line, reversed, stroke};
use super::piece::{Layer, Mark, Notch, NotchKind, Piece, PieceKind};
use super::skeleton::FINGER_NAMES;
use super::thumb::Hole;
use super::tube::{Tube, Wall};
use super::wrist::WristShape;
use super::{Bottom, Construction, Finish, GloveOptions};

/// Tilt of the outer edge at the palm's knuckle as a share of the little finger's tilt (assumed:
/// the edge begins to turn before the joint).
const OUTER_TILT: f64 = 0.45;

/// How much steeper than the little finger's outer wall the edge runs down to the palm's knuckle,
/// radians (assumed): the curve then turns one way only, without a bulge beside the knuckle.
const OUTER_TURN: f64 = 0.07;

/// How far below the little finger's pivot the knuckle line may end, mm (assumed: the line stays
/// over the heads of the hand's bones).
const KNUCKLE_DROP_MM: f64 = 12.0;

/// Height of a capital in geometry marks, mm.
const TEXT_MM: f64 = 3.0;

/// The same on a finger, mm.
const FINGER_TEXT_MM: f64 = 2.2;

/// Largest allowance between fingers with open tips, mm (assumed).
const OPEN_TIP_ALLOWANCE_MM: f64 = 5.0;

/// One half of the body, palm or back, at x < 0: from the fold at the index tip round the fingers
/// and down the outer edge to the fold at the bottom.
#[derive(Debug, Clone, Default)]
pub(super) struct Half {
    /// Runs with a corner between each two, and the allowance of each.
    runs: Vec<(Run, f64)>,
    corners: Vec<Corner>,
    /// The outer edge from the knuckle to the bottom; the last but one of the runs ends with it.
    outer_nodes: [Point; 2],
}

impl Half {
    /// Draws the half.
    pub(super) fn new(
        layout: &Layout,
        palm_width: f64,
        wrist: &WristShape,
        options: &GloveOptions,
    ) -> Half {
        // Open fingers leave the slots between them open above: both allowances must fit in.
        let fans = options.construction == Construction::TwoLayer;
        let most = match options.finish {
            Finish::Full => f64::INFINITY,
            Finish::OpenTips if fans => OPEN_TIP_ALLOWANCE_MM,
            _ => options.crotch_width_mm() / 2.0 - BLADE_MM,
        };
        let allowance = options.seam_allowance_mm.min(most);
        let mut half = Half::default();
        let mut before: Option<&super::layout::Crotch> = None;
        for (k, tube) in layout.tubes.iter().enumerate() {
            let near = match before {
                Some(crotch) => tube.wall_up(Wall::Near, crotch.far, crotch.opening).to_vec(),
                None => Vec::new(),
            };
            let after = layout.crotches.get(k);
            let far = match after {
                Some(crotch) => tube.wall_up(Wall::Far, crotch.near, crotch.opening).to_vec(),
                None => tube.wall_from_knuckle(Wall::Far).0.to_vec(),
            };
            let mut last = half.finger(tube, near, far, allowance);
            if let Some(crotch) = after {
                half.push(
                    last,
                    allowance,
                    Corner::Crotch { out: crotch.out, floor: crotch.near.midpoint(crotch.far) },
                );
                half.push(vec![line(crotch.near, crotch.far)], allowance, Corner::Floor);
            } else {
                let at_wrist = Point::new(-wrist.width, 0.0);
                let knuckle = outer_edge(tube, layout, palm_width, at_wrist, &mut last);
                half.outer_nodes = [knuckle, at_wrist];
                last.extend(wrist.edge());
                let hem = options.bottom == Bottom::Hem && options.hem_mm > 0.0;
                let corner =
                    if hem { Corner::Hem { fold_y: wrist.bottom().y } } else { Corner::Outer };
                half.push(last, options.seam_allowance_mm, corner);
            }
            before = after;
        }
        let bottom = wrist.bottom();
        let turned =
            if options.bottom == Bottom::Hem { options.hem_mm } else { options.seam_allowance_mm };
        half.runs.push((vec![line(bottom, Point::new(0.0, bottom.y))], turned));
        half
    }

    fn push(&mut self, run: Run, allowance: f64, after: Corner) {
        self.runs.push((run, allowance));
        self.corners.push(after);
    }

    /// The finger up to its far wall, which is returned, running downwards.
    fn finger(&mut self, tube: &Tube, near: Run, far: Run, allowance: f64) -> Run {
        let down = |mut run: Run| {
            run.reverse();
            run.into_iter().map(reversed).collect::<Run>()
        };
        if let Some(end) = tube.end {
            let (near, far) = (tube.cut_off(near, end), tube.cut_off(far, end));
            let near_end = near.last().map_or(tube.on_cloth(0.0, end), |c| c.p3);
            let far_end = far.last().map_or(near_end, |c| c.p3);
            if !near.is_empty() {
                self.push(near, allowance, Corner::Outer);
            }
            self.push(vec![line(near_end, far_end)], allowance, Corner::Outer);
            return down(far);
        }
        let mut run = near;
        run.push(if run.is_empty() { tube.cap_from_fold() } else { tube.cap_up(Wall::Near) });
        run.push(reversed(tube.cap_up(Wall::Far)));
        run.extend(down(far));
        run
    }

    /// The half seam line.
    pub(super) fn seam(&self) -> Run {
        self.runs.iter().flat_map(|(run, _)| run).copied().collect()
    }

    /// The half cut line: the seam line's parallel, one slit between two fingers where the
    /// allowances meet.
    fn cut(&self, allowance: f64) -> CutLine {
        let parallels =
            self.runs.iter().map(|(run, distance)| outline::parallel(run, *distance)).collect();
        cut_line::join(parallels, &self.corners, allowance)
    }

    /// The narrowest allowance of its runs, mm.
    fn least_allowance(&self) -> f64 {
        self.runs.iter().map(|(_, allowance)| *allowance).fold(f64::INFINITY, f64::min)
    }

    /// Outer end of the knuckle line.
    pub(super) fn knuckle(&self) -> Point {
        self.outer_nodes[0]
    }
}

/// Draws the outer edge from the little finger's middle joint to the wrist at the end of `run`,
/// and returns the outer end of the knuckle line.
fn outer_edge(
    little: &Tube,
    layout: &Layout,
    palm_width: f64,
    wrist: Point,
    run: &mut Run,
) -> Point {
    let fold = knuckle_on_fold(layout);
    let pivot = little.on_cloth(-little.half_width(0.0), 0.0).y;
    let (shoulder, up) = little.shoulder();
    let steeper = up.atan2() - std::f64::consts::FRAC_PI_2 - OUTER_TURN;
    let y = lower_meeting(fold, palm_width, shoulder, Vec2::new(steeper.sin(), -steeper.cos()))
        .unwrap_or(pivot)
        .clamp(pivot - KNUCKLE_DROP_MM, pivot);
    let drop = fold.y - y;
    let knuckle = Point::new(-(palm_width * palm_width - drop * drop).max(0.0).sqrt(), y);
    let down = edge_direction(little);
    run.push(blend(shoulder, -up, knuckle, down));
    run.push(blend(knuckle, down, wrist, Vec2::new(0.0, -1.0)));
    knuckle
}

/// Height at which a ray from outside enters a circle, if it does.
fn lower_meeting(centre: Point, radius: f64, from: Point, along: Vec2) -> Option<f64> {
    let away = from - centre;
    let (b, c) = (away.dot(along), away.hypot2() - radius * radius);
    let root = b * b - c;
    (c > 0.0 && b < 0.0 && root >= 0.0).then(|| (from + along * (-b - root.sqrt())).y)
}

/// Inner end of the knuckle line, on the fold.
pub(super) fn knuckle_on_fold(layout: &Layout) -> Point {
    let [index, ..] = &layout.tubes;
    index.origin
}

/// A cubic with handles of somewhat more than a third of the chord.
pub(super) fn blend(a: Point, along_a: Vec2, b: Point, along_b: Vec2) -> CubicBez {
    let handle = (b - a).hypot() * 0.38;
    CubicBez::new(a, a + along_a * handle, b - along_b * handle, b)
}

/// Direction of the outer edge at the knuckle, downwards.
fn edge_direction(little: &Tube) -> Vec2 {
    let tilt = little.tilt * OUTER_TILT;
    Vec2::new(tilt.sin(), -tilt.cos())
}

/// Palm and back of one glove.
#[derive(Debug, Clone)]
pub(super) struct Body<'a> {
    /// How the fingers stand.
    pub(super) layout: &'a Layout,
    /// The palm half.
    pub(super) palm: Half,
    /// The back half, where it differs.
    pub(super) back: Option<Half>,
    /// Wrist and cuff.
    pub(super) wrist: &'a WristShape,
    /// Notches where other pieces are sewn on.
    pub(super) joins: Vec<Notch>,
}

impl Body<'_> {
    /// The finished piece, right hand.
    pub(super) fn piece(&self, hole: &Hole, options: &GloveOptions) -> Piece {
        let allowance = options.seam_allowance_mm;
        let palm_seam = self.palm.seam();
        let palm_cut = self.palm.cut(allowance);
        let back = self.back.as_ref().map(|half| (half.seam(), half.cut(allowance)));
        let (back_seam, back_cut) =
            back.as_ref().map_or((&palm_seam, &palm_cut), |(seam, cut)| (seam, cut));
        let top = palm_seam.first().map_or(0.0, |c| c.p0.y);
        let bottom = self.wrist.bottom();
        let width = self.wrist.width;
        let knuckle = self.palm.knuckle();
        let mirror = |p: Point| Point::new(-p.x, p.y);
        let grain = Line::new((-0.72 * width, 8.0), (-0.72 * width, knuckle.y.max(20.0) - 4.0));
        let stretch_y = 8.0 + 0.12 * knuckle.y;
        let stretch = Line::new((-0.64 * width, stretch_y), (-0.24 * width, stretch_y));
        // The line stops short of the notches and their letters.
        let crease_end = Point::new(-width + 7.0, 0.0);
        let mut lines: Vec<(Layer, BezPath)> = vec![
            (Layer::Cut, outline::opened_out(&palm_cut.run, &back_cut.run)),
            (Layer::Seam, outline::opened_out(&palm_seam, back_seam)),
            (Layer::Seam, hole.seam()),
            (Layer::Hole, hole.cut(allowance)),
            (Layer::Fold, stroke(Point::new(0.0, bottom.y), Point::new(0.0, top))),
            (Layer::Internal, stroke(crease_end, mirror(crease_end))),
            (Layer::Grain, stroke(stretch.p0, stretch.p1)),
        ];
        if options.bottom == Bottom::Hem && options.hem_mm > 0.0 && bottom.y < 0.0 {
            lines.push((Layer::Internal, stroke(bottom, mirror(bottom))));
        }
        for slit in &palm_cut.slits {
            lines.push((Layer::Slit, stroke(slit.p0, slit.p1)));
        }
        for slit in &back_cut.slits {
            lines.push((Layer::Slit, stroke(mirror(slit.p0), mirror(slit.p1))));
        }
        if let Some(slit) = self.wrist.opening(options) {
            lines.push((Layer::Slit, stroke(slit.p0, slit.p1)));
        }
        Piece {
            kind: PieceKind::PalmAndBack,
            name: "Palm and back".to_owned(),
            cut: 1,
            lines,
            on_fold: false,
            notches: self.notches(hole),
            marks: self.marks(options, grain, stretch),
            label_area: Rect::new(7.0, 6.0, width.min(-knuckle.x) - 6.0, knuckle.y - 2.0),
            grain,
            // Allowances between open fingers may be narrower than those elsewhere.
            allowance_mm: self.palm.least_allowance().min(allowance),
        }
    }

    /// Wrist and knuckle notches on both edges that are sewn together, the thumb's eight, and the
    /// places of other pieces.
    fn notches(&self, hole: &Hole) -> Vec<Notch> {
        let [knuckle, wrist] = self.palm.outer_nodes;
        let [_, _, _, little] = &self.layout.tubes;
        let down = edge_direction(little);
        let mut notches = Vec::with_capacity(24);
        for (label, at, along) in [("A", wrist, Vec2::new(0.0, -1.0)), ("B", knuckle, down)] {
            let outward = Vec2::new(along.y, -along.x);
            for side in [1.0, -1.0] {
                notches.push(Notch {
                    at: Point::new(at.x * side, at.y),
                    outward: Vec2::new(outward.x * side, outward.y),
                    label: label.to_owned(),
                    kind: NotchKind::Notch,
                });
            }
        }
        notches.extend(hole.notches());
        notches.extend(self.joins.iter().cloned());
        notches
    }

    fn marks(&self, options: &GloveOptions, grain: Line, stretch: Line) -> Vec<Mark> {
        let level = |x: f64, y: f64, text: &str| Mark::level(Point::new(x, y), TEXT_MM, text);
        let width = self.wrist.width;
        let bottom = self.wrist.bottom();
        let above = knuckle_on_fold(self.layout).y + 6.0;
        let mut marks = vec![
            Mark::level(stretch.p0 + Vec2::new(0.0, 2.2), TEXT_MM, "greatest stretch"),
            Mark::upright(grain.p0 + Vec2::new(-2.4, 5.0), TEXT_MM, "grain"),
            level(-width + 9.0, 1.4, "wrist crease"),
            level(-30.0, above, "palm"),
            level(20.0, above, "back"),
        ];
        if options.bottom == Bottom::Hem && options.hem_mm > 7.0 {
            marks.push(level(bottom.x + 6.0, bottom.y - 5.0, "hem, fold up"));
        }
        if options.bottom != Bottom::Hem {
            marks.push(level(bottom.x + 6.0, bottom.y + 2.0, "to sleeve"));
        }
        if options.opens() {
            marks.push(level(-width + 6.0, self.wrist.opening_y() - 5.0, "opening"));
        }
        for (tube, name) in self.layout.tubes.iter().zip(FINGER_NAMES) {
            let half = Vec2::new(0.3 * FINGER_TEXT_MM * name.len() as f64, 0.0);
            marks.push(Mark::level(tube.name_place() - half, FINGER_TEXT_MM, name));
        }
        marks
    }
}
