//! One population, ready for use: log means, covariance within a hand and between hands.

use nalgebra::DMatrix;

use super::Population;
use super::derive::{LogNormal, PersonFigures};
use crate::dimension::{Dimension, PerDimension};
use crate::reference::children::{HAND_BREADTH_LOG_SD, HAND_LENGTH_LOG_SD, length_and_breadth_mm};
use crate::reference::{Sex, scales_with_length};

/// A population's joint Gaussian over both hands, on logarithms.
#[derive(Debug, Clone)]
pub(crate) struct Component {
    pub population: Population,
    /// Mean of the logarithm, by dimension.
    pub log_mean: PerDimension<f64>,
    /// Covariance of true log dimensions within a hand.
    pub within: DMatrix<f64>,
    /// Covariance of true log dimensions between the two hands.
    pub between: DMatrix<f64>,
    /// Measuring error of one reading, SD on the log scale.
    pub error: PerDimension<f64>,
}

impl Component {
    /// Adults of one sex.
    pub fn adult(population: Population, figures: &PersonFigures) -> Component {
        let log_mean = PerDimension::from_fn(|d| figures.readings[d].mu);
        Component {
            population,
            error: own_error(&log_mean),
            log_mean,
            within: figures.truth.clone(),
            between: &figures.truth - &figures.asymmetry,
        }
    }

    /// Children of one sex and age: the adults' proportions and correlations, carried by hand
    /// length for lengths and hand breadth for girths. Assumed, except for hand length and
    /// breadth themselves.
    pub fn child(age_years: u8, sex: Sex, adult: &PersonFigures) -> Component {
        let (length_mm, breadth_mm) = length_and_breadth_mm(sex, age_years);
        let carry = |anchor: Dimension, mean_mm: f64, log_sd: f64| {
            let mu = mean_mm.ln() - log_sd * log_sd / 2.0;
            let error = anchor.measuring_error_mm() / mean_mm;
            let spread = (log_sd * log_sd - error * error).sqrt();
            let index = anchor.index();
            (mu - adult.readings[anchor].mu, spread / adult.truth[(index, index)].sqrt())
        };
        let by_length = carry(Dimension::HandLength, length_mm, HAND_LENGTH_LOG_SD);
        let by_breadth = carry(Dimension::HandBreadth, breadth_mm, HAND_BREADTH_LOG_SD);
        let carried =
            PerDimension::from_fn(|d| if scales_with_length(d) { by_length } else { by_breadth });
        let log_mean = PerDimension::from_fn(|d| adult.readings[d].mu + carried[d].0);
        let stretch = |matrix: &DMatrix<f64>| {
            DMatrix::from_fn(Dimension::COUNT, Dimension::COUNT, |i, j| {
                let (a, b) = (Dimension::ALL[i], Dimension::ALL[j]);
                matrix[(i, j)] * carried[a].1 * carried[b].1
            })
        };
        let within = stretch(&adult.truth);
        Component {
            population: Population::Child { age_years, sex: Some(sex) },
            error: own_error(&log_mean),
            log_mean,
            between: &within - stretch(&adult.asymmetry),
            within,
        }
    }

    /// Mean and SD of the logarithm of one reading.
    pub fn reading(&self, d: Dimension) -> LogNormal {
        let variance = self.within[(d.index(), d.index())] + self.error[d].powi(2);
        LogNormal { mu: self.log_mean[d], sigma: variance.sqrt() }
    }
}

fn own_error(log_mean: &PerDimension<f64>) -> PerDimension<f64> {
    PerDimension::from_fn(|d| d.measuring_error_mm() / log_mean[d].exp())
}
