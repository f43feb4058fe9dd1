//! Which piece goes on which page. A piece that fits on one page is never split; small pieces
//! share pages; a larger piece is tiled, and what is left beside a tile is used as well.

use std::f64::consts::FRAC_PI_2;

use analysis::draft::{Layer, Piece};
use kurbo::{Affine, BezPath, ParamCurve, PathSeg, Point, Rect, Shape, Size, Vec2};

use super::paper::{LONGEST_PAGE_MM, MARGIN_MM, OVERLAP_MM, Paper, Sheet};
use crate::export::drawing::printed_bounds;
use crate::lay::outline;
use crate::lay::raster::{Grid, Mask};

/// Clear space between pieces on one page, mm.
const GAP_MM: f64 = 4.0;

/// Cells of the grid on which pieces are placed on a page, mm.
const CELL_MM: f64 = 1.0;

/// Chords of an outline on that grid, mm; they lie well within the gap.
const CHORD_MM: f64 = 0.4;

/// Largest side of a piece that is printed, mm (assumed: no glove reaches beyond an arm; a larger
/// piece is a fault upstream and would ask for thousands of pages).
const LARGEST_PIECE_MM: f64 = 2500.0;

/// Shortest page on a roll, mm: foot, upright check bar and its caption.
const SHORTEST_PAGE_MM: f64 = 145.0;

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
    grid: Grid,
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
        let Some((piece, of)) = pieces.get(index).zip(bounds.get(index)) else { continue };
        if pages.iter_mut().any(|page| page.place(index, piece)) {
            continue;
        }
        let sheet = fits_upright(of.size()).or(fits_upright(turned(of.size())));
        if let Some(sheet) = sheet {
            let mut page = PagePlan::empty(sheet);
            if !page.place(index, piece) {
                page.place_alone(index, piece);
            }
            pages.push(page);
        }
    }
    if matches!(paper, Paper::Roll(_)) {
        pages.iter_mut().for_each(|page| page.cut_to_length(pieces));
    }
    pages
}

impl PagePlan {
    fn empty(sheet: Sheet) -> PagePlan {
        let grid = Grid::new(sheet.drawing_area().width() + GAP_MM, CELL_MM);
        PagePlan { sheet, placed: Vec::new(), tile: None, grid }
    }

    /// Puts a piece as low as it goes, then as far left; upright rather than turned a quarter.
    /// `false` when the page has no room for it.
    fn place(&mut self, index: usize, piece: &Piece) -> bool {
        let area = self.sheet.drawing_area();
        let rows = ((area.height() + GAP_MM) / CELL_MM) as usize;
        // Clockwise: what reads upwards on the piece is then level.
        for turn in [Affine::IDENTITY, Affine::rotate(-FRAC_PI_2)] {
            // Marks and labels may reach beyond the outline: the box of all that is printed keeps
            // within the drawing area, which the grid exceeds by half a gap on every side.
            let printed = turn.transform_rect_bbox(printed_bounds(piece));
            let outline = outline(piece, turn, CHORD_MM);
            let mask = Mask::within(&outline, printed, GAP_MM / 2.0, CELL_MM);
            if let Some(at) = self.grid.lowest(&mask, rows) {
                self.grid.put(&mask, at);
                let corner = area.origin().to_vec2() - Vec2::new(GAP_MM, GAP_MM) / 2.0;
                let motion = Affine::translate(corner + mask.motion(at)) * turn;
                self.placed.push(Placed { piece: index, motion });
                return true;
            }
        }
        false
    }

    /// Puts a piece that fills the drawing area to within a cell of the grid in the area's corner,
    /// where the grid, which rounds up, has no room for it.
    fn place_alone(&mut self, index: usize, piece: &Piece) {
        let area = self.sheet.drawing_area();
        for turn in [Affine::IDENTITY, Affine::rotate(-FRAC_PI_2)] {
            let bounds = turn.transform_rect_bbox(printed_bounds(piece));
            if bounds.width() <= area.width() && bounds.height() <= area.height() {
                let motion = Affine::translate(area.origin() - bounds.origin()) * turn;
                self.occupy(&outline(piece, motion, CHORD_MM));
                self.placed.push(Placed { piece: index, motion });
                return;
            }
        }
    }

    /// Keeps an outline in the page's frame, and room round it, free of other pieces.
    fn occupy(&mut self, outline: &[Point]) {
        let area = self.sheet.drawing_area();
        let rows = ((area.height() + GAP_MM) / CELL_MM) as usize;
        let corner = area.origin().to_vec2() - Vec2::new(GAP_MM, GAP_MM) / 2.0;
        let moved: Vec<Point> = outline.iter().map(|p| *p - corner).collect();
        self.grid.mark(&moved, GAP_MM / 2.0, rows);
    }

    /// Shortens a page on a roll to what is drawn on it.
    fn cut_to_length(&mut self, pieces: &[Piece]) {
        let tile = self.tile.iter().map(|(_, placed)| placed);
        let tops = self.placed.iter().chain(tile).filter_map(|placed| {
            let piece = pieces.get(placed.piece)?;
            Some(placed.motion.transform_rect_bbox(printed_bounds(piece)).y1)
        });
        let top = tops.fold(0.0, f64::max).min(LONGEST_PAGE_MM - MARGIN_MM);
        // Never so short that the upright check bar leaves the page.
        self.sheet.height = (top + MARGIN_MM).max(SHORTEST_PAGE_MM);
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
            if !shows_something(piece, &lines, shown) {
                continue;
            }
            let motion = Affine::translate(area.origin() - shown.origin());
            let tile = Tile { piece: index, row, column, rows, columns };
            let mut page = PagePlan::empty(sheet);
            page.tile = Some((tile, Placed { piece: index, motion }));
            page.occupy(&outline(piece, motion, CHORD_MM));
            for strip in overlaps(tile, area) {
                let corners = strip.to_path(CHORD_MM);
                let corners: Vec<Point> =
                    corners.elements().iter().filter_map(|e| e.end_point()).collect();
                page.occupy(&corners);
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

/// Whether a rectangle shows anything of a piece.
fn shows_something(piece: &Piece, lines: &[&BezPath], shown: Rect) -> bool {
    /// Lines are walked in steps of this length at most, mm.
    const STEP_MM: f64 = 0.5;
    let passes = |segment: PathSeg| {
        let bounds = segment.bounding_box();
        let steps = (bounds.size().to_vec2().hypot() / STEP_MM).ceil().max(1.0);
        !bounds.inflate(STEP_MM, STEP_MM).intersect(shown).is_zero_area()
            && (0..=steps as usize).any(|i| shown.contains(segment.eval(i as f64 / steps)))
    };
    let is_inside =
        |p: Point| piece.lines.iter().any(|(layer, path)| *layer == Layer::Cut && path.contains(p));
    lines.iter().flat_map(|path| path.segments()).any(passes) || is_inside(shown.center())
}
