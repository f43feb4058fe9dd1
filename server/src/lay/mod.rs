//! Laying pieces close together: on a page, or on cloth.
//!
//! The collision test is our own grid of bits ([`raster`]) rather than a collision library. The
//! library considered, jagua-rs, answers whether shapes collide, and has no search; a search that
//! lets pieces overlap and parts them needs to know by how much they do, which a grid of bits
//! answers in a few hundred operations, and a collision library does not.

pub mod cast;
pub mod raster;
pub mod search;
mod separate;

use analysis::draft::{Layer, Piece};
use kurbo::{Affine, PathEl, Point, Shape};

use crate::export::drawing::printed_bounds;

/// The outer cut line of a piece in chords, moved; its bounding box where it has none. Holes are not
/// followed: nothing is cut from what falls out of a thumb hole.
#[must_use]
pub fn outline(piece: &Piece, motion: Affine, chord_mm: f64) -> Vec<Point> {
    let mut rings: Vec<Vec<Point>> = Vec::new();
    for (layer, path) in &piece.lines {
        if *layer == Layer::Cut {
            kurbo::flatten(motion * path.clone(), chord_mm, |element| {
                if matches!(element, PathEl::MoveTo(_)) {
                    rings.push(Vec::new());
                }
                if let Some(ring) = rings.last_mut() {
                    ring.extend(element.end_point());
                }
            });
        }
    }
    let widest = rings.into_iter().max_by(|a, b| area_of(a).total_cmp(&area_of(b)));
    widest.filter(|ring| !ring.is_empty()).unwrap_or_else(|| {
        let bounds = printed_bounds(piece).to_path(chord_mm);
        bounds.elements().iter().filter_map(PathEl::end_point).map(|p| motion * p).collect()
    })
}

/// Area within a closed outline.
#[must_use]
pub fn area_of(outline: &[Point]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    let doubled: f64 = outline.iter().zip(next).map(|(a, b)| a.x * b.y - b.x * a.y).sum();
    doubled.abs() / 2.0
}
