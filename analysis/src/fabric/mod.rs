//! Fabrics: stretch test, tension curve, and the girth reduction that stays usable and gentle.

mod curve;
mod ease;
mod facts;
mod stretch;

pub use curve::TensionCurve;
pub(crate) use ease::PA_PER_MMHG;
pub use ease::{
    CAPILLARY_CLOSING_MMHG, Ease, EaseRemark, EaseZone, LIMITS_MMHG, PressureLimits, STRETCH_MIN,
    ZoneEase, extension_of_reduction, laplace_pa, mmhg, reduction_of_extension,
};
pub use facts::{FabricFacts, Latex, Material};
pub use stretch::{Behaviour, Direction, LEFT_MAX, Load, StretchTest, TestError, USABLE_SHARE};
