//! Hands for simulations: drawn people with and without gaps, and readers of their values.
#![allow(dead_code, reason = "each test file uses a part")]

use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side, Summary};
use analysis::model::{HandModel, Population, Sampler};

use super::Deviates;

pub const ADULTS: [Population; 2] = [Population::Women, Population::Men];

pub fn keep(hands: &Hands, keep: impl Fn(Side, Dimension) -> bool) -> Hands {
    let mut out = hands.clone();
    for side in Side::BOTH {
        for d in Dimension::ALL {
            if !keep(side, d) {
                out.side_mut(side)[d] = None;
            }
        }
    }
    out
}

pub fn set(hands: &mut Hands, d: Dimension, mm: f64) {
    hands.right[d] = Summary::of(&[mm]);
}

pub fn get(hands: &Hands, d: Dimension) -> f64 {
    hands.right[d].map_or(f64::NAN, |s| s.median_mm)
}

pub fn measured(hands: &Hands) -> Vec<Dimension> {
    Dimension::ALL.into_iter().filter(|d| hands.right[*d].is_some()).collect()
}

/// Right hands drawn from the model, women then men; with gaps, a third of the dimensions is kept.
pub fn drawn(count: usize, seed: u64, gaps: bool) -> Vec<(Population, Hands)> {
    let model = HandModel::published();
    let mut out = Vec::new();
    for population in ADULTS {
        let Some(sampler) = Sampler::new(&model, population) else { continue };
        let mut deviates = Deviates::new(seed);
        for k in 0..count / 2 {
            let whole = sampler.readings(|| deviates.normal());
            let hands =
                keep(&whole, |side, d| side == Side::Right && (!gaps || (d.index() + k) % 3 == 0));
            out.push((population, hands));
        }
    }
    out
}
