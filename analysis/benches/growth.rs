//! The cost as people grow, from one hand to a hundred thousand, on one chart:
//! `cargo bench -p analysis --bench growth -- FILE.svg`. The figures go to standard output as well.

use std::fmt::Write;
use std::hint::black_box;
use std::time::{Duration, Instant};

use analysis::check::check_hands;
use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::workshop::{FEWEST_HANDS, learn};
use analysis::model::{HandModel, Population, Sampler};
use analysis::plan::{DEFAULT_TOLERANCE_MM, plan};

const HANDS: [usize; 6] = [1, 10, 100, 1_000, 10_000, 100_000];
/// A figure is the best of several runs, as many as fit in this time.
const BUDGET: Duration = Duration::from_millis(400);

/// A line of the chart: what, how it is drawn, and milliseconds by number of hands.
struct Curve {
    name: &'static str,
    dashes: &'static str,
    points: Vec<(usize, f64)>,
}

/// Name, dashes, what is timed, and from how many hands on.
type Run<'a> = (&'static str, &'static str, &'a dyn Fn(&[Hands]), usize);

/// Invented people, every dimension of both hands read once; the last one of an odd number of hands
/// has one hand read.
fn people(model: &HandModel, hands: usize) -> Vec<Hands> {
    let mut turn = 0.0_f64;
    let mut ripple = || {
        turn += 1.0;
        0.6 * (turn * 2.4).sin()
    };
    let Some(sampler) = Sampler::new(model, Population::Women) else { return Vec::new() };
    let mut all: Vec<Hands> =
        (0..hands.div_ceil(2)).map(|_| sampler.readings(&mut ripple)).collect();
    if let (1, Some(last)) = (hands % 2, all.last_mut()) {
        *last.side_mut(Side::Left) = Default::default();
    }
    all
}

fn best_ms(mut run: impl FnMut()) -> f64 {
    let begun = Instant::now();
    let mut best = f64::INFINITY;
    while best.is_infinite() || begun.elapsed() < BUDGET {
        let start = Instant::now();
        run();
        best = best.min(start.elapsed().as_secs_f64() * 1e3);
    }
    best
}

fn main() {
    let file = std::env::args().skip(1).find(|argument| argument.ends_with(".svg"));
    let model = HandModel::published();
    let check_and_fill = |population: Population| {
        let model = &model;
        move |cast: &[Hands]| {
            for hands in cast {
                black_box(check_hands(model, population, hands));
                black_box(model.fill(population, hands));
            }
        }
    };
    let next = |cast: &[Hands]| {
        for hands in cast {
            black_box(plan(&model, Population::Women, hands, &Side::BOTH, DEFAULT_TOLERANCE_MM));
        }
    };
    let refit = |cast: &[Hands]| {
        // A third of the readings is missing, as it is in a workshop.
        let gaps = |(i, hands): (usize, &Hands)| {
            let mut hands = hands.clone();
            for side in Side::BOTH {
                for d in Dimension::ALL.into_iter().filter(|d| (d.index() + i) % 3 == 0) {
                    hands.side_mut(side)[d] = None;
                }
            }
            (Population::Women, hands)
        };
        let cast: Vec<_> = cast.iter().enumerate().map(gaps).collect();
        black_box(learn(&model, &cast));
    };
    let (women, adults) = (check_and_fill(Population::Women), check_and_fill(Population::Adults));
    let runs: [Run<'_>; 4] = [
        ("check and fill, unspecified adults", "", &adults, 1),
        ("check and fill, women", "9 4", &women, 1),
        ("next reading for each", "2 4", &next, 1),
        ("refit of the workshop's model", "14 4 2 4", &refit, FEWEST_HANDS),
    ];
    let mut curves: Vec<Curve> = Vec::new();
    for (name, dashes, run, from) in runs {
        let mut points = Vec::new();
        for hands in HANDS.into_iter().filter(|hands| *hands >= from) {
            let cast = people(&model, hands);
            let ms = best_ms(|| run(&cast));
            println!("{name}\t{hands} hands\t{ms:.4} ms");
            points.push((hands, ms));
        }
        curves.push(Curve { name, dashes, points });
    }
    let written = file.map(|file| std::fs::write(file, chart(&curves)));
    if let Some(Err(error)) = written {
        eprintln!("{error}");
    }
}

const LEFT: f64 = 70.0;
const RIGHT: f64 = 700.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 400.0;

/// Both axes by powers of ten: a hundred-thousandth of a second to a hundred seconds.
#[expect(clippy::cast_precision_loss, reason = "numbers of hands")]
fn chart(curves: &[Curve]) -> String {
    let x = |hands: f64| LEFT + (RIGHT - LEFT) * hands.log10() / 5.0;
    let y = |ms: f64| BOTTOM - (BOTTOM - TOP) * (ms.log10() + 2.0) / 7.0;
    let mut out = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 740 560\" role=\"img\" \
         font-family=\"sans-serif\" font-size=\"13\" aria-label=\"Time against number of hands\">\n\
         <rect width=\"740\" height=\"560\" fill=\"#fff\"/>\n",
    );
    // Writing to a string does not fail.
    let mut add = |line: std::fmt::Arguments<'_>| {
        let _ = writeln!(out, "{line}");
    };
    for (power, name) in [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
        .into_iter()
        .zip(["1", "10", "100", "1,000", "10,000", "100,000"])
    {
        let at = x(10f64.powf(power));
        add(format_args!("<path d=\"M{at:.1} {TOP}V{BOTTOM}\" stroke=\"#ddd\"/>"));
        add(format_args!(
            "<text x=\"{at:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{name}</text>",
            BOTTOM + 18.0
        ));
    }
    let times = ["10 µs", "0.1 ms", "1 ms", "10 ms", "0.1 s", "1 s", "10 s", "100 s"];
    for (power, name) in (-2..=5).zip(times) {
        let at = y(10f64.powi(power));
        add(format_args!("<path d=\"M{LEFT} {at:.1}H{RIGHT}\" stroke=\"#ddd\"/>"));
        add(format_args!(
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{name}</text>",
            LEFT - 8.0,
            at + 4.0
        ));
    }
    add(format_args!(
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">hands</text>",
        f64::midpoint(LEFT, RIGHT),
        BOTTOM + 38.0
    ));
    for (i, curve) in (0..).zip(curves) {
        let line: Vec<String> = curve
            .points
            .iter()
            .map(|(hands, ms)| format!("{:.1} {:.1}", x(*hands as f64), y(*ms)))
            .collect();
        let dashes = curve.dashes;
        let stroke = format!(
            "fill=\"none\" stroke=\"#000\" stroke-width=\"2\" stroke-dasharray=\"{dashes}\""
        );
        add(format_args!("<path d=\"M{}\" {stroke}/>", line.join("L")));
        for (hands, ms) in &curve.points {
            add(format_args!(
                "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"3\"/>",
                x(*hands as f64),
                y(*ms)
            ));
        }
        let at = BOTTOM + 66.0 + 22.0 * f64::from(i);
        add(format_args!("<path d=\"M{LEFT} {at:.1}h50\" {stroke}/>"));
        let last = curve.points.last().map_or(0.0, |(hands, ms)| ms * 1e3 / *hands as f64);
        add(format_args!(
            "<text x=\"{:.1}\" y=\"{:.1}\">{}: {last:.0} µs a hand at 100,000</text>",
            LEFT + 60.0,
            at + 4.0,
            curve.name
        ));
    }
    out.push_str("</svg>\n");
    out
}
