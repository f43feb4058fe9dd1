//! A draft as SVG in millimetres, with named groups and real curves.

use std::fmt::Write as _;

use analysis::draft::Draft;
use kurbo::{Affine, BezPath, PathEl, Point, Rect, Size, Vec2};

use super::check_bar;
use super::drawing::{piece_ink, printed_bounds};
use super::font::{CAP_HEIGHT_EM, text_width_mm};
use super::ink::{Anchor, Group, Ink, Shape};
use super::{SheetLabels, side_name};

/// Clear space between pieces and round the whole, mm.
const GAP_MM: f64 = 8.0;

/// What the SVG is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SvgUse {
    /// Shown in a page: as wide as its place, no XML prologue.
    Inline,
    /// A file at true scale: width and height in mm.
    Download,
}

/// Writes a draft as SVG. Groups are named by side and kind of line (`left-cut`, `left-seam`, ...)
/// and carry the kind as their class. One unit is one millimetre. Same input, same bytes.
#[must_use]
pub fn render(draft: &Draft, labels: &SheetLabels, purpose: SvgUse) -> String {
    let (ink, size) = lay_out(draft, labels);
    let title = format!("Glove draft, {} hand, {}", side_name(draft.side), labels.performer_code);
    write(draft.side.key(), &title, &ink, size.to_size(), purpose)
}

/// Writes any drawing as an SVG file at true scale, its groups named `<name>-cut` and so on.
#[must_use]
pub fn render_ink(name: &str, title: &str, ink: &Ink, size: Size) -> String {
    write(name, title, ink, size, SvgUse::Download)
}

/// Writes any drawing as SVG for a page, as wide as its place.
#[must_use]
pub fn render_inline(name: &str, title: &str, ink: &Ink, size: Size) -> String {
    write(name, title, ink, size, SvgUse::Inline)
}

fn write(name: &str, title: &str, ink: &Ink, size: Size, purpose: SvgUse) -> String {
    // Only the sheet turns y down; pieces and check bars are drawn y up.
    let page = Affine::new([1.0, 0.0, 0.0, -1.0, 0.0, size.height]);
    let mut out = String::with_capacity(32 * 1024);
    let (width, height) = (number(size.width), number(size.height));
    let extent = match purpose {
        SvgUse::Inline => "width=\"100%\" role=\"img\"".to_owned(),
        SvgUse::Download => format!("width=\"{width}mm\" height=\"{height}mm\""),
    };
    if purpose == SvgUse::Download {
        out.push_str("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    }
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" {extent} viewBox=\"0 0 {width} {height}\">"
    );
    let _ = writeln!(out, "<title>{}</title>", escaped(title));
    for group in Group::ALL {
        write_group(&mut out, name, group, ink, page);
    }
    out.push_str("</svg>\n");
    out
}

/// Pieces in a row from left to right, check bars beside and under them; and the sheet's size.
fn lay_out(draft: &Draft, labels: &SheetLabels) -> (Ink, Vec2) {
    let mut ink = Ink::default();
    let bar_room = check_bar::THICKNESS_MM + GAP_MM;
    let base = GAP_MM + bar_room;
    let (mut x, mut height) = (GAP_MM + bar_room, check_bar::LENGTH_MM + bar_room);
    for piece in &draft.pieces {
        let bounds: Rect = printed_bounds(piece);
        let motion = Affine::translate((x - bounds.x0, base - bounds.y0));
        ink.add(&piece_ink(piece, draft.side, labels), motion);
        x += bounds.width() + GAP_MM;
        height = height.max(bounds.height());
    }
    let corner = Vec2::new(GAP_MM + check_bar::THICKNESS_MM, GAP_MM);
    let clear = check_bar::THICKNESS_MM / 2.0;
    ink.add(&check_bar::horizontal(), Affine::translate(corner + Vec2::new(clear, 0.0)));
    let upright = Vec2::new(corner.x, corner.y + check_bar::THICKNESS_MM + clear);
    ink.add(&check_bar::vertical(), Affine::translate(upright));
    let bar_end = corner.x + check_bar::LENGTH_MM + 20.0;
    (ink, Vec2::new(x.max(bar_end), base + height + GAP_MM))
}

fn write_group(out: &mut String, name: &str, group: Group, ink: &Ink, page: Affine) {
    let mut shapes = ink.group(group).peekable();
    if shapes.peek().is_none() {
        return;
    }
    let (key, style) = (group.key(), group.line());
    let dash = if style.dash_mm.is_empty() {
        String::new()
    } else {
        let lengths: Vec<String> = style.dash_mm.iter().map(|mm| number(*mm)).collect();
        format!(" stroke-dasharray=\"{}\"", lengths.join(" "))
    };
    let _ = writeln!(
        out,
        "<g id=\"{name}-{key}\" class=\"{key}\" fill=\"none\" stroke=\"#000\" stroke-width=\"{}\"{dash} stroke-linejoin=\"round\">",
        number(style.width_mm)
    );
    for shape in shapes {
        match shape {
            Shape::Stroke(path) => {
                let _ = writeln!(out, "<path d=\"{}\"/>", path_data(path, page));
            }
            Shape::Fill(path) => {
                let data = path_data(path, page);
                let _ = writeln!(out, "<path fill=\"#000\" stroke=\"none\" d=\"{data}\"/>");
            }
            Shape::Text { at, angle, cap_mm, anchor, text } => {
                write_text(out, page * *at, -angle.to_degrees(), *cap_mm, *anchor, text);
            }
        }
    }
    out.push_str("</g>\n");
}

fn write_text(out: &mut String, at: Point, degrees: f64, cap_mm: f64, anchor: Anchor, text: &str) {
    let anchor = match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
    };
    let turn = if degrees.abs() < 1e-9 {
        String::new()
    } else {
        format!(" transform=\"rotate({} {} {})\"", number(degrees), number(at.x), number(at.y))
    };
    // The length is fixed, so that another font cannot run out of the piece.
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\" text-anchor=\"{anchor}\" font-family=\"DejaVu Sans Condensed, DejaVu Sans, sans-serif\" fill=\"#000\" stroke=\"none\"{turn}>{}</text>",
        number(at.x),
        number(at.y),
        number(cap_mm / CAP_HEIGHT_EM),
        number(text_width_mm(text, cap_mm)),
        escaped(text)
    );
}

fn path_data(path: &BezPath, page: Affine) -> String {
    let mut data = String::new();
    let point = |p: Point| {
        let p = page * p;
        format!("{} {}", number(p.x), number(p.y))
    };
    for element in path.elements() {
        let _ = match *element {
            PathEl::MoveTo(p) => write!(data, "M{}", point(p)),
            PathEl::LineTo(p) => write!(data, "L{}", point(p)),
            PathEl::QuadTo(a, p) => write!(data, "Q{} {}", point(a), point(p)),
            PathEl::CurveTo(a, b, p) => write!(data, "C{} {} {}", point(a), point(b), point(p)),
            PathEl::ClosePath => write!(data, "Z"),
        };
    }
    data
}

/// A number to the thousandth, without idle zeros.
fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text for XML: its five signs escaped, characters that XML forbids left out.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&apos;"),
            '\u{fffe}' | '\u{ffff}' => {}
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use analysis::hand::Side;

    use super::*;
    use crate::export::sample;

    #[test]
    fn every_group_is_there_once_and_text_is_escaped() {
        let svg =
            render(&sample::glove(Side::Left, 190.0, 210.0), &sample::labels(), SvgUse::Inline);
        for group in
            Group::ALL.into_iter().filter(|group| !matches!(group, Group::Join | Group::Hatch))
        {
            assert_eq!(svg.matches(&format!("<g id=\"left-{}\"", group.key())).count(), 1);
        }
        assert!(svg.contains("\u{c4}ngste &amp; &lt;N\u{f6}te&gt;"));
        assert!(!svg.contains("<N"));
    }

    #[test]
    fn a_download_states_its_size_in_millimetres() {
        let draft = sample::glove(Side::Left, 190.0, 210.0);
        let svg = render(&draft, &sample::labels(), SvgUse::Download);
        let (_, size) = lay_out(&draft, &sample::labels());
        let (w, h) = (number(size.x), number(size.y));
        assert!(svg.contains(&format!("width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\"")));
        assert_eq!(svg, render(&draft, &sample::labels(), SvgUse::Download));
    }

    #[test]
    fn numbers_are_short_and_never_minus_zero() {
        assert_eq!(
            ["0", "1.5", "-2", "0.123", "0"],
            [0.0, 1.5, -2.0, 0.1234, -0.0001].map(number)[..]
        );
    }
}
