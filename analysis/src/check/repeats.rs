//! Repeated readings that disagree by more than the measuring error.

use super::words::tenth;
use super::{Flag, FlagKind, Phrase};
use crate::hand::{HOME_ERROR, Hands, Side};

/// Critical range of `n` standard normal readings, exceeded by one clean set in a thousand: the
/// upper 0.1 % points of the studentised range with infinite degrees of freedom (Harter 1960,
/// Annals of Mathematical Statistics 31, 1122-1147, table for infinite degrees of freedom).
pub(super) const CRITICAL_RANGE: [f64; 9] =
    [4.654, 5.063, 5.309, 5.484, 5.619, 5.730, 5.823, 5.903, 5.973];

/// Flags of every dimension whose repeats spread too far.
pub(crate) fn flags(hands: &Hands) -> Vec<Flag> {
    let mut flags = Vec::new();
    for side in Side::BOTH {
        for (dimension, summary) in hands.side(side).iter() {
            let Some(s) = summary.filter(|s| s.count > 1) else { continue };
            let critical =
                CRITICAL_RANGE.get(s.count - 2).or(CRITICAL_RANGE.last()).copied().unwrap_or(6.0);
            let own = if s.is_home { HOME_ERROR } else { 1.0 };
            let error = own * dimension.measuring_error_mm();
            if s.spread_mm <= critical * error {
                continue;
            }
            flags.push(Flag {
                kind: FlagKind::RepeatsDisagree,
                side: Some(side),
                dimension: Some(dimension),
                says: vec![Phrase::Repeats {
                    dimension,
                    count: s.count,
                    apart: tenth(s.spread_mm),
                    usual: (critical * error).floor(),
                }],
                repairs: Vec::new(),
            });
        }
    }
    flags
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dimension::Dimension;

    #[test]
    fn two_readings_beyond_the_critical_range_ask_for_a_third() {
        let d = Dimension::MiddleLength;
        let limit = 4.654 * d.measuring_error_mm();
        let count = |apart: f64| {
            let readings = [(Side::Left, d, 80.0), (Side::Left, d, 80.0 + apart)];
            flags(&Hands::from_readings(&readings)).len()
        };
        assert_eq!(count(limit - 0.01), 0);
        assert_eq!(count(limit + 0.01), 1);
    }
}
