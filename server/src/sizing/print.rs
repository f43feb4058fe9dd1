//! The report of a production on paper: the cast described, the sizes, what to cut, whom they fit.

use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::HandModel;
use analysis::sizing::describe::{Member, distribution, histogram};
use analysis::sizing::inches::Inch;
use serde_json::Value;

use super::cast::{CastOrder, CastReport, CastRow, axis, describe, members};
use super::report::report;
use super::rows::{ChosenSize, En, SizeReport, SizedPerformer};
use super::{Cast, SizeOrder};
use crate::charts::{self, Curve, CurveWords, Histogram, HistogramWords, ScatterChart};
use crate::export::pdf::flow::{self, Block, figure_width_mm};
use crate::export::pdf::{CAUTION, Paper, PdfError};
use crate::measurers::MeasurerReport;
use crate::person::Person;
use crate::words::{self, dimension_name, number};

/// Dimensions whose histograms are printed, of the right hand.
const DRAWN: [Dimension; 4] = [
    Dimension::HandGirth,
    Dimension::HandLength,
    Dimension::MiddleLength,
    Dimension::MiddleKnuckleGirth,
];

/// What stands on the report beside its figures.
#[derive(Debug, Clone, Copy)]
pub struct PrintLabels<'a> {
    /// Name of the production.
    pub production: &'a str,
    /// Date as it is to be read.
    pub date: &'a str,
    /// Words of the language.
    pub words: &'a Value,
}

impl PrintLabels<'_> {
    fn of(&self, part: &str, key: &str) -> String {
        self.words[part][key].as_str().unwrap_or_default().to_owned()
    }

    fn cast(&self, key: &str) -> String {
        self.of("cast", key)
    }

    fn sizes(&self, key: &str) -> String {
        self.of("sizes", key)
    }

    fn dimension(&self, dimension: Dimension) -> String {
        dimension_name(self.words, dimension).to_owned()
    }

    fn hand(&self, side: Side) -> String {
        self.of("side", if side == Side::Left { "l" } else { "r" })
    }

    fn number(&self, value: f64) -> String {
        number(self.words, value)
    }

    fn inch(&self, system: Inch) -> String {
        let key = match system {
            Inch::English => "english",
            Inch::French => "french",
        };
        self.words["sizes"]["inches"][key].as_str().unwrap_or_default().to_owned()
    }

    fn en(&self, en: &En) -> String {
        let one = |size: &str| match size {
            "below_6" | "above_11" => self.sizes(size),
            size => format!("{} {size}", self.sizes("size")),
        };
        if en.agree {
            return one(&en.by_girth);
        }
        let by = |size: &str, key: &str| format!("{} {}", one(size), self.sizes(key));
        format!("{}, {}", by(&en.by_girth, "by_girth"), by(&en.by_length, "by_length"))
    }
}

/// What the report is made from.
#[derive(Debug)]
pub struct Printed<'a> {
    /// The performers of the production.
    pub people: &'a [Person],
    /// What is asked of the sizes.
    pub order: &'a SizeOrder,
    /// How the measurers measure, where the reader may know.
    pub measurers: &'a [MeasurerReport],
}

/// Prints the report. Same input, same bytes.
///
/// # Errors
/// [`PdfError`].
pub fn print(
    model: &HandModel,
    Printed { people, order, measurers }: &Printed<'_>,
    labels: &PrintLabels<'_>,
    paper: Paper,
) -> Result<Vec<u8>, PdfError> {
    let title = format!("{}: {}", labels.production, labels.sizes("print_title"));
    let mut blocks = vec![Block::Text(format!("{}. {CAUTION}", labels.date))];
    let asked = CastOrder { sizes: (*order).clone(), ..CastOrder::default() };
    if let Some(found) = describe(model, people, &asked) {
        describe_cast(&mut blocks, model, people, &found, labels, paper);
    }
    match report(model, people, order) {
        Some(found) => show_sizes(&mut blocks, &found, labels, paper),
        None => blocks.push(Block::Text(labels.sizes("nobody"))),
    }
    if !measurers.is_empty() {
        show_measurers(&mut blocks, measurers, labels);
    }
    let foot = format!("{}, {}. {CAUTION}", labels.production, labels.date);
    flow::report(&title, &foot, &blocks, paper)
}

fn describe_cast(
    blocks: &mut Vec<Block>,
    model: &HandModel,
    people: &[Person],
    found: &CastReport,
    labels: &PrintLabels<'_>,
    paper: Paper,
) {
    blocks.push(Block::Heading(labels.cast("title")));
    let counted = |population: &super::cast::CountedPopulation| {
        let name = words::population(labels.words, &population.population);
        format!("{name} ({})", population.performers)
    };
    let populations: Vec<String> = found.populations.iter().map(counted).collect();
    blocks.push(Block::Text(format!(
        "{} {}. {} {}.",
        found.counted,
        labels.sizes("counted"),
        labels.cast("compared"),
        populations.join("; ")
    )));
    if !found.unmeasured.is_empty() {
        let codes = found.unmeasured.join(", ");
        blocks.push(Block::Text(format!("{} {codes}", labels.sizes("unmeasured"))));
    }
    let cast = Cast::of(model, people);
    let members = members(&cast);
    let width = figure_width_mm(paper, 2);
    blocks.push(Block::Text(labels.cast("histogram_key_print")));
    for pair in DRAWN.chunks(2) {
        let drawn = pair.iter().map(|d| drawn(model, &members, *d, labels, width));
        blocks.push(Block::Figures(drawn.collect()));
    }
    let ellipses: Vec<String> = found
        .pair
        .ellipses
        .iter()
        .map(|ellipse| words::population(labels.words, &ellipse.population))
        .collect();
    let scatter = ScatterChart {
        pair: &found.pair,
        names: &ellipses,
        along: &axis(labels.words, found.pair.along),
        up: &axis(labels.words, found.pair.up),
    };
    let (ink, height) = charts::ink(&scatter, figure_width_mm(paper, 1) * 0.75);
    let inside =
        format!("{} {} / {}", labels.cast("inside"), found.pair.inside, found.pair.measured);
    blocks.push(Block::Text(labels.cast("scatter_key")));
    blocks.push(Block::Figures(vec![(ink, height, inside)]));
    blocks.push(Block::Heading(labels.cast("rows")));
    blocks.push(Block::Text(labels.cast("rows_help")));
    let words = ["dimension", "measured", "estimated", "mean"].map(|key| labels.cast(key));
    let figures = ["SD", "5 %", "50 %", "95 %"].map(str::to_owned);
    let compared = ["percentile", "distance"].map(|key| labels.cast(key));
    let header = [&words[..], &figures[..], &compared[..], &["p".to_owned()]].concat();
    let rows = found.rows.iter().map(|row| cast_row(row, labels)).collect();
    blocks.push(Block::Table { header, rows });
}

fn drawn(
    model: &HandModel,
    members: &[Member<'_>],
    dimension: Dimension,
    labels: &PrintLabels<'_>,
    width_mm: f64,
) -> (crate::export::ink::Ink, f64, String) {
    let found = distribution(model, members, Side::Right, dimension);
    let chart = Histogram {
        bins: &histogram(model, members, &found),
        words: HistogramWords {
            along: &axis(labels.words, dimension),
            up: &labels.cast("performers"),
        },
    };
    let (ink, height) = charts::ink(&chart, width_mm);
    (ink, height, format!("{}, {}", labels.dimension(dimension), labels.hand(Side::Right)))
}

fn cast_row(row: &CastRow, labels: &PrintLabels<'_>) -> Vec<String> {
    let one = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |mm| labels.number(mm));
    let figures = row.figures.as_ref();
    vec![
        format!("{}, {}", labels.dimension(row.dimension), labels.hand(row.side)),
        row.measured.to_string(),
        row.estimated.to_string(),
        one(figures.map(|f| f.mean)),
        one(figures.and_then(|f| f.sd)),
        one(figures.map(|f| f.p5)),
        one(figures.map(|f| f.p50)),
        one(figures.map(|f| f.p95)),
        one(row.percentile),
        one(row.distance),
        match row.p {
            Some(p) if p < 0.01 => format!("< {}", labels.number(0.01)),
            p => one(p),
        },
    ]
}

fn show_sizes(blocks: &mut Vec<Block>, found: &SizeReport, labels: &PrintLabels<'_>, paper: Paper) {
    blocks.push(Block::Heading(labels.sizes("cut_title")));
    if found.chosen_for != "cast" {
        let whom = words::population(labels.words, &found.chosen_for);
        let note = labels.sizes("stock_note");
        blocks.push(Block::Text(format!("{note} {whom} ({}).", found.people)));
    }
    blocks.push(Block::Text(labels.sizes("cut_help")));
    let before = ["size", "drafted_for", "girth", "length"].map(|key| labels.sizes(key));
    let systems = Inch::BOTH.map(|system| labels.inch(system));
    let after = ["taken", "spare", "cut"].map(|key| labels.sizes(key));
    let published = ["EN ISO 21420".to_owned()];
    let header = [&before[..], &published[..], &systems[..], &after[..]].concat();
    let rows = found.chosen.iter().map(|size| size_row(size, found.by, labels)).collect();
    blocks.push(Block::Table { header, rows });
    if let Some(cloth) = &found.cloth {
        blocks.push(Block::Text(format!(
            "{} {} m × {} m ({} m², {} % {}).",
            labels.sizes("cloth"),
            labels.number(cloth.length_m),
            labels.number(cloth.width_mm / 1000.0),
            labels.number(cloth.area_m2),
            cloth.used_percent,
            labels.sizes("cloth_used")
        )));
    }
    blocks.push(Block::Heading(labels.sizes("curve_title")));
    blocks.push(Block::Text(labels.sizes("curve_help")));
    let curve = Curve { points: &found.curve, words: CurveWords::of(labels.words) };
    let (ink, height) = charts::ink(&curve, figure_width_mm(paper, 1) * 0.75);
    blocks.push(Block::Figures(vec![(ink, height, String::new())]));
    let header = ["sizes", "misfit", "fitted", "proof"].map(|key| labels.sizes(key)).to_vec();
    let rows = found.curve.iter().map(|point| {
        let bend = if point.is_knee {
            format!(" ({})", labels.words["sizes"]["chart"]["knee"].as_str().unwrap_or_default())
        } else {
            String::new()
        };
        vec![
            format!("{}{bend}", point.sizes),
            labels.number(point.misfit),
            format!("{} ({} %)", point.covered, labels.number(point.covered_percent)),
            labels.sizes(if point.is_proven { "proven" } else { "searched" }),
        ]
    });
    blocks.push(Block::Table { header, rows: rows.collect() });
    if !found.performers.is_empty() {
        blocks.push(Block::Heading(labels.sizes("who_title")));
        let header = [labels.of("board", "code")];
        let others = ["size", "misfit", "worst", "published"].map(|key| labels.sizes(key));
        let header = [&header[..], &others[..]].concat();
        let rows = found.performers.iter().map(|one| performer_row(one, labels)).collect();
        blocks.push(Block::Table { header, rows });
    }
    blocks.push(Block::Heading(labels.sizes("coverage_title")));
    blocks.push(Block::Text(labels.sizes("coverage_help")));
    let header = [labels.of("performer_form", "population")];
    let others = ["covered_all", "covered_ends", "covered_two"].map(|key| labels.sizes(key));
    let rows = found.coverage.iter().map(|one| {
        vec![
            words::population(labels.words, &one.population),
            format!("{} %", labels.number(one.percent)),
            format!("{} – {} %", labels.number(one.low_percent), labels.number(one.high_percent)),
            format!("{} %", labels.number(one.two_keys_percent)),
        ]
    });
    let header = [&header[..], &others[..]].concat();
    blocks.push(Block::Table { header, rows: rows.collect() });
}

fn size_row(size: &ChosenSize, by: &str, labels: &PrintLabels<'_>) -> Vec<String> {
    let origin = match (&size.drafted_for, by) {
        (Some(code), _) => code.clone(),
        (None, "centres") => labels.sizes("centre"),
        (None, _) => labels.sizes("drawn_hand"),
    };
    let mut row = vec![
        size.name.clone(),
        origin,
        format!("{} mm", labels.number(size.girth_mm)),
        format!("{} mm", labels.number(size.length_mm)),
        labels.en(&size.en),
    ];
    row.extend(size.inches.iter().map(|one| labels.number(one.number)));
    row.extend([size.taken.to_string(), size.spare.to_string(), size.cut.to_string()]);
    row
}

fn performer_row(one: &SizedPerformer, labels: &PrintLabels<'_>) -> Vec<String> {
    let size = if one.fits {
        one.size.clone()
    } else {
        format!("{} ({} {})", labels.sizes("to_measure"), labels.sizes("nearest"), one.size)
    };
    let worst = if one.worst_percent > 0.0 {
        let way = if one.worst.strain > 0.0 { "too_small" } else { "too_large" };
        format!(
            "{}, {}: {} % {}",
            labels.dimension(one.worst.dimension),
            labels.hand(one.worst.side),
            one.worst_percent,
            labels.sizes(way)
        )
    } else {
        labels.sizes("own")
    };
    vec![one.code.clone(), size, labels.number(one.misfit), worst, labels.en(&one.en)]
}

fn show_measurers(blocks: &mut Vec<Block>, measurers: &[MeasurerReport], labels: &PrintLabels<'_>) {
    let word = |key: &str| labels.of("measurers", key);
    blocks.push(Block::Heading(word("title")));
    blocks.push(Block::Text(word("help")));
    for one in measurers {
        blocks.push(Block::Text(format!("{}: {} {}", one.name, one.readings, word("readings"))));
        if one.repeats.is_empty() {
            blocks.push(Block::Text(word("no_repeats")));
        } else {
            let header = ["pairs", "tem", "relative", "usual", "reliability"].map(word);
            let header = [&[labels.cast("dimension")][..], &header[..]].concat();
            let rows = one.repeats.iter().map(|repeat| {
                vec![
                    labels.dimension(repeat.dimension),
                    repeat.pairs.to_string(),
                    format!("{} mm", labels.number(repeat.tem_mm)),
                    format!("{} %", labels.number(repeat.relative_percent)),
                    format!("{} mm", labels.number(repeat.usual_mm)),
                    labels.number(repeat.reliability),
                ]
            });
            blocks.push(Block::Table { header, rows: rows.collect() });
        }
        if one.biases.is_empty() {
            blocks.push(Block::Text(format!("{}: {}", word("bias_title"), word("no_bias"))));
        } else {
            let header = ["people", "bias", "interval"].map(word);
            let header = [&[labels.cast("dimension")][..], &header[..]].concat();
            let rows = one.biases.iter().map(|bias| {
                let (low, high) = (labels.number(bias.low_mm), labels.number(bias.high_mm));
                vec![
                    labels.dimension(bias.dimension),
                    bias.people.to_string(),
                    format!("{} mm", labels.number(bias.mm)),
                    format!("{low} – {high} mm"),
                ]
            });
            blocks.push(Block::Table { header, rows: rows.collect() });
        }
        let digits = match &one.digits {
            Some(digits) => format!(
                "{} {}, {} {}",
                word("chi_squared"),
                labels.number(digits.chi_squared),
                word("probability"),
                labels.number(digits.probability)
            ),
            None => word("no_digits"),
        };
        blocks.push(Block::Text(format!("{}: {digits}", word("digits_title"))));
    }
    blocks.push(Block::Text(word("method")));
}
