//! A prediction on the log scale: one normal distribution, or two with weights.

use std::sync::OnceLock;

use statrs::distribution::{ContinuousCDF, Normal};

use super::{Basis, Estimate};

/// Ends of a 90 % interval in standard normal quantiles: +-1.6449.
pub(super) const NINE_IN_TEN: (f64, f64) = (0.05, 0.95);
/// The upper of them.
pub(super) fn nine_in_ten() -> f64 {
    static Z: OnceLock<f64> = OnceLock::new();
    *Z.get_or_init(|| Normal::standard().inverse_cdf(NINE_IN_TEN.1))
}
/// A component lighter than this moves no quantile by a tenth of a millimetre.
pub(crate) const NEGLIGIBLE: f64 = 1e-6;
/// Last step of the search for a quantile of a mixture, on the log scale: the phone and the server then
/// agree far below a millionth of a millimetre.
pub(super) const ACCURACY: f64 = 1e-10;

/// Weighted normal distributions of a log value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Predictive {
    parts: [Part; 2],
    count: usize,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Part {
    pub weight: f64,
    pub mean: f64,
    pub sd: f64,
}

impl Predictive {
    /// From one or two parts; weights need not add up to one.
    pub fn new(parts: &[Part]) -> Predictive {
        let total: f64 = parts.iter().map(|p| p.weight).sum();
        let mut out = [Part { weight: 0.0, mean: 0.0, sd: 1.0 }; 2];
        let mut count = 0;
        for part in parts.iter().take(2) {
            let weight = if total > 0.0 { part.weight / total } else { 0.5 };
            if weight > NEGLIGIBLE || parts.len() == 1 {
                out[count] = Part { weight, ..*part };
                count += 1;
            }
        }
        Predictive { parts: out, count }
    }

    /// The same with this much more variance.
    pub fn widened(mut self, variance: f64) -> Predictive {
        for part in &mut self.parts {
            part.sd = (part.sd * part.sd + variance).sqrt();
        }
        self
    }

    fn parts(&self) -> impl Iterator<Item = (&Part, Normal)> {
        self.parts[..self.count]
            .iter()
            .filter_map(|p| Normal::new(p.mean, p.sd.max(f64::MIN_POSITIVE)).ok().map(|n| (p, n)))
    }

    /// Probability of a log value at or below `x`.
    pub fn cdf(&self, x: f64) -> f64 {
        self.parts().map(|(p, n)| p.weight * n.cdf(x)).sum()
    }

    /// Probability of a value at least as far out on its own side, doubled.
    pub fn tail(&self, x: f64) -> f64 {
        let below = self.cdf(x);
        let above: f64 = self.parts().map(|(p, n)| p.weight * n.sf(x)).sum();
        (2.0 * below.min(above)).min(1.0)
    }

    /// Log value below which the probability is `p`; `z` is the standard normal quantile of `p`. Of
    /// several parts by Newton's method from the quantile of the normal distribution with the same
    /// mean and variance, kept between the quantiles of the parts.
    pub fn quantile(&self, p: f64, z: f64) -> f64 {
        let parts = &self.parts[..self.count];
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for part in parts {
            let x = part.mean + z * part.sd;
            low = low.min(x);
            high = high.max(x);
        }
        let mean: f64 = parts.iter().map(|part| part.weight * part.mean).sum();
        let variance: f64 = parts
            .iter()
            .map(|part| part.weight * (part.sd.powi(2) + (part.mean - mean).powi(2)))
            .sum();
        let mut x = (mean + z * variance.sqrt()).clamp(low, high);
        while high - low > ACCURACY {
            let above = self.cdf(x) - p;
            if above < 0.0 {
                low = x;
            } else {
                high = x;
            }
            let newton = x - above / self.density(x);
            let next =
                if newton > low && newton < high { newton } else { f64::midpoint(low, high) };
            let moved = (next - x).abs();
            x = next;
            if moved < ACCURACY {
                break;
            }
        }
        x
    }

    fn density(&self, x: f64) -> f64 {
        let of = |part: &Part| {
            let u = (x - part.mean) / part.sd;
            part.weight / part.sd * (-0.5 * u * u).exp()
        };
        self.parts[..self.count].iter().map(of).sum::<f64>() / (2.0 * std::f64::consts::PI).sqrt()
    }

    /// Median and 90 % interval in mm.
    pub fn estimate(&self, basis: Basis) -> Estimate {
        let z = nine_in_ten();
        Estimate {
            mm: self.quantile(0.5, 0.0).exp(),
            low_mm: self.quantile(NINE_IN_TEN.0, -z).exp(),
            high_mm: self.quantile(NINE_IN_TEN.1, z).exp(),
            basis,
        }
    }
}

/// Logarithm of a sum of exponentials.
pub(crate) fn ln_sum_exp(terms: &[f64]) -> f64 {
    let largest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if largest == f64::NEG_INFINITY {
        return largest;
    }
    largest + terms.iter().map(|t| (t - largest).exp()).sum::<f64>().ln()
}
