//! Calls: entered, imported and exported, changed, on the board and in the call sheet, and a batch of
//! one call alone. Their names are in no file name and no log.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use serde_json::{Value, json};
use uuid::Uuid;

/// Three performers of two calls; no call is a word of the program.
const ROSTER: &str = "code,sex,Gruppe,hand length,hand girth\n\
    K1,f,Zwielichtvogel,181,187\nK2,m,Moorlaterne,195,212\nK3,f,zwielichtvogel,176,182\nK4,m,,190,205\n";

struct House {
    desk: Workshop,
    home: String,
    server: Running,
    log: std::path::PathBuf,
}

#[expect(clippy::expect_used, reason = "a test cannot go on without its house")]
fn house(folder: &Path) -> House {
    let log = folder.join("server.log");
    std::fs::create_dir_all(folder).expect("made");
    let mut process = Command::new("sh");
    // What the server says on its error stream is its log.
    process.arg("-c").arg("exec \"$0\" \"$@\" 2>\"$HANDCALL_TEST_LOG\"").arg(command());
    process.env("HANDCALL_TEST_LOG", &log);
    let server = Running::start_process(process, &folder.join("data"), &[]).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    let home = desk.add_production("The Salt Stair").expect("added");
    let fields = [("csrf", desk.token.clone()), ("csv", ROSTER.to_owned())];
    let fields: Vec<_> = fields.iter().map(|(k, v)| (*k, v.as_str())).collect();
    let stored = desk.client.post_form(&format!("/productions/{home}/import/store"), &fields);
    assert_eq!(stored.expect("answered").status, 303);
    House { desk, home, server, log }
}

impl House {
    #[expect(clippy::expect_used, reason = "a test cannot go on without the page")]
    fn text(&mut self, path: &str) -> String {
        expect(self.desk.client.get(path).expect("answered"), 200).expect("a page").text()
    }

    #[expect(clippy::expect_used, reason = "a test cannot go on without the answer")]
    fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> (u16, String) {
        let token = self.desk.token.clone();
        let all: Vec<_> =
            std::iter::once(("csrf", token.as_str())).chain(fields.iter().copied()).collect();
        let answer = self.desk.client.post_form(path, &all).expect("answered");
        (answer.status, answer.text())
    }

    /// Code and call of everybody on the board.
    fn calls(&mut self) -> Vec<(String, String)> {
        let board: Value =
            serde_json::from_str(&self.text(&format!("/api/productions/{}/board", self.home)))
                .unwrap_or_default();
        let word = |row: &Value, key: &str| row[key].as_str().unwrap_or_default().to_owned();
        let rows = board["rows"].as_array().cloned().unwrap_or_default();
        rows.iter().map(|row| (word(row, "code"), word(row, "call"))).collect()
    }

    /// What the board says is next in the call order: a code and a performer's id.
    fn next(&mut self) -> Option<(String, String)> {
        let page = self.text(&format!("/productions/{}", self.home));
        let link = page.split("<span id=\"next\">").nth(1)?.split("</p>").next()?;
        let id = link.split("/performers/").nth(1)?.get(..36)?.to_owned();
        Some((link.split("data-code>").nth(1)?.split('<').next()?.to_owned(), id))
    }

    /// Waits for the newest batch, and gives the names in its ZIP with one of its lists.
    #[expect(clippy::expect_used, reason = "a test cannot go on without the batch")]
    fn finished(&mut self, folder: &Path, list: &str) -> (Vec<String>, String) {
        let began = Instant::now();
        let page = loop {
            let page = self.text(&format!("/productions/{}/batches", self.home));
            let newest = page.split("data-batch=\"").nth(1).expect("a batch").to_owned();
            if newest.split("</li>").next().expect("a card").contains("gloves.zip") {
                break newest;
            }
            assert!(began.elapsed() < Duration::from_secs(120), "stuck");
            std::thread::sleep(Duration::from_millis(30));
        };
        let id = page.get(..36).expect("an id");
        let zip = self.desk.client.get(&format!("/batches/{id}/gloves.zip")).expect("answered");
        let path = folder.join("got.zip");
        std::fs::write(&path, zip.body).expect("written");
        let unzip = |arguments: &[&str]| {
            let output = Command::new("unzip").args(arguments).output().expect("unzip");
            String::from_utf8_lossy(&output.stdout).into_owned()
        };
        let file = path.to_string_lossy();
        let names = unzip(&["-Z1", &file]).lines().map(ToOwned::to_owned).collect();
        (names, unzip(&["-p", &file, list]))
    }
}

#[test]
fn a_call_is_imported_changed_exported_and_in_the_export_of_a_performer() {
    let folder = Scratch::new("calls");
    let mut house = house(folder.path());
    let home = house.home.clone();
    let seen: Vec<_> = house.calls().into_iter().map(|(_, call)| call).collect();
    assert_eq!(seen, ["Zwielichtvogel", "Moorlaterne", "zwielichtvogel", ""]);

    // Several at once by their codes; a code that nobody has is named, and nothing typed is lost.
    let together = format!("/productions/{home}/call");
    let (status, page) = house.post(&together, &[("codes", "k3 K9"), ("call", "Nebelhorn")]);
    assert_eq!(status, 422);
    assert!(page.contains("K9") && page.contains("k3 K9</textarea>") && page.contains("Nebelhorn"));
    let long = "x".repeat(41);
    assert_eq!(house.post(&together, &[("codes", "K3"), ("call", &long)]).0, 422);
    assert_eq!(house.post(&together, &[("codes", "k3, K4"), ("call", "Nebelhorn")]).0, 303);
    // One on their own page; empty forgets.
    let someone = house.desk.performer(&home, "K1").expect("known");
    assert_eq!(house.post(&format!("/performers/{someone}/call"), &[("call", &long)]).0, 422);
    assert_eq!(house.post(&format!("/performers/{someone}/call"), &[("call", " ")]).0, 303);
    // A new performer by the form.
    let new = [("code", "K5"), ("population", "women"), ("call", "Nebelhorn")];
    assert_eq!(house.post(&format!("/productions/{home}/performers"), &new).0, 303);
    let seen: Vec<_> = house.calls().into_iter().map(|(_, call)| call).collect();
    assert_eq!(seen, ["", "Moorlaterne", "Nebelhorn", "Nebelhorn", "Nebelhorn"]);

    // The roster as CSV can be imported again with its calls.
    let csv = house.text(&format!("/productions/{home}/roster.csv"));
    let other = house.desk.add_production("The Reed Organ").expect("added");
    assert_eq!(house.post(&format!("/productions/{other}/import/store"), &[("csv", &csv)]).0, 303);
    let before = house.calls();
    house.home = other;
    assert_eq!(house.calls(), before);
    let third = house.desk.performer(&home, "K3").expect("known");
    let everything = house.text(&format!("/performers/{third}/export.json"));
    let everything: Value = serde_json::from_str(&everything).expect("JSON");
    assert_eq!(everything["performer"]["call"], "Nebelhorn");
    let pack = house.text(&format!("/api/productions/{home}/pack"));
    assert!(pack.contains("Nebelhorn"), "phones know it without signal");
    house.server.kill().expect("ended");
}

#[test]
fn a_batch_of_one_call_holds_its_performers_alone_and_its_sheet_keeps_them_together() {
    let folder = Scratch::new("calls-batch");
    let mut house = house(folder.path());
    let batches = format!("/productions/{}/batches", house.home);
    // K4 has no call and comes last, though they are before nobody in the roster.
    assert_eq!(house.post(&batches, &[("paper", "a4")]).0, 303);
    let (names, sheet) = house.finished(folder.path(), "call-sheet.csv");
    let rows: Vec<_> =
        sheet.lines().map(|line| line.split(',').take(2).collect::<Vec<_>>()).collect();
    assert_eq!(
        rows,
        [
            ["call", "performer"],
            ["Zwielichtvogel", "K1"],
            ["zwielichtvogel", "K3"],
            ["Moorlaterne", "K2"],
            ["", "K4"],
        ]
    );
    assert!(names.iter().all(|name| !name.to_lowercase().contains("vogel")), "{names:?}");

    // A call is no input of a draft: nothing has changed by it.
    let all = [("codes", "K1 K2 K3 K4"), ("call", "Zwielichtvogel")];
    assert_eq!(house.post(&format!("/productions/{}/call", house.home), &all).0, 303);
    let changed = [("paper", "a4"), ("which", "changed")];
    assert_eq!(house.post(&batches, &changed).0, 422);
    assert_eq!(
        house
            .post(
                &format!("/productions/{}/call", house.home),
                &[("codes", "K2"), ("call", "Moorlaterne")]
            )
            .0,
        303
    );

    // One of each call is measured once more: of the call, only the changed one.
    for code in ["K2", "K3"] {
        let performer = house.desk.performer(&house.home.clone(), code).expect("known");
        let more = [Sent {
            id: Uuid::now_v7(),
            side: "left",
            dimension: "hand_length",
            value: "184".to_owned(),
        }];
        house.desk.post_readings(&performer, &more).expect("posted");
    }
    let (status, page) = house.post(&batches, &[("paper", "a4"), ("call", "Regenpfeifer")]);
    assert_eq!(status, 422, "nobody is called so");
    assert!(page.contains("id=\"call-error\""), "said at its input");
    let mut changed = changed.to_vec();
    changed.push(("call", "ZWIELICHTVOGEL"));
    assert_eq!(house.post(&batches, &changed).0, 303);
    let (names, _) = house.finished(folder.path(), "call-sheet.csv");
    let drafts: Vec<_> = names.iter().filter(|name| name.ends_with("left-v2.pdf")).collect();
    assert_eq!(drafts, ["K3-left-v2.pdf"]);
    assert!(
        !names.iter().any(|name| name.starts_with("K1") || name.starts_with("K2")),
        "{names:?}"
    );

    // A script asks for a call as well.
    let token = house.desk.token.clone();
    let order = json!({ "paper": "a4", "call": "Moorlaterne" });
    let made =
        house.desk.client.post_json(&format!("/api{batches}"), &token, &order).expect("answered");
    assert_eq!((made.status, made.json()["total"].as_u64()), (201, Some(1)), "{}", made.text());
    let log = std::fs::read_to_string(&house.log).expect("a log").to_lowercase();
    for call in ["vogel", "moorlaterne", "regenpfeifer"] {
        assert!(!log.contains(call), "{call} is in the log");
    }
}

#[test]
fn next_in_the_call_order_is_the_first_of_the_roster_who_is_due_and_not_being_measured() {
    let folder = Scratch::new("calls-next");
    let mut house = house(folder.path());
    let (code, first) = house.next().expect("somebody is due");
    assert_eq!(code, "K1");
    // As soon as somebody measures K1, the next measurer is sent to K2.
    let reading = |value: &str| Sent {
        id: Uuid::now_v7(),
        side: "right",
        dimension: "palm_length",
        value: value.to_owned(),
    };
    house.desk.post_readings(&first, &[reading("103")]).expect("posted");
    let (code, second) = house.next().expect("somebody is due");
    assert_eq!(code, "K2");
    // A flag is no call: K2, measured with a slip a moment ago, is not next, and K3 is.
    house.desk.post_readings(&second, &[reading("1130")]).expect("posted");
    assert_eq!(house.next().map(|(code, _)| code).as_deref(), Some("K3"));
    // A measurer's board names them; a cutter, who does not measure, is shown nobody.
    let link = house.desk.add_account("Cutter", "cutter").expect("a link");
    let mut cutter = house.server.signed_in_by(&link).expect("signed in");
    let page = cutter.get(&format!("/productions/{}", house.home)).expect("answered").text();
    assert!(page.contains("id=\"next\"") && !page.contains("data-code"));
}

#[test]
fn the_command_drafts_one_call_of_a_roster() {
    let folder = Scratch::new("calls-command");
    std::fs::create_dir_all(folder.path()).expect("made");
    let roster = folder.path().join("roster.csv");
    std::fs::write(&roster, ROSTER).expect("written");
    let draft = |call: &str, out: &str| {
        let out = folder.path().join(out);
        let run = Command::new(command())
            .arg("draft")
            .arg(&roster)
            .args(["--call", call, "--out"])
            .arg(&out)
            .output();
        (run.expect("it runs"), out)
    };
    let (run, out) = draft("ZwielichtVogel", "one");
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let names: Vec<String> = std::fs::read_dir(&out)
        .expect("a folder")
        .map(|file| file.expect("a file").file_name().to_string_lossy().into_owned())
        .collect();
    let of = |code: &str| names.iter().filter(|name| name.starts_with(code)).count();
    assert_eq!([of("K1"), of("K2"), of("K3"), of("K4")], [6, 0, 6, 0], "{names:?}");
    let sheet = std::fs::read_to_string(out.join("call-sheet.csv")).expect("a sheet");
    assert!(sheet.contains("Zwielichtvogel,K1"), "{sheet}");
    let (run, _) = draft("Regenpfeifer", "two");
    assert!(!run.status.success());
    assert!(String::from_utf8_lossy(&run.stderr).contains("--call Regenpfeifer"));
}
