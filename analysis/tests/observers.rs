//! Measurers with known faults, simulated: each fault is reported, and a good measurer is left alone.
#![expect(clippy::expect_used, reason = "a test fails by panicking")]

mod simulation;

use analysis::dimension::Dimension::{self, *};
use analysis::hand::Side;
use analysis::model::{HandModel, Population, Sampler};
use analysis::observer::{Repeatability, Taken, observe};
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
                out.push(Taken {
                    measurer,
                    person,
                    side: Side::Right,
                    dimension: d,
                    mm,
                    blind: false,
                });
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

// Worked example: Bland and Altman 1986 (Lancet 327, 307-310), peak flow of 17 people read twice
// with each of two meters. Published: standard deviation of the differences, about a mean of zero,
// 21.6 l/min with the first meter and 28.2 with the second (repeatability 43.2 and 56.4, twice
// that); in 1999 (Statistical Methods in Medical Research 8, 135-160) the within-subject standard
// deviation 15.3 of the first: the technical error of measurement. Data from memory of the paper;
// they give every published digit.
#[test]
fn the_technical_error_is_that_of_the_published_worked_example() {
    let first = [
        (494.0, 490.0),
        (395.0, 397.0),
        (516.0, 512.0),
        (434.0, 401.0),
        (476.0, 470.0),
        (557.0, 611.0),
        (413.0, 415.0),
        (442.0, 431.0),
        (650.0, 638.0),
        (433.0, 429.0),
        (417.0, 420.0),
        (656.0, 633.0),
        (267.0, 275.0),
        (478.0, 492.0),
        (178.0, 165.0),
        (423.0, 372.0),
        (427.0, 421.0),
    ];
    let second = [
        (512.0, 525.0),
        (430.0, 415.0),
        (520.0, 508.0),
        (428.0, 444.0),
        (500.0, 500.0),
        (600.0, 625.0),
        (364.0, 460.0),
        (380.0, 390.0),
        (658.0, 642.0),
        (445.0, 432.0),
        (432.0, 420.0),
        (626.0, 605.0),
        (260.0, 227.0),
        (477.0, 467.0),
        (259.0, 268.0),
        (350.0, 370.0),
        (451.0, 443.0),
    ];
    for (pairs, of_differences, within) in [(first, 21.6, Some(15.3)), (second, 28.2, None)] {
        let repeat = of_pairs(&pairs, false);
        assert_eq!(repeat.freedom, 17);
        assert!((repeat.tem_mm * 2.0_f64.sqrt() - of_differences).abs() < 0.06, "{repeat:?}");
        assert!(within.is_none_or(|w: f64| (repeat.tem_mm - w).abs() < 0.05), "{repeat:?}");
        // numpy 2.4.6, tests/outside/measurers.py: mean of the 34 readings of the first meter.
        let mean = pairs.iter().map(|(a, b)| a + b).sum::<f64>() / 34.0;
        assert!((repeat.relative_percent - 100.0 * repeat.tem_mm / mean).abs() < 1e-9);
    }
    // The widest pair of the second meter is the seventh person's, 96 apart.
    assert_eq!(of_pairs(&second, false).widest, (6, Side::Left, 96.0));
}

fn of_pairs(pairs: &[(f64, f64)], blind: bool) -> Repeatability {
    let taken = paired(pairs, blind);
    let reports = observe(&HandModel::published(), &vec![Population::Women; pairs.len()], &taken);
    reports[0].repeats[0]
}

fn paired(pairs: &[(f64, f64)], blind: bool) -> Vec<Taken> {
    let taken = |person, mm| Taken {
        measurer: 0,
        person,
        side: Side::Left,
        dimension: HandLength,
        mm,
        blind,
    };
    let each = pairs.iter().enumerate();
    each.flat_map(|(person, (a, b))| [taken(person, *a), taken(person, *b)]).collect()
}

// Arithmetic: differences 1, -2, 3 over three pairs give TEM = sqrt((1 + 4 + 9) / 6) = 1.5275, of
// a mean of 182 mm 0.839 %.
#[test]
fn reliability_sets_the_technical_error_against_the_spread_among_people() {
    let repeat = of_pairs(&[(180.0, 181.0), (190.0, 188.0), (175.0, 178.0)], false);
    assert!((repeat.tem_mm - (14.0_f64 / 6.0).sqrt()).abs() < 1e-12);
    assert!((repeat.relative_percent - 0.8393).abs() < 5e-5);
    assert_eq!((repeat.freedom, repeat.blind), (3, false));
    // R = 1 - TEM^2 / SD^2 with the published SD of 10.1 mm (2012 survey, women) less the survey's
    // surplus of measuring error: between 0.97 and 0.98.
    assert!((0.97..0.98).contains(&repeat.reliability), "{}", repeat.reliability);
}

#[test]
fn repeats_taken_blind_are_judged_alone() {
    let mut taken = paired(&[(180.0, 181.0), (190.0, 188.0), (175.0, 178.0)], true);
    // Taken again because they looked odd: these say little of the usual error.
    taken.extend(paired(&[(205.0, 180.0)], false));
    let other = Taken { dimension: WristGirth, mm: 150.0, blind: false, ..taken[0] };
    taken.extend([other, Taken { mm: 152.0, ..other }]);
    let reports = observe(&HandModel::published(), &[Population::Women; 3], &taken);
    let [length, wrist] = reports[0].repeats.as_slice() else { panic!("two dimensions") };
    assert!((length.tem_mm - (14.0_f64 / 6.0).sqrt()).abs() < 1e-12 && length.blind);
    assert!((wrist.tem_mm - 2.0_f64.sqrt()).abs() < 1e-12 && !wrist.blind);
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
        .map(|mm| Taken {
            measurer: 0,
            person: 0,
            side: Side::Left,
            dimension: HandLength,
            mm,
            blind: false,
        })
        .collect();
    let digits = observe(&model, &[Population::Women], &taken)[0].digits.expect("100 readings");
    assert!((digits.chi_squared - 16.2).abs() < 1e-9);
    // scipy 1.17.1, stats.chisquare of these counts (tests/outside/measurers.py).
    assert!(
        (digits.probability - 0.062_820_720_617_879_72).abs() < 1e-12,
        "{}",
        digits.probability
    );
}
