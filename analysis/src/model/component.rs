//! One population, ready for use: log means, covariance within a hand and between hands.

use nalgebra::DMatrix;

use super::Population;
use super::children::ChildFigures;
use super::derive::{LogNormal, PersonFigures};
use crate::dimension::{Dimension, PerDimension};
use crate::reference::Sex;

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
    /// Covariance of `(left + right) / sqrt 2`: within + between.
    pub mean: DMatrix<f64>,
    /// Covariance of `(left - right) / sqrt 2`: within - between.
    pub difference: DMatrix<f64>,
    /// Measuring error of one reading, SD on the log scale.
    pub error: PerDimension<f64>,
}

impl Component {
    /// From means, the covariance of one hand and that of a hand's departure from the mean hand.
    /// They are rounded to what a phone is sent, so that both work from the very same numbers.
    pub fn new(
        population: Population,
        log_mean: PerDimension<f64>,
        within: DMatrix<f64>,
        asymmetry: &DMatrix<f64>,
    ) -> Component {
        let log_mean = PerDimension::from_fn(|d| to_step(log_mean[d]));
        let within = within.map(to_digits);
        let asymmetry = asymmetry.map(to_digits);
        let between = &within - &asymmetry;
        Component {
            population,
            error: own_error(&log_mean),
            log_mean,
            mean: &within + &between,
            difference: asymmetry,
            within,
            between,
        }
    }

    /// Adults of one sex.
    pub fn adult(population: Population, figures: &PersonFigures) -> Component {
        let log_mean = PerDimension::from_fn(|d| figures.readings[d].mu);
        Component::new(population, log_mean, figures.truth.clone(), &figures.asymmetry)
    }

    /// Children of one sex and age.
    pub fn child(age_years: u8, sex: Sex, figures: &ChildFigures) -> Component {
        Component::new(
            Population::Child { age_years, sex: Some(sex) },
            figures.log_mean(age_years),
            figures.truth.clone(),
            &figures.asymmetry,
        )
    }

    /// Mean and SD of the logarithm of one reading.
    pub fn reading(&self, d: Dimension) -> LogNormal {
        let variance = self.within[(d.index(), d.index())] + self.error[d].powi(2);
        LogNormal { mu: self.log_mean[d], sigma: variance.sqrt() }
    }
}

/// Unit of the last digit of log means: 2e-5 mm of 200.
const LOG_MEAN_STEP: f64 = 1e-7;

/// Significant digits of covariances: no published correlation has more than four.
const COVARIANCE_DIGITS: i32 = 8;

/// Rounded to [`LOG_MEAN_STEP`].
fn to_step(value: f64) -> f64 {
    let scale = LOG_MEAN_STEP.recip().round();
    (value * scale).round() / scale
}

/// Rounded to [`COVARIANCE_DIGITS`] significant digits.
fn to_digits(value: f64) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    #[expect(clippy::cast_possible_truncation, reason = "the exponent of a double")]
    let exponent = value.abs().log10().floor() as i32;
    let scale = 10f64.powi(COVARIANCE_DIGITS - 1 - exponent);
    (value * scale).round() / scale
}

fn own_error(log_mean: &PerDimension<f64>) -> PerDimension<f64> {
    PerDimension::from_fn(|d| d.measuring_error_mm() / log_mean[d].exp())
}
