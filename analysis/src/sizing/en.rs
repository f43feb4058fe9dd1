//! European glove sizes: EN 420:2003+A1:2009, kept by EN ISO 21420:2020 for sizes 6 to 11.
//!
//! A size is a hand girth and a hand length. The two need not agree in one hand, so both answers
//! are given. EN ISO 21420:2020 also knows sizes 4, 5, 12 and 13, whose rows are not published
//! openly; hands beyond the six rows are said to be so instead of being given a size.

use serde::{Deserialize, Serialize};

/// Size, hand girth and hand length, mm: EN 420:2003+A1:2009, table 1.
pub const ROWS: [(u8, f64, f64); 6] = [
    (6, 152.0, 160.0),
    (7, 178.0, 171.0),
    (8, 203.0, 182.0),
    (9, 229.0, 192.0),
    (10, 254.0, 204.0),
    (11, 279.0, 215.0),
];

/// Size by one of the two measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EnSize {
    /// Nearest published row.
    Size(u8),
    /// Smaller than the smallest published row by more than half a step.
    BelowTheTable,
    /// Larger than the largest published row by more than half a step.
    AboveTheTable,
}

/// Both answers for one hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct EnSizes {
    /// By hand girth.
    pub by_girth: EnSize,
    /// By hand length.
    pub by_length: EnSize,
}

impl EnSizes {
    /// Whether girth and length ask for the same size.
    #[must_use]
    pub fn agree(self) -> bool {
        self.by_girth == self.by_length
    }

    /// "Size 8", or both sizes where they differ.
    #[must_use]
    pub fn words(self) -> String {
        let one = |size: EnSize| match size {
            EnSize::Size(n) => format!("size {n}"),
            EnSize::BelowTheTable => "below size 6".to_string(),
            EnSize::AboveTheTable => "above size 11".to_string(),
        };
        if self.agree() {
            format!("EN {}", one(self.by_girth))
        } else {
            format!("EN {} by girth, {} by length", one(self.by_girth), one(self.by_length))
        }
    }
}

/// Sizes of a hand with this girth and length, mm. Exactly between two rows, the larger size.
#[must_use]
pub fn sizes(girth_mm: f64, length_mm: f64) -> EnSizes {
    EnSizes { by_girth: nearest(girth_mm, |row| row.1), by_length: nearest(length_mm, |row| row.2) }
}

fn nearest(mm: f64, measure: impl Fn(&(u8, f64, f64)) -> f64) -> EnSize {
    let [first, second, .., before_last, last] = &ROWS;
    let half_step = |a: &(u8, f64, f64), b: &(u8, f64, f64)| (measure(b) - measure(a)) / 2.0;
    if mm < measure(first) - half_step(first, second) {
        return EnSize::BelowTheTable;
    }
    if mm > measure(last) + half_step(before_last, last) {
        return EnSize::AboveTheTable;
    }
    let mut best = first;
    for row in &ROWS {
        if (measure(row) - mm).abs() <= (measure(best) - mm).abs() {
            best = row;
        }
    }
    EnSize::Size(best.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    // EN 420:2003+A1:2009, table 1: hand girth and length of sizes 6 to 11, typed in again.
    #[test]
    fn the_six_published_rows_have_their_size_by_girth_and_by_length() {
        let girths = [152.0, 178.0, 203.0, 229.0, 254.0, 279.0];
        let lengths = [160.0, 171.0, 182.0, 192.0, 204.0, 215.0];
        for (size, (girth, length)) in (6_u8..).zip(girths.into_iter().zip(lengths)) {
            let found = sizes(girth, length);
            assert_eq!(found.by_girth, EnSize::Size(size));
            assert_eq!(found.by_length, EnSize::Size(size));
            assert!(found.agree());
            // The standard's girths are the size in inches.
            assert!((f64::from(size) * 25.4 - girth).abs() < 0.6);
        }
    }

    #[test]
    fn a_long_narrow_hand_is_given_both_sizes() {
        let found = sizes(180.0, 193.0);
        assert_eq!((found.by_girth, found.by_length), (EnSize::Size(7), EnSize::Size(9)));
        assert_eq!(found.words(), "EN size 7 by girth, size 9 by length");
        assert_eq!(sizes(203.0, 182.0).words(), "EN size 8");
    }

    #[test]
    fn hands_beyond_the_published_rows_are_said_to_be_beyond_them() {
        assert_eq!(sizes(138.9, 154.4).by_girth, EnSize::BelowTheTable);
        assert_eq!(sizes(139.1, 154.4).by_length, EnSize::BelowTheTable);
        assert_eq!(sizes(139.1, 154.6).by_girth, EnSize::Size(6));
        assert_eq!(sizes(291.6, 220.6).by_girth, EnSize::AboveTheTable);
        assert_eq!(sizes(291.4, 220.4).by_length, EnSize::Size(11));
    }
}
