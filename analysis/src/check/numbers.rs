//! Every number of the checks, for a program that runs the same checks elsewhere.

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::explain::{CLOSE, HOPELESS, UNREMARKABLE, WHOLE_HAND_FROM};
use super::flagging::{
    FLAG_ODDS, JOINT_TAIL, MOST, MOST_FROM, NAMES_THE_FLAG, PLAINLY_WITHIN, RANGE_TAIL,
};
use super::repeats::CRITICAL_RANGE;
use super::slip::{
    ANYTHING_SHARE, ANYTHING_WIDTH, BREADTH_RATE, BREADTH_SPREAD, NEIGHBOURS_RATE, SCALES,
    SIDES_RATE, SWAPPED_DIGITS_RATE, ScaleSlip, TEN_CENTIMETRE_RATE, UNEXPLAINED_RATE,
    UNEXPLAINED_SPREAD, girth_over_breadth,
};
use crate::dimension::Dimension;

/// Rates, thresholds and critical values of the checks; what each means, and what it rests on,
/// stands beside the constant it is taken from.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "each field is the constant of the same name")]
pub struct CheckNumbers {
    pub scales: Vec<ScaleNumbers>,
    pub swapped_digits_rate: f64,
    pub ten_centimetre_rate: f64,
    pub breadth_rate: f64,
    pub breadth_spread: f64,
    /// By dimension.
    pub girth_over_breadth: Vec<Option<f64>>,
    pub neighbours_rate: f64,
    pub sides_rate: f64,
    pub unexplained_rate: f64,
    pub unexplained_spread: f64,
    pub anything_share: f64,
    pub anything_width: f64,
    pub close: f64,
    pub unremarkable: f64,
    pub hopeless: f64,
    pub whole_hand_from: usize,
    pub flag_odds: f64,
    pub range_tail: f64,
    pub plainly_within: f64,
    pub names_the_flag: f64,
    pub most: f64,
    pub most_from: usize,
    pub critical_range: Vec<f64>,
    /// Squared distance beyond which the readings together are an unusual hand, by their number
    /// less one: the upper point of chi-squared.
    pub joint_limit: Vec<f64>,
}

/// A slip of unit or decimal point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ScaleNumbers {
    /// Recorded value over true value.
    pub factor: f64,
    /// Probability for one reading.
    pub rate: f64,
    /// Probability that a whole hand suffers it.
    pub whole_hand_rate: f64,
    /// Stable key of what happened, for the sentence.
    pub key: &'static str,
}

impl CheckNumbers {
    /// The numbers in force.
    #[must_use]
    pub fn published() -> CheckNumbers {
        CheckNumbers {
            scales: SCALES.iter().map(ScaleNumbers::of).collect(),
            swapped_digits_rate: SWAPPED_DIGITS_RATE,
            ten_centimetre_rate: TEN_CENTIMETRE_RATE,
            breadth_rate: BREADTH_RATE,
            breadth_spread: BREADTH_SPREAD,
            girth_over_breadth: Dimension::ALL.map(girth_over_breadth).into(),
            neighbours_rate: NEIGHBOURS_RATE,
            sides_rate: SIDES_RATE,
            unexplained_rate: UNEXPLAINED_RATE,
            unexplained_spread: UNEXPLAINED_SPREAD,
            anything_share: ANYTHING_SHARE,
            anything_width: ANYTHING_WIDTH,
            close: CLOSE,
            unremarkable: UNREMARKABLE,
            hopeless: HOPELESS,
            whole_hand_from: WHOLE_HAND_FROM,
            flag_odds: FLAG_ODDS,
            range_tail: RANGE_TAIL,
            plainly_within: PLAINLY_WITHIN,
            names_the_flag: NAMES_THE_FLAG,
            most: MOST,
            most_from: MOST_FROM,
            critical_range: CRITICAL_RANGE.to_vec(),
            joint_limit: (1..=2 * Dimension::COUNT).map(joint_limit).collect(),
        }
    }
}

impl ScaleNumbers {
    fn of(scale: &ScaleSlip) -> ScaleNumbers {
        let ScaleSlip { factor, rate, key, whole_hand_rate } = *scale;
        ScaleNumbers { factor, rate, whole_hand_rate, key }
    }
}

/// Where the upper tail of chi-squared with `freedom` degrees falls to [`JOINT_TAIL`], by bisection;
/// to a millionth, which is all that is worth sending.
fn joint_limit(freedom: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "at most 50 readings")]
    let Ok(distribution) = ChiSquared::new(freedom as f64) else { return f64::INFINITY };
    let (mut low, mut high) = (0.0, 1000.0);
    while high - low > 1e-12 * high {
        let middle = f64::midpoint(low, high);
        if distribution.sf(middle) < JOINT_TAIL {
            high = middle;
        } else {
            low = middle;
        }
    }
    (high * 1e6).round() / 1e6
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joint_limits_are_the_printed_upper_points_of_chi_squared() {
        // Upper 0.01 % points, to the digits printed: 15.137 (1 degree of freedom), 35.564 (10)
        // (Abramowitz and Stegun 1964, table 26.8, column Q = 0.0001; from memory).
        for (freedom, printed) in [(1, 15.1367), (10, 35.5640)] {
            assert!((joint_limit(freedom) - printed).abs() < 6e-4, "{freedom}");
        }
    }
}
