//! Lists and labels as PDF: what goes to the cutting table and into the bags beside the pieces.

use kurbo::{Affine, BezPath, Point, Rect, Shape as _, Vec2};
use qrcode::{Color, EcLevel, QrCode};

use super::paper::{MARGIN_MM, Paper, Sheet};
use super::{PdfError, document};
use crate::export::font::{fitted, text_width_mm};
use crate::export::ink::{Anchor, Group, Ink};

/// Clear margin of lists, mm: room for a clip or a punch.
pub(super) const LIST_MARGIN_MM: f64 = 15.0;

/// Capitals and height of a line of a list, mm.
pub(super) const LIST_CAP_MM: f64 = 2.0;
pub(super) const LINE_MM: f64 = 5.5;

/// Room between columns, mm.
pub(super) const COLUMN_GAP_MM: f64 = 4.0;

/// Height of a label, mm, and labels side by side (`common practice`: 14 on A4, 12 on Letter).
const LABEL_HEIGHT_MM: f64 = 40.0;
const LABELS_ACROSS: usize = 2;

/// What a label says about wearing and washing.
const LABEL_CAUTION: [&str; 2] = [
    "Wash before wear. Ask about allergies to latex and dyes.",
    "Not protective equipment. Too tight: take it off.",
];

/// A label for a bag or a glove.
#[derive(Debug, Clone, Default)]
pub struct BagLabel {
    /// In large letters: code and side.
    pub heading: String,
    /// Lines under it: production, fabric, version and date.
    pub lines: Vec<String>,
    /// Address of the performer's page, as a code to scan.
    pub link: Option<String>,
}

/// The sheet that lists are printed on: the paper itself, or A4 where it is a roll.
pub(super) fn sheet_of(paper: Paper) -> Sheet {
    let sheets = if matches!(paper, Paper::Roll(_)) { Paper::A4 } else { paper }.orientations();
    sheets.into_iter().next().unwrap_or(Sheet { width: 210.0, height: 297.0 })
}

/// A table with its header on every page, rules between lines and page numbers.
///
/// # Errors
/// [`PdfError`].
pub fn list(
    title: &str,
    header: &[&str],
    rows: &[Vec<String>],
    paper: Paper,
) -> Result<Vec<u8>, PdfError> {
    let sheet = sheet_of(paper);
    let (left, right) = (LIST_MARGIN_MM, sheet.width - LIST_MARGIN_MM);
    let top = sheet.height - LIST_MARGIN_MM;
    let widths = column_widths(header, rows, right - left);
    let head_room = 4.0 * LINE_MM;
    let lines_a_page = ((top - LIST_MARGIN_MM - head_room) / LINE_MM).floor().max(1.0) as usize;
    let chunks: Vec<&[Vec<String>]> =
        if rows.is_empty() { vec![&[]] } else { rows.chunks(lines_a_page).collect() };
    let of = chunks.len();
    let mut pages = Vec::with_capacity(of);
    for (index, chunk) in chunks.into_iter().enumerate() {
        let mut ink = Ink::default();
        let mut write = |x: f64, y: f64, width: f64, cap_mm: f64, text: &str| {
            let (text, cap_mm) = fitted(text, cap_mm, width);
            ink.text(Group::Labels, (Point::new(x, y), 0.0, Anchor::Start), cap_mm, text);
        };
        write(left, top - 4.0, right - left, 3.5, title);
        let number = format!("page {} of {of}", index + 1);
        write(left, LIST_MARGIN_MM - 6.0, right - left, 1.8, &number);
        let mut y = top - 3.0 * LINE_MM;
        let mut rules = vec![y - 1.5];
        let mut x = left;
        for (name, width) in header.iter().zip(&widths) {
            write(x, y, *width, LIST_CAP_MM, name);
            x += width + COLUMN_GAP_MM;
        }
        for row in chunk {
            y -= LINE_MM;
            let mut x = left;
            for (cell, width) in row.iter().zip(&widths) {
                write(x, y, *width, LIST_CAP_MM, cell);
                x += width + COLUMN_GAP_MM;
            }
            rules.push(y - 1.5);
        }
        for (place, y) in rules.into_iter().enumerate() {
            let thick = if place == 0 { 0.4 } else { 0.1 };
            ink.fill(Group::Labels, Rect::new(left, y - thick, right, y).to_path(0.1));
        }
        pages.push((sheet, ink));
    }
    document(title, &pages)
}

/// Widths as wide as the widest cell and more where there is room; wide ones narrowed where there is
/// none.
pub(super) fn column_widths(header: &[&str], rows: &[Vec<String>], room: f64) -> Vec<f64> {
    let widest = |column: usize, name: &str| {
        let cells = rows.iter().filter_map(|row| row.get(column)).map(String::as_str);
        cells.chain([name]).map(|cell| text_width_mm(cell, LIST_CAP_MM)).fold(4.0, f64::max)
    };
    let natural: Vec<f64> = header.iter().enumerate().map(|(i, name)| widest(i, name)).collect();
    let room = room - COLUMN_GAP_MM * (header.len().max(1) - 1) as f64;
    let wanted: f64 = natural.iter().sum();
    if wanted <= room {
        // What is over goes to all alike, so that there is room to write by hand.
        let more = (room - wanted) / natural.len().max(1) as f64;
        return natural.into_iter().map(|width| width + more).collect();
    }
    // Narrow columns keep their width; what is left is shared by the wide ones.
    let fair = room / natural.len().max(1) as f64;
    let narrow: f64 = natural.iter().filter(|width| **width <= fair).sum();
    let share = (room - narrow) / (wanted - narrow);
    natural.into_iter().map(|width| if width <= fair { width } else { width * share }).collect()
}

/// Labels to cut apart, several to a page.
///
/// # Errors
/// [`PdfError`].
pub fn labels(title: &str, all: &[BagLabel], paper: Paper) -> Result<Vec<u8>, PdfError> {
    let sheet = sheet_of(paper);
    let width = (sheet.width - 2.0 * MARGIN_MM) / LABELS_ACROSS as f64;
    let down = ((sheet.height - 2.0 * MARGIN_MM) / LABEL_HEIGHT_MM).floor().max(1.0) as usize;
    let mut pages = Vec::new();
    for chunk in all.chunks(down * LABELS_ACROSS) {
        let mut ink = Ink::default();
        for (index, label) in chunk.iter().enumerate() {
            let (row, column) = (index / LABELS_ACROSS, index % LABELS_ACROSS);
            let corner = Vec2::new(
                MARGIN_MM + column as f64 * width,
                sheet.height - MARGIN_MM - (row + 1) as f64 * LABEL_HEIGHT_MM,
            );
            ink.add(&label_ink(label, width), Affine::translate(corner));
        }
        pages.push((sheet, ink));
    }
    if pages.is_empty() {
        return Err(PdfError::Empty);
    }
    document(title, &pages)
}

fn label_ink(label: &BagLabel, width: f64) -> Ink {
    const PAD_MM: f64 = 3.0;
    const CODE_MM: f64 = 24.0;
    let mut ink = Ink::default();
    let frame = Rect::new(0.0, 0.0, width, LABEL_HEIGHT_MM).to_path(0.1);
    ink.stroke(Group::Marks, frame);
    let code = label.link.as_deref().and_then(|link| code_path(link, CODE_MM));
    let text_room = width - 2.0 * PAD_MM - if code.is_some() { CODE_MM + PAD_MM } else { 0.0 };
    if let Some(path) = code {
        let corner = Vec2::new(width - PAD_MM - CODE_MM, LABEL_HEIGHT_MM - PAD_MM - CODE_MM);
        ink.fill(Group::Labels, Affine::translate(corner) * path);
    }
    let mut y = LABEL_HEIGHT_MM - PAD_MM - 5.0;
    let (heading, cap) = fitted(&label.heading, 5.0, text_room);
    ink.text(Group::Labels, (Point::new(PAD_MM, y), 0.0, Anchor::Start), cap, heading);
    for line in &label.lines {
        y -= 5.0;
        let (line, cap) = fitted(line, 2.4, text_room);
        ink.text(Group::Labels, (Point::new(PAD_MM, y), 0.0, Anchor::Start), cap, line);
    }
    for (line, caution) in LABEL_CAUTION.iter().rev().enumerate() {
        let (caution, cap) = fitted(caution, 1.7, width - 2.0 * PAD_MM);
        let base = Point::new(PAD_MM, PAD_MM + 3.0 * line as f64);
        ink.text(Group::Labels, (base, 0.0, Anchor::Start), cap, caution);
    }
    ink
}

/// A QR code (ISO/IEC 18004) as one filled path; the label round it is its quiet zone.
fn code_path(text: &str, size_mm: f64) -> Option<BezPath> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let width = code.width();
    let module = size_mm / width as f64;
    let mut path = BezPath::new();
    for (index, color) in code.to_colors().into_iter().enumerate() {
        if color == Color::Dark {
            let (x, y) = ((index % width) as f64, (width - 1 - index / width) as f64);
            let square = Rect::new(x * module, y * module, (x + 1.0) * module, (y + 1.0) * module);
            path.extend(square.to_path(0.1).elements().iter().copied());
        }
    }
    Some(path)
}
