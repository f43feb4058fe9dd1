//! Real people through the real command: `handcall draft` on the first 100 records of the 2012
//! survey (Gordon et al. 2014, NATICK/TR-15/007; five measured dimensions each) gives 200 drafts,
//! with every invariant of a draft. The records stay outside the repository; where they are absent
//! the test says that it was skipped.
//!
//! The survey's palm length has another definition than ours (Hsiao 2015); it is converted as the
//! model states.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use analysis::draft::{GloveOptions, draft};
use analysis::hand::Side;
use analysis::model::HandModel;
use analysis::reference::Sex;
use analysis::tolerance::SEAM_AGREEMENT_MM;
use analysis::units::Unit;
use handcall::import::roster;
use handcall_tests::place::{Scratch, command, survey};

const PEOPLE: usize = 100;

/// A roster of the first records: five dimensions of the right hand.
fn roster_of(file: &Path) -> String {
    let model = HandModel::published();
    let mut reader = csv::Reader::from_path(file).expect("the survey file");
    let mut out =
        "code,reference,hand_length,palm_length,hand_breadth,hand_girth,wrist_girth\n".to_owned();
    for row in reader.deserialize::<BTreeMap<String, String>>().take(PEOPLE) {
        let row = row.expect("a record");
        let mm = |column: &str| row[column].parse::<f64>().expect("a number");
        let (reference, sex) = match row["sex"].as_str() {
            "F" => ("women", Sex::Female),
            _ => ("men", Sex::Male),
        };
        let palm = model.adult(sex).palm_from_survey(mm("palm_length_mm"));
        out += &format!(
            "P{},{reference},{},{palm:.1},{},{},{}\n",
            row["subject"],
            mm("hand_length_mm"),
            mm("hand_breadth_mm"),
            mm("hand_circumference_mm"),
            mm("wrist_circumference_mm"),
        );
    }
    out
}

#[test]
fn a_hundred_survey_people_give_two_hundred_drafts() {
    let Some(file) = survey("ansur2-2012-half.csv") else { return };
    let folder = Scratch::new("survey");
    let roster = folder.path().join("roster.csv");
    std::fs::write(&roster, roster_of(&file)).expect("written");
    let out = folder.path().join("drafts");
    let run = Command::new(command())
        .arg("draft")
        .arg(&roster)
        .arg("--out")
        .arg(&out)
        .output()
        .expect("the command runs");
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let names: Vec<String> = std::fs::read_dir(&out)
        .expect("the folder of drafts")
        .flatten()
        .map(|file| file.file_name().to_string_lossy().into_owned())
        .collect();
    for ending in [".pdf", ".svg"] {
        let count = names.iter().filter(|name| name.ends_with(ending)).count();
        let table = String::from_utf8_lossy(&run.stdout);
        let missing: Vec<_> = table.lines().filter(|line| line.contains("none,")).collect();
        assert_eq!(count, 2 * PEOPLE, "{ending}: {missing:#?}");
    }
    let list = std::fs::read_to_string(out.join("cut-list.csv")).expect("the cut list");
    assert!(list.lines().count() > 2 * PEOPLE, "a line for each piece");
}

#[test]
fn every_draft_of_a_survey_person_keeps_the_invariants() {
    let Some(file) = survey("ansur2-2012-half.csv") else { return };
    let model = HandModel::published();
    let people = roster::read(roster_of(&file).as_bytes(), Unit::Mm).rows;
    assert_eq!(people.len(), PEOPLE);
    for person in people {
        let population = person.population.expect("stated");
        let filled = model.fill(population, &person.hands());
        for side in Side::BOTH {
            let place = format!("{} {}", person.code, side.key());
            let glove = draft(filled.side(side), side, &GloveOptions::default())
                .unwrap_or_else(|error| panic!("{place}: {error}"));
            for seam in &glove.seams {
                let apart = (seam.first_mm - seam.second_mm).abs();
                assert!(apart <= SEAM_AGREEMENT_MM, "{place}: {} by {apart} mm", seam.name);
            }
            for piece in &glove.pieces {
                let bounds = piece.bounds();
                assert!(bounds.is_finite() && bounds.width() < 400.0 && bounds.height() < 400.0);
                let labels: Vec<_> =
                    piece.notches.iter().map(|notch| notch.label.clone()).collect();
                assert!(!piece.lines.is_empty(), "{place}: {} has no line", piece.name);
                assert!(piece.notches.iter().all(|n| n.at.is_finite()), "{place}: {labels:?}");
            }
        }
    }
}
