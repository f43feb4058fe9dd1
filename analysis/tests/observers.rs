//! Measurers with known faults, simulated: each fault is reported, and a good measurer is left alone.
#![expect(clippy::expect_used, reason = "a test fails by panicking")]

mod simulation;

use analysis::dimension::Dimension::{self, *};
use analysis::hand::Side;
use analysis::model::{HandModel, Population, Sampler};
use analysis::observer::{Taken, observe};
use simulation::Deviates;

const MEASURED: [Dimension; 8] = [
    HandLength,
    PalmLength,
    HandBreadth,
    HandGirth,
    WristGirth,
    MiddleLength,
    IndexLength,
    MiddleKnuckleGirth,
];

/// Readings of 40 women's right hands, each dimension twice, by `measurer` with the given fault.
fn readings(seed: u64, measurer: usize, fault: impl Fn(Dimension, f64, f64) -> f64) -> Vec<Taken> {
    let model = HandModel::published();
    let sampler = Sampler::new(&model, Population::Women).expect("a population");
    let mut deviates = Deviates::new(seed);
    let mut out = Vec::new();
    for person in 0..40 {
        let truth = sampler.truth(|| deviates.normal());
        for d in MEASURED {
            for _ in 0..2 {
                let mm = truth[Side::Right as usize][d.index()];
                let mm = fault(d, mm, d.measuring_error_mm() * deviates.normal());
                out.push(Taken { measurer, person, side: Side::Right, dimension: d, mm });
            }
        }
    }
    out
}

#[test]
fn a_good_measurer_is_left_alone() {
    let model = HandModel::published();
    let taken = readings(5, 3, |_, mm, error| (mm + error).round());
    let [report] = observe(&model, &[Population::Women; 40], &taken).try_into().expect("one");
    assert_eq!((report.measurer, report.readings), (3, 640));
    assert!(report.repeats.iter().all(|r| !r.flagged && r.freedom == 40), "{:?}", report.repeats);
    assert!(report.biases.iter().all(|b| !b.flagged), "{:?}", report.biases);
    assert!(!report.digits.expect("640 readings").flagged);
    for r in &report.repeats {
        // With 40 pairs the technical error is known to 11 %, rounding adds a twelfth of a mm^2.
        assert!((r.tem_mm / r.usual_mm - 1.0).abs() < 0.4 && r.reliability > 0.85, "{r:?}");
    }
}

#[test]
fn careless_repeats_a_slack_tape_and_round_fives_are_reported() {
    let model = HandModel::published();
    let mut taken = readings(5, 1, |d, mm, error| {
        (mm + if d == MiddleLength { 3.0 * error } else { error }).round()
    });
    taken.extend(
        readings(6, 2, |d, mm, error| {
            let slack = if d == WristGirth { 6.0 } else { 0.0 };
            ((mm + slack + error) / 5.0).round() * 5.0
        })
        .into_iter()
        .map(|t| Taken { person: t.person + 40, ..t }),
    );
    let reports = observe(&model, &[Population::Women; 80], &taken);
    let [careless, slack] = reports.as_slice() else { panic!("two measurers") };
    let flagged: Vec<_> =
        careless.repeats.iter().filter(|r| r.flagged).map(|r| r.dimension).collect();
    assert_eq!(flagged, [MiddleLength]);
    let bias = slack.biases.iter().find(|b| b.dimension == WristGirth).expect("a bias");
    assert!(bias.flagged && bias.low_mm < 6.0 && 6.0 < bias.high_mm, "{bias:?}");
    let digits = slack.digits.expect("enough readings");
    assert!(digits.flagged && digits.counts[0] + digits.counts[5] == 640);
}

// Arithmetic: differences 1, -2, 3 over three pairs give TEM = sqrt((1 + 4 + 9) / 6) = 1.5275.
#[test]
fn the_technical_error_of_pairs_is_the_textbook_formula() {
    let model = HandModel::published();
    let pairs = [(180.0, 181.0), (190.0, 188.0), (175.0, 178.0)];
    let taken: Vec<Taken> = pairs
        .iter()
        .enumerate()
        .flat_map(|(person, (a, b))| {
            [a, b].map(|mm| Taken {
                measurer: 0,
                person,
                side: Side::Left,
                dimension: HandLength,
                mm: *mm,
            })
        })
        .collect();
    let reports = observe(&model, &[Population::Women; 3], &taken);
    let repeat = reports[0].repeats[0];
    assert!((repeat.tem_mm - (14.0_f64 / 6.0).sqrt()).abs() < 1e-12);
    assert_eq!(repeat.freedom, 3);
    // R = 1 - TEM^2 / SD^2 with the published SD of 10.1 mm (2012 survey, women) less the survey's
    // surplus of measuring error: between 0.97 and 0.98.
    assert!((0.97..0.98).contains(&repeat.reliability), "{}", repeat.reliability);
}

// Printed table: chi-squared with 9 degrees of freedom, upper 5 % point 16.919 (any textbook).
#[test]
fn digit_preference_uses_chi_squared_with_nine_degrees_of_freedom() {
    let model = HandModel::published();
    let mut mm: Vec<f64> = (0..10).flat_map(|digit| vec![180.0 + f64::from(digit); 10]).collect();
    // Move x readings from digit 1 to digit 0: chi-squared is 2 x^2 / 10, 16.2 for x = 9.
    for value in mm.iter_mut().filter(|v| **v == 181.0).take(9) {
        *value = 180.0;
    }
    let taken: Vec<Taken> = mm
        .into_iter()
        .map(|mm| Taken { measurer: 0, person: 0, side: Side::Left, dimension: HandLength, mm })
        .collect();
    let digits = observe(&model, &[Population::Women], &taken)[0].digits.expect("100 readings");
    assert!((digits.chi_squared - 16.2).abs() < 1e-9);
    assert!(digits.probability > 0.05 && digits.probability < 0.07);
}
