//! Sheets of paper, and what of them can be drawn on.

use kurbo::Rect;

/// Clear margin round the sheet, mm (`common practice`: laser and inkjet printers leave 3 to 4.5 mm
/// white at the edges).
pub const MARGIN_MM: f64 = 5.0;

/// Strip at the left for the upright check bar, mm.
pub const SIDE_STRIP_MM: f64 = 4.0;

/// Strip at the foot for the level check bar, the sheet's name and the page map, mm.
pub const FOOT_STRIP_MM: f64 = 14.0;

/// How much of the drawing neighbouring tiles share, mm (`common practice`: 10 to 15 mm is enough
/// to glue and loses little paper).
pub const OVERLAP_MM: f64 = 12.0;

/// Narrowest and widest roll that is taken, mm (assumed: from a label plotter to a wide one).
pub const ROLL_WIDTHS_MM: std::ops::RangeInclusive<f64> = 150.0..=3000.0;

/// Longest page on a roll, mm: PDF 1.7 allows 14,400 points (ISO 32000-1, annex C.2).
pub const LONGEST_PAGE_MM: f64 = 5080.0;

/// A paper to print on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Paper {
    /// ISO 216 A4.
    A4,
    /// US Letter.
    Letter,
    /// ISO 216 A3.
    A3,
    /// US Tabloid.
    Tabloid,
    /// A roll of this width, mm; pages are as long as they need to be.
    Roll(f64),
}

impl Paper {
    /// The cut sheets, in the order they are offered.
    pub const SHEETS: [Paper; 4] = [Paper::A4, Paper::Letter, Paper::A3, Paper::Tabloid];

    /// Stable key: `a4`, `letter`, `a3`, `tabloid`, or `roll-914` for a roll of 914 mm.
    #[must_use]
    pub fn key(self) -> String {
        match self {
            Paper::A4 => "a4".to_owned(),
            Paper::Letter => "letter".to_owned(),
            Paper::A3 => "a3".to_owned(),
            Paper::Tabloid => "tabloid".to_owned(),
            Paper::Roll(width_mm) => format!("roll-{width_mm}"),
        }
    }

    /// Name for people.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Paper::A4 => "A4".to_owned(),
            Paper::Letter => "Letter".to_owned(),
            Paper::A3 => "A3".to_owned(),
            Paper::Tabloid => "Tabloid".to_owned(),
            Paper::Roll(width_mm) => format!("roll of {width_mm} mm"),
        }
    }

    /// The paper with this key; rolls only within [`ROLL_WIDTHS_MM`].
    #[must_use]
    pub fn from_key(key: &str) -> Option<Paper> {
        let key = key.trim().to_lowercase();
        if let Some(width) = key.strip_prefix("roll-") {
            let width: f64 = width.parse().ok()?;
            return ROLL_WIDTHS_MM.contains(&width).then_some(Paper::Roll(width));
        }
        Paper::SHEETS.into_iter().find(|paper| paper.key() == key)
    }

    /// Width and height in portrait, mm; a roll has no height of its own.
    #[must_use]
    pub fn size_mm(self) -> (f64, Option<f64>) {
        match self {
            Paper::A4 => (210.0, Some(297.0)),
            Paper::Letter => (215.9, Some(279.4)),
            Paper::A3 => (297.0, Some(420.0)),
            Paper::Tabloid => (279.4, Some(431.8)),
            Paper::Roll(width_mm) => (width_mm, None),
        }
    }

    /// The ways a page of this paper can lie: portrait, then landscape.
    #[must_use]
    pub fn orientations(self) -> Vec<Sheet> {
        match self.size_mm() {
            (width, Some(height)) => {
                vec![Sheet { width, height }, Sheet { width: height, height: width }]
            }
            (width, None) => vec![Sheet { width, height: LONGEST_PAGE_MM }],
        }
    }
}

/// A page of some size, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sheet {
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
}

impl Sheet {
    /// Where pieces may be drawn, in mm from the lower left corner.
    #[must_use]
    pub fn drawing_area(self) -> Rect {
        Rect::new(
            MARGIN_MM + SIDE_STRIP_MM,
            MARGIN_MM + FOOT_STRIP_MM,
            self.width - MARGIN_MM,
            self.height - MARGIN_MM,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_lead_back_to_their_paper() {
        for paper in [&Paper::SHEETS[..], &[Paper::Roll(914.4), Paper::Roll(600.0)]].concat() {
            assert_eq!(Paper::from_key(&paper.key()), Some(paper));
        }
        for wrong in ["", "a5", "roll-", "roll-1", "roll-nan", "roll-1e9", "roll--5"] {
            assert_eq!(Paper::from_key(wrong), None, "{wrong}");
        }
    }
}
