//! A batch as a job of the server: killed and gone on with, cancelled, followed, and drafted again
//! only where something changed.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use analysis::units::Unit;
use handcall::enrol::enrol;
use handcall::import::roster;
use handcall::store::{Store, production};
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::{Workshop, expect};
use serde_json::{Value, json};

/// A batch that takes longer than this is stuck.
const PATIENCE: Duration = Duration::from_secs(240);

/// Stores an invented cast with three readings each and gives the production's id.
#[expect(clippy::expect_used, reason = "a test cannot go on without its cast")]
fn cast(data: &Path, count: usize) -> String {
    let mut text = "code,sex,hand length,hand girth,left hand length\n".to_owned();
    for index in 0..count {
        let (sex, more) = if index % 2 == 0 { ("f", 0.0) } else { ("m", 14.0) };
        let size = (index % 17) as f64 - 8.0;
        let (length, girth) = (181.0 + more + size, 187.0 + more * 1.9 + size);
        text += &format!("J{index:03},{sex},{length},{girth},{}\n", length + 0.5);
    }
    let rows = roster::read(text.as_bytes(), Unit::Mm).rows;
    assert_eq!(rows.len(), count);
    let store = Store::open(&data.join("handcall.sqlite")).expect("opened");
    let home = store
        .write_now(move |c| {
            let home = production::add(c, "The Long Batch")?;
            enrol(c, home, &rows, "test")?;
            Ok(home)
        })
        .expect("stored");
    home.to_string()
}

fn start(desk: &mut Workshop, home: &str, more: &[(&str, &str)]) -> u16 {
    let token = desk.token.clone();
    let mut fields = vec![("csrf", token.as_str())];
    fields.extend_from_slice(more);
    let path = format!("/productions/{home}/batches");
    desk.client.post_form(&path, &fields).map_or(0, |answer| answer.status)
}

/// Ids of the batches of a production, newest first.
#[expect(clippy::expect_used, reason = "a test cannot go on without the page")]
fn batches(desk: &mut Workshop, home: &str) -> Vec<String> {
    let page = desk.client.get(&format!("/productions/{home}/batches")).expect("a page").text();
    page.split("data-batch=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next().map(ToOwned::to_owned))
        .collect()
}

#[expect(clippy::expect_used, reason = "a test cannot go on without the state")]
fn state(desk: &mut Workshop, id: &str) -> Value {
    expect(desk.client.get(&format!("/api/batches/{id}")).expect("answered"), 200)
        .expect("a batch")
        .json()
}

/// Waits until `is_so` and gives the state it was so in.
#[expect(clippy::panic, reason = "a batch that is stuck fails the test")]
fn wait(desk: &mut Workshop, id: &str, is_so: impl Fn(&Value) -> bool) -> Value {
    let started = Instant::now();
    loop {
        let now = state(desk, id);
        if is_so(&now) {
            return now;
        }
        if started.elapsed() > PATIENCE {
            panic!("stuck: {now}");
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// What lies in the folder of the batches.
#[expect(clippy::expect_used, reason = "the server has made the folder")]
fn files(data: &Path) -> Vec<String> {
    std::fs::read_dir(data.join("batches"))
        .expect("the folder is there")
        .map(|file| file.expect("a file").file_name().to_string_lossy().into_owned())
        .collect()
}

#[expect(clippy::expect_used, reason = "a test cannot go on without the ZIP")]
fn zip(desk: &mut Workshop, id: &str) -> Vec<u8> {
    let answer = desk.client.get(&format!("/batches/{id}/gloves.zip")).expect("answered");
    expect(answer, 200).expect("a ZIP").body
}

/// Waits for the first file of the packed batch, finished or not.
#[expect(clippy::panic, reason = "a batch that is stuck fails the test")]
fn wait_for_packing(data: &Path) {
    let started = Instant::now();
    while !files(data).iter().any(|name| name.contains(".zip")) {
        if started.elapsed() > PATIENCE {
            panic!("nothing was packed");
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

#[test]
fn a_batch_killed_while_it_is_packed_leaves_no_half_zip_under_its_name() {
    let folder = Scratch::new("batch-pack");
    let home = cast(folder.path(), 100);
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    assert_eq!(start(&mut desk, &home, &[]), 303);
    let id = batches(&mut desk, &home).remove(0);
    wait_for_packing(folder.path());
    server.kill().expect("killed");
    let place = folder.path().join("batches").join(format!("{id}.zip"));
    let left = std::fs::read(&place).ok();

    let server = Running::start(folder.path()).expect("it starts again");
    let mut desk = Workshop::open(&server).expect("signed in");
    wait(&mut desk, &id, |s| s["state"] == "done");
    let whole = zip(&mut desk, &id);
    // The kill may come a moment after the end of packing: then it bears its name and is whole.
    assert!(left.is_none_or(|left| left == whole), "half a ZIP bore the name of a whole one");
}

#[test]
fn a_batch_killed_half_way_goes_on_and_holds_every_draft_once() {
    const CAST: usize = 200;
    let folder = Scratch::new("batch-kill");
    let home = cast(folder.path(), CAST);
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    assert_eq!(start(&mut desk, &home, &[]), 303);
    let id = batches(&mut desk, &home).remove(0);
    let half = wait(&mut desk, &id, |s| s["done"].as_u64().is_some_and(|done| done >= 50));
    assert_eq!(half["state"], "running", "it must be killed while it runs: {half}");
    server.kill().expect("killed");
    assert!(files(folder.path()).iter().all(|name| !name.ends_with(".zip")));

    let server = Running::start(folder.path()).expect("it starts again");
    let mut desk = Workshop::open(&server).expect("signed in");
    let first = state(&mut desk, &id);
    assert!(first["done"].as_u64().is_some_and(|done| done >= 32), "it kept what it made: {first}");
    wait(&mut desk, &id, |s| s["state"] != "running");
    assert_eq!(state(&mut desk, &id)["state"], "done");
    assert_eq!(files(folder.path()), [format!("{id}.zip")], "and nothing beside it");

    let bytes = zip(&mut desk, &id);
    let path = folder.path().join("got.zip");
    std::fs::write(&path, &bytes).expect("written");
    let listed = Command::new("unzip").arg("-Z1").arg(&path).output().expect("unzip");
    let mut count: BTreeMap<String, usize> = BTreeMap::new();
    for name in String::from_utf8_lossy(&listed.stdout).lines() {
        *count.entry(name.split('-').next().unwrap_or_default().to_owned()).or_default() += 1;
    }
    for list in ["cut", "call", "attention.csv", "cloth.csv", "labels.pdf"] {
        assert!(count.remove(list).is_some(), "{list}");
    }
    assert_eq!(count.len(), CAST);
    assert!(count.values().all(|files| *files == 6), "{count:?}");

    // Nothing changed: there is nothing to draft again, and the same versions have the same bytes.
    assert_eq!(start(&mut desk, &home, &[("which", "changed")]), 422);
    assert_eq!(start(&mut desk, &home, &[]), 303);
    let again = batches(&mut desk, &home).remove(0);
    assert_ne!(again, id);
    wait(&mut desk, &again, |s| s["state"] == "done");
    assert!(zip(&mut desk, &again) == bytes, "the same versions, to the byte");
}

#[test]
fn cancelling_leaves_nothing_behind() {
    let folder = Scratch::new("batch-cancel");
    let home = cast(folder.path(), 200);
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    assert_eq!(start(&mut desk, &home, &[]), 303);
    let id = batches(&mut desk, &home).remove(0);
    wait(&mut desk, &id, |s| s["done"].as_u64().is_some_and(|done| done >= 20));
    let token = desk.token.clone();
    let cancelled = desk.client.post_form(&format!("/batches/{id}/cancel"), &[("csrf", &token)]);
    assert_eq!(cancelled.expect("answered").status, 303);
    let ended = wait(&mut desk, &id, |s| s["state"] != "running");
    assert_eq!(ended["state"], "cancelled");
    assert_eq!(files(folder.path()), Vec::<String>::new());
    let gone = desk.client.get(&format!("/batches/{id}/gloves.zip")).expect("answered");
    assert_eq!(gone.status, 409);
}

#[test]
fn a_batch_is_followed_by_events_and_holds_only_whoever_was_chosen_or_changed() {
    let folder = Scratch::new("batch-events");
    let home = cast(folder.path(), 6);
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    let page = desk.client.get(&format!("/productions/{home}/batches")).expect("a page").text();
    let chosen: Vec<String> = page
        .split("name=\"for-")
        .skip(1)
        .filter_map(|rest| rest.split('"').next().map(|id| format!("for-{id}")))
        .collect();
    assert_eq!(chosen.len(), 6);
    assert_eq!(start(&mut desk, &home, &[("decided", "1")]), 422, "nobody named");
    let two = [("decided", "1"), (chosen[0].as_str(), "draft"), (chosen[3].as_str(), "draft")];
    assert_eq!(start(&mut desk, &home, &two), 303);
    let id = batches(&mut desk, &home).remove(0);
    let events = desk.client.get(&format!("/api/batches/{id}/events")).expect("answered");
    assert_eq!(events.header("content-type"), Some("text/event-stream"));
    let text = events.text();
    let states: Vec<Value> = text
        .lines()
        .filter_map(|line| line.strip_prefix("data: "))
        .filter_map(|json| serde_json::from_str(json).ok())
        .collect();
    let last = states.last().expect("an event");
    assert_eq!((last["state"].as_str(), last["done"].as_u64()), (Some("done"), Some(2)), "{text}");

    // The other four have no drafts yet, so they are what changed.
    assert_eq!(start(&mut desk, &home, &[("which", "changed")]), 303);
    let id = batches(&mut desk, &home).remove(0);
    let done = wait(&mut desk, &id, |s| s["state"] == "done");
    assert_eq!(done["total"], 4);
    let roll = [("paper", "roll"), ("roll_width", "12")];
    assert_eq!(start(&mut desk, &home, &roll), 422, "no roll is 12 mm wide");
}

/// The newest lay of a batch, by its page, and its state.
#[expect(clippy::expect_used, reason = "a test cannot go on without the lay")]
fn lay_of(desk: &mut Workshop, batch: &str) -> (String, Value) {
    let page = desk.client.get(&format!("/batches/{batch}/lay")).expect("a page").text();
    let id = page.split("data-lay=\"").nth(1).and_then(|rest| rest.get(..36)).expect("a lay");
    let state = desk.client.get(&format!("/api/lays/{id}")).expect("answered");
    (id.to_owned(), expect(state, 200).expect("a lay").json())
}

#[test]
fn the_gloves_of_a_batch_are_laid_on_cloth_and_a_lay_can_be_cancelled() {
    let folder = Scratch::new("batch-lay");
    let home = cast(folder.path(), 4);
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    assert_eq!(start(&mut desk, &home, &[]), 303);
    let batch = batches(&mut desk, &home).remove(0);
    wait(&mut desk, &batch, |s| s["state"] == "done");
    let token = desk.token.clone();
    let lay = |desk: &mut Workshop, width: &str, seconds: &str| {
        let fields = [
            ("csrf", token.as_str()),
            ("width_mm", width),
            ("gap_mm", "3"),
            ("spare_pairs", "1"),
            ("seconds", seconds),
        ];
        desk.client.post_form(&format!("/batches/{batch}/lay"), &fields).expect("answered")
    };
    let refused = lay(&mut desk, "12", "1");
    assert_eq!(refused.status, 422);
    assert!(refused.text().contains("100") && refused.text().contains("value=\"12\""));
    assert_eq!(lay(&mut desk, "900", "1").status, 303);
    let began = Instant::now();
    let (id, done) = loop {
        let (id, state) = lay_of(&mut desk, &batch);
        if state["state"] != "running" {
            break (id, state);
        }
        assert!(began.elapsed() < PATIENCE, "stuck: {state}");
        std::thread::sleep(Duration::from_millis(50));
    };
    assert_eq!(done["state"], "done", "{done}");
    let cloth = &done["cloths"][0];
    // Four performers and a spare pair: ten gloves of two pieces.
    assert_eq!((cloth["gloves"].as_u64(), cloth["pieces"].as_u64()), (Some(10), Some(20)));
    let number = |key: &str| cloth[key].as_f64().unwrap_or_default();
    assert!(number("used") >= number("plain_used") && number("used") < 1.0, "{cloth}");
    for (name, begins) in [("1.svg", "<?xml"), ("1.dxf", "  0"), ("1.pdf", "%PDF")] {
        let file = desk.client.get(&format!("/lays/{id}/{name}")).expect("answered");
        let file = expect(file, 200).expect("a drawing");
        assert!(file.body.starts_with(begins.as_bytes()), "{name}");
        std::fs::write(folder.path().join(name), file.body).expect("kept");
    }
    for missing in ["0.svg", "2.svg", "1.exe", "x"] {
        let none = desk.client.get(&format!("/lays/{id}/{missing}")).expect("answered");
        assert_eq!(none.status, 404, "{missing}");
    }
    let sound = Command::new("qpdf").arg("--check").arg(folder.path().join("1.pdf")).output();
    assert!(sound.expect("qpdf is there").status.success());

    assert_eq!(lay(&mut desk, "900", "300").status, 303);
    assert_eq!(lay(&mut desk, "900", "1").status, 409, "one lay at a time");
    let (id, running) = lay_of(&mut desk, &batch);
    assert_eq!(running["state"], "running");
    let cancel = desk.client.post_form(&format!("/lays/{id}/cancel"), &[("csrf", &token)]);
    assert_eq!(cancel.expect("answered").status, 303);
    let began = Instant::now();
    while lay_of(&mut desk, &batch).1["state"] != "cancelled" {
        assert!(began.elapsed() < PATIENCE, "not cancelled");
        std::thread::sleep(Duration::from_millis(50));
    }
    let kept = folder.path().join("batches").join(format!("{batch}-lays")).join(&id);
    assert!(!kept.exists(), "nothing half-made is left");
}

#[test]
fn a_script_starts_follows_and_cancels_batches_as_the_page_does() {
    let folder = Scratch::new("batch-api");
    let home = cast(folder.path(), 40);
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    let board = desk.client.get(&format!("/api/productions/{home}/board")).expect("answered");
    let rows = board.json()["rows"].as_array().expect("rows").clone();
    let three: Vec<&Value> = rows.iter().take(3).map(|row| &row["id"]).collect();
    let mut post = |path: &str, body: Value| {
        let token = desk.token.clone();
        desk.client.post_json(path, &token, &body).expect("answered")
    };
    let orders = format!("/api/productions/{home}/batches");
    for (body, status, field) in [
        (json!({}), 400, None),
        (json!({ "paper": "a4", "speed": "high" }), 400, None),
        (json!({ "paper": "papyrus" }), 422, Some("paper")),
        (json!({ "paper": "roll-7" }), 422, Some("roll_width")),
        (json!({ "paper": "a4", "performers": [] }), 422, Some("paper")),
        (json!({ "paper": "a4", "options": { "hem": "tall" } }), 422, Some("hem")),
    ] {
        let answer = post(&orders, body.clone());
        assert_eq!(answer.status, status, "{body}: {}", answer.text());
        if let Some(field) = field {
            assert_eq!(answer.json()["field"], field, "{body}");
        }
    }
    let made = post(&orders, json!({ "paper": "a3", "performers": three }));
    assert_eq!(made.status, 201, "{}", made.text());
    assert_eq!(made.json()["total"], 3);
    let all = post(&orders, json!({ "paper": "roll-914" })).json();
    assert_eq!(all["total"], 40);
    let all = all["id"].as_str().expect("an id").to_owned();
    let stopped = post(&format!("/batches/{all}/cancel"), json!({}));
    assert_eq!(stopped.status, 200, "{}", stopped.text());
    assert_eq!(stopped.json()["at"], format!("/productions/{home}/batches"));
    let again = post(&format!("/batches/{all}/continue"), json!({}));
    assert_eq!(again.status, 200, "{}", again.text());
    let ended = desk.client.get(&format!("/api/batches/{all}")).expect("answered").json();
    let state = &ended["state"];
    assert!(state == "cancelled" || state == "done", "{state}: an ended one stays ended");
}
