//! Conditioning: what the readings of both hands say about each other and about the gaps.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::component::Component;
use crate::dimension::Dimension;
use crate::hand::{Hands, Side, Summary};

/// Dimensions of both hands: the left hand's 25, then the right hand's.
pub(crate) const SLOTS: usize = 2 * Dimension::COUNT;

/// Position of one dimension of one hand among [`SLOTS`].
pub(crate) fn slot(side: Side, dimension: Dimension) -> usize {
    match side {
        Side::Left => dimension.index(),
        Side::Right => Dimension::COUNT + dimension.index(),
    }
}

/// Every dimension of both hands.
fn slots() -> impl Iterator<Item = (Side, Dimension)> {
    Side::BOTH.into_iter().flat_map(|side| Dimension::ALL.map(|d| (side, d)))
}

/// One summary of readings, where it stands and how far it may be off.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Observation {
    pub side: Side,
    pub dimension: Dimension,
    pub mm: f64,
    /// Variance of the summary's error as a multiple of a single reading's.
    pub error_share: f64,
}

/// The usable readings of both hands, in a fixed order.
pub(crate) fn observations(hands: &Hands) -> Vec<Observation> {
    let mut all = Vec::with_capacity(SLOTS);
    for side in Side::BOTH {
        for (dimension, summary) in hands.side(side).iter() {
            if let Some(s) = summary.filter(|s| s.median_mm > 0.0 && s.median_mm.is_finite()) {
                let error_share = error_share(&s);
                all.push(Observation { side, dimension, mm: s.median_mm, error_share });
            }
        }
    }
    all
}

/// Variance of a median of `n` normal readings over that of one reading: exact for one and two,
/// `pi / (2n + pi - 2)` beyond (within 3 % of the exact order-statistic value for odd `n`).
fn error_share(summary: &Summary) -> f64 {
    use std::f64::consts::PI;
    match summary.count {
        0 | 1 => 1.0,
        2 => 0.5,
        n => {
            #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
            let n = n as f64;
            PI / (2.0 * n + PI - 2.0)
        }
    }
}

/// Covariance of the true values in two slots.
pub(crate) fn covariance(component: &Component, a: (Side, Dimension), b: (Side, Dimension)) -> f64 {
    let matrix = if a.0 == b.0 { &component.within } else { &component.between };
    matrix[(a.1.index(), b.1.index())]
}

/// Readings conditioned under one population.
#[derive(Debug, Clone)]
pub(crate) struct Joint<'a> {
    pub component: &'a Component,
    observations: &'a [Observation],
    factor: Option<Cholesky<f64, nalgebra::Dyn>>,
    /// `K^-1 z`: inverse covariance of the readings times their deviations.
    pub weights: DVector<f64>,
    /// Natural logarithm of the readings' joint density (of their logarithms).
    pub log_likelihood: f64,
}

impl<'a> Joint<'a> {
    pub fn new(component: &'a Component, observations: &'a [Observation]) -> Joint<'a> {
        let n = observations.len();
        let key = |o: &Observation| (o.side, o.dimension);
        let deviations = DVector::from_iterator(
            n,
            observations.iter().map(|o| o.mm.ln() - component.log_mean[o.dimension]),
        );
        let mut readings = DMatrix::from_fn(n, n, |i, j| {
            covariance(component, key(&observations[i]), key(&observations[j]))
        });
        for (i, o) in observations.iter().enumerate() {
            readings[(i, i)] += component.error[o.dimension].powi(2) * o.error_share;
        }
        let factor = Cholesky::new(readings);
        let Some(chol) = &factor else {
            return Joint {
                component,
                observations,
                factor,
                weights: DVector::zeros(n),
                log_likelihood: 0.0,
            };
        };
        let weights = chol.solve(&deviations);
        let log_det: f64 = chol.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
        #[expect(clippy::cast_precision_loss, reason = "at most 50 readings")]
        let constant = n as f64 * (2.0 * std::f64::consts::PI).ln();
        let log_likelihood = -0.5 * (deviations.dot(&weights) + constant) - log_det;
        Joint { component, observations, factor, weights, log_likelihood }
    }

    /// Covariance of the readings with the true log value in every slot.
    fn cross(&self) -> DMatrix<f64> {
        let mut cross = DMatrix::zeros(self.observations.len(), SLOTS);
        for (i, o) in self.observations.iter().enumerate() {
            for (side, d) in slots() {
                cross[(i, slot(side, d))] =
                    covariance(self.component, (o.side, o.dimension), (side, d));
            }
        }
        cross
    }

    /// Prior means moved by the readings, and the readings' covariance with every slot whitened:
    /// its inner products are what the readings take off the prior covariance.
    fn update(&self) -> (DVector<f64>, DMatrix<f64>) {
        let mut cross = self.cross();
        let mut mean = cross.tr_mul(&self.weights);
        for (side, d) in slots() {
            mean[slot(side, d)] += self.component.log_mean[d];
        }
        if let Some(factor) = &self.factor {
            factor.l_dirty().solve_lower_triangular_mut(&mut cross);
        }
        (mean, cross)
    }

    /// Mean and variance of the true log value in every slot, given the readings.
    pub fn posterior(&self) -> [(f64, f64); SLOTS] {
        let (mean, whitened) = self.update();
        let mut out = [(0.0, 0.0); SLOTS];
        for (side, d) in slots() {
            let at = slot(side, d);
            let prior = self.component.within[(d.index(), d.index())];
            out[at] = (mean[at], (prior - whitened.column(at).norm_squared()).max(0.0));
        }
        out
    }

    /// Mean and covariance of the true log values of every slot, given the readings.
    pub fn posterior_covariance(&self) -> (DVector<f64>, DMatrix<f64>) {
        let (mean, whitened) = self.update();
        let n = Dimension::COUNT;
        let prior = DMatrix::from_fn(SLOTS, SLOTS, |i, j| {
            let same = (i < n) == (j < n);
            let matrix = if same { &self.component.within } else { &self.component.between };
            matrix[(i % n, j % n)]
        });
        (mean, prior - whitened.tr_mul(&whitened))
    }

    /// Mean and variance of one more log reading of a dimension whose true value has the
    /// covariances `cross` with the readings at hand.
    pub fn predict(&self, cross: &[f64], dimension: Dimension) -> (f64, f64) {
        let mut cross = DVector::from_column_slice(cross);
        let mean = self.component.log_mean[dimension] + cross.dot(&self.weights);
        if let Some(factor) = &self.factor {
            factor.l_dirty().solve_lower_triangular_mut(&mut cross);
        }
        let index = dimension.index();
        let own = self.component.within[(index, index)] + self.component.error[dimension].powi(2);
        (mean, (own - cross.norm_squared()).max(0.0))
    }

    /// Inverse covariance of the readings.
    pub fn inverse(&self) -> DMatrix<f64> {
        match &self.factor {
            Some(factor) => factor.inverse(),
            None => DMatrix::identity(self.observations.len(), self.observations.len()),
        }
    }
}
