//! Tension of a fabric against its extension.

use analysis::fabric::TensionCurve;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::{Chart, Drawn, LETTERS, dashed, font, plane};

/// Words beside the lines of [`Tension`].
#[derive(Debug, Clone, Copy)]
pub struct TensionWords<'a> {
    /// Of the axis along, percent.
    pub stretch: &'a str,
    /// Of the axis up, N/m.
    pub tension: &'a str,
    /// Beside the usable extension.
    pub usable: &'a str,
}

/// Chords of a drawn curve that is no straight line.
const CHORDS: u32 = 60;

/// Tension (solid) against extension, the pulls it was made from (dots), and where the usable
/// extension ends (dashed).
#[derive(Debug, Clone, Copy)]
pub struct Tension<'a> {
    /// The curve.
    pub curve: TensionCurve,
    /// The pulls: extension and tension, N/m.
    pub pulls: &'a [(f64, f64)],
    /// Where the usable extension ends.
    pub usable: f64,
    /// Words.
    pub words: TensionWords<'a>,
}

impl Chart for Tension<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &DrawingArea<DB, Shift>) -> Drawn<DB> {
        let Tension { curve, pulls, usable, words } = *self;
        let extensions = pulls.iter().map(|(extension, _)| *extension);
        let last = extensions.fold(usable.max(0.05), f64::max) * 1.15;
        let hardest = pulls.iter().map(|(_, tension)| *tension).fold(0.0, f64::max);
        let top = curve.tension_n_per_m(last).max(hardest) * 1.1;
        let axes = (words.stretch, words.tension);
        let mut chart = plane(canvas, 0.0..last * 100.0, 0.0..top, axes)?;
        let chords = if matches!(curve, TensionCurve::Linear { .. }) { 1 } else { CHORDS };
        let along = |i: u32| last * f64::from(i) / f64::from(chords);
        let line = (0..=chords).map(|i| (along(i) * 100.0, curve.tension_n_per_m(along(i))));
        dashed(&mut chart, line.collect(), (1, 0), 2)?;
        let edge = usable * 100.0;
        dashed(&mut chart, vec![(edge, 0.0), (edge, top * 0.92)], (6, 4), 2)?;
        // The words stand on the side where there is room, and above the curve.
        let side = if edge > last * 50.0 { (HPos::Right, -6) } else { (HPos::Left, 6) };
        let style = font(LETTERS).pos(Pos::new(side.0, VPos::Top));
        chart.draw_series(std::iter::once(
            EmptyElement::at((edge, top * 0.99))
                + Text::new(words.usable.to_owned(), (side.1, 0), style),
        ))?;
        let dots = pulls.iter().map(|(extension, tension)| (extension * 100.0, *tension));
        chart.draw_series(dots.map(|point| Circle::new(point, 5, BLACK.filled())))?;
        Ok(())
    }
}
