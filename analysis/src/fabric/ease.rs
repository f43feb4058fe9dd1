//! From a fabric's behaviour to the girth reduction of each zone.
//!
//! Too tight a glove stops the blood. The limits here are assumptions, below what scar garments aim
//! at; a workshop may lower them. Pain, tingling, numbness or a change of colour: take it off.

use std::f64::consts::PI;
use std::fmt;
use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};

use crate::dimension::Dimension as D;
use crate::draft::GirthReduction;
use crate::model::HandEstimate;

use super::Behaviour;

/// Usable extension below which a fabric is drafted with positive ease (assumed).
pub const STRETCH_MIN: f64 = 0.06;

/// Share of the usable extension worn at palm and wrist, and at fingers and thumb (assumed: a
/// moderate knit of 30 % usable extension then gets the customary 10 and 5 % reduction).
const WORN_SHARE_PALM: f64 = 0.36;
const WORN_SHARE_FINGERS: f64 = 0.18;

/// Largest reduction of any zone: 20 % harms dexterity and comfort, 10 and 15 % were borne
/// (Yu et al. 2015).
const REDUCTION_MAX: f64 = 0.15;

/// Positive ease of cloth that does not stretch, as a negative reduction (assumed).
const EASE_PALM: f64 = -0.04;
const EASE_FINGERS: f64 = -0.05;

/// Pascals in a millimetre of mercury.
pub(crate) const PA_PER_MMHG: f64 = 133.322;

/// Pressure at which capillaries are commonly taken to close, mmHg (Landis 1930).
pub const CAPILLARY_CLOSING_MMHG: f64 = 32.0;

/// Limits a workshop may set, mmHg (assumed: never beyond what scar garments aim at).
pub const LIMITS_MMHG: RangeInclusive<f64> = 1.0..=25.0;

/// Pressure of a tube of girth C under tension T, `P = 2 pi T / C` (Laplace), Pa.
#[must_use]
pub fn laplace_pa(tension_n_per_m: f64, girth_mm: f64) -> f64 {
    2.0 * PI * tension_n_per_m / (girth_mm / 1000.0)
}

/// A pressure in mmHg.
#[must_use]
pub fn mmhg(pa: f64) -> f64 {
    pa / PA_PER_MMHG
}

/// Extension of a fabric whose girth was reduced by a share r: `r / (1 - r)`.
#[must_use]
pub fn extension_of_reduction(reduction: f64) -> f64 {
    reduction / (1.0 - reduction)
}

/// Reduction that gives an extension e: `e / (1 + e)`.
#[must_use]
pub fn reduction_of_extension(extension: f64) -> f64 {
    extension / (1.0 + extension)
}

/// Largest pressure by zone, mmHg.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(default)]
pub struct PressureLimits {
    /// Round the palm.
    pub palm_mmhg: f64,
    /// Round the wrist.
    pub wrist_mmhg: f64,
    /// Round a finger.
    pub fingers_mmhg: f64,
    /// Round the thumb.
    pub thumb_mmhg: f64,
}

impl Default for PressureLimits {
    /// Assumed. No published comfort limit for a healthy finger was found; scar garments aim at 15
    /// to 25 mmHg, so a costume stays well below.
    fn default() -> Self {
        PressureLimits { palm_mmhg: 12.0, wrist_mmhg: 12.0, fingers_mmhg: 12.0, thumb_mmhg: 12.0 }
    }
}

/// A zone that has its own ease.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum EaseZone {
    /// Round the palm.
    Palm,
    /// Round the wrist.
    Wrist,
    /// Round a finger; of the four the slimmest end joint decides.
    Fingers,
    /// Round the joint of the thumb.
    Thumb,
}

impl EaseZone {
    /// Every zone.
    pub const ALL: [EaseZone; 4] =
        [EaseZone::Palm, EaseZone::Wrist, EaseZone::Fingers, EaseZone::Thumb];

    /// Stable key.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            EaseZone::Palm => "palm",
            EaseZone::Wrist => "wrist",
            EaseZone::Fingers => "fingers",
            EaseZone::Thumb => "thumb",
        }
    }

    /// Girth that decides, mm.
    fn girth_mm(self, hand: &HandEstimate) -> f64 {
        match self {
            EaseZone::Palm => hand.mm(D::HandGirth),
            EaseZone::Wrist => hand.mm(D::WristGirth),
            EaseZone::Thumb => hand.mm(D::ThumbKnuckleGirth),
            EaseZone::Fingers => {
                [D::IndexTipGirth, D::MiddleTipGirth, D::RingTipGirth, D::LittleTipGirth]
                    .into_iter()
                    .map(|d| hand.mm(d))
                    .fold(f64::INFINITY, f64::min)
            }
        }
    }

    fn worn_share(self) -> f64 {
        match self {
            EaseZone::Palm | EaseZone::Wrist => WORN_SHARE_PALM,
            EaseZone::Fingers | EaseZone::Thumb => WORN_SHARE_FINGERS,
        }
    }
}

impl PressureLimits {
    /// The limit of a zone, mmHg.
    #[must_use]
    pub fn of(&self, zone: EaseZone) -> f64 {
        match zone {
            EaseZone::Palm => self.palm_mmhg,
            EaseZone::Wrist => self.wrist_mmhg,
            EaseZone::Fingers => self.fingers_mmhg,
            EaseZone::Thumb => self.thumb_mmhg,
        }
    }
}

/// Ease of one zone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct ZoneEase {
    /// Which zone.
    pub zone: EaseZone,
    /// Girth of the hand that decides, mm.
    pub girth_mm: f64,
    /// Share taken off the girth, in whole tenths of a percent; negative where it is added.
    pub reduction: f64,
    /// Extension of the fabric when worn.
    pub extension: f64,
    /// Tension then, N/m, where it is known.
    pub tension_n_per_m: Option<f64>,
    /// Pressure then by Laplace's law, mmHg, where the tension is known.
    pub pressure_mmhg: Option<f64>,
    /// Largest pressure, mmHg.
    pub limit_mmhg: f64,
    /// Whether the limit, and not the fabric, decided.
    pub is_limited: bool,
}

/// What the cutter should know about the ease.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case", tag = "code")]
pub enum EaseRemark {
    /// The fabric does not come back.
    Tired {
        /// Share of the length left after one pull, percent.
        left_percent: f64,
    },
    /// Ease instead of reduction; fourchettes and an opening serve better.
    Rigid,
    /// The tension, and so the pressure, is not known.
    PulledByHand,
    /// A zone is reduced less, since pressure would pass its limit.
    Limited {
        /// Which.
        zone: EaseZone,
        /// Its limit.
        limit_mmhg: f64,
    },
}

impl fmt::Display for EaseRemark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EaseRemark::Tired { left_percent } => write!(
                f,
                "The fabric keeps {left_percent} % of its stretch after one pull: it will bag. Choose another, or draft tighter and replace soon."
            ),
            EaseRemark::Rigid => f.write_str(
                "The fabric hardly stretches: drafted with ease instead of reduction. A glove with fourchettes and an opening at the wrist serves better.",
            ),
            EaseRemark::PulledByHand => f.write_str(
                "The fabric was pulled by hand: its tension is not known, and neither is the pressure on the hand.",
            ),
            EaseRemark::Limited { zone, limit_mmhg } => write!(
                f,
                "{}: reduced less, since pressure would pass {limit_mmhg} mmHg.",
                zone.key()
            ),
        }
    }
}

/// Girth reduction by zone, and what decided it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Ease {
    /// Palm, wrist, fingers, thumb.
    pub zones: [ZoneEase; 4],
    /// What the cutter should know.
    pub remarks: Vec<EaseRemark>,
}

impl Ease {
    /// The reduction as the draft takes it.
    #[must_use]
    pub fn reduction(&self) -> GirthReduction {
        let [palm, wrist, fingers, thumb] = self.zones.map(|zone| zone.reduction);
        GirthReduction { palm, wrist, fingers, thumb }
    }

    /// In each zone the gentler of two: what serves two hands.
    #[must_use]
    pub fn gentler(self, other: Ease) -> Ease {
        let mut zones = self.zones;
        for (mine, others) in zones.iter_mut().zip(other.zones) {
            if others.reduction < mine.reduction {
                *mine = others;
            }
        }
        let mut remarks = self.remarks;
        remarks.extend(
            other
                .remarks
                .into_iter()
                .filter(|remark| !remarks.contains(remark))
                .collect::<Vec<_>>(),
        );
        Ease { zones, remarks }
    }

    /// Ease of cloth that does not stretch: the glove is wider than the hand.
    pub(super) fn rigid(hand: &HandEstimate, fabric: &Behaviour, limits: &PressureLimits) -> Ease {
        let zones = EaseZone::ALL.map(|zone| {
            let reduction = match zone {
                EaseZone::Palm | EaseZone::Wrist => EASE_PALM,
                EaseZone::Fingers | EaseZone::Thumb => EASE_FINGERS,
            };
            ZoneEase::of(zone, hand, reduction, fabric, limits)
        });
        let mut remarks = fabric.tiredness();
        remarks.push(EaseRemark::Rigid);
        Ease { zones, remarks }
    }
}

impl ZoneEase {
    fn of(
        zone: EaseZone,
        hand: &HandEstimate,
        reduction: f64,
        fabric: &Behaviour,
        limits: &PressureLimits,
    ) -> ZoneEase {
        let (girth_mm, extension) = (zone.girth_mm(hand), extension_of_reduction(reduction));
        let tension = fabric.curve.map(|curve| curve.tension_n_per_m(extension));
        ZoneEase {
            zone,
            girth_mm,
            reduction,
            extension,
            tension_n_per_m: tension,
            pressure_mmhg: tension.map(|tension| mmhg(laplace_pa(tension, girth_mm))),
            limit_mmhg: limits.of(zone),
            is_limited: false,
        }
    }
}

impl Behaviour {
    /// Girth reduction for one hand: the worn share of the usable extension, or less where the
    /// pressure would pass its limit, down to whole tenths of a percent.
    #[must_use]
    pub fn ease(&self, hand: &HandEstimate, limits: &PressureLimits) -> Ease {
        if self.usable_across < STRETCH_MIN {
            return Ease::rigid(hand, self, limits);
        }
        let mut remarks = self.tiredness();
        if self.curve.is_none() {
            remarks.push(EaseRemark::PulledByHand);
        }
        let zones = EaseZone::ALL.map(|zone| {
            let wanted = zone.worn_share() * self.usable_across;
            let limit_mmhg = limits.of(zone);
            let gentle = self.curve.map_or(wanted, |curve| {
                let girth = zone.girth_mm(hand) / 1000.0;
                curve.extension(limit_mmhg * PA_PER_MMHG * girth / (2.0 * PI))
            });
            let is_limited = gentle < wanted;
            if is_limited {
                remarks.push(EaseRemark::Limited { zone, limit_mmhg });
            }
            let reduction = reduction_of_extension(wanted.min(gentle)).min(REDUCTION_MAX);
            let reduction = (reduction * 1000.0).floor() / 10.0 / 100.0;
            ZoneEase { is_limited, ..ZoneEase::of(zone, hand, reduction, self, limits) }
        });
        Ease { zones, remarks }
    }

    fn tiredness(&self) -> Vec<EaseRemark> {
        let left_percent = (self.left * 100.0).round();
        if self.is_tired() { vec![EaseRemark::Tired { left_percent }] } else { Vec::new() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dimension::PerDimension;
    use crate::fabric::TensionCurve;
    use crate::model::{Basis, Estimate};

    fn hand() -> HandEstimate {
        HandEstimate::new(PerDimension::from_fn(|d| {
            let mm = match d {
                D::HandGirth => 186.5,
                D::WristGirth => 151.4,
                D::ThumbKnuckleGirth => 63.0,
                _ => 42.5,
            };
            Estimate { mm, low_mm: mm, high_mm: mm, basis: Basis::Measured }
        }))
    }

    fn fabric(stiffness: f64, usable: f64) -> Behaviour {
        Behaviour {
            curve: Some(TensionCurve::Linear { stiffness_n_per_m: stiffness }),
            usable_across: usable,
            usable_along: usable,
            left: 0.01,
        }
    }

    /// Laplace by hand: 100 N/m is 23.6 mmHg on a girth of 200 mm and 78.5 mmHg on one of 60 mm.
    #[test]
    fn laplace_gives_the_worked_pressures() {
        assert!((mmhg(laplace_pa(100.0, 200.0)) - 23.6).abs() < 0.05);
        assert!((mmhg(laplace_pa(100.0, 60.0)) - 78.5).abs() < 0.05);
    }

    /// Reduction to extension: 10 % is 11.1 %, 15 % is 17.6 %, 20 % is 25 %.
    #[test]
    fn reduction_and_extension_convert_as_in_the_worked_figures() {
        for (r, e) in [(0.10, 0.111), (0.15, 0.176), (0.20, 0.250)] {
            assert!((extension_of_reduction(r) - e).abs() < 5e-4);
            assert!((reduction_of_extension(extension_of_reduction(r)) - r).abs() < 1e-12);
        }
    }

    #[test]
    fn a_moderate_knit_gets_about_ten_and_five_per_cent() {
        let ease = fabric(188.0, 0.31).ease(&hand(), &PressureLimits::default());
        assert!((ease.reduction().palm - 0.10).abs() < 0.005, "{ease:?}");
        assert!((ease.reduction().fingers - 0.05).abs() < 0.005, "{ease:?}");
        assert_eq!(ease.remarks, Vec::new());
    }

    /// Whatever the fabric, no zone passes its pressure limit, its usable extension or 15 %.
    #[test]
    fn no_zone_passes_its_limits() {
        let limits = PressureLimits::default();
        for stiffness in [40.0, 190.0, 900.0, 4000.0] {
            for usable in [0.07, 0.2, 0.5, 1.2] {
                let fabric = fabric(stiffness, usable);
                let ease = fabric.ease(&hand(), &limits);
                let r = ease.reduction();
                for (r, girth, limit) in [
                    (r.palm, 186.5, limits.palm_mmhg),
                    (r.wrist, 151.4, limits.wrist_mmhg),
                    (r.fingers, 42.5, limits.fingers_mmhg),
                    (r.thumb, 63.0, limits.thumb_mmhg),
                ] {
                    let e = extension_of_reduction(r);
                    assert!(e <= usable && r <= 0.15);
                    let tension = stiffness * e;
                    assert!(mmhg(laplace_pa(tension, girth)) <= limit + 0.01);
                }
                for zone in ease.zones {
                    let limited =
                        EaseRemark::Limited { zone: zone.zone, limit_mmhg: zone.limit_mmhg };
                    assert_eq!(zone.is_limited, ease.remarks.contains(&limited));
                }
            }
        }
    }

    #[test]
    fn cloth_that_does_not_stretch_gets_ease_and_advice() {
        let ease = fabric(9000.0, 0.02).ease(&hand(), &PressureLimits::default());
        assert!(ease.reduction().fingers < 0.0 && ease.reduction().palm < 0.0);
        assert_eq!(ease.remarks, [EaseRemark::Rigid]);
        assert!(EaseRemark::Rigid.to_string().contains("fourchettes"));
    }
}
