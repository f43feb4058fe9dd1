//! Charts as SVG, in black on white so that they read on any printer: lines differ by dash and
//! marker, never by colour.

use analysis::fabric::TensionCurve;
use plotters::coord::Shift;
use plotters::element::DashedPathElement;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use crate::size_report::CurvePoint;

/// Width and height of a chart, px.
const SIZE: (u32, u32) = (640, 300);

type Canvas<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Failure<'a> = DrawingAreaErrorKind<<SVGBackend<'a> as DrawingBackend>::ErrorType>;

/// Words beside the lines of [`sizes`].
#[derive(Debug, Clone, Copy)]
pub struct CurveWords<'a> {
    /// Of the axis along.
    pub sizes: &'a str,
    /// Of the left axis and its line.
    pub misfit: &'a str,
    /// Of the right axis and its line, percent.
    pub covered: &'a str,
    /// Beside the bend.
    pub knee: &'a str,
}

/// Misfit (solid, dots, left axis) and coverage (dashed, squares, right axis) against the number
/// of sizes; empty where nothing can be drawn.
#[must_use]
pub fn sizes(curve: &[CurvePoint], words: CurveWords<'_>) -> String {
    let mut svg = String::new();
    let is_drawn = {
        let canvas = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
        draw_sizes(&canvas, curve, words).and_then(|()| canvas.present()).is_ok()
    };
    if is_drawn { svg } else { String::new() }
}

fn font(px: i32) -> TextStyle<'static> {
    ("sans-serif", px).into_font().color(&BLACK)
}

fn draw_sizes<'a>(
    canvas: &Canvas<'a>,
    curve: &[CurvePoint],
    words: CurveWords<'_>,
) -> Result<(), Failure<'a>> {
    canvas.fill(&WHITE)?;
    let last = curve.len().max(2) as f64;
    let top = curve.iter().map(|point| point.misfit).fold(0.01, f64::max) * 1.1;
    let at = |point: &CurvePoint| point.sizes as f64;
    let mut chart = ChartBuilder::on(canvas)
        .margin(10)
        .x_label_area_size(42)
        .y_label_area_size(58)
        .right_y_label_area_size(58)
        .build_cartesian_2d(0.5..last + 0.5, 0.0..top)?
        .set_secondary_coord(0.5..last + 0.5, 0.0..105.0);
    chart
        .configure_mesh()
        .disable_x_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(BLACK.mix(0.15))
        .x_labels(curve.len() + 1)
        .x_label_formatter(&|x| format!("{x:.0}"))
        .y_labels(5)
        .x_desc(words.sizes)
        .y_desc(format!("● {}", words.misfit))
        .label_style(font(15))
        .axis_desc_style(font(15))
        .draw()?;
    chart
        .configure_secondary_axes()
        .y_desc(format!("□ {}", words.covered))
        .y_labels(5)
        .label_style(font(15))
        .axis_desc_style(font(15))
        .draw()?;
    let misfit: Vec<(f64, f64)> = curve.iter().map(|point| (at(point), point.misfit)).collect();
    let covered: Vec<(f64, f64)> =
        curve.iter().map(|point| (at(point), point.covered_percent)).collect();
    chart.draw_series(LineSeries::new(misfit.clone(), BLACK.stroke_width(2)))?;
    chart.draw_series(misfit.iter().map(|point| Circle::new(*point, 4, BLACK.filled())))?;
    chart.draw_secondary_series(std::iter::once(DashedPathElement::new(
        covered.clone(),
        6,
        4,
        BLACK.stroke_width(2),
    )))?;
    chart.draw_secondary_series(covered.iter().map(|point| {
        EmptyElement::at(*point)
            + Rectangle::new([(-4, -4), (4, 4)], WHITE.filled())
            + Rectangle::new([(-4, -4), (4, 4)], BLACK.stroke_width(2))
    }))?;
    let bend = curve.iter().find(|point| point.is_knee);
    chart.draw_series(bend.map(|point| {
        let style = font(15).pos(Pos::new(HPos::Left, VPos::Bottom));
        EmptyElement::at((at(point), point.misfit))
            + Circle::new((0, 0), 9, BLACK.stroke_width(2))
            + Text::new(words.knee.to_owned(), (12, -6), style)
    }))?;
    Ok(())
}

/// Words beside the lines of [`tension`].
#[derive(Debug, Clone, Copy)]
pub struct TensionWords<'a> {
    /// Of the axis along, percent.
    pub stretch: &'a str,
    /// Of the axis up, N/m.
    pub tension: &'a str,
    /// Beside the usable extension.
    pub usable: &'a str,
}

/// Width and height of the chart of a fabric, px: small, so that its words can be read on a phone.
const TENSION_SIZE: (u32, u32) = (420, 260);

/// Chords of a drawn curve that is no straight line.
const CHORDS: u32 = 60;

/// Tension (solid) against extension, the pulls it was made from (dots), and where the usable
/// extension ends (dashed); empty where nothing can be drawn.
#[must_use]
pub fn tension(
    curve: TensionCurve,
    pulls: &[(f64, f64)],
    usable: f64,
    words: TensionWords<'_>,
) -> String {
    let mut svg = String::new();
    let is_drawn = {
        let canvas = SVGBackend::with_string(&mut svg, TENSION_SIZE).into_drawing_area();
        draw_tension(&canvas, (curve, pulls, usable), words).and_then(|()| canvas.present()).is_ok()
    };
    if is_drawn { svg } else { String::new() }
}

fn draw_tension<'a>(
    canvas: &Canvas<'a>,
    (curve, pulls, usable): (TensionCurve, &[(f64, f64)], f64),
    words: TensionWords<'_>,
) -> Result<(), Failure<'a>> {
    canvas.fill(&WHITE)?;
    let longest = pulls.iter().map(|(extension, _)| *extension).fold(usable.max(0.05), f64::max);
    let last = longest * 1.15;
    let hardest = pulls.iter().map(|(_, tension)| *tension).fold(0.0, f64::max);
    let top = curve.tension_n_per_m(last).max(hardest) * 1.1;
    let mut chart = ChartBuilder::on(canvas)
        .margin(10)
        .x_label_area_size(42)
        .y_label_area_size(64)
        .build_cartesian_2d(0.0..last * 100.0, 0.0..top)?;
    chart
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(BLACK.mix(0.15))
        .x_labels(6)
        .x_label_formatter(&|x| format!("{x:.0}"))
        .y_labels(5)
        .y_label_formatter(&|y| format!("{y:.0}"))
        .x_desc(words.stretch)
        .y_desc(words.tension)
        .label_style(font(15))
        .axis_desc_style(font(15))
        .draw()?;
    let chords = if matches!(curve, TensionCurve::Linear { .. }) { 1 } else { CHORDS };
    let along = |i: u32| last * f64::from(i) / f64::from(chords);
    let line = (0..=chords).map(|i| (along(i) * 100.0, curve.tension_n_per_m(along(i))));
    chart.draw_series(LineSeries::new(line, BLACK.stroke_width(2)))?;
    let edge = usable * 100.0;
    let edge_line = [(edge, 0.0), (edge, top * 0.92)];
    let dashes = DashedPathElement::new(edge_line.to_vec(), 6, 4, BLACK.stroke_width(2));
    chart.draw_series(std::iter::once(dashes))?;
    // The words stand on the side where there is room, and above the curve.
    let side = if edge > last * 50.0 { (HPos::Right, -6) } else { (HPos::Left, 6) };
    let style = font(15).pos(Pos::new(side.0, VPos::Top));
    chart.draw_series(std::iter::once(
        EmptyElement::at((edge, top * 0.99))
            + Text::new(words.usable.to_owned(), (side.1, 0), style),
    ))?;
    let dots = pulls.iter().map(|(extension, tension)| (extension * 100.0, *tension));
    chart.draw_series(dots.map(|point| Circle::new(point, 5, BLACK.filled())))?;
    Ok(())
}
