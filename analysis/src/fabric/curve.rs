//! Tension of a stretched fabric for each metre of its width.

use serde::{Deserialize, Serialize};

/// Exponent of Wood's law for vulcanised rubber (Wood 1977).
const WOOD_A: f64 = 0.38;

/// Tension as a function of extension.
///
/// Nylon and elastane knits are nearly linear up to 100 % (Wang, Felder and Cai 2011). Rubber sheet
/// follows Wood 1977, `T = M (1/L - 1/L^2) exp(A (L - 1/L))` with `L = 1 + e`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case", tag = "law")]
pub enum TensionCurve {
    /// `T = stiffness e`.
    Linear {
        /// N/m at an extension of 1 (100 %).
        stiffness_n_per_m: f64,
    },
    /// Wood's law.
    Rubber {
        /// The modulus M, N/m.
        modulus_n_per_m: f64,
    },
}

fn wood(extension: f64) -> f64 {
    let l = 1.0 + extension;
    (1.0 / l - 1.0 / (l * l)) * (WOOD_A * (l - 1.0 / l)).exp()
}

impl TensionCurve {
    /// A linear curve through the points `(extension, N/m)`, by least squares through the origin.
    /// `None` without a point of positive extension.
    #[must_use]
    pub fn linear(points: &[(f64, f64)]) -> Option<TensionCurve> {
        scale(points, |e| e).map(|stiffness_n_per_m| TensionCurve::Linear { stiffness_n_per_m })
    }

    /// Wood's law through the points `(extension, N/m)`, by least squares.
    #[must_use]
    pub fn rubber(points: &[(f64, f64)]) -> Option<TensionCurve> {
        scale(points, wood).map(|modulus_n_per_m| TensionCurve::Rubber { modulus_n_per_m })
    }

    /// Tension at an extension, N/m; nothing where the fabric is slack.
    #[must_use]
    pub fn tension_n_per_m(&self, extension: f64) -> f64 {
        let e = extension.max(0.0);
        match self {
            TensionCurve::Linear { stiffness_n_per_m } => stiffness_n_per_m * e,
            TensionCurve::Rubber { modulus_n_per_m } => modulus_n_per_m * wood(e),
        }
    }

    /// Extension under a tension, up to 300 %, to a ten-thousandth. Both laws grow steadily.
    #[must_use]
    pub fn extension(&self, tension_n_per_m: f64) -> f64 {
        let (mut low, mut high) = (0.0, 3.0);
        for _ in 0..16 {
            let middle = f64::midpoint(low, high);
            if self.tension_n_per_m(middle) < tension_n_per_m {
                low = middle
            } else {
                high = middle
            }
        }
        low
    }
}

fn scale(points: &[(f64, f64)], shape: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut xy, mut xx) = (0.0, 0.0);
    for (extension, tension) in points {
        let x = shape(*extension);
        xy += x * tension;
        xx += x * x;
    }
    (xx > 0.0 && xy > 0.0).then(|| xy / xx)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of Wood 1977 for F/M at L = 1.10, 1.25 and 2.00.
    #[test]
    fn rubber_follows_the_published_values_of_woods_law() {
        let rubber = TensionCurve::Rubber { modulus_n_per_m: 1.0 };
        for (l, expected, digit) in [(1.10, 0.0889, 5e-5), (1.25, 0.190, 5e-4), (2.00, 0.442, 5e-4)]
        {
            let tension = rubber.tension_n_per_m(l - 1.0);
            assert!((tension - expected).abs() <= digit, "L {l}: {tension}");
        }
    }

    /// Wood 1977: M is the modulus at small strain, so the law leaves the origin with slope M; and it
    /// lies under that line as far as gloves stretch.
    #[test]
    fn rubber_starts_with_its_modulus_and_then_softens() {
        let rubber = TensionCurve::Rubber { modulus_n_per_m: 400.0 };
        let slope = rubber.tension_n_per_m(1e-6) / 1e-6;
        assert!((slope - 400.0).abs() < 0.01, "{slope}");
        for e in [0.05, 0.2, 0.5, 1.0] {
            assert!(rubber.tension_n_per_m(e) < 400.0 * e);
        }
    }

    #[test]
    fn extension_inverts_tension() {
        for curve in [
            TensionCurve::Linear { stiffness_n_per_m: 180.0 },
            TensionCurve::Rubber { modulus_n_per_m: 400.0 },
        ] {
            for e in [0.0, 0.05, 0.2, 0.8] {
                assert!((curve.extension(curve.tension_n_per_m(e)) - e).abs() < 1e-4);
            }
        }
    }

    #[test]
    fn a_curve_needs_a_point_that_stretches() {
        assert_eq!(TensionCurve::linear(&[]), None);
        assert_eq!(TensionCurve::linear(&[(0.0, 10.0)]), None);
        let curve = TensionCurve::linear(&[(0.5, 98.1)]).expect("one point is enough");
        assert!((curve.tension_n_per_m(0.25) - 49.05).abs() < 1e-9);
    }
}
