//! The cloth that the pairs to cut take.

use analysis::draft::{Draft, GloveOptions, draft};
use analysis::hand::Side;
use analysis::model::{FilledHands, HandModel};
use kurbo::{Affine, Point};
use serde::Serialize;
use utoipa::ToSchema;

use super::{Cast, Chosen, SizeOrder};
use crate::lay::outline;
use crate::lay::search;
use crate::person::tenth;

/// Width of the cloth, mm (assumed: knits are commonly sold at 1.4 to 1.6 m).
const WIDTH_MM: f64 = 1400.0;

/// Room between pieces, mm, as `handcall lay` has it.
const GAP_MM: f64 = 3.0;

/// Chords of an outline, mm: the lay is an estimate here.
const CHORD_MM: f64 = 0.5;

/// Pieces laid to see how closely they lie (assumed: enough that the ragged end of the lay no
/// longer matters much, and few enough for a page to wait).
const LAID_PIECES: usize = 24;

/// What the pairs to cut take.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Cloth {
    /// Area of all pieces, square metres.
    pub area_m2: f64,
    /// Width of the cloth, mm.
    pub width_mm: f64,
    /// Share of the cloth that is pieces, in a plain lay of one pair of each size, percent.
    pub used_percent: f64,
    /// Length of cloth, metres.
    pub length_m: f64,
}

/// The pair of gloves of each size; `None` where a side cannot be drafted.
#[must_use]
pub fn pairs(
    model: &HandModel,
    cast: &Cast<'_>,
    chosen: &Chosen,
    order: &SizeOrder,
) -> Vec<Option<[Draft; 2]>> {
    let pair = |slot: usize| {
        let (hands, population) = chosen.hands(model, cast, order, slot)?;
        drafted(&hands, &order.options.worn_by(population))
    };
    (0..chosen.sizes.len()).map(pair).collect()
}

fn drafted(hands: &FilledHands, options: &GloveOptions) -> Option<[Draft; 2]> {
    let one = |side: Side| draft(hands.side(side), side, options).ok();
    Some([one(Side::Left)?, one(Side::Right)?])
}

/// Area of a pair's pieces, cut line to cut line, square centimetres.
#[must_use]
pub fn pair_cm2(pair: &[Draft; 2]) -> f64 {
    tenth(outlines(pair).iter().map(|outline| area_mm2(outline)).sum::<f64>() / 100.0)
}

fn outlines(pair: &[Draft; 2]) -> Vec<Vec<Point>> {
    let pieces = pair.iter().flat_map(|glove| &glove.pieces);
    pieces
        .flat_map(|piece| {
            let cut = outline(piece, Affine::IDENTITY, CHORD_MM);
            std::iter::repeat_n(cut, piece.cut.max(1) as usize)
        })
        .collect()
}

fn area_mm2(outline: &[Point]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    let doubled: f64 = outline.iter().zip(next).map(|(a, b)| a.x * b.y - b.x * a.y).sum();
    doubled.abs() / 2.0
}

/// What so many pairs of each size take. `None` without a pair that can be drafted.
#[must_use]
pub fn cloth(pairs: &[Option<[Draft; 2]>], cut: &[u64]) -> Option<Cloth> {
    let areas = pairs.iter().zip(cut).filter_map(|(pair, cut)| Some((pair.as_ref()?, *cut)));
    let area_cm2: f64 = areas.map(|(pair, cut)| pair_cm2(pair) * cut as f64).sum();
    let one_each: Vec<Vec<Point>> = pairs.iter().flatten().flat_map(outlines).collect();
    let wanted = LAID_PIECES.max(one_each.len());
    let laid: Vec<Vec<Point>> = one_each.iter().cycle().take(wanted).cloned().collect();
    let on = search::Cloth { width_mm: WIDTH_MM, gap_mm: GAP_MM, may_lie_head_down: true };
    let used = search::bottom_left(&laid, on).ok()?.used;
    let area_m2 = area_cm2 / 10_000.0;
    Some(Cloth {
        area_m2: (area_m2 * 100.0).round() / 100.0,
        width_mm: WIDTH_MM,
        used_percent: (used * 100.0).round(),
        length_m: tenth((area_m2 / used / (WIDTH_MM / 1000.0) * 10.0).ceil() / 10.0),
    })
}
