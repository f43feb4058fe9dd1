//! Slips injected into drawn people: what is found, what is repaired right at first offer, and
//! what is flagged for nothing. The bounds are those the product sets itself.
#![expect(clippy::expect_used, reason = "a test fails by panicking")]

mod simulation;

use analysis::check::{Flag, FlagKind, check_hands, check_reading};
use analysis::dimension::Dimension::{self, *};
use analysis::hand::{Hands, Side, Summary};
use analysis::model::{HandModel, Population, Sampler};
use simulation::Deviates;

const FIVE: [Dimension; 5] = [HandLength, HandBreadth, HandGirth, WristGirth, MiddleLength];
const ADULTS: [Population; 2] = [Population::Women, Population::Men];

fn keep(hands: &Hands, keep: impl Fn(Side, Dimension) -> bool) -> Hands {
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

fn set(hands: &mut Hands, side: Side, d: Dimension, mm: f64) {
    hands.side_mut(side)[d] = Summary::of(&[mm]);
}

fn get(hands: &Hands, side: Side, d: Dimension) -> f64 {
    hands.side(side)[d].map_or(f64::NAN, |s| s.median_mm)
}

/// People of both sexes, right hand: every other one complete, the rest with a third of it.
fn people(count: usize, seed: u64) -> Vec<(Population, Hands, Deviates)> {
    let model = HandModel::published();
    let mut out = Vec::new();
    for population in ADULTS {
        let sampler = Sampler::new(&model, population).expect("a population");
        let mut deviates = Deviates::new(seed);
        for k in 0..count / 2 {
            let whole = sampler.readings(|| deviates.normal());
            let hands = keep(&whole, |side, d| {
                side == Side::Right && (k % 2 == 0 || (d.index() + k / 2) % 3 == 0)
            });
            out.push((population, hands, Deviates::new(deviates.bits())));
        }
    }
    out
}

fn measured(hands: &Hands) -> Vec<Dimension> {
    Dimension::ALL.into_iter().filter(|d| hands.right[*d].is_some()).collect()
}

/// First repair offered for this reading.
fn first_offer(flags: &[Flag], d: Dimension) -> Option<f64> {
    let flag = flags
        .iter()
        .find(|f| f.dimension == Some(d) || (f.dimension.is_none() && !f.repairs.is_empty()))?;
    let repair = flag.repairs.first()?;
    repair.values.iter().find(|(_, e, _)| *e == d).map(|(_, _, mm)| *mm)
}

/// Share found and share repaired right at first offer, in per cent.
fn single_slips(slip: impl Fn(f64) -> Option<(f64, f64)>) -> (f64, f64) {
    let model = HandModel::published();
    let (mut all, mut found, mut right) = (0.0, 0.0, 0.0);
    for (population, hands, mut deviates) in people(600, 7) {
        let dimensions = measured(&hands);
        let d = dimensions[deviates.below(dimensions.len())];
        let truth = get(&hands, Side::Right, d);
        let Some((typed, tolerance)) = slip(truth) else { continue };
        let e = model.expected(population, &hands, Side::Right, d);
        let conditional_sd = (e.high_mm - e.low_mm) / 3.29;
        if (typed - truth).abs() < 5.0 * conditional_sd {
            continue;
        }
        let mut slipped = hands.clone();
        set(&mut slipped, Side::Right, d, typed);
        let flags = check_hands(&model, population, &slipped);
        all += 1.0;
        found += f64::from(u8::from(flags.iter().any(|f| f.dimension == Some(d))));
        let offer = first_offer(&flags, d);
        right += f64::from(u8::from(offer.is_some_and(|mm| (mm - truth).abs() <= tolerance)));
    }
    assert!(all > 200.0, "only {all} slips");
    (100.0 * found / all, 100.0 * right / all)
}

#[test]
fn clean_hands_seldom_carry_a_flag() {
    let model = HandModel::published();
    let (mut with_all, mut with_five, mut people) = (0.0, 0.0, 0.0);
    for population in ADULTS {
        let sampler = Sampler::new(&model, population).expect("a population");
        let mut deviates = Deviates::new(41);
        for _ in 0..1500 {
            let hands = sampler.readings(|| deviates.normal());
            let one = keep(&hands, |side, _| side == Side::Right);
            let few = keep(&one, |_, d| FIVE.contains(&d));
            let flagged = |hands: &Hands| {
                f64::from(u8::from(!check_hands(&model, population, hands).is_empty()))
            };
            with_all += flagged(&one);
            with_five += flagged(&few);
            people += 1.0;
        }
    }
    assert!(with_all / people <= 0.02, "{with_all} of {people} complete hands");
    assert!(with_five / people <= 0.01, "{with_five} of {people} hands of five readings");
}

#[test]
fn one_value_in_another_unit_is_found_and_repaired() {
    type Slip = fn(f64) -> f64;
    let sixteenth = 25.4 / 16.0;
    let kinds: [(&str, Slip, f64); 3] = [
        ("centimetres", |mm| mm / 10.0, 0.05),
        // Typed to the nearest eighth of an inch.
        ("inches", |mm| (mm / 25.4 * 8.0).round() / 8.0, sixteenth + 0.05),
        ("ten times", |mm| mm * 10.0, 0.05),
    ];
    for (name, slip, tolerance) in kinds {
        let (found, right) = single_slips(|mm| Some((slip(mm), tolerance)));
        assert!(found >= 99.0 && right >= 97.0, "{name}: found {found} %, right {right} %");
    }
}

#[test]
fn swapped_digits_and_the_ten_centimetre_mark_are_found_and_repaired() {
    let swapped = |mm: f64| {
        let (tens, ones) = ((mm / 10.0).floor() % 10.0, mm % 10.0);
        let typed = mm - 10.0 * tens - ones + 10.0 * ones + tens;
        (typed >= 10.0).then_some((typed, 0.05))
    };
    let (found, right) = single_slips(swapped);
    assert!(found >= 95.0 && right >= 85.0, "digits: found {found} %, right {right} %");
    let (found, right) = single_slips(|mm| Some((mm + 100.0, 0.05)));
    assert!(found >= 95.0 && right >= 85.0, "10 cm mark: found {found} %, right {right} %");
}

#[test]
fn two_neighbouring_fields_exchanged_are_found_and_repaired() {
    let model = HandModel::published();
    let (mut all, mut found, mut right) = (0.0, 0.0, 0.0);
    for (population, hands, mut deviates) in people(1200, 9) {
        let dimensions = measured(&hands);
        let at = deviates.below(dimensions.len() - 1);
        let (a, b) = (dimensions[at], dimensions[at + 1]);
        let (mm_a, mm_b) = (get(&hands, Side::Right, a), get(&hands, Side::Right, b));
        let sds = |d: Dimension| {
            let e = model.expected(population, &hands, Side::Right, d);
            (mm_a - mm_b).abs() / ((e.high_mm - e.low_mm) / 3.29)
        };
        if sds(a).max(sds(b)) < 5.0 {
            continue;
        }
        let mut slipped = hands.clone();
        set(&mut slipped, Side::Right, a, mm_b);
        set(&mut slipped, Side::Right, b, mm_a);
        let flags = check_hands(&model, population, &slipped);
        all += 1.0;
        found += f64::from(u8::from(
            flags.iter().any(|f| f.dimension == Some(a) || f.dimension == Some(b)),
        ));
        let offers = (first_offer(&flags, a), first_offer(&flags, b));
        right += f64::from(u8::from(offers == (Some(mm_a), Some(mm_b))));
    }
    assert!(all > 200.0, "only {all} exchanges");
    let (found, right) = (100.0 * found / all, 100.0 * right / all);
    assert!(found >= 95.0 && right >= 85.0, "found {found} %, right {right} %");
}

#[test]
fn a_whole_hand_in_another_unit_is_found_and_repaired() {
    let model = HandModel::published();
    for (name, factor) in [("centimetres", 0.1), ("inches", 1.0 / 25.4)] {
        let (mut all, mut found, mut right) = (0.0, 0.0, 0.0);
        for (population, hands, _) in people(400, 11) {
            let mut slipped = hands.clone();
            for d in measured(&hands) {
                set(&mut slipped, Side::Right, d, get(&hands, Side::Right, d) * factor);
            }
            let flags = check_hands(&model, population, &slipped);
            all += 1.0;
            found += f64::from(u8::from(flags.iter().any(|f| f.kind == FlagKind::WholeHandUnit)));
            let restored = measured(&hands).into_iter().all(|d| {
                first_offer(&flags, d)
                    .is_some_and(|mm| (mm - get(&hands, Side::Right, d)).abs() < 0.05)
            });
            right += f64::from(u8::from(restored));
        }
        assert!(
            found / all >= 0.99 && right / all >= 0.98,
            "{name}: found {found}, repaired {right} of {all}"
        );
    }
}

#[test]
fn a_reading_is_answered_as_it_is_typed_in_one_plain_sentence() {
    let model = HandModel::published();
    let hands = Hands::from_readings(&[
        (Side::Right, HandLength, 183.0),
        (Side::Right, PalmLength, 104.0),
        (Side::Right, IndexLength, 72.0),
    ]);
    let check =
        |mm: f64| check_reading(&model, Population::Women, &hands, Side::Right, MiddleLength, mm);
    assert_eq!(check(79.0), []);
    let flags = check(97.0);
    let [flag] = flags.as_slice() else { panic!("one flag, not {flags:?}") };
    assert_eq!(flag.kind, FlagKind::LikelySlip);
    assert_eq!(flag.repairs[0].label, "Use 79 mm");
    assert!(flag.sentence.starts_with("Middle finger length 97 mm. From the other readings 79 mm"));
    assert!(flag.sentence.ends_with("79 with its digits swapped reads 97."), "{}", flag.sentence);
}
