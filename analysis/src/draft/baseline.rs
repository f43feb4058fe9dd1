//! The glove to beat: the hand traced with one border all round.
//!
//! Common practice for stretch gloves: lay the hand down with its fingers spread, draw round it with
//! a border of 5 mm, none along the fold, and sew the same flat crotch and the same thumb.

use crate::dimension::Dimension as D;
use crate::model::HandEstimate;

use super::layout::Pair;
use super::skeleton::{FINGER_COUNT, Skeleton};
use super::tube::Tube;
use super::{DraftError, GloveOptions};

/// Border of a traced glove, mm (common practice).
const BORDER_MM: f64 = 5.0;

/// Knuckle girth over knuckle breadth: 2.97 to 3.18 (Greiner 1991), the middle of it.
pub const GIRTH_TO_BREADTH: f64 = 3.075;

/// Widest spread between neighbouring fingers, degrees (Chatzioglou 2024, means of 51 hands).
const WIDEST_SPREAD_DEG: [f64; 3] = [17.2, 14.3, 32.1];

/// How a traced glove would sit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TracedFit {
    /// Largest extension over palm, roots, middle and end joints of the fingers.
    pub largest_extension: f64,
    /// Largest distance from a web up to the crotch, mm.
    pub largest_stand_off_mm: f64,
}

/// How a traced glove would sit on this hand. The knuckles are spaced evenly over hand breadth, and
/// each finger is as broad at its root as at its middle joint (both assumed).
///
/// # Errors
/// [`DraftError::Hand`] when the dimensions contradict each other.
pub fn traced(hand: &HandEstimate, options: &GloveOptions) -> Result<TracedFit, DraftError> {
    let skeleton = Skeleton::new(hand, 0.0)?;
    let mut largest_extension =
        hand.mm(D::HandGirth) / (2.0 * (hand.mm(D::HandBreadth) + BORDER_MM)) - 1.0;
    let mut index = 0;
    let mut tubes = skeleton.fingers.map(|finger| {
        let borders = if index == 0 { BORDER_MM } else { 2.0 * BORDER_MM };
        for girth in [finger.knuckle_girth, finger.end_girth] {
            let flat = girth / GIRTH_TO_BREADTH + borders;
            largest_extension = largest_extension.max(girth / (2.0 * flat) - 1.0);
        }
        // Both walls stand one border off the finger, whose axis goes through its pivot.
        let half = finger.knuckle_girth / GIRTH_TO_BREADTH / 2.0 + BORDER_MM;
        index += 1;
        Tube::with_half_widths(&finger, half, half, half, false)
    });
    let spacing = hand.mm(D::HandBreadth) / FINGER_COUNT as f64;
    let mut largest_stand_off_mm = f64::NEG_INFINITY;
    for k in 0..3 {
        tubes[k + 1].tilt = tubes[k].tilt + WIDEST_SPREAD_DEG[k].to_radians();
        // Seen along the bisector, as if the hand were turned so that it points up.
        let mut near = tubes[k];
        let mut far = tubes[k + 1];
        near.tilt = -WIDEST_SPREAD_DEG[k].to_radians() / 2.0;
        far.tilt = -near.tilt;
        let pair = Pair::new(&near, &far);
        let height = (options.crotch_width_mm() - pair.gap(0.0, spacing)) / pair.opening();
        let middle = f64::midpoint(near.origin.y, far.origin.y);
        largest_stand_off_mm = largest_stand_off_mm.max(height - (skeleton.webs[k] - middle));
    }
    Ok(TracedFit { largest_extension, largest_stand_off_mm })
}
