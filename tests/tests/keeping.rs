//! Nothing lost, nothing left, by the commands and pages people use: backup while serving, restore
//! on another machine, check, a keeping time. Erasure is in `erasure.rs`.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::path::Path;
use std::process::{Command, Output};

use handcall_tests::page::decoded;
use handcall_tests::place::{Scratch, command, files};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use uuid::Uuid;

fn handcall(words: &[&str], data: &Path) -> Output {
    let mut call = Command::new(command());
    call.args(words).arg("--data").arg(data);
    call.output().expect("the command runs")
}

fn text(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

/// A production with two performers, each measured; gives the second.
fn house(desk: &mut Workshop) -> String {
    let production = desk.add_production("The Salt Stair").expect("added");
    desk.add_performer(&production, "TW00").expect("added");
    let second = desk.add_performer(&production, "TW01").expect("added");
    let readings = [("hand_length", "181"), ("hand_girth", "186"), ("middle_length", "77")].map(
        |(dimension, value)| Sent {
            id: Uuid::now_v7(),
            side: "right",
            dimension,
            value: value.to_owned(),
        },
    );
    let answer = desk.post_readings(&second, &readings).expect("posted");
    expect(answer, 200).expect("kept");
    second
}

#[test]
fn a_backup_taken_while_serving_serves_the_same_answers_on_another_machine() {
    let (here, there) = (Scratch::new("here"), Scratch::new("there"));
    let server = Running::start(here.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let kept = house(&mut desk);
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
    let kept = house(&mut desk);
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
