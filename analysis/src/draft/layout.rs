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

/// Greatest extension planned at a finger's root (assumed: what a moderate knit gives without
/// effort, and below the extension that a traced glove has at the index finger).
const ROOT_EXTENSION_MAX: f64 = 0.18;

/// How far the little finger's outer edge stands outside the palm at its knuckle, as a share of
/// palm width (assumed: the outline turns there in a smooth curve instead of a corner).
const OUTER_FLARE: f64 = 0.06;

/// Stand-off, spread and root extension that cost the same in the trade (assumed; the cutter's
/// judgement of what shows first on the hand).
const STAND_OFF_SCALE_MM: f64 = 12.0;
const SPREAD_SCALE: f64 = 0.80;
const ROOT_EXTENSION_SCALE: f64 = 0.14;

/// Smallest stand-off planned, mm (assumed): a crotch that touches the web pulls.
const STAND_OFF_MIN_MM: f64 = 2.0;

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

/// Lays the fingers out for a palm of the given flat width.
///
/// # Errors
/// [`DraftError::Hand`] when the fingers do not find room.
pub(super) fn layout(
    skeleton: &Skeleton,
    options: &GloveOptions,
    palm_width: f64,
) -> Result<Layout, DraftError> {
    let (spread, extension) = choose(skeleton, options, palm_width);
    place(skeleton, options, palm_width, spread, extension)
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

/// Chooses the share of the widest spread and the root extension. In the small-angle picture the
/// spacing of two pivots s and the spread t leave a crotch at height h where
/// `s + h t = mean root width + crotch width`; with equal stand-off d at all three,
/// `d = (sum(width + crotch) - sum(s) - sum(g t)) / sum(t)`, g being the web's height.
fn choose(skeleton: &Skeleton, options: &GloveOptions, palm_width: f64) -> (f64, f64) {
    let fingers_extension = 1.0 / (1.0 - options.reduction.fingers) - 1.0;
    let low = fingers_extension.min(ROOT_EXTENSION_MAX);
    let crotch = options.crotch_width_mm();
    let reach: f64 = (0..3).map(|k| FULL_SPREAD_DEG[k].to_radians()).sum();
    let lift: f64 =
        (0..3).map(|k| FULL_SPREAD_DEG[k].to_radians() * web_above_pivots(skeleton, k)).sum();
    let girths: f64 = skeleton.fingers.iter().map(|f| f.knuckle_girth).sum();
    let room = palm_width * (1.0 + OUTER_FLARE);
    let stand_off = |spread: f64, extension: f64| {
        let widths = girths / (2.0 * (1.0 + extension));
        (widths + 3.0 * crotch - room - lift * spread) / (reach * spread)
    };
    let cost = |spread: f64, extension: f64| {
        let d = stand_off(spread, extension);
        let too_deep = (STAND_OFF_MIN_MM - d).max(0.0);
        (d.max(0.0) / STAND_OFF_SCALE_MM).powi(2)
            + too_deep * too_deep
            + (spread / SPREAD_SCALE).powi(2)
            + ((extension - low) / ROOT_EXTENSION_SCALE).powi(2)
    };
    // Coordinate search with halving steps: the cost is smooth and has one valley.
    let (mut spread, mut extension) = (0.7, (low + ROOT_EXTENSION_MAX) / 2.0);
    let (mut step_s, mut step_e) = (0.2, 0.04);
    for _ in 0..10 {
        for _ in 0..3 {
            spread = best([spread, spread - step_s, spread + step_s], |s| {
                cost(s.clamp(0.15, 1.0), extension)
            })
            .clamp(0.15, 1.0);
            extension = best([extension, extension - step_e, extension + step_e], |e| {
                cost(spread, e.clamp(low, ROOT_EXTENSION_MAX))
            })
            .clamp(low, ROOT_EXTENSION_MAX);
        }
        step_s *= 0.5;
        step_e *= 0.5;
    }
    (spread, extension)
}

fn best(candidates: [f64; 3], cost: impl Fn(f64) -> f64) -> f64 {
    let [mut chosen, ..] = candidates;
    for candidate in candidates {
        if cost(candidate) < cost(chosen) {
            chosen = candidate;
        }
    }
    chosen
}

fn place(
    skeleton: &Skeleton,
    options: &GloveOptions,
    palm_width: f64,
    spread: f64,
    extension: f64,
) -> Result<Layout, DraftError> {
    let mut tubes = shape(skeleton, options, extension);
    let spreads = FULL_SPREAD_DEG.map(|degrees| degrees.to_radians() * spread);
    let mut tilt = 0.0;
    for (k, spread) in spreads.iter().enumerate() {
        tilt += spread;
        tubes[k + 1].tilt = tilt;
    }
    let little = &tubes[3];
    let outer = palm_width * (1.0 + OUTER_FLARE);
    let across = outer - little.half_width(0.0) * little.tilt.cos();
    let total = across - tubes[0].half_width(tubes[0].root);
    let mut spacing = [total / 3.0; 3];
    let mut crotches = None;
    for _ in 0..6 {
        let mut x = -tubes[0].half_width(tubes[0].root);
        for k in 0..3 {
            x -= spacing[k];
            tubes[k + 1].origin.x = x;
        }
        let found = [0, 1, 2].map(|k| crotch(skeleton, options, &tubes, k));
        let [Some(a), Some(b), Some(c)] = found else {
            return Err(no_room());
        };
        let found = [a, b, c];
        // Move room from low crotches to high ones until all three stand off alike.
        let weight: f64 = spreads.iter().sum();
        let mean = (0..3).map(|k| found[k].stand_off * spreads[k]).sum::<f64>() / weight;
        for k in 0..3 {
            spacing[k] += (found[k].stand_off - mean) * spreads[k];
        }
        crotches = Some(found);
    }
    let Some(crotches) = crotches else { return Err(no_room()) };
    for (k, crotch) in crotches.iter().enumerate() {
        for (tube, corner) in [(&tubes[k], crotch.near), (&tubes[k + 1], crotch.far)] {
            let v = tube.in_own_frame(corner).y;
            if v > tube.knuckle - CROTCH_TO_KNUCKLE_MM || v < 0.0 {
                return Err(no_room());
            }
        }
    }
    Ok(Layout { tubes, crotches })
}

fn no_room() -> DraftError {
    DraftError::Hand(
        "The fingers find no room side by side on this palm. Check hand girth, knuckle girths and web heights, or take less ease off the fingers."
            .to_owned(),
    )
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
    if growth < 1e-3 {
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
    Some(Crotch { near: p, far: q, out, stand_off, spread })
}
