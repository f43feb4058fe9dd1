//! What people type (`"7 3/8"`, `"19,4 cm"`, `"194"`) to millimetres, or a clear refusal.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Millimetres in an inch, exactly (international yard and pound agreement of 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// Smallest value taken as a reading, mm (assumed: a twentieth of the smallest dimension of a small
/// child, so that a value typed in the wrong unit is kept and flagged rather than refused).
pub const SMALLEST_READING_MM: f64 = 1.0;

/// Largest value taken as a reading, mm (assumed: ten times the largest dimension of a large hand,
/// for the same reason).
pub const LARGEST_READING_MM: f64 = 3000.0;

/// Longest text read as a value, characters.
const LONGEST_TEXT: usize = 40;

/// A unit of length that a tape can carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// International inches.
    Inch,
}

impl Unit {
    /// Every unit, in the order they are offered.
    pub const ALL: [Unit; 3] = [Unit::Mm, Unit::Cm, Unit::Inch];

    /// Millimetres in one of this unit.
    #[must_use]
    pub fn mm(self) -> f64 {
        match self {
            Unit::Mm => 1.0,
            Unit::Cm => 10.0,
            Unit::Inch => MM_PER_INCH,
        }
    }

    /// Short sign, also the stable key.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Unit::Mm => "mm",
            Unit::Cm => "cm",
            Unit::Inch => "in",
        }
    }

    /// The unit people mean by this word or sign, if any.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Unit> {
        match word.to_lowercase().trim_end_matches('.') {
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Some(Unit::Mm),
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => Some(Unit::Cm),
            "in" | "inch" | "inches" | "\"" | "''" | "\u{201d}" | "\u{2033}" => Some(Unit::Inch),
            _ => None,
        }
    }
}

/// A value as typed, understood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Typed {
    /// The value in millimetres, within the bounds of this module.
    pub mm: f64,
    /// The unit it was given in.
    pub unit: Unit,
}

/// Why a typed value was refused. The words for the person who typed it stand with the pages', by
/// code and language.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{}", self.code())]
pub enum UnitError {
    /// Nothing was typed.
    Empty,
    /// The text holds no number that can be read.
    NotANumber(String),
    /// A number with a unit that a tape does not carry.
    UnknownUnit(String),
    /// A negative number.
    Negative,
    /// Zero.
    Zero,
    /// Below [`SMALLEST_READING_MM`].
    TooSmall,
    /// Above [`LARGEST_READING_MM`].
    TooLarge,
    /// A comma with three digits behind it: decimal in one country, thousands in another.
    Ambiguous(String),
    /// A fraction whose lower number is 0.
    ZeroDivisor,
}

impl UnitError {
    /// What was typed, or the part of it that is not understood; empty where the refusal does not
    /// quote it.
    #[must_use]
    pub fn text(&self) -> &str {
        match self {
            UnitError::NotANumber(text)
            | UnitError::UnknownUnit(text)
            | UnitError::Ambiguous(text) => text,
            _ => "",
        }
    }

    /// Stable code for machines.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            UnitError::Empty => "value_empty",
            UnitError::NotANumber(_) => "value_not_a_number",
            UnitError::UnknownUnit(_) => "unit_unknown",
            UnitError::Negative => "value_negative",
            UnitError::Zero => "value_zero",
            UnitError::TooSmall => "value_too_small",
            UnitError::TooLarge => "value_too_large",
            UnitError::Ambiguous(_) => "value_ambiguous",
            UnitError::ZeroDivisor => "value_zero_divisor",
        }
    }
}

/// Reads a typed length. Decimal point and decimal comma are both understood. A unit in the text
/// wins over `default_unit`; a fraction without a unit is inches, since no metric tape carries one.
///
/// # Errors
/// [`UnitError`] says what is wrong and what to type instead.
///
/// ```
/// use analysis::units::{parse, Unit};
/// assert_eq!(parse("19,4 cm", Unit::Mm).map(|typed| typed.mm), Ok(194.0));
/// assert_eq!(parse("7 3/8", Unit::Mm).map(|typed| typed.mm), Ok(7.375 * 25.4));
/// ```
pub fn parse(text: &str, default_unit: Unit) -> Result<Typed, UnitError> {
    let text = text.trim();
    if text.is_empty() {
        return Err(UnitError::Empty);
    }
    let not_a_number = || UnitError::NotANumber(text.chars().take(LONGEST_TEXT).collect());
    if text.chars().count() > LONGEST_TEXT {
        return Err(not_a_number());
    }
    let is_numeric = |c: char| c.is_ascii_digit() || " .,/-+\u{2212}\u{a0}".contains(c);
    let end = text.find(|c| !is_numeric(c)).unwrap_or(text.len());
    let (number, word) = text.split_at(end);
    let (number, word) = (number.trim(), word.trim());
    if !number.contains(|c: char| c.is_ascii_digit()) {
        return Err(not_a_number());
    }
    let (magnitude, is_fraction) = number_of(number).map_err(|e| e.unwrap_or_else(not_a_number))?;
    let unit = if word.is_empty() {
        if is_fraction { Unit::Inch } else { default_unit }
    } else {
        Unit::from_word(word).ok_or_else(|| UnitError::UnknownUnit(word.to_owned()))?
    };
    // Ten to the nanometre: 19.4 cm must be 194 mm, not 193.99999999999997.
    let mm = (magnitude * unit.mm() * 1e6).round() / 1e6;
    match mm {
        _ if magnitude == 0.0 => Err(UnitError::Zero),
        mm if mm < SMALLEST_READING_MM => Err(UnitError::TooSmall),
        mm if mm > LARGEST_READING_MM => Err(UnitError::TooLarge),
        mm => Ok(Typed { mm, unit }),
    }
}

/// The number in a text of digits, separators and signs, and whether it was written as a fraction.
/// `Err(None)` is "not a number".
fn number_of(text: &str) -> Result<(f64, bool), Option<UnitError>> {
    if text.starts_with(['-', '\u{2212}']) {
        return Err(Some(UnitError::Negative));
    }
    let text = text.trim_start_matches('+');
    let Some((before, divisor)) = text.split_once('/') else {
        let is_thousand = |s: &str| s.len() == 3 && s.chars().all(|c| c.is_ascii_digit());
        if text.rsplit_once(',').is_some_and(|(_, behind)| is_thousand(behind)) {
            return Err(Some(UnitError::Ambiguous(text.to_owned())));
        }
        return decimal(text).map(|value| (value, false)).ok_or(None);
    };
    // "7 3/8" and "7-3/8": a whole number, then the fraction.
    let (whole, numerator) = match before.trim().rsplit_once([' ', '-', '\u{a0}']) {
        Some((whole, numerator)) => (natural(whole).ok_or(None)?, natural(numerator).ok_or(None)?),
        None => (0.0, natural(before).ok_or(None)?),
    };
    let divisor = natural(divisor).ok_or(None)?;
    if divisor == 0.0 {
        return Err(Some(UnitError::ZeroDivisor));
    }
    Ok((whole + numerator / divisor, true))
}

fn natural(text: &str) -> Option<f64> {
    let text = text.trim();
    let digits = !text.is_empty() && text.len() <= 9 && text.chars().all(|c| c.is_ascii_digit());
    if digits { text.parse().ok() } else { None }
}

/// A decimal with a point or a comma, one of them at most.
fn decimal(text: &str) -> Option<f64> {
    let text = text.replace(',', ".");
    let plain = text.chars().all(|c| c.is_ascii_digit() || c == '.');
    if plain { text.parse().ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mm(text: &str, unit: Unit) -> Result<f64, UnitError> {
        parse(text, unit).map(|typed| typed.mm)
    }

    #[test]
    fn what_people_type_is_understood() {
        for (text, unit, expected) in [
            ("194", Unit::Mm, 194.0),
            ("19.4", Unit::Cm, 194.0),
            ("19,4 cm", Unit::Mm, 194.0),
            ("19,4cm", Unit::Inch, 194.0),
            ("194 MM.", Unit::Inch, 194.0),
            ("7 3/8", Unit::Mm, 187.325),
            ("7-3/8 in", Unit::Mm, 187.325),
            ("7 3/8\"", Unit::Cm, 187.325),
            ("3/4 inch", Unit::Mm, 19.05),
            ("7.5", Unit::Inch, 190.5),
            (".5 in", Unit::Mm, 12.7),
            ("+80", Unit::Mm, 80.0),
        ] {
            assert_eq!(mm(text, unit), Ok(expected), "{text}");
        }
    }

    #[test]
    fn what_cannot_be_meant_is_refused_with_its_code() {
        for (text, code) in [
            ("", "value_empty"),
            ("   ", "value_empty"),
            ("abc", "value_not_a_number"),
            ("NaN", "value_not_a_number"),
            ("inf", "value_not_a_number"),
            ("1e3", "unit_unknown"),
            ("1,234.5", "value_not_a_number"),
            ("1,234", "value_ambiguous"),
            ("1.2.3", "value_not_a_number"),
            ("7 3/8/2", "value_not_a_number"),
            ("19 4", "value_not_a_number"),
            ("/", "value_not_a_number"),
            ("-80", "value_negative"),
            ("\u{2212}80", "value_negative"),
            ("0", "value_zero"),
            ("0/8 in", "value_zero"),
            ("0.4", "value_too_small"),
            ("10,000", "value_ambiguous"),
            ("10000", "value_too_large"),
            ("7 3/8 ft", "unit_unknown"),
            ("3/0 in", "value_zero_divisor"),
            (&"9".repeat(50), "value_not_a_number"),
        ] {
            assert_eq!(parse(text, Unit::Mm).map_err(|e| e.code()), Err(code), "{text}");
        }
    }

    #[test]
    fn the_bounds_are_the_ones_in_the_messages() {
        assert!(mm("1", Unit::Mm).is_ok() && mm("0.999", Unit::Mm).is_err());
        assert!(mm("3000", Unit::Mm).is_ok() && mm("3000.001", Unit::Mm).is_err());
    }

    proptest! {
        #[test]
        fn no_text_panics_and_every_value_is_in_bounds(text in "\\PC{0,50}") {
            if let Ok(typed) = parse(&text, Unit::Mm) {
                prop_assert!((SMALLEST_READING_MM..=LARGEST_READING_MM).contains(&typed.mm));
            }
        }

        #[test]
        fn the_same_length_in_any_unit_reads_the_same(eighths in 9_u32..900) {
            let inches = f64::from(eighths) / 8.0;
            let as_fraction = parse(&format!("{} {}/8", eighths / 8, eighths % 8), Unit::Mm);
            let as_mm = parse(&format!("{}", inches * MM_PER_INCH), Unit::Mm);
            let as_cm = parse(&format!("{:.4}", inches * MM_PER_INCH / 10.0).replace('.', ","), Unit::Cm);
            let as_fraction = as_fraction.map(|t| t.mm);
            prop_assert!((as_fraction.clone().unwrap_or(0.0) - as_mm.map(|t| t.mm).unwrap_or(9e9)).abs() < 1e-5);
            prop_assert!((as_fraction.unwrap_or(0.0) - as_cm.map(|t| t.mm).unwrap_or(9e9)).abs() < 1e-5);
        }
    }
}
