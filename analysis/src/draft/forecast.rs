//! How the glove will sit: extension by zone, crotch stand-off, spread, and whether it goes on.

use std::f64::consts::PI;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::dimension::Dimension as D;
use crate::fabric::{STRETCH_MIN, laplace_pa, mmhg};
use crate::model::HandEstimate;

use super::GloveOptions;
use super::advice::{self, Advice};
use super::layout::Layout;
use super::remark::Remark;
use super::skeleton::Skeleton;

/// Diameter of the smallest round hole a hand passes, over hand breadth (Snyder 1977, from age 10).
const HOLE_TO_BREADTH: f64 = 0.82;

/// The same for small children, below the age in years (Snyder 1977).
const CHILD_HOLE_TO_BREADTH: (u8, f64) = (7, 0.85);

/// Lengthening of the skin over the back of a finger from open hand to fist: 29.3 %, SD 7.2, of 30
/// people (2023, doi 10.1089/soro.2023.0115).
const BENT_LENGTHENING: f64 = 0.293;

/// Share of it that the cloth must give; the rest comes round from the slack palm side (assumed).
const BENT_SHARE: f64 = 0.35;

/// Pressure above which a ready size is called too tight, mmHg (assumed: the lower end of what scar
/// garments aim at, 15 to 25 mmHg).
pub(crate) const PRESSURE_TIGHT_MMHG: f64 = 15.0;

/// By how much a pressure may exceed its limit before a zone is called tight, mmHg (assumed: less
/// than a millimetre more or less on the tape).
const PRESSURE_TOLERANCE_MMHG: f64 = 0.5;

/// A thumb or finger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Digit {
    /// Thumb.
    Thumb,
    /// Index finger.
    Index,
    /// Middle finger.
    Middle,
    /// Ring finger.
    Ring,
    /// Little finger.
    Little,
}

impl Digit {
    /// The four fingers from the thumb side.
    pub const FINGERS: [Digit; 4] = [Digit::Index, Digit::Middle, Digit::Ring, Digit::Little];

    /// Name for people.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Digit::Thumb => "thumb",
            Digit::Index => "index finger",
            Digit::Middle => "middle finger",
            Digit::Ring => "ring finger",
            Digit::Little => "little finger",
        }
    }
}

/// A zone of the hand where the glove's girth is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Zone {
    /// Round the palm at the knuckles.
    Palm,
    /// Round the wrist.
    Wrist,
    /// Root of a finger, or of the thumb.
    Root(Digit),
    /// Middle joint of a finger, or the joint of the thumb.
    Knuckle(Digit),
    /// End joint of a finger.
    EndJoint(Digit),
    /// Across a fourchette; a width, not a zone of the hand.
    Fourchette,
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Zone::Palm => f.write_str("palm"),
            Zone::Wrist => f.write_str("wrist"),
            Zone::Root(digit) => write!(f, "{}, root", digit.name()),
            Zone::Knuckle(Digit::Thumb) => f.write_str("thumb, joint"),
            Zone::Knuckle(digit) => write!(f, "{}, middle joint", digit.name()),
            Zone::Fourchette => f.write_str("fourchette"),
            Zone::EndJoint(digit) => write!(f, "{}, end joint", digit.name()),
        }
    }
}

/// Girth of hand and glove in one zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZoneFit {
    /// Which zone.
    pub zone: Zone,
    /// Girth of the hand, mm.
    pub hand_mm: f64,
    /// Girth of the glove before it is stretched, mm.
    pub glove_mm: f64,
    /// Pressure on the hand by Laplace's law, mmHg, where the fabric's tension is known.
    pub pressure_mmhg: Option<f64>,
    /// Largest pressure there, mmHg.
    pub limit_mmhg: f64,
    /// Girth of the glove once the fabric has given what it does not take back, mm.
    pub worn_in_mm: f64,
}

/// How a zone will feel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Feel {
    /// Wider than the hand.
    Loose,
    /// Stretched up to half of what the fabric stands.
    Easy,
    /// Stretched beyond half of what the fabric stands.
    Firm,
    /// Stretched beyond what the fabric stands, or pressing harder than its limit.
    Tight,
}

impl Feel {
    /// Name for people.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Feel::Loose => "loose",
            Feel::Easy => "easy",
            Feel::Firm => "firm",
            Feel::Tight => "tight",
        }
    }
}

/// Length of a glove finger against the finger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LengthFit {
    /// Which finger.
    pub digit: Digit,
    /// Spare length with the hand open, mm.
    pub open_mm: f64,
    /// Spare length with the finger bent and the fabric stretched as far as is usable, mm;
    /// negative pulls.
    pub bent_mm: f64,
}

impl ZoneFit {
    /// Extension of the fabric when worn: girth of the hand over girth of the glove, less 1.
    /// Negative where the glove is wider than the hand.
    #[must_use]
    pub fn extension(&self) -> f64 {
        self.hand_mm / self.glove_mm - 1.0
    }

    /// How it will feel on a fabric of the given usable extension.
    #[must_use]
    pub fn feel(&self, usable_extension: f64) -> Feel {
        let most = self.limit_mmhg + PRESSURE_TOLERANCE_MMHG;
        let presses = self.pressure_mmhg.is_some_and(|pressure| pressure > most);
        match self.extension() {
            e if e > usable_extension.max(STRETCH_MIN) || presses => Feel::Tight,
            e if e > usable_extension / 2.0 => Feel::Firm,
            e if e >= 0.0 => Feel::Easy,
            _ => Feel::Loose,
        }
    }
}

/// How one crotch sits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrotchFit {
    /// Finger on the thumb side.
    pub near: Digit,
    /// Finger on the little-finger side.
    pub far: Digit,
    /// Distance from the web of the hand up to the crotch of the glove, mm.
    pub stand_off_mm: f64,
    /// Spread drawn between the two fingers, degrees.
    pub spread_deg: f64,
}

/// How the glove will sit on this hand.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct FitForecast {
    /// Palm, wrist, and root, middle joint and end joint of each finger.
    pub zones: Vec<ZoneFit>,
    /// The three crotches.
    pub crotches: Vec<CrotchFit>,
    /// Extension of a closed wrist when the hand passes it.
    pub wrist_passing_extension: f64,
    /// Spare length of the four fingers.
    pub lengths: Vec<LengthFit>,
    /// What to change first.
    pub advice: Advice,
}

impl FitForecast {
    /// Largest extension over all zones.
    #[must_use]
    pub fn largest_extension(&self) -> f64 {
        self.zones.iter().map(ZoneFit::extension).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Largest stand-off over the crotches, mm.
    #[must_use]
    pub fn largest_stand_off_mm(&self) -> f64 {
        self.crotches.iter().map(|c| c.stand_off_mm).fold(f64::NEG_INFINITY, f64::max)
    }

    /// What the cutter should know.
    pub(super) fn remarks(&self, options: &GloveOptions) -> Vec<Remark> {
        let usable = options.usable_across();
        let mut remarks = Vec::new();
        let needed = self.wrist_passing_extension;
        if needed > usable && !options.opens() {
            remarks.push(Remark::WristTooNarrow { needed, usable });
        }
        for fit in self.zones.iter().filter(|fit| fit.extension() > usable.max(STRETCH_MIN)) {
            let (zone, extension) = (fit.zone, fit.extension());
            remarks.push(Remark::OverStretched { zone, extension, usable });
        }
        if options.fabric.is_some_and(|fabric| fabric.is_tired()) {
            remarks.push(Remark::Tired);
        }
        let reserve = options.length_reserve();
        if reserve > 0.0 {
            remarks.push(Remark::LengthReserve { reserve });
        }
        remarks
    }
}

/// What a forecast is made from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drafted<'a> {
    /// The straight hand.
    pub(super) skeleton: &'a Skeleton,
    /// Fingers and crotches of the palm.
    pub(super) layout: &'a Layout,
    /// Girth of fourchettes beside each finger at middle and end joint, mm.
    pub(super) beside: [[f64; 2]; 4],
}

/// The forecast for a draft.
pub(super) fn forecast(
    hand: &HandEstimate,
    options: &GloveOptions,
    drafted: Drafted<'_>,
) -> FitForecast {
    let Drafted { skeleton, layout, beside } = drafted;
    let r = options.reduction;
    let left = options.fabric.map_or(0.0, |fabric| fabric.left);
    let fit = |zone, hand_mm: f64, glove_mm: f64| {
        let tension = options
            .fabric
            .and_then(|fabric| fabric.curve)
            .map(|curve| curve.tension_n_per_m(hand_mm / glove_mm - 1.0));
        ZoneFit {
            zone,
            hand_mm,
            glove_mm,
            pressure_mmhg: tension.map(|t| mmhg(laplace_pa(t, hand_mm))),
            limit_mmhg: match zone {
                Zone::Palm => options.limits.palm_mmhg,
                Zone::Wrist => options.limits.wrist_mmhg,
                Zone::Root(Digit::Thumb) | Zone::Knuckle(Digit::Thumb) => options.limits.thumb_mmhg,
                _ => options.limits.fingers_mmhg,
            },
            worn_in_mm: glove_mm * (1.0 + left),
        }
    };
    let eased = |zone, girth: f64, reduction: f64| fit(zone, girth, girth * (1.0 - reduction));
    let wrist = eased(Zone::Wrist, hand.mm(D::WristGirth), r.wrist);
    let mut zones = vec![
        eased(Zone::Palm, hand.mm(D::HandGirth), r.palm),
        wrist,
        eased(Zone::Root(Digit::Thumb), hand.mm(D::ThumbRootGirth), r.thumb),
        eased(Zone::Knuckle(Digit::Thumb), hand.mm(D::ThumbKnuckleGirth), r.thumb),
    ];
    let reserve = options.length_reserve();
    let mut lengths = Vec::with_capacity(4);
    for (i, digit) in Digit::FINGERS.into_iter().enumerate() {
        let (Some(finger), Some(tube)) = (skeleton.fingers.get(i), layout.tubes.get(i)) else {
            continue;
        };
        // The tube begins at the higher of the crotches beside it.
        let corners = [
            i.checked_sub(1).and_then(|k| layout.crotches.get(k)).map(|c| c.far),
            layout.crotches.get(i).map(|c| c.near),
        ];
        let start = corners
            .into_iter()
            .flatten()
            .map(|corner| tube.in_own_frame(corner).y)
            .fold(f64::NEG_INFINITY, f64::max);
        let strips = beside.get(i).map_or(0.0, |[knuckle, _]| *knuckle);
        let root = 4.0 * tube.half_width(start) + strips;
        zones.push(fit(Zone::Root(digit), finger.knuckle_girth, root));
        zones.push(eased(Zone::Knuckle(digit), finger.knuckle_girth, r.fingers));
        if tube.covers_end_joint() {
            zones.push(eased(Zone::EndJoint(digit), finger.end_girth, r.fingers));
        }
        let spare = finger.length * reserve;
        let stretched = finger.length * (1.0 + reserve) * options.usable_along();
        lengths.push(LengthFit {
            digit,
            open_mm: spare,
            bent_mm: spare + stretched - finger.length * BENT_LENGTHENING * BENT_SHARE,
        });
    }
    let crotches = layout
        .crotches
        .iter()
        .zip(Digit::FINGERS.into_iter().zip(Digit::FINGERS.into_iter().skip(1)))
        .map(|(crotch, (near, far))| CrotchFit {
            near,
            far,
            stand_off_mm: crotch.stand_off,
            spread_deg: crotch.spread.to_degrees(),
        })
        .collect();
    let (young, wider) = CHILD_HOLE_TO_BREADTH;
    let is_young = options.child_age_years.is_some_and(|age| age < young);
    let hole = if is_young { wider } else { HOLE_TO_BREADTH };
    let passing = PI * hole * hand.mm(D::HandBreadth);
    let mut forecast = FitForecast {
        zones,
        crotches,
        wrist_passing_extension: (passing / wrist.glove_mm - 1.0).max(0.0),
        lengths,
        advice: Advice::Nothing,
    };
    forecast.advice = advice::advise(&forecast, options);
    forecast
}

impl GloveOptions {
    /// Extension the fabric stands along the fingers: as tested, or as stated for the other way.
    fn usable_along(&self) -> f64 {
        self.fabric.map_or(self.usable_extension, |fabric| fabric.usable_along)
    }

    /// Share of finger length added because the fabric does not lengthen enough for the bent hand.
    pub(super) fn length_reserve(&self) -> f64 {
        (BENT_LENGTHENING * BENT_SHARE - self.usable_along()).max(0.0)
    }
}
