//! A disk that is full: a clear message, the server goes on, and nothing acknowledged is lost.
//!
//! The disk is made full by a limit on the size of files (RLIMIT_FSIZE, its signal ignored), under
//! which the kernel refuses to write more with EFBIG, as it would with ENOSPC on a full disk.

use std::collections::BTreeSet;
use std::os::unix::fs::PermissionsExt;
use std::process::Command;

use handcall::store::check;
use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop};
use uuid::Uuid;

/// Largest file the limited server may write, kB: the empty database and some hundred commits.
const LIMIT_KB: u32 = 1_000;

fn reading(at: usize) -> Sent {
    let value = (150 + at % 60).to_string();
    Sent { id: Uuid::now_v7(), side: "left", dimension: "hand_length", value }
}

#[test]
fn a_full_disk_is_said_plainly_loses_nothing_and_is_forgotten_once_there_is_room() {
    let folder = Scratch::new("full");
    let limited = folder.path().join("limited");
    let script = format!(
        "#!/bin/bash\ntrap '' XFSZ\nulimit -S -f {LIMIT_KB}\nexec {} \"$@\"\n",
        command().display()
    );
    std::fs::write(&limited, script).expect("written");
    std::fs::set_permissions(&limited, PermissionsExt::from_mode(0o755)).expect("set");
    let data = folder.path().join("data");
    let server = Running::start_command(&limited, &data).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let performer = desk.add_performer(&production, "TW01").expect("added");

    let mut acknowledged = BTreeSet::new();
    let mut refusal = None;
    for at in 0..450 {
        let sent = reading(at);
        let answer =
            desk.post_readings(&performer, std::slice::from_ref(&sent)).expect("an answer");
        if answer.status == 200 {
            acknowledged.insert(sent.id);
        } else {
            refusal = Some(answer);
            break;
        }
    }
    let refusal = refusal.expect("the limit was never reached: lower it");
    assert_eq!(refusal.status, 507, "{}", refusal.text());
    assert_eq!(refusal.json()["code"], "storage_full", "{}", refusal.text());
    assert!(acknowledged.len() > 10, "{} before the disk was full", acknowledged.len());

    // Reading goes on while writing does not.
    let held: BTreeSet<_> = desk.reading_ids(&performer).expect("exported").into_iter().collect();
    assert!(held.is_superset(&acknowledged));

    // Room is made: the very next reading is taken.
    let lifted = Command::new("prlimit")
        .args(["--fsize=unlimited", "--pid", &server.id().to_string()])
        .status()
        .expect("prlimit is installed (util-linux)");
    assert!(lifted.success());
    let sent = reading(0);
    let answer = desk.post_readings(&performer, std::slice::from_ref(&sent)).expect("an answer");
    assert_eq!(answer.status, 200, "{}", answer.text());
    acknowledged.insert(sent.id);

    server.kill().expect("killed");
    let server = Running::start(&data).expect("it starts again");
    let mut desk = Workshop::open(&server).expect("signed in");
    let held: BTreeSet<_> = desk.reading_ids(&performer).expect("exported").into_iter().collect();
    assert!(held.is_superset(&acknowledged), "an acknowledged reading is gone");
    server.kill().expect("killed");
    assert!(check::file(&data.join("handcall.sqlite")).expect("checked").is_sound());
}

#[test]
fn a_data_folder_that_cannot_be_made_is_said_plainly() {
    let folder = Scratch::new("no-folder");
    let file = folder.path().join("file");
    std::fs::write(&file, "not a folder").expect("written");
    for words in [vec!["serve", "--port", "0"], vec!["demo", "--no-serve"]] {
        let output = Command::new(command())
            .args(&words)
            .arg("--data")
            .arg(file.join("data"))
            .output()
            .expect("the command runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!output.status.success() && said.contains("data folder"), "{words:?}: {said}");
        assert!(!said.contains("panicked"), "{words:?}: {said}");
    }
}
