//! What may be wrong with the machine: a folder that cannot be written, a clock set back, a database
//! cut short or of a newer program. Each is said in plain words and loses nothing.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::collections::BTreeSet;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::{Duration, SystemTime};

use handcall::store::{Conn, check};
use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use uuid::Uuid;

fn reading(at: usize) -> Sent {
    let value = (150 + at % 60).to_string();
    Sent { id: Uuid::now_v7(), side: "left", dimension: "hand_length", value }
}

/// A house with a performer and some readings, closed again.
fn closed_house(data: &Path) -> (String, BTreeSet<Uuid>) {
    let server = Running::start(data).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let performer = desk.add_performer(&production, "TW01").expect("added");
    let readings: Vec<Sent> = (0..20).map(reading).collect();
    expect(desk.post_readings(&performer, &readings).expect("posted"), 200).expect("kept");
    server.kill().expect("killed");
    (performer, readings.iter().map(|reading| reading.id).collect())
}

fn held(data: &Path, performer: &str) -> BTreeSet<Uuid> {
    let server = Running::start(data).expect("it starts again");
    let mut desk = Workshop::open(&server).expect("signed in");
    desk.reading_ids(performer).expect("read").into_iter().collect()
}

fn said(output: &Output) -> String {
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(!said.contains("panicked"), "{said}");
    said
}

fn serve(data: &Path) -> Output {
    Command::new(command())
        .args(["serve", "--port", "0", "--data"])
        .arg(data)
        .output()
        .expect("the command runs")
}

#[test]
fn a_folder_that_cannot_be_written_is_named_and_nothing_is_served() {
    let folder = Scratch::new("read-only");
    let data = folder.path().join("data");
    let (performer, kept) = closed_house(&data);
    let allow = |mode| {
        std::fs::set_permissions(&data, PermissionsExt::from_mode(mode)).expect("set");
        for entry in std::fs::read_dir(&data).expect("listed").flatten() {
            let file_mode = if entry.path().is_dir() { mode } else { mode & 0o666 };
            let to = PermissionsExt::from_mode(file_mode);
            std::fs::set_permissions(entry.path(), to).expect("set");
        }
    };
    allow(0o555);
    // The superuser is held back by no mode: without that capability it is.
    let output = Command::new("setpriv")
        .args(["--bounding-set=-dac_override", "--inh-caps=-dac_override"])
        .arg(command())
        .args(["serve", "--port", "0", "--data"])
        .arg(&data)
        .output()
        .expect("setpriv is installed (util-linux)");
    let said = said(&output);
    assert!(!output.status.success(), "{said}");
    assert!(said.contains("cannot be written") && said.contains("handcall.sqlite"), "{said}");
    allow(0o755);
    assert_eq!(held(&data, &performer), kept);
}

#[test]
fn a_database_of_a_newer_program_is_left_alone_with_a_plain_word() {
    let folder = Scratch::new("newer");
    let (performer, kept) = closed_house(folder.path());
    let file = folder.path().join("handcall.sqlite");
    let version = |to: Option<i64>| -> i64 {
        let c = Conn::open(&file).expect("opened");
        if let Some(version) = to {
            c.pragma_update(None, "user_version", version).expect("set");
        }
        c.query_row("PRAGMA user_version", [], |row| row.get(0)).expect("read")
    };
    let own = version(None);
    version(Some(own + 1));
    let output = serve(folder.path());
    let words = said(&output);
    assert!(!output.status.success() && words.contains("start the newer program"), "{words}");
    assert_eq!(version(None), own + 1, "it was not touched");
    version(Some(own));
    assert_eq!(held(folder.path(), &performer), kept);
}

#[test]
fn a_database_cut_short_or_overwritten_is_not_served() {
    let folder = Scratch::new("cut-short");
    closed_house(folder.path());
    let file = folder.path().join("handcall.sqlite");
    // Folds the log in, so that the file is all there is.
    let c = Conn::open(&file).expect("opened");
    c.query_row("PRAGMA journal_mode = DELETE", [], |row| row.get::<_, String>(0)).expect("set");
    drop(c);
    let whole = std::fs::read(&file).expect("read");
    for (name, bytes) in [
        ("half", whole.get(..whole.len() / 2).expect("half").to_vec()),
        ("a page less", whole.get(..whole.len() - 4096).expect("less").to_vec()),
        ("not a database", b"Dear diary, this is no database at all.".repeat(400)),
    ] {
        std::fs::write(&file, &bytes).expect("written");
        let output = serve(folder.path());
        let words = said(&output);
        assert!(!output.status.success(), "{name} is served");
        assert!(words.contains("damaged") && words.contains("restore"), "{name}: {words}");
        assert_eq!(std::fs::read(&file).expect("read"), bytes, "{name}: it was not touched");
    }
    std::fs::write(&file, &whole).expect("written");
    assert!(check::file(&file).expect("checked").is_sound());
}

/// The library that lets a process believe another time (Debian's libfaketime).
fn other_time() -> PathBuf {
    let places = ["/usr/lib/x86_64-linux-gnu/faketime", "/usr/lib/aarch64-linux-gnu/faketime"];
    let found = places.iter().map(|place| Path::new(place).join("libfaketimeMT.so.1"));
    found.into_iter().find(|path| path.exists()).expect("libfaketime is installed: run tests/run")
}

fn at_time(offset: &str) -> Command {
    let mut process = Command::new(command());
    process
        .env("LD_PRELOAD", other_time())
        .env("FAKETIME", offset)
        .env("FAKETIME_DONT_FAKE_MONOTONIC", "1");
    process
}

#[test]
fn a_clock_set_back_loses_nothing_and_ends_no_session() {
    let (folder, copies) = (Scratch::new("clock"), Scratch::new("clock-copies"));
    let place = copies.path().to_string_lossy().into_owned();
    let words = ["--backups", place.as_str(), "--backup-hours", "1"];
    let later = Running::start_process(at_time("+3d"), folder.path(), &words).expect("started");
    let mut desk = Workshop::open(&later).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let performer = desk.add_performer(&production, "TW01").expect("added");
    let mut kept = BTreeSet::new();
    let mut take = |desk: &mut Workshop, at| {
        let one = reading(at);
        let answer = desk.post_readings(&performer, std::slice::from_ref(&one)).expect("posted");
        expect(answer, 200).expect("kept");
        kept.insert(one.id);
    };
    take(&mut desk, 0);
    let copies_made = || std::fs::read_dir(copies.path()).expect("listed").count();
    let wait_for = |count: usize| {
        let mut patience = 0..400;
        while copies_made() < count && patience.next().is_some() {
            std::thread::sleep(Duration::from_millis(50));
        }
        copies_made()
    };
    assert_eq!(wait_for(1), 1);
    later.kill().expect("killed");
    // The times of files are the kernel's, which the library does not reach.
    let future = SystemTime::now() + Duration::from_secs(3 * 24 * 3600);
    for copy in std::fs::read_dir(copies.path()).expect("listed").flatten() {
        let file = std::fs::File::options().append(true).open(copy.path()).expect("opened");
        file.set_modified(future).expect("set");
    }

    // Three days back: what was stored then lies in the future now.
    let now = Running::start_process(at_time("+0"), folder.path(), &words).expect("started");
    let mut same = desk.at(now.address);
    take(&mut same, 1);
    let mut fresh = Workshop::open(&now).expect("a new sign-in works as well");
    take(&mut fresh, 2);
    assert!(wait_for(2) >= 2, "no backup until the clock has caught up");
    let ids: BTreeSet<_> = fresh.reading_ids(&performer).expect("read").into_iter().collect();
    assert_eq!(ids, kept);
    now.kill().expect("killed");
    let report = check::file(&folder.path().join("handcall.sqlite")).expect("checked");
    assert!(report.is_sound(), "{report:?}");
}
