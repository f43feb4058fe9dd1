//! How much likelier the readings become when one of them, or several, is taken for another value.
//!
//! With `P` the inverse covariance of the readings and `a = P z`, replacing the deviations `z` by
//! `z + d` changes the log density by `-(d.a + d'P d / 2)`, and leaving reading `i` out removes a
//! normal density with residual `a_i / P_ii` and variance `1 / P_ii`. So every explanation is
//! scored from one inverse a population.

use nalgebra::{DMatrix, DVector};

use crate::model::joint::{Joint, Observation};
use crate::model::predictive::{Part, Predictive, ln_sum_exp};

/// The readings under one population.
#[derive(Debug, Clone)]
struct View {
    ln_prior: f64,
    log_likelihood: f64,
    inverse: DMatrix<f64>,
    weights: DVector<f64>,
    /// Expected log reading before any evidence, by reading.
    log_mean: Vec<f64>,
}

/// The readings under every population that may be meant.
#[derive(Debug, Clone)]
pub(crate) struct Evidence {
    views: Vec<View>,
    /// Log readings as they now stand.
    log_mm: Vec<f64>,
    /// Readings left out as unexplained.
    dropped: Vec<bool>,
}

impl Evidence {
    pub fn new(joints: &[(f64, Joint<'_>)], observations: &[Observation]) -> Evidence {
        let views = joints
            .iter()
            .map(|(prior, joint)| View {
                ln_prior: prior.ln(),
                log_likelihood: joint.log_likelihood,
                inverse: joint.inverse(),
                weights: joint.weights(),
                log_mean: observations
                    .iter()
                    .map(|o| joint.component.log_mean[o.dimension])
                    .collect(),
            })
            .collect();
        Evidence {
            views,
            log_mm: observations.iter().map(|o| o.mm.ln()).collect(),
            dropped: vec![false; observations.len()],
        }
    }

    pub fn is_dropped(&self, i: usize) -> bool {
        self.dropped[i]
    }

    pub fn log_mm(&self, i: usize) -> f64 {
        self.log_mm[i]
    }

    /// How many readings still count.
    pub fn len(&self) -> usize {
        self.dropped.iter().filter(|d| !**d).count()
    }

    /// Log of the mixture's likelihood with each view's log likelihood changed by `change`.
    fn total(&self, change: impl Fn(&View) -> f64) -> f64 {
        let terms: Vec<f64> =
            self.views.iter().map(|v| v.ln_prior + v.log_likelihood + change(v)).collect();
        ln_sum_exp(&terms)
    }

    /// By how much the log likelihood grows when the listed readings take other log values.
    pub fn gain(&self, changes: &[(usize, f64)]) -> f64 {
        let gain = |v: &View| {
            let mut change = 0.0;
            for (i, to) in changes {
                let d = to - self.log_mm[*i];
                change -= d * v.weights[*i];
                for (j, to_j) in changes {
                    change -= 0.5 * d * v.inverse[(*i, *j)] * (to_j - self.log_mm[*j]);
                }
            }
            change
        };
        self.total(gain) - self.total(|_| 0.0)
    }

    /// The same when every member moves by the same log shift, for each of several shifts.
    pub fn gains_of_shifts(&self, members: &[usize], shifts: &[f64]) -> Vec<f64> {
        let sums: Vec<(f64, f64)> = self
            .views
            .iter()
            .map(|v| {
                let linear = members.iter().map(|i| v.weights[*i]).sum();
                // Members in a row, as they are until one is dropped, are summed as one block.
                let square = match (members.first(), members.last()) {
                    (Some(first), Some(last)) if last - first + 1 == members.len() => {
                        let size = (members.len(), members.len());
                        v.inverse.view((*first, *first), size).sum()
                    }
                    _ => members
                        .iter()
                        .map(|i| members.iter().map(|j| v.inverse[(*j, *i)]).sum::<f64>())
                        .sum(),
                };
                (linear, square)
            })
            .collect();
        let now = self.total(|_| 0.0);
        shifts
            .iter()
            .map(|d| {
                let terms: Vec<f64> = self
                    .views
                    .iter()
                    .zip(&sums)
                    .map(|(v, (linear, square))| {
                        v.ln_prior + v.log_likelihood - d * linear - 0.5 * d * d * square
                    })
                    .collect();
                ln_sum_exp(&terms) - now
            })
            .collect()
    }

    /// The same when reading `i` is not a reading of its dimension at all but of something with
    /// `ln_density(residual, variance)` about the prediction from the others.
    pub fn gain_if_unexplained(&self, i: usize, ln_density: impl Fn(f64, f64) -> f64) -> f64 {
        let gain = |v: &View| {
            let (residual, variance) = residual(v, i);
            ln_density(residual, variance) - ln_normal(residual, variance)
        };
        self.total(gain) - self.total(|_| 0.0)
    }

    /// Distribution of reading `i` given all others.
    pub fn given_others(&self, i: usize) -> Predictive {
        let parts: Vec<(f64, Part)> = self
            .views
            .iter()
            .map(|v| {
                let (residual, variance) = residual(v, i);
                let weight = v.ln_prior + v.log_likelihood - ln_normal(residual, variance);
                let part =
                    Part { weight: 0.0, mean: self.log_mm[i] - residual, sd: variance.sqrt() };
                (weight, part)
            })
            .collect();
        let total = ln_sum_exp(&parts.iter().map(|(w, _)| *w).collect::<Vec<_>>());
        let parts: Vec<Part> =
            parts.into_iter().map(|(w, p)| Part { weight: (w - total).exp(), ..p }).collect();
        Predictive::new(&parts)
    }

    /// Smallest conditional residual of reading `i` over the populations, in its own SDs.
    pub fn smallest_residual(&self, i: usize) -> f64 {
        self.views
            .iter()
            .map(|v| {
                let (residual, variance) = residual(v, i);
                residual.abs() / variance.sqrt()
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// Squared Mahalanobis distance of the readings, under the population where it is least.
    pub fn distance(&self) -> f64 {
        self.views
            .iter()
            .map(|v| {
                self.log_mm
                    .iter()
                    .zip(&v.log_mean)
                    .zip(v.weights.iter())
                    .zip(&self.dropped)
                    .filter(|(_, dropped)| !**dropped)
                    .map(|(((x, mean), weight), _)| (x - mean) * weight)
                    .sum()
            })
            .fold(f64::INFINITY, f64::min)
    }

    /// Takes the listed readings for other log values from here on.
    pub fn accept(&mut self, changes: &[(usize, f64)]) {
        let gains: Vec<f64> = (0..self.views.len())
            .map(|k| {
                let v = &self.views[k];
                changes
                    .iter()
                    .map(|(i, to)| {
                        let d = to - self.log_mm[*i];
                        let quadratic: f64 = changes
                            .iter()
                            .map(|(j, to_j)| d * v.inverse[(*i, *j)] * (to_j - self.log_mm[*j]))
                            .sum();
                        -d * v.weights[*i] - 0.5 * quadratic
                    })
                    .sum()
            })
            .collect();
        for (v, gain) in self.views.iter_mut().zip(gains) {
            v.log_likelihood += gain;
            for (i, to) in changes {
                let d = to - self.log_mm[*i];
                v.weights.axpy(d, &v.inverse.column(*i), 1.0);
            }
        }
        for (i, to) in changes {
            self.log_mm[*i] = *to;
        }
    }

    /// Leaves reading `i` out from here on.
    pub fn drop(&mut self, i: usize) {
        for v in &mut self.views {
            let (residual, variance) = residual(v, i);
            v.log_likelihood -= ln_normal(residual, variance);
            let column = v.inverse.column(i) * variance.sqrt();
            let weight = v.weights[i] * variance.sqrt();
            v.weights.axpy(-weight, &column, 1.0);
            v.inverse.ger(-1.0, &column, &column, 1.0);
            // An unused reading must not speak again: its own precision stays positive.
            v.weights[i] = 0.0;
            v.inverse.row_mut(i).fill(0.0);
            v.inverse.column_mut(i).fill(0.0);
            v.inverse[(i, i)] = 1.0;
        }
        self.dropped[i] = true;
    }
}

/// Residual of reading `i` from its prediction by the others, and its variance.
fn residual(v: &View, i: usize) -> (f64, f64) {
    let variance = 1.0 / v.inverse[(i, i)].max(f64::MIN_POSITIVE);
    (v.weights[i] * variance, variance)
}

/// Logarithm of the normal density with mean 0.
pub(crate) fn ln_normal(residual: f64, variance: f64) -> f64 {
    -0.5 * (residual * residual / variance + (2.0 * std::f64::consts::PI * variance).ln())
}
