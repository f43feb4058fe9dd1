//! A fourchette: the strip between the faces of a finger, on one of its sides.

use kurbo::{CubicBez, Line, Point, Rect, Vec2};

use super::cut_line;
use super::outline::{self, Run, line, reversed};
use super::piece::{Layer, Mark, Notch, NotchKind, Piece, PieceKind, SeamPair};
use super::tube::{Tube, Wall};
use super::{Digit, Fourchettes, GloveOptions};

/// Height of a capital in the marks of a strip, mm.
pub(super) const STRIP_TEXT_MM: f64 = 1.8;

/// An edge of a finger that a fourchette is sewn to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// From the slit's corner to the top, mm.
    pub(super) wall: f64,
    /// Half of the slit's floor, mm: the strip of the next finger is sewn to the other half.
    pub(super) floor: f64,
    /// From the top down to the notch at the middle joint, mm.
    pub(super) from_top: f64,
}

impl Edge {
    fn whole(&self) -> f64 {
        self.wall + self.floor
    }
}

/// How wide a strip is, and the finger it follows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape<'a> {
    /// Half its width from root to middle joint, mm.
    pub(super) half: f64,
    /// Half its width at the end joint, mm.
    pub(super) half_end: f64,
    /// The finger.
    pub(super) tube: &'a Tube,
}

/// A strip with its tip above, the palm edge on the left and the back edge on the right: as the
/// outer face is seen at a finger's near side. At a far side it is the mirror image.
#[derive(Debug, Clone)]
pub(super) struct Strip {
    /// The number on its notches.
    pub(super) label: String,
    /// Which finger it is sewn to.
    pub(super) digit: Digit,
    wall: Wall,
    /// Palm edge and back edge, from the top down to the root.
    pub(super) edges: [Run; 2],
    sewn_to: [Edge; 2],
    /// Lines across it at the joints, and half its width there.
    pub(super) levels: Vec<(Line, f64)>,
    /// Its notches.
    pub(super) notches: Vec<Notch>,
    /// Where the middle of a text may stand between end joint and middle joint, and its room.
    pub(super) text_place: Option<Point>,
    pub(super) marks: Vec<Mark>,
    pub(super) label_area: Rect,
    pub(super) grain: Line,
}

impl Strip {
    /// Draws a strip for two edges of a finger, palm and back.
    pub(super) fn new(
        shape: &Shape<'_>,
        sewn_to: [Edge; 2],
        wall: Wall,
        digit: Digit,
        label: String,
    ) -> Strip {
        let Shape { half, half_end, tube } = *shape;
        let [to_end, to_knuckle] = tube.below_cap();
        let edges = [(1.0, sewn_to[0]), (-1.0, sewn_to[1])].map(|(sign, edge)| {
            let mut run = upper(shape, sign);
            if tube.end.is_some() {
                // An open finger: the strip ends square, where the faces end.
                let level = -tube.below_end();
                let up = Vec2::new(0.0, 1.0);
                if let Some(place) = outline::passing(&run, outline::End::Start, up, level) {
                    outline::trim(&mut run, outline::End::Start, place);
                }
            }
            let straight = edge.whole() - outline::length(&run);
            if let Some(last) = run.last().map(|c| c.p3) {
                run.push(line(last, last - Vec2::new(0.0, straight)));
            }
            run
        });
        let mut notches = Vec::with_capacity(4);
        for (run, edge, sign) in [(&edges[0], sewn_to[0], 1.0), (&edges[1], sewn_to[1], -1.0)] {
            // Beside the middle joint, and where the strip turns round the corner of the slit.
            for (length, label) in [(edge.from_top, label.as_str()), (edge.wall, "")] {
                if let Some((at, along)) = outline::at_length(run, length) {
                    notches.push(Notch {
                        at,
                        outward: Vec2::new(along.y, -along.x) * sign,
                        label: label.to_owned(),
                        kind: NotchKind::Tick,
                    });
                }
            }
        }
        let root = edges[0].last().map_or(0.0, |c| c.p3.y);
        let joints = [(tube.covers_end_joint(), to_end, half_end), (true, to_knuckle, half)];
        let levels = joints.into_iter().filter(|(covered, ..)| *covered);
        // The label goes above the middle joint, or beside the grain where the finger ends there.
        let top = -tube.below_end();
        let short = tube.below_end() > to_knuckle - 8.0;
        let (grain, label_area) = if short {
            let x = 0.7 * half;
            let grain = Line::new((x, root - 3.0), (x, top - 1.0));
            // Not level with the middle joint, where a ray would meet a node of the outline.
            let high = (top - 1.3).max(root + 1.5);
            (grain, Rect::new(-half + 0.8, root + 0.5, 0.5 * half, high))
        } else {
            let grain = Line::new((0.0, root + 3.0), (0.0, root + 11.0));
            let high = (-to_end - 1.0).min(top - 2.0);
            (grain, Rect::new(-half_end + 0.8, -to_knuckle + 2.0, half_end - 0.8, high))
        };
        Strip {
            label,
            digit,
            wall,
            edges,
            sewn_to,
            levels: levels
                .map(|(_, down, half)| (Line::new((-half, -down), (half, -down)), half))
                .collect(),
            notches,
            text_place: (!short).then(|| label_area.center()),
            marks: if short { Vec::new() } else { edge_names(half, root) },
            label_area,
            grain,
        }
    }

    /// The ends of both edges at the root: of the palm edge, of the back edge.
    pub(super) fn root(&self) -> [Point; 2] {
        self.edges.each_ref().map(|run| run.last().map_or(Point::ORIGIN, |c| c.p3))
    }

    /// Length of the root, which is sewn to the next strip, mm.
    pub(super) fn root_length(&self) -> f64 {
        let [palm, back] = self.root();
        (back - palm).hypot()
    }

    /// The line between both edges at the top, where the finger is open.
    pub(super) fn top(&self) -> Option<CubicBez> {
        let [palm, back] = self.edges.each_ref().map(|run| run.first().map(|c| c.p0));
        let (palm, back) = palm.zip(back)?;
        ((palm - back).hypot() > 1e-6).then(|| line(back, palm))
    }

    /// The two seams along it, as sewn: the strip's edge to the finger's wall and half a floor.
    pub(super) fn seams(&self, piece: &str) -> impl Iterator<Item = SeamPair> {
        let names = ["palm", "back"];
        let lengths = [0, 1].map(|i| (outline::length(&self.edges[i]), self.sewn_to[i].whole()));
        let digit = self.digit.name();
        let piece = piece.to_owned();
        names.into_iter().zip(lengths).map(move |(side, (own, other))| SeamPair {
            name: format!("{piece}, {side} edge to {digit}"),
            first_mm: own,
            second_mm: other,
            eased_mm: 0.0,
        })
    }

    /// Name of the piece for people.
    pub(super) fn name(&self) -> String {
        format!("Fourchette {}, {}", self.label, self.digit.name())
    }

    /// The piece, outer face up, and the levels on it.
    pub(super) fn piece(&self, options: &GloveOptions) -> (Piece, Vec<(Line, f64)>) {
        let [palm, back] = &self.edges;
        let [palm_root, back_root] = self.root();
        let mut runs: Vec<Run> = vec![
            palm.clone(),
            vec![line(palm_root, back_root)],
            back.iter().rev().copied().map(reversed).collect(),
        ];
        runs.extend(self.top().map(|top| vec![top]));
        let mut notches = self.notches.clone();
        if options.fourchettes == Fourchettes::PairsWithQuirks {
            let along = (back_root - palm_root).normalize();
            notches.push(Notch {
                at: palm_root.midpoint(back_root),
                outward: Vec2::new(along.y, -along.x),
                label: "Q".to_owned(),
                kind: NotchKind::Tick,
            });
        }
        let mut piece = Piece {
            kind: PieceKind::Fourchette,
            name: self.name(),
            cut: 1,
            lines: around(runs, options.seam_allowance_mm, None),
            on_fold: false,
            notches,
            marks: self.marks.clone(),
            label_area: self.label_area,
            grain: self.grain,
            allowance_mm: options.seam_allowance_mm,
        };
        let mut levels = self.levels.clone();
        if self.wall == Wall::Far {
            piece = piece.mirrored();
            for (level, _) in &mut levels {
                *level = kurbo::Affine::FLIP_X * *level;
            }
        }
        (piece, levels)
    }
}

/// Cut line and seam line of an outline made of runs with a corner between each two.
pub(super) fn around(
    runs: Vec<Run>,
    allowance: f64,
    inner: Option<(usize, cut_line::Corner)>,
) -> Vec<(Layer, kurbo::BezPath)> {
    let parallels = runs.iter().map(|run| outline::parallel(run, allowance)).collect();
    let cut = cut_line::around(parallels, inner);
    let seam: Run = runs.into_iter().flatten().collect();
    vec![(Layer::Cut, outline::closed(&cut)), (Layer::Seam, outline::closed(&seam))]
}

/// One edge from the pointed tip to the middle joint; the left one for a sign of 1.
fn upper(shape: &Shape<'_>, sign: f64) -> Run {
    let Shape { half, half_end, tube } = *shape;
    let [to_end, to_knuckle] = tube.below_cap();
    let tip = Point::new(0.0, 0.0);
    let end = Point::new(-half_end * sign, -to_end);
    let knuckle = Point::new(-half * sign, -to_knuckle);
    let third = (to_knuckle - to_end) / 3.0;
    let slope = (half - half_end) / (to_knuckle - to_end) * 0.5;
    let down = Vec2::new(-slope * sign, -1.0);
    let shoulder = Vec2::new(-half_end * sign * 0.62, -to_end * 0.30);
    vec![
        CubicBez::new(tip, tip + shoulder, end - down * (to_end * 0.40), end),
        CubicBez::new(end, end + down * third, knuckle + Vec2::new(0.0, third), knuckle),
    ]
}

/// Which edge is which, written at the root.
fn edge_names(half: f64, root: f64) -> Vec<Mark> {
    [(-half + 2.8, "palm"), (half - 1.0, "back")]
        .into_iter()
        .map(|(x, name)| Mark::upright(Point::new(x, root + 1.5), STRIP_TEXT_MM, name))
        .collect()
}
