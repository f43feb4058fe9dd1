//! Two dimensions of a cast against each other, with the published people and the sizes.

use analysis::model::Basis;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::{Chart, Drawn, LETTERS, dashed, font, plane};
use crate::sizing::cast::ShownPair;

/// Room round everything, as a share of it.
const ROOM: f64 = 0.03;

/// Room above for names, as a share.
const ABOVE: f64 = 0.06;

/// How the ellipses differ, in the order of the populations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Line {
    /// Length of a dash, px.
    dash: u32,
    /// Gap, px; none for a solid line.
    gap: u32,
}

impl Line {
    /// One for each ellipse that is drawn at most.
    pub const ALL: [Line; 4] = [
        Line { dash: 1, gap: 0 },
        Line { dash: 9, gap: 5 },
        Line { dash: 2, gap: 4 },
        Line { dash: 18, gap: 6 },
    ];
}

/// Measured performers as dots, those with an estimate as rings; ellipses with their names; a box
/// with a letter for each size.
#[derive(Debug, Clone, Copy)]
pub struct ScatterChart<'a> {
    /// What is drawn.
    pub pair: &'a ShownPair,
    /// Names of the ellipses' populations.
    pub names: &'a [String],
    /// The dimension along, with its unit.
    pub along: &'a str,
    /// The dimension up, with its unit.
    pub up: &'a str,
}

impl ScatterChart<'_> {
    /// Smallest and largest value of an axis.
    fn ends(&self, axis: usize) -> (f64, f64) {
        let ellipses = self.pair.ellipses.iter().flat_map(|e| &e.outline_mm);
        let outline = ellipses.filter_map(|mm| mm.get(axis).copied());
        let points = self.pair.points.iter().map(|p| if axis == 0 { p.along_mm } else { p.up_mm });
        let boxes = self.pair.boxes.iter();
        let boxes = boxes.filter_map(|b| if axis == 0 { b.along_mm } else { b.up_mm });
        let all = outline.chain(points).chain(boxes.flat_map(|(low, high)| [low, high]));
        let (low, high) =
            all.fold((f64::MAX, f64::MIN), |(low, high), mm| (low.min(mm), high.max(mm)));
        if low > high {
            return (0.0, 1.0);
        }
        let room = ((high - low) * ROOM).max(0.5);
        (low - room, high + room)
    }
}

impl Chart for ScatterChart<'_> {
    fn draw<DB: DrawingBackend>(&self, canvas: &DrawingArea<DB, Shift>) -> Drawn<DB> {
        let pair = self.pair;
        let ((x0, x1), (y0, y1)) = (self.ends(0), self.ends(1));
        // The names of the ellipses stand above them.
        let y1 = y1 + (y1 - y0) * ABOVE;
        let mut chart = plane(canvas, x0..x1, y0..y1, (self.along, self.up))?;
        for size in &pair.boxes {
            let (left, right) = size.along_mm.unwrap_or((x0, x1));
            let (low, high) = size.up_mm.unwrap_or((y0, y1));
            let edge = Rectangle::new([(left, high), (right, low)], BLACK.mix(0.6).stroke_width(1));
            chart.draw_series(std::iter::once(edge))?;
            let style = font(LETTERS).pos(Pos::new(HPos::Left, VPos::Top));
            let name = Text::new(size.size.clone(), (3, 2), style);
            chart.draw_series(std::iter::once(EmptyElement::at((left, high)) + name))?;
        }
        for ((ellipse, line), name) in pair.ellipses.iter().zip(Line::ALL).zip(self.names) {
            let round = ellipse.outline_mm.iter().chain(ellipse.outline_mm.first());
            let points: Vec<(f64, f64)> = round.map(|mm| (mm[0], mm[1])).collect();
            let top = points.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1));
            dashed(&mut chart, points, (line.dash, line.gap), 2)?;
            if let Some(top) = top {
                let style = font(LETTERS).pos(Pos::new(HPos::Center, VPos::Bottom));
                let label = Text::new(name.clone(), (0, -4), style);
                chart.draw_series(std::iter::once(EmptyElement::at(top) + label))?;
            }
        }
        for (basis, style) in
            [(Basis::Estimated, BLACK.stroke_width(1)), (Basis::Measured, BLACK.filled())]
        {
            let points = pair.points.iter().filter(|point| point.basis == basis);
            let mark = points.map(|point| Circle::new((point.along_mm, point.up_mm), 4, style));
            chart.draw_series(mark)?;
        }
        Ok(())
    }
}
