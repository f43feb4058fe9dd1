//! A lay as PDF for a roll: as wide as the cloth, cut into pages only where a page may be no longer.

use kurbo::{Affine, BezPath, Point, Rect, Vec2};

use super::furniture::AT_THE_PRINTER;
use super::paper::{LONGEST_PAGE_MM, MARGIN_MM, Sheet};
use super::{PdfError, add_page, begin, canvas, end};
use crate::export::check_bar;
use crate::export::ink::{Anchor, Group, Ink};

/// Strip below the cloth for the level check bar and the sheet's name, mm.
const FOOT_MM: f64 = 14.0;

/// Strip beside the cloth for the upright check bar, mm.
const SIDE_MM: f64 = 6.0;

/// Shortest cloth on a page, mm: the upright check bar and its caption.
const SHORTEST_MM: f64 = 120.0;

/// Draws ink on cloth of this width and length, y along the length.
///
/// # Errors
/// [`PdfError`].
pub fn render(title: &str, ink: &Ink, (width, length): (f64, f64)) -> Result<Vec<u8>, PdfError> {
    let most = LONGEST_PAGE_MM - FOOT_MM - 2.0 * MARGIN_MM;
    let pages = (length / most).ceil().max(1.0);
    let each = length / pages;
    let mut document = begin(title);
    for page in 0..pages as usize {
        let from = page as f64 * each;
        let room = each.max(SHORTEST_MM);
        let sheet = Sheet {
            width: width + SIDE_MM + 2.0 * MARGIN_MM,
            height: room + FOOT_MM + 2.0 * MARGIN_MM,
        };
        let corner = Vec2::new(MARGIN_MM + SIDE_MM, MARGIN_MM + FOOT_MM);
        let cloth = Rect::new(corner.x, corner.y, corner.x + width, corner.y + each);
        let mut moved = Ink::default();
        moved.add(ink, Affine::translate(corner - Vec2::new(0.0, from)));
        let around = around(title, cloth, (page + 1, pages as usize));
        add_page(&mut document, sheet, |surface| {
            canvas::draw_within(surface, sheet.height, &moved, cloth);
            canvas::draw(surface, sheet.height, &around);
        })?;
    }
    end(document)
}

/// The edges of the cloth, check bars and what the page is.
fn around(title: &str, cloth: Rect, (number, of): (usize, usize)) -> Ink {
    let mut ink = Ink::default();
    let mut edge = |from: Point, to: Point| {
        let mut path = BezPath::new();
        path.move_to(from);
        path.line_to(to);
        ink.stroke(Group::Join, path);
    };
    let [lower_left, upper_left] = [Point::new(cloth.x0, cloth.y0), Point::new(cloth.x0, cloth.y1)];
    let [lower_right, upper_right] =
        [Point::new(cloth.x1, cloth.y0), Point::new(cloth.x1, cloth.y1)];
    edge(lower_left, upper_left);
    edge(lower_right, upper_right);
    edge(lower_left, lower_right);
    edge(upper_left, upper_right);
    let foot = Vec2::new(cloth.x0, MARGIN_MM);
    ink.add(&check_bar::horizontal(), Affine::translate(foot + Vec2::new(0.0, 9.0)));
    let side = Vec2::new(MARGIN_MM + check_bar::THICKNESS_MM, cloth.y0);
    ink.add(&check_bar::vertical(), Affine::translate(side));
    let mut write = |y: f64, cap_mm: f64, text: String| {
        let at = Point::new(foot.x, foot.y + y);
        ink.text(Group::Labels, (at, 0.0, Anchor::Start), cap_mm, text);
    };
    let size = format!("{title}, cloth {:.0} mm wide, page {number} of {of}", cloth.width());
    write(4.5, 2.4, size);
    let joins = "Where there are several pages, lay them edge to edge at the dashed lines.";
    let joins = if of > 1 { joins } else { "" };
    write(0.5, 1.7, format!("{AT_THE_PRINTER} {joins}").trim().to_owned());
    ink
}
