//! Learning from a workshop whose people differ from the published ones.
#![expect(clippy::expect_used, reason = "a test fails by panicking")]

mod simulation;

use analysis::dimension::Dimension::{self, *};
use analysis::hand::{Hands, Side, Summary};
use analysis::model::workshop::{FEWEST_HANDS, learn};
use analysis::model::{HandModel, Population, Sampler};
use simulation::Deviates;

/// Invented women whose fingers are 6 % thicker than published, measured with gaps.
fn cast(count: usize, seed: u64) -> Vec<(Population, Hands)> {
    let model = HandModel::published();
    let sampler = Sampler::new(&model, Population::Women).expect("a population");
    let mut deviates = Deviates::new(seed);
    (0..count)
        .map(|_| {
            let mut hands = sampler.readings(|| deviates.normal());
            for side in Side::BOTH {
                for d in Dimension::ALL {
                    let gap = deviates.uniform() < 0.4;
                    let reading = hands.side(side)[d].map(|s| s.median_mm);
                    let thicker = if d.key().ends_with("knuckle_girth") { 1.06 } else { 1.0 };
                    hands.side_mut(side)[d] =
                        reading.filter(|_| !gap).and_then(|mm| Summary::of(&[mm * thicker]));
                }
            }
            (Population::Women, hands)
        })
        .collect()
}

#[test]
fn below_thirty_hands_nothing_changes() {
    let model = HandModel::published();
    let (same, learned) = learn(&model, &cast(FEWEST_HANDS / 2 - 1, 1));
    assert_eq!(learned, None);
    let hands = Hands::from_readings(&[(Side::Left, HandLength, 180.0)]);
    assert_eq!(same.fill(Population::Women, &hands), model.fill(Population::Women, &hands));
}

#[test]
fn a_workshop_with_thicker_fingers_is_learned_and_fills_them_better() {
    let model = HandModel::published();
    let (refined, learned) = learn(&model, &cast(150, 2));
    let learned = learned.expect("300 hands");
    assert_eq!(learned.hands, 300);
    assert!((learned.people[0] - 150.0).abs() < 1e-9 && learned.people[1] == 0.0);
    // 150 people against a prior of 30: the means go five sixths of the way to 6 %, known to about
    // half a per cent; lengths stay.
    let ratio = |d: Dimension| learned.ratio[0][d];
    for d in [IndexKnuckleGirth, MiddleKnuckleGirth, RingKnuckleGirth] {
        assert!((ratio(d) - 1.05).abs() < 0.012, "{}: {}", d.key(), ratio(d));
    }
    assert!((ratio(MiddleLength) - 1.0).abs() < 0.012, "{}", ratio(MiddleLength));
    let (mut before, mut after) = (0.0, 0.0);
    for (_, whole) in cast(100, 3) {
        let Some(girth) = whole.right[MiddleKnuckleGirth] else { continue };
        let mut hands = Hands::default();
        hands.right[HandLength] = whole.right[HandLength];
        hands.right[HandGirth] = whole.right[HandGirth];
        let error = |model: &HandModel| {
            let e = model.expected(Population::Women, &hands, Side::Right, MiddleKnuckleGirth);
            (e.mm - girth.median_mm).powi(2)
        };
        before += error(&model);
        after += error(&refined);
    }
    assert!(after < 0.8 * before, "{before} {after}");
}

#[test]
fn learning_keeps_the_identity_and_erasing_a_performer_takes_them_out() {
    let model = HandModel::published();
    let mut people = cast(40, 4);
    let (with, _) = learn(&model, &people);
    let hands = Hands::from_readings(&[(Side::Right, MiddleLength, 84.0)]);
    let filled = with.fill(Population::Women, &hands);
    let hand = filled.side(Side::Right);
    assert!((hand.mm(HandLength) - hand.mm(PalmLength) - hand.mm(MiddleLength)).abs() < 1e-9);
    people.pop();
    let (without, _) = learn(&model, &people);
    assert_ne!(without.fill(Population::Women, &hands), filled);
    let (again, _) = learn(&model, &people);
    assert_eq!(again.fill(Population::Women, &hands), without.fill(Population::Women, &hands));
}
