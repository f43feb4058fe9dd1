//! Laying pieces close together: on a page, or on cloth.
//!
//! The collision test is our own grid of bits ([`raster`]) rather than a collision library: a
//! handful of shapes on a grid of a millimetre is two hundred lines, exact to the cell on the safe
//! side, and fast enough; the libraries seen bring forty more crates and no search of their own.

pub mod raster;
pub mod search;

use analysis::draft::{Layer, Piece};
use kurbo::{Affine, PathEl, Point, Shape};

use crate::export::drawing::printed_bounds;

/// The cut outline of a piece in chords, moved; its bounding box where it has none.
#[must_use]
pub fn outline(piece: &Piece, motion: Affine, chord_mm: f64) -> Vec<Point> {
    let mut points = Vec::new();
    for (layer, path) in &piece.lines {
        if *layer == Layer::Cut {
            kurbo::flatten(motion * path.clone(), chord_mm, |element| {
                points.extend(element.end_point());
            });
        }
    }
    if points.is_empty() {
        let bounds = printed_bounds(piece).to_path(chord_mm);
        points.extend(bounds.elements().iter().filter_map(PathEl::end_point).map(|p| motion * p));
    }
    points
}
