//! The tolerances of the house, in one place: every comparison of lengths names one of these.

/// Largest difference in length between two seam lines that are sewn together, mm (assumed:
/// half a millimetre eases in without a pucker and is below what a pencil line is wide).
pub const SEAM_AGREEMENT_MM: f64 = 0.5;

/// Largest difference between a tube's girth on the draft and the girth after ease, mm (assumed).
pub const TUBE_GIRTH_MM: f64 = 1.0;

/// Accuracy asked of curve arc lengths and offsets, mm (assumed: a hundred times below
/// [`SEAM_AGREEMENT_MM`]).
pub const CURVE_MM: f64 = 0.005;
