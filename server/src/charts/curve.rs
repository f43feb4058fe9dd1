//! Misfit and coverage against the number of sizes.

use plotters::coord::Shift;
use plotters::element::DashedPathElement;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use serde_json::Value;

use super::{Chart, Drawn, LETTERS, font};
use crate::sizing::rows::CurvePoint;

/// Words beside the lines of [`Curve`].
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

impl<'a> CurveWords<'a> {
    /// The words of a language.
    #[must_use]
    pub fn of(words: &'a Value) -> CurveWords<'a> {
        let word = |key: &str| words["sizes"]["chart"][key].as_str().unwrap_or_default();
        CurveWords {
            sizes: word("sizes"),
            misfit: word("misfit"),
            covered: word("covered"),
            knee: word("knee"),
        }
    }
}

/// Misfit (solid, dots, left axis) and coverage (dashed, squares, right axis) against the number of
/// sizes, the bend in a ring.
#[derive(Debug, Clone, Copy)]
pub struct Curve<'a> {
    /// One point for each number of sizes.
    pub points: &'a [CurvePoint],
    /// Words.
    pub words: CurveWords<'a>,
}

impl Chart for Curve<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &DrawingArea<DB, Shift>) -> Drawn<DB> {
        let (curve, words) = (self.points, self.words);
        let last = curve.len().max(2) as f64;
        let top = curve.iter().map(|point| point.misfit).fold(0.01, f64::max) * 1.1;
        let at = |point: &CurvePoint| point.sizes as f64;
        let mut chart = ChartBuilder::on(canvas)
            .margin(8)
            .x_label_area_size(46)
            .y_label_area_size(58)
            .right_y_label_area_size(62)
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
            .label_style(font(LETTERS))
            .axis_desc_style(font(LETTERS))
            .draw()?;
        chart
            .configure_secondary_axes()
            .y_desc(format!("□ {}", words.covered))
            .y_label_formatter(&|percent| format!("{percent:.0}"))
            .y_labels(5)
            .label_style(font(LETTERS))
            .axis_desc_style(font(LETTERS))
            .draw()?;
        let misfit: Vec<(f64, f64)> = curve.iter().map(|point| (at(point), point.misfit)).collect();
        let covered: Vec<(f64, f64)> =
            curve.iter().map(|point| (at(point), point.covered_percent)).collect();
        chart.draw_series(std::iter::once(PathElement::new(
            misfit.clone(),
            BLACK.stroke_width(2),
        )))?;
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
            let style = font(LETTERS).pos(Pos::new(HPos::Right, VPos::Top));
            EmptyElement::at((at(point), point.misfit))
                + Circle::new((0, 0), 9, BLACK.stroke_width(2))
                + Text::new(words.knee.to_owned(), (-9, 5), style)
        }))?;
        Ok(())
    }
}
