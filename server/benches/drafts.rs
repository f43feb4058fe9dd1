//! How drafting scales over cores: 1,000 hands in two constructions on one thread and on two,
//! `cargo bench -p handcall --bench drafts`. Linear would halve the time; 90 % of that is asked.

use std::hint::black_box;

use analysis::dimension::PerDimension;
use analysis::draft::{Construction, GloveOptions, draft};
use analysis::hand::Side;
use analysis::model::{Basis, Estimate, HandEstimate, HandModel, Population, Sampler};
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use rayon::ThreadPoolBuilder;
use rayon::prelude::*;

const HANDS: usize = 1000;

/// Standard normal deviates from a fixed seed (Box and Muller over a 64-bit xorshift).
fn deviates(mut seed: u64) -> impl FnMut() -> f64 {
    let mut uniform = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        ((seed >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    move || (-2.0 * uniform().ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos()
}

fn hands() -> Vec<HandEstimate> {
    let model = HandModel::published();
    let mut deviate = deviates(11);
    let mut all = Vec::with_capacity(HANDS);
    for population in [Population::Women, Population::Men] {
        let Some(sampler) = Sampler::new(&model, population) else { continue };
        for _ in 0..HANDS / 2 {
            let [_, right] = sampler.truth(&mut deviate);
            all.push(HandEstimate::new(PerDimension::from_fn(|d| {
                let mm = right[d.index()];
                Estimate { mm, low_mm: mm, high_mm: mm, basis: Basis::Measured }
            })));
        }
    }
    all
}

fn scaling(c: &mut Criterion) {
    let hands = hands();
    let mut group = c.benchmark_group("1,000 hands x 2 constructions");
    group.throughput(Throughput::Elements(2 * HANDS as u64)).sample_size(20);
    for threads in [1, 2] {
        let Ok(pool) = ThreadPoolBuilder::new().num_threads(threads).build() else { continue };
        group.bench_function(format!("{threads} threads"), |b| {
            b.iter(|| {
                pool.install(|| {
                    let made: usize = hands
                        .par_iter()
                        .map(|hand| {
                            let constructions = [Construction::TwoLayer, Construction::Fourchette];
                            let options = constructions.map(|construction| GloveOptions {
                                construction,
                                ..GloveOptions::default()
                            });
                            let drafts = options
                                .map(|options| draft(black_box(hand), Side::Right, &options));
                            drafts.iter().flatten().map(|draft| draft.pieces.len()).sum::<usize>()
                        })
                        .sum();
                    black_box(made)
                });
            });
        });
    }
    group.finish();
}

criterion_group!(benches, scaling);
criterion_main!(benches);
