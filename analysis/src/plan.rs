//! Which measurement is worth taking next, and whether enough is known already.
//!
//! Given what was read, the model knows the covariance of every true dimension. One more reading
//! of dimension `c` with error variance `e` shrinks the variance of dimension `t` by
//! `cov(t, c)^2 / (var(c) + e)`, whatever it will read. So the reading to take next is the one that
//! takes most off the uncertainty of the draft, per second it costs.

use std::sync::OnceLock;

use nalgebra::DMatrix;
use serde::{Deserialize, Serialize};

use crate::dimension::{Dimension, Group, Instrument, PerDimension};
use crate::draft::{GloveOptions, sensitivity};
use crate::hand::{Hands, Side};
use crate::model::joint::{SLOTS, observations, slot};
use crate::model::{HandModel, Population};

/// Half a 90 % interval in standard deviations.
const HALF_WIDTH: f64 = 1.645;
/// Tolerance of tube girths and finger lengths, kept nine times in ten, mm. Assumed: what a knit
/// gives.
pub const DEFAULT_TOLERANCE_MM: f64 = 2.0;
/// Weight of a square millimetre of half-width against a halving (`ln 2`) of what is over the
/// tolerance. Assumed: so small that it only orders what is left when nothing is over.
const INSIDE_WEIGHT: f64 = 1e-5;
/// No dimension is proposed more often than this; a fourth reading says little.
const MOST_READINGS: usize = 3;

/// How far the draft moves with a dimension: millimetres of the glove, where it moves most, a
/// millimetre of the dimension. Computed from the drafting itself about the median woman's and
/// man's hand, with the options of the house, and the mean of the two taken; what the draft does
/// not read has no weight. Kept to tenths, so that it is the same on every machine and small changes
/// of the construction leave the plan alone.
#[must_use]
pub fn draft_sensitivity(d: Dimension) -> f64 {
    static COMPUTED: OnceLock<PerDimension<f64>> = OnceLock::new();
    COMPUTED.get_or_init(|| {
        let model = HandModel::published();
        let of = |population| {
            let median = model.fill(population, &Hands::default());
            sensitivity(median.side(Side::Right), &GloveOptions::default())
                .unwrap_or_else(|_| PerDimension::from_fn(|_| 1.0))
        };
        let (women, men) = (of(Population::Women), of(Population::Men));
        PerDimension::from_fn(|d| (f64::midpoint(women[d], men[d]) * 10.0).round() / 10.0)
    })[d]
}

/// Tolerance of a dimension as a multiple of the tolerance asked for; `None` where none is asked.
/// Tube girths of fingers and thumb, and finger lengths, are asked for in full. Palm and wrist,
/// where one reading of the tape is itself only good to 3 mm, get twice as much (assumed).
#[must_use]
pub fn tolerance_share(d: Dimension) -> Option<f64> {
    match d.group() {
        Group::FingerLength | Group::KnuckleGirth | Group::TipGirth => Some(1.0),
        _ if matches!(d, Dimension::HandGirth | Dimension::WristGirth) => Some(2.0),
        _ => None,
    }
}

/// Seconds one reading takes, tape found and laid. Assumed by instrument.
#[must_use]
pub fn seconds(d: Dimension) -> f64 {
    match d.instrument() {
        Instrument::Ruler => 10.0,
        Instrument::Calliper => 12.0,
        Instrument::Tape => 15.0,
    }
}

/// A dimension whose 90 % interval is wider than the tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Short {
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// Half the width of its 90 % interval, mm.
    pub half_width_mm: f64,
}

/// A reading that could be taken.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// Which hand.
    pub side: Side,
    /// Which dimension.
    pub dimension: Dimension,
    /// Whether it repeats a reading already taken.
    pub repeat: bool,
    /// What it takes off the logarithms of half-width over tolerance, weighted by the draft's
    /// sensitivity, a second.
    pub gain: f64,
    /// What it costs, seconds.
    pub seconds: f64,
}

/// What is still short of the tolerance and what to take next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// What is short of the tolerance, widest first.
    pub short: Vec<Short>,
    /// Readings that could be taken, best first.
    pub next: Vec<Candidate>,
}

impl Plan {
    /// Whether every toleranced dimension of the hands wanted is known well enough.
    #[must_use]
    pub fn enough(&self) -> bool {
        self.short.is_empty()
    }

    /// The same of one of the hands wanted.
    #[must_use]
    pub fn enough_of(&self, side: Side) -> bool {
        !self.short.iter().any(|short| short.side == side)
    }
}

/// Plans the next reading for the hands wanted. Readings are taken on those hands alone; what was
/// read of the other hand counts.
#[must_use]
pub fn plan(
    model: &HandModel,
    population: Population,
    hands: &Hands,
    sides: &[Side],
    tolerance_mm: f64,
) -> Plan {
    let observed = observations(hands);
    let belief = model.belief(population, &observed);
    let wanted: Vec<(Side, Dimension)> =
        sides.iter().flat_map(|s| Dimension::ALL.map(|d| (*s, d))).collect();
    let half_width =
        |at: usize, variance: f64| HALF_WIDTH * variance.max(0.0).sqrt() * belief.mm[at];
    let loss = |side: Side, d: Dimension, variance: f64| {
        let width = half_width(slot(side, d), variance);
        let over =
            tolerance_share(d).map_or(0.0, |share| (width / (share * tolerance_mm)).ln().max(0.0));
        draft_sensitivity(d) * (over + INSIDE_WEIGHT * width * width)
    };
    let mut short: Vec<Short> = wanted
        .iter()
        .filter_map(|(side, dimension)| {
            let share = tolerance_share(*dimension)?;
            let at = slot(*side, *dimension);
            let half_width_mm = half_width(at, belief.covariance[(at, at)]);
            (half_width_mm > share * tolerance_mm).then_some(Short {
                side: *side,
                dimension: *dimension,
                half_width_mm,
            })
        })
        .collect();
    short.sort_by(|a, b| b.half_width_mm.total_cmp(&a.half_width_mm));
    let mut next: Vec<Candidate> = wanted
        .iter()
        .filter_map(|(side, dimension)| {
            let taken = hands.side(*side)[*dimension].map_or(0, |s| s.count);
            if taken >= MOST_READINGS {
                return None;
            }
            let at = slot(*side, *dimension);
            let error = dimension.measuring_error_mm() / belief.mm[at];
            let own = belief.covariance[(at, at)] + error * error;
            let gain: f64 = wanted
                .iter()
                .map(|(s, d)| {
                    let t = slot(*s, *d);
                    let before = belief.covariance[(t, t)];
                    let after = before - belief.covariance[(t, at)].powi(2) / own;
                    loss(*s, *d, before) - loss(*s, *d, after)
                })
                .sum();
            let seconds = seconds(*dimension);
            Some(Candidate {
                side: *side,
                dimension: *dimension,
                repeat: taken > 0,
                // To a thousand-millionth: equal gains of left and right are then equal, and stand in
                // the order of the hands on every machine.
                gain: (gain / seconds * 1e9).round() / 1e9,
                seconds,
            })
        })
        .collect();
    next.sort_by(|a, b| b.gain.total_cmp(&a.gain));
    Plan { short, next }
}

/// The numbers of the plan, for a program that plans elsewhere.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanNumbers {
    /// Half a 90 % interval in standard deviations.
    pub half_width: f64,
    /// Weight of a square millimetre inside the tolerance.
    pub inside_weight: f64,
    /// Readings of one dimension at most.
    pub most_readings: usize,
    /// [`DEFAULT_TOLERANCE_MM`].
    pub tolerance_mm: f64,
    /// By dimension: [`draft_sensitivity`].
    pub sensitivity: Vec<f64>,
    /// By dimension: [`tolerance_share`].
    pub share: Vec<Option<f64>>,
    /// By dimension: [`seconds`].
    pub seconds: Vec<f64>,
}

impl PlanNumbers {
    /// The numbers in force.
    #[must_use]
    pub fn published() -> PlanNumbers {
        PlanNumbers {
            half_width: HALF_WIDTH,
            inside_weight: INSIDE_WEIGHT,
            most_readings: MOST_READINGS,
            tolerance_mm: DEFAULT_TOLERANCE_MM,
            sensitivity: Dimension::ALL.map(draft_sensitivity).into(),
            share: Dimension::ALL.map(tolerance_share).into(),
            seconds: Dimension::ALL.map(seconds).into(),
        }
    }
}

/// Expected values and covariance of the true log dimensions of both hands.
pub(crate) struct Belief {
    /// Central values, mm, by slot.
    pub mm: [f64; SLOTS],
    /// Covariance of logarithms.
    pub covariance: DMatrix<f64>,
}
