//! How far a glove moves with each dimension of the hand: finite differences of the drafting.

use kurbo::{ParamCurve, Point, Shape};

use super::{Draft, DraftError, GloveOptions, Layer, PieceKind, Zone, draft};
use crate::dimension::{Dimension, PerDimension};
use crate::hand::Side;
use crate::model::HandEstimate;

/// Step of the differences, mm: beyond the draft's own tolerance of half a millimetre, within what
/// hands differ by.
const STEP_MM: f64 = 2.0;
/// Points taken on each segment of an outline; it turns little within one.
const POINTS: u32 = 24;

/// Millimetres by which the glove changes, where it changes most, a millimetre of each dimension,
/// about a hand. Looked at are its girths at every level, how high its crotches stand, how far each
/// fingertip is from its crotch, the height of the thumb, and where its hole sits and how
/// large it is. 0 where the drafting does not read the dimension.
///
/// # Errors
/// [`DraftError`] when there is no draft of the hand, or of one a step beside it.
pub fn sensitivity(
    hand: &HandEstimate,
    options: &GloveOptions,
) -> Result<PerDimension<f64>, DraftError> {
    let measured = |d: Dimension, by_mm: f64| {
        let moved = HandEstimate::new(PerDimension::from_fn(|of| {
            let mut estimate = hand.get(of);
            if of == d {
                estimate.mm += by_mm;
            }
            estimate
        }));
        draft(&moved, Side::Right, options).map(|draft| measures(&draft))
    };
    let mut moves = PerDimension::from_fn(|_| 0.0);
    for d in Dimension::ALL {
        let (low, high) = (measured(d, -STEP_MM)?, measured(d, STEP_MM)?);
        let each = low.iter().zip(&high).map(|(low, high)| (high - low).abs() / (2.0 * STEP_MM));
        moves[d] = each.fold(0.0, f64::max);
    }
    Ok(moves)
}

/// What is looked at, mm.
fn measures(draft: &Draft) -> Vec<f64> {
    let mut out: Vec<f64> = draft.levels.iter().map(|level| level.girth_mm).collect();
    out.extend(draft.crotches.iter().map(|floor| floor.midpoint().y));
    let outlines: Vec<Vec<Point>> = draft
        .pieces
        .iter()
        .map(|piece| piece.outline(Layer::Seam).map(points).unwrap_or_default())
        .collect();
    let ends = draft.levels.iter().filter(|level| matches!(level.zone, Zone::EndJoint(_)));
    for (finger, level) in ends.enumerate() {
        // Index and middle finger meet at the first crotch, ring and little finger have their own.
        let crotch = draft.crotches.get(finger.saturating_sub(1));
        if let (Some(crotch), Some(outline)) = (crotch, outlines.get(level.piece)) {
            out.extend(tip(level.line, outline).map(|tip| tip.distance(crotch.midpoint())));
        }
    }
    let thumb = draft.pieces.iter().find(|piece| piece.kind == PieceKind::Thumb);
    let thumb = thumb.and_then(|piece| piece.outline(Layer::Seam));
    out.extend(thumb.map(|outline| outline.bounding_box().height()));
    let hole = draft.pieces.iter().find_map(|piece| piece.outline(Layer::Hole));
    out.extend(hole.map(|hole| hole.bounding_box().center().y));
    out.extend(draft.seams.first().map(|seam| seam.second_mm));
    out
}

fn points(outline: &kurbo::BezPath) -> Vec<Point> {
    let along = |segment: kurbo::PathSeg| {
        (0..POINTS).map(move |k| segment.eval(f64::from(k) / f64::from(POINTS)))
    };
    outline.segments().flat_map(along).collect()
}

/// The fingertip beyond a level: the point of the outline furthest over it.
fn tip(level: kurbo::Line, outline: &[Point]) -> Option<Point> {
    let middle = level.midpoint();
    let along = (level.p1 - level.p0).normalize();
    let half = (level.p1 - level.p0).hypot() / 2.0;
    let over = |p: &Point| (*p - middle).cross(along).abs();
    outline
        .iter()
        .filter(|p| (**p - middle).dot(along).abs() <= half && p.y > middle.y)
        .max_by(|a, b| over(a).total_cmp(&over(b)))
        .copied()
}
