//! Sizes: misfit against the draft's own forecast, choices against brute force, curves against
//! what must hold of them.
#![expect(clippy::expect_used, reason = "a test fails by panicking")]

mod draft_hands;
mod simulation;

use analysis::dimension::Dimension as D;
use analysis::draft::{Digit, GloveOptions, Zone, draft};
use analysis::fabric::{Behaviour, TensionCurve};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population, Sampler};
use analysis::sizing::assign::{likely_hands, probabilities, spare_pairs};
use analysis::sizing::centre::centred;
use analysis::sizing::choose::{choose, total};
use analysis::sizing::coverage::coverage;
use analysis::sizing::curve::{MOST_SIZES, curve, knee};
use analysis::sizing::misfit::{FitRules, GIRTHS, LENGTHS, Size, Wearer};
use analysis::sizing::stock;
use analysis::sizing::table::FitTable;
use proptest::prelude::*;
use simulation::Deviates;

fn rules() -> FitRules {
    FitRules::of(&GloveOptions::default())
}

/// Invented people of both sexes.
fn people(count: usize, seed: u64) -> Vec<Wearer> {
    let model = HandModel::published();
    let mut random = Deviates::new(seed);
    let samplers = [Population::Women, Population::Men]
        .map(|population| Sampler::new(&model, population).expect("figures"));
    samplers
        .iter()
        .cycle()
        .take(count)
        .map(|sampler| {
            let hands = sampler.truth(|| random.normal());
            Wearer::new(&rules(), |side, d| hands[usize::from(side == Side::Right)][d.index()])
        })
        .collect()
}

fn sizes_of(wearers: &[Wearer]) -> Vec<Size> {
    wearers.iter().map(|wearer| Size::drafted_for(&rules(), wearer)).collect()
}

fn table_of(wearers: &[Wearer]) -> FitTable {
    FitTable::new(wearers, &sizes_of(wearers))
}

/// Smallest total over every choice of `k` sizes.
fn brute_force(table: &FitTable, k: usize) -> f64 {
    fn below(table: &FitTable, from: usize, taken: &mut Vec<usize>, k: usize) -> f64 {
        if taken.len() == k {
            return total(table, taken);
        }
        let mut best = f64::INFINITY;
        for size in from..table.sizes() {
            taken.push(size);
            best = best.min(below(table, size + 1, taken, k));
            taken.pop();
        }
        best
    }
    below(table, 0, &mut Vec::new(), k)
}

#[test]
fn a_size_has_the_girths_of_the_draft() {
    let hand = draft_hands::person(0, 0.3);
    let options = GloveOptions::default();
    let forecast = draft(&hand, Side::Left, &options).expect("a draft").forecast;
    let wearer = Wearer::new(&rules(), |_, dimension| hand.mm(dimension));
    let size = Size::drafted_for(&rules(), &wearer);
    let mut compared = 0;
    for zone in forecast.zones {
        let dimension = match zone.zone {
            Zone::Palm => D::HandGirth,
            Zone::Wrist => D::WristGirth,
            Zone::Root(Digit::Thumb) => D::ThumbRootGirth,
            Zone::Knuckle(Digit::Thumb) => D::ThumbKnuckleGirth,
            Zone::Knuckle(Digit::Index) => D::IndexKnuckleGirth,
            Zone::Knuckle(Digit::Middle) => D::MiddleKnuckleGirth,
            Zone::Knuckle(Digit::Ring) => D::RingKnuckleGirth,
            Zone::Knuckle(Digit::Little) => D::LittleKnuckleGirth,
            Zone::EndJoint(Digit::Index) => D::IndexTipGirth,
            Zone::EndJoint(Digit::Middle) => D::MiddleTipGirth,
            Zone::EndJoint(Digit::Ring) => D::RingTipGirth,
            Zone::EndJoint(Digit::Little) => D::LittleTipGirth,
            _ => continue,
        };
        let glove = size.glove_girth_mm(Side::Left, dimension).expect("a girth of a size");
        assert!((glove - zone.glove_mm).abs() < 1e-6, "{}: {glove}", zone.zone);
        compared += 1;
    }
    assert_eq!(compared, GIRTHS.len());
}

#[test]
fn a_zone_is_out_of_its_limits_where_the_forecast_says_tight() {
    // A stiff knit: a finger of 55 mm is pressed by 15 mmHg long before the cloth is at its end.
    let fabric = Behaviour {
        curve: Some(TensionCurve::Linear { stiffness_n_per_m: 190.0 }),
        usable_across: 0.31,
        usable_along: 0.2,
        left: 0.0,
    };
    let options = GloveOptions { fabric: Some(fabric), ..GloveOptions::default() };
    let rules = FitRules::of(&options);
    let hand = draft_hands::person(0, 0.0);
    let own = Wearer::new(&rules, |_, d| hand.mm(d));
    let size = Size::drafted_for(&rules, &own);
    // Laplace by hand: P = 2 pi T / C, T = 190 e, so e = P C / (2 pi 190); P = 15 x 133.322 Pa.
    let glove = hand.mm(D::MiddleKnuckleGirth) * 0.95;
    let girth_at_limit = {
        let per_mm = 15.0 * 133.322 / (2.0 * std::f64::consts::PI * 190.0) / 1000.0;
        glove / (1.0 - glove * per_mm)
    };
    for (off, fits) in [(-0.05, true), (0.05, false)] {
        let thicker = Wearer::new(&rules, |_, d| match d {
            D::MiddleKnuckleGirth => girth_at_limit + off,
            d => hand.mm(d),
        });
        assert_eq!(size.fit(&thicker).fits, fits, "{off}");
        assert_eq!(size.worst(&thicker).dimension, D::MiddleKnuckleGirth);
    }
}

#[test]
fn one_fits_ones_own_size_and_too_tight_costs_more_than_too_loose() {
    let wearers = people(20, 1);
    let sizes = sizes_of(&wearers);
    for (wearer, size) in wearers.iter().zip(&sizes) {
        let fit = size.fit(wearer);
        assert!(fit.fits && fit.misfit < 1e-18);
    }
    let hand = draft_hands::person(1, 0.0);
    let scaled = |s: f64| Wearer::new(&rules(), |_, d| hand.mm(d) * s);
    let size = Size::drafted_for(&rules(), &scaled(1.0));
    assert!(size.fit(&scaled(1.03)).misfit > 1.5 * size.fit(&scaled(0.97)).misfit);
    assert!(size.worst(&scaled(1.03)).strain > 0.0 && size.worst(&scaled(0.97)).strain < 0.0);
}

#[test]
fn the_chosen_sizes_are_the_best_of_all_choices_on_small_casts() {
    for seed in 0..12 {
        let table = table_of(&people(14, 100 + seed));
        for k in 1..=5 {
            let found = choose(&table, k, 7).expect("sizes");
            let best = brute_force(&table, k);
            assert!((found.total - best).abs() < 1e-9, "seed {seed} k {k}: {} {best}", found.total);
            assert!(found.is_proven(), "seed {seed} k {k}: {} {}", found.total, found.bound);
            assert_eq!(found.sizes.len(), k);
        }
    }
}

#[test]
fn casts_of_forty_are_proven_for_every_number_of_sizes() {
    let table = table_of(&people(40, 5));
    for step in curve(&table, 1) {
        let choice = step.choice;
        assert!(choice.is_proven(), "{choice:?}");
    }
}

#[test]
fn the_same_cast_gets_the_same_sizes_and_another_order_the_same_misfit() {
    let mut wearers = people(60, 9);
    let first = curve(&table_of(&wearers), 3);
    assert_eq!(curve(&table_of(&wearers), 3), first);
    wearers.reverse();
    for (a, b) in first.iter().zip(curve(&table_of(&wearers), 3)) {
        assert!((a.mean_misfit - b.mean_misfit).abs() < 1e-9);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Any table of misfits, ties and zeros included: the choice is the best there is.
    #[test]
    fn any_small_table_is_solved_exactly(
        rows in prop::collection::vec(prop::collection::vec(0_u8..6, 8), 1..9),
        k in 1_usize..6,
    ) {
        let rows: Vec<Vec<f64>> =
            rows.iter().map(|row| row.iter().map(|c| f64::from(*c)).collect()).collect();
        let table = FitTable::from_misfits(&rows);
        let found = choose(&table, k, 11).expect("sizes");
        let best = brute_force(&table, k.min(rows.len()));
        prop_assert!((found.total - best).abs() < 1e-9);
        prop_assert!((total(&table, &found.sizes) - found.total).abs() < 1e-9);
        prop_assert!(found.bound <= found.total + 1e-9);
    }

    /// More sizes never fit worse, and everybody with a size of their own has no misfit.
    #[test]
    fn misfit_falls_with_the_number_of_sizes(count in 1_usize..16, seed in 0_u64..1000) {
        let steps = curve(&table_of(&people(count, seed)), 2);
        prop_assert_eq!(steps.len(), count.min(MOST_SIZES));
        for pair in steps.windows(2) {
            prop_assert!(pair[1].mean_misfit <= pair[0].mean_misfit + 1e-9);
        }
        if count <= MOST_SIZES {
            let last = steps.last().expect("one step");
            prop_assert!(last.mean_misfit < 1e-12);
            prop_assert_eq!(last.covered, count);
        }
    }
}

#[test]
fn a_cast_of_one_and_a_cast_of_identical_hands_need_one_size() {
    let one = people(1, 4);
    let alike = vec![one[0]; 9];
    for (cast, count) in [(one.clone(), 1), (alike, 9)] {
        let steps = curve(&table_of(&cast), 1);
        assert_eq!(steps[0].covered, count);
        assert!(steps[0].mean_misfit < 1e-15);
        let values: Vec<f64> = steps.iter().map(|step| step.mean_misfit).collect();
        assert_eq!(knee(&values), 0);
    }
    assert!(curve(&FitTable::new(&[], &[]), 1).is_empty());
    assert_eq!(choose(&FitTable::new(&[], &[]), 3, 1), None);
}

#[test]
fn the_knee_is_where_the_curve_bends() {
    // By hand: the line from (0, 10) to (4, 2) falls by 2; depths are 0, 4, 3, 1.5, 0.
    assert_eq!(knee(&[10.0, 4.0, 3.0, 2.5, 2.0]), 1);
    assert_eq!(knee(&[4.0, 3.0, 2.0, 1.0]), 0);
    assert_eq!(knee(&[]), 0);
}

#[test]
fn probabilities_are_sharp_for_a_measured_hand_and_wide_for_three_readings() {
    let model = HandModel::published();
    let sampler = Sampler::new(&model, Population::Women).expect("figures");
    let mut random = Deviates::new(77);
    let mut sharper = 0;
    for _ in 0..20 {
        let full = sampler.readings(|| random.normal());
        let mut few = Hands::default();
        for d in [D::HandGirth, D::HandLength, D::MiddleKnuckleGirth] {
            few.right[d] = full.right[d];
        }
        let cast = people(30, 3);
        let chosen = choose(&table_of(&cast), 5, 1).expect("sizes").sizes;
        let sizes: Vec<Size> = chosen.iter().map(|at| sizes_of(&cast)[*at]).collect();
        let largest = |hands: &Hands| {
            let likely = likely_hands(&model, Population::Women, hands, &rules(), 5);
            let found = probabilities(&likely, &sizes);
            assert!((found.sizes.iter().sum::<f64>() - 1.0).abs() < 1e-12);
            found.sizes.into_iter().fold(0.0, f64::max)
        };
        sharper += usize::from(largest(&full) >= largest(&few));
    }
    assert!(sharper >= 16, "{sharper} of 20");
}

/// The probabilities are true: of people measured by three readings, the size given p is the one
/// of the true hand in about the share p of cases (sum over all against its standard deviation).
#[test]
fn the_probabilities_hold() {
    let model = HandModel::published();
    let sampler = Sampler::new(&model, Population::Men).expect("figures");
    let cast = people(30, 8);
    let chosen = choose(&table_of(&cast), 4, 1).expect("sizes").sizes;
    let sizes: Vec<Size> = chosen.iter().map(|at| sizes_of(&cast)[*at]).collect();
    let mut random = Deviates::new(4242);
    let (mut expected, mut variance, mut hits) = (0.0, 0.0, 0.0);
    for person in 0..300 {
        let truth = sampler.truth(|| random.normal());
        let mut few = Hands::default();
        for d in [D::HandGirth, D::HandLength, D::MiddleKnuckleGirth] {
            let read = truth[1][d.index()] + d.measuring_error_mm() * random.normal();
            few.right[d] = analysis::hand::Summary::of(&[read]);
        }
        let likely = likely_hands(&model, Population::Men, &few, &rules(), person);
        let found = probabilities(&likely, &sizes);
        let one = |hands: &[Wearer]| {
            let found = probabilities(hands, &sizes).sizes;
            found.iter().position(|p| *p > 0.5).expect("one size")
        };
        let own = one(&[Wearer::new(&rules(), |side, d| {
            truth[usize::from(side == Side::Right)][d.index()]
        })]);
        let (best, p) =
            found.sizes.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).expect("sizes");
        expected += p;
        variance += p * (1.0 - p) + p * (1.0 - p) / 200.0;
        hits += f64::from(u8::from(best == own));
    }
    let z = (hits - expected) / variance.sqrt();
    assert!(z.abs() < 3.3, "{hits} hits where {expected:.1} were expected: z {z:.2}");
}

// Binomial quantiles by hand: of 4 understudies, each of two equally taken sizes is wanted by at
// most 3 with a chance of 15/16 and by at most 2 with 11/16.
#[test]
fn spare_pairs_are_binomial_quantiles() {
    assert_eq!(spare_pairs(&[5, 5], 4), [3, 3]);
    assert_eq!(spare_pairs(&[5, 5], 0), [0, 0]);
    assert_eq!(spare_pairs(&[8], 4), [4]);
}

#[test]
fn more_sizes_cover_more_of_a_population() {
    let cast = people(60, 21);
    let table = table_of(&cast);
    let sizes = sizes_of(&cast);
    let model = HandModel::published();
    let share = |k: usize| {
        let chosen = choose(&table, k, 1).expect("sizes").sizes;
        let sizes: Vec<Size> = chosen.iter().map(|at| sizes[*at]).collect();
        let found = coverage(&model, Population::Women, &rules(), &sizes, 1).expect("figures");
        assert!(found.low <= found.share && found.share <= found.high);
        found.share
    };
    let (few, many) = (share(2), share(12));
    assert!(many > few, "{few} {many}");
}

#[test]
fn the_range_of_a_size_ends_where_its_fit_does() {
    let fabric = Behaviour {
        curve: Some(TensionCurve::Linear { stiffness_n_per_m: 190.0 }),
        usable_across: 0.31,
        usable_along: 0.2,
        left: 0.0,
    };
    let pressed = GloveOptions { fabric: Some(fabric), ..GloveOptions::default() };
    let hand = draft_hands::person(0, 0.0);
    for rules in [rules(), FitRules::of(&pressed)] {
        let size = Size::drafted_for(&rules, &Wearer::new(&rules, |_, d| hand.mm(d)));
        for zone in GIRTHS.into_iter().chain(LENGTHS) {
            let (low, high) = size.range_mm(&rules, Side::Right, zone).expect("a zone");
            assert!(low < hand.mm(zone) && hand.mm(zone) < high, "{}", zone.key());
            let with = |mm: f64| {
                let of = |side, d| {
                    if (side, d) == (Side::Right, zone) { mm } else { hand.mm(d) }
                };
                size.fit(&Wearer::new(&rules, of)).fits
            };
            for (mm, fits) in
                [(low - 0.01, false), (low + 0.01, true), (high - 0.01, true), (high + 0.01, false)]
            {
                assert_eq!(with(mm), fits, "{} at {mm}", zone.key());
            }
        }
        assert_eq!(size.range_mm(&rules, Side::Right, D::HandBreadth), None);
    }
}

#[test]
fn a_size_gives_back_the_hands_it_was_drafted_for() {
    let wearers = people(5, 41);
    for wearer in &wearers {
        let size = Size::drafted_for(&rules(), wearer);
        let hands = size.hands();
        let of = |side: Side, d: D| hands.side(side)[d].map_or(f64::NAN, |s| s.median_mm);
        let again = Size::drafted_for(&rules(), &Wearer::new(&rules(), of));
        assert!(again.fit(wearer).misfit < 1e-20);
        assert!(size.fit(&Wearer::new(&rules(), of)).misfit < 1e-20);
    }
}

#[test]
fn zones_that_do_not_count_change_nothing() {
    let hand = draft_hands::person(1, 0.0);
    let two = rules().only(&[D::HandGirth, D::MiddleLength]);
    let size = Size::drafted_for(&two, &Wearer::new(&two, |_, d| hand.mm(d)));
    let other = |d: D| !matches!(d, D::HandGirth | D::MiddleLength);
    let long = Wearer::new(&two, |_, d| hand.mm(d) * if other(d) { 1.5 } else { 1.0 });
    assert!(size.fit(&long).fits && size.fit(&long).misfit < 1e-18);
    let whole = Size::drafted_for(&rules(), &Wearer::new(&rules(), |_, d| hand.mm(d)));
    assert!(!whole.fit(&long).fits && whole.only(&[D::HandGirth, D::MiddleLength]).fit(&long).fits);
    // Two zones of two hands, each at its limit on the loose side: the mean cost is 1.
    let limit = Wearer::new(&two, |_, d| match d {
        D::MiddleLength => hand.mm(d) - 6.0,
        D::HandGirth => {
            let (low, _) = size.range_mm(&two, Side::Left, d).expect("a zone");
            low
        }
        d => hand.mm(d),
    });
    assert!((size.fit(&limit).misfit - 1.0).abs() < 1e-9);
}

/// The centre of some wearers: no size that differs in one dimension has less misfit over them.
#[test]
fn a_centre_has_less_misfit_than_any_size_beside_it() {
    let wearers = people(30, 61);
    let all: Vec<&Wearer> = wearers.iter().collect();
    let sum = |size: &Size| wearers.iter().map(|wearer| size.fit(wearer).misfit).sum::<f64>();
    let centre = Size::drafted_for(&rules(), &wearers[0]).centred(&all);
    let hands = centre.hands();
    for side in Side::BOTH {
        for zone in GIRTHS.into_iter().chain(LENGTHS) {
            for off in [-2.0, -0.1, 0.1, 2.0] {
                let beside = Wearer::new(&rules(), |s, d| {
                    let mm = hands.side(s)[d].map_or(f64::NAN, |summary| summary.median_mm);
                    if (s, d) == (side, zone) { mm + off } else { mm }
                });
                let beside = Size::drafted_for(&rules(), &beside);
                assert!(sum(&beside) > sum(&centre), "{} {off}", zone.key());
            }
        }
    }
    // Too tight costs more, so that the centre is larger than the mean.
    let mean = |d: D| {
        let own = wearers.iter().map(|w| Size::drafted_for(&rules(), w).hands());
        own.map(|h| h.right[d].map_or(f64::NAN, |s| s.median_mm)).sum::<f64>() / 30.0
    };
    let central = |d: D| hands.right[d].map_or(f64::NAN, |summary| summary.median_mm);
    assert!(central(D::IndexLength) > mean(D::IndexLength));
}

#[test]
fn centres_are_never_worse_than_the_real_hands_they_start_from() {
    let wearers = people(60, 62);
    let table = table_of(&wearers);
    let own = sizes_of(&wearers);
    for k in [1, 3, 6] {
        let choice = choose(&table, k, 7).expect("sizes");
        let real: Vec<Size> = choice.sizes.iter().map(|at| own[*at]).collect();
        let found = centred(&rules(), &wearers, &real, 7);
        assert_eq!(found.sizes.len(), k);
        assert!(found.total <= choice.total + 1e-9, "{k}: {} {}", found.total, choice.total);
        let sum: f64 = wearers
            .iter()
            .map(|w| found.sizes.iter().map(|s| s.fit(w).misfit).fold(f64::INFINITY, f64::min))
            .sum();
        assert!((sum - found.total).abs() < 1e-6 * sum, "{k}: {sum} {}", found.total);
        assert_eq!(centred(&rules(), &wearers, &real, 7), found);
    }
    let one = people(1, 4);
    let alike = vec![one[0]; 9];
    let found = centred(&rules(), &alike, &sizes_of(&one), 1);
    assert!(found.total < 1e-12);
    assert!(centred(&rules(), &[], &[], 1).sizes.is_empty());
}

/// The figures' own uncertainty widens the interval, two dimensions are easier to fit than all, and
/// adults of no stated sex lie between women and men.
#[test]
fn coverage_says_what_it_leaves_open() {
    let model = HandModel::published();
    let stock = stock::people(&model, Population::Adults, &rules(), 80, 3);
    assert_eq!(stock.len(), 80);
    let chosen = choose(&table_of(&stock), 6, 1).expect("sizes").sizes;
    let sizes: Vec<Size> = chosen.iter().map(|at| sizes_of(&stock)[*at]).collect();
    let of = |population| coverage(&model, population, &rules(), &sizes, 1).expect("figures");
    let [women, men, adults] = [Population::Women, Population::Men, Population::Adults].map(of);
    for found in [women, men, adults] {
        assert!(found.low <= found.drawn.0 && found.drawn.1 <= found.high, "{found:?}");
        assert!(found.drawn.0 <= found.share && found.share <= found.drawn.1, "{found:?}");
        assert!(found.two_keys > found.share, "{found:?}");
    }
    let middle = f64::midpoint(women.share, men.share);
    assert!((adults.share - middle).abs() < 0.03, "{} {middle}", adults.share);
    let child = Population::Child { age_years: 8, sex: None };
    let found = of(child);
    assert!(found.share < 0.02, "adults' sizes fit hardly a child of eight: {found:?}");
    assert_eq!(of(child), found);
}
