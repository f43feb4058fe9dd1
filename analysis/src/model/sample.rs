//! People drawn from the model, for simulations. Randomness comes from the caller.

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::component::Component;
use super::{HandModel, Population};
use crate::dimension::Dimension;
use crate::hand::{Hands, Side, Summary};

/// Draws people of one population: the first of its sexes, where it is a mixture.
#[derive(Debug, Clone)]
pub struct Sampler {
    component: Component,
    /// Square roots of the covariance of the two hands' mean and of half their difference.
    mean_root: DMatrix<f64>,
    difference_root: DMatrix<f64>,
}

impl Sampler {
    /// Sampler of one population.
    #[must_use]
    pub fn new(model: &HandModel, population: Population) -> Option<Sampler> {
        let (_, component) = model.components(population).into_iter().next()?;
        // Left and right are mean +- difference, which are independent of each other.
        Some(Sampler {
            mean_root: root(&component.mean * 0.5),
            difference_root: root(&component.difference * 0.5),
            component: component.clone(),
        })
    }

    /// True dimensions of both hands, mm, left then right, from standard normal deviates.
    pub fn truth(&self, mut deviate: impl FnMut() -> f64) -> [[f64; Dimension::COUNT]; 2] {
        let mut normals = || DVector::from_fn(Dimension::COUNT, |_, _| deviate());
        let mean = &self.mean_root * normals();
        let difference = &self.difference_root * normals();
        [1.0, -1.0].map(|sign| {
            Dimension::ALL.map(|d| {
                let i = d.index();
                (self.component.log_mean[d] + mean[i] + sign * difference[i]).exp()
            })
        })
    }

    /// One reading of every dimension of both hands, rounded to whole millimetres as a tape is
    /// read, from standard normal deviates.
    pub fn readings(&self, mut deviate: impl FnMut() -> f64) -> Hands {
        let truth = self.truth(&mut deviate);
        let mut hands = Hands::default();
        for (side, values) in Side::BOTH.into_iter().zip(truth) {
            for (d, mm) in Dimension::ALL.into_iter().zip(values) {
                let read = (mm.ln() + self.component.error[d] * deviate()).exp().round();
                hands.side_mut(side)[d] = Summary::of(&[read]);
            }
        }
        hands
    }
}

/// Symmetric square root, which unlike the eigenvectors does not depend on their order and sign;
/// directions without variance stay without.
fn root(matrix: DMatrix<f64>) -> DMatrix<f64> {
    let eigen = SymmetricEigen::new(matrix);
    let roots = eigen.eigenvalues.map(|value| value.max(0.0).sqrt());
    &eigen.eigenvectors * DMatrix::from_diagonal(&roots) * eigen.eigenvectors.transpose()
}
