//! Printed size, read off pixels: pages are rendered by poppler's `pdftoppm`, which shares nothing
//! with our PDF writer, and check bars are found in the picture.

use std::path::Path;
use std::process::Command;

/// Resolution of the rendering: a pixel is 0.042 mm.
pub const DPI: f64 = 600.0;

const MM_PER_PIXEL: f64 = 25.4 / DPI;

/// A rendered page, one byte a pixel.
#[derive(Debug)]
pub struct Page {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    grey: Vec<u8>,
}

/// A check bar found on a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CheckBar {
    /// Whether it lies along the width of the page.
    pub is_horizontal: bool,
    /// Its length as printed, mm.
    pub length_mm: f64,
}

impl Page {
    /// Width and height of the sheet, mm.
    #[must_use]
    pub fn size_mm(&self) -> (f64, f64) {
        (self.width as f64 * MM_PER_PIXEL, self.height as f64 * MM_PER_PIXEL)
    }

    /// Share of the page that is inked.
    #[must_use]
    pub fn inked(&self) -> f64 {
        self.grey.iter().filter(|p| **p < 128).count() as f64 / self.grey.len() as f64
    }

    /// Every check bar: two parallel lines of the same extent, 90 to 110 mm long, 1.5 to 2.5 mm
    /// apart. The bounds are wide on purpose, so that a bar of the wrong length is found and read.
    #[must_use]
    pub fn check_bars(&self) -> Vec<CheckBar> {
        let across = lines(self.height, self.width, |row, x| self.is_dark(x, row));
        let down = lines(self.width, self.height, |column, y| self.is_dark(column, y));
        let bars = |lines: &[Line], is_horizontal: bool| {
            pairs(lines)
                .map(move |length_mm| CheckBar { is_horizontal, length_mm })
                .collect::<Vec<_>>()
        };
        [bars(&across, true), bars(&down, false)].concat()
    }

    fn is_dark(&self, x: usize, y: usize) -> bool {
        self.grey.get(y * self.width + x).is_some_and(|pixel| *pixel < 128)
    }
}

/// A straight dark stroke: where it lies across its own direction, and from where to where.
#[derive(Debug, Clone, Copy)]
struct Line {
    first_row: usize,
    last_row: usize,
    start: usize,
    end: usize,
}

/// Dark runs of 90 to 110 mm, adjacent rows joined.
fn lines(rows: usize, length: usize, is_dark: impl Fn(usize, usize) -> bool) -> Vec<Line> {
    let wanted = (90.0 / MM_PER_PIXEL) as usize..=(110.0 / MM_PER_PIXEL) as usize;
    let mut found: Vec<Line> = Vec::new();
    for row in 0..rows {
        let mut start = None;
        for at in 0..=length {
            match (start, at < length && is_dark(row, at)) {
                (None, true) => start = Some(at),
                (Some(from), false) => {
                    start = None;
                    if !wanted.contains(&(at - from)) {
                        continue;
                    }
                    let same = |line: &&mut Line| {
                        line.last_row + 1 == row
                            && line.start.abs_diff(from) <= 2
                            && line.end.abs_diff(at) <= 2
                    };
                    match found.iter_mut().find(same) {
                        Some(line) => line.last_row = row,
                        None => {
                            found.push(Line { first_row: row, last_row: row, start: from, end: at })
                        }
                    }
                }
                _ => {}
            }
        }
    }
    found
}

/// Lengths in mm of the lines that have a parallel twin of the same extent.
fn pairs(lines: &[Line]) -> impl Iterator<Item = f64> {
    lines.iter().enumerate().filter_map(|(at, one)| {
        lines.iter().skip(at + 1).find_map(|other| {
            let apart = (other.last_row + 1 - one.first_row) as f64 * MM_PER_PIXEL;
            let same = one.start.abs_diff(other.start) <= 2 && one.end.abs_diff(other.end) <= 2;
            let length = (one.end - one.start) as f64 * MM_PER_PIXEL;
            (same && (1.5..=2.5).contains(&apart)).then_some(length)
        })
    })
}

/// Renders every page of a PDF.
///
/// # Panics
/// When `pdftoppm` is missing or refuses the file.
#[must_use]
#[expect(clippy::expect_used, clippy::panic, reason = "a test cannot go on without its pages")]
pub fn render(pdf: &Path, folder: &Path) -> Vec<Page> {
    let stem = folder.join("page");
    let output = Command::new("pdftoppm")
        .args(["-gray", "-r", &DPI.to_string()])
        .arg(pdf)
        .arg(&stem)
        .output()
        .expect("pdftoppm is installed (poppler-utils)");
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    if !output.status.success() || !words.is_empty() {
        panic!("pdftoppm on {}: {words}", pdf.display());
    }
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .expect("the folder can be read")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|e| e == "pgm"))
        .collect();
    files.sort();
    files
        .iter()
        .map(|file| {
            let page =
                std::fs::read(file).ok().and_then(|bytes| pgm(&bytes)).expect("a grey picture");
            std::fs::remove_file(file).expect("the picture can be removed");
            page
        })
        .collect()
}

/// A binary grey picture: "P5", width, height, 255, then the bytes.
fn pgm(bytes: &[u8]) -> Option<Page> {
    let mut words = Vec::new();
    let mut at = 0;
    while words.len() < 4 {
        let rest = bytes.get(at..)?;
        let length = rest.iter().position(u8::is_ascii_whitespace)?;
        words.push(std::str::from_utf8(rest.get(..length)?).ok()?);
        at += length + 1;
    }
    let (width, height) = (words.get(1)?.parse().ok()?, words.get(2)?.parse().ok()?);
    let grey = bytes.get(at..)?.to_vec();
    (grey.len() == width * height).then_some(Page { width, height, grey })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::place::Scratch;

    /// A one-page A4 file written by hand after ISO 32000-1: one upright and one level bar.
    fn hand_written(length_mm: f64) -> String {
        let points = |mm: f64| mm * 72.0 / 25.4;
        let bar = |x: f64, y: f64, w: f64, h: f64| {
            format!("{:.4} {:.4} {:.4} {:.4} re f\n", points(x), points(y), points(w), points(h))
        };
        let mut ink = String::new();
        ink += &bar(40.0, 60.0, length_mm, 0.25);
        ink += &bar(40.0, 61.75, length_mm, 0.25);
        ink += &bar(20.0, 60.0, 0.25, length_mm);
        ink += &bar(21.75, 60.0, 0.25, length_mm);
        // A lone line of about the same length is no check bar.
        ink += &bar(40.0, 90.0, 98.0, 0.25);
        let objects = [
            "<< /Type /Catalog /Pages 2 0 R >>".to_owned(),
            "<< /Type /Pages /Kids [3 0 R] /Count 1 >>".to_owned(),
            "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595.2756 841.8898] /Contents 4 0 R /Resources << >> >>".to_owned(),
            format!("<< /Length {} >>\nstream\n{ink}\nendstream", ink.len() + 1),
        ];
        let (mut file, mut offsets) = ("%PDF-1.4\n".to_owned(), String::new());
        for (at, object) in objects.iter().enumerate() {
            offsets += &format!("{:010} 00000 n \n", file.len());
            file += &format!("{} 0 obj\n{object}\nendobj\n", at + 1);
        }
        let start = file.len();
        file + &format!(
            "xref\n0 5\n0000000000 65535 f \n{offsets}trailer\n<< /Size 5 /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n"
        )
    }

    #[test]
    fn bars_of_a_known_file_are_read_to_a_tenth_of_a_millimetre() {
        for length_mm in [100.0, 99.5, 101.0] {
            let folder = Scratch::new("print");
            let pdf = folder.path().join("bars.pdf");
            std::fs::write(&pdf, hand_written(length_mm)).expect("written");
            let pages = render(&pdf, folder.path());
            let bars = pages[0].check_bars();
            assert_eq!(bars.iter().map(|b| b.is_horizontal).collect::<Vec<_>>(), [true, false]);
            for bar in bars {
                assert!((bar.length_mm - length_mm).abs() < 0.1, "{bar:?} of {length_mm}");
            }
        }
    }
}
