//! Differences between the two hands of one person.

use crate::dimension::Dimension;

/// Standard deviation of one hand's true departure from the person's mean hand, times the square
/// root of two: the SD of left less right with measuring error removed, mm, for a hand whose
/// dimension is `mean_mm`.
///
/// Sources: hand length 1.6 mm, breadth 1.35 to 1.8, middle finger 1.16 to 1.55 with measuring
/// error included (Khazri 2022); index 1.40 and ring 1.51 (scans of 448 men). Where no technical
/// error is published, half of that variance is taken as measuring error (assumed). Palm length
/// is what the identity leaves of hand length. Everything else is assumed: thumb and little finger
/// as the ring finger; girths of fingers 1.4 % and of the hand 1.1 % (the hand that does the work
/// is thicker); webs 1.4 %.
///
/// The mean difference (right breadth larger by 0.4 to 0.7 mm, lengths by 0.3 at most) is left
/// out: it is below a tape's reading, and which hand is preferred is not asked.
#[must_use]
pub fn side_difference_mm(dimension: Dimension, mean_mm: f64) -> f64 {
    match dimension {
        Dimension::HandLength => 1.13,
        Dimension::PalmLength => 0.76,
        Dimension::MiddleLength | Dimension::IndexLength => 0.83,
        Dimension::RingLength | Dimension::LittleLength | Dimension::ThumbLength => 0.99,
        Dimension::HandBreadth => 1.13,
        Dimension::HandGirth | Dimension::HandGirthOverThumb | Dimension::WristGirth => {
            0.011 * mean_mm
        }
        _ => 0.014 * mean_mm,
    }
}
