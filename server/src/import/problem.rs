//! What can be wrong with an imported file, with stable codes and the place it was seen.

use analysis::units::{LARGEST_READING_MM, SMALLEST_READING_MM, UnitError};
use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;

use crate::words;

/// What a problem costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[schema(as = Cost)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Nothing of the file can be used.
    FileRefused,
    /// The line is left out.
    LineLeftOut,
    /// The line is used without this cell.
    CellLeftOut,
    /// The column is not used.
    ColumnIgnored,
}

/// Kinds of problem. A value that cannot be read carries the code of the unit reader instead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ProblemCode {
    /// Larger than the limit.
    FileTooLarge,
    /// Neither UTF-8 nor plain ASCII.
    FileNotUtf8,
    /// No header, or a header and nothing under it.
    FileEmpty,
    /// More lines than the limit.
    TooManyLines,
    /// No column for the performer's code.
    NoCodeColumn,
    /// A header that is not known here.
    UnknownColumn,
    /// Two columns for something that can only be given once.
    RepeatedColumn,
    /// A line with more cells than the header.
    TooManyCells,
    /// A performer without a code.
    EmptyCode,
    /// A code that stands on an earlier line as well.
    DuplicateCode,
    /// A text longer than the limit.
    TextTooLong,
    /// A reference that is not known here.
    UnknownReference,
    /// An age that cannot be read.
    BadAge,
    /// A word of consent that is not known here.
    BadConsent,
    /// A measurement that cannot be read.
    BadValue,
}

impl ProblemCode {
    /// Every kind.
    pub const ALL: [ProblemCode; 15] = [
        ProblemCode::FileTooLarge,
        ProblemCode::FileNotUtf8,
        ProblemCode::FileEmpty,
        ProblemCode::TooManyLines,
        ProblemCode::NoCodeColumn,
        ProblemCode::UnknownColumn,
        ProblemCode::RepeatedColumn,
        ProblemCode::TooManyCells,
        ProblemCode::EmptyCode,
        ProblemCode::DuplicateCode,
        ProblemCode::TextTooLong,
        ProblemCode::UnknownReference,
        ProblemCode::BadAge,
        ProblemCode::BadConsent,
        ProblemCode::BadValue,
    ];

    /// Stable code for machines.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            ProblemCode::FileTooLarge => "file_too_large",
            ProblemCode::FileNotUtf8 => "file_not_utf8",
            ProblemCode::FileEmpty => "file_empty",
            ProblemCode::TooManyLines => "too_many_lines",
            ProblemCode::NoCodeColumn => "no_code_column",
            ProblemCode::UnknownColumn => "unknown_column",
            ProblemCode::RepeatedColumn => "repeated_column",
            ProblemCode::TooManyCells => "too_many_cells",
            ProblemCode::EmptyCode => "empty_code",
            ProblemCode::DuplicateCode => "duplicate_code",
            ProblemCode::TextTooLong => "text_too_long",
            ProblemCode::UnknownReference => "unknown_reference",
            ProblemCode::BadAge => "bad_age",
            ProblemCode::BadConsent => "bad_consent",
            ProblemCode::BadValue => "bad_value",
        }
    }

    /// What it costs.
    #[must_use]
    pub fn outcome(self) -> Outcome {
        match self {
            ProblemCode::FileTooLarge
            | ProblemCode::FileNotUtf8
            | ProblemCode::FileEmpty
            | ProblemCode::TooManyLines
            | ProblemCode::NoCodeColumn => Outcome::FileRefused,
            ProblemCode::UnknownColumn | ProblemCode::RepeatedColumn => Outcome::ColumnIgnored,
            ProblemCode::TooManyCells
            | ProblemCode::EmptyCode
            | ProblemCode::DuplicateCode
            | ProblemCode::TextTooLong => Outcome::LineLeftOut,
            ProblemCode::UnknownReference
            | ProblemCode::BadAge
            | ProblemCode::BadConsent
            | ProblemCode::BadValue => Outcome::CellLeftOut,
        }
    }
}

/// One problem, at its place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// Line of the file, from 1; the header is line 1 as a rule.
    pub line: u64,
    /// Header of the column as it stands in the file, where one is concerned.
    pub column: Option<String>,
    /// Stable code: of [`ProblemCode`], or of the unit reader for a value.
    pub code: &'static str,
    /// What it costs.
    pub outcome: Outcome,
    /// Which of the words `error` says what is wrong and what to do: as a rule those of the code.
    pub words: &'static str,
    /// What they quote, by name.
    pub figures: Value,
}

impl Problem {
    pub(super) fn new(code: ProblemCode, line: u64) -> Problem {
        let (code, outcome) = (code.key(), code.outcome());
        Problem { line, column: None, code, outcome, words: code, figures: json!({}) }
    }

    /// Says it with other words than those of the code.
    pub(super) fn in_words(mut self, words: &'static str) -> Problem {
        self.words = words;
        self
    }

    /// Adds what the sentence quotes.
    pub(super) fn with(mut self, name: &str, value: impl Into<Value>) -> Problem {
        self.figures[name] = value.into();
        self
    }

    /// The sentence in the words of a language.
    #[must_use]
    pub fn message(&self, w: &Value) -> String {
        words::error(w, self.words, &self.figures)
    }

    pub(super) fn value(line: u64, error: &UnitError) -> Problem {
        let problem = Problem { code: error.code(), ..Problem::new(ProblemCode::BadValue, line) };
        problem
            .in_words(error.code())
            .with("text", error.text())
            .with("least", SMALLEST_READING_MM)
            .with("most", LARGEST_READING_MM)
    }

    pub(super) fn in_column(mut self, header: &str) -> Problem {
        self.column = Some(header.to_owned());
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_code_is_its_own() {
        let keys: HashSet<_> = ProblemCode::ALL.iter().map(|code| code.key()).collect();
        assert_eq!(keys.len(), ProblemCode::ALL.len());
    }
}
