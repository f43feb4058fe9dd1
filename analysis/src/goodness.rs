//! How well values follow a distribution that is known beforehand: Kolmogorov and Smirnov's test.

use nalgebra::DMatrix;
use serde::{Deserialize, Serialize};

/// Up to this many values the probability is exact (assumed: a millisecond); beyond, the limiting
/// distribution with its corrections is within a ten-thousandth.
const EXACT_UP_TO: usize = 400;

/// Beyond this many terms of the limiting distribution nothing changes in a double.
const TERMS: u32 = 100;

/// The test of values against a distribution.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct KolmogorovSmirnov {
    /// How many values.
    pub n: usize,
    /// Largest distance between the share of values and the share of the distribution below.
    pub distance: f64,
    /// Probability of a distance at least as large, were the values drawn from the distribution.
    pub p: f64,
}

/// Tests values by the share of the distribution below each, in any order. `None` without values.
///
/// Values of people of several populations may be tested together, each by its own distribution:
/// the shares are uniform if all the distributions are true. Values rounded to whole millimetres
/// make the distance a little larger than it was, so a small probability is a little too small.
#[must_use]
pub fn kolmogorov_smirnov(shares_below: &[f64]) -> Option<KolmogorovSmirnov> {
    let mut sorted = shares_below.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let real = n as f64;
    let distances = sorted.iter().enumerate().map(|(below, share)| {
        let (lower, upper) = (below as f64 / real, (below + 1) as f64 / real);
        (upper - share).max(share - lower)
    });
    let distance = distances.reduce(f64::max)?;
    Some(KolmogorovSmirnov { n, distance, p: probability_beyond(n, distance) })
}

/// Probability that the distance of `n` values is at least `d`.
#[must_use]
pub fn probability_beyond(n: usize, d: f64) -> f64 {
    let real = n as f64;
    if n == 0 || d <= 0.5 / real {
        return 1.0;
    }
    if d >= 1.0 {
        return 0.0;
    }
    // Beyond this the probability is below 1e-15, and the matrix would be as large as the sample.
    if real * d * d > 18.0 {
        return 0.0;
    }
    let p = if n <= EXACT_UP_TO { 1.0 - exact(n, d) } else { limiting(n, d) };
    p.clamp(0.0, 1.0)
}

/// Probability of a distance below `d`: Marsaglia, Tsang and Wang (2003), Journal of Statistical
/// Software 8(18): an entry of the n-th power of a matrix, times `n! / n^n`.
fn exact(n: usize, d: f64) -> f64 {
    let scaled = n as f64 * d;
    let k = scaled as usize + 1;
    let h = k as f64 - scaled;
    let m = 2 * k - 1;
    let mut start = DMatrix::from_fn(m, m, |i, j| if i + 1 < j { 0.0 } else { 1.0 });
    for i in 0..m {
        start[(i, 0)] -= h.powi(i as i32 + 1);
        start[(m - 1, i)] -= h.powi((m - i) as i32);
    }
    if h > 0.5 {
        start[(m - 1, 0)] += (2.0 * h - 1.0).powi(m as i32);
    }
    for i in 0..m {
        for j in 0..m.min(i + 1) {
            for g in 1..=(i + 1 - j) {
                start[(i, j)] /= g as f64;
            }
        }
    }
    let (power, mut exponent) = power(&start, n, k - 1);
    let mut s = power[(k - 1, k - 1)];
    for i in 1..=n {
        s *= i as f64 / n as f64;
        if s < SMALL {
            s /= SMALL;
            exponent -= DIGITS;
        }
    }
    s * 10_f64.powi(exponent)
}

/// Numbers are kept between this and its inverse.
const SMALL: f64 = 1e-140;
const DIGITS: i32 = 140;

/// `matrix^n` as a matrix and a power of ten, kept in range by the entry in the middle.
fn power(matrix: &DMatrix<f64>, n: usize, middle: usize) -> (DMatrix<f64>, i32) {
    if n <= 1 {
        return (matrix.clone(), 0);
    }
    let (half, exponent) = power(matrix, n / 2, middle);
    let mut whole = &half * &half;
    let mut exponent = 2 * exponent;
    if n % 2 == 1 {
        whole = matrix * whole;
    }
    if whole[(middle, middle)] > 1.0 / SMALL {
        whole *= SMALL;
        exponent += DIGITS;
    }
    (whole, exponent)
}

/// Kolmogorov's limiting distribution with corrections for finite `n` (Vrbik 2018, Pioneer Journal
/// of Theoretical and Applied Statistics 15, 15-23; from memory, held to the exact form by a test).
fn limiting(n: usize, d: f64) -> f64 {
    let real = n as f64;
    let z = real.sqrt() * d;
    let x = z + 1.0 / (6.0 * real.sqrt()) + (z - 1.0) / (4.0 * real);
    let mut sum = 0.0;
    for j in 1..=TERMS {
        let term = (-2.0 * (f64::from(j) * x).powi(2)).exp();
        sum += if j % 2 == 1 { term } else { -term };
        if term < 1e-17 {
            break;
        }
    }
    2.0 * sum
}

#[cfg(test)]
mod tests {
    use super::*;

    // Marsaglia, Tsang and Wang (2003), section 2: the probability of a distance below 0.274 of ten
    // values, given there to ten digits.
    #[test]
    fn the_exact_distribution_gives_the_published_digits() {
        assert!((1.0 - probability_beyond(10, 0.274) - 0.628_479_615_5).abs() < 5e-11);
    }

    // Miller (1956), Journal of the American Statistical Association 51, 111-121: table of
    // percentage points, two-sided 10, 5 and 1 %. From memory of the table.
    #[test]
    fn the_distribution_has_the_percentage_points_of_the_table() {
        for (n, ten, five, one) in [
            (5, 0.50945, 0.56328, 0.66853),
            (10, 0.36866, 0.40925, 0.48893),
            (20, 0.26473, 0.29408, 0.35241),
            (40, 0.18913, 0.21012, 0.25205),
        ] {
            for (d, p) in [(ten, 0.10), (five, 0.05), (one, 0.01)] {
                let found = probability_beyond(n, d);
                assert!((found - p).abs() < 2e-5, "{n} {d}: {found}");
            }
        }
    }

    // Conover (1999), Practical Nonparametric Statistics, 3rd edition, section 6.1, example 1: ten
    // values against the uniform distribution, T = 0.290, not significant at 20 %. From memory.
    #[test]
    fn the_worked_example_of_a_handbook_has_its_distance() {
        let values = [0.621, 0.503, 0.203, 0.477, 0.710, 0.581, 0.329, 0.480, 0.554, 0.382];
        let found = kolmogorov_smirnov(&values).expect("ten values");
        assert!((found.distance - 0.290).abs() < 1e-12 && found.p > 0.20, "{found:?}");
    }

    // scipy 1.17.1, stats.kstwo.sf, 2026-11-25; for n = 400, where scipy itself goes over to an
    // approximation (0.261 212 446), the same sum in whole fractions. Both: tests/outside/sizes.py.
    #[test]
    fn the_probabilities_are_those_of_scipy() {
        for (n, d, p, within) in [
            (5, 0.4, 0.308_800_000_000, 1e-9),
            (10, 0.274, 0.371_520_384_543, 1e-9),
            (28, 0.135, 0.638_542_762_374, 1e-9),
            (28, 0.32, 0.004_745_789_088, 1e-9),
            (100, 0.1, 0.252_692_757_006, 1e-9),
            (400, 0.05, 0.261_212_602_926, 1e-9),
            (1000, 0.03, 0.322_690_214_391, 1e-4),
        ] {
            let found = probability_beyond(n, d);
            assert!((found - p).abs() < within, "{n} {d}: {found}");
        }
    }

    #[test]
    fn where_the_exact_form_ends_the_limiting_one_goes_on() {
        for d in [0.04, 0.055, 0.068, 0.08] {
            let (a, b) = (1.0 - exact(EXACT_UP_TO, d), limiting(EXACT_UP_TO, d));
            assert!((a - b).abs() < 1e-4, "{d}: {a} {b}");
        }
    }

    #[test]
    fn nothing_one_value_and_equal_values_have_an_answer() {
        assert_eq!(kolmogorov_smirnov(&[]), None);
        // One value at u: the distance is the larger of u and 1 - u, its probability 2 (1 - D).
        let one = kolmogorov_smirnov(&[0.9]).expect("one value");
        assert!((one.distance - 0.9).abs() < 1e-12 && (one.p - 0.2).abs() < 1e-12, "{one:?}");
        let alike = kolmogorov_smirnov(&[0.5; 9]).expect("nine values");
        assert!((alike.distance - 0.5).abs() < 1e-12 && alike.p < 0.05);
    }
}
