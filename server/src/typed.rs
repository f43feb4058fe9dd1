//! What people type in forms and commands: lines of text, and numbers with a comma or a point, a
//! percent sign or none.

use crate::error::Problem;

/// Longest text taken for a number, characters.
const LONGEST: usize = 12;

/// The number in an input; nothing for an empty one.
///
/// # Errors
/// A refusal at the field for anything else.
pub fn number(field: &str, text: &str) -> Result<Option<f64>, Problem> {
    let text = text.trim().trim_end_matches('%').trim_end().replace(',', ".");
    if text.is_empty() {
        return Ok(None);
    }
    let is_plain = text.len() <= LONGEST
        && text
            .chars()
            .enumerate()
            .all(|(i, c)| c.is_ascii_digit() || c == '.' || (i == 0 && c == '-'));
    match text.parse::<f64>() {
        Ok(value) if is_plain => Ok(Some(value)),
        _ => {
            let text: String = text.chars().take(20).collect();
            Err(Problem::at(field, "option_not_a_number").with("text", text))
        }
    }
}

/// The number in an input that may not be empty.
///
/// # Errors
/// A refusal at the field.
pub fn needed(field: &str, text: &str) -> Result<f64, Problem> {
    number(field, text)?.ok_or_else(|| Problem::at(field, "number_missing"))
}

/// The refusal of a number out of its bounds.
#[must_use]
pub fn out_of_bounds(field: &str, value: f64, (low, high): (f64, f64)) -> Problem {
    Problem::at(field, "option_out_of_bounds")
        .with("value", value)
        .with("low", low)
        .with("high", high)
}

/// A number as it stands in an input: to a hundredth, without trailing zeros.
#[must_use]
pub fn plain(value: f64) -> String {
    ((value * 100.0).round() / 100.0).to_string()
}

/// Text of one line as entered: trimmed, within its length.
///
/// # Errors
/// A refusal at the field.
pub fn line(field: &str, text: &str, longest: usize, is_needed: bool) -> Result<String, Problem> {
    let text = text.trim();
    if is_needed && text.is_empty() {
        return Err(Problem::at(field, "text_empty"));
    }
    if text.chars().count() > longest {
        return Err(Problem::at(field, "text_long").with("most", longest));
    }
    if text.chars().any(char::is_control) {
        return Err(Problem::at(field, "text_control"));
    }
    Ok(text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commas_and_percent_signs_are_read_and_words_and_huge_numbers_refused() {
        assert_eq!(number("a", " 7,5 % ").expect("a number"), Some(7.5));
        assert_eq!(number("a", "-3").expect("a number"), Some(-3.0));
        assert_eq!(number("a", "  ").expect("nothing"), None);
        for text in ["ten", "1e300", "inf", "NaN", "--1", "1.2.3", "10 % of it", "9999999999999"] {
            let problem = number("thumb", text).expect_err(text);
            assert_eq!(problem.field.as_deref(), Some("thumb"), "{text}");
        }
        assert_eq!(needed("a", "").expect_err("empty").field.as_deref(), Some("a"));
    }

    #[test]
    fn a_number_shown_is_read_again_as_itself() {
        for value in [0.0, 9.8, -4.0, 12.25, 300.0] {
            assert_eq!(number("a", &plain(value)).expect("a number"), Some(value));
        }
    }
}
