//! Speed of the hand model: one person checked and filled, the next reading planned, the model
//! refined by a workshop, and what a growing number of people costs.

use std::hint::black_box;

use analysis::check::check_hands;
use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::workshop::learn;
use analysis::model::{HandModel, Population, Sampler};
use analysis::plan::{DEFAULT_TOLERANCE_MM, plan};
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};

/// Invented people near the middle of the population, every dimension of both hands read once: the
/// deviates are a small ripple.
fn people(model: &HandModel, count: usize) -> Vec<Hands> {
    let mut turn = 0.0_f64;
    let mut ripple = || {
        turn += 1.0;
        0.6 * (turn * 2.4).sin()
    };
    let Some(sampler) = Sampler::new(model, Population::Women) else { return Vec::new() };
    (0..count).map(|_| sampler.readings(&mut ripple)).collect()
}

/// The same with a gap in every third dimension, not the same ones on both hands.
fn with_gaps(hands: &Hands) -> Hands {
    let mut out = hands.clone();
    for (side, shift) in [(Side::Left, 0), (Side::Right, 1)] {
        for d in Dimension::ALL.into_iter().filter(|d| (d.index() + shift) % 3 == 0) {
            out.side_mut(side)[d] = None;
        }
    }
    out
}

fn one_person(criterion: &mut Criterion) {
    let model = HandModel::published();
    let Some(whole) = people(&model, 1).pop() else { return };
    let gaps = with_gaps(&whole);
    for (what, hands) in [("25 dimensions, both hands", &whole), ("with gaps", &gaps)] {
        let mut group = criterion.benchmark_group(what);
        for population in [Population::Women, Population::Adults] {
            let name = population.key();
            group.bench_function(format!("check and fill, {name}"), |b| {
                b.iter(|| {
                    let flags = check_hands(&model, population, black_box(hands));
                    (flags, model.fill(population, black_box(hands)))
                });
            });
            group.bench_function(format!("next reading, {name}"), |b| {
                b.iter(|| {
                    plan(&model, population, black_box(hands), &Side::BOTH, DEFAULT_TOLERANCE_MM)
                });
            });
        }
        group.finish();
    }
}

fn workshop(criterion: &mut Criterion) {
    let model = HandModel::published();
    let cast: Vec<(Population, Hands)> =
        people(&model, 1000).iter().map(|h| (Population::Women, with_gaps(h))).collect();
    let mut group = criterion.benchmark_group("workshop");
    group.sample_size(10);
    group.bench_function("refit, 2,000 hands", |b| b.iter(|| learn(&model, black_box(&cast))));
    group.finish();
}

/// Check and fill from one hand to 100,000: the cost is a straight line.
fn growth(criterion: &mut Criterion) {
    let model = HandModel::published();
    let cast = people(&model, 500);
    let mut group = criterion.benchmark_group("hands");
    group.sample_size(10);
    for hands in [2_usize, 20, 200, 2_000, 20_000, 100_000] {
        group.throughput(Throughput::Elements(hands as u64));
        group.bench_with_input(BenchmarkId::new("check and fill", hands), &hands, |b, hands| {
            b.iter(|| {
                for person in cast.iter().cycle().take(hands / 2) {
                    black_box(check_hands(&model, Population::Women, person));
                    black_box(model.fill(Population::Women, person));
                }
            });
        });
    }
    group.finish();
}

criterion_group!(benches, one_person, workshop, growth);
criterion_main!(benches);
