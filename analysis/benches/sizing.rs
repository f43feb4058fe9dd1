//! Speed of choosing sizes: the whole curve for 1,000 hands, and what a page asks beside it.

use std::hint::black_box;

use analysis::draft::GloveOptions;
use analysis::model::{HandModel, Population};
use analysis::sizing::centre::centred;
use analysis::sizing::coverage::coverage;
use analysis::sizing::curve::curve;
use analysis::sizing::misfit::{FitRules, Size, Wearer};
use analysis::sizing::stock;
use analysis::sizing::table::FitTable;
use criterion::{Criterion, criterion_group, criterion_main};

fn sizes_of(rules: &FitRules, wearers: &[Wearer]) -> Vec<Size> {
    wearers.iter().map(|wearer| Size::drafted_for(rules, wearer)).collect()
}

fn sizing(criterion: &mut Criterion) {
    let model = HandModel::published();
    let rules = FitRules::of(&GloveOptions::default());
    let mut group = criterion.benchmark_group("sizes");
    group.sample_size(10);
    for (what, people) in [("1,000 hands", 500), ("1,000 pairs of hands", 1000)] {
        let wearers = stock::people(&model, Population::Adults, &rules, people, 3);
        group.bench_function(format!("k = 1 to 12, {what}"), |b| {
            b.iter(|| {
                let own = sizes_of(&rules, black_box(&wearers));
                curve(&FitTable::new(&wearers, &own), 7)
            });
        });
    }
    // A cast whose choice is proven.
    let cast = stock::people(&model, Population::Adults, &rules, 40, 4);
    let own = sizes_of(&rules, &cast);
    group.bench_function("k = 1 to 12, proven, 40 performers", |b| {
        b.iter(|| curve(&FitTable::new(black_box(&cast), &own), 7));
    });
    let six: Vec<Size> = own.iter().step_by(7).copied().collect();
    group.bench_function("six centres, 40 performers", |b| {
        b.iter(|| centred(&rules, black_box(&cast), &six, 7));
    });
    group.bench_function("coverage of women by six sizes, with its uncertainty", |b| {
        b.iter(|| coverage(&model, Population::Women, &rules, black_box(&six), 7));
    });
    group.finish();
}

criterion_group!(benches, sizing);
criterion_main!(benches);
