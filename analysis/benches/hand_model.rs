//! Speed of the hand model: one person checked and filled, the next reading planned.

use std::hint::black_box;

use analysis::check::check_hands;
use analysis::hand::Hands;
use analysis::model::{HandModel, Population, Sampler};
use analysis::plan::{DEFAULT_TOLERANCE_MM, plan};
use criterion::{Criterion, criterion_group, criterion_main};

/// A person of the middle of the population, every dimension of both hands read once: the deviates
/// are a fixed small ripple.
fn person(model: &HandModel) -> Hands {
    let mut turn = 0.0_f64;
    let ripple = || {
        turn += 1.0;
        0.6 * (turn * 2.4).sin()
    };
    Sampler::new(model, Population::Women).map(|s| s.readings(ripple)).unwrap_or_default()
}

fn one_person(criterion: &mut Criterion) {
    let model = HandModel::published();
    let hands = person(&model);
    let mut group = criterion.benchmark_group("both hands, 50 readings");
    for population in [Population::Women, Population::Adults] {
        let name = population.key();
        group.bench_function(format!("check {name}"), |b| {
            b.iter(|| check_hands(&model, population, black_box(&hands)));
        });
        group.bench_function(format!("fill {name}"), |b| {
            b.iter(|| model.fill(population, black_box(&hands)));
        });
        group.bench_function(format!("next reading {name}"), |b| {
            b.iter(|| {
                plan(
                    &model,
                    population,
                    black_box(&hands),
                    &analysis::hand::Side::BOTH,
                    DEFAULT_TOLERANCE_MM,
                )
            });
        });
    }
    group.finish();
}

criterion_group!(benches, one_person);
criterion_main!(benches);
