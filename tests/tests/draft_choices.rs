//! Options of a draft from the command line, in a batch and through the API: one reading, refused
//! at the same place; and a version that is made again to the byte.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::process::{Command, Output};
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use handcall::batch::{BatchOrder, BatchPerformer, DraftInputs, Sink, run};
use handcall::draft_options::DraftForm;
use handcall::export::pdf::Paper;
use handcall::import::fabrics;
use handcall::wanted::Base;
use handcall_tests::place::{Scratch, command, repository};
use handcall_tests::running::Running;
use handcall_tests::workshop::Workshop;
use uuid::Uuid;

const ROSTER: &str = "code,sex,fabric,hand length,hand girth,forearm girth (cm)\n\
                      C1,f,KELP,181,187,25\n\
                      C2,m,SALT,195,214,\n";

fn drafted(folder: &Scratch, options: &[&str]) -> Output {
    let roster = folder.path().join("roster.csv");
    std::fs::write(&roster, ROSTER).expect("written");
    Command::new(command())
        .arg("draft")
        .arg(&roster)
        .arg("--out")
        .arg(folder.path().join("out"))
        .arg("--fabrics")
        .arg(repository().join("demo-data/fabrics.csv"))
        .args(options)
        .output()
        .expect("the command starts")
}

#[test]
fn the_command_drafts_with_options_and_leaves_out_whom_they_cannot_be_drafted_for() {
    let folder = Scratch::new("options");
    let options = ["--cuff", "long", "--height", "200", "--construction", "fourchette"];
    let output = drafted(&folder, &options);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{said}");
    assert!(said.contains("C2: --forearm:"), "{said}");
    let out = folder.path().join("out");
    assert!(out.join("C1-right-v1.pdf").exists() && !out.join("C2-right-v1.pdf").exists());
    let list = std::fs::read_to_string(out.join("cut-list.csv")).expect("a cut list");
    assert!(list.contains("ourchette"), "{list}");
}

#[test]
fn the_command_names_the_option_that_cannot_be() {
    let folder = Scratch::new("options");
    for (options, said) in [
        (["--finish", "mitten"], "--finish:"),
        (["--palm", "-90"], "--palm:"),
        (["--bottom", "sleeve"], "--sleeve:"),
        (["--stitches", "2.5"], "--stitches:"),
    ] {
        let output = drafted(&folder, &options);
        assert!(!output.status.success(), "{options:?}");
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(error.contains(said), "{options:?}: {error}");
    }
    assert!(!folder.path().join("out").exists(), "nothing is written");
}

#[test]
fn a_batch_keeps_its_options_and_page_and_api_draft_the_same_version() {
    let data = Scratch::new("choices");
    let server = Running::start(data.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    let home = desk.add_production("The Reed Organ").expect("added");
    let who = desk.add_performer(&home, "R1").expect("added");
    let api = format!("/api/performers/{who}/draft");
    let refused = desk.client.get(&format!("{api}?side=left&finish=mitten")).expect("answered");
    assert_eq!(refused.status, 422);
    assert_eq!(refused.json()["field"], "finish");
    assert_eq!(refused.json()["code"], "not_on_the_list");

    let token = desk.token.clone();
    let id = Uuid::now_v7().to_string();
    let reading = [
        ("csrf", &*token),
        ("id", &*id),
        ("side", "right"),
        ("step", "hand_length"),
        ("value", "181"),
        ("unit", "mm"),
    ];
    let path = format!("/performers/{who}/measure");
    assert_eq!(desk.client.post_form(&path, &reading).expect("answered").status, 303);
    let batches = format!("/productions/{home}/batches");
    let wrong = [("csrf", &*token), ("cuff", "gauntlet"), ("hem", "900")];
    let answer = desk.client.post_form(&batches, &wrong).expect("answered");
    assert_eq!(answer.status, 422);
    assert!(answer.text().contains("id=\"hem-error\"") && answer.text().contains("value=\"900\""));
    let right = [("csrf", &*token), ("cuff", "gauntlet"), ("hem", "9"), ("gauntlet_length", "80")];
    assert_eq!(desk.client.post_form(&batches, &right).expect("answered").status, 303);

    let drawing = format!("/performers/{who}/draft/right/glove.svg");
    let svg = desk.client.get(&drawing).expect("a drawing");
    let name = svg.header("content-disposition").unwrap_or_default().to_owned();
    assert!(name.contains("R1-right-v1.svg"), "the batch's own version: {name}");
    let state = desk.client.get(&api).expect("answered").json();
    assert_eq!(state["form"]["gauntlet_length"], "80");
    assert_eq!(state["options"]["cuff"]["shape"], "gauntlet");
    let other = desk.client.get(&format!("{drawing}?cuff=wrist")).expect("a drawing");
    let name = other.header("content-disposition").unwrap_or_default().to_owned();
    assert!(name.contains("trial"), "{name}");
    // The batch ends before its folder goes.
    let ends = Instant::now() + Duration::from_secs(60);
    while desk.client.get(&batches).expect("a page").text().contains("data-state=\"running\"") {
        assert!(Instant::now() < ends, "the batch does not end");
        std::thread::sleep(Duration::from_millis(100));
    }
}

#[derive(Default)]
struct Shelf(Vec<(String, Vec<u8>)>);

impl Sink for Shelf {
    fn file(&mut self, name: &str, bytes: &[u8]) -> std::io::Result<()> {
        self.0.push((name.to_owned(), bytes.to_vec()));
        Ok(())
    }
}

fn files(performer: BatchPerformer) -> Vec<(String, Vec<u8>)> {
    let version = ("3", "2026-03-14");
    let order = BatchOrder::of_one_version("The Reed Organ", version, Paper::A4, vec![performer]);
    let mut shelf = Shelf::default();
    let never = AtomicBool::new(false);
    run(&HandModel::published(), &order, &mut shelf, &|_, _| {}, &never).expect("a batch");
    shelf.0
}

#[test]
fn a_version_is_made_again_to_the_byte_from_what_it_kept() {
    let csv = std::fs::read(repository().join("demo-data/fabrics.csv")).expect("fabrics");
    let fabric = fabrics::read(&csv).expect("stretch tests").remove(0);
    let readings = [
        (Side::Left, Dimension::HandGirth, 188.0),
        (Side::Right, Dimension::HandGirth, 190.0),
        (Side::Right, Dimension::HandLength, 183.0),
    ];
    let hands = Hands::from_readings(&readings);
    let filled = HandModel::published().fill(Population::Women, &hands);
    let base = Base::of(Some(&fabric.facts), &filled, Population::Women);
    let form = DraftForm {
        cuff: "long".to_owned(),
        forearm: "251.5".to_owned(),
        closure: "casings".to_owned(),
        hands: "master".to_owned(),
        ..DraftForm::default()
    };
    let wanted = base.wanted(&form).expect("sound");
    let performer = BatchPerformer {
        code: "R1".to_owned(),
        population: Population::Women,
        hands,
        kept_flags: Vec::new(),
        call: String::new(),
        fabric: fabric.name,
        cloth: Some(fabric.facts.clone()),
        options: wanted.options,
        master: wanted.master,
    };
    let kept = DraftInputs::of("The Reed Organ", &performer).text();
    let again = DraftInputs::read(&kept).expect("readable").performer();
    assert_eq!(again.cloth, Some(fabric.facts));
    let (first, second) = (files(performer), files(again));
    assert!(first.len() > 6 && first.iter().any(|(name, _)| name.ends_with(".pdf")));
    assert_eq!(first, second);
}
