//! What fittings change beside the reduction, in mm of the glove, for each hand.
//!
//! A girth or a finger's length is changed by drafting for a hand that is as much larger; a root or
//! a crotch is changed in the skeleton. The forecast speaks of the hand that wears the glove.

use serde::{Deserialize, Serialize};

use crate::dimension::{Dimension as D, PerDimension};
use crate::fabric::{laplace_pa, mmhg};
use crate::fitting::{FitZone as Z, PerZone};
use crate::hand::Side;
use crate::model::{Estimate, HandEstimate};

use super::advice::advise;
use super::forecast::{Digit, FitForecast, Zone};
use super::skeleton::Skeleton;
use super::{Draft, DraftError, GloveOptions};

/// Changes of the glove by hand and zone, mm; more is more room.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
#[serde(default)]
pub struct Fitted {
    /// Of the left glove.
    pub left: PerZone,
    /// Of the right glove.
    pub right: PerZone,
}

impl Fitted {
    /// The changes of one glove.
    #[must_use]
    pub fn side(&self, side: Side) -> &PerZone {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }

    /// See [`Fitted::side`].
    pub fn side_mut(&mut self, side: Side) -> &mut PerZone {
        match side {
            Side::Left => &mut self.left,
            Side::Right => &mut self.right,
        }
    }

    /// Whether nothing is changed.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.left.is_zero() && self.right.is_zero()
    }
}

/// Zones of one finger: root, middle joint, length.
const FINGERS: [[Z; 3]; 4] = [
    [Z::IndexRoot, Z::IndexKnuckle, Z::IndexLength],
    [Z::MiddleRoot, Z::MiddleKnuckle, Z::MiddleLength],
    [Z::RingRoot, Z::RingKnuckle, Z::RingLength],
    [Z::LittleRoot, Z::LittleKnuckle, Z::LittleLength],
];
const CROTCHES: [Z; 3] = [Z::IndexMiddleCrotch, Z::MiddleRingCrotch, Z::RingLittleCrotch];

/// The hand whose plain glove has the changed girths and lengths. An end joint grows as its middle
/// joint does, hand length as the middle finger does.
pub(super) fn drafted_hand(
    hand: &HandEstimate,
    options: &GloveOptions,
    changes: &PerZone,
) -> HandEstimate {
    if changes.is_zero() {
        return *hand;
    }
    let girth = |zone: Z| changes[zone] / (1.0 - zone.reduction(&options.reduction));
    let length = |zone: Z| changes[zone] / (1.0 + options.length_reserve());
    let joint = |zone: Z, knuckle: D, end: D| girth(zone) * hand.mm(end) / hand.mm(knuckle);
    HandEstimate::new(PerDimension::from_fn(|d| {
        let more = match d {
            D::HandGirth => girth(Z::Palm),
            D::WristGirth => girth(Z::Wrist),
            D::ThumbKnuckleGirth => girth(Z::ThumbGirth),
            D::ThumbRootGirth => girth(Z::ThumbSet),
            D::IndexKnuckleGirth => girth(Z::IndexKnuckle),
            D::MiddleKnuckleGirth => girth(Z::MiddleKnuckle),
            D::RingKnuckleGirth => girth(Z::RingKnuckle),
            D::LittleKnuckleGirth => girth(Z::LittleKnuckle),
            D::IndexTipGirth => joint(Z::IndexKnuckle, D::IndexKnuckleGirth, d),
            D::MiddleTipGirth => joint(Z::MiddleKnuckle, D::MiddleKnuckleGirth, d),
            D::RingTipGirth => joint(Z::RingKnuckle, D::RingKnuckleGirth, d),
            D::LittleTipGirth => joint(Z::LittleKnuckle, D::LittleKnuckleGirth, d),
            D::ThumbLength => changes[Z::ThumbLength],
            D::IndexLength => length(Z::IndexLength),
            D::MiddleLength | D::HandLength => length(Z::MiddleLength),
            D::RingLength => length(Z::RingLength),
            D::LittleLength => length(Z::LittleLength),
            _ => 0.0,
        };
        let Estimate { mm, low_mm, high_mm, basis } = hand.get(d);
        Estimate { mm: mm + more, low_mm: low_mm + more, high_mm: high_mm + more, basis }
    }))
}

impl Skeleton {
    /// The skeleton with changed roots; a changed middle joint leaves the root as it was. The roots of a fourchette glove follow the middle joints, whose strips they share.
    pub(super) fn changed(mut self, worn: &HandEstimate, changes: &PerZone) -> Skeleton {
        let knuckles = [
            D::IndexKnuckleGirth,
            D::MiddleKnuckleGirth,
            D::RingKnuckleGirth,
            D::LittleKnuckleGirth,
        ];
        for ((finger, [root, ..]), knuckle) in self.fingers.iter_mut().zip(FINGERS).zip(knuckles) {
            finger.root_girth = worn.mm(knuckle) + changes[root];
        }
        self
    }

    fn with_webs_higher(mut self, by: [f64; 3]) -> Skeleton {
        for (web, by) in self.webs.iter_mut().zip(by) {
            *web += by;
        }
        self
    }

    /// The skeleton whose crotches stand off the webs as much more as was asked for, as nearly as the
    /// room allows. The layout trades a crotch against its neighbours, spread and roots, and follows
    /// a moved web by a third to a half; so the webs are moved again for what is missing.
    ///
    /// # Errors
    /// When the plain hand has no layout.
    pub(super) fn with_crotches(
        self,
        changes: &PerZone,
        stand_offs: impl Fn(&Skeleton) -> Result<[f64; 3], DraftError>,
    ) -> Result<Skeleton, DraftError> {
        if CROTCHES.iter().all(|zone| changes[*zone] == 0.0) {
            return Ok(self);
        }
        let plain = stand_offs(&self)?;
        let (mut best, mut least) = (self, f64::INFINITY);
        let mut by = CROTCHES.map(|zone| changes[zone]);
        for _ in 0..WEB_STEPS {
            let next = self.with_webs_higher(by);
            let Ok(reached) = stand_offs(&next) else { break };
            let missing = [0, 1, 2].map(|k| changes[CROTCHES[k]] - (reached[k] + by[k] - plain[k]));
            let worst = missing.iter().map(|mm| mm.abs()).fold(0.0, f64::max);
            if worst < least {
                (best, least) = (next, worst);
            }
            for k in 0..by.len() {
                by[k] = (by[k] + WEB_GAIN * missing[k]).clamp(-WEB_MOST_MM, WEB_MOST_MM);
            }
        }
        Ok(best)
    }
}

/// Steps in which webs are moved, and how much farther each goes than what is still missing
/// (assumed: enough for what the room allows, few enough that a draft stays quick).
const WEB_STEPS: usize = 8;
const WEB_GAIN: f64 = 1.5;

/// Farthest a web is moved, mm (assumed).
const WEB_MOST_MM: f64 = 25.0;

impl FitForecast {
    /// The forecast of a changed glove on the hand that wears it.
    pub(super) fn worn_by(
        &mut self,
        hand: &HandEstimate,
        options: &GloveOptions,
        changes: &PerZone,
        webs_higher: [f64; 3],
    ) {
        if changes.is_zero() {
            return;
        }
        let curve = options.fabric.and_then(|fabric| fabric.curve);
        for fit in &mut self.zones {
            let Some(girth) = girth(fit.zone) else { continue };
            fit.hand_mm = hand.mm(girth);
            let tension = curve.map(|curve| curve.tension_n_per_m(fit.extension()));
            fit.pressure_mmhg = tension.map(|t| mmhg(laplace_pa(t, fit.hand_mm)));
        }
        for (crotch, higher) in self.crotches.iter_mut().zip(webs_higher) {
            crotch.stand_off_mm += higher;
        }
        for (fit, [.., zone]) in self.lengths.iter_mut().zip(FINGERS) {
            fit.open_mm += changes[zone];
            fit.bent_mm += changes[zone];
        }
        self.advice = advise(self, options);
    }
}

/// The girth of the hand under a zone of the forecast.
fn girth(zone: Zone) -> Option<D> {
    let knuckle = |digit| match digit {
        Digit::Thumb => D::ThumbKnuckleGirth,
        Digit::Index => D::IndexKnuckleGirth,
        Digit::Middle => D::MiddleKnuckleGirth,
        Digit::Ring => D::RingKnuckleGirth,
        Digit::Little => D::LittleKnuckleGirth,
    };
    Some(match zone {
        Zone::Palm => D::HandGirth,
        Zone::Wrist => D::WristGirth,
        Zone::Root(Digit::Thumb) => D::ThumbRootGirth,
        Zone::Root(digit) | Zone::Knuckle(digit) => knuckle(digit),
        Zone::EndJoint(Digit::Index) => D::IndexTipGirth,
        Zone::EndJoint(Digit::Middle) => D::MiddleTipGirth,
        Zone::EndJoint(Digit::Ring) => D::RingTipGirth,
        Zone::EndJoint(Digit::Little) => D::LittleTipGirth,
        Zone::EndJoint(Digit::Thumb) | Zone::Fourchette => return None,
    })
}

impl Draft {
    /// What the glove measures in a zone, mm: its girth, its length over the finger, or how far its
    /// crotch stands off the web. `hand` wears it; `changes` are those it was drafted with.
    #[must_use]
    pub fn size_mm(&self, zone: Z, hand: &HandEstimate, changes: &PerZone) -> Option<f64> {
        let girth = |wanted: Zone| {
            self.forecast.zones.iter().find(|fit| fit.zone == wanted).map(|fit| fit.glove_mm)
        };
        let digit = |row: usize| Digit::FINGERS.get(row).copied();
        match zone {
            Z::Palm => return girth(Zone::Palm),
            Z::Wrist => return girth(Zone::Wrist),
            Z::ThumbGirth => return girth(Zone::Knuckle(Digit::Thumb)),
            Z::ThumbSet => return girth(Zone::Root(Digit::Thumb)),
            Z::ThumbLength => return Some(hand.mm(D::ThumbLength) + changes[zone]),
            _ => {}
        }
        if let Some(k) = CROTCHES.iter().position(|crotch| *crotch == zone) {
            return self.forecast.crotches.get(k).map(|crotch| crotch.stand_off_mm);
        }
        let lengths = [D::IndexLength, D::MiddleLength, D::RingLength, D::LittleLength];
        FINGERS.iter().enumerate().find_map(|(i, [root, knuckle, length])| {
            if zone == *root {
                girth(Zone::Root(digit(i)?))
            } else if zone == *knuckle {
                girth(Zone::Knuckle(digit(i)?))
            } else if zone == *length {
                let spare = self.forecast.lengths.iter().find(|fit| Some(fit.digit) == digit(i))?;
                Some(hand.mm(*lengths.get(i)?) + spare.open_mm)
            } else {
                None
            }
        })
    }
}
