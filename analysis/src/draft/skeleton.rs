//! The bones of the draft: where joints, creases and webs of a straight hand lie, from its dimensions.

use std::f64::consts::PI;

use crate::dimension::Dimension;
use crate::model::HandEstimate;

use super::DraftError;

/// Length from the knuckle joint (MCP) to the tip over palmar finger length, index to little.
/// Greiner 1991 link lengths over Hsiao 2015 finger lengths (scaled to Greiner's hand length),
/// mean of women and men.
const LINK_TO_LENGTH: [f64; 4] = [1.437, 1.313, 1.348, 1.322];

/// Height of the middle joint (PIP) below the tip as a share of palmar finger length, index to
/// little. Middle and distal links of Greiner 1991, as above.
const KNUCKLE_FROM_TIP: [f64; 4] = [0.673, 0.660, 0.678, 0.685];

/// Height of the end joint (DIP) below the tip, likewise.
const END_JOINT_FROM_TIP: [f64; 4] = [0.371, 0.338, 0.368, 0.411];

/// Root crease of the finger above (below, when negative) the mean height of its webs, as a share
/// of hand length; index and little have one web each. Tip heights of Greiner 1991 less finger
/// lengths of Hsiao 2015 against Greiner's web heights, mean of women and men. The middle finger
/// has its own measure, palm length.
const CREASE_ABOVE_WEBS: [f64; 4] = [-0.002, 0.0, 0.014, -0.0075];

/// How much farther a cloth travels over a round fingertip than the ruler does, as a share of the
/// radius at the end joint: a quarter circle is pi/2 long where the ruler sees 1, and the tip is
/// about four fifths as thick as the end joint (assumed).
const TIP_TRAVEL: f64 = (PI / 2.0 - 1.0) * 0.8;

/// One finger of a straight hand: heights above the wrist crease and girths, mm.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Finger {
    /// Height of the knuckle joint (MCP) it turns about.
    pub(super) pivot_y: f64,
    /// Root crease, above the pivot.
    pub(super) root: f64,
    /// Middle joint, above the pivot.
    pub(super) knuckle: f64,
    /// End joint, above the pivot.
    pub(super) end_joint: f64,
    /// End of the glove finger, above the pivot.
    pub(super) tip: f64,
    /// Palmar length of the bare finger.
    pub(super) length: f64,
    /// Girth round the middle joint. The root is taken as thick: finger III near its base has
    /// a median diameter of 22 mm (USAF men, NASA RP-1024), 69 mm round, and Greiner's men have
    /// 69.6 mm round the middle joint.
    pub(super) knuckle_girth: f64,
    /// Girth the root is drafted for: the middle joint's, with what a fitting changed.
    pub(super) root_girth: f64,
    /// Girth round the end joint.
    pub(super) end_girth: f64,
}

/// The straight hand that a glove is drafted from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Skeleton {
    /// Index, middle, ring, little.
    pub(super) fingers: [Finger; 4],
    /// Heights of the three webs between them above the wrist crease.
    pub(super) webs: [f64; 3],
}

/// How many fingers beside the thumb.
pub(super) const FINGER_COUNT: usize = 4;

/// Names of the four fingers, in drafting order.
pub(super) const FINGER_NAMES: [&str; 4] = ["index", "middle", "ring", "little"];

use Dimension as D;

const LENGTHS: [D; 4] = [D::IndexLength, D::MiddleLength, D::RingLength, D::LittleLength];
const KNUCKLES: [D; 4] =
    [D::IndexKnuckleGirth, D::MiddleKnuckleGirth, D::RingKnuckleGirth, D::LittleKnuckleGirth];
const ENDS: [D; 4] = [D::IndexTipGirth, D::MiddleTipGirth, D::RingTipGirth, D::LittleTipGirth];
const WEBS: [D; 3] = [D::IndexMiddleWebHeight, D::MiddleRingWebHeight, D::RingLittleWebHeight];

impl Skeleton {
    /// The skeleton of a hand. `reserve` is the share of finger length added for the bent finger.
    ///
    /// # Errors
    /// [`DraftError::Hand`] when the dimensions contradict each other so far that no glove has
    /// their shape; the text says which to check.
    pub(super) fn new(hand: &HandEstimate, reserve: f64) -> Result<Skeleton, DraftError> {
        check_proportions(hand)?;
        let hand_length = hand.mm(D::HandLength);
        let webs = WEBS.map(|d| hand.mm(d));
        let mut fingers = [Finger::default(); 4];
        for (i, finger) in fingers.iter_mut().enumerate() {
            let length = hand.mm(LENGTHS[i]);
            let near_web = webs[i.min(2)];
            let mean_web = if i == 1 || i == 2 { (webs[i - 1] + near_web) / 2.0 } else { near_web };
            let crease = if i == 1 {
                hand.mm(D::PalmLength)
            } else {
                mean_web + CREASE_ABOVE_WEBS[i] * hand_length
            };
            let root = (LINK_TO_LENGTH[i] - 1.0) * length;
            let end_girth = hand.mm(ENDS[i]);
            let covered = length * (1.0 + reserve);
            let bare_tip = root + covered;
            *finger = Finger {
                pivot_y: crease - root,
                root,
                knuckle: bare_tip - KNUCKLE_FROM_TIP[i] * covered,
                end_joint: bare_tip - END_JOINT_FROM_TIP[i] * covered,
                tip: bare_tip + tip_travel(end_girth),
                length,
                knuckle_girth: hand.mm(KNUCKLES[i]),
                root_girth: hand.mm(KNUCKLES[i]),
                end_girth,
            };
        }
        Ok(Skeleton { fingers, webs })
    }
}

/// Length to add at a fingertip of the given girth, mm.
pub(super) fn tip_travel(girth: f64) -> f64 {
    TIP_TRAVEL * girth / (2.0 * PI)
}

fn refuse<T>(message: String) -> Result<T, DraftError> {
    Err(DraftError::Hand(message))
}

fn between(hand: &HandEstimate, part: D, low: f64, high: f64, whole: D) -> Result<(), DraftError> {
    let ratio = hand.mm(part) / hand.mm(whole);
    if (low..=high).contains(&ratio) {
        return Ok(());
    }
    refuse(format!(
        "{} ({:.0} mm) is {:.2} times {} ({:.0} mm); a hand lies between {low} and {high}. Measure both again.",
        part.name(),
        hand.mm(part),
        ratio,
        whole.name().to_lowercase(),
        hand.mm(whole),
    ))
}

/// Refuses hands no glove can be drafted for. The bounds are assumed: well outside the published
/// ranges of children and adults, and inside what the construction can take.
fn check_proportions(hand: &HandEstimate) -> Result<(), DraftError> {
    for (dimension, estimate) in hand.iter() {
        if !estimate.mm.is_finite() || !(10.0..=400.0).contains(&estimate.mm) {
            return refuse(format!(
                "{} is {:.0} mm; a hand lies between 10 and 400 mm. Measure it again.",
                dimension.name(),
                estimate.mm
            ));
        }
    }
    between(hand, D::PalmLength, 0.45, 0.70, D::HandLength)?;
    for length in LENGTHS {
        between(hand, length, 0.22, 0.58, D::HandLength)?;
    }
    between(hand, D::ThumbLength, 0.22, 0.55, D::HandLength)?;
    between(hand, D::ThumbWebHeight, 0.20, 0.50, D::HandLength)?;
    for web in WEBS {
        between(hand, web, 0.38, 0.68, D::HandLength)?;
    }
    between(hand, D::HandGirth, 0.70, 1.60, D::HandLength)?;
    between(hand, D::WristGirth, 0.60, 1.15, D::HandGirth)?;
    between(hand, D::ThumbKnuckleGirth, 0.22, 0.50, D::HandGirth)?;
    between(hand, D::ThumbRootGirth, 0.85, 2.00, D::ThumbKnuckleGirth)?;
    for (knuckle, end) in KNUCKLES.into_iter().zip(ENDS) {
        between(hand, knuckle, 0.18, 0.50, D::HandGirth)?;
        between(hand, end, 0.60, 1.05, knuckle)?;
    }
    let sum = hand.mm(D::PalmLength) + hand.mm(D::MiddleLength);
    let hand_length = hand.mm(D::HandLength);
    if (sum / hand_length - 1.0).abs() > 0.10 {
        return refuse(format!(
            "Palm length and middle finger length make {sum:.0} mm, but hand length is {hand_length:.0} mm. Measure all three again."
        ));
    }
    Ok(())
}
