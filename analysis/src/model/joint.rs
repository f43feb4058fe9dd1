//! Conditioning: what the readings of both hands say about each other and about the gaps.

use std::f64::consts::FRAC_1_SQRT_2;

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
pub(crate) fn error_share(summary: &Summary) -> f64 {
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
///
/// When both hands were read alike, their mean and their difference are independent of each other,
/// and two problems of half the size take the place of one: a quarter of the work.
#[derive(Debug, Clone)]
pub(crate) struct Joint<'a> {
    pub component: &'a Component,
    observations: &'a [Observation],
    parts: Parts,
    /// Natural logarithm of the readings' joint density (of their logarithms).
    pub log_likelihood: f64,
}

#[derive(Debug, Clone)]
enum Parts {
    Whole(Solved),
    /// `(left + right) / sqrt 2` and `(left - right) / sqrt 2` of the same dimensions.
    Halves {
        mean: Solved,
        difference: Solved,
    },
}

/// A covariance factored and applied to deviations.
#[derive(Debug, Clone)]
struct Solved {
    factor: Option<Cholesky<f64, nalgebra::Dyn>>,
    weights: DVector<f64>,
    log_likelihood: f64,
}

impl Solved {
    fn new(covariance: DMatrix<f64>, deviations: &DVector<f64>) -> Solved {
        let n = deviations.len();
        let factor = Cholesky::new(covariance);
        let Some(chol) = &factor else {
            return Solved { factor, weights: DVector::zeros(n), log_likelihood: 0.0 };
        };
        let weights = chol.solve(deviations);
        let log_det: f64 = chol.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
        #[expect(clippy::cast_precision_loss, reason = "at most 50 readings")]
        let constant = n as f64 * (2.0 * std::f64::consts::PI).ln();
        let log_likelihood = -0.5 * (deviations.dot(&weights) + constant) - log_det;
        Solved { factor, weights, log_likelihood }
    }

    /// Covariances with the readings, whitened: their inner products are what the readings explain.
    fn whiten(&self, cross: &mut DMatrix<f64>) {
        if let Some(factor) = &self.factor {
            factor.l_dirty().solve_lower_triangular_mut(cross);
        }
    }

    fn inverse(&self) -> DMatrix<f64> {
        let n = self.weights.len();
        let mut root = DMatrix::identity(n, n);
        self.whiten(&mut root);
        root.tr_mul(&root)
    }

    /// Shift of the mean and whitened covariances of all 25 dimensions, from the covariance of one
    /// half and the dimensions read.
    fn update(&self, prior: &DMatrix<f64>, read: &[Dimension]) -> (DVector<f64>, DMatrix<f64>) {
        let mut cross =
            DMatrix::from_fn(read.len(), Dimension::COUNT, |i, d| prior[(read[i].index(), d)]);
        let shift = cross.tr_mul(&self.weights);
        self.whiten(&mut cross);
        (shift, cross)
    }
}

impl<'a> Joint<'a> {
    pub fn new(component: &'a Component, observations: &'a [Observation]) -> Joint<'a> {
        let deviation = |o: &Observation| o.mm.ln() - component.log_mean[o.dimension];
        let error = |o: &Observation| component.error[o.dimension].powi(2) * o.error_share;
        let parts = if let Some(pairs) = pairs(observations) {
            let (left, right) = observations.split_at(pairs);
            let half = |sign: f64, prior: &DMatrix<f64>| {
                let deviations = DVector::from_fn(pairs, |i, _| {
                    (deviation(&left[i]) + sign * deviation(&right[i])) * FRAC_1_SQRT_2
                });
                let mut covariance = DMatrix::from_fn(pairs, pairs, |i, j| {
                    prior[(left[i].dimension.index(), left[j].dimension.index())]
                });
                for (i, o) in left.iter().enumerate() {
                    covariance[(i, i)] += error(o);
                }
                Solved::new(covariance, &deviations)
            };
            Parts::Halves {
                mean: half(1.0, &component.mean),
                difference: half(-1.0, &component.difference),
            }
        } else {
            let n = observations.len();
            let key = |o: &Observation| (o.side, o.dimension);
            let mut readings = DMatrix::from_fn(n, n, |i, j| {
                covariance(component, key(&observations[i]), key(&observations[j]))
            });
            for (i, o) in observations.iter().enumerate() {
                readings[(i, i)] += error(o);
            }
            Parts::Whole(Solved::new(
                readings,
                &DVector::from_iterator(n, observations.iter().map(deviation)),
            ))
        };
        let log_likelihood = match &parts {
            Parts::Whole(solved) => solved.log_likelihood,
            Parts::Halves { mean, difference } => mean.log_likelihood + difference.log_likelihood,
        };
        Joint { component, observations, parts, log_likelihood }
    }

    /// `K^-1 z`: inverse covariance of the readings times their deviations.
    pub fn weights(&self) -> DVector<f64> {
        match &self.parts {
            Parts::Whole(solved) => solved.weights.clone(),
            Parts::Halves { mean, difference } => {
                let pairs = mean.weights.len();
                DVector::from_fn(2 * pairs, |i, _| {
                    let (m, d) = (mean.weights[i % pairs], difference.weights[i % pairs]);
                    (if i < pairs { m + d } else { m - d }) * FRAC_1_SQRT_2
                })
            }
        }
    }

    /// Inverse covariance of the readings.
    pub fn inverse(&self) -> DMatrix<f64> {
        match &self.parts {
            Parts::Whole(solved) => solved.inverse(),
            Parts::Halves { mean, difference } => both(&mean.inverse(), &difference.inverse()),
        }
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

    /// Mean and variance of the true log value in every slot, given the readings.
    pub fn posterior(&self) -> [(f64, f64); SLOTS] {
        let mut out = [(0.0, 0.0); SLOTS];
        let c = self.component;
        match &self.parts {
            Parts::Whole(solved) => {
                let mut cross = self.cross();
                let shift = cross.tr_mul(&solved.weights);
                solved.whiten(&mut cross);
                for (side, d) in slots() {
                    let at = slot(side, d);
                    let left = c.within[(d.index(), d.index())] - cross.column(at).norm_squared();
                    out[at] = (c.log_mean[d] + shift[at], left.max(0.0));
                }
            }
            Parts::Halves { mean, difference } => {
                let read = self.read_in_pairs();
                let (m, whitened_m) = mean.update(&c.mean, &read);
                let (d, whitened_d) = difference.update(&c.difference, &read);
                for (side, dimension) in slots() {
                    let i = dimension.index();
                    let sign = if side == Side::Left { 1.0 } else { -1.0 };
                    let explained =
                        whitened_m.column(i).norm_squared() + whitened_d.column(i).norm_squared();
                    out[slot(side, dimension)] = (
                        c.log_mean[dimension] + (m[i] + sign * d[i]) * FRAC_1_SQRT_2,
                        (c.within[(i, i)] - explained / 2.0).max(0.0),
                    );
                }
            }
        }
        out
    }

    fn read_in_pairs(&self) -> Vec<Dimension> {
        self.observations[..self.observations.len() / 2].iter().map(|o| o.dimension).collect()
    }

    /// Mean and covariance of the true log values of every slot, given the readings.
    pub fn posterior_covariance(&self) -> (DVector<f64>, DMatrix<f64>) {
        let c = self.component;
        let mean =
            DVector::from_iterator(SLOTS, self.posterior().into_iter().map(|(mean, _)| mean));
        let covariance = match &self.parts {
            Parts::Whole(solved) => {
                let mut cross = self.cross();
                solved.whiten(&mut cross);
                both(&c.mean, &c.difference) - cross.tr_mul(&cross)
            }
            Parts::Halves { mean, difference } => {
                let read = self.read_in_pairs();
                let left = |solved: &Solved, prior: &DMatrix<f64>| {
                    let (_, whitened) = solved.update(prior, &read);
                    prior - whitened.tr_mul(&whitened)
                };
                both(&left(mean, &c.mean), &left(difference, &c.difference))
            }
        };
        (mean, covariance)
    }

    /// Mean and variance of one more log reading of a dimension whose true value has the
    /// covariances `cross` with the readings at hand.
    pub fn predict(&self, cross: &[f64], dimension: Dimension) -> (f64, f64) {
        let weights = self.weights();
        let shift: f64 = cross.iter().zip(weights.iter()).map(|(c, w)| c * w).sum();
        let explained = match &self.parts {
            Parts::Whole(solved) => {
                let mut column = DMatrix::from_column_slice(cross.len(), 1, cross);
                solved.whiten(&mut column);
                column.norm_squared()
            }
            Parts::Halves { mean, difference } => {
                let (left, right) = cross.split_at(cross.len() / 2);
                let explained = |sign: f64, solved: &Solved| {
                    let mut column = DMatrix::from_fn(left.len(), 1, |i, _| {
                        (left[i] + sign * right[i]) * FRAC_1_SQRT_2
                    });
                    solved.whiten(&mut column);
                    column.norm_squared()
                };
                explained(1.0, mean) + explained(-1.0, difference)
            }
        };
        let index = dimension.index();
        let own = self.component.within[(index, index)] + self.component.error[dimension].powi(2);
        (self.component.log_mean[dimension] + shift, (own - explained).max(0.0))
    }
}

/// Matrix over both hands from those of mean and difference: left and right are their sum and
/// difference over the square root of two.
fn both(mean: &DMatrix<f64>, difference: &DMatrix<f64>) -> DMatrix<f64> {
    let n = mean.nrows();
    DMatrix::from_fn(2 * n, 2 * n, |i, j| {
        let (m, d) = (mean[(i % n, j % n)], difference[(i % n, j % n)]);
        (if (i < n) == (j < n) { m + d } else { m - d }) / 2.0
    })
}

/// How many dimensions were read, when they were read alike on both hands.
fn pairs(observations: &[Observation]) -> Option<usize> {
    let (left, right) = observations.split_at(observations.len() / 2);
    let alike = left.len() == right.len()
        && left.iter().zip(right).all(|(l, r)| {
            l.side != r.side
                && l.dimension == r.dimension
                && l.error_share.total_cmp(&r.error_share).is_eq()
        });
    (alike && !left.is_empty()).then_some(left.len())
}
