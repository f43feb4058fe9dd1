//! What the cutter should know of a draft, beside its forecast.

use std::fmt;

use super::forecast::Zone;

/// One thing the cutter should know of a draft. Shares are of one: 0.2 is 20 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Remark {
    /// A closed wrist must stretch further than the fabric stands for the hand to pass.
    WristTooNarrow {
        /// Extension for the hand to pass.
        needed: f64,
        /// Extension the fabric stands.
        usable: f64,
    },
    /// A zone is stretched further than the fabric stands.
    OverStretched {
        /// Where.
        zone: Zone,
        /// Extension when worn.
        extension: f64,
        /// Extension the fabric stands.
        usable: f64,
    },
    /// The fabric does not recover.
    Tired,
    /// Fingers are longer than bare, because the fabric stretches too little along them.
    LengthReserve {
        /// How much longer.
        reserve: f64,
    },
    /// Fewer stitches across a crotch than asked for.
    FewerStitches {
        /// Stitches asked for.
        asked: u8,
        /// Stitches drafted.
        drafted: u8,
    },
    /// One of glove and sleeve is eased into the other.
    Eased {
        /// Whether the glove is the wider one.
        is_glove_wider: bool,
        /// By how much round, mm.
        by_mm: f64,
    },
    /// Glove and sleeve differ by more than can be eased in.
    TooMuchToEase {
        /// Whether the glove is the wider one.
        is_glove_wider: bool,
        /// By how much round, mm.
        by_mm: f64,
    },
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |share: f64| share * 100.0;
        let parts = |is_glove_wider: bool| {
            if is_glove_wider { ("glove", "sleeve") } else { ("sleeve", "glove") }
        };
        match *self {
            Remark::WristTooNarrow { needed, usable } => write!(
                f,
                "The closed wrist must stretch {:.0} % for the hand to pass, and the fabric stands {:.0} %: draft an opening at the wrist.",
                percent(needed),
                percent(usable)
            ),
            Remark::OverStretched { zone, extension, usable } => write!(
                f,
                "Stretched {:.0} % when worn at the {zone}, and the fabric stands {:.0} %.",
                percent(extension),
                percent(usable)
            ),
            Remark::Tired => {
                write!(f, "The fabric does not come back after a pull: the glove will bag.")
            }
            Remark::LengthReserve { reserve } => write!(
                f,
                "The fabric stretches too little along the fingers for the bent hand: fingers are {:.0} % longer than bare.",
                percent(reserve)
            ),
            Remark::FewerStitches { asked, drafted } => write!(
                f,
                "The fingers find no room with {asked} stitches across a crotch: it is drafted with {drafted}."
            ),
            Remark::Eased { is_glove_wider, by_mm } => {
                let (wide, narrow) = parts(is_glove_wider);
                write!(f, "Ease {by_mm:.0} mm of the {wide} into the {narrow}.")
            }
            Remark::TooMuchToEase { is_glove_wider, by_mm } => {
                let (wide, narrow) = parts(is_glove_wider);
                write!(
                    f,
                    "The {wide} is {by_mm:.0} mm longer round than the {narrow}: too much to ease in. Lengthen the glove below the wrist, or take the sleeve in."
                )
            }
        }
    }
}
