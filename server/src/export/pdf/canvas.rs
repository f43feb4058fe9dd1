//! Ink to PDF operators.

use std::sync::LazyLock;

use krilla::color::luma;
use krilla::geom::{Path, PathBuilder, Point as PdfPoint, Transform};
use krilla::paint::{Fill, FillRule, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph, TextDirection};
use kurbo::{BezPath, PathEl, Point, Rect, Shape as _};

use crate::export::drawing::is_drawable;
use crate::export::font::{CAP_HEIGHT_EM, FONT_BYTES, Letter, letters, text_width_mm};
use crate::export::ink::{Anchor, Group, Ink, Shape};

/// Points in a millimetre.
pub const POINTS_PER_MM: f64 = 72.0 / 25.4;

static FONT: LazyLock<Option<Font>> = LazyLock::new(|| Font::new(FONT_BYTES.into(), 0));

/// Draws ink on a page of this height. Ink is mm, y up; PDF surfaces here are points, y down.
pub fn draw(surface: &mut Surface<'_>, page_height_mm: f64, ink: &Ink) {
    for (group, shape) in ink.shapes() {
        match shape {
            Shape::Stroke(path) => {
                surface.set_fill(None);
                surface.set_stroke(Some(stroke_of(group)));
                draw_path(surface, page_height_mm, path);
            }
            Shape::Fill(path) => {
                surface.set_stroke(None);
                surface.set_fill(Some(black()));
                draw_path(surface, page_height_mm, path);
            }
            Shape::Text { at, angle, cap_mm, anchor, text } => {
                surface.set_stroke(None);
                surface.set_fill(Some(black()));
                draw_text(surface, onto_page(page_height_mm, *at), *angle, *cap_mm, *anchor, text);
            }
        }
    }
}

/// Draws ink, and nothing of it outside `window` (mm, y up).
pub fn draw_within(surface: &mut Surface<'_>, page_height_mm: f64, ink: &Ink, window: Rect) {
    let Some(clip) = pdf_path(page_height_mm, &window.to_path(0.01)) else { return };
    surface.push_clip_path(&clip, &FillRule::NonZero);
    draw(surface, page_height_mm, ink);
    surface.pop();
}

fn black() -> Fill {
    Fill { paint: luma::Color::black().into(), ..Fill::default() }
}

fn stroke_of(group: Group) -> Stroke {
    let style = group.line();
    let points = |mm: f64| (mm * POINTS_PER_MM) as f32;
    let dash = (!style.dash_mm.is_empty()).then(|| StrokeDash {
        array: style.dash_mm.iter().map(|mm| points(*mm)).collect(),
        offset: 0.0,
    });
    Stroke { width: points(style.width_mm), dash, ..Stroke::default() }
}

fn draw_path(surface: &mut Surface<'_>, page_height_mm: f64, path: &BezPath) {
    if let Some(path) = pdf_path(page_height_mm, path) {
        surface.draw_path(&path);
    }
}

fn onto_page(page_height_mm: f64, p: Point) -> PdfPoint {
    let (x, y) = (p.x * POINTS_PER_MM, (page_height_mm - p.y) * POINTS_PER_MM);
    PdfPoint::from_xy(x as f32, y as f32)
}

fn pdf_path(page_height_mm: f64, path: &BezPath) -> Option<Path> {
    if !is_drawable(path) {
        return None;
    }
    let at = |p: Point| onto_page(page_height_mm, p);
    let mut builder = PathBuilder::new();
    for element in path.elements() {
        match *element {
            PathEl::MoveTo(p) => builder.move_to(at(p).x, at(p).y),
            PathEl::LineTo(p) => builder.line_to(at(p).x, at(p).y),
            PathEl::QuadTo(a, p) => builder.quad_to(at(a).x, at(a).y, at(p).x, at(p).y),
            PathEl::CurveTo(a, b, p) => {
                builder.cubic_to(at(a).x, at(a).y, at(b).x, at(b).y, at(p).x, at(p).y);
            }
            PathEl::ClosePath => builder.close(),
        }
    }
    builder.finish()
}

fn draw_text(
    surface: &mut Surface<'_>,
    at: PdfPoint,
    angle: f64,
    cap_mm: f64,
    anchor: Anchor,
    text: &str,
) {
    let Some(font) = FONT.clone() else { return };
    let size = (cap_mm / CAP_HEIGHT_EM * POINTS_PER_MM) as f32;
    let back = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => text_width_mm(text, cap_mm) / 2.0 * POINTS_PER_MM,
    };
    let turned = Transform::from_rotate_at(-angle.to_degrees() as f32, at.x, at.y);
    surface.push_transform(&turned);
    let start = PdfPoint::from_xy(at.x - back as f32, at.y);
    match letters(text) {
        // A shaper reads the font's tables anew for every line; plain text can do without.
        Some(letters) => {
            let glyph = |letter: Letter| KrillaGlyph {
                glyph_id: GlyphId::new(letter.glyph),
                text_range: letter.bytes,
                x_advance: letter.advance_em,
                x_offset: 0.0,
                y_offset: 0.0,
                y_advance: 0.0,
                location: None,
            };
            let glyphs: Vec<KrillaGlyph> = letters.into_iter().map(glyph).collect();
            surface.draw_glyphs(start, &glyphs, font, text, size, false);
        }
        None => surface.draw_text(start, font, size, text, false, TextDirection::Auto),
    }
    surface.pop();
}
