//! The README's first command, as far as it goes without a browser: the company is drafted into a
//! folder and listed; a second run changes nothing that was entered.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use handcall_tests::company;
use handcall_tests::place::{Scratch, command};

fn demo(data: &Path) -> String {
    let output = Command::new(command())
        .args(["demo", "--no-serve", "--data"])
        .arg(data)
        .output()
        .expect("the command runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    std::fs::read_dir(folder)
        .expect("the folder of drafts")
        .flatten()
        .map(|file| {
            let name = file.file_name().to_string_lossy().into_owned();
            (name, std::fs::read(file.path()).expect("read"))
        })
        .collect()
}

#[test]
fn the_demo_lists_every_glove_and_writes_its_draft_and_the_cut_list() {
    let folder = Scratch::new("demo");
    let table = demo(folder.path());
    let drafts = files(&folder.path().join("drafts"));
    for word in ["performer", "measured", "estimated", "flags", "draft"] {
        assert!(table.contains(word), "no column {word}:\n{table}");
    }
    let planted: Vec<_> = company::planted().into_iter().map(|slip| slip.code).collect();
    for performer in company::performers() {
        let lines: Vec<_> =
            table.lines().filter(|line| line.starts_with(&performer.code)).collect();
        assert_eq!(lines.len(), 2, "both gloves of {}:\n{table}", performer.code);
        // Clean hands are drafted, every one; a slip may leave a hand without a draft until it is
        // mended, and then the line says why.
        for line in lines {
            let file = line.split_whitespace().last().unwrap_or_default();
            let is_drafted = drafts.get(file).is_some_and(|bytes| bytes.starts_with(b"%PDF-"));
            assert!(is_drafted || planted.contains(&performer.code), "{line}");
            assert!(is_drafted || line.contains("none"), "{line}");
        }
    }
    for list in ["cut-list.csv", "attention.csv"] {
        assert!(drafts.get(list).is_some_and(|bytes| bytes.len() > 100), "{list}");
    }
    // Names stay off everything that leaves the program.
    for (name, bytes) in &drafts {
        for person in ["Calloway", "Oyelaran", "Whitcombe"] {
            assert!(!name.contains(person));
            assert!(!bytes.windows(person.len()).any(|w| w == person.as_bytes()), "{name}");
        }
    }
}

#[test]
fn a_second_demo_finds_the_first_and_writes_the_same_drafts() {
    let folder = Scratch::new("demo-twice");
    let first = demo(folder.path());
    let before = files(&folder.path().join("drafts"));
    let second = demo(folder.path());
    let after = files(&folder.path().join("drafts"));
    assert!(!first.contains("here already") && second.contains("here already"), "{second}");
    assert!(before == after, "the same readings must make the same bytes");
}
