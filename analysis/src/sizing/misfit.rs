//! How badly a pair of hands fits gloves that were drafted for another pair.
//!
//! Zone by zone, as the fit forecast sees it. A glove drafted for girth `g` with reduction `r` is
//! `g (1 - r)` round, so a hand of girth `h` stretches it by `e = h / (g (1 - r)) - 1`, where
//! `e0 = r / (1 - r)` was meant. What lies between `e0` and the tight or the loose limit is the
//! room; the strain `u` is the share of it that is used up, 1 at the limit. Lengths are compared in
//! millimetres. Misfit is the mean over all zones of both hands of `u^2` on the loose side and
//! [`TIGHT_COST`] times `u^2` on the tight side: 0 in one's own glove, and about 1 when every zone
//! is at its limit. A pair fits when no zone is beyond its limit.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};

use crate::dimension::Dimension;
use crate::draft::{GirthReduction, GloveOptions, PRESSURE_TIGHT_MMHG};
use crate::fabric::{PA_PER_MMHG, TensionCurve, extension_of_reduction};
use crate::hand::{Hands, Side};
use crate::model::FilledHands;

use Dimension as D;

/// Girths of a size, as the draft reduces them. The roots of the fingers follow the knuckles.
pub const GIRTHS: [Dimension; 12] = [
    D::HandGirth,
    D::WristGirth,
    D::ThumbRootGirth,
    D::ThumbKnuckleGirth,
    D::IndexKnuckleGirth,
    D::MiddleKnuckleGirth,
    D::RingKnuckleGirth,
    D::LittleKnuckleGirth,
    D::IndexTipGirth,
    D::MiddleTipGirth,
    D::RingTipGirth,
    D::LittleTipGirth,
];

/// Lengths of a size. The webs follow the palm.
pub const LENGTHS: [Dimension; 6] = [
    D::PalmLength,
    D::ThumbLength,
    D::IndexLength,
    D::MiddleLength,
    D::RingLength,
    D::LittleLength,
];

/// Zones of one hand.
pub const ZONES: usize = GIRTHS.len() + LENGTHS.len();

/// How much a strain on the tight side costs more than the same strain on the loose side (assumed:
/// a loose finger looks poor, a tight one hurts).
pub const TIGHT_COST: f64 = 2.0;

/// Stretch beyond what was meant at which a girth counts as tight, as an extension (assumed: a
/// tenth), where the fit forecast does not already call it tight.
pub const TIGHT_ROOM: f64 = 0.10;

/// Stretch missing from what was meant at which a girth counts as loose, as an extension (assumed).
pub const LOOSE_ROOM: f64 = 0.12;

/// Least room on the tight side, as an extension (assumed: half a millimetre on a fingertip is
/// within what a tape reads), so that a fabric at its limit already leaves some size to choose.
pub const LEAST_ROOM: f64 = 0.02;

/// A finger longer than the glove's by this much is at its limit, mm (assumed).
pub const SHORT_FINGER_MM: f64 = 4.0;

/// A finger shorter than the glove's by this much is at its limit, mm (assumed: an empty tip that
/// folds over).
pub const LONG_FINGER_MM: f64 = 6.0;

/// A palm longer than the glove's by this much is at its limit, mm (assumed: the crotches stand on
/// the webs).
pub const SHORT_PALM_MM: f64 = 5.0;

/// A palm shorter than the glove's by this much is at its limit, mm (assumed: the crotches stand
/// off the webs).
pub const LONG_PALM_MM: f64 = 8.0;

/// Accuracy of the largest girth a size fits, mm: far below what a tape reads.
const SEARCHED_MM: f64 = 1e-6;

/// What decides how a glove fits: the ease it was drafted with and what the fabric stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitRules {
    reduction: GirthReduction,
    usable_extension: f64,
    curve: Option<TensionCurve>,
    /// Girths, then lengths: whether a zone counts.
    counted: [bool; ZONES],
}

impl FitRules {
    /// The rules behind a draft's options.
    #[must_use]
    pub fn of(options: &GloveOptions) -> FitRules {
        FitRules {
            reduction: options.reduction,
            usable_extension: options.usable_across(),
            curve: options.fabric.and_then(|fabric| fabric.curve),
            counted: [true; ZONES],
        }
    }

    /// The same rules for a size system that looks at these zones alone.
    #[must_use]
    pub fn only(self, zones: &[Dimension]) -> FitRules {
        FitRules { counted: counted(zones), ..self }
    }

    fn reduction(&self, girth: Dimension) -> f64 {
        match girth {
            D::HandGirth => self.reduction.palm,
            D::WristGirth => self.reduction.wrist,
            D::ThumbRootGirth | D::ThumbKnuckleGirth => self.reduction.thumb,
            _ => self.reduction.fingers,
        }
    }

    /// Room on the tight side for a hand of this girth: up to what was meant and [`TIGHT_ROOM`],
    /// or to where the forecast says tight (the fabric's usable extension, or its pressure limit by
    /// Laplace's law), whichever comes first.
    fn tight_room(&self, girth: Dimension, hand_mm: f64) -> f64 {
        let meant = extension_of_reduction(self.reduction(girth));
        let pressed = self.curve.map_or(f64::INFINITY, |curve| {
            curve.extension(PRESSURE_TIGHT_MMHG * PA_PER_MMHG * (hand_mm / 1000.0) / (2.0 * PI))
        });
        (self.usable_extension.min(pressed) - meant).clamp(LEAST_ROOM, TIGHT_ROOM)
    }
}

fn counted(zones: &[Dimension]) -> [bool; ZONES] {
    let mut counted = [false; ZONES];
    for (counted, zone) in counted.iter_mut().zip(GIRTHS.iter().chain(&LENGTHS)) {
        *counted = zones.contains(zone);
    }
    counted
}

/// Values of one dimension after the other, both hands.
fn table<const N: usize>(
    dimensions: [Dimension; N],
    mm: impl Fn(Side, Dimension) -> f64,
) -> [[f64; N]; 2] {
    Side::BOTH.map(|side| dimensions.map(|dimension| mm(side, dimension)))
}

/// Somebody's pair of hands, ready to be tried in sizes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wearer {
    girths: [[f64; GIRTHS.len()]; 2],
    tight_rooms: [[f64; GIRTHS.len()]; 2],
    lengths: [[f64; LENGTHS.len()]; 2],
}

impl Wearer {
    /// Hands by side and dimension, mm.
    #[must_use]
    pub fn new(rules: &FitRules, mm: impl Fn(Side, Dimension) -> f64) -> Wearer {
        Wearer {
            girths: table(GIRTHS, &mm),
            tight_rooms: table(GIRTHS, |side, d| rules.tight_room(d, mm(side, d))),
            lengths: table(LENGTHS, &mm),
        }
    }

    /// Central values of filled hands.
    #[must_use]
    pub fn of(rules: &FitRules, hands: &FilledHands) -> Wearer {
        Wearer::new(rules, |side, dimension| hands.side(side).mm(dimension))
    }
}

/// Limit of a length by its position in [`LENGTHS`], mm, for a hand that is longer than the glove or
/// shorter.
fn length_limit(at: usize, is_longer: bool) -> f64 {
    match (LENGTHS.get(at) == Some(&D::PalmLength), is_longer) {
        (true, true) => SHORT_PALM_MM,
        (true, false) => LONG_PALM_MM,
        (false, true) => SHORT_FINGER_MM,
        (false, false) => LONG_FINGER_MM,
    }
}

/// A size: gloves drafted for one pair of hands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// One over the girth of the glove before it is stretched, 1/mm.
    inverse_girths: [[f64; GIRTHS.len()]; 2],
    meant: [f64; GIRTHS.len()],
    lengths: [[f64; LENGTHS.len()]; 2],
    counted: [bool; ZONES],
}

/// Where and how a pair of hands strains a size most.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "describe", derive(utoipa::ToSchema))]
pub struct Strain {
    /// Which hand.
    pub side: Side,
    /// Which zone, by its dimension.
    pub dimension: Dimension,
    /// Share of the room used up, 1 at the limit; positive where the glove is too small there,
    /// negative where it is too large.
    pub strain: f64,
}

/// How one pair of hands fits one size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Mean cost over all zones of both hands.
    pub misfit: f64,
    /// Whether every zone is within its limits.
    pub fits: bool,
}

impl Size {
    /// The size drafted for a pair of hands.
    #[must_use]
    pub fn drafted_for(rules: &FitRules, wearer: &Wearer) -> Size {
        let mut inverse_girths = wearer.girths;
        for side in &mut inverse_girths {
            for (girth, dimension) in side.iter_mut().zip(GIRTHS) {
                *girth = 1.0 / (*girth * (1.0 - rules.reduction(dimension)));
            }
        }
        Size {
            inverse_girths,
            meant: GIRTHS.map(|d| extension_of_reduction(rules.reduction(d))),
            lengths: wearer.lengths,
            counted: rules.counted,
        }
    }

    /// The same gloves where these zones alone count.
    #[must_use]
    pub fn only(&self, zones: &[Dimension]) -> Size {
        Size { counted: counted(zones), ..*self }
    }

    /// The hands this size is drafted for, in the dimensions a size has.
    #[must_use]
    pub fn hands(&self) -> Hands {
        let mut readings = Vec::with_capacity(2 * ZONES);
        for (at, side) in Side::BOTH.into_iter().enumerate() {
            let girths = GIRTHS.into_iter().zip(&self.inverse_girths[at]).zip(&self.meant);
            readings.extend(girths.map(|((d, inverse), meant)| (side, d, (1.0 + meant) / inverse)));
            let lengths = LENGTHS.into_iter().zip(&self.lengths[at]);
            readings.extend(lengths.map(|(d, mm)| (side, d, *mm)));
        }
        Hands::from_readings(&readings)
    }

    /// Girth of the glove before it is stretched, mm.
    #[must_use]
    pub fn glove_girth_mm(&self, side: Side, girth: Dimension) -> Option<f64> {
        let at = GIRTHS.iter().position(|d| *d == girth)?;
        let sides = Side::BOTH.iter().zip(&self.inverse_girths);
        sides.filter(|(s, _)| **s == side).find_map(|(_, row)| row.get(at)).map(|x| 1.0 / x)
    }

    /// Smallest and largest hand that is within the limits of this size in one dimension, mm; `None`
    /// for a dimension the fit does not rest on. Hand length is bounded by palm and middle finger.
    #[must_use]
    pub fn range_mm(&self, rules: &FitRules, side: Side, d: Dimension) -> Option<(f64, f64)> {
        if d == D::HandLength {
            let palm = self.range_mm(rules, side, D::PalmLength)?;
            let finger = self.range_mm(rules, side, D::MiddleLength)?;
            return Some((palm.0 + finger.0, palm.1 + finger.1));
        }
        if let Some(at) = LENGTHS.iter().position(|length| *length == d) {
            let glove = *self.lengths.get(usize::from(side == Side::Right))?.get(at)?;
            return Some((glove - length_limit(at, false), glove + length_limit(at, true)));
        }
        let at = GIRTHS.iter().position(|girth| *girth == d)?;
        let (glove, meant) = (self.glove_girth_mm(side, d)?, *self.meant.get(at)?);
        // The room on the tight side changes with the hand, so that its end is searched.
        let (mut fits, mut tight) = (glove * (1.0 + meant), glove * (1.0 + meant + TIGHT_ROOM));
        while tight - fits > SEARCHED_MM {
            let middle = f64::midpoint(fits, tight);
            if middle / glove - 1.0 - meant <= rules.tight_room(d, middle) {
                fits = middle;
            } else {
                tight = middle;
            }
        }
        Some((glove * (1.0 + meant - LOOSE_ROOM), f64::midpoint(fits, tight)))
    }

    /// Strain of every zone of both hands: left then right, girths then lengths.
    fn strains(&self, wearer: &Wearer, mut each: impl FnMut(usize, usize, f64)) {
        for side in 0..2 {
            let girths = self.inverse_girths[side].iter().zip(&self.meant);
            let worn = wearer.girths[side].iter().zip(&wearer.tight_rooms[side]);
            for (zone, ((inverse, meant), (girth, room))) in girths.zip(worn).enumerate() {
                if self.counted[zone] {
                    let beyond = girth * inverse - 1.0 - meant;
                    each(side, zone, beyond / if beyond > 0.0 { *room } else { LOOSE_ROOM });
                }
            }
            let lengths = self.lengths[side].iter().zip(&wearer.lengths[side]);
            for (zone, (glove, hand)) in lengths.enumerate() {
                if self.counted[GIRTHS.len() + zone] {
                    let short = hand - glove;
                    each(side, GIRTHS.len() + zone, short / length_limit(zone, short > 0.0));
                }
            }
        }
    }

    /// How a pair of hands fits.
    #[must_use]
    pub fn fit(&self, wearer: &Wearer) -> Fit {
        let (mut sum, mut largest) = (0.0, 0.0_f64);
        self.strains(wearer, |_, _, u| {
            sum += u * u * cost(u > 0.0);
            largest = largest.max(u.abs());
        });
        let zones = self.counted.iter().filter(|counted| **counted).count().max(1);
        Fit { misfit: sum / (2 * zones) as f64, fits: largest <= 1.0 }
    }

    /// Where a pair of hands strains the size most.
    #[must_use]
    pub fn worst(&self, wearer: &Wearer) -> Strain {
        let mut worst = Strain { side: Side::Left, dimension: D::HandGirth, strain: 0.0 };
        self.strains(wearer, |side, zone, strain| {
            if strain.abs() > worst.strain.abs() {
                let zones = GIRTHS.into_iter().chain(LENGTHS);
                let dimension = zones.clone().nth(zone).unwrap_or(D::HandGirth);
                let side = if side == 0 { Side::Left } else { Side::Right };
                worst = Strain { side, dimension, strain };
            }
        });
        worst
    }
}

impl Size {
    /// The size with the least misfit over some wearers, all zones apart: in each, the misfit is a
    /// parabola on either side of the hand's own girth or length, so the least sum is a weighted
    /// mean whose weights follow the sides (an expectile: Newey and Powell 1987). This size where
    /// nobody wears it.
    #[must_use]
    pub fn centred(&self, wearers: &[&Wearer]) -> Size {
        let mut size = *self;
        if wearers.is_empty() {
            return size;
        }
        for side in 0..2 {
            for (zone, inverse) in size.inverse_girths[side].iter_mut().enumerate() {
                let whole = 1.0 + self.meant[zone];
                // In units of the inverse girth: the strain is (girth x inverse - whole) / room.
                *inverse = settled(*inverse, |inverse| {
                    wearers.iter().map(move |wearer| {
                        let girth = wearer.girths[side][zone];
                        let is_tight = girth * inverse > whole;
                        let room =
                            if is_tight { wearer.tight_rooms[side][zone] } else { LOOSE_ROOM };
                        let weight = cost(is_tight) * (girth / room).powi(2);
                        (weight, whole / girth)
                    })
                });
            }
            for (zone, length) in size.lengths[side].iter_mut().enumerate() {
                *length = settled(*length, |length| {
                    wearers.iter().map(move |wearer| {
                        let hand = wearer.lengths[side][zone];
                        let limit = length_limit(zone, hand > length);
                        (cost(hand > length) / (limit * limit), hand)
                    })
                });
            }
        }
        size
    }
}

fn cost(is_tight: bool) -> f64 {
    if is_tight { TIGHT_COST } else { 1.0 }
}

/// Steps until the sides no longer change; a handful in practice.
const STEPS: usize = 60;

/// Weighted mean of values whose weights depend on it, begun at `start`.
fn settled<I: Iterator<Item = (f64, f64)>>(start: f64, weighted: impl Fn(f64) -> I) -> f64 {
    let mut at = start;
    for _ in 0..STEPS {
        let (weight, sum) = weighted(at)
            .fold((0.0, 0.0), |(weight, sum), (w, value)| (weight + w, sum + w * value));
        let next = sum / weight;
        let is_settled = (next - at).abs() <= 1e-12 * at.abs();
        at = next;
        if is_settled {
            break;
        }
    }
    at
}
