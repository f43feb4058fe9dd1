//! Means and spreads of adults: one named source for each dimension.
//!
//! - 2012 survey: hand length, breadth, girth, wrist girth. These people are the base population.
//! - Hsiao 2015: palm and finger lengths; its table obeys hand length = palm + middle finger.
//! - Greiner 1991: joint girths (means; their printed SDs of 1.6 to 2.9 mm contradict the breadth
//!   SDs of the same table, so the spread is a coefficient of variation) and web heights.
//! - NASA RP-1024: hand girth over the thumb (US Air Force men 1967); carried to women by its ratio.
//! - thumb root girth: assumed from geometry.

use super::{Anchor, Figure, Sex, Source, Value};
use crate::dimension::Dimension::{self, *};

use Sex::{Female, Male};
use Source::{Ansur2, Assumed, Greiner1991, Hsiao2015, Rp1024};
use Value::{MeanAndCv, MeanAndSd, RatioAndCv};

/// Coefficient of variation of joint girths: 5 to 6 % in Nag 2003 (thumb 5.0, index 5.4, middle
/// 6.1 and, end joint, 5.1 %) and in the log spreads of Snyder 1977 (6.1 to 6.3 % given age).
pub const JOINT_GIRTH_CV: f64 = 0.055;

/// Thumb root girth over thumb knuckle girth. Assumed, from geometry: the tape goes round the base
/// of the thumb and the fold of the web, an oval about 1.3 times the knuckle's girth.
pub const THUMB_ROOT_RATIO: f64 = 1.30;

/// Coefficient of variation of the thumb root girth. Assumed: wider than a joint's, because the
/// place of the tape in the web is a matter of judgement.
pub const THUMB_ROOT_CV: f64 = 0.07;

const fn sd(dimension: Dimension, sex: Sex, source: Source, n: u32, mean: f64, sd: f64) -> Figure {
    Figure { dimension, sex, n, value: MeanAndSd(mean, sd), source }
}

const fn girth(dimension: Dimension, sex: Sex, mean: f64) -> Figure {
    let n = match sex {
        Female => 1304,
        Male => 1003,
    };
    Figure { dimension, sex, n, value: MeanAndCv(mean, JOINT_GIRTH_CV), source: Greiner1991 }
}

const fn ratio(
    dimension: Dimension,
    sex: Sex,
    source: Source,
    n: u32,
    of: (Dimension, f64),
    cv: f64,
) -> Figure {
    Figure { dimension, sex, n, value: RatioAndCv(of.0, of.1, cv), source }
}

/// Every dimension, women then men.
pub const FIGURES: [Figure; 2 * Dimension::COUNT] = [
    sd(HandLength, Female, Ansur2, 1986, 181.1, 10.1),
    sd(HandBreadth, Female, Ansur2, 1986, 78.2, 3.8),
    sd(HandGirth, Female, Ansur2, 1986, 186.6, 8.8),
    sd(WristGirth, Female, Ansur2, 1986, 154.8, 7.8),
    sd(PalmLength, Female, Hsiao2015, 88, 104.0, 5.7),
    sd(ThumbLength, Female, Hsiao2015, 88, 64.8, 4.1),
    sd(IndexLength, Female, Hsiao2015, 88, 71.3, 4.2),
    sd(MiddleLength, Female, Hsiao2015, 88, 78.6, 4.5),
    sd(RingLength, Female, Hsiao2015, 88, 74.0, 4.5),
    sd(LittleLength, Female, Hsiao2015, 88, 60.4, 4.3),
    girth(ThumbKnuckleGirth, Female, 63.0),
    girth(IndexKnuckleGirth, Female, 61.2),
    girth(MiddleKnuckleGirth, Female, 61.3),
    girth(RingKnuckleGirth, Female, 57.4),
    girth(LittleKnuckleGirth, Female, 50.6),
    girth(IndexTipGirth, Female, 50.8),
    girth(MiddleTipGirth, Female, 50.9),
    // Greiner's ring and little end joints are known for men alone: the men's ratio to the knuckle.
    ratio(RingTipGirth, Female, Greiner1991, 1003, (RingKnuckleGirth, 53.8 / 64.9), JOINT_GIRTH_CV),
    ratio(
        LittleTipGirth,
        Female,
        Greiner1991,
        1003,
        (LittleKnuckleGirth, 49.2 / 57.8),
        JOINT_GIRTH_CV,
    ),
    sd(ThumbWebHeight, Female, Greiner1991, 1304, 62.8, 4.6),
    sd(IndexMiddleWebHeight, Female, Greiner1991, 1304, 100.5, 5.7),
    sd(MiddleRingWebHeight, Female, Greiner1991, 1304, 100.3, 6.0),
    sd(RingLittleWebHeight, Female, Greiner1991, 1304, 87.9, 5.8),
    // US Air Force men 1967: 257.5 (SD 10.8) over the thumb, 215.5 without; the ratio of 95 Indian
    // women (Nag 2003) is 1.09 or 1.31 by its two labels, so neither is used.
    ratio(HandGirthOverThumb, Female, Rp1024, 2420, (HandGirth, 257.5 / 215.5), 10.8 / 257.5),
    ratio(ThumbRootGirth, Female, Assumed, 0, (ThumbKnuckleGirth, THUMB_ROOT_RATIO), THUMB_ROOT_CV),
    sd(HandLength, Male, Ansur2, 4082, 193.3, 9.9),
    sd(HandBreadth, Male, Ansur2, 4082, 88.3, 4.4),
    sd(HandGirth, Male, Ansur2, 4082, 212.3, 10.2),
    sd(WristGirth, Male, Ansur2, 4082, 175.9, 9.0),
    sd(PalmLength, Male, Hsiao2015, 855, 113.8, 5.8),
    sd(ThumbLength, Male, Hsiao2015, 855, 70.8, 4.3),
    sd(IndexLength, Male, Hsiao2015, 855, 75.8, 4.4),
    sd(MiddleLength, Male, Hsiao2015, 855, 83.8, 4.6),
    sd(RingLength, Male, Hsiao2015, 855, 79.6, 4.5),
    sd(LittleLength, Male, Hsiao2015, 855, 65.2, 4.3),
    girth(ThumbKnuckleGirth, Male, 72.3),
    girth(IndexKnuckleGirth, Male, 68.4),
    girth(MiddleKnuckleGirth, Male, 69.6),
    girth(RingKnuckleGirth, Male, 64.9),
    girth(LittleKnuckleGirth, Male, 57.8),
    girth(IndexTipGirth, Male, 57.4),
    girth(MiddleTipGirth, Male, 57.8),
    girth(RingTipGirth, Male, 53.8),
    girth(LittleTipGirth, Male, 49.2),
    sd(ThumbWebHeight, Male, Greiner1991, 1003, 69.1, 4.6),
    sd(IndexMiddleWebHeight, Male, Greiner1991, 1003, 110.4, 6.1),
    sd(MiddleRingWebHeight, Male, Greiner1991, 1003, 109.9, 6.4),
    sd(RingLittleWebHeight, Male, Greiner1991, 1003, 96.6, 6.2),
    sd(HandGirthOverThumb, Male, Rp1024, 2420, 257.5, 10.8),
    ratio(ThumbRootGirth, Male, Assumed, 0, (ThumbKnuckleGirth, THUMB_ROOT_RATIO), THUMB_ROOT_CV),
];

const fn anchor(
    source: Source,
    sex: Sex,
    hand_length: Option<(f64, f64)>,
    hand_girth: Option<(f64, f64)>,
) -> Anchor {
    Anchor { source, sex, hand_length, hand_girth }
}

/// Hand length and hand girth of the people behind each source.
pub const ANCHORS: [Anchor; 7] = [
    anchor(Ansur2, Female, Some((181.1, 10.1)), Some((186.6, 8.8))),
    anchor(Ansur2, Male, Some((193.3, 9.9)), Some((212.3, 10.2))),
    anchor(Hsiao2015, Female, Some((182.7, 8.7)), None),
    anchor(Hsiao2015, Male, Some((197.6, 9.3)), None),
    anchor(Greiner1991, Female, Some((180.7, 9.8)), Some((186.5, 8.6))),
    anchor(Greiner1991, Male, Some((194.1, 9.9)), Some((213.3, 9.8))),
    anchor(Rp1024, Male, None, Some((215.5, 9.4))),
];

/// Palm length in the definition of the 2012 survey, women (n = 1,986) and men (n = 4,082).
pub const SURVEY_PALM: [(f64, f64); 2] = [(108.7, 5.9), (116.5, 6.2)];
