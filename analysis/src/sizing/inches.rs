//! Glove numbers in inches. A bare number is ambiguous, so it never stands without its system.

use serde::{Deserialize, Serialize};

/// Whose inch a glove number counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Inch {
    /// English inch, 25.4 mm exactly.
    English,
    /// French inch (pouce), 27.07 mm: a twelfth of the pied du roi of 324.84 mm. From memory.
    French,
}

impl Inch {
    /// Both systems.
    pub const BOTH: [Inch; 2] = [Inch::English, Inch::French];

    /// Length of this inch, mm.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Inch::English => 25.4,
            Inch::French => 27.07,
        }
    }

    /// Name for people.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Inch::English => "English inches",
            Inch::French => "French inches",
        }
    }

    /// Glove number of a hand girth in mm, to the nearest `1 / steps` inch: leather gloves go by
    /// quarters, fabric gloves by halves (trade facts of low grade).
    #[must_use]
    pub fn glove_number(self, girth_mm: f64, steps: u8) -> f64 {
        let steps = f64::from(steps.max(1));
        (girth_mm / self.mm() * steps).round() / steps
    }

    /// Hand girth of a glove number, mm.
    #[must_use]
    pub fn girth_mm(self, number: f64) -> f64 {
        number * self.mm()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Arithmetic: 7 x 27.07 = 189.49 mm, 7 x 25.4 = 177.8 mm.
    #[test]
    fn size_seven_is_two_different_hands_by_the_two_inches() {
        assert!((Inch::French.girth_mm(7.0) - 189.49).abs() < 1e-9);
        assert!((Inch::English.girth_mm(7.0) - 177.8).abs() < 1e-9);
        assert!((Inch::English.glove_number(189.49, 2) - 7.5).abs() < 1e-12);
        assert!((Inch::French.glove_number(189.49, 4) - 7.0).abs() < 1e-12);
    }
}
