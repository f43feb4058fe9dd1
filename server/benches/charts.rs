//! Speed of the charts, for a cast of 1,000: `cargo bench -p handcall --bench charts`.

use std::hint::black_box;

use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::{Basis, HandModel, Population};
use analysis::sizing::describe::Bin;
use criterion::{Criterion, criterion_group, criterion_main};
use handcall::charts::{self, Curve, CurveWords, Histogram, HistogramWords, ScatterChart};
use handcall::sizing::cast::{ShownEllipse, ShownPair, ShownPoint, SizeBox};
use handcall::sizing::rows::CurvePoint;

const PEOPLE: u32 = 1000;

/// Invented points that walk over the plane.
fn pair() -> ShownPair {
    let dimensions = [Dimension::HandGirth, Dimension::MiddleLength];
    let model = HandModel::published();
    let point = |at: u32| ShownPoint {
        code: format!("P{at:04}"),
        along_mm: 170.0 + f64::from(at % 71),
        up_mm: 68.0 + f64::from(at % 29),
        basis: if at.is_multiple_of(3) { Basis::Estimated } else { Basis::Measured },
        is_inside: true,
    };
    let pairs = [Population::Women, Population::Men]
        .into_iter()
        .flat_map(|population| model.pairs(population, Side::Right, dimensions));
    let ellipses = pairs.map(|(_, pair)| ShownEllipse {
        population: pair.population.key(),
        performers: 500.0,
        outline_mm: pair.outline(4.605, 72),
    });
    let boxes = (0..12).map(|at| {
        let from = f64::from(at) * 4.0;
        let (along_mm, up_mm) = (Some((165.0 + from, 200.0 + from)), Some((65.0, 75.0 + from)));
        SizeBox { size: "A".to_owned(), along_mm, up_mm }
    });
    ShownPair {
        side: Side::Right,
        along: dimensions[0],
        up: dimensions[1],
        points: (0..PEOPLE).map(point).collect(),
        measured: 667,
        inside: 600,
        correlation: Some(0.6),
        ellipses: ellipses.collect(),
        boxes: boxes.collect(),
    }
}

fn drawing(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("charts");
    let bins: Vec<Bin> = (0..24_u32)
        .map(|at| Bin {
            from_mm: 160.0 + 4.0 * f64::from(at),
            to_mm: 164.0 + 4.0 * f64::from(at),
            measured: 40,
            estimated: 2,
            published: 41.5,
        })
        .collect();
    let words = HistogramWords { along: "Hand girth, mm", up: "performers" };
    group.bench_function("histogram", |b| {
        b.iter(|| charts::svg(&Histogram { bins: black_box(&bins), words }));
    });
    let pair = pair();
    let names = ["women".to_owned(), "men".to_owned()];
    let (along, up) = ("Hand girth, mm", "Middle finger length, mm");
    group.bench_function("scatter of 1,000 performers", |b| {
        b.iter(|| charts::svg(&ScatterChart { pair: black_box(&pair), names: &names, along, up }));
    });
    let points: Vec<CurvePoint> = (1..=12)
        .map(|sizes| CurvePoint {
            sizes,
            misfit: 1.0 / sizes as f64,
            covered: 80 * sizes,
            covered_percent: 8.0 * sizes as f64,
            is_proven: true,
            is_knee: sizes == 4,
        })
        .collect();
    let words = CurveWords { sizes: "sizes", misfit: "misfit", covered: "fitted, %", knee: "bend" };
    group.bench_function("curve", |b| {
        b.iter(|| charts::svg(&Curve { points: black_box(&points), words }));
    });
    group.finish();
}

criterion_group!(benches, drawing);
criterion_main!(benches);
