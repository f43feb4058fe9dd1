//! Conditioning: what the readings of both hands say about each other and about the gaps.

use std::f64::consts::FRAC_1_SQRT_2;

use nalgebra::{Cholesky, DMatrix, DVector};

use super::component::Component;
use crate::dimension::Dimension;
use crate::hand::{HOME_ERROR, HOME_SCALE_SD, Hands, Side, Summary};

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
    /// Variance of the summary's own error as a multiple of that of a single reading of the
    /// workshop.
    pub error_share: f64,
    /// Whether it was taken at home: such readings of one person share one scale error more.
    pub is_home: bool,
}

/// The usable readings of both hands, in a fixed order.
pub(crate) fn observations(hands: &Hands) -> Vec<Observation> {
    let mut all = Vec::with_capacity(SLOTS);
    for side in Side::BOTH {
        for (dimension, summary) in hands.side(side).iter() {
            if let Some(s) = summary.filter(|s| s.median_mm > 0.0 && s.median_mm.is_finite()) {
                let error_share = error_share(&s);
                let (mm, is_home) = (s.median_mm, s.is_home);
                all.push(Observation { side, dimension, mm, error_share, is_home });
            }
        }
    }
    all
}

/// Variance of a median of `n` normal readings over that of one reading: exact for one and two,
/// `pi / (2n + pi - 2)` beyond (within 3 % of the exact order-statistic value for odd `n`).
pub(crate) fn error_share(summary: &Summary) -> f64 {
    use std::f64::consts::PI;
    let own = if summary.is_home { HOME_ERROR * HOME_ERROR } else { 1.0 };
    own * match summary.count {
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

/// A covariance `K` of readings factored and applied to their deviations `z`.
#[derive(Debug, Clone)]
struct Solved {
    factor: Option<Cholesky<f64, nalgebra::Dyn>>,
    deviations: DVector<f64>,
    /// `K^-1 z`.
    weights: DVector<f64>,
    log_likelihood: f64,
}

impl Solved {
    fn new(covariance: DMatrix<f64>, deviations: DVector<f64>) -> Solved {
        let n = deviations.len();
        let factor = Cholesky::new(covariance);
        let Some(chol) = &factor else {
            let weights = DVector::zeros(n);
            return Solved { factor, deviations, weights, log_likelihood: 0.0 };
        };
        let weights = chol.solve(&deviations);
        let log_det: f64 = chol.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
        #[expect(clippy::cast_precision_loss, reason = "at most 50 readings")]
        let constant = n as f64 * (2.0 * std::f64::consts::PI).ln();
        let log_likelihood = -0.5 * (deviations.dot(&weights) + constant) - log_det;
        Solved { factor, deviations, weights, log_likelihood }
    }

    /// Covariances with the readings, whitened: their inner products are what the readings explain.
    fn whiten(&self, cross: &mut DMatrix<f64>) {
        if let Some(factor) = &self.factor {
            factor.l_dirty().solve_lower_triangular_mut(cross);
        }
    }

    /// Inverse of the Cholesky factor; the identity where there is none.
    fn inverse_root(&self) -> DMatrix<f64> {
        let n = self.weights.len();
        match &self.factor {
            Some(factor) => inverse_of_lower(factor.l_dirty()),
            None => DMatrix::identity(n, n),
        }
    }

    fn inverse(&self) -> DMatrix<f64> {
        let root = self.inverse_root();
        root.tr_mul(&root)
    }

    /// Shift of the mean and variance left of true values, some of them read.
    ///
    /// `K` is their prior covariance and the readings' error variances `e`. So for what was read
    /// the shift is `z - e K^-1 z` and what is left is `e - e^2 (K^-1)_ii`, and only for the rest
    /// must the covariances with the readings be whitened.
    fn left<const N: usize>(
        &self,
        read: &[usize],
        errors: Option<&[f64]>,
        prior: impl Fn(usize, usize) -> f64,
    ) -> [(f64, f64); N] {
        let mut left: [(f64, f64); N] = std::array::from_fn(|at| (0.0, prior(at, at)));
        if self.factor.is_none() {
            return left;
        }
        let mut is_known = [false; N];
        if let Some(errors) = errors {
            let root = self.inverse_root();
            for (i, (at, error)) in read.iter().zip(errors).enumerate() {
                let precision = root.column(i).norm_squared();
                left[*at] = (
                    self.deviations[i] - error * self.weights[i],
                    (error - error * error * precision).max(0.0),
                );
                is_known[*at] = true;
            }
        }
        let rest: Vec<usize> = (0..N).filter(|at| !is_known[*at]).collect();
        if rest.is_empty() {
            return left;
        }
        let mut cross = DMatrix::from_fn(read.len(), rest.len(), |i, j| prior(read[i], rest[j]));
        let shift = cross.tr_mul(&self.weights);
        self.whiten(&mut cross);
        for (j, at) in rest.into_iter().enumerate() {
            let explained = cross.column(j).norm_squared();
            left[at] = (shift[j], (left[at].1 - explained).max(0.0));
        }
        left
    }

    /// Whitened covariances of all 25 dimensions of one half with those read.
    fn whitened(&self, prior: &DMatrix<f64>, read: &[usize]) -> DMatrix<f64> {
        let mut cross = DMatrix::from_fn(read.len(), Dimension::COUNT, |i, d| prior[(read[i], d)]);
        self.whiten(&mut cross);
        cross
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
                Solved::new(covariance, deviations)
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
            let home: Vec<usize> =
                (0..n).filter(|i| observations.get(*i).is_some_and(|o| o.is_home)).collect();
            for (i, j) in home.iter().flat_map(|i| home.iter().map(move |j| (*i, *j))) {
                readings[(i, j)] += HOME_SCALE_SD * HOME_SCALE_SD;
            }
            Parts::Whole(Solved::new(
                readings,
                DVector::from_iterator(n, observations.iter().map(deviation)),
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

    /// Error variance of each reading, on the log scale, where the errors are independent of each
    /// other; then the estimates of what was read follow without whitening.
    fn errors(&self, observations: &[Observation]) -> Option<Vec<f64>> {
        let error = |o: &Observation| self.component.error[o.dimension].powi(2) * o.error_share;
        let is_independent = !observations.iter().any(|o| o.is_home);
        is_independent.then(|| observations.iter().map(error).collect())
    }

    /// Mean and variance of the true log value in every slot, given the readings.
    pub fn posterior(&self) -> [(f64, f64); SLOTS] {
        let c = self.component;
        let mean_of = |at: usize| c.log_mean[Dimension::ALL[at % Dimension::COUNT]];
        match &self.parts {
            Parts::Whole(solved) => {
                let places: Vec<usize> =
                    self.observations.iter().map(|o| slot(o.side, o.dimension)).collect();
                let errors = self.errors(self.observations);
                let mut out: [(f64, f64); SLOTS] =
                    solved.left(&places, errors.as_deref(), |a, b| {
                        let n = Dimension::COUNT;
                        let matrix = if (a < n) == (b < n) { &c.within } else { &c.between };
                        matrix[(a % n, b % n)]
                    });
                for (at, (mean, _)) in out.iter_mut().enumerate() {
                    *mean += mean_of(at);
                }
                out
            }
            Parts::Halves { mean, difference } => {
                let read = self.read_in_pairs();
                let errors = self.errors(&self.observations[..read.len()]);
                let m: [(f64, f64); Dimension::COUNT] =
                    mean.left(&read, errors.as_deref(), |a, b| c.mean[(a, b)]);
                let d: [(f64, f64); Dimension::COUNT] =
                    difference.left(&read, errors.as_deref(), |a, b| c.difference[(a, b)]);
                std::array::from_fn(|at| {
                    let i = at % Dimension::COUNT;
                    let sign = if at < Dimension::COUNT { 1.0 } else { -1.0 };
                    let shift = (m[i].0 + sign * d[i].0) * FRAC_1_SQRT_2;
                    (mean_of(at) + shift, f64::midpoint(m[i].1, d[i].1))
                })
            }
        }
    }

    /// The dimensions read, where both hands were read alike.
    fn read_in_pairs(&self) -> Vec<usize> {
        let pairs = self.observations.len() / 2;
        self.observations[..pairs].iter().map(|o| o.dimension.index()).collect()
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
                    let whitened = solved.whitened(prior, &read);
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
    let mut out = DMatrix::zeros(2 * n, 2 * n);
    let (left, right) = out.as_mut_slice().split_at_mut(2 * n * n);
    // Column by column, each from its own half of the one and the other matrix.
    let columns = left.chunks_exact_mut(2 * n).zip(right.chunks_exact_mut(2 * n));
    let halves = mean.as_slice().chunks_exact(n).zip(difference.as_slice().chunks_exact(n));
    for ((left, right), (mean, difference)) in columns.zip(halves) {
        for (i, (m, d)) in mean.iter().zip(difference).enumerate() {
            let (same, other) = ((m + d) / 2.0, (m - d) / 2.0);
            left[i] = same;
            left[n + i] = other;
            right[i] = other;
            right[n + i] = same;
        }
    }
    out
}

/// Inverse of a lower triangle; what stands above its diagonal is not looked at.
fn inverse_of_lower(lower: &DMatrix<f64>) -> DMatrix<f64> {
    let n = lower.nrows();
    let mut inverse = DMatrix::zeros(n, n);
    for (j, column) in inverse.as_mut_slice().chunks_exact_mut(n.max(1)).enumerate() {
        column[j] = 1.0;
        for (k, of_lower) in lower.as_slice().chunks_exact(n).enumerate().skip(j) {
            let value = column[k] / of_lower[k];
            column[k] = value;
            for (x, l) in column[k + 1..].iter_mut().zip(&of_lower[k + 1..]) {
                *x -= value * l;
            }
        }
    }
    inverse
}

/// How many dimensions were read, when they were read alike on both hands.
fn pairs(observations: &[Observation]) -> Option<usize> {
    let (left, right) = observations.split_at(observations.len() / 2);
    let alike = left.len() == right.len()
        && left.iter().zip(right).all(|(l, r)| {
            l.side != r.side
                && l.dimension == r.dimension
                && l.error_share.total_cmp(&r.error_share).is_eq()
                // A scale error common to both hands is in their mean alone.
                && !(l.is_home || r.is_home)
        });
    (alike && !left.is_empty()).then_some(left.len())
}
