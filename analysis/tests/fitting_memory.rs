//! The fabric's memory: against statsmodels, against theory in simulated workshops with known true
//! ease, and against one wild answer.

mod simulation;

use analysis::fitting::{Belief, FitZone, Memory, Observation, PerZone, ZoneKind};
use simulation::Deviates;

/// A simulated workshop: the fabric's true ease by zone, and what performers said.
struct Workshop {
    truth: PerZone,
    answers: Vec<Observation>,
}

/// Draws a fabric, performers and answers with the SDs believed; each performer answers in every
/// zone 1 to `most` times.
fn workshop(random: &mut Deviates, performers: usize, most: usize) -> Workshop {
    let truth = PerZone::from_fn(|zone| Belief::of(zone.kind()).fabric_sd * random.normal());
    let mut answers = Vec::new();
    for performer in 0..performers {
        let fittings = 1 + random.below(most);
        for zone in FitZone::ALL {
            let belief = Belief::of(zone.kind());
            let liking = belief.performer_sd * random.normal();
            for _ in 0..fittings {
                let ease = truth[zone] + liking + belief.answer_sd * random.normal();
                answers.push(Observation { zone, performer: performer as u128, ease });
            }
        }
    }
    Workshop { truth, answers }
}

/// Unbalanced data that tests/outside/fabric_memory.py makes as well, from the same stream.
fn data_for_statsmodels(seed: u64, between: f64, within: f64) -> Vec<Observation> {
    let mut random = Deviates::new(seed);
    let girths = FitZone::ALL.into_iter().filter(|zone| zone.kind() == ZoneKind::Girth);
    let mut answers = Vec::new();
    for (k, zone) in girths.enumerate() {
        for performer in 0..18_u128 {
            let count = 1 + random.below(4);
            let liking = between * random.normal();
            for _ in 0..count {
                let ease = 0.004 * (k as f64 - 5.0) + liking + within * random.normal();
                answers.push(Observation { zone, performer, ease });
            }
        }
    }
    answers
}

/// statsmodels 0.15.0 MixedLM, REML, fixed effect for each zone and random intercept for each
/// performer in a zone; printed by tests/outside/fabric_memory.py on 2026-11-25 (the file
/// names numpy and scipy as well): variance of the intercepts, residual variance, the twelve zone effects.
/// Independent of ours: general-purpose optimisation of the profile likelihood of dense matrices.
const STATSMODELS: &[Recorded] = include!("figures/statsmodels.in");

/// Seed, SDs drawn with, and what was found: both variances and the effects.
type Recorded = (u64, f64, f64, f64, f64, [f64; 12]);

#[test]
fn components_and_ease_are_those_of_statsmodels() {
    for (seed, between, within, their_between, their_within, effects) in STATSMODELS {
        let answers = data_for_statsmodels(*seed, *between, *within);
        let ours = Memory::learn_with(&answers, None, Belief::none);
        let close = |ours: f64, theirs: f64| (ours / theirs - 1.0).abs() < 1e-4;
        assert!(
            close(ours.performer_sd[0].powi(2), *their_between),
            "{seed}: {:?}",
            ours.performer_sd
        );
        assert!(close(ours.answer_sd[0].powi(2), *their_within), "{seed}: {:?}", ours.answer_sd);
        let girths = ours.zones.iter().filter(|learned| learned.zone.kind() == ZoneKind::Girth);
        for (learned, effect) in girths.zip(effects) {
            assert!((learned.ease - effect).abs() < 1e-6, "{:?} {effect}", learned);
        }
    }
}

/// Balanced data have closed-form REML components, those of the analysis of variance (Searle,
/// Casella and McCulloch 1992): within = MSE, between = (MSA - MSE) / n.
#[test]
fn balanced_data_give_the_components_of_the_analysis_of_variance() {
    let mut random = Deviates::new(7);
    let (performers, n) = (12, 3);
    let mut means = Vec::new();
    let (mut within, mut answers) = (0.0, Vec::new());
    for performer in 0..performers {
        let liking = 2.0 * random.normal();
        let said: Vec<f64> = (0..n).map(|_| 0.5 + liking + random.normal()).collect();
        let mean = said.iter().sum::<f64>() / n as f64;
        within += said.iter().map(|y| (y - mean).powi(2)).sum::<f64>();
        means.push(mean);
        answers.extend(said.into_iter().map(|ease| Observation {
            zone: FitZone::ThumbLength,
            performer,
            ease,
        }));
    }
    let grand = means.iter().sum::<f64>() / performers as f64;
    let mse = within / (performers as f64 * (n as f64 - 1.0));
    let msa = n as f64 * means.iter().map(|m| (m - grand).powi(2)).sum::<f64>()
        / (performers as f64 - 1.0);
    let memory = Memory::learn_with(&answers, None, Belief::none);
    assert!((memory.answer_sd[1].powi(2) / mse - 1.0).abs() < 1e-5);
    assert!((memory.performer_sd[1].powi(2) / ((msa - mse) / n as f64) - 1.0).abs() < 1e-5);
    let learned = memory.zones.iter().find(|l| l.zone == FitZone::ThumbLength).expect("a zone");
    assert!((learned.ease - grand).abs() < 1e-9);
}

#[test]
fn without_fittings_nothing_is_added_to_the_stretch_test() {
    let memory = Memory::learn(&[]);
    assert!(memory.ease().is_zero());
    for learned in &memory.zones {
        let sd = Belief::of(learned.zone.kind()).fabric_sd;
        assert_eq!(learned.answers, 0);
        // 90 % of a normal spread: 1.6449 standard deviations.
        assert!(
            (learned.high / sd - 1.6449).abs() < 1e-3 && (learned.low / sd + 1.6449).abs() < 1e-3
        );
    }
}

/// What a copied fabric starts from is what its source had learned, and counts as much.
#[test]
fn a_copy_starts_from_what_was_learned_and_learns_on() {
    let mut random = Deviates::new(5);
    let made = workshop(&mut random, 10, 1);
    let source = Memory::learn(&made.answers);
    let copy = Memory::learn_on(&[], &source);
    for (copied, learned) in copy.zones.iter().zip(&source.zones) {
        assert_eq!((copied.zone, copied.performers), (learned.zone, 10));
        let slack = 1e-3 * (learned.high - learned.low);
        assert!((copied.ease - learned.ease).abs() < 1e-12);
        // The source's interval is a little skewed, the copy's is not.
        assert!((copied.high - copied.low - learned.high + learned.low).abs() < slack);
    }
    let (first, rest) = made.answers.split_at(made.answers.len() / 2);
    let at_once = Memory::learn(&made.answers);
    let in_steps = Memory::learn_on(rest, &Memory::learn(first));
    for (a, b) in at_once.zones.iter().zip(&in_steps.zones) {
        let sd = Belief::of(a.zone.kind()).fabric_sd;
        assert!((a.ease - b.ease).abs() < 0.15 * sd, "{a:?} {b:?}");
    }
}

#[test]
fn the_order_of_fittings_does_not_matter() {
    let mut random = Deviates::new(3);
    let mut answers = workshop(&mut random, 9, 3).answers;
    let memory = Memory::learn(&answers);
    answers.reverse();
    assert_eq!(Memory::learn(&answers), memory);
}

/// Coverage of the 90 % intervals and the error of the next performer's first glove, against theory
/// with known components: var = 1 / (1/tau^2 + n / (s_b^2 + s_e^2)) for one fitting each.
#[test]
fn intervals_hold_and_the_error_falls_as_theory_says() {
    let mut random = Deviates::new(2026);
    for performers in [1, 2, 3, 6, 12, 30, 80] {
        for most in [1, 3] {
            let workshops = if performers > 20 { 150 } else { 300 };
            let (mut inside, mut count) = (0.0, 0.0);
            let (mut squares, mut theory) = (0.0, 0.0);
            for _ in 0..workshops {
                let made = workshop(&mut random, performers, most);
                let memory = Memory::learn(&made.answers);
                for learned in &memory.zones {
                    let truth = made.truth[learned.zone];
                    let belief = Belief::of(learned.zone.kind());
                    inside += f64::from(learned.low <= truth && truth <= learned.high);
                    count += 1.0;
                    squares += ((learned.ease - truth) / belief.fabric_sd).powi(2);
                    let mut precision = belief.fabric_sd.powi(-2);
                    let mut said: Vec<u128> = made
                        .answers
                        .iter()
                        .filter(|a| a.zone == learned.zone)
                        .map(|a| a.performer)
                        .collect();
                    said.sort_unstable();
                    for group in said.chunk_by(|a, b| a == b) {
                        let within = belief.answer_sd.powi(2) / group.len() as f64;
                        precision += 1.0 / (belief.performer_sd.powi(2) + within);
                    }
                    theory += 1.0 / precision / belief.fabric_sd.powi(2);
                }
            }
            let coverage = inside / count;
            let (rmse, expected) = ((squares / count).sqrt(), (theory / count).sqrt());
            println!(
                "{performers} performers, up to {most}: {:.1} % held, error {rmse:.3} of the fabric's SD, theory {expected:.3}",
                coverage * 100.0
            );
            assert!((0.88..=0.92).contains(&coverage), "{performers} {most}: {coverage}");
            // Holding wild answers back costs 4 % of variance, 2 % of error; simulation some.
            assert!(
                (0.96..=1.06).contains(&(rmse / expected)),
                "{performers} {most}: {rmse} {expected}"
            );
        }
    }
}

/// Most that one performer's wild answer moves any zone's ease, in SDs of the fabric.
fn most_moved(answers: &[Observation]) -> f64 {
    let before = Memory::learn(answers).ease();
    let mut most = 0.0_f64;
    for zone in [FitZone::Palm, FitZone::IndexLength] {
        for wild in [-4.0, 2.0, 3.0, 1e6] {
            let mut with = answers.to_vec();
            let ease = Belief::of(zone.kind()).fabric_sd * wild;
            with.push(Observation { zone, performer: 999, ease });
            let after = Memory::learn(&with).ease();
            for moved in FitZone::ALL {
                let step = (after[moved] - before[moved]).abs();
                most = most.max(step / Belief::of(moved.kind()).fabric_sd);
            }
        }
    }
    most
}

/// The stated bound in SDs of the fabric, half as much again for the components that a wild answer
/// upsets.
fn bound(agreeing: usize) -> f64 {
    let bounds = [ZoneKind::Girth, ZoneKind::Length].map(|kind| {
        let belief = Belief::of(kind);
        belief.pull_bound(agreeing) / belief.fabric_sd
    });
    1.5 * bounds[0].max(bounds[1])
}

#[test]
fn a_wild_answer_moves_nobody_elses_glove_beyond_the_bound() {
    let mut random = Deviates::new(11);
    for others in [0, 1, 3, 12] {
        let most = (0..6)
            .map(|_| most_moved(&workshop(&mut random, others, 2).answers))
            .fold(0.0, f64::max);
        println!("{others} others: moved {most:.3}, bound {:.3} of the fabric's SD", bound(0));
        assert!(most <= bound(0), "{others}: {most}");
    }
    // Others who agree hold it the more the more they are.
    for others in [1, 3, 12, 30] {
        let answers: Vec<Observation> = (0..others)
            .flat_map(|performer| {
                FitZone::ALL.map(|zone| Observation {
                    zone,
                    performer: performer as u128,
                    ease: 0.2 * Belief::of(zone.kind()).fabric_sd * random.normal(),
                })
            })
            .collect();
        let most = most_moved(&answers);
        println!("{others} agree: moved {most:.3}, bound {:.3}", bound(others));
        assert!(most <= bound(others), "{others}: {most}");
    }
}
