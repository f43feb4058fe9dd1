//! Speed of sheets and batches: `cargo bench -p handcall`.

use std::hint::black_box;
use std::sync::atomic::AtomicBool;

use analysis::dimension::Dimension;
use analysis::draft::{GloveOptions, draft};
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use criterion::{Criterion, criterion_group, criterion_main};
use handcall::batch::{self, BatchOrder, BatchPerformer, ZipSink};
use handcall::export::SheetLabels;
use handcall::export::pdf::{self, Paper};
use handcall::export::svg::{self, SvgUse};

fn labels() -> SheetLabels {
    SheetLabels {
        production: "The Salt Stair".to_owned(),
        performer_code: "TW01".to_owned(),
        fabric: "Kelp firm knit".to_owned(),
        version: "1".to_owned(),
        date: "2026-03-14".to_owned(),
    }
}

/// A cast whose hand lengths and girths walk evenly over what adults have (invented).
fn order(count: usize) -> BatchOrder {
    let performer = |index: usize| {
        let share = index as f64 / count.max(2) as f64 - 0.5;
        let readings = [
            (Side::Right, Dimension::HandLength, 187.0 + 20.0 * share),
            (Side::Right, Dimension::HandGirth, 198.0 + 24.0 * share),
            (Side::Left, Dimension::HandLength, 187.5 + 20.0 * share),
        ];
        BatchPerformer {
            kept_flags: Vec::new(),
            code: format!("P{index:04}"),
            population: if index.is_multiple_of(2) { Population::Women } else { Population::Men },
            hands: Hands::from_readings(&readings),
            call: String::new(),
            fabric: "Kelp firm knit".to_owned(),
            cloth: None,
            options: GloveOptions::default(),
            master: None,
        }
    };
    let performers = (0..count).map(performer).collect();
    BatchOrder::of_one_version("The Salt Stair", ("1", "2026-03-14"), Paper::A4, performers)
}

fn sheets(c: &mut Criterion) {
    let model = HandModel::published();
    let hands = model.fill(Population::Women, &Hands::default());
    let Ok(glove) = draft(&hands.right, Side::Right, &GloveOptions::default()) else { return };
    c.bench_function("PDF of one hand, A4", |b| {
        b.iter(|| pdf::render(black_box(&glove), &labels(), Paper::A4));
    });
    c.bench_function("SVG of one hand", |b| {
        b.iter(|| svg::render(black_box(&glove), &labels(), SvgUse::Download));
    });
}

fn batches(c: &mut Criterion) {
    let model = HandModel::published();
    let mut group = c.benchmark_group("batch to a ZIP");
    group.sample_size(10);
    for count in [24, 200, 1000] {
        let order = order(count);
        group.bench_function(format!("{count} performers, both hands"), |b| {
            b.iter(|| {
                let mut sink = ZipSink::new(std::io::sink());
                let report =
                    batch::run(&model, &order, &mut sink, &|_, _| {}, &AtomicBool::new(false));
                (report.map(|r| r.results.len()), sink.finish().map(drop))
            });
        });
    }
}

criterion_group!(benches, sheets, batches);
criterion_main!(benches);
