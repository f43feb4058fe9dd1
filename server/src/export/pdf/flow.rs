//! A report that flows over pages: headings, text, tables with their header on every page, and
//! figures.

use kurbo::{Affine, Point, Rect, Shape as _, Vec2};

use super::paper::{Paper, Sheet};
use super::paperwork::{
    COLUMN_GAP_MM, LINE_MM, LIST_CAP_MM, LIST_MARGIN_MM, column_widths, sheet_of,
};
use super::{PdfError, document};
use crate::export::font::{fitted, text_width_mm};
use crate::export::ink::{Anchor, Group, Ink};

/// Capitals of the title and of headings, mm.
const TITLE_CAP_MM: f64 = 4.5;
const HEADING_CAP_MM: f64 = 3.0;

/// Room above a heading, mm.
const ABOVE_HEADING_MM: f64 = 5.0;

/// Lines of a table that stay with what stands above it, its header among them.
const KEPT_LINES: f64 = 4.0;

/// Height of the foot with the page number, mm.
const FOOT_MM: f64 = 6.0;

/// Room between figures side by side, mm.
const BETWEEN_FIGURES_MM: f64 = 6.0;

/// Part of a report.
#[derive(Debug, Clone)]
pub enum Block {
    /// A heading, kept with what follows.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// A table.
    Table {
        /// Names of the columns.
        header: Vec<String>,
        /// Its lines.
        rows: Vec<Vec<String>>,
    },
    /// Figures side by side, each with its height, mm, and a line under it.
    Figures(Vec<(Ink, f64, String)>),
}

/// Width of each of so many figures side by side on a paper, mm.
#[must_use]
pub fn figure_width_mm(paper: Paper, across: usize) -> f64 {
    let across = across.max(1) as f64;
    let room = sheet_of(paper).width - 2.0 * LIST_MARGIN_MM;
    (room - BETWEEN_FIGURES_MM * (across - 1.0)) / across
}

struct Flow {
    sheet: Sheet,
    pages: Vec<Ink>,
    y: f64,
}

impl Flow {
    fn room(&self) -> f64 {
        self.sheet.width - 2.0 * LIST_MARGIN_MM
    }

    fn top(&self) -> f64 {
        self.sheet.height - LIST_MARGIN_MM
    }

    /// Begins a page unless this much is left on the one there is.
    fn need(&mut self, mm: f64) {
        if self.pages.is_empty() || self.y - mm < LIST_MARGIN_MM + FOOT_MM {
            self.pages.push(Ink::default());
            self.y = self.top();
        }
    }

    /// Least height of the blocks from the first that must stand on one page: headings and text
    /// stay with the table or the figures they lead to.
    fn kept_mm(&self, blocks: &[Block]) -> f64 {
        let mut height = 0.0;
        for block in blocks {
            match block {
                Block::Heading(_) => height += ABOVE_HEADING_MM + HEADING_CAP_MM + 2.0,
                Block::Text(text) => {
                    let lines = wrapped(text, LIST_CAP_MM, self.room()).len();
                    height += lines as f64 * LINE_MM * 0.8 + 2.0;
                }
                Block::Table { .. } => return height + KEPT_LINES * LINE_MM,
                Block::Figures(figures) => return height + Flow::figures_mm(figures),
            }
        }
        height
    }

    fn figures_mm(figures: &[(Ink, f64, String)]) -> f64 {
        figures.iter().map(|(_, height, _)| *height).fold(0.0, f64::max) + LINE_MM + 2.0
    }

    fn is_page_empty(&self) -> bool {
        self.y >= self.top()
    }

    fn write(&mut self, x: f64, width: f64, cap_mm: f64, text: &str) {
        let (text, cap_mm) = fitted(text, cap_mm, width);
        let at = Point::new(LIST_MARGIN_MM + x, self.y);
        if let Some(page) = self.pages.last_mut() {
            page.text(Group::Labels, (at, 0.0, Anchor::Start), cap_mm, text);
        }
    }

    fn rule(&mut self, thick_mm: f64) {
        let y = self.y - 1.5;
        let right = LIST_MARGIN_MM + self.room();
        if let Some(page) = self.pages.last_mut() {
            page.fill(
                Group::Labels,
                Rect::new(LIST_MARGIN_MM, y - thick_mm, right, y).to_path(0.1),
            );
        }
    }

    fn heading(&mut self, text: &str) {
        if !self.is_page_empty() {
            self.y -= ABOVE_HEADING_MM;
        }
        self.y -= HEADING_CAP_MM;
        self.write(0.0, self.room(), HEADING_CAP_MM, text);
        self.y -= 2.0;
    }

    fn text(&mut self, text: &str) {
        for line in wrapped(text, LIST_CAP_MM, self.room()) {
            self.need(LINE_MM);
            self.y -= LINE_MM * 0.8;
            self.write(0.0, self.room(), LIST_CAP_MM, &line);
        }
        self.y -= 2.0;
    }

    fn row(&mut self, cells: &[String], widths: &[f64]) {
        self.y -= LINE_MM;
        let mut x = 0.0;
        for (cell, width) in cells.iter().zip(widths) {
            self.write(x, *width, LIST_CAP_MM, cell);
            x += width + COLUMN_GAP_MM;
        }
    }

    fn table(&mut self, header: &[String], rows: &[Vec<String>]) {
        let names: Vec<&str> = header.iter().map(String::as_str).collect();
        let widths = column_widths(&names, rows, self.room());
        let mut is_headed = false;
        for row in rows {
            let before = self.pages.len();
            self.need(if is_headed { LINE_MM + 2.0 } else { 3.0 * LINE_MM });
            if !is_headed || self.pages.len() > before {
                self.row(header, &widths);
                self.rule(0.4);
                is_headed = true;
            }
            self.row(row, &widths);
            self.rule(0.1);
        }
        self.y -= 3.0;
    }

    fn figures(&mut self, figures: &[(Ink, f64, String)]) {
        let width =
            (self.room() + BETWEEN_FIGURES_MM) / figures.len().max(1) as f64 - BETWEEN_FIGURES_MM;
        self.need(Flow::figures_mm(figures));
        self.y -= Flow::figures_mm(figures) - LINE_MM - 2.0;
        let mut x = 0.0;
        for (ink, _, _) in figures {
            let corner = Vec2::new(LIST_MARGIN_MM + x, self.y);
            if let Some(page) = self.pages.last_mut() {
                page.add(ink, Affine::translate(corner));
            }
            x += width + BETWEEN_FIGURES_MM;
        }
        self.y -= LINE_MM * 0.8;
        x = 0.0;
        for (_, _, caption) in figures {
            self.write(x, width, LIST_CAP_MM, caption);
            x += width + BETWEEN_FIGURES_MM;
        }
        self.y -= 3.0;
    }
}

/// Lines no wider than `width_mm`, broken between words.
fn wrapped(text: &str, cap_mm: f64, width_mm: f64) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if line.is_empty() || text_width_mm(&longer, cap_mm) <= width_mm {
            line = longer;
        } else {
            lines.push(std::mem::replace(&mut line, word.to_owned()));
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// Writes a report. `foot` stands at the foot of every page beside its number. Same input, same
/// bytes.
///
/// # Errors
/// [`PdfError`].
pub fn report(
    title: &str,
    foot: &str,
    blocks: &[Block],
    paper: Paper,
) -> Result<Vec<u8>, PdfError> {
    let mut flow = Flow { sheet: sheet_of(paper), pages: Vec::new(), y: 0.0 };
    flow.need(TITLE_CAP_MM);
    flow.y -= TITLE_CAP_MM;
    flow.write(0.0, flow.room(), TITLE_CAP_MM, title);
    flow.y -= 3.0;
    for (at, block) in blocks.iter().enumerate() {
        flow.need(flow.kept_mm(blocks.get(at..).unwrap_or_default()));
        match block {
            Block::Heading(text) => flow.heading(text),
            Block::Text(text) => flow.text(text),
            Block::Table { header, rows } => flow.table(header, rows),
            Block::Figures(figures) => flow.figures(figures),
        }
    }
    let of = flow.pages.len();
    let sheet = flow.sheet;
    for index in 0..of {
        let number = format!("{} / {of}", index + 1);
        let room = flow.room();
        let wide = text_width_mm(&number, LIST_CAP_MM);
        let (foot, cap_mm) = fitted(foot, 1.7, room - wide - COLUMN_GAP_MM);
        let y = LIST_MARGIN_MM - FOOT_MM / 2.0;
        if let Some(page) = flow.pages.get_mut(index) {
            let start = Point::new(LIST_MARGIN_MM, y);
            page.text(Group::Labels, (start, 0.0, Anchor::Start), cap_mm, foot);
            let end = Point::new(LIST_MARGIN_MM + room - wide, y);
            page.text(Group::Labels, (end, 0.0, Anchor::Start), LIST_CAP_MM, number);
        }
    }
    let pages: Vec<(Sheet, Ink)> = flow.pages.into_iter().map(|ink| (sheet, ink)).collect();
    document(title, &pages)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_no_wider_than_asked_and_lose_no_word() {
        let text = "Which few sizes serve a cast, and who must be made to measure after all";
        for width in [20.0, 60.0, 400.0] {
            let lines = wrapped(text, 2.0, width);
            assert_eq!(lines.join(" "), text);
            let is_one_word = |line: &String| !line.contains(' ');
            assert!(lines.iter().all(|l| is_one_word(l) || text_width_mm(l, 2.0) <= width));
        }
        assert!(wrapped("  ", 2.0, 10.0).is_empty());
    }

    #[test]
    fn a_long_table_goes_on_over_pages_inside_the_margins() {
        let rows = vec![vec!["TW01".to_owned(), "fits".to_owned()]; 200];
        let header = vec!["Code".to_owned(), "Fit".to_owned()];
        let mut flow = Flow { sheet: sheet_of(Paper::A4), pages: Vec::new(), y: 0.0 };
        flow.need(40.0);
        flow.heading("Who takes which");
        flow.table(&header, &rows);
        assert!(flow.pages.len() > 3);
        let mut lines = 0;
        for page in &flow.pages {
            let mut headers = 0;
            for (_, shape) in page.shapes() {
                if let crate::export::ink::Shape::Text { at, text, .. } = shape {
                    assert!(at.y >= LIST_MARGIN_MM + FOOT_MM - 1e-9 && at.y <= flow.top());
                    headers += usize::from(text == "Code");
                    lines += usize::from(text == "TW01");
                }
            }
            assert_eq!(headers, 1);
        }
        assert_eq!(lines, 200);
    }
}
