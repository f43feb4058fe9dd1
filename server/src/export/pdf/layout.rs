//! Which piece goes on which page. A piece that fits on one page is never split; small pieces
//! share pages; a larger piece is tiled, and what is left beside a tile is used as well.

use std::f64::consts::FRAC_PI_2;

use analysis::draft::{Layer, Piece};
use kurbo::{Affine, BezPath, ParamCurve, Point, Rect, Shape, Size, Vec2};

use super::paper::{OVERLAP_MM, Paper, Sheet};
use crate::export::drawing::printed_bounds;

/// Clear space between pieces on one page, mm.
const GAP_MM: f64 = 4.0;

/// Largest side of a piece that is printed, mm (assumed: no glove reaches beyond an arm; a larger
/// piece is a fault upstream and would ask for thousands of pages).
const LARGEST_PIECE_MM: f64 = 2500.0;

/// Where a tile stands in its piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tile {
    /// Index of the piece.
    pub piece: usize,
    /// Row from the top, from 0.
    pub row: usize,
    /// Column from the left, from 0.
    pub column: usize,
    /// Rows and columns of the whole.
    pub rows: usize,
    /// Columns of the whole.
    pub columns: usize,
}

/// A piece, or what a tile shows of it, on a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Index of the piece.
    pub piece: usize,
    /// From the piece's frame to the page's: mm, y up, origin at the lower left corner.
    pub motion: Affine,
}

/// One page.
#[derive(Debug, Clone, PartialEq)]
pub struct PagePlan {
    /// Its size.
    pub sheet: Sheet,
    /// Whole pieces on it.
    pub placed: Vec<Placed>,
    /// The tile on it, if any, with its placing.
    pub tile: Option<(Tile, Placed)>,
    free: Vec<Rect>,
}

/// Plans the pages for some pieces.
#[must_use]
pub fn plan(pieces: &[Piece], paper: Paper) -> Vec<PagePlan> {
    let bounds: Vec<Rect> = pieces.iter().map(printed_bounds).collect();
    let sheets = paper.orientations();
    let fits = |size: Size, sheet: &Sheet| {
        let area = sheet.drawing_area();
        size.width <= area.width() && size.height <= area.height()
    };
    let fits_upright = |size: Size| sheets.iter().copied().find(|sheet| fits(size, sheet));
    let turned = |size: Size| Size::new(size.height, size.width);

    let mut pages: Vec<PagePlan> = Vec::new();
    let mut whole: Vec<usize> = Vec::new();
    for (index, piece) in pieces.iter().enumerate() {
        let Some(size) = bounds.get(index).map(|b| b.size()) else { continue };
        if !size.is_finite() || size.max_side() > LARGEST_PIECE_MM {
            continue;
        }
        if fits_upright(size).or(fits_upright(turned(size))).is_some() {
            whole.push(index);
        } else if let Some(tiles) = best_tiling(index, piece, &sheets) {
            pages.extend(tiles);
        }
    }
    // Large pieces first, so that small ones find room beside them.
    let area = |index: &usize| bounds.get(*index).map_or(0.0, |b| b.area());
    whole.sort_by(|a, b| area(b).total_cmp(&area(a)).then(a.cmp(b)));
    for index in whole {
        let Some(of) = bounds.get(index) else { continue };
        if pages.iter_mut().any(|page| page.place(index, *of)) {
            continue;
        }
        let sheet = fits_upright(of.size()).or(fits_upright(turned(of.size())));
        if let Some(sheet) = sheet {
            let mut page = PagePlan::empty(sheet);
            page.place(index, *of);
            pages.push(page);
        }
    }
    if matches!(paper, Paper::Roll(_)) {
        pages.iter_mut().for_each(PagePlan::cut_to_length);
    }
    pages
}

impl PagePlan {
    fn empty(sheet: Sheet) -> PagePlan {
        PagePlan { sheet, placed: Vec::new(), tile: None, free: vec![sheet.drawing_area()] }
    }

    /// Puts a piece as low as it goes, then as far left; upright rather than turned. `false` when
    /// the page has no room for it.
    fn place(&mut self, piece: usize, bounds: Rect) -> bool {
        let upright = (bounds.size(), Affine::translate(-bounds.origin().to_vec2()));
        let turned = (
            Size::new(bounds.height(), bounds.width()),
            Affine::translate((bounds.height(), 0.0))
                * Affine::rotate(FRAC_PI_2)
                * Affine::translate(-bounds.origin().to_vec2()),
        );
        for (size, motion) in [upright, turned] {
            let room = |free: &&Rect| {
                size.width <= free.width() + 1e-9 && size.height <= free.height() + 1e-9
            };
            let lowest = self.free.iter().filter(room).min_by(|a, b| {
                (a.y0 + size.height).total_cmp(&(b.y0 + size.height)).then(a.x0.total_cmp(&b.x0))
            });
            if let Some(corner) = lowest.map(Rect::origin) {
                self.placed
                    .push(Placed { piece, motion: Affine::translate(corner.to_vec2()) * motion });
                self.occupy(Rect::from_origin_size(corner, size).inflate(GAP_MM, GAP_MM));
                return true;
            }
        }
        false
    }

    /// Keeps the largest free rectangles that do not touch `used`.
    fn occupy(&mut self, used: Rect) {
        let mut left = Vec::new();
        for free in &self.free {
            if free.intersect(used).is_zero_area() {
                left.push(*free);
                continue;
            }
            left.extend([
                Rect::new(free.x0, free.y0, used.x0.min(free.x1), free.y1),
                Rect::new(used.x1.max(free.x0), free.y0, free.x1, free.y1),
                Rect::new(free.x0, free.y0, free.x1, used.y0.min(free.y1)),
                Rect::new(free.x0, used.y1.max(free.y0), free.x1, free.y1),
            ]);
        }
        left.retain(|rect| rect.width() > 1.0 && rect.height() > 1.0);
        let within = |a: &Rect, b: &Rect| a != b && b.union(*a) == *b;
        let all = left.clone();
        left.retain(|rect| !all.iter().any(|other| within(rect, other)));
        left.dedup();
        self.free = left;
    }

    /// Shortens a page on a roll to what is drawn on it.
    fn cut_to_length(&mut self) {
        let area = self.sheet.drawing_area();
        let highest_free = self.free.iter().filter(|free| free.x0 <= area.x0 && free.x1 >= area.x1);
        let Some(from) = highest_free.map(|free| free.y0).reduce(f64::min) else { return };
        self.sheet.height = from - GAP_MM + super::paper::MARGIN_MM;
    }
}

/// The tiling with the fewest pages, over the orientations of the paper.
fn best_tiling(index: usize, piece: &Piece, sheets: &[Sheet]) -> Option<Vec<PagePlan>> {
    sheets.iter().map(|sheet| tiles(index, piece, *sheet)).min_by_key(Vec::len)
}

/// A piece in tiles from the top left; tiles that would show nothing are left out.
fn tiles(index: usize, piece: &Piece, sheet: Sheet) -> Vec<PagePlan> {
    let bounds = printed_bounds(piece);
    let area = sheet.drawing_area();
    let step = area.size() - Size::new(OVERLAP_MM, OVERLAP_MM);
    let count = |length: f64, step: f64| (((length - OVERLAP_MM) / step).ceil() as usize).max(1);
    let (columns, rows) = (count(bounds.width(), step.width), count(bounds.height(), step.height));
    let lines: Vec<&BezPath> = piece.lines.iter().map(|(_, path)| path).collect();
    let mut pages = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            let top_left = Point::new(
                bounds.x0 + column as f64 * step.width,
                bounds.y1 - row as f64 * step.height,
            );
            let shown =
                Rect::from_points(top_left, top_left + Vec2::new(area.width(), -area.height()));
            let Some(part) = shown_part(piece, &lines, shown) else { continue };
            let motion = Affine::translate(area.origin() - shown.origin());
            let tile = Tile { piece: index, row, column, rows, columns };
            let mut page = PagePlan::empty(sheet);
            page.tile = Some((tile, Placed { piece: index, motion }));
            let onto_page = area.origin() - shown.origin();
            page.occupy((part + onto_page).inflate(GAP_MM, GAP_MM));
            for strip in overlaps(tile, area) {
                page.occupy(strip.inflate(GAP_MM, GAP_MM));
            }
            pages.push(page);
        }
    }
    pages
}

/// The strips of a tile's page that its neighbours show as well.
fn overlaps(tile: Tile, area: Rect) -> Vec<Rect> {
    let strips = [
        (tile.column > 0, Rect { x1: area.x0 + OVERLAP_MM, ..area }),
        (tile.column + 1 < tile.columns, Rect { x0: area.x1 - OVERLAP_MM, ..area }),
        (tile.row > 0, Rect { y0: area.y1 - OVERLAP_MM, ..area }),
        (tile.row + 1 < tile.rows, Rect { y1: area.y0 + OVERLAP_MM, ..area }),
    ];
    strips.into_iter().filter(|(is_shared, _)| *is_shared).map(|(_, strip)| strip).collect()
}

/// Bounding box of what a rectangle shows of a piece; `None` when it shows nothing.
fn shown_part(piece: &Piece, lines: &[&BezPath], shown: Rect) -> Option<Rect> {
    /// Lines are walked in steps of this length at most, mm.
    const STEP_MM: f64 = 0.5;
    let mut part: Option<Rect> = None;
    let mut add = |p: Point| {
        if shown.contains(p) {
            let dot = Rect::from_points(p, p);
            part = Some(part.map_or(dot, |r| r.union(dot)));
        }
    };
    for segment in lines.iter().flat_map(|path| path.segments()) {
        let steps = (segment.bounding_box().size().to_vec2().hypot() / STEP_MM).ceil().max(1.0);
        (0..=steps as usize).for_each(|i| add(segment.eval(i as f64 / steps)));
    }
    let inside =
        |p: Point| piece.lines.iter().any(|(layer, path)| *layer == Layer::Cut && path.contains(p));
    if part.is_none() && inside(shown.center()) {
        return Some(shown);
    }
    part
}
