//! One master draft for both hands of a person, where they are alike.

use crate::dimension::PerDimension;
use crate::model::HandEstimate;

/// Largest difference between two hands that one master serves, as a share (assumed: two readings
/// of one hand differ as much; the published left and right lengths differ by about 1 %).
pub const MASTER_TOLERANCE: f64 = 0.03;

/// The hand to draft both gloves from: in every dimension the larger of the two. `None` when one
/// dimension differs by more than `tolerance`, a share: each hand then needs its own draft.
#[must_use]
pub fn master(left: &HandEstimate, right: &HandEstimate, tolerance: f64) -> Option<HandEstimate> {
    let alike = left.iter().all(|(d, l)| {
        let r = right.mm(d);
        (l.mm - r).abs() <= tolerance * l.mm.max(r)
    });
    alike.then(|| {
        HandEstimate::new(PerDimension::from_fn(|d| {
            let (l, r) = (left.get(d), right.get(d));
            if l.mm > r.mm { l } else { r }
        }))
    })
}
