//! Hands for the drafting tests: published figures, and seeded perturbations of them.

use analysis::dimension::{Dimension as D, PerDimension};
use analysis::model::{Basis, Estimate, HandEstimate};

/// A hand with the given dimension values.
pub fn hand(mm: impl Fn(D) -> f64) -> HandEstimate {
    HandEstimate::new(PerDimension::from_fn(|d| {
        let mm = mm(d);
        Estimate { mm, low_mm: mm * 0.92, high_mm: mm * 1.08, basis: Basis::Estimated }
    }))
}

/// Mean and SD of women and men. Greiner 1991 (whole hand, girths, web heights), Hsiao 2015
/// (palm and finger lengths, scaled to Greiner's hand length), joint-girth SDs from a coefficient
/// of variation of 5.5 % (Nag 2003, Snyder 1977). Ring and little end joints of women by the ratio
/// 0.84 of end joint to knuckle girth (Greiner). Girth over the thumb and thumb root girth: assumed.
fn published(d: D) -> [(f64, f64); 2] {
    match d {
        D::HandLength => [(180.7, 9.8), (194.1, 9.9)],
        D::PalmLength => [(102.9, 5.7), (111.8, 5.8)],
        D::HandBreadth => [(79.5, 3.8), (90.4, 4.2)],
        D::HandGirth => [(186.5, 8.6), (213.3, 9.8)],
        D::HandGirthOverThumb => [(225.0, 11.0), (256.0, 12.0)],
        D::WristGirth => [(151.4, 6.9), (174.3, 8.2)],
        D::ThumbLength => [(64.1, 4.1), (69.5, 4.3)],
        D::IndexLength => [(70.5, 4.2), (74.5, 4.4)],
        D::MiddleLength => [(77.8, 4.5), (82.3, 4.6)],
        D::RingLength => [(73.2, 4.5), (78.2, 4.5)],
        D::LittleLength => [(59.7, 4.3), (64.0, 4.3)],
        D::ThumbKnuckleGirth => [(63.0, 3.5), (72.3, 4.0)],
        D::IndexKnuckleGirth => [(61.2, 3.4), (68.4, 3.8)],
        D::MiddleKnuckleGirth => [(61.3, 3.4), (69.6, 3.8)],
        D::RingKnuckleGirth => [(57.4, 3.2), (64.9, 3.6)],
        D::LittleKnuckleGirth => [(50.6, 2.8), (57.8, 3.2)],
        D::IndexTipGirth => [(50.8, 2.8), (57.4, 3.2)],
        D::MiddleTipGirth => [(50.9, 2.8), (57.8, 3.2)],
        D::RingTipGirth => [(48.2, 2.7), (53.8, 3.0)],
        D::LittleTipGirth => [(42.5, 2.3), (49.2, 2.7)],
        D::ThumbWebHeight => [(62.8, 4.6), (69.1, 4.6)],
        D::IndexMiddleWebHeight => [(100.5, 5.7), (110.4, 6.1)],
        D::MiddleRingWebHeight => [(100.3, 6.0), (109.9, 6.4)],
        D::RingLittleWebHeight => [(87.9, 5.8), (96.6, 6.2)],
        D::ThumbRootGirth => [(82.0, 5.0), (94.0, 5.5)],
    }
}

/// Every dimension `z` standard deviations from the mean of women (0) or men (1).
pub fn person(sex: usize, z: f64) -> HandEstimate {
    straying(sex, z, &[])
}

/// A person whose size is `size` standard deviations from the mean, and whose every dimension
/// strays from that size by its own share of `strays` (25 values, in standard deviations). Hand
/// length is palm and middle finger together, as in Hsiao 2015.
pub fn straying(sex: usize, size: f64, strays: &[f64]) -> HandEstimate {
    let value = |d: D| {
        let (mean, sd) = published(d)[sex];
        mean + sd * (size + strays.get(d.index()).copied().unwrap_or(0.0))
    };
    hand(|d| match d {
        D::HandLength => value(D::PalmLength) + value(D::MiddleLength),
        _ => value(d),
    })
}
