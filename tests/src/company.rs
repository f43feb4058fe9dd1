//! The invented company of `demo-data`, read without the product's own importer, so that a fault
//! there cannot hide itself.

use std::collections::BTreeMap;

use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::Population;
use analysis::units::{Unit, parse};

use crate::place::repository;

/// One performer of the company.
#[derive(Debug, Clone)]
pub struct Performer {
    /// Code, for example "TW01".
    pub code: String,
    /// Which published people the roster names.
    pub population: Population,
    /// Every reading: side, dimension, mm.
    pub readings: Vec<(Side, Dimension, f64)>,
}

impl Performer {
    /// Readings summarised.
    #[must_use]
    pub fn hands(&self) -> Hands {
        Hands::from_readings(&self.readings)
    }
}

/// One value that was typed wrongly on purpose.
#[derive(Debug, Clone)]
pub struct Slip {
    /// Performer.
    pub code: String,
    /// Side.
    pub side: Side,
    /// Dimension.
    pub dimension: Dimension,
    /// Kind, in the words of `planted.csv`.
    pub kind: String,
    /// What should have been typed, mm.
    pub true_mm: f64,
}

/// Everybody, in the order of the roster, repeated readings included.
///
/// # Panics
/// When the files of `demo-data` are not what their README says.
#[must_use]
pub fn performers() -> Vec<Performer> {
    rows("roster.csv").iter().map(performer).collect()
}

/// Every planted slip.
///
/// # Panics
/// When `planted.csv` is not what its README says.
#[must_use]
pub fn planted() -> Vec<Slip> {
    rows("planted.csv")
        .iter()
        .map(|row| Slip {
            code: cell(row, "code").to_owned(),
            side: side(row),
            dimension: dimension(row),
            kind: cell(row, "kind").to_owned(),
            true_mm: mm(cell(row, "true_mm")),
        })
        .collect()
}

type Row = BTreeMap<String, String>;

fn rows(file: &str) -> Vec<Row> {
    let path = repository().join("demo-data").join(file);
    let mut reader = must(csv::Reader::from_path(&path).ok(), file);
    reader.deserialize().map(|row| must(row.ok(), file)).collect()
}

fn performer(row: &Row) -> Performer {
    let mut readings = Vec::new();
    for side in Side::BOTH {
        for dimension in Dimension::ALL {
            let column = format!("{}_{}", side.key(), dimension.key());
            let repeat = row.get(&format!("{column}_2")).map_or("", String::as_str);
            let typed = [cell(row, &column), repeat].into_iter().filter(|text| !text.is_empty());
            readings.extend(typed.map(|text| (side, dimension, mm(text))));
        }
    }
    let population = match cell(row, "reference") {
        "women" => Population::Women,
        "men" => Population::Men,
        _ => Population::Adults,
    };
    Performer { code: cell(row, "code").to_owned(), population, readings }
}

fn cell<'a>(row: &'a Row, column: &str) -> &'a str {
    must(row.get(column).map(String::as_str), column)
}

fn side(row: &Row) -> Side {
    must(Side::from_key(cell(row, "side")), "a side")
}

fn dimension(row: &Row) -> Dimension {
    must(Dimension::from_key(cell(row, "dimension")), "a dimension")
}

fn mm(text: &str) -> f64 {
    must(parse(text, Unit::Mm).ok(), text).mm
}

#[expect(clippy::expect_used, reason = "the demo data are part of the test")]
fn must<T>(value: Option<T>, what: &str) -> T {
    value
        .ok_or_else(|| format!("demo-data: {what} is missing or cannot be read"))
        .expect("demo data")
}
