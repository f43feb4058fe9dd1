//! Measuring somebody until enough is known, in an order.
#![allow(dead_code, reason = "each test file uses a part")]

use analysis::dimension::Dimension::{self, *};
use analysis::hand::{HandSummary, Hands, Side, Summary};
use analysis::model::{HandModel, Population};
use analysis::plan::{DEFAULT_TOLERANCE_MM, Plan, plan, seconds};

/// A list somebody might pin to the wall: whole hand, fingers, knuckles, then the rest.
pub const FIXED: [Dimension; 25] = [
    HandLength,
    HandBreadth,
    HandGirth,
    WristGirth,
    MiddleLength,
    IndexLength,
    RingLength,
    LittleLength,
    ThumbLength,
    MiddleKnuckleGirth,
    IndexKnuckleGirth,
    RingKnuckleGirth,
    LittleKnuckleGirth,
    ThumbKnuckleGirth,
    IndexTipGirth,
    MiddleTipGirth,
    RingTipGirth,
    LittleTipGirth,
    PalmLength,
    IndexMiddleWebHeight,
    MiddleRingWebHeight,
    RingLittleWebHeight,
    ThumbWebHeight,
    ThumbRootGirth,
    HandGirthOverThumb,
];

fn add(hand: &mut HandSummary, d: Dimension, mm: f64) {
    hand[d] = match hand[d] {
        None => Summary::of(&[mm]),
        Some(s) => {
            let count = s.count + 1;
            let mean = s.median_mm + (mm - s.median_mm) / count as f64;
            Some(Summary { count, median_mm: mean, ..s })
        }
    };
}

/// Readings taken, seconds spent and what is known, when `choose` says what to take next.
pub fn measure(
    model: &HandModel,
    population: Population,
    mut read: impl FnMut(Side, Dimension) -> f64,
    sides: &[Side],
    mut choose: impl FnMut(&Plan, usize) -> Option<(Side, Dimension)>,
) -> (f64, f64, Hands, bool) {
    let mut hands = Hands::default();
    let (mut readings, mut spent) = (0, 0.0);
    loop {
        let now = plan(model, population, &hands, sides, DEFAULT_TOLERANCE_MM);
        if now.enough() {
            return (readings as f64, spent, hands, true);
        }
        let Some((side, d)) = choose(&now, readings) else {
            return (readings as f64, spent, hands, false);
        };
        let mm = read(side, d);
        add(hands.side_mut(side), d, mm);
        readings += 1;
        spent += seconds(d);
    }
}
