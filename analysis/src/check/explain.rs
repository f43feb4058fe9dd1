//! Which explanation of an odd reading is likeliest: the search over slips.

use super::evidence::{Evidence, ln_normal};
use super::slip::{
    ANYTHING_SHARE, ANYTHING_WIDTH, BREADTH_RATE, BREADTH_SPREAD, NEIGHBOURS_RATE, SCALES,
    SIDES_RATE, ScaleSlip, Slip, UNEXPLAINED_RATE, UNEXPLAINED_SPREAD, candidates,
    girth_over_breadth,
};
use crate::hand::Side;
use crate::model::joint::Observation;
use crate::model::predictive::ln_sum_exp;

/// What the readings are taken to have suffered.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Event {
    /// One reading, one slip.
    One(usize, Slip),
    /// Two neighbouring fields of one hand changed places.
    Neighbours(usize, usize),
    /// Left and right of one dimension changed places.
    Sides(usize, usize),
    /// Every reading of a hand, or of both, in another unit.
    Whole(Option<Side>, &'static ScaleSlip),
}

/// An event with the log values it puts right and its log odds against "nothing happened".
#[derive(Debug, Clone)]
pub(crate) struct Explanation {
    pub event: Event,
    pub changes: Vec<(usize, f64)>,
    pub ln_odds: f64,
}

impl Explanation {
    /// Log odds are kept to a millionth: explanations that are equally likely by symmetry are then
    /// equal, and the order decides between them, not the last bit.
    fn new(event: Event, changes: Vec<(usize, f64)>, ln_odds: f64) -> Explanation {
        Explanation { event, changes, ln_odds: (ln_odds * 1e6).round() / 1e6 }
    }

    /// Whether it is about reading `i`.
    pub fn concerns(&self, i: usize) -> bool {
        match &self.event {
            Event::One(of, _) => *of == i,
            _ => self.changes.iter().any(|(of, _)| *of == i),
        }
    }

    /// Whether the two have a reading in common.
    fn meets(&self, other: &Explanation) -> bool {
        match &self.event {
            Event::One(of, _) => other.concerns(*of),
            _ => self.changes.iter().any(|(of, _)| other.concerns(*of)),
        }
    }

    /// Whether it says what happened.
    pub fn names(&self) -> bool {
        self.repairs() || matches!(self.event, Event::One(_, Slip::BreadthForGirth))
    }

    /// Whether it says what the true values are.
    pub fn repairs(&self) -> bool {
        !self.changes.is_empty()
    }

    /// The explanations of `found` about the same readings that are nearly as likely, itself
    /// first, the others likeliest first.
    pub fn and_close<'a>(&'a self, found: &'a [Explanation]) -> Vec<&'a Explanation> {
        let mut close: Vec<&Explanation> = found
            .iter()
            .filter(|e| e.event != self.event && e.ln_odds > self.ln_odds - CLOSE.ln())
            .filter(|e| self.meets(e))
            .collect();
        close.sort_by(|a, b| b.ln_odds.total_cmp(&a.ln_odds));
        close.insert(0, self);
        close
    }
}

/// A second explanation is shown when its odds are within this factor of the first. Assumed.
pub(super) const CLOSE: f64 = 20.0;
/// A reading nearer than this to its prediction, in conditional SDs, needs no explanation: no slip
/// can gain more than exp(1.8^2 / 2) = 5, which times its rarity stays far below the odds of a flag.
pub(super) const UNREMARKABLE: f64 = 1.8;
/// Log odds below which a whole hand in another unit is not even a rival.
pub(super) const HOPELESS: f64 = -10.0;
/// A whole hand in another unit is looked for from this many readings.
pub(super) const WHOLE_HAND_FROM: usize = 3;

/// Every explanation worth a thought, for the readings as they stand.
pub(crate) fn explanations(evidence: &Evidence, readings: &[Observation]) -> Vec<Explanation> {
    let mut out = Vec::new();
    let live = |i: usize| !evidence.is_dropped(i);
    let odd: Vec<bool> = (0..readings.len())
        .map(|i| live(i) && evidence.smallest_residual(i) > UNREMARKABLE)
        .collect();
    for (i, o) in readings.iter().enumerate().filter(|(i, _)| odd[*i]) {
        for (slip, true_mm, ln_prior) in candidates(o.dimension, typed(evidence.log_mm(i))) {
            let changes = vec![(i, true_mm.ln())];
            let ln_odds = ln_prior + evidence.gain(&changes);
            out.push(Explanation::new(Event::One(i, slip), changes, ln_odds));
        }
        if let Some(ratio) = girth_over_breadth(o.dimension) {
            let gain = evidence.gain_if_unexplained(i, |residual, variance| {
                ln_normal(residual + ratio.ln(), variance + BREADTH_SPREAD * BREADTH_SPREAD)
            });
            let ln_odds = BREADTH_RATE.ln() + gain;
            out.push(Explanation::new(Event::One(i, Slip::BreadthForGirth), Vec::new(), ln_odds));
        }
        let gain = evidence.gain_if_unexplained(i, unexplained);
        let ln_odds = UNEXPLAINED_RATE.ln() + gain;
        out.push(Explanation::new(Event::One(i, Slip::Unexplained), Vec::new(), ln_odds));
    }
    for i in 0..readings.len() {
        for j in (i + 1)..readings.len() {
            if !(odd[i] || odd[j]) || !(live(i) && live(j)) {
                continue;
            }
            let (a, b) = (&readings[i], &readings[j]);
            let (event, rate) = if a.side == b.side && j == i + 1 {
                (Event::Neighbours(i, j), NEIGHBOURS_RATE)
            } else if a.side != b.side && a.dimension == b.dimension {
                (Event::Sides(i, j), SIDES_RATE)
            } else {
                continue;
            };
            let changes = vec![(i, evidence.log_mm(j)), (j, evidence.log_mm(i))];
            let ln_odds = rate.ln() + evidence.gain(&changes);
            out.push(Explanation::new(event, changes, ln_odds));
        }
    }
    for side in [None, Some(Side::Left), Some(Side::Right)] {
        let members: Vec<usize> = (0..readings.len())
            .filter(|i| live(*i) && side.is_none_or(|s| readings[*i].side == s))
            .collect();
        let both = Side::BOTH.iter().all(|s| members.iter().any(|i| readings[*i].side == *s));
        if members.len() < WHOLE_HAND_FROM || (side.is_none() && !both) {
            continue;
        }
        let shifts = SCALES.each_ref().map(|scale| -scale.factor.ln());
        let gains = evidence.gains_of_shifts(&members, &shifts);
        for ((scale, shift), gain) in SCALES.iter().zip(shifts).zip(gains) {
            let ln_odds = scale.whole_hand_rate.ln() + gain;
            if ln_odds > HOPELESS {
                let changes = members.iter().map(|i| (*i, evidence.log_mm(*i) + shift)).collect();
                out.push(Explanation::new(Event::Whole(side, scale), changes, ln_odds));
            }
        }
    }
    out
}

/// Back from a logarithm to the value as typed: its digits are the typed ones, and half a tenth is
/// rounded the same way whatever the last bit of `exp`.
pub(crate) fn typed(log_mm: f64) -> f64 {
    (log_mm.exp() * 1e6).round() / 1e6
}

/// Log density of a recorded value that some unknown error produced.
fn unexplained(residual: f64, variance: f64) -> f64 {
    let near = ln_normal(residual, variance + UNEXPLAINED_SPREAD * UNEXPLAINED_SPREAD);
    ln_sum_exp(&[(1.0 - ANYTHING_SHARE).ln() + near, (ANYTHING_SHARE / ANYTHING_WIDTH).ln()])
}
