//! The one line of a forecast: what will feel tight or loose, and what to change.

use std::fmt;

use super::GloveOptions;
use super::forecast::{Digit, Feel, FitForecast, Zone, ZoneFit};

/// Stand-off above which a crotch is called high, mm (assumed).
const STAND_OFF_HIGH_MM: f64 = 14.0;

/// Extension below which a zone is called loose (assumed: leather gloves have about half as much
/// ease).
const LOOSE_EXTENSION: f64 = -0.08;

/// In one line: what will feel tight or loose, and what to change.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Advice {
    /// A zone is tight: take less off, or choose a softer fabric.
    Tight {
        /// Where.
        zone: Zone,
        /// Extension of the fabric there.
        extension: f64,
    },
    /// A zone is loose: take more off.
    Loose {
        /// Where.
        zone: Zone,
        /// By which share the glove is wider than the hand.
        wider: f64,
    },
    /// A crotch stands high: take more off the fingers, or draft fourchettes.
    HighCrotch {
        /// Finger on the thumb side.
        near: Digit,
        /// Finger on the little-finger side.
        far: Digit,
        /// How high.
        stand_off_mm: f64,
    },
    /// Nothing to change.
    Even {
        /// The zone that is stretched most.
        zone: Zone,
        /// How it will feel.
        feel: Feel,
        /// Extension of the fabric there.
        extension: f64,
    },
    /// No zone is known.
    #[default]
    Nothing,
}

impl fmt::Display for Advice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |share: &f64| share * 100.0;
        match self {
            Advice::Tight { zone, extension } => write!(
                f,
                "Tight at the {zone}: {:.0} % stretch. Take less off there, or choose a softer fabric.",
                percent(extension)
            ),
            Advice::Loose { zone, wider } => write!(
                f,
                "Loose at the {zone}: {:.0} % wider than the hand. Take more off there.",
                percent(wider)
            ),
            Advice::HighCrotch { near, far, stand_off_mm } => write!(
                f,
                "The crotch between {} and {} stands {stand_off_mm:.0} mm off the web. Take more off the fingers, or draft fourchettes.",
                near.name(),
                far.name()
            ),
            Advice::Even { zone, feel, extension } => write!(
                f,
                "Even: {} at most, at the {zone} ({:.0} % stretch).",
                feel.name(),
                percent(extension)
            ),
            Advice::Nothing => Ok(()),
        }
    }
}

/// What to change first.
pub(super) fn advise(forecast: &FitForecast, options: &GloveOptions) -> Advice {
    let usable = options.usable_across();
    let worst = forecast.zones.iter().max_by(|a, b| {
        let rank = |fit: &ZoneFit| (fit.feel(usable), fit.extension());
        let (a, b) = (rank(a), rank(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let loosest = forecast.zones.iter().min_by(|a, b| a.extension().total_cmp(&b.extension()));
    let high = forecast.crotches.iter().max_by(|a, b| a.stand_off_mm.total_cmp(&b.stand_off_mm));
    match (worst, loosest, high) {
        (Some(fit), ..) if fit.feel(usable) == Feel::Tight => {
            Advice::Tight { zone: fit.zone, extension: fit.extension() }
        }
        (_, Some(fit), _) if fit.extension() < LOOSE_EXTENSION => {
            Advice::Loose { zone: fit.zone, wider: -fit.extension() }
        }
        (.., Some(crotch)) if crotch.stand_off_mm > STAND_OFF_HIGH_MM => Advice::HighCrotch {
            near: crotch.near,
            far: crotch.far,
            stand_off_mm: crotch.stand_off_mm,
        },
        (Some(fit), ..) => {
            Advice::Even { zone: fit.zone, feel: fit.feel(usable), extension: fit.extension() }
        }
        _ => Advice::Nothing,
    }
}
