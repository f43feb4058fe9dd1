//! A hand as measured: side, readings, and the summary of repeated readings.

use serde::{Deserialize, Serialize};

use crate::dimension::{Dimension, PerDimension};

/// Left or right, of the person measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The person's left hand.
    Left,
    /// The person's right hand.
    Right,
}

impl Side {
    /// Both sides, in the order they are listed everywhere.
    pub const BOTH: [Side; 2] = [Side::Left, Side::Right];

    /// The other hand.
    #[must_use]
    pub fn other(self) -> Side {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }
    }

    /// Stable lower-case key, as stored and exchanged.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }

    /// The side with this key.
    #[must_use]
    pub fn from_key(key: &str) -> Option<Side> {
        Side::BOTH.into_iter().find(|side| side.key() == key)
    }
}

/// Repeated readings of one dimension of one hand, reduced to what the model needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// How many readings stand behind it (at least 1).
    pub count: usize,
    /// Median of the readings, mm.
    pub median_mm: f64,
    /// Largest reading less the smallest, mm (0 for a single reading).
    pub spread_mm: f64,
}

impl Summary {
    /// Summary of one or more readings in mm, in any order. `None` when there are none.
    #[must_use]
    pub fn of(readings_mm: &[f64]) -> Option<Summary> {
        let mut sorted = readings_mm.to_vec();
        sorted.sort_by(f64::total_cmp);
        let (first, last) = (*sorted.first()?, *sorted.last()?);
        let middle = sorted.len() / 2;
        let median_mm = if sorted.len() % 2 == 1 {
            *sorted.get(middle)?
        } else {
            f64::midpoint(*sorted.get(middle - 1)?, *sorted.get(middle)?)
        };
        Some(Summary { count: sorted.len(), median_mm, spread_mm: last - first })
    }
}

/// What has been measured of one hand: a summary per dimension, or a gap.
pub type HandSummary = PerDimension<Option<Summary>>;

/// What has been measured of both hands of one person.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hands {
    /// The left hand.
    pub left: HandSummary,
    /// The right hand.
    pub right: HandSummary,
}

impl Hands {
    /// Hands from readings `(side, dimension, mm)` in any order; repeats are summarised.
    #[must_use]
    pub fn from_readings(readings: &[(Side, Dimension, f64)]) -> Hands {
        let mut hands = Hands::default();
        for side in Side::BOTH {
            for dimension in Dimension::ALL {
                let values: Vec<f64> = readings
                    .iter()
                    .filter(|(s, d, _)| *s == side && *d == dimension)
                    .map(|(_, _, mm)| *mm)
                    .collect();
                hands.side_mut(side)[dimension] = Summary::of(&values);
            }
        }
        hands
    }

    /// One hand.
    #[must_use]
    pub fn side(&self, side: Side) -> &HandSummary {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }

    /// One hand, to be filled.
    pub fn side_mut(&mut self, side: Side) -> &mut HandSummary {
        match side {
            Side::Left => &mut self.left,
            Side::Right => &mut self.right,
        }
    }

    /// How many dimensions are measured, over both hands.
    #[must_use]
    pub fn measured(&self) -> usize {
        Side::BOTH.iter().map(|s| self.side(*s).values().flatten().count()).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_summary_is_the_median_and_the_range_in_any_order() {
        let summary = Summary::of(&[81.0, 79.0, 95.0]).expect("three readings");
        assert_eq!(summary, Summary { count: 3, median_mm: 81.0, spread_mm: 16.0 });
        assert_eq!(Summary::of(&[79.0, 95.0, 81.0]), Some(summary));
        assert_eq!(Summary::of(&[80.0, 81.0]).map(|s| s.median_mm), Some(80.5));
        assert_eq!(Summary::of(&[]), None);
    }
}
