//! What the published figures say of people nobody has measured: shares, quantiles and ellipses of
//! single readings.

use statrs::distribution::{ContinuousCDF, Normal};

use super::joint::covariance;
use super::predictive::{Part, Predictive};
use super::{HandModel, Population};
use crate::dimension::Dimension;
use crate::hand::Side;

/// Two dimensions of one hand among people of one sex and age: logarithms of single readings,
/// jointly normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogPair {
    /// Whose.
    pub population: Population,
    /// Means of the logarithms.
    pub mean: [f64; 2],
    /// Variance of the first, covariance, variance of the second.
    pub covariance: [f64; 3],
}

impl LogPair {
    /// Squared distance from the middle in standard deviations, correlation allowed for
    /// (Mahalanobis), of a pair of readings in mm.
    #[must_use]
    pub fn squared_distance(&self, mm: [f64; 2]) -> f64 {
        let [xx, xy, yy] = self.covariance;
        let (x, y) = (mm[0].ln() - self.mean[0], mm[1].ln() - self.mean[1]);
        (x * x * yy - 2.0 * x * y * xy + y * y * xx) / (xx * yy - xy * xy)
    }

    /// Points in mm at this squared distance, once round.
    #[must_use]
    pub fn outline(&self, squared_distance: f64, points: usize) -> Vec<[f64; 2]> {
        let [xx, xy, yy] = self.covariance;
        let across = xx.sqrt();
        let (along, up) = (xy / across, (yy - xy * xy / xx).max(0.0).sqrt());
        let radius = squared_distance.sqrt();
        (0..points)
            .map(|at| {
                let turn = std::f64::consts::TAU * at as f64 / points as f64;
                let (sin, cos) = turn.sin_cos();
                let (x, y) = (across * cos, along * cos + up * sin);
                [(self.mean[0] + radius * x).exp(), (self.mean[1] + radius * y).exp()]
            })
            .collect()
    }
}

impl HandModel {
    /// Share of a population of whom one reading of a dimension is at most `mm`.
    #[must_use]
    pub fn share_below(&self, population: Population, dimension: Dimension, mm: f64) -> f64 {
        self.unread(population, dimension).cdf(mm.ln())
    }

    /// Reading that a share of the population is at most at, mm.
    #[must_use]
    pub fn reading_at(&self, population: Population, dimension: Dimension, share: f64) -> f64 {
        self.unread(population, dimension)
            .quantile(share, Normal::standard().inverse_cdf(share))
            .exp()
    }

    /// The populations of one sex and age behind a population, with their weights, as pairs of
    /// two dimensions of one hand.
    #[must_use]
    pub fn pairs(
        &self,
        population: Population,
        side: Side,
        [a, b]: [Dimension; 2],
    ) -> Vec<(f64, LogPair)> {
        let pair = |(weight, component): (f64, &super::component::Component)| {
            let (x, y) = (component.reading(a), component.reading(b));
            let shared = if a == b {
                x.sigma * x.sigma
            } else {
                covariance(component, (side, a), (side, b))
            };
            let covariance = [x.sigma * x.sigma, shared, y.sigma * y.sigma];
            let population = component.population;
            (weight, LogPair { population, mean: [x.mu, y.mu], covariance })
        };
        self.components(population).into_iter().map(pair).collect()
    }

    fn unread(&self, population: Population, dimension: Dimension) -> Predictive {
        let parts: Vec<Part> = self
            .components(population)
            .into_iter()
            .map(|(weight, component)| {
                let reading = component.reading(dimension);
                Part { weight, mean: reading.mu, sd: reading.sigma }
            })
            .collect();
        Predictive::new(&parts)
    }
}
