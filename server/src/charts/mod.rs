//! Charts in black on white, so that they read on any printer: lines differ by dash and marker,
//! areas by tone or hatching, never by colour. Each is drawn once and written down either as SVG for
//! a page or as ink for a sheet.

mod curve;
mod histogram;
mod on_paper;
mod scatter;
mod tension;

use plotters::coord::Shift;
use plotters::element::DashedPathElement;
use plotters::prelude::*;

pub use curve::{Curve, CurveWords};
pub use histogram::{Histogram, HistogramWords};
pub use scatter::{Line, ScatterChart};
pub use tension::{Tension, TensionWords};

use crate::export::ink::Ink;

/// Width and height of a chart, px. On a phone it shrinks to two thirds, and its letters with it.
const SIZE: (u32, u32) = (500, 340);

/// Height of letters on a chart, px.
const LETTERS: i32 = 16;

type Canvas<DB> = DrawingArea<DB, Shift>;
type Drawn<DB> = Result<(), DrawingAreaErrorKind<<DB as DrawingBackend>::ErrorType>>;

/// Something drawn.
pub trait Chart {
    /// Draws it on any surface.
    ///
    /// # Errors
    /// Those of the surface.
    fn draw<DB: DrawingBackend>(&self, canvas: &DrawingArea<DB, Shift>) -> Drawn<DB>;
}

/// The chart as SVG; empty where nothing can be drawn.
#[must_use]
pub fn svg(chart: &impl Chart) -> String {
    let mut svg = String::new();
    let is_drawn = {
        let canvas = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
        let white = canvas.fill(&WHITE).is_ok();
        white && chart.draw(&canvas).and_then(|()| canvas.present()).is_ok()
    };
    if is_drawn { svg } else { String::new() }
}

/// The chart as ink this wide, mm, with its lower left corner at the origin, and its height.
#[must_use]
pub fn ink(chart: &impl Chart, width_mm: f64) -> (Ink, f64) {
    let scale = width_mm / f64::from(SIZE.0);
    let mut ink = Ink::default();
    {
        let canvas = on_paper::OnPaper::new(&mut ink, SIZE, scale).into_drawing_area();
        // Ink takes everything: there is no failure to report.
        let _ = chart.draw(&canvas);
    }
    (ink, f64::from(SIZE.1) * scale)
}

fn font(px: i32) -> TextStyle<'static> {
    ("sans-serif", px).into_font().color(&BLACK)
}

/// A line in dashes of this many px and gaps of the other; solid without a gap.
fn dashed<DB: DrawingBackend>(
    chart: &mut ChartContext<'_, DB, Plane>,
    points: Vec<(f64, f64)>,
    (dash, gap): (u32, u32),
    width: u32,
) -> Drawn<DB> {
    let style = BLACK.stroke_width(width);
    if gap == 0 {
        chart.draw_series(std::iter::once(PathElement::new(points, style)))?;
    } else {
        let line = DashedPathElement::new(points, dash, gap, style);
        chart.draw_series(std::iter::once(line))?;
    }
    Ok(())
}

type Plane =
    Cartesian2d<plotters::coord::types::RangedCoordf64, plotters::coord::types::RangedCoordf64>;

/// A plane with axes in mm or counts.
fn plane<'a, DB: DrawingBackend>(
    canvas: &'a Canvas<DB>,
    along: std::ops::Range<f64>,
    up: std::ops::Range<f64>,
    (along_word, up_word): (&str, &str),
) -> Result<ChartContext<'a, DB, Plane>, DrawingAreaErrorKind<DB::ErrorType>> {
    let mut chart = ChartBuilder::on(canvas)
        .margin(8)
        .margin_right(20)
        .x_label_area_size(46)
        .y_label_area_size(58)
        .build_cartesian_2d(along, up)?;
    chart
        .configure_mesh()
        .disable_x_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(BLACK.mix(0.15))
        .x_labels(7)
        .y_labels(6)
        .x_label_formatter(&|x| short(*x))
        .y_label_formatter(&|y| short(*y))
        .x_desc(along_word)
        .y_desc(up_word)
        .label_style(font(LETTERS))
        .axis_desc_style(font(LETTERS))
        .draw()?;
    Ok(chart)
}

/// A number without zeros that say nothing.
fn short(value: f64) -> String {
    let tenths = (value * 10.0).round() / 10.0;
    format!("{tenths}")
}
