//! Grading: the gloves of a size chart.

use crate::dimension::Dimension as D;
use crate::hand::{Hands, Side};
use crate::model::{HandEstimate, HandModel, Population};
use crate::sizing::en;

use super::{Draft, DraftError, GloveOptions, draft};

/// A size: its name, and the hand its gloves are drafted for.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartSize {
    /// Name on the pieces, for example "EN 8".
    pub name: String,
    /// The hand.
    pub hand: HandEstimate,
}

/// The six published sizes of EN 420:2003+A1:2009 (table 1: hand girth and hand length), all else
/// filled by the model as the likeliest hand of that girth and length.
#[must_use]
pub fn european_chart(model: &HandModel) -> Vec<ChartSize> {
    let size = |(number, girth_mm, length_mm): (u8, f64, f64)| {
        let hands = Hands::from_readings(&[
            (Side::Right, D::HandGirth, girth_mm),
            (Side::Right, D::HandLength, length_mm),
        ]);
        let hand = model.fill(Population::Adults, &hands).right;
        ChartSize { name: format!("EN {number}"), hand }
    };
    en::ROWS.into_iter().map(size).collect()
}

/// One draft a size, in the chart's order: the same construction and ease throughout, each size
/// drafted anew from its own hand rather than spread from a middle one.
#[must_use]
pub fn grade(
    chart: &[ChartSize],
    side: Side,
    options: &GloveOptions,
) -> Vec<Result<Draft, DraftError>> {
    chart.iter().map(|size| draft(&size.hand, side, options)).collect()
}
