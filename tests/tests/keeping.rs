//! Nothing lost, nothing left, by the commands and pages people use: backup while serving, restore
//! on another machine, check, erasure of one performer.

#![expect(clippy::expect_used, clippy::panic, reason = "a test stops at what it did not expect")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use handcall_tests::page::{decoded, forms, links};
use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use serde_json::json;
use uuid::Uuid;

const NAME: &str = "Wilhelmina Unmistakable";
const CODE: &str = "QXZERASE";
/// Stands in whatever is remarked about them.
const REMARK: &str = "Unmistakable remark";
/// A value nobody else has, found in the file as text and as the eight bytes of its number.
const MARKER: &str = "123.4567";

fn handcall(words: &[&str], data: &Path) -> Output {
    let mut call = Command::new(command());
    call.args(words).arg("--data").arg(data);
    call.output().expect("the command runs")
}

fn text(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

fn reading(dimension: &'static str, value: &str) -> Sent {
    Sent { id: Uuid::now_v7(), side: "right", dimension, value: value.to_owned() }
}

/// A production with the performer to be erased and one who stays.
fn house(desk: &mut Workshop) -> (String, String, String) {
    let production = desk.add_production("The Salt Stair").expect("added");
    let fields = [
        ("csrf", desk.token.clone()),
        ("code", CODE.to_owned()),
        ("name", NAME.to_owned()),
        ("population", "women".to_owned()),
    ];
    let fields: Vec<_> = fields.iter().map(|(k, v)| (*k, v.as_str())).collect();
    let path = format!("/productions/{production}/performers");
    desk.client.post_form(&path, &fields).expect("added");
    let erased = desk.performer(&production, CODE).expect("on the board");
    let kept = desk.add_performer(&production, "TW01").expect("added");
    for performer in [&erased, &kept] {
        let readings = [
            reading("hand_length", "181"),
            reading("hand_girth", "186"),
            reading("middle_length", "77"),
        ];
        let answer = desk.post_readings(performer, &readings).expect("posted");
        expect(answer, 200).expect("kept");
    }
    let marked = desk.post_readings(&erased, &[reading("wrist_girth", MARKER)]).expect("posted");
    expect(marked, 200).expect("kept");
    let withdrawn = reading("ring_length", "771");
    desk.post_readings(&erased, std::slice::from_ref(&withdrawn)).expect("posted");
    let facts = json!({ "device": "test", "facts": [
        { "fact": "withdrawal", "performer": erased, "reading": withdrawn.id, "reason": REMARK },
        { "fact": "skip", "performer": erased, "side": "left", "dimension": "wrist_girth",
          "reason": REMARK },
        { "fact": "acceptance", "performer": erased, "flag": "likely_slip.right.ring_length",
          "reason": REMARK },
    ] });
    let kept_facts = desk.client.post_json("/api/facts", &desk.token, &facts).expect("posted");
    expect(kept_facts, 200).expect("kept");
    let fields = [("csrf", desk.token.as_str()), ("days", "2"), ("uses", "2")];
    let link = desk.client.post_form(&format!("/performers/{erased}/home"), &fields);
    expect(link.expect("answered"), 200).expect("a link for home");
    (production, erased, kept)
}

/// Runs a batch to its end, so that files and versions of drafts hold the performer too.
fn draft_everybody(desk: &mut Workshop, production: &str) {
    let path = format!("/productions/{production}/batches");
    let page = desk.client.get(&path).expect("the page").text();
    let form = forms(&page).into_iter().find(|form| form.action == path).expect("the form");
    let started = desk.client.post_form(&path, &form.with("", "")).expect("started");
    assert_eq!(started.status, 303, "{}", started.text());
    for _ in 0..600 {
        let page = desk.client.get(&path).expect("the page").text();
        if !links(&page, "/batches/").iter().any(|link| link.ends_with("/cancel")) {
            assert!(page.contains("gloves.zip"), "the batch failed");
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    panic!("the batch never ended");
}

#[test]
fn a_backup_taken_while_serving_serves_the_same_answers_on_another_machine() {
    let (here, there) = (Scratch::new("here"), Scratch::new("there"));
    let server = Running::start(here.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let (_, _, kept) = house(&mut desk);
    let copy = here.path().join("copy.sqlite");
    let made = handcall(&["backup", &copy.to_string_lossy()], here.path());
    assert!(made.status.success(), "{}", text(&made));
    let again = handcall(&["backup", &copy.to_string_lossy()], here.path());
    assert!(!again.status.success() && text(&again).contains("exists"), "{}", text(&again));
    let in_use = handcall(&["restore", &copy.to_string_lossy()], here.path());
    assert!(!in_use.status.success() && text(&in_use).contains("in use"), "{}", text(&in_use));
    let restored = handcall(&["restore", &copy.to_string_lossy()], there.path());
    assert!(restored.status.success(), "{}", text(&restored));
    let other = Running::start(there.path()).expect("the copy serves");
    let mut far = Workshop::open(&other).expect("signed in");
    for path in [
        format!("/api/performers/{kept}"),
        format!("/performers/{kept}/export.json"),
        format!("/performers/{kept}/draft/right/glove.svg"),
    ] {
        let (a, b) = (desk.client.get(&path).expect("here"), far.client.get(&path).expect("there"));
        assert_eq!((a.status, b.status), (200, 200), "{path}");
        assert!(a.body == b.body, "{path} differs");
    }
    let checked = handcall(&["check"], there.path());
    assert!(checked.status.success() && text(&checked).contains("unbroken"), "{}", text(&checked));
}

#[test]
fn a_database_cut_short_is_told_by_check_and_not_served() {
    let folder = Scratch::new("cut");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    house(&mut desk);
    server.kill().expect("killed");
    let file = folder.path().join("handcall.sqlite");
    let copy = folder.path().join("whole.sqlite");
    let made = handcall(&["backup", &copy.to_string_lossy()], folder.path());
    assert!(made.status.success(), "{}", text(&made));
    let whole = std::fs::read(&copy).expect("read");
    for log in ["handcall.sqlite-wal", "handcall.sqlite-shm"] {
        // It is there or it is not; both are what a crash may leave.
        let _ = std::fs::remove_file(folder.path().join(log));
    }
    std::fs::write(&file, whole.get(..whole.len() / 2).expect("half")).expect("cut");
    let checked = handcall(&["check"], folder.path());
    assert!(!checked.status.success(), "{}", text(&checked));
    assert!(!text(&checked).contains("panicked"), "{}", text(&checked));
    let restored = handcall(&["restore", &copy.to_string_lossy()], folder.path());
    assert!(restored.status.success(), "{}", text(&restored));
    assert!(handcall(&["check"], folder.path()).status.success());
}

#[test]
fn an_erased_performer_is_not_found_in_the_data_folder_and_the_rest_is_whole() {
    let folder = Scratch::new("erase");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let (production, erased, kept) = house(&mut desk);
    draft_everybody(&mut desk, &production);
    let number: f64 = MARKER.parse().expect("a number");
    let needles: [Vec<u8>; 5] =
        [CODE.into(), NAME.into(), REMARK.into(), MARKER.into(), number.to_be_bytes().to_vec()];
    for needle in &needles {
        assert!(found(folder.path(), needle), "the search must find {needle:?} before");
    }
    let wrong = [("csrf", desk.token.as_str()), ("code", "TW01")];
    let path = format!("/performers/{erased}/erase");
    let refused = desk.client.post_form(&path, &wrong).expect("answered");
    assert!((400..500).contains(&refused.status), "the code must be typed: {}", refused.status);
    let right = [("csrf", desk.token.as_str()), ("code", CODE)];
    let done = desk.client.post_form(&path, &right).expect("answered");
    assert!(done.status < 400, "{}: {}", done.status, done.text());
    for needle in &needles {
        assert!(!found(folder.path(), needle), "{needle:?} is still in the data folder");
    }
    assert_eq!(desk.client.get(&format!("/performers/{erased}")).expect("answered").status, 404);
    let held = desk.reading_ids(&kept).expect("exported");
    assert_eq!(held.len(), 3, "the other performer keeps every reading");
    let board = desk.client.get(&format!("/productions/{production}")).expect("answered");
    assert!(board.status == 200 && board.text().contains("TW01"));
    server.kill().expect("killed");
    let checked = handcall(&["check"], folder.path());
    assert!(checked.status.success(), "{}", text(&checked));
}

#[test]
fn a_production_is_erased_by_its_name_and_only_how_many_there_were_is_kept() {
    let folder = Scratch::new("erase-production");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let (production, erased, _) = house(&mut desk);
    let minor = desk.add_minor(&production, "QXMINOR", 9).expect("added");
    desk.consent(&minor, true).expect("recorded");
    let posted = desk.post_readings(&minor, &[reading("hand_length", "140")]).expect("posted");
    expect(posted, 200).expect("kept");
    draft_everybody(&mut desk, &production);
    let other = desk.add_production("The Tin Orchard").expect("added");
    let stays = desk.add_performer(&other, "TO01").expect("added");
    let everything = desk.client.get(&format!("/productions/{production}/export.json"));
    let everything = expect(everything.expect("answered"), 200).expect("exported").json();
    assert_eq!(everything.as_array().map(Vec::len), Some(3), "three performers");
    let table = desk.client.get(&format!("/performers/{erased}/readings.csv")).expect("answered");
    assert_eq!(table.text().lines().count(), 1 + 5, "{}", table.text());

    let path = format!("/productions/{production}/erase");
    for (name, status) in [("The Salt", 422), ("The Salt Stair", 303)] {
        let fields = [("csrf", desk.token.as_str()), ("name", name)];
        let answer = desk.client.post_form(&path, &fields).expect("answered");
        assert_eq!(answer.status, status, "{name}: {}", answer.text());
    }
    for needle in [CODE, NAME, REMARK, MARKER, "QXMINOR"] {
        assert!(!found(folder.path(), needle.as_bytes()), "{needle} is still there");
    }
    let page = desk.client.get("/keeping").expect("answered").text();
    assert!(page.contains("3 performers, 9 readings"), "{page}");
    expect(desk.client.get(&format!("/performers/{stays}")).expect("answered"), 200).expect("kept");
    server.kill().expect("killed");
    assert!(handcall(&["check"], folder.path()).status.success());
}

#[test]
fn a_production_says_until_when_it_is_kept_and_warns_before() {
    let folder = Scratch::new("keep-until");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let path = format!("/productions/{production}/keeping");
    let mut keep = |until: &str| {
        let fields = [("csrf", desk.token.as_str()), ("until", until)];
        let answer = desk.client.post_form(&path, &fields).expect("answered");
        let board = desk.client.get(&format!("/productions/{production}")).expect("answered");
        (answer.status, board.text())
    };
    for wrong in ["", "soon", "2026-02-30", "2026-13-01", "9999-01-01", "-1", "now"] {
        assert_eq!(keep(wrong).0, 422, "{wrong}");
    }
    let (status, board) = keep("2020-02-29");
    assert!(status == 200 && board.contains("To be erased: kept until 29 Feb 2020"), "{board}");
    let today = handcall::store::now_ms() / 86_400_000;
    let year = 1970 + today / 365 + 3;
    let (status, board) = keep(&format!("{year}-01-01"));
    assert!(status == 200 && !board.contains("To be erased"), "{board}");
    assert!(board.contains(&format!("1 Jan {year}")), "{board}");
}

#[test]
fn backups_are_made_by_the_clock_and_the_oldest_give_way() {
    let (folder, copies) = (Scratch::new("clocked"), Scratch::new("clocked-copies"));
    let place = copies.path().to_string_lossy().into_owned();
    let words = ["--backups", &place, "--backup-hours", "0.00005", "--backups-kept", "2"];
    let server = Running::start_with(folder.path(), &words).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let (_, _, kept) = house(&mut desk);
    let names = || {
        let mut names: Vec<String> = files(copies.path())
            .iter()
            .filter_map(|path| path.file_name()?.to_str().map(ToOwned::to_owned))
            .filter(|name| !name.contains("unfinished"))
            .collect();
        names.sort();
        names
    };
    let is_turning = || names().first().is_some_and(|name| !name.ends_with("-000001.sqlite"));
    let mut patience = 0..1200;
    while !is_turning() && patience.next().is_some() {
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    assert!(is_turning(), "{:?}", names());
    let page = decoded(&desk.client.get("/keeping").expect("answered").text());
    assert!(page.contains(&place) && page.contains("handcall-00000"), "{page}");
    let erase = desk.client.get(&format!("/performers/{kept}")).expect("answered").text();
    assert!(erase.contains("Backups of this server hold what is erased now until about"));
    server.kill().expect("killed");
    let all = names();
    assert!((1..=3).contains(&all.len()), "{all:?}");
    let newest = copies.path().join(all.last().expect("a backup"));
    let restored = handcall(&["restore", &newest.to_string_lossy()], folder.path());
    assert!(restored.status.success(), "{}", text(&restored));
    let inside = folder.path().join("inside").to_string_lossy().into_owned();
    let refused = handcall(&["serve", "--port", "0", "--backups", &inside], folder.path());
    assert!(!refused.status.success() && text(&refused).contains("data folder"));
}

/// Whether any file under the folder holds these bytes.
fn found(folder: &Path, needle: &[u8]) -> bool {
    files(folder).iter().any(|file| {
        let bytes = std::fs::read(file).unwrap_or_default();
        bytes.windows(needle.len()).any(|window| window == needle)
    })
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).expect("listed").flatten().map(|entry| entry.path());
    entries.flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] }).collect()
}
