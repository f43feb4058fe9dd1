//! How the glove will sit: extension by zone, crotch stand-off, spread, and whether it goes on.

use std::f64::consts::PI;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::dimension::Dimension as D;
use crate::model::HandEstimate;

use super::GloveOptions;
use super::layout::Layout;
use super::skeleton::Skeleton;

/// Diameter of the smallest round hole a hand passes, over hand breadth (Snyder 1977, from age 10).
const HOLE_TO_BREADTH: f64 = 0.82;

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
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Zone::Palm => f.write_str("palm"),
            Zone::Wrist => f.write_str("wrist"),
            Zone::Root(digit) => write!(f, "{}, root", digit.name()),
            Zone::Knuckle(Digit::Thumb) => f.write_str("thumb, joint"),
            Zone::Knuckle(digit) => write!(f, "{}, middle joint", digit.name()),
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
}

impl ZoneFit {
    /// Extension of the fabric when worn: girth of the hand over girth of the glove, less 1.
    /// Negative where the glove is wider than the hand.
    #[must_use]
    pub fn extension(&self) -> f64 {
        self.hand_mm / self.glove_mm - 1.0
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
    pub(super) fn remarks(&self, options: &GloveOptions) -> Vec<String> {
        let mut remarks = Vec::new();
        if self.wrist_passing_extension > options.usable_extension {
            remarks.push(format!(
                "The closed wrist must stretch {:.0} % for the hand to pass, and the fabric stands {:.0} %: leave an opening at the wrist.",
                self.wrist_passing_extension * 100.0,
                options.usable_extension * 100.0,
            ));
        }
        for fit in &self.zones {
            if fit.extension() > options.usable_extension {
                remarks.push(format!(
                    "{}: stretched {:.0} % when worn, and the fabric stands {:.0} %.",
                    fit.zone,
                    fit.extension() * 100.0,
                    options.usable_extension * 100.0,
                ));
            }
        }
        remarks
    }
}

/// The forecast for a layout.
pub(super) fn forecast(
    hand: &HandEstimate,
    options: &GloveOptions,
    skeleton: &Skeleton,
    layout: &Layout,
) -> FitForecast {
    let r = options.reduction;
    let eased = |zone, girth: f64, reduction: f64| ZoneFit {
        zone,
        hand_mm: girth,
        glove_mm: girth * (1.0 - reduction),
    };
    let wrist = eased(Zone::Wrist, hand.mm(D::WristGirth), r.wrist);
    let mut zones = vec![eased(Zone::Palm, hand.mm(D::HandGirth), r.palm), wrist];
    zones.push(eased(Zone::Root(Digit::Thumb), hand.mm(D::ThumbRootGirth), r.thumb));
    zones.push(eased(Zone::Knuckle(Digit::Thumb), hand.mm(D::ThumbKnuckleGirth), r.thumb));
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
        zones.push(ZoneFit {
            zone: Zone::Root(digit),
            hand_mm: finger.knuckle_girth,
            glove_mm: 4.0 * tube.half_width(start),
        });
        zones.push(eased(Zone::Knuckle(digit), finger.knuckle_girth, r.fingers));
        zones.push(eased(Zone::EndJoint(digit), finger.end_girth, r.fingers));
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
    let passing = PI * HOLE_TO_BREADTH * hand.mm(D::HandBreadth);
    FitForecast {
        zones,
        crotches,
        wrist_passing_extension: (passing / wrist.glove_mm - 1.0).max(0.0),
    }
}
