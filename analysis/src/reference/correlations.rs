//! Correlations between dimensions of one hand, on logarithms.
//!
//! Where two sources give the same pair, the larger and adult one is kept: the 2012 survey before
//! Khazri 2022 (184 students a sex) before Snyder 1977 (15 to 18 years, age and sex removed).
//! Pairs that bind hand length, palm and middle finger are entered twice at most of three ways:
//! the identity gives the third.

use super::{Correlation, Source};
use crate::dimension::Dimension::{self, *};

use Source::{Ansur2, Assumed, HilgardScans, Hsiao2015, Snyder1977};

const fn by_sex(
    a: Dimension,
    b: Dimension,
    women: f64,
    men: f64,
    n: u32,
    source: Source,
) -> Correlation {
    Correlation { a, b, women, men, n, source }
}

const fn snyder(a: Dimension, b: Dimension, r: f64, n: u32) -> Correlation {
    by_sex(a, b, r, r, n, Snyder1977)
}

const fn assumed(a: Dimension, b: Dimension, r: f64) -> Correlation {
    by_sex(a, b, r, r, 0, Assumed)
}

/// Every correlation the model is built from.
pub const CORRELATIONS: [Correlation; 54] = [
    // 2012 survey, the people with odd subject numbers (996 women, 2,042 men), logarithms. Palm
    // length is the survey's own, whose standard scores stand for ours.
    by_sex(HandLength, PalmLength, 0.8407, 0.7935, 3038, Ansur2),
    by_sex(HandLength, HandBreadth, 0.5647, 0.5951, 3038, Ansur2),
    by_sex(PalmLength, HandBreadth, 0.5062, 0.4898, 3038, Ansur2),
    by_sex(HandLength, HandGirth, 0.5540, 0.5998, 3038, Ansur2),
    by_sex(PalmLength, HandGirth, 0.5109, 0.5138, 3038, Ansur2),
    by_sex(HandBreadth, HandGirth, 0.8966, 0.9240, 3038, Ansur2),
    by_sex(HandLength, WristGirth, 0.5364, 0.5497, 3038, Ansur2),
    by_sex(PalmLength, WristGirth, 0.5087, 0.4834, 3038, Ansur2),
    by_sex(HandBreadth, WristGirth, 0.6811, 0.7167, 3038, Ansur2),
    by_sex(HandGirth, WristGirth, 0.7370, 0.7792, 3038, Ansur2),
    // Follows from Hsiao's SDs of hand length, palm and middle finger and their identity. It
    // describes true lengths (all three were read off one scan), and settles how much of the
    // 2012 survey's spread of hand length and palm is measuring error.
    by_sex(PalmLength, MiddleLength, 0.447, 0.594, 943, Hsiao2015),
    // Finger lengths.
    snyder(HandLength, ThumbLength, 0.570, 231),
    snyder(HandLength, IndexLength, 0.764, 231),
    snyder(HandBreadth, ThumbLength, 0.267, 233),
    snyder(HandBreadth, IndexLength, 0.454, 233),
    snyder(ThumbLength, IndexLength, 0.591, 233),
    snyder(ThumbLength, MiddleLength, 0.601, 233),
    snyder(IndexLength, MiddleLength, 0.876, 233),
    by_sex(IndexLength, RingLength, 0.841, 0.841, 448, HilgardScans),
    // Assumed: the ring finger stands to its neighbour as the index finger does, and the little
    // finger, the most variable one, somewhat less close.
    assumed(HandLength, RingLength, 0.764),
    assumed(MiddleLength, RingLength, 0.876),
    assumed(HandLength, LittleLength, 0.690),
    assumed(MiddleLength, LittleLength, 0.760),
    assumed(RingLength, LittleLength, 0.800),
    // Joint girths, from finger diameters by hole gauge.
    snyder(HandLength, ThumbKnuckleGirth, 0.320, 230),
    snyder(HandLength, IndexKnuckleGirth, 0.400, 231),
    snyder(HandLength, MiddleKnuckleGirth, 0.392, 231),
    snyder(MiddleLength, ThumbKnuckleGirth, 0.301, 232),
    snyder(MiddleLength, IndexKnuckleGirth, 0.352, 233),
    snyder(MiddleLength, MiddleKnuckleGirth, 0.401, 233),
    snyder(IndexLength, ThumbKnuckleGirth, 0.288, 232),
    snyder(IndexLength, IndexKnuckleGirth, 0.356, 233),
    snyder(IndexLength, MiddleKnuckleGirth, 0.373, 233),
    snyder(ThumbLength, ThumbKnuckleGirth, 0.191, 232),
    snyder(ThumbLength, IndexKnuckleGirth, 0.192, 233),
    snyder(ThumbLength, MiddleKnuckleGirth, 0.228, 233),
    snyder(HandBreadth, ThumbKnuckleGirth, 0.585, 232),
    snyder(HandBreadth, IndexKnuckleGirth, 0.627, 233),
    snyder(HandBreadth, MiddleKnuckleGirth, 0.669, 233),
    snyder(ThumbKnuckleGirth, IndexKnuckleGirth, 0.756, 232),
    snyder(ThumbKnuckleGirth, MiddleKnuckleGirth, 0.751, 232),
    snyder(IndexKnuckleGirth, MiddleKnuckleGirth, 0.874, 233),
    // Assumed: neighbours as index and middle; the little finger less close; an end joint follows
    // its own knuckle.
    assumed(MiddleKnuckleGirth, RingKnuckleGirth, 0.874),
    assumed(RingKnuckleGirth, LittleKnuckleGirth, 0.800),
    assumed(IndexKnuckleGirth, IndexTipGirth, 0.800),
    assumed(MiddleKnuckleGirth, MiddleTipGirth, 0.800),
    assumed(RingKnuckleGirth, RingTipGirth, 0.800),
    assumed(LittleKnuckleGirth, LittleTipGirth, 0.800),
    // Assumed: webs move with the palm and with each other.
    assumed(HandLength, ThumbWebHeight, 0.600),
    assumed(PalmLength, MiddleRingWebHeight, 0.800),
    assumed(IndexMiddleWebHeight, MiddleRingWebHeight, 0.880),
    assumed(MiddleRingWebHeight, RingLittleWebHeight, 0.850),
    // Assumed: girth over the thumb follows hand girth; the thumb's root its knuckle.
    assumed(HandGirth, HandGirthOverThumb, 0.850),
    assumed(ThumbKnuckleGirth, ThumbRootGirth, 0.700),
];
