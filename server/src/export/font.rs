//! The embedded font and the widths of its letters.

use std::sync::LazyLock;

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

/// DejaVu Sans Condensed 2.37: Latin with all its accents, Greek, Cyrillic and more. Its licence
/// stands beside the file.
pub const FONT_BYTES: &[u8] = include_bytes!("../../assets/DejaVuSansCondensed.ttf");

/// Height of a capital over the em (an H of this font is 1493 of 2048 units high).
pub const CAP_HEIGHT_EM: f64 = 1493.0 / 2048.0;

/// Smallest capital that is written, mm (`common practice`: 1.5 mm is about 6 point).
pub const SMALLEST_CAP_MM: f64 = 1.5;

static FONT: LazyLock<Option<FontRef<'static>>> = LazyLock::new(|| FontRef::new(FONT_BYTES).ok());

/// Width of a line of text whose capitals are `cap_mm` high, mm. Letters the font lacks count one
/// em; kerning is left out, which errs on the wide side.
#[must_use]
pub fn text_width_mm(text: &str, cap_mm: f64) -> f64 {
    let em = cap_mm / CAP_HEIGHT_EM;
    let Some(font) = FONT.as_ref() else { return text.chars().count() as f64 * em };
    let map = font.charmap();
    let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
    let advance = |c| map.map(c).and_then(|glyph| metrics.advance_width(glyph));
    text.chars().map(|c| f64::from(advance(c).unwrap_or(1.0))).sum::<f64>() * em
}

/// A letter of a line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Letter {
    /// Number of the glyph in the font.
    pub glyph: u32,
    /// How far the next letter is, em.
    pub advance_em: f32,
    /// Where the letter stands in the text, bytes.
    pub bytes: std::ops::Range<usize>,
}

/// The letters of a text that needs no shaping: one glyph a letter from left to right, as in Latin,
/// Greek and Cyrillic without combining marks. `None` for any other text, which a shaper must set.
#[must_use]
pub fn letters(text: &str) -> Option<Vec<Letter>> {
    let font = FONT.as_ref()?;
    let map = font.charmap();
    let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
    let is_plain = |c: char| {
        matches!(c, ' '..='\u{2ff}' | '\u{370}'..='\u{482}' | '\u{48a}'..='\u{52f}'
            | '\u{2010}'..='\u{2026}')
    };
    let letter = |(start, c): (usize, char)| {
        let glyph = map.map(c).filter(|_| is_plain(c))?;
        let advance_em = metrics.advance_width(glyph)?;
        let bytes = start..start + c.len_utf8();
        Some(Letter { glyph: glyph.to_u32(), advance_em, bytes })
    };
    text.char_indices().map(letter).collect()
}

/// A text that fits into `width_mm`: smaller if need be, down to [`SMALLEST_CAP_MM`], and then
/// shortened with an ellipsis. Returns the text and the height of its capitals.
#[must_use]
pub fn fitted(text: &str, cap_mm: f64, width_mm: f64) -> (String, f64) {
    let natural = text_width_mm(text, cap_mm);
    if natural <= width_mm {
        return (text.to_owned(), cap_mm);
    }
    let smaller = (cap_mm * width_mm / natural).max(SMALLEST_CAP_MM.min(cap_mm));
    // The quotient above may round up.
    if text_width_mm(text, smaller) <= width_mm + 1e-9 {
        return (text.to_owned(), smaller);
    }
    let mut kept: Vec<char> = text.chars().collect();
    while !kept.is_empty() {
        kept.pop();
        let shortened: String = kept.iter().collect::<String>().trim_end().to_owned() + "\u{2026}";
        if text_width_mm(&shortened, smaller) <= width_mm {
            return (shortened, smaller);
        }
    }
    (String::new(), smaller)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cap_height_is_the_one_in_the_font() {
        let font = FONT.as_ref().expect("the font parses");
        let glyph = font.charmap().map('H').expect("there is an H");
        let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
        let bounds = metrics.bounds(glyph).expect("an H has an outline");
        assert!((f64::from(bounds.y_max) - CAP_HEIGHT_EM).abs() < 1e-4);
    }

    #[test]
    fn a_long_text_shrinks_and_then_is_cut_short() {
        let long = "The Very Long Production Name of a Company in Llanfairpwllgwyngyll".repeat(3);
        for width in [200.0, 60.0, 12.0, 1.0] {
            let (text, cap) = fitted(&long, 3.0, width);
            assert!(text_width_mm(&text, cap) <= width + 1e-6, "{text} at {width}");
            assert!(cap >= SMALLEST_CAP_MM || text.is_empty());
        }
        assert_eq!(fitted("Ä", 3.0, 50.0), ("Ä".to_owned(), 3.0));
    }

    #[test]
    fn accents_and_other_alphabets_have_letters() {
        let map = FONT.as_ref().expect("the font parses").charmap();
        for c in "éÅøßŁžőğΩЖіЪ×–…".chars() {
            assert!(map.map(c).is_some_and(|glyph| glyph.to_u32() != 0), "{c}");
        }
    }
}
