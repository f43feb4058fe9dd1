//! Completion of a covariance of which some entries, or combinations of entries, are known.
//!
//! Among all positive definite matrices that agree with what is known, the one of largest
//! determinant is taken: it adds no dependence that the known figures do not ask for (Dempster
//! 1972, Biometrics 28, 157-175; the covariance selection theorem). Its inverse is a combination
//! of the constraint matrices, so the search runs over one multiplier a constraint: Newton steps
//! with halving on the convex dual `f(l) = -ln det(sum l_k A_k) + l . c`.

use nalgebra::{Cholesky, DMatrix, DVector};

/// `u' C v = value` for the covariance `C` sought.
#[derive(Debug, Clone)]
pub(crate) struct Constraint {
    pub u: DVector<f64>,
    pub v: DVector<f64>,
    pub value: f64,
}

/// A completed covariance and the largest error left in any constraint.
#[derive(Debug, Clone)]
pub(crate) struct Completion {
    pub covariance: DMatrix<f64>,
    pub worst: f64,
}

/// Constraints are met to this accuracy (variances are near 1), far below the three or four digits
/// in which correlations are published.
const ACCURACY: f64 = 1e-10;
/// Newton steps; a dozen or two are needed.
const MAX_STEPS: usize = 200;
/// Halvings of one step before the search is given up.
const MAX_HALVINGS: usize = 60;

/// Largest-determinant covariance of `n` variables, scaled to variances near 1, that meets the
/// constraints. The first `n` constraints must be the variances. When the constraints contradict
/// each other the result is still positive definite and `worst` says by how much it misses.
pub(crate) fn complete(n: usize, constraints: &[Constraint]) -> Completion {
    let count = constraints.len();
    let u = DMatrix::from_fn(n, count, |i, k| constraints[k].u[i]);
    let v = DMatrix::from_fn(n, count, |i, k| constraints[k].v[i]);
    let target = DVector::from_fn(count, |k, _| constraints[k].value);
    let precision = |multipliers: &DVector<f64>| {
        let half = &u * DMatrix::from_diagonal(multipliers) * v.transpose();
        (&half + half.transpose()) * 0.5
    };
    let mut multipliers = DVector::from_fn(count, |k, _| if k < n { 1.0 } else { 0.0 });
    let mut covariance = DMatrix::identity(n, n);
    let mut value = multipliers.dot(&target);
    for _ in 0..MAX_STEPS {
        let cu = &covariance * &u;
        let cv = &covariance * &v;
        let (uu, vv, uv) = (u.transpose() * &cu, v.transpose() * &cv, u.transpose() * &cv);
        let gradient = &target - uv.diagonal();
        if gradient.amax() < ACCURACY {
            break;
        }
        let hessian = DMatrix::from_fn(count, count, |k, l| {
            0.5 * (uu[(k, l)] * vv[(k, l)] + uv[(k, l)] * uv[(l, k)])
        });
        let Some(factor) = Cholesky::new(hessian) else { break };
        let step = -factor.solve(&gradient);
        let slope = gradient.dot(&step);
        let mut length = 1.0;
        let mut moved = false;
        for _ in 0..MAX_HALVINGS {
            let trial = &multipliers + length * &step;
            if let Some(factor) = Cholesky::new(precision(&trial)) {
                let log_det: f64 = factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
                let trial_value = trial.dot(&target) - 2.0 * log_det;
                // A step at rounding level is taken whole: the function no longer resolves it.
                if trial_value <= value + 1e-4 * length * slope || slope.abs() < 1e-9 {
                    multipliers = trial;
                    covariance = factor.inverse();
                    value = trial_value;
                    moved = true;
                    break;
                }
            }
            length *= 0.5;
        }
        if !moved {
            break;
        }
    }
    let worst = constraints
        .iter()
        .map(|c| (c.u.dot(&(&covariance * &c.v)) - c.value).abs())
        .fold(0.0, f64::max);
    Completion { covariance, worst }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(n: usize, i: usize, j: usize, value: f64) -> Constraint {
        let unit = |k: usize| DVector::from_fn(n, |r, _| if r == k { 1.0 } else { 0.0 });
        Constraint { u: unit(i), v: unit(j), value }
    }

    // Dempster 1972: the missing entry of a chain a-b-c makes a and c independent given b, so it
    // is the product of the two correlations.
    #[test]
    fn the_missing_entry_of_a_chain_is_the_product_of_its_links() {
        let constraints: Vec<_> = (0..3)
            .map(|i| entry(3, i, i, 1.0))
            .chain([entry(3, 0, 1, 0.8), entry(3, 1, 2, 0.6)])
            .collect();
        let completion = complete(3, &constraints);
        assert!(completion.worst < 1e-9);
        assert!((completion.covariance[(0, 2)] - 0.48).abs() < 1e-9);
    }

    #[test]
    fn contradicting_constraints_are_reported_and_leave_a_positive_definite_matrix() {
        let constraints: Vec<_> = (0..3)
            .map(|i| entry(3, i, i, 1.0))
            .chain([entry(3, 0, 1, 0.95), entry(3, 1, 2, 0.95), entry(3, 0, 2, -0.9)])
            .collect();
        let completion = complete(3, &constraints);
        assert!(completion.worst > 0.01);
        assert!(Cholesky::new(completion.covariance).is_some());
    }
}
