//! The slips of hand and eye that are looked for: how rare each is, and what it does to a value.
//!
//! Rates are per reading and assumed, of the order of one slip in a hundred readings altogether;
//! what matters is their order of size, because a slip is believed only when the hand becomes much
//! likelier without it.

use crate::dimension::{Dimension, Instrument};

/// What may have happened to one reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Slip {
    /// The value recorded is the true one times this factor, through a unit or a decimal point.
    Scale(&'static ScaleSlip),
    /// Two neighbouring digits changed places.
    SwappedDigits,
    /// The tape was read from its 10 cm mark.
    TenCentimetreMark,
    /// A girth was taken straight across: a breadth. What it is round is known only roughly.
    BreadthForGirth,
    /// Something else: a wrong place, a wrong line. The true value is unknown.
    Unexplained,
}

/// A slip of unit or decimal point.
#[derive(Debug, PartialEq)]
pub(crate) struct ScaleSlip {
    /// Recorded value over true value.
    pub factor: f64,
    /// Probability for one reading. Assumed.
    pub rate: f64,
    /// Stable key of what happened, for the sentence.
    pub key: &'static str,
    /// Probability that a whole hand suffers it. Assumed.
    pub whole_hand_rate: f64,
}

/// Slips of unit or decimal point.
pub(crate) const SCALES: [ScaleSlip; 6] = [
    scale("centimetres", 0.1, 1e-3, 2e-3),
    scale("inches", 1.0 / 25.4, 5e-4, 1e-3),
    scale("ten_times", 10.0, 1e-3, 5e-4),
    scale("millimetres_as_inches", 25.4, 2e-4, 5e-4),
    scale("centimetres_as_inches", 2.54, 2e-4, 5e-4),
    scale("inches_as_centimetres", 1.0 / 2.54, 2e-4, 5e-4),
];

const fn scale(key: &'static str, factor: f64, rate: f64, whole_hand_rate: f64) -> ScaleSlip {
    ScaleSlip { factor, rate, key, whole_hand_rate }
}

/// Rate of two digits changing places, shared among the swaps a value allows. Assumed.
pub(crate) const SWAPPED_DIGITS_RATE: f64 = 2e-3;
/// Rate of reading from the 10 cm mark. Assumed.
pub(crate) const TEN_CENTIMETRE_RATE: f64 = 1e-3;
/// Rate of a breadth in place of a girth. Assumed.
pub(crate) const BREADTH_RATE: f64 = 1e-3;
/// Spread of girth over breadth among people, SD on the log scale. Assumed.
pub(crate) const BREADTH_SPREAD: f64 = 0.03;
/// Rate of two neighbouring fields changing places, for each pair. Assumed.
pub(crate) const NEIGHBOURS_RATE: f64 = 1e-3;
/// Rate of left and right of one dimension changing places. Assumed.
pub(crate) const SIDES_RATE: f64 = 5e-4;
/// Rate of anything else. Assumed, and kept low on purpose: false flags are spent on slips that can
/// be named and put right; a reading that is merely somewhat off is judged by the range shown.
pub(crate) const UNEXPLAINED_RATE: f64 = 5e-5;
/// Spread of an unexplained error, SD on the log scale. Assumed: a tape laid in the wrong place is
/// off by some 15 %.
pub(crate) const UNEXPLAINED_SPREAD: f64 = 0.15;
/// Share of unexplained errors that may be anything at all, over [`ANYTHING_WIDTH`].
pub(crate) const ANYTHING_SHARE: f64 = 0.3;
/// Log width of "anything at all": a factor of a thousand.
pub(crate) const ANYTHING_WIDTH: f64 = 6.9;

/// Girth over the breadth at the same place: quotients of published means, of women and men where
/// both were measured (Greiner 1991, NATICK/TR-92/011); the index finger's end joint as the middle
/// finger's (assumed). Nothing where no breadth is published.
pub(crate) fn girth_over_breadth(d: Dimension) -> Option<f64> {
    Some(match d {
        // 186.5 / 79.5 and 213.3 / 90.4.
        Dimension::HandGirth => 2.35,
        // 151.4 / 57.0 and 174.3 / 65.8.
        Dimension::WristGirth => 2.65,
        // Of men alone: 72.3 / 24.0.
        Dimension::ThumbKnuckleGirth => 3.01,
        // 61.2 / 19.9 and 68.4 / 23.0; 61.3 / 19.3 and 69.6 / 22.5.
        Dimension::IndexKnuckleGirth => 3.02,
        Dimension::MiddleKnuckleGirth => 3.13,
        // Of men alone: 64.9 / 21.4, 57.8 / 19.2; 57.8 / 19.8, 53.8 / 18.5, 49.2 / 17.4.
        Dimension::RingKnuckleGirth => 3.03,
        Dimension::LittleKnuckleGirth => 3.01,
        Dimension::IndexTipGirth | Dimension::MiddleTipGirth => 2.92,
        Dimension::RingTipGirth => 2.91,
        Dimension::LittleTipGirth => 2.83,
        _ => return None,
    })
}

/// A value the reading may stand for: `(slip, true mm, ln prior, ln Jacobian)`. The Jacobian turns
/// a density of the true logarithm into one of the recorded logarithm.
pub(crate) fn candidates(dimension: Dimension, mm: f64) -> Vec<(Slip, f64, f64)> {
    let mut out: Vec<(Slip, f64, f64)> = SCALES
        .iter()
        .map(|scale| (Slip::Scale(scale), mm / scale.factor, scale.rate.ln()))
        .collect();
    let swaps = swapped_digits(mm);
    #[expect(clippy::cast_precision_loss, reason = "a handful of digits")]
    let each = SWAPPED_DIGITS_RATE / swaps.len().max(1) as f64;
    // ln(recorded / true): equal widths in mm are unequal on logarithms.
    let offset = |true_mm: f64| (mm / true_mm).ln();
    out.extend(swaps.into_iter().map(|y| (Slip::SwappedDigits, y, each.ln() + offset(y))));
    let y = mm - 100.0;
    if dimension.instrument() != Instrument::Calliper && y > 0.0 {
        out.push((Slip::TenCentimetreMark, y, TEN_CENTIMETRE_RATE.ln() + offset(y)));
    }
    out
}

/// Values whose whole millimetres, with two neighbouring digits exchanged, read as `mm`.
fn swapped_digits(mm: f64) -> Vec<f64> {
    let whole = mm.trunc();
    if !(10.0..100_000.0).contains(&whole) {
        return Vec::new();
    }
    let fraction = mm - whole;
    let digits = format!("{whole:.0}").into_bytes();
    (1..digits.len())
        .filter_map(|i| {
            let mut swapped = digits.clone();
            swapped.swap(i - 1, i);
            if swapped == digits || swapped.first() == Some(&b'0') {
                return None;
            }
            let text = String::from_utf8(swapped).ok()?;
            text.parse::<f64>().ok().map(|value| value + fraction)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_exchanged_in_neighbouring_pairs_without_leading_zeros() {
        assert_eq!(swapped_digits(97.0), [79.0]);
        assert_eq!(swapped_digits(194.5), [914.5, 149.5]);
        assert_eq!(swapped_digits(105.0), [150.0]);
        assert!(swapped_digits(88.0).is_empty());
        assert!(swapped_digits(7.9).is_empty());
    }

    #[test]
    fn a_calliper_has_no_ten_centimetre_mark() {
        let marks = |d: Dimension| {
            candidates(d, 180.0).iter().filter(|c| c.0 == Slip::TenCentimetreMark).count()
        };
        assert_eq!(marks(Dimension::HandBreadth), 0);
        assert_eq!(marks(Dimension::MiddleLength), 1);
    }
}
