//! The hand model: what a whole pair of hands looks like, given what was measured of it.

mod estimate;

pub use estimate::{Basis, Estimate, HandEstimate};

use serde::{Deserialize, Serialize};

use crate::hand::Hands;

/// Which published people a performer is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Population {
    /// Adult women.
    Women,
    /// Adult men.
    Men,
    /// Adults, sex not specified: a mixture whose weights follow the readings.
    Adults,
}

/// Both hands, complete: measured where measured, estimated elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct FilledHands {
    /// The left hand.
    pub left: HandEstimate,
    /// The right hand.
    pub right: HandEstimate,
}

/// Published figures, ready for use. Built once and shared.
#[derive(Debug, Clone)]
pub struct HandModel {}

impl HandModel {
    /// The model derived from the published figures.
    #[must_use]
    pub fn published() -> HandModel {
        HandModel {}
    }

    /// Fills both hands of one person, measuring error included.
    #[must_use]
    pub fn fill(&self, population: Population, hands: &Hands) -> FilledHands {
        let _ = (population, hands);
        FilledHands { left: HandEstimate::stand_in(), right: HandEstimate::stand_in() }
    }
}
