//! The glove with fourchettes: a trank whose fingers are faces only; the shares of girth between
//! faces and strips.

use kurbo::{Point, Vec2};

use super::layout::{Crotch, Layout};
use super::outline::{self, Run};
use super::piece::{Notch, NotchKind};
use super::skeleton::Skeleton;
use super::strip::{Edge, Shape, Strip};
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

    /// The six fourchettes, two a space, and their notches on the trank.
    pub(super) fn fourchettes(&self) -> (Vec<Strip>, Vec<Notch>) {
        let mut strips = Vec::with_capacity(6);
        let mut notches = Vec::with_capacity(24);
        for k in 0..3 {
            for (tube, wall) in [(k, Wall::Far), (k + 1, Wall::Near)] {
                let label = format!("F{}", strips.len() + 1);
                let edges = [(&self.palm, 1.0), (&self.back, -1.0)].map(|(layout, sign)| {
                    let slit = &layout.crotches[k];
                    let tube = &layout.tubes[tube];
                    let corner = if wall == Wall::Far { slit.near } else { slit.far };
                    let mut run: Run = tube.wall_up(wall, corner, slit.opening).to_vec();
                    if let Some(end) = tube.end {
                        run = tube.cut_off(run, end);
                    }
                    let wall_length = outline::length(&run);
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
                    let floor = (slit.far - slit.near).hypot() / 2.0;
                    Edge { wall: wall_length, floor, from_top: wall_length - first }
                });
                let digit = Digit::FINGERS[tube];
                let shape = Shape {
                    half: self.width / 2.0,
                    half_end: self.end_widths[tube] / 2.0,
                    tube: &self.palm.tubes[tube],
                };
                strips.push(Strip::new(&shape, edges, wall, digit, label));
            }
        }
        (strips, notches)
    }
}
