//! Invariants of filling, over hands drawn to cause trouble.

use analysis::dimension::Dimension::{self, *};
use analysis::hand::{Hands, Side};
use analysis::model::{Basis, HandModel, Population};
use proptest::prelude::*;

fn readings() -> impl Strategy<Value = Vec<(Side, Dimension, f64)>> {
    let one = (any::<bool>(), 0..Dimension::COUNT, -3.0..3.0_f64);
    prop::collection::vec(one, 0..30).prop_map(|all| {
        let model = HandModel::published();
        all.into_iter()
            .map(|(left, index, z)| {
                let d = Dimension::ALL[index];
                let of = model.reading(Population::Women, d);
                let side = if left { Side::Left } else { Side::Right };
                (side, d, (of.mu + z * of.sigma).exp())
            })
            .collect()
    })
}

fn populations() -> impl Strategy<Value = Population> {
    prop::sample::select(Population::all())
}

proptest! {
    #[test]
    fn the_order_of_readings_does_not_matter(readings in readings(), population in populations()) {
        let model = HandModel::published();
        let mut turned = readings.clone();
        turned.reverse();
        prop_assert_eq!(
            model.fill(population, &Hands::from_readings(&readings)),
            model.fill(population, &Hands::from_readings(&turned))
        );
    }

    #[test]
    fn identity_and_intervals_hold_in_every_filled_hand(
        readings in readings(),
        population in populations(),
    ) {
        let hands = Hands::from_readings(&readings);
        let filled = HandModel::published().fill(population, &hands);
        for side in Side::BOTH {
            let hand = filled.side(side);
            let sum = hand.mm(PalmLength) + hand.mm(MiddleLength);
            prop_assert!((hand.mm(HandLength) - sum).abs() < 1e-9);
            for (d, e) in hand.iter() {
                prop_assert!(e.mm > 0.0 && e.low_mm <= e.mm && e.mm <= e.high_mm);
                let measured = hands.side(side)[d].is_some();
                prop_assert_eq!(e.basis == Basis::Measured, measured);
            }
        }
        let total: f64 = filled.weights.iter().map(|(_, w)| w).sum();
        prop_assert!((total - 1.0).abs() < 1e-9);
    }

    #[test]
    fn estimated_end_joints_stay_below_their_knuckles(
        readings in readings(),
        population in populations(),
    ) {
        let hands = Hands::from_readings(&readings);
        let filled = HandModel::published().fill(population, &hands);
        for side in Side::BOTH {
            let hand = filled.side(side);
            for (tip, knuckle) in [
                (IndexTipGirth, IndexKnuckleGirth),
                (MiddleTipGirth, MiddleKnuckleGirth),
                (RingTipGirth, RingKnuckleGirth),
                (LittleTipGirth, LittleKnuckleGirth),
            ] {
                let measured = |d: Dimension| hands.side(side)[d].is_some();
                if !(measured(tip) && measured(knuckle)) {
                    prop_assert!(hand.mm(tip) < hand.mm(knuckle));
                }
            }
        }
    }

    #[test]
    fn within_one_population_a_further_reading_never_widens_an_interval(
        readings in readings(),
        extra in readings(),
    ) {
        let model = HandModel::published();
        let log_width = |readings: &[(Side, Dimension, f64)], side: Side, d: Dimension| {
            let filled = model.fill(Population::Men, &Hands::from_readings(readings));
            let e = filled.side(side).get(d);
            // The middle of an interval may move, so its width is compared on the log scale.
            (e.high_mm / e.low_mm).ln()
        };
        let already: Vec<_> = readings.iter().map(|(s, d, _)| (*s, *d)).collect();
        let mut more = readings.clone();
        more.extend(extra.into_iter().filter(|(s, d, _)| !already.contains(&(*s, *d))).take(1));
        for side in Side::BOTH {
            for d in Dimension::ALL {
                prop_assert!(log_width(&more, side, d) <= log_width(&readings, side, d) + 1e-9);
            }
        }
    }
}

#[test]
fn a_measured_value_is_shown_close_to_its_reading_and_a_hand_informs_the_other() {
    let model = HandModel::published();
    let hands = Hands::from_readings(&[
        (Side::Right, HandLength, 190.0),
        (Side::Right, HandGirth, 195.0),
        (Side::Right, MiddleLength, 84.0),
    ]);
    let filled = model.fill(Population::Women, &hands);
    assert!((filled.right.mm(MiddleLength) - 84.0).abs() < 1.0);
    assert!((filled.right.mm(HandLength) - 190.0).abs() < 1.0);
    assert!((filled.left.mm(MiddleLength) - filled.right.mm(MiddleLength)).abs() < 1.0);
    assert_eq!(filled.left.get(MiddleLength).basis, Basis::Estimated);
    let width = |side: Side| {
        let e = filled.side(side).get(MiddleLength);
        e.high_mm - e.low_mm
    };
    assert!(width(Side::Left) > width(Side::Right));
}

#[test]
fn unspecified_adults_follow_the_readings_to_the_likelier_sex() {
    let model = HandModel::published();
    let small =
        Hands::from_readings(&[(Side::Left, HandGirth, 178.0), (Side::Left, HandLength, 172.0)]);
    let filled = model.fill(Population::Adults, &small);
    assert_eq!(filled.weights[0].0, Population::Women);
    assert!(filled.weights[0].1 > 0.9);
    let nobody = model.fill(Population::Adults, &Hands::default());
    assert!((nobody.weights[0].1 - 0.5).abs() < 1e-12);
}
