//! Fabrics: stretch test, tension curve, and the girth reduction that stays usable and gentle.

mod curve;
mod ease;
mod stretch;

pub use curve::TensionCurve;
pub(crate) use ease::PA_PER_MMHG;
pub use ease::{
    CAPILLARY_CLOSING_MMHG, Ease, PressureLimits, STRETCH_MIN, extension_of_reduction, laplace_pa,
    mmhg, reduction_of_extension,
};
pub use stretch::{
    Behaviour, Direction, LEFT_MAX, Load, Material, StretchTest, TestError, USABLE_SHARE, behaviour,
};
