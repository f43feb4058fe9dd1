//! Speed of a fabric's memory: learned anew from all of its fittings.

use std::hint::black_box;

use analysis::fitting::{Belief, FitZone, Memory, Observation};
use criterion::{Criterion, criterion_group, criterion_main};

/// Invented answers about the stretch test, a small ripple; every fitting answers in every zone.
fn answers(fittings: u32) -> Vec<Observation> {
    (0..fittings)
        .flat_map(|fitting| {
            FitZone::ALL.map(|zone| {
                let turn = f64::from(fitting) * 2.4 + zone.index() as f64;
                let ease = 1.5 * Belief::of(zone.kind()).fabric_sd * turn.sin();
                Observation { zone, performer: u128::from(fitting / 3), ease }
            })
        })
        .collect()
}

fn refit(criterion: &mut Criterion) {
    for fittings in [20, 200, 2000] {
        let answers = answers(fittings);
        criterion.bench_function(&format!("fabric refit, {fittings} fittings"), |b| {
            b.iter(|| Memory::learn(black_box(&answers)));
        });
    }
}

criterion_group!(benches, refit);
criterion_main!(benches);
