//! The hand model as numbers: the smallest set from which another program gives the same answers.
//!
//! A population of one sex and age is its log means and a covariance, which several may share: that
//! of true log dimensions within a hand, and its part that the two hands do not share. A population
//! of both is a mixture of those.

use serde::Serialize;

use super::component::Component;
use super::predictive::{ACCURACY, NEGLIGIBLE, NINE_IN_TEN, nine_in_ten};
use super::{HandModel, Population};
use crate::dimension::{Dimension, Instrument};
use crate::hand::{HOME_ERROR, HOME_SCALE_SD};

/// The hand model as numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelNumbers {
    /// The dimensions in the order of every vector and matrix.
    pub dimensions: Vec<DimensionNumbers>,
    /// Covariances, without repeats.
    pub covariances: Vec<CovarianceNumbers>,
    /// Every population.
    pub populations: Vec<PopulationNumbers>,
    /// Both ends of a 90 % interval: probability and standard normal quantile.
    pub interval: [(f64, f64); 2],
    /// A part of a mixture lighter than this is left out.
    pub negligible: f64,
    /// Accuracy of a mixture's quantiles on the log scale.
    pub accuracy: f64,
    /// Common scale error of one person's readings taken at home, SD on the log scale.
    pub home_scale_sd: f64,
    /// Own error of a reading taken at home, as a multiple of the workshop's.
    pub home_error: f64,
}

/// What the model and the checks need of a dimension.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DimensionNumbers {
    /// Stable key.
    pub key: &'static str,
    /// What it is taken with.
    pub instrument: Instrument,
    /// SD of one reading about the true value, mm.
    pub error_mm: f64,
}

/// Covariance of true log dimensions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CovarianceNumbers {
    /// Within a hand: the rows of the upper triangle.
    pub within: Vec<f64>,
    /// What of it the two hands do not share: `(row, column, value)`, upper triangle, without zeros.
    pub apart: Vec<(usize, usize, f64)>,
}

/// A population: of one sex and age, or a mixture.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum PopulationNumbers {
    /// One sex and age.
    One {
        /// Stable key.
        key: String,
        /// Mean of the logarithm, by dimension.
        log_mean: Vec<f64>,
        /// Position of its covariance.
        covariance: usize,
    },
    /// A mixture.
    Mixture {
        /// Stable key.
        key: String,
        /// Keys of its parts with their weights before any reading.
        parts: Vec<(String, f64)>,
    },
}

impl HandModel {
    /// The model as numbers.
    #[must_use]
    pub fn numbers(&self) -> ModelNumbers {
        let mut covariances = Vec::new();
        let mut populations = Vec::new();
        for population in Population::all() {
            let key = population.key();
            populations.push(match self.components(population).as_slice() {
                [(_, one)] => {
                    let numbers = CovarianceNumbers::of(one);
                    let known = covariances.iter().position(|other| *other == numbers);
                    let covariance = known.unwrap_or(covariances.len());
                    if known.is_none() {
                        covariances.push(numbers);
                    }
                    let log_mean = one.log_mean.values().copied().collect();
                    PopulationNumbers::One { key, log_mean, covariance }
                }
                parts => {
                    let parts = parts.iter().map(|(weight, c)| (c.population.key(), *weight));
                    PopulationNumbers::Mixture { key, parts: parts.collect() }
                }
            });
        }
        ModelNumbers {
            dimensions: Dimension::ALL.into_iter().map(DimensionNumbers::of).collect(),
            covariances,
            populations,
            interval: [(NINE_IN_TEN.0, -nine_in_ten()), (NINE_IN_TEN.1, nine_in_ten())],
            negligible: NEGLIGIBLE,
            accuracy: ACCURACY,
            home_scale_sd: HOME_SCALE_SD,
            home_error: HOME_ERROR,
        }
    }
}

impl DimensionNumbers {
    fn of(dimension: Dimension) -> DimensionNumbers {
        DimensionNumbers {
            key: dimension.key(),
            instrument: dimension.instrument(),
            error_mm: dimension.measuring_error_mm(),
        }
    }
}

impl CovarianceNumbers {
    fn of(component: &Component) -> CovarianceNumbers {
        let triangle = (0..Dimension::COUNT)
            .flat_map(|row| (row..Dimension::COUNT).map(move |column| (row, column)));
        CovarianceNumbers {
            within: triangle.clone().map(|at| component.within[at]).collect(),
            apart: triangle
                .map(|at| (at.0, at.1, component.difference[at]))
                .filter(|(_, _, value)| *value != 0.0)
                .collect(),
        }
    }
}
