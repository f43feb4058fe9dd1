//! Real hands to drafts: the first 100 records of the 2012 survey half (ANSUR II, Gordon et al.
//! 2014, NATICK/TR-15/007), five measured dimensions each, through the command line and through
//! the library. The records are read where they lie and never copied; without them the test says
//! that it was skipped.

use std::collections::HashMap;
use std::process::Command;

use analysis::draft::{GloveOptions, draft};
use analysis::hand::Side;
use analysis::model::HandModel;
use analysis::reference::Sex;
use analysis::units::Unit;
use handcall::import::roster;
use handcall_tests::place::{Scratch, command, survey};

/// Records used.
const RECORDS: usize = 100;

/// A roster with the five dimensions as measured; palm length goes from the survey's definition to
/// ours, since its crease lies nearer the finger tip.
#[expect(clippy::expect_used, reason = "a test cannot go on without its records")]
fn roster_of_the_survey(path: &std::path::Path) -> String {
    let mut reader = csv::Reader::from_path(path).expect("the records open");
    let headers = reader.headers().expect("headers").clone();
    let column: HashMap<&str, usize> = headers.iter().enumerate().map(|(i, h)| (h, i)).collect();
    let model = HandModel::published();
    let mut text =
        "code;sex;Hand length (mm);Palm_length;hand breadth;HAND CIRCUMFERENCE;Wrist circumference\n"
            .to_owned();
    for record in reader.records().take(RECORDS) {
        let record = record.expect("a record");
        let cell = |name: &str| &record[column[name]];
        let sex = if cell("sex") == "F" { Sex::Female } else { Sex::Male };
        let survey_palm: f64 = cell("palm_length_mm").parse().expect("a number");
        let palm = model.adult(sex).palm_from_survey(survey_palm);
        text += &format!(
            "S{};{};{};{palm:.1};{};{};{}\n",
            cell("subject"),
            cell("sex"),
            cell("hand_length_mm"),
            cell("hand_breadth_mm"),
            cell("hand_circumference_mm"),
            cell("wrist_circumference_mm"),
        );
    }
    text
}

#[test]
fn a_hundred_surveyed_people_get_two_hundred_drafts_whose_invariants_hold() {
    let Some(path) = survey("ansur2-2012-half.csv") else { return };
    let text = roster_of_the_survey(&path);
    let preview = roster::read(text.as_bytes(), Unit::Mm);
    assert_eq!(preview.problems, []);
    assert_eq!(preview.rows.len(), RECORDS);
    let model = HandModel::published();
    let mut failed = Vec::new();
    for row in &preview.rows {
        assert_eq!(row.readings.len(), 5);
        let population = row.population.expect("the survey states the sex");
        let filled = model.fill(population, &row.hands());
        for side in Side::BOTH {
            match draft(filled.side(side), side, &GloveOptions::default()) {
                Ok(glove) => {
                    let broken = glove.check();
                    if !broken.is_empty() {
                        failed.push(format!("{} {}: {broken:?}", row.code, side.key()));
                    }
                }
                Err(error) => failed.push(format!("{} {}: {error}", row.code, side.key())),
            }
        }
    }
    assert!(failed.is_empty(), "{} of 200: {failed:#?}", failed.len());
}

#[test]
fn the_command_drafts_a_hundred_surveyed_people() {
    let Some(path) = survey("ansur2-2012-half.csv") else { return };
    let folder = Scratch::new("survey-draft");
    let roster = folder.path().join("roster.csv");
    std::fs::write(&roster, roster_of_the_survey(&path)).expect("written");
    let out = folder.path().join("drafts");
    let run = Command::new(command())
        .args(["draft".as_ref(), roster.as_os_str(), "--out".as_ref(), out.as_os_str()])
        .output()
        .expect("the command starts");
    let table = String::from_utf8(run.stdout).expect("UTF-8");
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let count = |extension: &str| {
        let files = std::fs::read_dir(&out).expect("the folder is there");
        files
            .filter(|f| {
                f.as_ref().is_ok_and(|f| f.path().extension().is_some_and(|e| e == extension))
            })
            .count()
    };
    let missing: Vec<&str> = table.lines().skip(1).filter(|line| !line.ends_with(".pdf")).collect();
    assert_eq!(count("pdf"), 2 * RECORDS + 3, "{missing:#?}");
    assert_eq!(count("svg"), 2 * RECORDS);
    assert_eq!(table.lines().filter(|line| line.ends_with(".pdf")).count(), 2 * RECORDS);
    let left_over = std::fs::read_dir(&out).expect("the folder is there");
    assert_eq!(left_over.count(), 6 * RECORDS + 7, "and the lists beside them");
}
