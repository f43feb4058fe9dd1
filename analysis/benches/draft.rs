//! Time of one draft, check and forecast included.

#[path = "../tests/draft_hands/mod.rs"]
mod draft_hands;

use analysis::draft::{Construction, GloveOptions, draft};
use analysis::hand::Side;
use criterion::{Criterion, criterion_group, criterion_main};

fn drafts(c: &mut Criterion) {
    let hand = draft_hands::person(0, 0.0);
    for (name, construction) in
        [("two layers", Construction::TwoLayer), ("fourchettes", Construction::Fourchette)]
    {
        let options = GloveOptions { construction, ..GloveOptions::default() };
        c.bench_function(&format!("draft, {name}"), |b| {
            b.iter(|| draft(std::hint::black_box(&hand), Side::Left, &options));
        });
    }
}

criterion_group!(benches, drafts);
criterion_main!(benches);
