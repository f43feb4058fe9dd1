//! A hand that is complete: every dimension with its value and its 90 % interval.

use serde::{Deserialize, Serialize};

use crate::dimension::{Dimension, PerDimension};

/// What stands behind an estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// At least one reading of this very dimension on this hand.
    Measured,
    /// Filled from the other readings and the published figures.
    Estimated,
}

/// One dimension of one hand, with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// Central value, mm.
    pub mm: f64,
    /// Lower end of the 90 % interval, mm.
    pub low_mm: f64,
    /// Upper end of the 90 % interval, mm.
    pub high_mm: f64,
    /// What stands behind it.
    pub basis: Basis,
}

/// A complete hand. A draft can only be made from one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HandEstimate(PerDimension<Estimate>);

impl HandEstimate {
    /// A complete hand from one estimate per dimension.
    #[must_use]
    pub fn new(estimates: PerDimension<Estimate>) -> HandEstimate {
        HandEstimate(estimates)
    }

    /// The estimate of one dimension.
    #[must_use]
    pub fn get(&self, dimension: Dimension) -> Estimate {
        self.0[dimension]
    }

    /// Central value of one dimension, mm.
    #[must_use]
    pub fn mm(&self, dimension: Dimension) -> f64 {
        self.0[dimension].mm
    }

    /// Dimension and estimate in the order of [`Dimension::ALL`].
    pub fn iter(&self) -> impl Iterator<Item = (Dimension, &Estimate)> {
        self.0.iter()
    }

    /// How many dimensions rest on a reading.
    #[must_use]
    pub fn measured(&self) -> usize {
        self.0.values().filter(|estimate| estimate.basis == Basis::Measured).count()
    }
}
