//! A roster as CSV: who is to be gloved and, if the file has them, their measurements.

use std::collections::HashSet;

use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::Population;
use analysis::reference::Sex;
use analysis::reference::children::{OLDEST, YOUNGEST};
use analysis::units::{self, Unit};
use csv::StringRecord;

use super::header::Column;
use super::problem::{Problem, ProblemCode};
use crate::calls::LONGEST_CALL;
use crate::draft_options::DraftForm;
use crate::store::consent::MANNERS;
use crate::typed;

/// Largest file that is read, bytes (assumed: a thousand performers with 50 readings each are
/// about 300 kB).
pub const LARGEST_FILE_BYTES: usize = 4_000_000;

/// Most performers in one file (assumed: ten times a large cast).
pub const MOST_LINES: usize = 5_000;

/// Longest code, characters, the same as in the form: it stands on every piece and in file names.
pub const LONGEST_CODE: usize = 20;

/// Longest name, fabric or note, characters.
pub const LONGEST_TEXT: usize = 200;

/// A reading of a roster, with what the store keeps of it.
#[derive(Debug, Clone, PartialEq)]
pub struct RosterReading {
    /// Which hand.
    pub side: Side,
    /// What was measured.
    pub dimension: Dimension,
    /// The cell as it stands in the file.
    pub typed: String,
    /// Its unit.
    pub unit: Unit,
    /// Its value, mm.
    pub mm: f64,
}

/// A performer of a roster.
#[derive(Debug, Clone, PartialEq)]
pub struct RosterRow {
    /// Line of the file.
    pub line: u64,
    /// Code, not empty and unlike every other in the file.
    pub code: String,
    /// Name, or empty.
    pub name: String,
    /// Which published people to compare with, if stated.
    pub population: Option<Population>,
    /// Age in years, if stated.
    pub age: Option<f64>,
    /// How a minor's guardian agreed, by its key, if stated.
    pub consent: Option<String>,
    /// Name of the fabric, or empty.
    pub fabric: String,
    /// Who they are called with, or empty.
    pub call: String,
    /// Note, or empty.
    pub note: String,
    /// Girths of the forearm at the height of a long glove and half way up to it, mm.
    pub forearm_mm: [Option<f64>; 2],
    /// Readings in the order of the columns.
    pub readings: Vec<RosterReading>,
}

impl RosterRow {
    /// What the row chooses for its drafts.
    #[must_use]
    pub fn choices(&self) -> DraftForm {
        let [forearm, forearm_half] =
            self.forearm_mm.map(|mm| mm.map(typed::plain).unwrap_or_default());
        DraftForm { forearm, forearm_half, ..DraftForm::default() }
    }

    /// The readings as hands.
    #[must_use]
    pub fn hands(&self) -> Hands {
        let readings: Vec<_> = self.readings.iter().map(|r| (r.side, r.dimension, r.mm)).collect();
        Hands::from_readings(&readings)
    }
}

/// A roster as read, before anything is stored.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RosterPreview {
    /// Headers as they stand in the file, with what was made of them.
    pub columns: Vec<(String, Column)>,
    /// The performers that can be used.
    pub rows: Vec<RosterRow>,
    /// Everything that cannot be used, by line.
    pub problems: Vec<Problem>,
}

/// Reads a roster. `default_unit` counts for a value with no unit in its cell or header. The
/// separator may be comma, semicolon or tab.
#[must_use]
pub fn read(bytes: &[u8], default_unit: Unit) -> RosterPreview {
    match read_table(bytes) {
        Ok((headers, records)) => read_records(headers, &records, default_unit),
        Err(problem) => RosterPreview { problems: vec![problem], ..RosterPreview::default() },
    }
}

type Table = ((u64, StringRecord), Vec<(u64, StringRecord)>);

fn read_table(bytes: &[u8]) -> Result<Table, Problem> {
    if bytes.len() > LARGEST_FILE_BYTES {
        let problem = Problem::new(ProblemCode::FileTooLarge, 1);
        return Err(problem.with("most", LARGEST_FILE_BYTES / 1_000_000));
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.trim_start_matches('\u{feff}'),
        Err(error) => {
            let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let line = 1 + before.iter().filter(|byte| **byte == b'\n').count() as u64;
            return Err(Problem::new(ProblemCode::FileNotUtf8, line));
        }
    };
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .delimiter(delimiter(text))
        .from_reader(text.as_bytes());
    let mut records = Vec::new();
    for record in reader.records() {
        let Ok(record) = record else { continue };
        if record.iter().all(str::is_empty) {
            continue;
        }
        if records.len() > MOST_LINES {
            let problem = Problem::new(ProblemCode::TooManyLines, line_of(&record));
            return Err(problem.with("most", MOST_LINES));
        }
        records.push((line_of(&record), record));
    }
    if records.len() < 2 {
        return Err(Problem::new(ProblemCode::FileEmpty, 1));
    }
    let header = records.remove(0);
    Ok((header, records))
}

fn line_of(record: &StringRecord) -> u64 {
    record.position().map_or(1, csv::Position::line)
}

/// The separator that the first line holds most of.
fn delimiter(text: &str) -> u8 {
    let header = text.trim_start().lines().next().unwrap_or_default();
    let count = |separator: u8| header.bytes().filter(|byte| *byte == separator).count();
    // `max_by_key` takes the last of equals: the comma.
    [b'\t', b';', b','].into_iter().max_by_key(|separator| count(*separator)).unwrap_or(b',')
}

fn read_records(
    (header_line, headers): (u64, StringRecord),
    records: &[(u64, StringRecord)],
    default_unit: Unit,
) -> RosterPreview {
    let mut preview = RosterPreview::default();
    for header in &headers {
        let mut column = Column::from_header(header);
        let may_repeat = matches!(column, Column::Name | Column::Reading(..) | Column::Unknown);
        let problem = if column == Column::Unknown {
            // A header may be empty when its column is.
            (!header.is_empty()).then(|| Problem::new(ProblemCode::UnknownColumn, header_line))
        } else if !may_repeat && preview.columns.iter().any(|(_, seen)| *seen == column) {
            column = Column::Unknown;
            Some(Problem::new(ProblemCode::RepeatedColumn, header_line))
        } else {
            None
        };
        preview.problems.extend(problem.map(|problem| problem.in_column(header)));
        preview.columns.push((header.to_owned(), column));
    }
    if !preview.columns.iter().any(|(_, column)| *column == Column::Code) {
        preview.problems.insert(0, Problem::new(ProblemCode::NoCodeColumn, header_line));
        return preview;
    }
    let mut seen = HashSet::new();
    for (line, record) in records {
        let (row, problems) = read_row(&preview.columns, *line, record, default_unit);
        preview.problems.extend(problems);
        let Some(row) = row else { continue };
        if seen.insert(row.code.to_lowercase()) {
            preview.rows.push(row);
        } else {
            let problem = Problem::new(ProblemCode::DuplicateCode, *line);
            preview.problems.push(problem.with("code", row.code));
        }
    }
    preview
}

/// One line; no row when it is left out.
fn read_row(
    columns: &[(String, Column)],
    line: u64,
    record: &StringRecord,
    default_unit: Unit,
) -> (Option<RosterRow>, Vec<Problem>) {
    let mut problems = Vec::new();
    if record.iter().skip(columns.len()).any(|cell| !cell.is_empty()) {
        let problem = Problem::new(ProblemCode::TooManyCells, line);
        return (None, vec![problem.with("cells", record.len()).with("headers", columns.len())]);
    }
    let mut row = RosterRow {
        line,
        code: String::new(),
        name: String::new(),
        population: None,
        age: None,
        consent: None,
        fabric: String::new(),
        call: String::new(),
        note: String::new(),
        forearm_mm: [None; 2],
        readings: Vec::new(),
    };
    let mut reference: Option<(&str, &str)> = None;
    for ((header, column), cell) in columns.iter().zip(record) {
        if cell.is_empty() {
            continue;
        }
        let result = match *column {
            Column::Code => text(cell, LONGEST_CODE, line).map(|text| row.code = text),
            Column::Name => text(cell, LONGEST_TEXT, line).map(|text| {
                row.name = [row.name.as_str(), &text].join(" ").trim().to_owned();
            }),
            Column::Fabric => text(cell, LONGEST_TEXT, line).map(|text| row.fabric = text),
            Column::Call => text(cell, LONGEST_CALL, line).map(|text| row.call = text),
            Column::Note => text(cell, LONGEST_TEXT, line).map(|text| row.note = text),
            Column::Reference => {
                reference = Some((header, cell));
                Ok(())
            }
            Column::Age => age(cell, line).map(|age| row.age = Some(age)),
            Column::Consent => consent(cell, line).map(|manner| row.consent = Some(manner)),
            Column::Reading(side, dimension, unit) => {
                match units::parse(cell, unit.unwrap_or(default_unit)) {
                    Ok(value) => {
                        let (typed, unit, mm) = (cell.to_owned(), value.unit, value.mm);
                        row.readings.push(RosterReading { side, dimension, typed, unit, mm });
                        Ok(())
                    }
                    Err(error) => Err(Problem::value(line, &error)),
                }
            }
            Column::Forearm(unit) => girth(cell, unit.unwrap_or(default_unit), line)
                .map(|mm| row.forearm_mm[0] = Some(mm)),
            Column::ForearmHalf(unit) => girth(cell, unit.unwrap_or(default_unit), line)
                .map(|mm| row.forearm_mm[1] = Some(mm)),
            Column::Unknown => Ok(()),
        };
        problems.extend(result.err().map(|problem| problem.in_column(header)));
    }
    let (header, cell) = reference.unwrap_or(("age", ""));
    match population_of(cell, row.age) {
        Ok(population) => row.population = population,
        Err(words) => problems.push(
            Problem::new(ProblemCode::UnknownReference, line)
                .in_words(words)
                .with("youngest", YOUNGEST)
                .in_column(header),
        ),
    }
    let is_left_out = problems.iter().any(|p| p.code == ProblemCode::TextTooLong.key());
    if row.code.is_empty() && !is_left_out {
        problems.push(Problem::new(ProblemCode::EmptyCode, line));
        return (None, problems);
    }
    ((!is_left_out).then_some(row), problems)
}

/// A girth that is no dimension of the hand, mm.
fn girth(cell: &str, unit: Unit, line: u64) -> Result<f64, Problem> {
    units::parse(cell, unit).map(|value| value.mm).map_err(|error| Problem::value(line, &error))
}

/// A text within its limit; control characters become spaces.
fn text(cell: &str, longest: usize, line: u64) -> Result<String, Problem> {
    if cell.chars().count() > longest {
        return Err(Problem::new(ProblemCode::TextTooLong, line).with("most", longest));
    }
    Ok(cell.replace(char::is_control, " ").trim().to_owned())
}

/// The published people meant by a word or key and an age; under 18 the children of that age. What
/// cannot be meant is refused with the words that say why.
fn population_of(cell: &str, age: Option<f64>) -> Result<Option<Population>, &'static str> {
    let cell = cell.to_lowercase();
    if cell.is_empty() && age.is_none() {
        return Ok(None);
    }
    if let Some(population) = Population::from_key(&cell)
        && age.is_none()
    {
        return Ok(Some(population));
    }
    let word = cell.split('_').next().unwrap_or_default();
    let (sex, is_child) = match word {
        "women" | "woman" | "female" | "f" | "w" => (Some(Sex::Female), false),
        "men" | "man" | "male" | "m" => (Some(Sex::Male), false),
        "adults" | "adult" | "unspecified" | "not specified" | "x" | "-" | "" => (None, false),
        "girl" => (Some(Sex::Female), true),
        "boy" => (Some(Sex::Male), true),
        "child" => (None, true),
        _ => return Err("unknown_reference"),
    };
    let adults = match sex {
        Some(Sex::Female) => Population::Women,
        Some(Sex::Male) => Population::Men,
        None => Population::Adults,
    };
    match age {
        None if is_child => Err("reference_needs_age"),
        None => Ok(Some(adults)),
        Some(years) if years < f64::from(YOUNGEST) => Err("reference_too_young"),
        Some(years) if years < f64::from(OLDEST) + 1.0 => {
            Ok(Some(Population::Child { age_years: years as u8, sex }))
        }
        Some(_) => Ok(Some(adults)),
    }
}

fn consent(cell: &str, line: u64) -> Result<String, Problem> {
    let word = cell.to_lowercase();
    MANNERS
        .into_iter()
        .find(|known| *known == word)
        .map(str::to_owned)
        .ok_or_else(|| Problem::new(ProblemCode::BadConsent, line))
}

fn age(cell: &str, line: u64) -> Result<f64, Problem> {
    /// No age above this is taken, years (assumed).
    const OLDEST: f64 = 120.0;
    match cell.replace(',', ".").parse::<f64>() {
        Ok(years) if years > 0.0 && years <= OLDEST => Ok(years),
        _ => Err(Problem::new(ProblemCode::BadAge, line).with("most", OLDEST)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn codes(preview: &RosterPreview) -> Vec<(u64, Option<&str>, &str)> {
        preview.problems.iter().map(|p| (p.line, p.column.as_deref(), p.code)).collect()
    }

    #[test]
    fn separators_byte_order_marks_and_decimal_commas_are_understood() {
        for text in [
            "Code,Name,left_hand_length (cm),Hand Girth\nA1,Zo\u{eb},\"19,4\",201\n",
            "\u{feff}Code;Name;left_hand_length (cm);Hand Girth\r\nA1;Zo\u{eb};19,4;201\r\n",
            "code\tname\tHand length left [cm]\thand_girth\n\nA1\tZo\u{eb}\t19.4\t201 mm\n",
        ] {
            let preview = read(text.as_bytes(), Unit::Mm);
            assert_eq!(codes(&preview), vec![], "{text}");
            let row = preview.rows.first().expect("one performer");
            assert_eq!((row.code.as_str(), row.name.as_str()), ("A1", "Zo\u{eb}"));
            let values: Vec<_> =
                row.readings.iter().map(|r| (r.side, r.dimension, r.unit, r.mm)).collect();
            assert_eq!(
                values,
                vec![
                    (Side::Left, Dimension::HandLength, Unit::Cm, 194.0),
                    (Side::Right, Dimension::HandGirth, Unit::Mm, 201.0),
                ]
            );
        }
    }

    #[test]
    fn every_problem_is_named_at_its_place_and_the_rest_is_kept() {
        let text = "code,name,shoe size,code,age,sex,hand_length\n\
                    A1,Ada,38,zz,30,female,190\n\
                    ,Nobody,38,,,,\n\
                    a1,Again,,,,,\n\
                    A2,Bo,,,old,robot,7 3/8 ft\n\
                    A3,Cy,,,,,-5,extra\n\
                    A4,Di,,,,M,\n";
        let preview = read(text.as_bytes(), Unit::Mm);
        assert_eq!(
            codes(&preview),
            vec![
                (1, Some("shoe size"), "unknown_column"),
                (1, Some("code"), "repeated_column"),
                (3, None, "empty_code"),
                (4, None, "duplicate_code"),
                (5, Some("age"), "bad_age"),
                (5, Some("hand_length"), "unit_unknown"),
                (5, Some("sex"), "unknown_reference"),
                (6, None, "too_many_cells"),
            ]
        );
        let kept: Vec<&str> = preview.rows.iter().map(|row| row.code.as_str()).collect();
        assert_eq!(kept, ["A1", "A2", "A4"]);
        assert_eq!(preview.rows.first().and_then(|row| row.population), Some(Population::Women));
    }

    #[test]
    fn files_that_cannot_be_used_say_why() {
        let too_many = format!("code\n{}", "x\n".repeat(MOST_LINES + 1));
        for (bytes, code) in [
            (&b""[..], "file_empty"),
            (b"\n\n , ,\n", "file_empty"),
            (b"code,name\n", "file_empty"),
            (b"name,hand_length\nAda,190\n", "no_code_column"),
            (b"code\nA\nB\xff\xfe\n", "file_not_utf8"),
            (too_many.as_bytes(), "too_many_lines"),
            (&vec![b'a'; LARGEST_FILE_BYTES + 1], "file_too_large"),
        ] {
            let preview = read(bytes, Unit::Mm);
            assert_eq!(preview.problems.first().map(|p| p.code), Some(code));
            assert!(preview.rows.is_empty());
        }
        let not_utf8 = read(b"code\nA\nB\xff\xfe\n", Unit::Mm);
        assert_eq!(not_utf8.problems.first().map(|p| p.line), Some(3));
        let long = format!("code\n{}\n", "x".repeat(LONGEST_CODE + 1));
        assert_eq!(codes(&read(long.as_bytes(), Unit::Mm)), [(2, Some("code"), "text_too_long")]);
    }

    #[test]
    fn the_reference_follows_word_and_age() {
        for (sex, age, key) in [
            ("female", "", Some("women")),
            ("M", "40", Some("men")),
            ("", "", None),
            ("", "12", Some("child_12")),
            ("girl", "9,5", Some("girl_9")),
            ("boy_7", "", Some("boy_7")),
            ("m", "17.9", Some("boy_17")),
            ("x", "18", Some("adults")),
        ] {
            let text = format!("code;sex;age\nA;{sex};{age}\n");
            let preview = read(text.as_bytes(), Unit::Mm);
            assert_eq!(codes(&preview), [], "{text}");
            let population = preview.rows.first().and_then(|row| row.population);
            assert_eq!(population.map(Population::key).as_deref(), key, "{text}");
        }
        for (sex, age) in [("girl", ""), ("robot", ""), ("m", "2")] {
            let preview = read(format!("code,sex,age\nA,{sex},{age}\n").as_bytes(), Unit::Mm);
            assert_eq!(codes(&preview), [(2, Some("sex"), "unknown_reference")]);
        }
    }

    #[test]
    fn a_reading_given_twice_is_a_repeated_reading() {
        let preview = read(b"code,hand_length,hand_length 2\nA,190,194\n", Unit::Mm);
        let hands = preview.rows.first().expect("one performer").hands();
        let summary = hands.right[Dimension::HandLength].expect("two readings");
        assert_eq!((summary.count, summary.median_mm), (2, 192.0));
    }

    proptest! {
        #[test]
        fn no_bytes_panic_and_codes_stay_unlike(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            let preview = read(&bytes, Unit::Mm);
            let codes: HashSet<_> = preview.rows.iter().map(|row| row.code.to_lowercase()).collect();
            prop_assert_eq!(codes.len(), preview.rows.len());
        }

        #[test]
        fn no_table_panics(text in "(code|left hand length|sex|[,;\"\n]|[a-z0-9 ]{1,4}){0,60}") {
            let preview = read(text.as_bytes(), Unit::Cm);
            prop_assert!(!preview.rows.is_empty() || !preview.problems.is_empty());
        }
    }
}
