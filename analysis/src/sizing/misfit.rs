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
use crate::hand::Side;
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

/// What decides how a glove fits: the ease it was drafted with and what the fabric stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitRules {
    reduction: GirthReduction,
    usable_extension: f64,
    curve: Option<TensionCurve>,
}

impl FitRules {
    /// The rules behind a draft's options.
    #[must_use]
    pub fn of(options: &GloveOptions) -> FitRules {
        FitRules {
            reduction: options.reduction,
            usable_extension: options.usable_across(),
            curve: options.fabric.and_then(|fabric| fabric.curve),
        }
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

/// A size: gloves drafted for one pair of hands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// One over the girth of the glove before it is stretched, 1/mm.
    inverse_girths: [[f64; GIRTHS.len()]; 2],
    meant: [f64; GIRTHS.len()],
    lengths: [[f64; LENGTHS.len()]; 2],
}

/// Where and how a pair of hands strains a size most.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
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
        }
    }

    /// Girth of the glove before it is stretched, mm.
    #[must_use]
    pub fn glove_girth_mm(&self, side: Side, girth: Dimension) -> Option<f64> {
        let at = GIRTHS.iter().position(|d| *d == girth)?;
        let sides = Side::BOTH.iter().zip(&self.inverse_girths);
        sides.filter(|(s, _)| **s == side).find_map(|(_, row)| row.get(at)).map(|x| 1.0 / x)
    }

    /// Strain of every zone of both hands: left then right, girths then lengths.
    fn strains(&self, wearer: &Wearer, mut each: impl FnMut(usize, usize, f64)) {
        for side in 0..2 {
            let girths = self.inverse_girths[side].iter().zip(&self.meant);
            let worn = wearer.girths[side].iter().zip(&wearer.tight_rooms[side]);
            for (zone, ((inverse, meant), (girth, room))) in girths.zip(worn).enumerate() {
                let beyond = girth * inverse - 1.0 - meant;
                each(side, zone, beyond / if beyond > 0.0 { *room } else { LOOSE_ROOM });
            }
            let lengths = self.lengths[side].iter().zip(&wearer.lengths[side]);
            for (zone, (glove, hand)) in lengths.enumerate() {
                let short = hand - glove;
                let limit = match (zone == 0, short > 0.0) {
                    (true, true) => SHORT_PALM_MM,
                    (true, false) => LONG_PALM_MM,
                    (false, true) => SHORT_FINGER_MM,
                    (false, false) => LONG_FINGER_MM,
                };
                each(side, GIRTHS.len() + zone, short / limit);
            }
        }
    }

    /// How a pair of hands fits.
    #[must_use]
    pub fn fit(&self, wearer: &Wearer) -> Fit {
        let (mut sum, mut largest) = (0.0, 0.0_f64);
        self.strains(wearer, |_, _, u| {
            sum += u * u * if u > 0.0 { TIGHT_COST } else { 1.0 };
            largest = largest.max(u.abs());
        });
        Fit { misfit: sum / (2 * ZONES) as f64, fits: largest <= 1.0 }
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

/// Misfit and fit of every wearer in every size.
#[derive(Debug, Clone, PartialEq)]
pub struct FitTable {
    wearers: usize,
    /// By size, then by wearer.
    misfits: Vec<f64>,
    fits: Vec<bool>,
}

impl FitTable {
    /// Tries every wearer in every size.
    #[must_use]
    pub fn new(wearers: &[Wearer], sizes: &[Size]) -> FitTable {
        let cells = wearers.len() * sizes.len();
        let (mut misfits, mut fits) = (Vec::with_capacity(cells), Vec::with_capacity(cells));
        for size in sizes {
            for wearer in wearers {
                let fit = size.fit(wearer);
                misfits.push(fit.misfit);
                fits.push(fit.fits);
            }
        }
        FitTable { wearers: wearers.len(), misfits, fits }
    }

    /// A table of misfits alone, by size, then by wearer; everybody counts as fitting.
    #[must_use]
    pub fn from_misfits(rows: &[Vec<f64>]) -> FitTable {
        let misfits: Vec<f64> = rows.concat();
        let fits = vec![true; misfits.len()];
        FitTable { wearers: rows.first().map_or(0, Vec::len), misfits, fits }
    }

    /// How many wearers.
    #[must_use]
    pub fn wearers(&self) -> usize {
        self.wearers
    }

    /// How many sizes.
    #[must_use]
    pub fn sizes(&self) -> usize {
        self.misfits.len().checked_div(self.wearers).unwrap_or(0)
    }

    /// Misfit of every wearer in one size.
    #[must_use]
    pub fn misfits(&self, size: usize) -> &[f64] {
        self.misfits.get(size * self.wearers..(size + 1) * self.wearers).unwrap_or_default()
    }

    /// Fit of one wearer in one size.
    #[must_use]
    pub fn fit(&self, size: usize, wearer: usize) -> Option<Fit> {
        let at = size * self.wearers + wearer;
        Some(Fit { misfit: *self.misfits.get(at)?, fits: *self.fits.get(at)? })
    }

    /// The size of `sizes` for one wearer: of those that fit the one with least misfit, or where
    /// none fits, the one with least misfit. Position in `sizes`, with its fit.
    #[must_use]
    pub fn best(&self, sizes: &[usize], wearer: usize) -> Option<(usize, Fit)> {
        best_of(sizes.iter().filter_map(|size| self.fit(*size, wearer)))
    }
}

/// Of those that fit the one with least misfit, or where none fits, the one with least misfit.
pub(super) fn best_of(fits: impl Iterator<Item = Fit>) -> Option<(usize, Fit)> {
    let rank = |fit: &Fit| (!fit.fits, fit.misfit);
    fits.enumerate().min_by(|(_, a), (_, b)| {
        let (a, b) = (rank(a), rank(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    })
}
