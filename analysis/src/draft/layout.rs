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

/// How far at most the little finger's outer edge stands outside the palm at its knuckle, as a
/// share of palm width (assumed: the outline turns there in a smooth curve instead of a corner).
const FLARE_MAX: f64 = 0.16;

/// How far the free choices may go.
#[derive(Debug, Clone, Copy)]
struct Limits {
    /// Share of the full spread.
    spread: f64,
    /// Extension at a finger's root.
    extension: f64,
    /// Share of the finger between web and middle joint that the stand-off may take at the same
    /// cost as a full step of the other choices.
    share: f64,
}

/// Ordinary hands. The extension is what a moderate knit gives without effort, and about what a
/// traced glove has at the index finger (assumed).
const EASY: Limits = Limits { spread: 1.0, extension: 0.24, share: 0.34 };

/// Thick fingers on a narrow palm (assumed: about as far as a moderate knit goes with comfort).
const HARD: Limits = Limits { spread: 1.6, extension: 0.40, share: 0.17 };

/// Least growth of the gap between two fingers, mm for each mm of height (assumed: below it the
/// bent walls would come closer again above the crotch).
const OPENING_MIN: f64 = 0.06;

/// Spread, root extension and flare that cost the same in the trade (assumed; the
/// cutter's judgement of what shows first on the hand).
const SPREAD_SCALE: f64 = 0.80;
const ROOT_EXTENSION_SCALE: f64 = 0.12;
const FLARE_SCALE: f64 = 0.08;

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
    /// How much the gap grows for each mm of height.
    opening: f64,
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

/// The free choices of a layout.
#[derive(Debug, Clone, Copy)]
struct Choice {
    /// Share of the full spread.
    spread: f64,
    /// Extension at the finger roots.
    extension: f64,
    /// Flare of the outer edge, as a share of palm width.
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
    // Hands with thick fingers on a narrow palm need more of everything.
    [EASY, HARD]
        .into_iter()
        .find_map(|limits| {
            let choice = choose(skeleton, options, palm_width, limits);
            place(skeleton, options, palm_width, choice)
        })
        .ok_or_else(|| {
            DraftError::Hand(
                "The fingers find no room side by side on this palm. Check hand girth, knuckle girths and web heights, or take more ease off the fingers and less off the palm."
                    .to_owned(),
            )
        })
}

fn shape(skeleton: &Skeleton, options: &GloveOptions, extension: f64) -> [Tube; 4] {
    let mut index = 0;
    skeleton.fingers.map(|finger| {
        index += 1;
        Tube::new(&finger, options.reduction.fingers, extension, index == 1)
    })
}

/// Web height above the mean of the two pivots beside it.
fn web_above_pivots(skeleton: &Skeleton, k: usize) -> f64 {
    let mean = (skeleton.fingers[k].pivot_y + skeleton.fingers[k + 1].pivot_y) / 2.0;
    skeleton.webs[k] - mean
}

/// Length of the shorter finger beside a web, from web to the highest place for a crotch.
fn free_length(skeleton: &Skeleton, k: usize) -> f64 {
    let height = |i: usize| skeleton.fingers[i].pivot_y + skeleton.fingers[i].knuckle;
    (height(k).min(height(k + 1)) - skeleton.webs[k] - CROTCH_TO_KNUCKLE_MM).max(4.0)
}

/// Chooses the share of the full spread and the root extension. In the small-angle picture two
/// pivots a spacing s apart, their tubes spread by t, have between them at height h the gap
/// `s + t h - w(h)`, w being the sum of the two half widths, `w(h) = w(0) + m h`. The crotch sits
/// where the gap is the crotch's width q. With equal stand-off d above web height g at all three,
/// `d = (sum(w(0) + q) - sum(s) - sum(g (t - m))) / sum(t - m)`; here d is a share of the free
/// finger f instead, the same at all three, so that `sum(f (t - m))` divides.
fn choose(skeleton: &Skeleton, options: &GloveOptions, palm_width: f64, limits: Limits) -> Choice {
    let fingers_extension = 1.0 / (1.0 - options.reduction.fingers) - 1.0;
    let low = fingers_extension.min(limits.extension);
    let webs = [0, 1, 2].map(|k| web_above_pivots(skeleton, k));
    let free = [0, 1, 2].map(|k| free_length(skeleton, k));
    let share = |choice: Choice| {
        let tubes = shape(skeleton, options, choice.extension);
        let tilt: f64 = FULL_SPREAD_DEG.iter().map(|d| d.to_radians() * choice.spread).sum();
        let mut missing = -spacing_total(&tubes, palm_width * (1.0 + choice.flare), tilt);
        let mut opening = 0.0;
        for k in 0..3 {
            let (near, far) = (&tubes[k], &tubes[k + 1]);
            let opens = FULL_SPREAD_DEG[k].to_radians() * choice.spread
                - near.far_slope()
                - far.root_slope();
            missing += near.far_reach(0.0) + far.half_width(0.0) + options.crotch_width_mm();
            missing -= webs[k] * opens;
            opening += opens.max(OPENING_MIN) * free[k];
        }
        missing / opening
    };
    let bounded = |choice: Choice| Choice {
        spread: choice.spread.clamp(0.15, limits.spread),
        extension: choice.extension.clamp(low, limits.extension),
        flare: choice.flare.clamp(0.0, FLARE_MAX),
    };
    let cost = |choice: Choice| {
        let share = share(choice);
        let too_deep = (SHARE_MIN - share).max(0.0) / 0.02;
        (share.max(0.0) / limits.share).powi(2)
            + too_deep * too_deep
            + (choice.spread / SPREAD_SCALE).powi(2)
            + ((choice.extension - low) / ROOT_EXTENSION_SCALE).powi(2)
            + (choice.flare / FLARE_SCALE).powi(2)
    };
    // Coordinate search with halving steps: the cost is smooth and has one valley.
    let mut best = Choice { spread: 0.8, extension: f64::midpoint(low, 0.12), flare: 0.05 };
    let mut least = cost(best);
    let mut step = 1.0;
    for _ in 0..18 {
        let mut moved = false;
        for (spread, extension, flare) in [(0.2, 0.0, 0.0), (0.0, 0.05, 0.0), (0.0, 0.0, 0.03)] {
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

/// Room for the three spacings between the four pivots.
fn spacing_total(tubes: &[Tube; 4], outer: f64, little_tilt: f64) -> f64 {
    let [index, _, _, little] = tubes;
    outer - little.half_width(0.0) * little_tilt.cos() - index.half_width(index.root)
}

fn place(
    skeleton: &Skeleton,
    options: &GloveOptions,
    palm_width: f64,
    choice: Choice,
) -> Option<Layout> {
    let mut tubes = shape(skeleton, options, choice.extension);
    let spreads = FULL_SPREAD_DEG.map(|degrees| degrees.to_radians() * choice.spread);
    let mut tilt = 0.0;
    for (k, spread) in spreads.iter().enumerate() {
        tilt += spread;
        tubes[k + 1].tilt = tilt;
    }
    let total = spacing_total(&tubes, palm_width * (1.0 + choice.flare), tilt);
    let mut spacing = [total / 3.0; 3];
    let mut crotches = None;
    for _ in 0..4 {
        let mut x = -tubes[0].half_width(tubes[0].root);
        for k in 0..3 {
            x -= spacing[k];
            tubes[k + 1].origin.x = x;
        }
        let [Some(a), Some(b), Some(c)] = [0, 1, 2].map(|k| crotch(skeleton, options, &tubes, k))
        else {
            return None;
        };
        let found = [a, b, c];
        // Move room from low crotches to high ones until all three take the same share of the
        // finger between web and middle joint.
        let free: f64 = (0..3).map(|k| free_length(skeleton, k) * found[k].opening).sum();
        let share = found.iter().map(|c| c.stand_off * c.opening).sum::<f64>() / free;
        for k in 0..3 {
            let asked = share * free_length(skeleton, k);
            spacing[k] += (found[k].stand_off - asked) * found[k].opening;
        }
        crotches = Some(found);
    }
    let crotches = crotches?;
    let sits = |tube: &Tube, corner: Point| {
        let v = tube.in_own_frame(corner).y;
        v > 0.0 && v < tube.knuckle - CROTCH_TO_KNUCKLE_MM
    };
    let all = crotches
        .iter()
        .zip(tubes.iter().zip(tubes.iter().skip(1)))
        .all(|(crotch, (near, far))| sits(near, crotch.near) && sits(far, crotch.far));
    all.then_some(Layout { tubes, crotches })
}

/// Where the walls of two neighbouring tubes are as far apart as the crotch is wide.
fn crotch(
    skeleton: &Skeleton,
    options: &GloveOptions,
    tubes: &[Tube; 4],
    k: usize,
) -> Option<Crotch> {
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
    if growth < OPENING_MIN {
        return None;
    }
    let h = h0 + (options.crotch_width_mm() - gap0) / growth;
    let (p, q, _) = gap_at(h);
    let pivots = near.pivot().midpoint(far.pivot());
    let spread = far.tilt - near.tilt;
    let middle = (near.tilt + far.tilt) / 2.0;
    let bisector = Vec2::new(-middle.sin(), middle.cos());
    let web = pivots + bisector * web_above_pivots(skeleton, k);
    let stand_off = (p.midpoint(q) - web).dot(bisector);
    Some(Crotch { near: p, far: q, out, stand_off, spread, opening: growth })
}
