//! The glove with fourchettes: a trank whose fingers are faces only, and strips between them.

use kurbo::{CubicBez, Line, Point, Rect, Vec2};

use super::cut_line;
use super::layout::{Crotch, Layout};
use super::outline::{self, Run, line, reversed};
use super::piece::{Layer, Mark, Notch, NotchKind, Piece, PieceKind, SeamPair};
use super::skeleton::Skeleton;
use super::tube::{Tube, Wall};
use super::{Digit, DraftError, GloveOptions};

/// How far the palm's slits end above the webs, mm (assumed: a fourchette glove sits close).
const PALM_STAND_OFF_MM: f64 = 2.0;

/// How much deeper the back's slits run, mm: 6 to 13 mm are published for leather gloves.
const BACK_DEEPER_MM: f64 = 8.0;

/// Width of a fourchette at the end joint over its width at the root (assumed: it tapers with the
/// finger).
const END_TAPER: f64 = 0.8;

/// Narrowest and widest fourchette, mm (assumed: narrower cannot be turned, wider makes the faces
/// narrower than the finger's nail).
const WIDTH_MM: (f64, f64) = (5.0, 16.0);

/// Narrowest fourchette for slim fingers, mm (assumed: narrower is all seam).
const NARROWEST_STRIP_MM: f64 = 3.5;

/// Narrowest face of a finger, mm: its round tip then has the smallest radius a seam may have.
const NARROWEST_FACE_MM: f64 = 7.2;

/// How far the trank may be wider at the slits than at the knuckles, as a share (assumed).
const FLARE_MAX: f64 = 0.25;

/// Fourchettes beside index, middle, ring and little finger.
const BESIDE: [f64; 4] = [1.0, 2.0, 2.0, 1.0];

/// The trank's layout on the palm and on the back, and the width of the fourchettes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Trank {
    /// Fingers and slits of the palm.
    pub(super) palm: Layout,
    /// Of the back: the same faces, deeper slits.
    pub(super) back: Layout,
    /// Width of a fourchette at root and middle joint.
    width: f64,
    /// Width at the end joint of each finger.
    end_widths: [f64; 4],
}

impl Trank {
    /// Solves the shares of girth: faces and fourchettes make each finger's girth after ease, and
    /// the faces with the slits between them make the palm's width.
    ///
    /// # Errors
    /// [`DraftError::Hand`] when no fourchette of usable width does.
    pub(super) fn new(
        skeleton: &Skeleton,
        options: &GloveOptions,
        palm_width: f64,
    ) -> Result<Trank, DraftError> {
        let eased = 1.0 - options.reduction.fingers;
        let slit = options.crotch_width_mm();
        let girths: f64 = skeleton.fingers.iter().map(|f| f.knuckle_girth * eased).sum();
        // As wide as leaves every face its narrowest width at the end joint.
        let widest = skeleton
            .fingers
            .iter()
            .zip(BESIDE)
            .map(|(f, beside)| {
                (f.end_girth * eased - 2.0 * NARROWEST_FACE_MM) / (beside * END_TAPER)
            })
            .fold(f64::INFINITY, f64::min);
        // sum((G - n w) / 2) + 3 slits = palm width, with sum(n) = 6.
        let width = ((girths / 2.0 + 3.0 * slit - palm_width) / 3.0)
            .clamp(WIDTH_MM.0, WIDTH_MM.1)
            .min(widest);
        let across = girths / 2.0 - 3.0 * width + 3.0 * slit;
        if across > palm_width * (1.0 + FLARE_MAX) {
            return Err(DraftError::Hand(
                "The fingers are too thick for this palm, even with the widest fourchettes. Check hand girth and knuckle girths."
                    .to_owned(),
            ));
        }
        let mut x = 0.0;
        let mut index = 0;
        let mut end_widths = [0.0; 4];
        let tubes = skeleton.fingers.map(|finger| {
            let beside = BESIDE[index] * width;
            let half_knuckle = (finger.knuckle_girth * eased - beside) / 4.0;
            // No face is wider at the end joint than below it; else neighbours would meet there.
            let half_end =
                ((finger.end_girth * eased - beside * END_TAPER) / 4.0).min(half_knuckle);
            end_widths[index] = (finger.end_girth * eased - 4.0 * half_end) / BESIDE[index];
            let on_fold = index == 0;
            let mut tube =
                Tube::with_half_widths(&finger, half_knuckle, half_knuckle, half_end, on_fold);
            tube.origin.x = if on_fold { 0.0 } else { x - half_knuckle };
            x -= 2.0 * half_knuckle + slit;
            index += 1;
            tube.finished(options.finish)
        });
        if width < NARROWEST_STRIP_MM {
            return Err(DraftError::Hand(
                "A finger is too slim for fourchettes. Check knuckle and end-joint girths, or draft the two-layer glove."
                    .to_owned(),
            ));
        }
        let layout = |deeper: f64| {
            let slits = [0, 1, 2].map(|k| {
                let (near, far) = (&tubes[k], &tubes[k + 1]);
                let y = skeleton.webs[k] + PALM_STAND_OFF_MM - deeper;
                let wall = |tube: &Tube, wall: Wall| tube.root_line(wall).0.x;
                let fits = y < near.origin.y.max(far.origin.y) + near.knuckle.min(far.knuckle);
                fits.then_some(Crotch {
                    near: Point::new(wall(near, Wall::Far), y),
                    far: Point::new(wall(far, Wall::Near), y),
                    out: Vec2::new(0.0, 1.0),
                    stand_off: PALM_STAND_OFF_MM - deeper,
                    spread: 0.0,
                    opening: 0.0,
                })
            });
            let [Some(a), Some(b), Some(c)] = slits else {
                return Err(DraftError::Hand(
                    "A web lies above the middle joint of its finger. Check web heights and finger lengths."
                        .to_owned(),
                ));
            };
            Ok(Layout { tubes, crotches: [a, b, c] })
        };
        let trank = Trank { palm: layout(0.0)?, back: layout(BACK_DEEPER_MM)?, width, end_widths };
        let above = trank.palm.crotches.iter().enumerate().all(|(k, slit)| {
            [&tubes[k], &tubes[k + 1]]
                .iter()
                .all(|tube| slit.near.y < tube.origin.y + tube.knuckle - 3.0)
        });
        if above {
            Ok(trank)
        } else {
            Err(DraftError::Hand(
                "A web lies too near the middle joint of its finger. Check web heights and finger lengths."
                    .to_owned(),
            ))
        }
    }

    /// Girth of the fourchettes beside a finger at middle and end joint.
    pub(super) fn beside(&self, finger: usize) -> [f64; 2] {
        let count = BESIDE.get(finger).copied().unwrap_or(0.0);
        let end_width = self.end_widths.get(finger).copied().unwrap_or(0.0);
        [count * self.width, count * end_width]
    }

    /// The six fourchettes, the seams they are sewn into, and the notches on the trank.
    pub(super) fn fourchettes(&self, options: &GloveOptions) -> (Vec<Strip>, Vec<Notch>) {
        let mut strips = Vec::with_capacity(6);
        let mut notches = Vec::with_capacity(24);
        for k in 0..3 {
            for (tube, wall, name) in
                [(k, Wall::Far, Digit::FINGERS[k]), (k + 1, Wall::Near, Digit::FINGERS[k + 1])]
            {
                let label = format!("F{}", strips.len() + 1);
                let edge = |layout: &Layout, sign: f64, notches: &mut Vec<Notch>| {
                    let slit = &layout.crotches[k];
                    let tube = &layout.tubes[tube];
                    let corner = if wall == Wall::Far { slit.near } else { slit.far };
                    let mut run: Run = tube.wall_up(wall, corner, slit.opening).to_vec();
                    if let Some(end) = tube.end {
                        run = tube.cut_off(run, end);
                    }
                    let whole = outline::length(&run);
                    let first = run.first().map_or(0.0, |c| outline::length(&[*c]));
                    let outward = if wall == Wall::Far { -sign } else { sign };
                    if let Some(joint) = run.first() {
                        notches.push(Notch {
                            at: Point::new(joint.p3.x * sign, joint.p3.y),
                            outward: Vec2::new(outward, 0.0),
                            label: label.clone(),
                            kind: NotchKind::Tick,
                        });
                    }
                    Edge { whole, from_top: whole - first }
                };
                let edges =
                    [edge(&self.palm, 1.0, &mut notches), edge(&self.back, -1.0, &mut notches)];
                let finger = (&self.palm.tubes[tube], self.end_widths[tube] / 2.0);
                strips.push(self.strip(finger, edges, name, label, options));
            }
        }
        (strips, notches)
    }

    /// One fourchette: the palm edge on the left, the back edge on the right, the tip above.
    fn strip(
        &self,
        (tube, half_end): (&Tube, f64),
        edges: [Edge; 2],
        beside: Digit,
        label: String,
        options: &GloveOptions,
    ) -> Strip {
        let half = self.width / 2.0;
        let [to_end, to_knuckle] = tube.below_cap();
        // Both upper parts as a wall: pointed tip, end joint, middle joint.
        let left = |sign: f64| -> Run {
            let tip = Point::new(0.0, 0.0);
            let end = Point::new(-half_end * sign, -to_end);
            let knuckle = Point::new(-half * sign, -to_knuckle);
            let slope = (half - half_end) / (to_knuckle - to_end) * 0.5;
            let down = Vec2::new(-slope * sign, -1.0);
            vec![
                CubicBez::new(
                    tip,
                    tip + Vec2::new(-half_end * sign * 0.62, -to_end * 0.30),
                    end - down * (to_end * 0.40),
                    end,
                ),
                CubicBez::new(
                    end,
                    end + down * ((to_knuckle - to_end) / 3.0),
                    knuckle - Vec2::new(0.0, -1.0) * ((to_knuckle - to_end) / 3.0),
                    knuckle,
                ),
            ]
        };
        let side = |sign: f64, edge: Edge| -> Run {
            let mut run = left(sign);
            if tube.end.is_some() {
                // An open finger: the strip ends square, where the faces end.
                let level = -tube.below_end();
                if let Some(place) =
                    outline::passing(&run, outline::End::Start, Vec2::new(0.0, 1.0), level)
                {
                    outline::trim(&mut run, outline::End::Start, place);
                }
            }
            let straight = edge.whole - outline::length(&run);
            if let Some(last) = run.last().map(|c| c.p3) {
                run.push(line(last, last - Vec2::new(0.0, straight)));
            }
            run
        };
        let (palm, back) = (side(1.0, edges[0]), side(-1.0, edges[1]));
        let ends = |run: &Run| run.first().zip(run.last()).map(|(a, b)| (a.p0, b.p3));
        let mut notches = Vec::new();
        for (run, edge, sign) in [(&palm, edges[0], 1.0), (&back, edges[1], -1.0)] {
            if let Some((at, along)) = outline::at_length(run, edge.from_top) {
                notches.push(Notch {
                    at,
                    outward: Vec2::new(along.y, -along.x) * sign,
                    label: label.clone(),
                    kind: NotchKind::Tick,
                });
            }
        }
        let mut runs: Vec<Run> = Vec::with_capacity(4);
        let up: Run = back.iter().rev().copied().map(reversed).collect();
        if let (Some((palm_top, palm_root)), Some((back_top, back_root))) =
            (ends(&palm), ends(&back))
        {
            runs.push(palm.clone());
            runs.push(vec![line(palm_root, back_root)]);
            runs.push(up);
            if (palm_top - back_top).hypot() > 1e-6 {
                runs.push(vec![line(back_top, palm_top)]);
            }
        }
        let allowance = options.seam_allowance_mm;
        let cut =
            cut_line::around(runs.iter().map(|run| outline::parallel(run, allowance)).collect());
        let seam: Run = runs.into_iter().flatten().collect();
        let root = palm.last().map_or(0.0, |c| c.p3.y);
        let levels = [(tube.covers_end_joint(), to_end, half_end), (true, to_knuckle, half)];
        // The label goes above the middle joint, or beside the grain where the finger ends there.
        let top = -tube.below_end();
        let short = tube.below_end() > to_knuckle - 8.0;
        let (grain, label_area) = if short {
            let x = 0.7 * half;
            let grain = Line::new((x, root - 3.0), (x, top - 1.0));
            let high = (top - 1.0).max(root + 1.5);
            (grain, Rect::new(-half + 0.8, root + 0.5, 0.5 * half, high))
        } else {
            let grain = Line::new((0.0, root + 3.0), (0.0, root + 11.0));
            let high = (-to_end - 1.0).min(top - 2.0);
            (grain, Rect::new(-half_end + 0.8, -to_knuckle + 2.0, half_end - 0.8, high))
        };
        Strip {
            beside,
            lengths: [
                (outline::length(&palm), edges[0].whole),
                (outline::length(&back), edges[1].whole),
            ],
            levels: levels
                .into_iter()
                .filter(|(covered, ..)| *covered)
                .map(|(_, down, half)| (Line::new((-half, -down), (half, -down)), half))
                .collect(),
            piece: Piece {
                kind: PieceKind::Fourchette,
                name: format!("Fourchette {label}, {}", beside.name()),
                cut: 1,
                lines: vec![
                    (Layer::Cut, outline::closed(&cut)),
                    (Layer::Seam, outline::closed(&seam)),
                ],
                on_fold: false,
                notches,
                marks: if short { Vec::new() } else { edge_names(half, root) },
                label_area,
                grain,
            },
        }
    }
}

/// Which edge is which, written at the root.
fn edge_names(half: f64, root: f64) -> Vec<Mark> {
    [(-half + 2.8, "palm"), (half - 1.0, "back")]
        .into_iter()
        .map(|(x, name)| Mark::upright(Point::new(x, root + 1.5), 1.8, name))
        .collect()
}

/// An edge of a finger that a fourchette is sewn to.
#[derive(Debug, Clone, Copy)]
struct Edge {
    /// From slit to top.
    whole: f64,
    /// From the top down to the notch at the middle joint.
    from_top: f64,
}

/// A fourchette and what it is sewn to.
#[derive(Debug, Clone)]
pub(super) struct Strip {
    beside: Digit,
    /// Own length and length of the finger's edge, palm and back.
    lengths: [(f64, f64); 2],
    /// Lines across it at the joints, and half its width there.
    pub(super) levels: Vec<(Line, f64)>,
    /// The piece.
    pub(super) piece: Piece,
}

impl Strip {
    /// The two seams along it.
    pub(super) fn seams(&self) -> impl Iterator<Item = SeamPair> + '_ {
        ["palm", "back"].into_iter().zip(self.lengths).map(|(side, (own, other))| SeamPair {
            name: format!("{}, {side} edge to {}", self.piece.name, self.beside.name()),
            first_mm: own,
            second_mm: other,
            eased_mm: 0.0,
        })
    }
}
