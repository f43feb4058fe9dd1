//! Maximum likelihood of a normal mean and covariance from rows with gaps, with or without a prior.
//!
//! Dempster, Laird, Rubin 1977; Little and Rubin, Statistical Analysis with Missing Data, chapter
//! on the multivariate normal. The E-step takes each row's conditional mean and covariance given
//! what was read, measuring error included; the M-step averages them. A prior counts as
//! `mean_weight` rows at the prior mean and `covariance_weight` rows of the prior covariance.

use nalgebra::{Cholesky, DMatrix, DVector};

/// One value read: where, what, and the variance of its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// Which variable.
    pub at: usize,
    /// Value.
    pub value: f64,
    /// Variance of the value about the true one; 0 for an exact value.
    pub error_variance: f64,
}

/// A row with its weight.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Values that were read, each variable at most once.
    pub entries: Vec<Entry>,
    /// How much the row counts, 1 for a whole one.
    pub weight: f64,
}

/// What is known before the rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Mean.
    pub mean: DVector<f64>,
    /// Covariance.
    pub covariance: DMatrix<f64>,
    /// Rows the mean counts for; 0 for plain maximum likelihood.
    pub mean_weight: f64,
    /// Rows the covariance counts for; 0 for plain maximum likelihood.
    pub covariance_weight: f64,
}

/// Where the search ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimated {
    /// Mean.
    pub mean: DVector<f64>,
    /// Covariance (divided by the number of rows, as maximum likelihood does).
    pub covariance: DMatrix<f64>,
    /// Steps taken.
    pub steps: usize,
}

/// Runs EM from the prior's mean and covariance until no mean moves by more than `accuracy`
/// standard deviations and no covariance by more than `accuracy` times the product of two, or for
/// `most_steps`. `None` when there is nothing to learn from or a covariance stops being positive
/// definite where it was read exactly.
#[must_use]
pub fn estimate(
    rows: &[Row],
    prior: &Prior,
    accuracy: f64,
    most_steps: usize,
) -> Option<Estimated> {
    let n = prior.mean.len();
    let count: f64 = rows.iter().map(|r| r.weight).sum();
    if count <= 0.0 {
        return None;
    }
    let (mut mean, mut covariance) = (prior.mean.clone(), prior.covariance.clone());
    for step in 1..=most_steps {
        let mut sum = DVector::zeros(n);
        let mut squares = DMatrix::zeros(n, n);
        let mut unexplained = DMatrix::zeros(n, n);
        for row in rows.iter().filter(|r| r.weight > 0.0) {
            // Departures from the mean of this step keep the sums small.
            let (departure, spread) = conditional(&mean, &covariance, &row.entries)?;
            sum.axpy(row.weight, &departure, 1.0);
            squares.ger(row.weight, &departure, &departure, 1.0);
            unexplained += spread * row.weight;
        }
        let from_prior = &prior.mean - &mean;
        let shift = (&sum + &from_prior * prior.mean_weight) / (count + prior.mean_weight);
        let mut scatter = squares + unexplained;
        scatter.ger(-1.0, &sum, &shift, 1.0);
        scatter.ger(-1.0, &shift, &sum, 1.0);
        scatter.ger(count, &shift, &shift, 1.0);
        let apart = &from_prior - &shift;
        scatter.ger(prior.mean_weight, &apart, &apart, 1.0);
        scatter += &prior.covariance * prior.covariance_weight;
        scatter /= count + prior.covariance_weight;
        let next = (&scatter + scatter.transpose()) * 0.5;
        let sd = |i: usize| covariance[(i, i)].max(f64::MIN_POSITIVE).sqrt();
        let moved = (0..n)
            .map(|i| {
                let of_covariance = (0..n)
                    .map(|j| (next[(i, j)] - covariance[(i, j)]).abs() / (sd(i) * sd(j)))
                    .fold(0.0, f64::max);
                of_covariance.max(shift[i].abs() / sd(i))
            })
            .fold(0.0, f64::max);
        mean += &shift;
        covariance = next;
        if moved < accuracy {
            return Some(Estimated { mean, covariance, steps: step });
        }
    }
    Some(Estimated { mean, covariance, steps: most_steps })
}

/// Expected departure from the mean and remaining covariance of a row, given its entries.
fn conditional(
    mean: &DVector<f64>,
    covariance: &DMatrix<f64>,
    entries: &[Entry],
) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let k = entries.len();
    let mut read = DMatrix::from_fn(k, k, |i, j| covariance[(entries[i].at, entries[j].at)]);
    for (i, e) in entries.iter().enumerate() {
        read[(i, i)] += e.error_variance;
    }
    let factor = Cholesky::new(read)?;
    let mut cross = DMatrix::from_fn(k, mean.len(), |i, j| covariance[(entries[i].at, j)]);
    let mut deviations = DVector::from_fn(k, |i, _| entries[i].value - mean[entries[i].at]);
    let lower = factor.l_dirty();
    lower.solve_lower_triangular_mut(&mut cross);
    lower.solve_lower_triangular_mut(&mut deviations);
    Some((cross.tr_mul(&deviations), covariance - cross.tr_mul(&cross)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hald's cement data (Draper and Smith 1968), x1 to x4 and heat, with x1 and x2 taken out of
    /// cases 10 to 13 and x4 out of cases 7 to 13.
    const CEMENT: [[f64; 5]; 13] = [
        [7.0, 26.0, 6.0, 60.0, 78.5],
        [1.0, 29.0, 15.0, 52.0, 74.3],
        [11.0, 56.0, 8.0, 20.0, 104.3],
        [11.0, 31.0, 8.0, 47.0, 87.6],
        [7.0, 52.0, 6.0, 33.0, 95.9],
        [11.0, 55.0, 9.0, 22.0, 109.2],
        [3.0, 71.0, 17.0, f64::NAN, 102.7],
        [1.0, 31.0, 22.0, f64::NAN, 72.5],
        [2.0, 54.0, 18.0, f64::NAN, 93.1],
        [f64::NAN, f64::NAN, 4.0, f64::NAN, 115.9],
        [f64::NAN, f64::NAN, 23.0, f64::NAN, 83.8],
        [f64::NAN, f64::NAN, 9.0, f64::NAN, 113.3],
        [f64::NAN, f64::NAN, 8.0, f64::NAN, 109.4],
    ];

    // Rubin 1976 (Journal of the American Statistical Association 71) and Little and Rubin,
    // Statistical Analysis with Missing Data, the cement example with its monotone gap: maximum
    // likelihood mean and covariance. The printed values are from memory and were found again by a
    // separate EM in numpy 2, to all digits given.
    #[test]
    fn the_cement_data_with_a_monotone_gap_give_the_published_estimates() {
        let rows: Vec<Row> = CEMENT
            .iter()
            .map(|case| Row {
                entries: case
                    .iter()
                    .enumerate()
                    .filter(|(_, v)| v.is_finite())
                    .map(|(at, value)| Entry { at, value: *value, error_variance: 0.0 })
                    .collect(),
                weight: 1.0,
            })
            .collect();
        let start = Prior {
            mean: DVector::from_element(5, 30.0),
            covariance: DMatrix::identity(5, 5) * 400.0,
            mean_weight: 0.0,
            covariance_weight: 0.0,
        };
        let found = estimate(&rows, &start, 1e-12, 20_000).expect("an estimate");
        let mean = [6.655, 49.965, 11.769, 27.047, 95.423];
        let covariance = [
            [21.826, 20.864, -24.900, -11.473, 46.953],
            [20.864, 238.012, -15.817, -252.072, 195.604],
            [-24.900, -15.817, 37.870, -9.599, -47.556],
            [-11.473, -252.072, -9.599, 294.183, -190.599],
            [46.953, 195.604, -47.556, -190.599, 208.905],
        ];
        for (i, row) in covariance.iter().enumerate() {
            assert!((found.mean[i] - mean[i]).abs() < 0.001, "mean {i}: {}", found.mean[i]);
            for (j, published) in row.iter().enumerate() {
                let gap = (found.covariance[(i, j)] - published).abs();
                assert!(gap < 0.0015, "{i} {j}: {}", found.covariance[(i, j)]);
            }
        }
    }

    #[test]
    fn without_gaps_the_answer_is_the_plain_mean_and_a_prior_counts_as_rows() {
        let row = |value: f64| Row {
            entries: vec![Entry { at: 0, value, error_variance: 0.0 }],
            weight: 1.0,
        };
        let rows: Vec<Row> = [1.0, 2.0, 6.0].map(row).to_vec();
        let mut prior = Prior {
            mean: DVector::from_element(1, 0.0),
            covariance: DMatrix::identity(1, 1),
            mean_weight: 0.0,
            covariance_weight: 0.0,
        };
        let plain = estimate(&rows, &prior, 1e-12, 100).expect("an estimate");
        assert!((plain.mean[0] - 3.0).abs() < 1e-9);
        assert!((plain.covariance[(0, 0)] - 14.0 / 3.0).abs() < 1e-9);
        prior.mean_weight = 3.0;
        prior.covariance_weight = 3.0;
        let held = estimate(&rows, &prior, 1e-12, 100).expect("an estimate");
        assert!((held.mean[0] - 1.5).abs() < 1e-9);
        // (1 + 4 + 36 about 1.5: 0.25 + 0.25 + 20.25) + 3 x 1.5^2 + 3 x 1 over 6.
        assert!((held.covariance[(0, 0)] - 30.5 / 6.0).abs() < 1e-9);
        assert_eq!(estimate(&[], &prior, 1e-12, 100), None);
    }
}
