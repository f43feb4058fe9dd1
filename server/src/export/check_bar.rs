//! A bar of exactly 100 mm, to be held against a ruler before anything is cut.

use std::f64::consts::FRAC_PI_2;

use kurbo::{Affine, Point, Rect, Shape as _};

use super::ink::{Anchor, Group, Ink};

/// Length of a check bar, mm (`common practice`: 100 mm or more, in both directions).
pub const LENGTH_MM: f64 = 100.0;

/// Thickness of the bar, mm.
pub const THICKNESS_MM: f64 = 2.0;

/// Thickness of the lines that close the bar, mm.
const RIM_MM: f64 = 0.25;

/// The bar along +x from the origin, divided into centimetres, all of it filled shapes, so that
/// no line width adds to its length. The caption stands behind its end.
#[must_use]
pub fn horizontal() -> Ink {
    let mut ink = Ink::default();
    let mut block = |x0: f64, y0: f64, x1: f64, y1: f64| {
        ink.fill(Group::Check, Rect::new(x0, y0, x1, y1).to_path(0.01));
    };
    block(0.0, 0.0, LENGTH_MM, RIM_MM);
    block(0.0, THICKNESS_MM - RIM_MM, LENGTH_MM, THICKNESS_MM);
    for centimetre in (0..10).step_by(2) {
        let x = f64::from(centimetre) * 10.0;
        block(x, RIM_MM, x + 10.0, THICKNESS_MM - RIM_MM);
    }
    block(LENGTH_MM - RIM_MM, RIM_MM, LENGTH_MM, THICKNESS_MM - RIM_MM);
    let caption = (Point::new(LENGTH_MM + 1.5, 0.0), 0.0, Anchor::Start);
    ink.text(Group::Check, caption, THICKNESS_MM, "100 mm");
    ink
}

/// The bar along +y from the origin, its thickness towards -x.
#[must_use]
pub fn vertical() -> Ink {
    let mut ink = Ink::default();
    ink.add(&horizontal(), Affine::rotate(FRAC_PI_2));
    ink
}
