//! A hand as measured: side, readings, and the summary of repeated readings.

use serde::{Deserialize, Serialize};

use crate::dimension::{Dimension, PerDimension};

/// Left or right, of the person measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
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

/// Common scale error of the readings that one person takes at home, SD on the log scale. Hands
/// measured by their owners spread wider by about 6 mm, mostly one error common to all fingers
/// (inferred from the wider spread of published self-measured hands); 3 % of a hand of 185 mm is
/// 5.6 mm of them. Smaller and home readings count for more than they are worth; larger and the
/// proportions of the hand alone count.
pub const HOME_SCALE_SD: f64 = 0.03;

/// What is left of those 6 mm is each reading's own: so many times the measuring error of the
/// workshop's tape (0.8 mm for hand length; assumed the same for every dimension).
pub const HOME_ERROR: f64 = 2.5;

/// Repeated readings of one dimension of one hand, reduced to what the model needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// How many readings stand behind it (at least 1).
    pub count: usize,
    /// Median of the readings, mm.
    pub median_mm: f64,
    /// Largest reading less the smallest, mm (0 for a single reading).
    pub spread_mm: f64,
    /// Whether the performer took the readings at home, with a larger error.
    pub is_home: bool,
}

impl Summary {
    /// Summary of one or more readings of the workshop in mm, in any order. `None` when there are
    /// none.
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
        Some(Summary { count: sorted.len(), median_mm, spread_mm: last - first, is_home: false })
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

    /// Hands from what the workshop read and from what the performer read at home. Where the
    /// workshop has read a dimension, what was read at home of it no longer counts.
    #[must_use]
    pub fn with_home(
        workshop: &[(Side, Dimension, f64)],
        home: &[(Side, Dimension, f64)],
    ) -> Hands {
        let mut hands = Hands::from_readings(workshop);
        let home = Hands::from_readings(home);
        for side in Side::BOTH {
            for (dimension, summary) in home.side(side).iter() {
                let known = &mut hands.side_mut(side)[dimension];
                *known = known.or(summary.map(|summary| Summary { is_home: true, ..summary }));
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
        assert_eq!(summary, Summary { count: 3, median_mm: 81.0, spread_mm: 16.0, is_home: false });
        assert_eq!(Summary::of(&[79.0, 95.0, 81.0]), Some(summary));
        assert_eq!(Summary::of(&[80.0, 81.0]).map(|s| s.median_mm), Some(80.5));
        assert_eq!(Summary::of(&[]), None);
    }

    #[test]
    fn what_the_workshop_reads_takes_the_place_of_what_was_read_at_home() {
        let (side, length, girth) = (Side::Left, Dimension::HandLength, Dimension::HandGirth);
        let hands = Hands::with_home(
            &[(side, length, 180.0)],
            &[(side, length, 189.0), (side, girth, 190.0), (side, girth, 194.0)],
        );
        let read = |d: Dimension| hands.left[d].map(|s| (s.median_mm, s.count, s.is_home));
        assert_eq!(read(length), Some((180.0, 1, false)));
        assert_eq!(read(girth), Some((192.0, 2, true)));
        assert_eq!(hands.measured(), 2);
    }
}
