//! Where the fingers stand on the flat cloth: the small optimisation of spread, root width and
//! crotch height.
//!
//! The cloth of four finger tubes side by side is wider than the palm, so the tubes must fan out,
//! be narrower at the root, or part higher up. The three are traded against each other.

use kurbo::{Point, Vec2};

use super::skeleton::Skeleton;
use super::tube::{Tube, Wall};
use super::{DraftError, GloveOptions};

/// Full spread of the draft, degrees: no farther than the hand itself spreads (17.2, 14.3 and 32.1
/// degrees, Chatzioglou 2024, means of 51 hands), since cloth drawn wider would always bunch; and
/// less at the little finger, whose outer edge would else turn too sharply into the palm (assumed).
const FULL_SPREAD_DEG: [f64; 3] = [17.0, 14.3, 23.0];

/// How far the free choices may go.
#[derive(Debug, Clone, Copy)]
struct Limits {
    /// Share of the full spread.
    spread: f64,
    /// Extension at a finger's root.
    extension: f64,
    /// Flare of the outer edge.
    flare: f64,
    /// Share of the finger between web and middle joint that the stand-off may take at the same
    /// cost as a full step of the other choices.
    share: f64,
}

/// Ordinary hands. The extension is what a moderate knit gives without effort, and about what a
/// traced glove has at the index finger (assumed).
const EASY: Limits = Limits { spread: 1.0, extension: 0.20, flare: 0.14, share: 0.34 };

/// Thick fingers on a narrow palm (assumed: about as far as a moderate knit goes with comfort).
const HARD: Limits = Limits { spread: 1.3, extension: 0.40, flare: 0.24, share: 0.17 };

/// The thickest fingers and narrowest palms that are still drafted (assumed).
const HARDEST: Limits = Limits { spread: 1.6, extension: 0.50, flare: 0.36, share: 0.12 };

/// Least growth of the gap between two fingers, mm for each mm of height (assumed: below it the
/// bent walls would come closer again above the crotch).
const OPENING_MIN: f64 = 0.08;

/// Spread, root extension and flare that cost the same in the trade (assumed; the cutter's
/// judgement of what shows first on the hand).
const SPREAD_SCALE: f64 = 0.80;
const ROOT_EXTENSION_SCALE: f64 = 0.05;
const FLARE_SCALE: f64 = 0.06;

/// Share of the extension at the pressure limit that a root may take at the crease (assumed: a crotch
/// below the crease meets the finger's straight walls where they are narrower still).
const PRESSED_SHARE: f64 = 0.9;

/// Smallest stand-off planned, as a share of the finger between web and middle joint (assumed): a
/// crotch that touches the web pulls.
const SHARE_MIN: f64 = 0.08;

/// Smallest room between a crotch and the middle joint, mm (assumed).
const CROTCH_TO_KNUCKLE_MM: f64 = 4.0;

/// A flat crotch between two fingers.
#[derive(Debug, Clone, Copy)]
pub(super) struct Crotch {
    /// Corner on the thumb side.
    pub(super) near: Point,
    /// Corner on the little-finger side.
    pub(super) far: Point,
    /// Unit vector from the crotch out of the glove, between the fingers.
    pub(super) out: Vec2,
    /// How far the crotch stands off the web, mm.
    pub(super) stand_off: f64,
    /// Spread drawn between the two fingers, radians.
    pub(super) spread: f64,
    /// Growth of the gap between the two fingers for each mm above the crotch.
    pub(super) opening: f64,
}

/// Four finger tubes and their crotches on the flat cloth; the fold is the line x = 0 and the
/// palm half lies at x < 0.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    /// Index, middle, ring, little.
    pub(super) tubes: [Tube; 4],
    /// Between them.
    pub(super) crotches: [Crotch; 3],
}

/// What is given.
#[derive(Debug, Clone, Copy)]
struct Given<'a> {
    skeleton: &'a Skeleton,
    options: &'a GloveOptions,
    palm_width: f64,
    /// Web heights above the mean of the two pivots beside them.
    webs: [f64; 3],
    /// Length of the shorter finger beside a web, from web to the highest place for a crotch.
    free: [f64; 3],
}

/// The free choices of a layout.
#[derive(Debug, Clone, Copy)]
struct Choice {
    /// Share of the full spread.
    spread: f64,
    /// Extension at the finger roots.
    extension: f64,
    /// Flare of the outer edge at the little finger's knuckle, as a share of palm width; the
    /// outline turns there in a smooth curve instead of a corner.
    flare: f64,
}

/// Lays the fingers out for a palm of the given flat width.
///
/// # Errors
/// [`DraftError::Hand`] when the fingers do not find room.
pub(super) fn layout(
    skeleton: &Skeleton,
    options: &GloveOptions,
    palm_width: f64,
) -> Result<Layout, DraftError> {
    let pivot = |i: usize| skeleton.fingers[i].pivot_y;
    let knuckle = |i: usize| pivot(i) + skeleton.fingers[i].knuckle;
    let given = Given {
        skeleton,
        options,
        palm_width,
        webs: [0, 1, 2].map(|k| skeleton.webs[k] - f64::midpoint(pivot(k), pivot(k + 1))),
        free: [0, 1, 2].map(|k| {
            let highest = knuckle(k).min(knuckle(k + 1)) - CROTCH_TO_KNUCKLE_MM;
            (highest - skeleton.webs[k]).max(4.0)
        }),
    };
    // The fabric presses no harder at a root than its limit, if that leaves the fingers room at all.
    let bound = skeleton
        .fingers
        .iter()
        .filter_map(|finger| options.extension_at_limit(finger.knuckle_girth))
        .fold(f64::INFINITY, f64::min)
        * PRESSED_SHARE;
    let gently = |limits: Limits| Limits { extension: limits.extension.min(bound), ..limits };
    // Hands with thick fingers on a narrow palm need more of everything.
    let tiers = [EASY, HARD, HARDEST];
    tiers.map(gently).into_iter().chain(tiers).find_map(|limits| given.layout(given.choose(limits))).ok_or_else(|| {
        DraftError::Hand(
            "The fingers find no room side by side on this palm. Check hand girth, knuckle girths and web heights, or take more ease off the fingers and less off the palm."
                .to_owned(),
        )
    })
}

/// A layout solved for one choice.
#[derive(Debug, Clone, Copy)]
struct Solved {
    tubes: [Tube; 4],
    /// Share of the free finger length that every stand-off takes.
    share: f64,
    /// How far the worst crotch lies beyond its bounds, mm: below a pivot, or too near a joint.
    beyond: f64,
    /// Least growth of a gap.
    opening: f64,
}

impl Given<'_> {
    /// Coordinate search with halving steps: the cost is smooth and has one valley.
    fn choose(&self, limits: Limits) -> Choice {
        let eased = 1.0 / (1.0 - self.options.reduction.fingers) - 1.0;
        let low = eased.min(limits.extension);
        let bounded = |choice: Choice| Choice {
            spread: choice.spread.clamp(0.15, limits.spread),
            extension: choice.extension.clamp(low, limits.extension),
            flare: choice.flare.clamp(0.0, limits.flare),
        };
        let cost = |choice: Choice| {
            let solved = self.solve(choice);
            let too_deep = (SHARE_MIN - solved.share).max(0.0) / 0.02;
            let too_narrow = (OPENING_MIN - solved.opening).max(0.0) / 0.005;
            (solved.share.max(0.0) / limits.share).powi(2)
                + too_deep * too_deep
                + too_narrow * too_narrow
                + solved.beyond * solved.beyond
                + (choice.spread / SPREAD_SCALE).powi(2)
                + ((choice.extension - low) / ROOT_EXTENSION_SCALE).powi(2)
                + (choice.flare / FLARE_SCALE).powi(2)
        };
        let mut best = bounded(Choice { spread: 0.9, extension: low + 0.04, flare: 0.08 });
        let mut least = cost(best);
        let mut step = 1.0;
        for _ in 0..16 {
            let mut moved = false;
            for (spread, extension, flare) in [(0.1, 0.0, 0.0), (0.0, 0.03, 0.0), (0.0, 0.0, 0.02)]
            {
                for sign in [-step, step] {
                    let next = bounded(Choice {
                        spread: best.spread + sign * spread,
                        extension: best.extension + sign * extension,
                        flare: best.flare + sign * flare,
                    });
                    let next_cost = cost(next);
                    if next_cost < least {
                        (best, least, moved) = (next, next_cost, true);
                        break;
                    }
                }
            }
            if !moved {
                step *= 0.5;
            }
        }
        best
    }

    /// Places the pivots so that all three crotches take the same share of the free finger.
    ///
    /// Between two fingers, in the frame of their bisector with its origin between the pivots, the
    /// gap at a height is linear in that height and in the spacing of the pivots. So the spacing
    /// that leaves the crotch's width at the web plus a share of the free length is linear in the
    /// share; the three add up to the room there is.
    fn solve(&self, choice: Choice) -> Solved {
        let mut index = 0;
        let mut tubes = self.skeleton.fingers.map(|finger| {
            index += 1;
            Tube::new(&finger, self.options.reduction.fingers, choice.extension, index == 1)
        });
        for k in 0..3 {
            let spread = FULL_SPREAD_DEG[k].to_radians() * choice.spread;
            tubes[k + 1].tilt = tubes[k].tilt + spread;
        }
        let [first, _, _, little] = &tubes;
        let outer = self.palm_width * (1.0 + choice.flare);
        let start = first.half_width(first.root);
        let room = outer - little.half_width(0.0) * little.tilt.cos() - start;
        let pairs = [0, 1, 2].map(|k| Pair::new(&tubes[k], &tubes[k + 1]));
        let width = self.options.crotch_width_mm();
        let at =
            |k: usize, share: f64| pairs[k].spacing(self.webs[k] + share * self.free[k], width);
        let none: f64 = (0..3).map(|k| at(k, 0.0)).sum();
        let whole: f64 = (0..3).map(|k| at(k, 1.0)).sum();
        let share = (room - none) / (whole - none);
        let mut x = -start;
        let mut beyond: f64 = 0.0;
        for k in 0..3 {
            let spacing = at(k, share);
            x -= spacing;
            tubes[k + 1].origin.x = x;
            let heights = pairs[k].corner_heights(self.webs[k] + share * self.free[k], spacing);
            for (tube, v) in [(&tubes[k], heights.0), (&tubes[k + 1], heights.1)] {
                let top = tube.knuckle - CROTCH_TO_KNUCKLE_MM;
                beyond = beyond.max(v - top).max(-v);
            }
        }
        let opening = pairs.iter().map(Pair::opening).fold(f64::INFINITY, f64::min);
        Solved { tubes, share, beyond, opening }
    }

    fn layout(&self, choice: Choice) -> Option<Layout> {
        let Solved { tubes, beyond, opening, .. } = self.solve(choice);
        if !(beyond <= 0.0 && opening >= 0.75 * OPENING_MIN) {
            return None;
        }
        let crotches = [0, 1, 2].map(|k| self.crotch(&tubes, k));
        let tubes = tubes.map(|tube| tube.finished(self.options.finish));
        Some(Layout { tubes, crotches: [crotches[0]?, crotches[1]?, crotches[2]?] })
    }

    /// Where the walls of two neighbouring tubes are as far apart as the crotch is wide.
    fn crotch(&self, tubes: &[Tube; 4], k: usize) -> Option<Crotch> {
        let (near, far) = (&tubes[k], &tubes[k + 1]);
        let (a, along_a) = near.root_line(Wall::Far);
        let (b, along_b) = far.root_line(Wall::Near);
        let out = (along_a + along_b).normalize();
        let left = Vec2::new(-out.y, out.x);
        // Both walls as functions of the height h along `out`; their gap grows linearly with h.
        let gap_at = |h: f64| {
            let p = a + along_a * ((h - a.to_vec2().dot(out)) / along_a.dot(out));
            let q = b + along_b * ((h - b.to_vec2().dot(out)) / along_b.dot(out));
            (p, q, (q - p).dot(left))
        };
        let h0 = a.to_vec2().dot(out);
        let (gap0, gap1) = (gap_at(h0).2, gap_at(h0 + 1.0).2);
        let growth = gap1 - gap0;
        if growth <= 0.0 {
            return None;
        }
        let (p, q, _) = gap_at(h0 + (self.options.crotch_width_mm() - gap0) / growth);
        let middle = f64::midpoint(near.tilt, far.tilt);
        let bisector = Vec2::new(-middle.sin(), middle.cos());
        let web = near.pivot().midpoint(far.pivot()) + bisector * self.webs[k];
        let stand_off = (p.midpoint(q) - web).dot(bisector);
        Some(Crotch {
            near: p,
            far: q,
            out,
            stand_off,
            spread: far.tilt - near.tilt,
            opening: growth,
        })
    }
}

/// Two neighbouring tubes in the frame of their bisector.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// Sine and cosine of the bisector's tilt.
    tilt: (f64, f64),
    /// Sine and cosine of half the spread.
    half: (f64, f64),
    /// How much higher the far pivot lies.
    rise: f64,
    /// Reach of the near tube's far wall and of the far tube's near wall at their pivots, and the
    /// growth of both.
    near: (f64, f64),
    far: (f64, f64),
}

impl Pair {
    pub(super) fn new(near: &Tube, far: &Tube) -> Pair {
        Pair {
            tilt: f64::midpoint(near.tilt, far.tilt).sin_cos(),
            half: ((far.tilt - near.tilt) / 2.0).sin_cos(),
            rise: far.origin.y - near.origin.y,
            near: (near.far_reach(0.0), near.far_slope()),
            far: (far.half_width(0.0), far.root_slope()),
        }
    }

    /// Position along the tube where its wall is at a height above its pivot, and how far the wall
    /// lies there on the other tube's side of the pivot.
    fn wall(&self, (reach, slope): (f64, f64), height: f64) -> (f64, f64) {
        let (sin, cos) = self.half;
        let v = (height - reach * sin) / (cos + slope * sin);
        (v, (reach + slope * v) * cos - v * sin)
    }

    /// Height of a pivot below the middle between both, for a spacing: negative for the far one.
    fn drop(&self, spacing: f64) -> f64 {
        let (sin, cos) = self.tilt;
        f64::midpoint(spacing * sin, self.rise * cos)
    }

    pub(super) fn gap(&self, height: f64, spacing: f64) -> f64 {
        let (sin, cos) = self.tilt;
        let drop = self.drop(spacing);
        let near = self.wall(self.near, height + drop).1;
        let far = self.wall(self.far, height - drop).1;
        spacing * cos - self.rise * sin - near - far
    }

    /// Spacing of the pivots that leaves a gap of `width` at a height; linear, so two values tell.
    fn spacing(&self, height: f64, width: f64) -> f64 {
        let (none, one) = (self.gap(height, 0.0), self.gap(height, 1.0));
        (width - none) / (one - none)
    }

    /// Positions of the two crotch corners along their tubes.
    fn corner_heights(&self, height: f64, spacing: f64) -> (f64, f64) {
        let drop = self.drop(spacing);
        (self.wall(self.near, height + drop).0, self.wall(self.far, height - drop).0)
    }

    /// Growth of the gap for each mm of height.
    pub(super) fn opening(&self) -> f64 {
        self.gap(1.0, 0.0) - self.gap(0.0, 0.0)
    }
}
