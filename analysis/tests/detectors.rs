//! Small slips: how far our check is from the best possible one.
//!
//! In drawn people either the digits of one reading or two neighbouring fields are swapped, at
//! random. By the Neyman-Pearson lemma no detector with the same rate of false flags finds more of
//! these than the likelihood ratio of "one such slip, each as likely" against "no slip". That
//! detector knows beforehand which slips there are; ours looks for every kind.

mod figures;
mod simulation;

use analysis::check::check_hands;
use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use simulation::Deviates;
use simulation::hands::{drawn, get, measured, set};

/// Every value that differs by one exchange of tens and ones.
fn swapped(mm: f64) -> Option<f64> {
    let (tens, ones) = ((mm / 10.0).floor() % 10.0, mm % 10.0);
    (tens != ones).then_some(mm - 10.0 * tens - ones + 10.0 * ones + tens)
}

/// Logarithm of the likelihood ratio of "one slip, of either kind, anywhere" against "no slip".
fn ln_ratio(model: &HandModel, population: Population, hands: &Hands) -> f64 {
    let clean = model.log_likelihood(population, hands);
    let gain = |changes: &[(Dimension, f64)]| {
        let mut other = hands.clone();
        for (d, mm) in changes {
            set(&mut other, *d, *mm);
        }
        model.log_likelihood(population, &other) - clean
    };
    let dimensions = measured(hands);
    let count = dimensions.len() as f64;
    let mut terms = Vec::new();
    for (k, d) in dimensions.iter().enumerate() {
        let mm = get(hands, *d);
        if let Some(truth) = swapped(mm) {
            // Densities of logarithms: equal widths in mm are unequal there.
            terms.push(gain(&[(*d, truth)]) + (mm / truth).ln() + (0.5 / count).ln());
        }
        if let Some(next) = dimensions.get(k + 1) {
            let exchanged = [(*d, get(hands, *next)), (*next, mm)];
            terms.push(gain(&exchanged) + (0.5 / (count - 1.0)).ln());
        }
    }
    let largest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    largest + terms.iter().map(|t| (t - largest).exp()).sum::<f64>().ln()
}

/// One slip, of either kind, in a clean hand, and its size in conditional SDs.
fn slip(
    model: &HandModel,
    population: Population,
    hands: &Hands,
    deviates: &mut Deviates,
) -> Option<(Hands, f64)> {
    let dimensions = measured(hands);
    let mut slipped = hands.clone();
    let sds = |d: Dimension, typed: f64| {
        let e = model.expected(population, hands, Side::Right, d);
        (typed - get(hands, d)).abs() / ((e.high_mm - e.low_mm) / 3.29)
    };
    if deviates.uniform() < 0.5 {
        let d = dimensions[deviates.below(dimensions.len())];
        let typed = swapped(get(hands, d)).filter(|mm| *mm >= 10.0)?;
        set(&mut slipped, d, typed);
        Some((slipped, sds(d, typed)))
    } else {
        let k = deviates.below(dimensions.len() - 1);
        let (a, b) = (dimensions[k], dimensions[k + 1]);
        let (mm_a, mm_b) = (get(hands, a), get(hands, b));
        set(&mut slipped, a, mm_b);
        set(&mut slipped, b, mm_a);
        (mm_a != mm_b).then_some((slipped, sds(a, mm_b).max(sds(b, mm_a))))
    }
}

#[test]
fn small_slips_are_found_within_three_points_of_the_best_possible_detector() {
    let model = HandModel::published();
    let clean = drawn(6000, 23, false);
    let flagged =
        clean.iter().filter(|(p, hands)| !check_hands(&model, *p, hands).is_empty()).count();
    let mut scores: Vec<f64> = clean.iter().map(|(p, hands)| ln_ratio(&model, *p, hands)).collect();
    scores.sort_by(|a, b| b.total_cmp(a));
    // As many clean people lie at or above the threshold as we flag.
    let threshold = scores[flagged.max(1) - 1];
    let mut bins = [(0.0, 0.0, 0.0); 6];
    let mut deviates = Deviates::new(5);
    for (population, hands) in drawn(12000, 29, false) {
        let Some((slipped, sds)) = slip(&model, population, &hands, &mut deviates) else {
            continue;
        };
        let (all, ours, best) = &mut bins[(sds.floor() as usize).min(5)];
        *all += 1.0;
        if sds >= 5.0 && *all > 500.0 {
            *all -= 1.0;
            continue;
        }
        *ours += f64::from(u8::from(!check_hands(&model, population, &slipped).is_empty()));
        *best += f64::from(u8::from(ln_ratio(&model, population, &slipped) >= threshold));
    }
    let mut table = String::from(
        "| size of the slip, conditional SDs | slips | found | best possible |\n|---|---|---|---|\n",
    );
    for (k, (all, ours, best)) in bins.into_iter().enumerate() {
        let (ours, best) = (100.0 * ours / all, 100.0 * best / all);
        let size = if k == 5 { "5 and more".to_string() } else { format!("{k} to {}", k + 1) };
        table += &format!("| {size} | {all} | {ours:.1} % | {best:.1} % |\n");
        assert!(ours >= best - 3.0, "{size} SDs: {ours:.1} %, best possible {best:.1} %");
    }
    figures::hold("small_slips", &table);
}
