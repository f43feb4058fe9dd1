//! One dimension over a cast, against the published people.

use analysis::sizing::describe::Bin;
use plotters::coord::Shift;
use plotters::prelude::*;

use super::{Chart, Drawn, dashed, plane};

/// Words beside the axes of [`Histogram`].
#[derive(Debug, Clone, Copy)]
pub struct HistogramWords<'a> {
    /// The dimension, with its unit.
    pub along: &'a str,
    /// What is counted.
    pub up: &'a str,
}

/// Columns: measured in grey (hatched on paper), estimated in white on top of them; the published
/// people as a dashed line from column to column.
#[derive(Debug, Clone, Copy)]
pub struct Histogram<'a> {
    /// The columns.
    pub bins: &'a [Bin],
    /// Words.
    pub words: HistogramWords<'a>,
}

impl Chart for Histogram<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &DrawingArea<DB, Shift>) -> Drawn<DB> {
        let ends = self.bins.first().zip(self.bins.last());
        let (low, high) = ends.map_or((0.0, 1.0), |(first, last)| (first.from_mm, last.to_mm));
        let height = |bin: &Bin| ((bin.measured + bin.estimated) as f64).max(bin.published);
        let top = self.bins.iter().map(height).fold(1.0, f64::max) * 1.08;
        let mut chart = plane(canvas, low..high, 0.0..top, (self.words.along, self.words.up))?;
        for bin in self.bins {
            let (measured, all) = (bin.measured as f64, (bin.measured + bin.estimated) as f64);
            let column = |from: f64, to: f64| [(bin.from_mm, from), (bin.to_mm, to)];
            if bin.measured > 0 {
                let area = Rectangle::new(column(0.0, measured), BLACK.mix(0.3).filled());
                chart.draw_series(std::iter::once(area))?;
            }
            for (from, to) in [(0.0, measured), (measured, all)] {
                if to > from {
                    let edge = Rectangle::new(column(from, to), BLACK.stroke_width(1));
                    chart.draw_series(std::iter::once(edge))?;
                }
            }
        }
        let middle = |bin: &Bin| (f64::midpoint(bin.from_mm, bin.to_mm), bin.published);
        dashed(&mut chart, self.bins.iter().map(middle).collect(), (7, 4), 2)
    }
}
