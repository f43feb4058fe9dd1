//! What to draft: construction, finish, cuff, closure, ease and sewing.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::fabric::{Behaviour, PA_PER_MMHG, PressureLimits};
use crate::model::Population;

use super::Fitted;

/// Where girth is reduced or enlarged on its own.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(default)]
pub struct GirthReduction {
    /// Share taken off the girth of the palm, 0.10 is 10 %; negative adds ease.
    pub palm: f64,
    /// Share taken off the girth of the wrist, and of a long cuff.
    pub wrist: f64,
    /// Share taken off the girth of index, middle, ring and little finger.
    pub fingers: f64,
    /// Share taken off the girth of the thumb.
    pub thumb: f64,
}

impl Default for GirthReduction {
    /// Assumed for a moderate knit: fingers a good deal less than the palm, since by Laplace's law
    /// the same tension presses a finger about three times as hard as a palm.
    fn default() -> Self {
        GirthReduction { palm: 0.10, wrist: 0.10, fingers: 0.05, thumb: 0.05 }
    }
}

/// How the glove is built.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Construction {
    /// Palm and back in one outline, folded along the index side, sewn round the fingers.
    #[default]
    TwoLayer,
    /// Trank with fourchettes between the fingers.
    Fourchette,
}

/// How the fourchettes of one space between two fingers are cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Fourchettes {
    /// Two strips, sewn together at the crotch.
    #[default]
    Pairs,
    /// The same, with a small diamond set into that seam: room when the fingers spread.
    PairsWithQuirks,
    /// One piece, bent at the crotch: no seam there.
    Forks,
}

/// How far the fingers are covered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Finish {
    /// To the tip.
    #[default]
    Full,
    /// Open half way between end joint and tip.
    OpenTips,
    /// Fingerless, to the end joint (the thumb to its joint).
    ToEndJoint,
    /// Fingerless, to the middle joint (the thumb to its joint).
    ToMiddleJoint,
}

/// How the glove continues beyond the wrist.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case", tag = "shape")]
pub enum Cuff {
    /// Straight, [`GloveOptions::below_wrist_mm`] long.
    #[default]
    Wrist,
    /// Flaring to a wide opening worn over a sleeve.
    Gauntlet {
        /// Length below the wrist crease, mm.
        length_mm: f64,
        /// Girth of the opening, mm, not reduced.
        opening_girth_mm: f64,
    },
    /// Following the forearm.
    Long {
        /// Height on the forearm, from the wrist crease, mm.
        height_mm: f64,
        /// Girth of the forearm there, mm; reduced as the wrist is.
        girth_mm: f64,
        /// Girth of the forearm half way, mm, where it was taken.
        #[serde(default)]
        half_way_girth_mm: Option<f64>,
    },
}

/// How the lower edge is finished.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Bottom {
    /// A hem of [`GloveOptions::hem_mm`].
    #[default]
    Hem,
    /// Sewn to a sleeve.
    Sleeve {
        /// Flat width of the sleeve's lower edge, mm.
        flat_width_mm: f64,
    },
}

/// How the hand gets in and out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Closure {
    /// The wrist stretches.
    #[default]
    Closed,
    /// A cross slit in the palm at the wrist with two overlapping casings.
    Casings,
    /// The same, with elastic through the outer casing.
    CasingsWithElastic,
    /// The same, with a loop and a button.
    CasingsWithLoop,
}

/// Shortest length below the wrist crease of a glove with an opening there, mm (assumed: the slit
/// lies 7 mm below the crease and needs as much cloth again).
const OPENING_LENGTH_MIN_MM: f64 = 15.0;

/// What to draft.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(default)]
pub struct GloveOptions {
    /// How the glove is built.
    pub construction: Construction,
    /// How the fourchettes are cut, where there are any.
    pub fourchettes: Fourchettes,
    /// How far the fingers are covered.
    pub finish: Finish,
    /// How the glove continues beyond the wrist.
    pub cuff: Cuff,
    /// How the lower edge is finished.
    pub bottom: Bottom,
    /// How the hand gets in and out.
    pub closure: Closure,
    /// Girth reduction by zone.
    pub reduction: GirthReduction,
    /// The fabric's behaviour, where it was tested: gives the forecast its pressures.
    pub fabric: Option<Behaviour>,
    /// Largest pressures, where the fabric's tension is known: bounds the roots of the fingers, and
    /// what the forecast calls tight.
    pub limits: PressureLimits,
    /// Curve of the thumb hole: 0 the shallow one, 1 the full circle.
    pub thumb_curve: f64,
    /// Length of one stitch, mm.
    pub stitch_length_mm: f64,
    /// Stitches across the flat crotch between two fingers.
    pub crotch_stitches: u8,
    /// Seam allowance outside the seam line, mm.
    pub seam_allowance_mm: f64,
    /// Length of the glove below the wrist crease, mm, hem not counted.
    pub below_wrist_mm: f64,
    /// Hem turned up at the bottom, mm.
    pub hem_mm: f64,
    /// Extension the fabric stands without harm, 0.60 is 60 %; a tested fabric knows better.
    pub usable_extension: f64,
    /// Age of a child, years: the smallest hole a small hand passes is wider for its breadth.
    pub child_age_years: Option<u8>,
    /// What fittings change beside the reduction.
    #[serde(skip_serializing_if = "Fitted::is_nothing")]
    pub fitted: Fitted,
}

impl Default for GloveOptions {
    /// Three stitches of 2 mm, 3 mm allowances and a hem of 12 mm: common practice for home-sewn
    /// fabric gloves. Usable extension of a moderate knit: assumed.
    fn default() -> Self {
        GloveOptions {
            construction: Construction::default(),
            fourchettes: Fourchettes::default(),
            finish: Finish::default(),
            cuff: Cuff::default(),
            bottom: Bottom::default(),
            closure: Closure::default(),
            reduction: GirthReduction::default(),
            fabric: None,
            limits: PressureLimits::default(),
            thumb_curve: 0.0,
            stitch_length_mm: 2.0,
            crotch_stitches: 3,
            seam_allowance_mm: 3.0,
            below_wrist_mm: 20.0,
            hem_mm: 12.0,
            usable_extension: 0.60,
            child_age_years: None,
            fitted: Fitted::default(),
        }
    }
}

impl GloveOptions {
    /// The same options for somebody of a population: a child's age counts at the wrist.
    #[must_use]
    pub fn worn_by(self, population: Population) -> GloveOptions {
        let child_age_years = match population {
            Population::Child { age_years, .. } => Some(age_years),
            _ => None,
        };
        GloveOptions { child_age_years, ..self }
    }

    /// Width of a flat crotch, mm.
    #[must_use]
    pub fn crotch_width_mm(&self) -> f64 {
        f64::from(self.crotch_stitches) * self.stitch_length_mm
    }

    /// Extension the fabric stands: as tested, or as stated.
    #[must_use]
    pub fn usable_across(&self) -> f64 {
        self.fabric.map_or(self.usable_extension, |fabric| fabric.usable_across)
    }

    /// Extension at which the fabric reaches the fingers' pressure limit on a finger of this girth.
    pub(super) fn extension_at_limit(&self, girth_mm: f64) -> Option<f64> {
        let curve = self.fabric?.curve?;
        let pressure_pa = self.limits.fingers_mmhg * PA_PER_MMHG;
        Some(curve.extension(pressure_pa * (girth_mm / 1000.0) / (2.0 * PI)))
    }

    /// Length below the wrist crease, mm, hem not counted.
    #[must_use]
    pub fn length_below_wrist_mm(&self) -> f64 {
        match self.cuff {
            Cuff::Wrist => self.below_wrist_mm,
            Cuff::Gauntlet { length_mm, .. } => length_mm,
            Cuff::Long { height_mm, .. } => height_mm,
        }
    }

    /// Whether the wrist opens.
    #[must_use]
    pub fn opens(&self) -> bool {
        self.closure != Closure::Closed
    }

    /// Whether every option is within its bounds.
    ///
    /// # Errors
    /// The first option that is not.
    pub fn check(&self) -> Result<(), OptionError> {
        let r = self.reduction;
        let least = if self.opens() { OPENING_LENGTH_MIN_MM } else { 0.0 };
        let mut bounded = vec![
            ("palm", "Girth reduction of the palm in %", r.palm * 100.0, -30.0, 35.0),
            ("wrist", "Girth reduction of the wrist in %", r.wrist * 100.0, -30.0, 35.0),
            ("fingers", "Girth reduction of the fingers in %", r.fingers * 100.0, -30.0, 35.0),
            ("thumb", "Girth reduction of the thumb in %", r.thumb * 100.0, -30.0, 35.0),
            ("curve", "Curve of the thumb hole in %", self.thumb_curve * 100.0, 0.0, 100.0),
            ("stitch", "Stitch length in mm", self.stitch_length_mm, 0.8, 5.0),
            ("stitches", "Stitches across the crotch", f64::from(self.crotch_stitches), 1.0, 6.0),
            ("stitches", "Width of the crotch in mm", self.crotch_width_mm(), 1.5, 12.0),
            ("allowance", "Seam allowance in mm", self.seam_allowance_mm, 0.0, 10.0),
            ("hem", "Hem in mm", self.hem_mm, 0.0, 50.0),
            ("usable", "Usable extension in %", self.usable_extension * 100.0, 0.0, 300.0),
        ];
        match self.cuff {
            Cuff::Wrist => bounded.push((
                "below",
                "Length below the wrist in mm",
                self.below_wrist_mm,
                least,
                120.0,
            )),
            Cuff::Gauntlet { length_mm, opening_girth_mm } => bounded.extend([
                ("gauntlet_length", "Length of the gauntlet in mm", length_mm, 30.0, 300.0),
                (
                    "gauntlet_opening",
                    "Opening of the gauntlet in mm",
                    opening_girth_mm,
                    120.0,
                    700.0,
                ),
            ]),
            Cuff::Long { height_mm, girth_mm, half_way_girth_mm } => {
                bounded.extend([
                    ("height", "Height on the forearm in mm", height_mm, 30.0, 600.0),
                    ("forearm", "Girth of the forearm in mm", girth_mm, 80.0, 600.0),
                ]);
                bounded.extend(half_way_girth_mm.map(|girth| {
                    ("forearm_half", "Girth of the forearm half way in mm", girth, 80.0, 600.0)
                }));
            }
        }
        if let Bottom::Sleeve { flat_width_mm } = self.bottom {
            bounded.push(("sleeve", "Flat width of the sleeve in mm", flat_width_mm, 30.0, 300.0));
        }
        let outside =
            bounded.into_iter().find(|(.., value, low, high)| !(*low..=*high).contains(value));
        match outside {
            Some((option, name, value, low, high)) => {
                Err(OptionError { option, name, value: shown(value), low, high })
            }
            None => Ok(()),
        }
    }
}

/// A value as it is shown: to a hundredth.
fn shown(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// An option out of its bounds.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("{name} is {value}; it lies between {low} and {high}.")]
pub struct OptionError {
    /// Key of the option; the input of that name in forms and commands.
    pub option: &'static str,
    /// The option in words, with its unit.
    pub name: &'static str,
    /// What was asked.
    pub value: f64,
    /// The least.
    pub low: f64,
    /// The most.
    pub high: f64,
}
