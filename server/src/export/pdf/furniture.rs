//! What every page carries beside the pieces: check bars, names, the page map, trim lines and
//! crosses.

use analysis::draft::{Draft, Layer};
use kurbo::{Affine, BezPath, Point, Rect, Shape as _, Vec2};

use super::layout::{PagePlan, Tile};
use super::paper::{FOOT_STRIP_MM, MARGIN_MM, OVERLAP_MM, SIDE_STRIP_MM};
use crate::export::check_bar;
use crate::export::drawing::printed_bounds;
use crate::export::font::fitted;
use crate::export::ink::{Anchor, Group, Ink};
use crate::export::{SheetLabels, side_name};

/// What to do at the printer.
pub(super) const AT_THE_PRINTER: &str = "Print at 100 %, never fitted to the page. Both bars must measure 100 mm before anything is cut.";

/// What every sheet says about wearing the glove.
pub const CAUTION: &str = "Not protective equipment. Too tight if it hurts, tingles, numbs or changes the colour of a fingertip: take it off. Keep away from flame and turning machines.";

/// Half the length of a cross's arms, mm.
const CROSS_MM: f64 = 3.0;

/// Size of the page map, mm.
const MAP_MM: f64 = FOOT_STRIP_MM - 1.0;

/// Everything of a page that is not a piece. `number` counts from 1.
#[must_use]
pub fn furniture(
    page: &PagePlan,
    draft: &Draft,
    labels: &SheetLabels,
    (number, of): (usize, usize),
) -> Ink {
    let mut ink = Ink::default();
    let bars = Vec2::new(MARGIN_MM + check_bar::THICKNESS_MM, MARGIN_MM + 9.5);
    ink.add(&check_bar::horizontal(), Affine::translate(bars + Vec2::new(1.0, 0.0)));
    let above = Vec2::new(0.0, check_bar::THICKNESS_MM + 1.0);
    ink.add(&check_bar::vertical(), Affine::translate(bars + above));

    let mut right = page.sheet.width - MARGIN_MM;
    if let Some((tile, _)) = page.tile {
        right -= draw_map(&mut ink, draft, tile, Point::new(right, MARGIN_MM));
        draw_joins(&mut ink, tile, page.sheet.drawing_area());
    }
    write_foot(&mut ink, page, draft, labels, (number, of), right);
    ink
}

fn write_foot(
    ink: &mut Ink,
    page: &PagePlan,
    draft: &Draft,
    labels: &SheetLabels,
    (number, of): (usize, usize),
    right: f64,
) {
    let left = MARGIN_MM;
    let mut line = |x: f64, y: f64, cap_mm: f64, text: &str| {
        let (text, cap_mm) = fitted(text, cap_mm, right - x - 2.0);
        ink.text(Group::Labels, (Point::new(x, y), 0.0, Anchor::Start), cap_mm, text);
    };
    let version = if labels.version.is_empty() {
        String::new()
    } else {
        format!("version {}", labels.version)
    };
    let whose = [
        format!("{} {} hand", labels.performer_code, side_name(draft.side).to_lowercase()),
        labels.production.clone(),
        labels.fabric.clone(),
        version,
        labels.date.clone(),
    ];
    let whose: Vec<&str> = whose.iter().map(|s| s.trim()).filter(|s| !s.is_empty()).collect();
    line(left, MARGIN_MM + 6.2, 2.2, &whose.join(", "));
    line(left, MARGIN_MM + 3.1, 1.7, AT_THE_PRINTER);
    line(left, MARGIN_MM + 0.4, 1.5, CAUTION);
    let mut place = format!("page {number} of {of}");
    if let Some((tile, _)) = page.tile {
        let Tile { row, column, rows, columns, .. } = tile;
        place += &format!(": row {} of {rows}, column {} of {columns}", row + 1, column + 1);
    }
    line(left + SIDE_STRIP_MM + 118.0, MARGIN_MM + 9.5, 2.2, &place);
}

/// Trim lines in the middle of each overlap, with the same crosses on both pages.
fn draw_joins(ink: &mut Ink, tile: Tile, area: Rect) {
    let half = OVERLAP_MM / 2.0;
    let Tile { row, column, rows, columns, .. } = tile;
    let name = |row: usize, column: usize| format!("row {}, column {}", row + 1, column + 1);
    let cut = |neighbour: String| format!("cut here and lay on {neighbour}, cross on cross");
    let lay = |neighbour: String| format!("{neighbour} is laid to this line");
    // The inner corners where four pages meet carry a cross as well.
    let across = |from: f64, to: f64, before: bool, after: bool| {
        let (from, to) =
            (from + if before { half } else { 10.0 }, to - if after { half } else { 10.0 });
        [from, f64::midpoint(from, to), to]
    };
    let upright = across(area.y0, area.y1, row + 1 < rows, row > 0);
    let level = across(area.x0, area.x1, column > 0, column + 1 < columns);
    let mut join = |ends: [Point; 2], crosses: [Point; 3], outward: Vec2, words: String| {
        let mut path = BezPath::new();
        path.move_to(ends[0]);
        path.line_to(ends[1]);
        ink.stroke(Group::Join, path);
        crosses.iter().for_each(|at| draw_cross(ink, *at));
        // Words stand between the first two crosses, in the half that is trimmed or covered.
        let along = ends[1] - ends[0];
        let at = crosses[0].midpoint(crosses[1]) + outward * 3.0
            - if outward.dot(Vec2::new(-along.y, along.x)) > 0.0 {
                outward * 1.5
            } else {
                Vec2::ZERO
            };
        ink.text(Group::Labels, (at, along.atan2(), Anchor::Middle), 1.6, words);
    };
    if column + 1 < columns {
        let x = area.x1 - half;
        let crosses = upright.map(|y| Point::new(x, y));
        let ends = [Point::new(x, area.y0), Point::new(x, area.y1)];
        join(ends, crosses, Vec2::new(1.0, 0.0), cut(name(row, column + 1)));
    }
    if column > 0 {
        let x = area.x0 + half;
        let crosses = upright.map(|y| Point::new(x, y));
        let ends = [Point::new(x, area.y0), Point::new(x, area.y1)];
        join(ends, crosses, Vec2::new(-1.0, 0.0), lay(name(row, column - 1)));
    }
    if row + 1 < rows {
        let y = area.y0 + half;
        let crosses = level.map(|x| Point::new(x, y));
        let ends = [Point::new(area.x0, y), Point::new(area.x1, y)];
        join(ends, crosses, Vec2::new(0.0, -1.0), cut(name(row + 1, column)));
    }
    if row > 0 {
        let y = area.y1 - half;
        let crosses = level.map(|x| Point::new(x, y));
        let ends = [Point::new(area.x0, y), Point::new(area.x1, y)];
        join(ends, crosses, Vec2::new(0.0, 1.0), lay(name(row - 1, column)));
    }
}

fn draw_cross(ink: &mut Ink, at: Point) {
    for arm in [Vec2::new(CROSS_MM, 0.0), Vec2::new(0.0, CROSS_MM)] {
        let mut path = BezPath::new();
        path.move_to(at - arm);
        path.line_to(at + arm);
        ink.stroke(Group::Labels, path);
    }
}

/// The piece in small with its tiles, this one in a thick frame. Returns the width it takes.
fn draw_map(ink: &mut Ink, draft: &Draft, tile: Tile, lower_right: Point) -> f64 {
    let Some(piece) = draft.pieces.get(tile.piece) else { return 0.0 };
    let bounds = printed_bounds(piece);
    let scale = MAP_MM / bounds.height().max(bounds.width());
    let size = bounds.size() * scale;
    let corner = Point::new(lower_right.x - size.width, lower_right.y);
    let onto_map = Affine::translate(corner.to_vec2())
        * Affine::scale(scale)
        * Affine::translate(-bounds.origin().to_vec2());
    for (layer, path) in &piece.lines {
        if *layer == Layer::Cut {
            ink.stroke(Group::Labels, onto_map * path.clone());
        }
    }
    let cell = (size.width / tile.columns as f64, size.height / tile.rows as f64);
    let frame = |row: usize, column: usize| {
        let x = corner.x + cell.0 * column as f64;
        let y = corner.y + size.height - cell.1 * (row + 1) as f64;
        Rect::new(x, y, x + cell.0, y + cell.1)
    };
    for row in 0..tile.rows {
        for column in 0..tile.columns {
            ink.stroke(Group::Labels, frame(row, column).to_path(0.01));
        }
    }
    let this = frame(tile.row, tile.column);
    let mut thick = this.inflate(0.3, 0.3).to_path(0.01);
    thick.extend(this.inset(-0.5).to_path(0.01).reverse_subpaths().elements().iter().copied());
    ink.fill(Group::Labels, thick);
    size.width + 3.0
}
