//! A cast's gloves as pieces to lay, fabric by fabric, and a lay of them as drawings.

use std::collections::BTreeMap;

use analysis::draft::{Draft, Piece};
use analysis::hand::Side;
use kurbo::{Affine, Point};

use super::outline;
use super::search::{Cloth, Lay};
use crate::export::SheetLabels;
use crate::export::drawing::piece_ink;
use crate::export::dxf::{self, OnCloth};
use crate::export::ink::Ink;
use crate::export::pdf::{self, PdfError};
use crate::export::svg;

/// Chords of an outline, mm; they lie well within the gap.
const CHORD_MM: f64 = 0.2;

/// A drafted glove.
#[derive(Debug, Clone)]
pub struct Glove {
    /// Its pieces.
    pub draft: Draft,
    /// What stands on them.
    pub labels: SheetLabels,
}

/// Everything to cut from one fabric.
#[derive(Debug, Clone)]
pub struct Cutting {
    /// Name of the fabric.
    pub fabric: String,
    /// The gloves, spare ones at the end.
    pub gloves: Vec<Glove>,
    /// Glove and piece of each outline; a piece to be cut twice is here twice.
    pieces: Vec<(usize, usize)>,
    /// Outlines to lay.
    pub outlines: Vec<Vec<Point>>,
}

impl Cutting {
    /// What to cut, by fabric, with this many pairs more of the largest gloves of each, for test
    /// gloves.
    #[must_use]
    pub fn by_fabric(gloves: Vec<Glove>, spare_pairs: usize) -> Vec<Cutting> {
        let mut fabrics: BTreeMap<String, Vec<Glove>> = BTreeMap::new();
        for glove in gloves {
            fabrics.entry(glove.labels.fabric.clone()).or_default().push(glove);
        }
        let cutting = |(fabric, mut gloves): (String, Vec<Glove>)| {
            add_spares(&mut gloves, spare_pairs);
            let mut pieces = Vec::new();
            let mut outlines = Vec::new();
            for (index, glove) in gloves.iter().enumerate() {
                for (number, piece) in glove.draft.pieces.iter().enumerate() {
                    for _ in 0..piece.cut {
                        pieces.push((index, number));
                        outlines.push(outline(piece, Affine::IDENTITY, CHORD_MM));
                    }
                }
            }
            Cutting { fabric, gloves, pieces, outlines }
        };
        fabrics.into_iter().map(cutting).collect()
    }

    fn laid<'a>(
        &'a self,
        lay: &'a Lay,
    ) -> impl Iterator<Item = (&'a Glove, &'a Piece, Affine)> + 'a {
        lay.laid.iter().filter_map(|laid| {
            let (glove, piece) = self.pieces.get(laid.piece)?;
            let glove = self.gloves.get(*glove)?;
            Some((glove, glove.draft.pieces.get(*piece)?, laid.motion))
        })
    }

    fn ink(&self, lay: &Lay) -> Ink {
        let mut ink = Ink::default();
        for (glove, piece, motion) in self.laid(lay) {
            ink.add(&piece_ink(piece, glove.draft.side, &glove.labels), motion);
        }
        ink
    }

    /// The lay as SVG, one unit to one millimetre.
    #[must_use]
    pub fn svg(&self, lay: &Lay, cloth: Cloth) -> String {
        let size = kurbo::Size::new(cloth.width_mm, lay.length_mm);
        svg::render_ink("lay", &self.title(), &self.ink(lay), size)
    }

    /// The lay as PDF at true scale, for a roll.
    ///
    /// # Errors
    /// [`PdfError`].
    pub fn pdf(&self, lay: &Lay, cloth: Cloth) -> Result<Vec<u8>, PdfError> {
        pdf::roll::render(&self.title(), &self.ink(lay), (cloth.width_mm, lay.length_mm))
    }

    /// The lay as DXF: one block a piece, inserted where it lies.
    #[must_use]
    pub fn dxf(&self, lay: &Lay) -> String {
        let pieces: Vec<OnCloth<'_>> = self
            .laid(lay)
            .map(|(glove, piece, motion)| OnCloth {
                draft: &glove.draft,
                piece,
                labels: &glove.labels,
                motion,
            })
            .collect();
        dxf::render_lay(&pieces)
    }

    fn title(&self) -> String {
        format!("Lay {}", self.fabric).trim().to_owned()
    }
}

/// Adds the largest pairs once more.
fn add_spares(gloves: &mut Vec<Glove>, pairs: usize) {
    let size = |glove: &Glove| -> f64 {
        glove.draft.pieces.iter().map(|piece| piece.bounds().area()).sum()
    };
    let mut largest: Vec<Glove> = Vec::new();
    for side in Side::BOTH {
        let mut of_side: Vec<&Glove> = gloves.iter().filter(|g| g.draft.side == side).collect();
        of_side.sort_by(|a, b| size(b).total_cmp(&size(a)));
        for glove in of_side.into_iter().take(pairs) {
            let mut labels = glove.labels.clone();
            labels.performer_code += " spare";
            largest.push(Glove { draft: glove.draft.clone(), labels });
        }
    }
    gloves.append(&mut largest);
}
