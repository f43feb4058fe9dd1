//! Children of 3 to 17 years.
//!
//! All from Snyder et al. 1977 (UM-HSRI-77-17), computed from the published records: hand length
//! and breadth by sex and completed years; how the rest grows with them; spreads and correlations
//! with age and sex removed. What was measured on adults alone carries the adults' proportion to
//! the nearest dimension that was measured on children, and is assumed; see [`crate::model`].

use super::{Correlation, Sex, Source};
use crate::dimension::Dimension::{self, *};

/// Youngest age with figures, completed years.
pub const YOUNGEST: u8 = 3;
/// Oldest age with figures, completed years.
pub const OLDEST: u8 = 17;

/// Age, n, mean hand length and mean hand breadth, mm.
type Row = (u8, u32, f64, f64);

const GIRLS: [Row; 15] = [
    (3, 94, 109.8, 52.1),
    (4, 123, 117.2, 54.6),
    (5, 109, 123.4, 56.9),
    (6, 116, 128.4, 59.0),
    (7, 108, 134.1, 61.5),
    (8, 113, 139.9, 63.7),
    (9, 140, 147.0, 65.8),
    (10, 130, 153.7, 68.9),
    (11, 135, 159.3, 70.9),
    (12, 152, 166.9, 73.6),
    (13, 134, 169.5, 74.7),
    (14, 116, 171.3, 75.1),
    (15, 121, 172.4, 75.4),
    (16, 105, 172.5, 75.6),
    (17, 98, 171.5, 75.2),
];

const BOYS: [Row; 15] = [
    (3, 125, 111.3, 53.3),
    (4, 126, 118.5, 56.2),
    (5, 123, 124.6, 58.4),
    (6, 99, 131.4, 61.8),
    (7, 109, 135.5, 63.6),
    (8, 97, 142.5, 66.5),
    (9, 127, 148.1, 68.8),
    (10, 124, 152.8, 70.7),
    (11, 149, 158.6, 73.0),
    (12, 156, 165.9, 76.1),
    (13, 153, 173.7, 80.3),
    (14, 152, 179.5, 83.3),
    (15, 98, 187.0, 86.8),
    (16, 107, 187.9, 88.6),
    (17, 96, 190.4, 88.8),
];

/// Mean hand length and hand breadth, mm, at an age in completed years; ages outside the table
/// take its nearest row.
#[must_use]
pub fn length_and_breadth_mm(sex: Sex, age_years: u8) -> (f64, f64) {
    let (_, _, length, breadth) = row(sex, age_years);
    (length, breadth)
}

/// How many children of an age stand behind its row.
#[must_use]
pub fn people(sex: Sex, age_years: u8) -> u32 {
    row(sex, age_years).1
}

fn row(sex: Sex, age_years: u8) -> Row {
    let rows = match sex {
        Sex::Female => &GIRLS,
        Sex::Male => &BOYS,
    };
    rows[usize::from(age_years.clamp(YOUNGEST, OLDEST) - YOUNGEST)]
}

/// `ln d = constant + length ln(hand length) + breadth ln(hand breadth) + boys [boys]`, mm, ages 2
/// to 18.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Growth {
    /// Constant term.
    pub constant: f64,
    /// Exponent of hand length.
    pub length: f64,
    /// Exponent of hand breadth.
    pub breadth: f64,
    /// Added for boys.
    pub boys: f64,
}

impl Growth {
    /// Logarithm of the dimension at these log hand lengths and breadths.
    #[must_use]
    pub fn at(&self, log_length: f64, log_breadth: f64, sex: Sex) -> f64 {
        let boys = if sex == Sex::Male { self.boys } else { 0.0 };
        self.constant + self.length * log_length + self.breadth * log_breadth + boys
    }
}

const fn growth(constant: f64, length: f64, breadth: f64, boys: f64) -> Growth {
    Growth { constant, length, breadth, boys }
}

/// How a dimension grows, where Snyder measured it. Joint girths stand for the finger's diameter,
/// gauged with holes: its growth is used, not its size.
#[must_use]
pub fn growth_of(d: Dimension) -> Option<Growth> {
    Some(match d {
        MiddleLength => growth(-1.056, 0.861, 0.219, -0.0195),
        IndexLength => growth(-1.079, 0.865, 0.197, -0.0260),
        ThumbLength => growth(-1.339, 0.908, 0.180, -0.0113),
        WristGirth => growth(1.736, 0.086, 0.652, -0.0164),
        ThumbKnuckleGirth => growth(-0.984, 0.312, 0.519, 0.0223),
        IndexKnuckleGirth => growth(-1.305, 0.293, 0.562, 0.0068),
        MiddleKnuckleGirth => growth(-1.198, 0.248, 0.595, 0.0052),
        _ => return None,
    })
}

/// SD of the logarithm given age and sex: published for hand length, breadth, wrist, thumb, index
/// and middle finger, and finger diameters; for the rest that of the nearest published dimension
/// (assumed). Palm length follows from the identity and is not asked here.
#[must_use]
pub fn log_sd(d: Dimension) -> f64 {
    match d {
        HandLength => 0.0579,
        HandBreadth => 0.0613,
        WristGirth => 0.0774,
        ThumbLength => 0.0848,
        IndexLength => 0.0753,
        MiddleLength => 0.0721,
        ThumbKnuckleGirth => 0.0607,
        IndexKnuckleGirth => 0.0619,
        MiddleKnuckleGirth => 0.0634,
        // Assumed, from here on.
        HandGirth | HandGirthOverThumb => 0.0613,
        RingLength => 0.0753,
        LittleLength => 0.0810,
        RingKnuckleGirth | LittleKnuckleGirth | IndexTipGirth | MiddleTipGirth | RingTipGirth
        | LittleTipGirth => 0.0634,
        ThumbWebHeight => 0.0801,
        PalmLength | IndexMiddleWebHeight | MiddleRingWebHeight | RingLittleWebHeight
        | ThumbRootGirth => 0.0750,
    }
}

/// Correlation of hand length and middle finger, from which the palm's follow by the identity.
pub const LENGTH_MIDDLE: f64 = 0.772;

const fn snyder(a: Dimension, b: Dimension, r: f64, n: u32) -> Correlation {
    Correlation { a, b, women: r, men: r, n, source: Source::Snyder1977 }
}

const fn assumed(a: Dimension, b: Dimension, r: f64) -> Correlation {
    Correlation { a, b, women: r, men: r, n: 0, source: Source::Assumed }
}

/// Correlations of log readings, age and sex removed, 2 to 18 years. The assumed ones follow the
/// adults' rules (ring as index, little less close, end joint by its knuckle, webs by the palm).
pub const CORRELATIONS: [Correlation; 47] = [
    snyder(HandLength, HandBreadth, 0.630, 3820),
    snyder(HandLength, WristGirth, 0.444, 1305),
    snyder(HandBreadth, WristGirth, 0.571, 1304),
    snyder(HandLength, ThumbLength, 0.595, 1268),
    snyder(HandLength, IndexLength, 0.706, 1267),
    snyder(HandBreadth, ThumbLength, 0.430, 1271),
    snyder(HandBreadth, IndexLength, 0.531, 1270),
    snyder(HandBreadth, MiddleLength, 0.593, 1270),
    snyder(ThumbLength, IndexLength, 0.633, 1271),
    snyder(ThumbLength, MiddleLength, 0.616, 1271),
    snyder(IndexLength, MiddleLength, 0.816, 1271),
    snyder(HandLength, ThumbKnuckleGirth, 0.496, 1259),
    snyder(HandLength, IndexKnuckleGirth, 0.488, 1263),
    snyder(HandLength, MiddleKnuckleGirth, 0.495, 1268),
    snyder(HandBreadth, ThumbKnuckleGirth, 0.593, 1262),
    snyder(HandBreadth, IndexKnuckleGirth, 0.612, 1266),
    snyder(HandBreadth, MiddleKnuckleGirth, 0.636, 1271),
    snyder(ThumbLength, ThumbKnuckleGirth, 0.333, 1260),
    snyder(ThumbLength, IndexKnuckleGirth, 0.329, 1264),
    snyder(ThumbLength, MiddleKnuckleGirth, 0.341, 1269),
    snyder(IndexLength, ThumbKnuckleGirth, 0.381, 1259),
    snyder(IndexLength, IndexKnuckleGirth, 0.396, 1263),
    snyder(IndexLength, MiddleKnuckleGirth, 0.396, 1268),
    snyder(MiddleLength, ThumbKnuckleGirth, 0.431, 1259),
    snyder(MiddleLength, IndexKnuckleGirth, 0.428, 1263),
    snyder(MiddleLength, MiddleKnuckleGirth, 0.452, 1268),
    snyder(ThumbKnuckleGirth, IndexKnuckleGirth, 0.782, 1260),
    snyder(ThumbKnuckleGirth, MiddleKnuckleGirth, 0.767, 1263),
    snyder(IndexKnuckleGirth, MiddleKnuckleGirth, 0.858, 1267),
    assumed(HandBreadth, HandGirth, 0.910),
    assumed(HandGirth, HandGirthOverThumb, 0.850),
    assumed(HandLength, RingLength, 0.706),
    assumed(MiddleLength, RingLength, 0.816),
    assumed(IndexLength, RingLength, 0.750),
    assumed(HandLength, LittleLength, 0.640),
    assumed(MiddleLength, LittleLength, 0.700),
    assumed(RingLength, LittleLength, 0.740),
    assumed(MiddleKnuckleGirth, RingKnuckleGirth, 0.858),
    assumed(RingKnuckleGirth, LittleKnuckleGirth, 0.780),
    assumed(IndexKnuckleGirth, IndexTipGirth, 0.780),
    assumed(MiddleKnuckleGirth, MiddleTipGirth, 0.780),
    assumed(RingKnuckleGirth, RingTipGirth, 0.780),
    assumed(LittleKnuckleGirth, LittleTipGirth, 0.780),
    assumed(HandLength, ThumbWebHeight, 0.600),
    assumed(PalmLength, MiddleRingWebHeight, 0.780),
    assumed(IndexMiddleWebHeight, MiddleRingWebHeight, 0.850),
    assumed(MiddleRingWebHeight, RingLittleWebHeight, 0.820),
];
