//! From the posterior of both hands to two complete hands that keep identity and order.

use super::joint::{Joint, Observation, SLOTS, slot};
use super::predictive::{Part, Predictive};
use super::{Basis, Estimate, HandEstimate};
use crate::dimension::{Dimension, PerDimension};
use crate::hand::Side;

/// An estimated end joint is kept at least this much thinner than its knuckle. Assumed; the
/// published ratio is .83 to .85.
const LARGEST_TIP_RATIO: f64 = 0.98;

/// Estimates of one hand from the posteriors under each population with its weight.
pub(crate) fn hand(
    side: Side,
    posteriors: &[(f64, [(f64, f64); SLOTS])],
    observations: &[Observation],
) -> HandEstimate {
    let mut estimates = PerDimension::from_fn(|d| {
        let parts: Vec<Part> = posteriors
            .iter()
            .map(|(weight, posterior)| {
                let (mean, variance) = posterior[slot(side, d)];
                Part { weight: *weight, mean, sd: variance.sqrt() }
            })
            .collect();
        let measured = observations.iter().any(|o| o.side == side && o.dimension == d);
        let basis = if measured { Basis::Measured } else { Basis::Estimated };
        Predictive::new(&parts).estimate(basis)
    });
    keep_order(&mut estimates);
    keep_identity(&mut estimates);
    HandEstimate::new(estimates)
}

/// Moves an estimate; its interval keeps its width on the log scale.
fn shift(estimate: &mut Estimate, by_mm: f64) {
    let factor = (estimate.mm + by_mm) / estimate.mm;
    estimate.mm += by_mm;
    estimate.low_mm *= factor;
    estimate.high_mm *= factor;
}

/// Palm + middle finger = hand length: what the logarithms leave over, a few tenths of a
/// millimetre, is shared out by variance.
fn keep_identity(estimates: &mut PerDimension<Estimate>) {
    let terms = [
        (Dimension::HandLength, 1.0),
        (Dimension::PalmLength, -1.0),
        (Dimension::MiddleLength, -1.0),
    ];
    let left_over: f64 = terms.iter().map(|(d, sign)| sign * estimates[*d].mm).sum();
    let weight = |e: &Estimate| (e.high_mm - e.low_mm).powi(2).max(f64::MIN_POSITIVE);
    let total: f64 = terms.iter().map(|(d, _)| weight(&estimates[*d])).sum();
    for (d, sign) in terms {
        let share = weight(&estimates[d]) / total;
        shift(&mut estimates[d], -sign * left_over * share);
    }
}

/// End joints are thinner than knuckles, and the ring-little web is the lowest. Only an estimated
/// value gives way; two readings that break the order are left to the checks.
fn keep_order(estimates: &mut PerDimension<Estimate>) {
    use Dimension::*;
    for (tip, knuckle) in [
        (IndexTipGirth, IndexKnuckleGirth),
        (MiddleTipGirth, MiddleKnuckleGirth),
        (RingTipGirth, RingKnuckleGirth),
        (LittleTipGirth, LittleKnuckleGirth),
    ] {
        below(estimates, tip, knuckle, LARGEST_TIP_RATIO);
    }
    below(estimates, RingLittleWebHeight, IndexMiddleWebHeight, 1.0);
    below(estimates, RingLittleWebHeight, MiddleRingWebHeight, 1.0);
    below(estimates, ThumbWebHeight, RingLittleWebHeight, 1.0);
}

fn below(estimates: &mut PerDimension<Estimate>, lower: Dimension, upper: Dimension, ratio: f64) {
    let excess = estimates[lower].mm - ratio * estimates[upper].mm;
    if excess <= 0.0 {
        return;
    }
    if estimates[lower].basis == Basis::Estimated {
        shift(&mut estimates[lower], -excess);
    } else if estimates[upper].basis == Basis::Estimated {
        shift(&mut estimates[upper], excess / ratio);
    }
}

/// Posterior weight of each population: prior times likelihood.
pub(crate) fn weights(joints: &[(f64, Joint<'_>)]) -> Vec<f64> {
    let terms: Vec<f64> = joints.iter().map(|(prior, j)| prior.ln() + j.log_likelihood).collect();
    let total = super::predictive::ln_sum_exp(&terms);
    terms.iter().map(|t| (t - total).exp()).collect()
}
