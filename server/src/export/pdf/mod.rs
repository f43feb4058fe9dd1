//! A draft as PDF at true scale, tiled over pages where a piece does not fit.

mod canvas;
pub mod flow;
mod furniture;
pub mod layout;
pub mod paper;
pub mod paperwork;
pub mod roll;

use analysis::draft::Draft;
use krilla::Document;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla::surface::Surface;
use thiserror::Error;

pub use furniture::CAUTION;
pub use paper::Paper;
use paper::Sheet;

use super::drawing::piece_ink;
use super::ink::Ink;
use super::{SheetLabels, side_name};

/// Why no PDF was made.
#[derive(Debug, Error)]
pub enum PdfError {
    /// The draft has no piece, or none with a finite size.
    #[error("The draft holds nothing to print.")]
    Empty,
    /// A page came out with a size that PDF cannot hold.
    #[error("The page size cannot be printed.")]
    PageSize,
    /// The PDF writer refused.
    #[error("The PDF could not be written: {0}")]
    Writer(String),
}

/// Writes a draft as PDF, one unit to one millimetre. Same input, same bytes.
///
/// # Errors
/// [`PdfError`] when there is nothing to print or the writer refuses.
pub fn render(draft: &Draft, labels: &SheetLabels, paper: Paper) -> Result<Vec<u8>, PdfError> {
    let pages = layout::plan(&draft.pieces, paper);
    if pages.is_empty() {
        return Err(PdfError::Empty);
    }
    let inks: Vec<Ink> =
        draft.pieces.iter().map(|piece| piece_ink(piece, draft.side, labels)).collect();
    let title = format!("{} {} hand", labels.performer_code, side_name(draft.side).to_lowercase());
    let mut document = begin(&title);
    let of = pages.len();
    for (index, plan) in pages.iter().enumerate() {
        let around = furniture::furniture(plan, draft, labels, (index + 1, of));
        add_page(&mut document, plan.sheet, |surface| {
            let height = plan.sheet.height;
            for (placed, window) in plan.placed.iter().map(|placed| (placed, None)).chain(
                plan.tile.iter().map(|(_, placed)| (placed, Some(plan.sheet.drawing_area()))),
            ) {
                let Some(piece) = inks.get(placed.piece) else { continue };
                let mut ink = Ink::default();
                ink.add(piece, placed.motion);
                match window {
                    Some(window) => canvas::draw_within(surface, height, &ink, window),
                    None => canvas::draw(surface, height, &ink),
                }
            }
            canvas::draw(surface, height, &around);
        })?;
    }
    end(document)
}

/// Pages of ink as one PDF.
pub(crate) fn document(title: &str, pages: &[(Sheet, Ink)]) -> Result<Vec<u8>, PdfError> {
    let mut document = begin(title);
    for (sheet, ink) in pages {
        add_page(&mut document, *sheet, |surface| canvas::draw(surface, sheet.height, ink))?;
    }
    end(document)
}

fn begin(title: &str) -> Document {
    let mut document = Document::new();
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .creator("Handcall".to_owned())
            .language("en".to_owned()),
    );
    document
}

fn add_page(
    document: &mut Document,
    sheet: Sheet,
    draw: impl FnOnce(&mut Surface<'_>),
) -> Result<(), PdfError> {
    let points = |mm: f64| (mm * canvas::POINTS_PER_MM) as f32;
    let settings = PageSettings::from_wh(points(sheet.width), points(sheet.height))
        .ok_or(PdfError::PageSize)?;
    let mut page = document.start_page_with(settings);
    let mut surface = page.surface();
    draw(&mut surface);
    surface.finish();
    page.finish();
    Ok(())
}

fn end(document: Document) -> Result<Vec<u8>, PdfError> {
    document.finish().map_err(|error| PdfError::Writer(format!("{error:?}")))
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use analysis::hand::Side;
    use kurbo::{BezPath, Shape};

    use super::*;
    use crate::export::sample;

    const PAPERS: [Paper; 5] =
        [Paper::A4, Paper::Letter, Paper::A3, Paper::Tabloid, Paper::Roll(610.0)];

    #[test]
    fn the_same_draft_gives_the_same_bytes() {
        let draft = sample::glove(Side::Left, 190.0, 210.0);
        for paper in PAPERS {
            let first = render(&draft, &sample::labels(), paper).expect("prints");
            assert_eq!(first, render(&draft, &sample::labels(), paper).expect("prints"));
        }
    }

    #[test]
    fn a_piece_that_fits_is_never_split_and_small_ones_share() {
        for (paper, width, pages) in [
            (Paper::A4, 100.0, 1),
            (Paper::A4, 185.0, 2),
            (Paper::A4, 230.0, 2),
            (Paper::A3, 230.0, 1),
        ] {
            let draft = sample::glove(Side::Right, width, 200.0);
            let plan = layout::plan(&draft.pieces, paper);
            assert_eq!(plan.len(), pages, "{width} on {paper:?}");
        }
    }

    #[test]
    fn every_piece_is_on_paper_once_inside_the_area_and_alone() {
        for paper in PAPERS {
            for width in [100.0, 150.0, 190.0, 230.0, 420.0] {
                let draft = sample::glove(Side::Right, width, 240.0);
                let pages = layout::plan(&draft.pieces, paper);
                let mut seen = Vec::new();
                for page in &pages {
                    let area = page.sheet.drawing_area();
                    let outline = |p: &layout::Placed| {
                        let cut = &draft.pieces[p.piece].lines[0].1;
                        p.motion * cut.clone()
                    };
                    let outlines: Vec<BezPath> = page.placed.iter().map(outline).collect();
                    seen.extend(page.placed.iter().map(|p| p.piece));
                    for (i, one) in outlines.iter().enumerate() {
                        let box_of = one.bounding_box();
                        assert!(area.union(box_of) == area, "{box_of:?} within {area:?}");
                        let ends = || one.elements().iter().filter_map(|e| e.end_point());
                        for (_, other) in outlines.iter().enumerate().filter(|(j, _)| *j != i) {
                            assert!(!ends().any(|p| other.contains(p)), "{width} on {paper:?}");
                        }
                    }
                }
                let tiled: HashSet<usize> =
                    pages.iter().filter_map(|p| p.tile.map(|(t, _)| t.piece)).collect();
                seen.extend(tiled);
                seen.sort_unstable();
                assert_eq!(seen, vec![0, 1], "{width} on {paper:?}");
            }
        }
    }

    #[test]
    fn a_draft_without_pieces_is_refused() {
        let mut draft = sample::glove(Side::Right, 190.0, 210.0);
        draft.pieces.clear();
        assert!(matches!(render(&draft, &sample::labels(), Paper::A4), Err(PdfError::Empty)));
    }
}
