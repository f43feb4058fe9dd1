//! The stretch test at the table: two marks on the cloth, a pull, and a release.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::TensionCurve;

/// Acceleration of free fall, m/s^2.
const GRAVITY: f64 = 9.81;

/// Share of the greatest extension that counts as usable (assumed: beyond it knits stiffen and
/// seams burst).
pub const USABLE_SHARE: f64 = 0.6;

/// Share of the length left after release above which a fabric is flagged.
pub const LEFT_MAX: f64 = 0.05;

/// Which way the cloth was pulled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// Along the greatest stretch; it goes round the hand.
    Greatest,
    /// Across it; it goes along the fingers.
    Crosswise,
}

/// What it was pulled with.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case", tag = "by")]
pub enum Load {
    /// A mass hung on a strip.
    Mass {
        /// The mass, g.
        mass_g: f64,
        /// Width of the strip, mm.
        strip_width_mm: f64,
    },
    /// By hand, to firm resistance; the tension is not known.
    Hand,
}

/// One pull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct StretchTest {
    /// Which way.
    pub direction: Direction,
    /// What with.
    pub load: Load,
    /// Distance of the marks before, mm (100 is usual).
    pub before_mm: f64,
    /// Distance under load, mm.
    pub loaded_mm: f64,
    /// Distance after release, mm.
    pub released_mm: f64,
}

impl StretchTest {
    /// Extension under load.
    #[must_use]
    pub fn extension(&self) -> f64 {
        self.loaded_mm / self.before_mm - 1.0
    }

    /// Share of the length that did not come back.
    #[must_use]
    pub fn left(&self) -> f64 {
        (self.released_mm / self.before_mm - 1.0).max(0.0)
    }

    /// Tension, N/m, where the load is known: `T = 9.81 m / w`.
    #[must_use]
    pub fn tension_n_per_m(&self) -> Option<f64> {
        match self.load {
            Load::Mass { mass_g, strip_width_mm } => Some(GRAVITY * mass_g / strip_width_mm),
            Load::Hand => None,
        }
    }

    /// Whether the pull is possible.
    ///
    /// # Errors
    /// [`TestError`] for the first length or load that is not.
    pub fn check(&self) -> Result<(), TestError> {
        if !(20.0..=1000.0).contains(&self.before_mm) {
            return Err(TestError::Before(self.before_mm));
        }
        if !(self.before_mm..=self.before_mm * 4.0).contains(&self.loaded_mm) {
            return Err(TestError::Loaded(self.before_mm, self.loaded_mm));
        }
        if !(self.before_mm * 0.95..=self.loaded_mm.max(self.before_mm)).contains(&self.released_mm)
        {
            return Err(TestError::Released(self.loaded_mm, self.released_mm));
        }
        if let Load::Mass { mass_g, strip_width_mm } = self.load {
            if !(1.0..=20_000.0).contains(&mass_g) {
                return Err(TestError::Mass(mass_g));
            }
            if !(5.0..=500.0).contains(&strip_width_mm) {
                return Err(TestError::Strip(strip_width_mm));
            }
        }
        Ok(())
    }
}

/// Why a test was not accepted.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum TestError {
    /// No pull along the greatest stretch.
    #[error("No pull along the greatest stretch: mark 100 mm, pull, and read the length.")]
    Missing,
    /// Distance of the marks out of bounds.
    #[error("The marks are {0} mm apart before the pull; take 20 to 1000 mm, 100 is usual.")]
    Before(f64),
    /// Shorter under load, or impossibly long.
    #[error("Under load the marks are {1} mm apart, {0} mm before: measure again.")]
    Loaded(f64, f64),
    /// Longer after release than under load.
    #[error("After release the marks are {1} mm apart, {0} mm under load: measure again.")]
    Released(f64, f64),
    /// Mass out of bounds.
    #[error("A mass of {0} g is out of bounds: hang 1 g to 20 kg on the strip.")]
    Mass(f64),
    /// Width of the strip out of bounds.
    #[error("A strip {0} mm wide is out of bounds: 5 to 500 mm, 50 is usual.")]
    Strip(f64),
}

impl TestError {
    /// Stable code.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            TestError::Missing => "stretch_test_missing",
            TestError::Before(_) => "stretch_test_before",
            TestError::Loaded(..) => "stretch_test_loaded",
            TestError::Released(..) => "stretch_test_released",
            TestError::Mass(_) => "stretch_test_mass",
            TestError::Strip(_) => "stretch_test_strip",
        }
    }
}

/// How a fabric behaves in a glove.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Behaviour {
    /// Tension along the greatest stretch, where a load was stated.
    pub curve: Option<TensionCurve>,
    /// Usable extension round the hand.
    pub usable_across: f64,
    /// Usable extension along the fingers; 0 where that direction was not pulled.
    pub usable_along: f64,
    /// Largest share of length left after a pull.
    pub left: f64,
}

impl Behaviour {
    /// Whether the fabric does not come back well enough.
    #[must_use]
    pub fn is_tired(&self) -> bool {
        self.left > LEFT_MAX
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pull(loaded_mm: f64, released_mm: f64, mass_g: f64) -> StretchTest {
        StretchTest {
            direction: Direction::Greatest,
            load: Load::Mass { mass_g, strip_width_mm: 50.0 },
            before_mm: 100.0,
            loaded_mm,
            released_mm,
        }
    }

    /// Arithmetic of the test: 100 g on 50 mm is 19.6 N/m.
    #[test]
    fn a_mass_on_a_strip_is_a_tension() {
        let tension = pull(110.0, 100.0, 100.0).tension_n_per_m().expect("a mass");
        assert!((tension - 19.62).abs() < 0.005);
    }

    #[test]
    fn impossible_pulls_are_refused() {
        let narrow = Load::Mass { mass_g: 100.0, strip_width_mm: 0.0 };
        for (test, code) in [
            (pull(90.0, 90.0, 100.0), "stretch_test_loaded"),
            (pull(401.0, 100.0, 100.0), "stretch_test_loaded"),
            (pull(120.0, 130.0, 100.0), "stretch_test_released"),
            (pull(120.0, 94.0, 100.0), "stretch_test_released"),
            (pull(120.0, 100.0, 0.0), "stretch_test_mass"),
            (StretchTest { load: narrow, ..pull(120.0, 100.0, 1.0) }, "stretch_test_strip"),
            (StretchTest { before_mm: 0.0, ..pull(120.0, 100.0, 9.0) }, "stretch_test_before"),
            (pull(f64::NAN, 100.0, 100.0), "stretch_test_loaded"),
        ] {
            assert_eq!(test.check().expect_err(code).code(), code);
        }
        assert_eq!(pull(100.0, 100.0, 1.0).check(), Ok(()));
    }
}
