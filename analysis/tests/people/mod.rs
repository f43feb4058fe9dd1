//! Survey people, read where they lie: outside the project, and never copied into it.
#![allow(dead_code, reason = "each test file uses a part")]

use std::collections::HashMap;
use std::path::PathBuf;

use analysis::dimension::Dimension::{self, *};
use analysis::reference::Sex;

/// Dimensions the 2012 survey has in common with ours, palm length in its own definition.
pub const FIVE: [Dimension; 5] = [HandLength, PalmLength, HandBreadth, HandGirth, WristGirth];

/// One adult of the survey.
#[derive(Debug, Clone)]
pub struct Person {
    pub subject: u64,
    pub sex: Sex,
    /// Values in the order of [`FIVE`], mm.
    pub mm: [f64; 5],
}

/// Rows of a table by column name; `None`, with a word about it, where the file is absent.
pub fn table(file: &str) -> Option<Vec<HashMap<String, String>>> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../shared/reference/people");
    let Ok(text) = std::fs::read_to_string(folder.join(file)) else {
        println!("skipped: ../shared/reference/people/{file} is not there");
        return None;
    };
    let mut lines = text.lines().map(|line| line.split(',').map(str::to_owned));
    let header: Vec<String> = lines.next()?.collect();
    Some(lines.map(|row| header.iter().cloned().zip(row).collect()).collect())
}

/// The adults of the survey half.
pub fn adults() -> Option<Vec<Person>> {
    let columns = [
        "hand_length_mm",
        "palm_length_mm",
        "hand_breadth_mm",
        "hand_circumference_mm",
        "wrist_circumference_mm",
    ];
    let person = |row: HashMap<String, String>| {
        let number = |name: &str| row.get(name)?.parse::<f64>().ok();
        let mut mm = [0.0; 5];
        for (value, name) in mm.iter_mut().zip(columns) {
            *value = number(name)?;
        }
        let sex = if row.get("sex")? == "F" { Sex::Female } else { Sex::Male };
        Some(Person { subject: row.get("subject")?.parse().ok()?, sex, mm })
    };
    Some(table("ansur2-2012-half.csv")?.into_iter().filter_map(person).collect())
}
