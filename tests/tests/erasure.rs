//! Nothing of the erased is left: one performer with everything the program can hold about a person
//! (readings, a reading from home, consent, a kept flag, a skip, choices, an exercise, fittings, a
//! change by hand, versions, a batch and a lay with their files) is erased, and every file of the
//! data folder is searched; what had been learned is as if they had never come.

#![expect(clippy::expect_used, clippy::panic, reason = "a test stops at what it did not expect")]

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use handcall::store::check;
use handcall_tests::client::Client;
use handcall_tests::page::{decoded, forms};
use handcall_tests::place::{Scratch, files};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use serde_json::{Value, json};
use uuid::Uuid;

const NAME: &str = "Wilhelmina Unmistakable";
const CODE: &str = "QXZERASE";
/// Stands in whatever is remarked about them.
const REMARK: &str = "Unmistakable remark";
/// Readings nobody else has, one taken in the workshop and one at home.
const MARKERS: [&str; 2] = ["158.4567", "69.1234"];
/// A forearm is a choice of theirs alone.
const FOREARM: &str = "271.8125";

/// Longest a batch or a lay of a few gloves may take.
const PATIENCE: Duration = Duration::from_secs(120);

/// What must be found before and not after: texts, and the markers as SQLite writes a number (the
/// eight bytes, largest first).
fn needles() -> Vec<Vec<u8>> {
    let texts = [CODE, NAME, REMARK, FOREARM].into_iter().chain(MARKERS);
    let numbers = MARKERS.iter().map(|marker| number(marker).to_be_bytes().to_vec());
    texts.map(|text| text.as_bytes().to_vec()).chain(numbers).collect()
}

/// Other ways a reading could be written: as most processors hold it, and with a comma.
fn other_ways() -> Vec<Vec<u8>> {
    let little = MARKERS.iter().map(|marker| number(marker).to_le_bytes().to_vec());
    let commas = MARKERS.iter().map(|marker| marker.replace('.', ",").into_bytes());
    little.chain(commas).collect()
}

fn number(text: &str) -> f64 {
    text.parse().expect("a number")
}

fn found(folder: &Path, needle: &[u8]) -> bool {
    files(folder).iter().any(|file| {
        let bytes = std::fs::read(file).unwrap_or_default();
        bytes.windows(needle.len()).any(|window| window == needle)
    })
}

fn reading(side: &'static str, dimension: &'static str, value: &str) -> Sent {
    Sent { id: Uuid::now_v7(), side, dimension, value: value.to_owned() }
}

/// Posts a form with the token; the answer's status must be `status`.
fn post(desk: &mut Workshop, path: &str, fields: &[(&str, &str)], status: u16) -> String {
    let token = desk.token.clone();
    let fields = [&[("csrf", token.as_str())], fields].concat();
    let answer = desk.client.post_form(path, &fields).expect("answered");
    let place = answer.header("location").unwrap_or_default().to_owned();
    let page = expect(answer, status).expect(path).text();
    if place.is_empty() { page } else { place }
}

fn get(desk: &mut Workshop, path: &str) -> Value {
    expect(desk.client.get(path).expect("answered"), 200).expect(path).json()
}

fn tell(desk: &mut Workshop, facts: &[Value]) {
    let token = desk.token.clone();
    let body = json!({ "device": "test", "facts": facts });
    let answer = desk.client.post_json("/api/facts", &token, &body).expect("posted");
    let answer = expect(answer, 200).expect("taken").json();
    for result in answer["results"].as_array().expect("results") {
        assert_eq!(result["state"], "kept", "{result}");
    }
}

/// Sixteen women with both hands, in the invented fabric Kelp: enough hands to learn from. Values
/// lie about the published means of women (Greiner 1991).
fn import_cast(desk: &mut Workshop, production: &str) {
    let mut csv =
        "code,sex,fabric,hand_length,hand_girth,left hand_length,left hand_girth\n".to_owned();
    for at in 0..16 {
        let size = f64::from(at % 7) - 3.0;
        let (length, girth) = (181.0 + size, 187.0 + size * 1.1);
        csv += &format!("K{at:02},f,Kelp,{length},{girth},{},{}\n", length + 0.5, girth - 0.8);
    }
    post(desk, &format!("/productions/{production}/import/store"), &[("csv", &csv)], 303);
}

/// Keeps a performer's gloves as a version and records a fitting of the right one.
fn try_on(desk: &mut Workshop, performer: &str, note: &str) -> Value {
    post(desk, &format!("/performers/{performer}/next/right"), &[("action", "keep")], 303);
    let known = get(desk, &format!("/api/performers/{performer}/fittings"));
    let fitting = json!({
        "fact": "fitting", "id": Uuid::now_v7(), "performer": performer, "side": "right",
        "version": known["gloves"][0]["id"], "answers": { "wrist": "+6", "palm": "2" },
        "worn_minutes": "10", "note": note,
    });
    tell(desk, std::slice::from_ref(&fitting));
    fitting
}

/// The id of the only fabric, by the link on a performer's next glove.
fn fabric_of(desk: &mut Workshop, performer: &str) -> String {
    let page = desk.client.get(&format!("/performers/{performer}/next/right")).expect("answered");
    let page = page.text();
    page.split("/fabrics/").nth(1).and_then(|rest| rest.get(..36)).expect("a fabric").to_owned()
}

/// Measures one step at home, by a link.
fn measure_at_home(desk: &mut Workshop, server: &Running, performer: &str) {
    let path = format!("/performers/{performer}/home");
    let page = decoded(&post(desk, &path, &[("days", "2"), ("uses", "2")], 200));
    let start = page.split("<code>").nth(1).and_then(|rest| rest.split("/home/").nth(1));
    let token: String =
        start.unwrap_or_default().chars().take_while(char::is_ascii_hexdigit).collect();
    let mut phone = Client::new(server.address);
    let begun = phone.post_form(&format!("/home/{token}"), &[]).expect("begun");
    let page = phone.follow(begun).expect("a step").text();
    let form = forms(&page).into_iter().find(|form| form.value("value").is_some());
    let form = form.unwrap_or_else(|| panic!("no step on {page}"));
    let step: Vec<(&str, &str)> = form
        .with("value", MARKERS[1])
        .into_iter()
        .map(
            |(name, value)| {
                if name == "dimension" { (name, "middle_length") } else { (name, value) }
            },
        )
        .collect();
    let kept = phone.post_form(&form.action, &step).expect("answered");
    expect(kept, 303).expect("kept");
}

/// Everything the program can hold about one performer; gives their id.
fn enter_everything(desk: &mut Workshop, server: &Running, production: &str) -> String {
    let csv = format!(
        "code,name,sex,fabric,note,hand_length,hand_girth,left hand_length,left hand_girth\n\
         {CODE},{NAME},f,Kelp,{REMARK},193,201,192,199\n"
    );
    post(desk, &format!("/productions/{production}/import/store"), &[("csv", &csv)], 303);
    let id = desk.performer(production, CODE).expect("on the board");
    let marked =
        [reading("right", "wrist_girth", MARKERS[0]), reading("right", "ring_length", "771")];
    let posted = desk.post_readings(&id, &marked).expect("posted");
    expect(posted, 200).expect("kept");
    tell(
        desk,
        &[
            json!({ "fact": "withdrawal", "performer": id, "reading": marked[1].id, "reason": REMARK }),
            json!({ "fact": "skip", "performer": id, "side": "left", "dimension": "wrist_girth",
                    "reason": REMARK }),
            json!({ "fact": "acceptance", "performer": id, "flag": "likely_slip.right.ring_length",
                    "reason": REMARK }),
            json!({ "fact": "consent", "id": Uuid::now_v7(), "performer": id, "is_given": true,
                    "manner": "spoken", "words": REMARK }),
        ],
    );
    measure_at_home(desk, server, &id);
    let choices = [
        ("side", "right"),
        ("keep", "performer"),
        ("cuff", "long"),
        ("height", "200"),
        ("forearm", FOREARM),
    ];
    post(desk, &format!("/performers/{id}/choices"), &choices, 303);
    let (hand, other) = (format!("hand-{id}-right"), format!("hand-{id}-left"));
    let exercise = [(hand.as_str(), "1"), (other.as_str(), "1"), ("dimension-hand_length", "1")];
    post(desk, &format!("/productions/{production}/exercise"), &exercise, 303);
    let withdrawn = try_on(desk, &id, REMARK);
    tell(
        desk,
        &[json!({ "fact": "fitting_withdrawal", "performer": id, "fitting": withdrawn["id"],
                  "reason": REMARK })],
    );
    let set = [("action", "set"), ("mm.wrist", "-3"), ("mm.palm", "2")];
    post(desk, &format!("/performers/{id}/next/right"), &set, 303);
    try_on(desk, &id, REMARK);
    id
}

/// Drafts everybody in a batch and lays it; gives the batch when both have ended.
fn batch_and_lay(desk: &mut Workshop, production: &str) -> String {
    let batch = start_batch(desk, production);
    wait(desk, &format!("/api/batches/{batch}"));
    let lay = start_lay(desk, &batch, 1);
    wait(desk, &format!("/api/lays/{lay}"));
    batch
}

fn start_batch(desk: &mut Workshop, production: &str) -> String {
    let token = desk.token.clone();
    let path = format!("/api/productions/{production}/batches");
    let made = desk.client.post_json(&path, &token, &json!({ "paper": "a4" })).expect("answered");
    let made = expect(made, 201).expect("a batch").json();
    made["id"].as_str().expect("an id").to_owned()
}

fn start_lay(desk: &mut Workshop, batch: &str, seconds: u32) -> String {
    let order = json!({ "width_mm": 1400.0, "gap_mm": 3.0, "is_one_way": false, "spare_pairs": 0,
                        "seconds": seconds });
    let token = desk.token.clone();
    let path = format!("/batches/{batch}/lay");
    let made = desk.client.post_json(&path, &token, &order).expect("answered");
    let made = expect(made, 201).expect("a lay").json();
    made["id"].as_str().expect("an id").to_owned()
}

fn wait(desk: &mut Workshop, path: &str) {
    let began = Instant::now();
    loop {
        let state = get(desk, path);
        match state["state"].as_str() {
            Some("running") if began.elapsed() < PATIENCE => {
                std::thread::sleep(Duration::from_millis(50));
            }
            Some("done") => return,
            _ => panic!("{path}: {state}"),
        }
    }
}

/// What was learned: the hands of one who stays, and the memory of their fabric.
fn learned(desk: &mut Workshop, performer: &str, fabric: &str) -> (Value, Value) {
    let hands = get(desk, &format!("/api/performers/{performer}"));
    (hands, get(desk, &format!("/api/fabrics/{fabric}/memory")))
}

#[test]
fn a_performer_with_everything_is_found_nowhere_and_what_was_learned_forgets_them() {
    let folder = Scratch::new("erase-everything");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    import_cast(&mut desk, &production);
    let stays = desk.performer(&production, "K01").expect("on the board");
    try_on(&mut desk, &stays, "");
    let fabric = fabric_of(&mut desk, &stays);
    post(&mut desk, "/hand-model", &[("action", "learn")], 303);
    let without = learned(&mut desk, &stays, &fabric);

    let erased = enter_everything(&mut desk, &server, &production);
    post(&mut desk, "/hand-model", &[("action", "learn")], 303);
    let with = learned(&mut desk, &stays, &fabric);
    assert!(
        with.0 != without.0 && with.1 != without.1,
        "they must have taught something: {with:?}"
    );
    let batch = batch_and_lay(&mut desk, &production);
    let batches = folder.path().join("batches");
    assert!(batches.join(format!("{batch}.zip")).is_file());
    assert!(found(&batches.join(format!("{batch}-lays")), CODE.as_bytes()), "the lay names them");
    for needle in needles() {
        let shown = String::from_utf8_lossy(&needle).into_owned();
        assert!(found(folder.path(), &needle), "the search must find {shown:?} before");
    }
    let export = get(&mut desk, &format!("/performers/{erased}/export.json"));
    for member in [
        "readings",
        "withdrawn",
        "consents",
        "acceptances",
        "skips",
        "drafts",
        "fittings",
        "withdrawn_fittings",
        "glove_changes",
    ] {
        let held = export[member].as_array().map_or(0, Vec::len);
        assert!(held > 0, "the house must hold {member}: {export}");
    }

    post(&mut desk, &format!("/performers/{erased}/erase"), &[("code", "K01")], 422);
    post(&mut desk, &format!("/performers/{erased}/erase"), &[("code", CODE)], 303);
    for needle in needles().into_iter().chain(other_ways()) {
        let shown = String::from_utf8_lossy(&needle).into_owned();
        assert!(!found(folder.path(), &needle), "{shown:?} is still in the data folder");
    }
    assert_eq!(files(&batches), Vec::<std::path::PathBuf>::new(), "files of drafts are left");
    assert_eq!(desk.client.get(&format!("/performers/{erased}")).expect("answered").status, 404);
    assert_eq!(learned(&mut desk, &stays, &fabric), without, "as if they had never come");
    server.kill().expect("killed");

    // A start makes the models again from what is left.
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    assert_eq!(learned(&mut desk, &stays, &fabric), without);
    server.kill().expect("killed");
    assert!(check::file(&folder.path().join("handcall.sqlite")).expect("checked").is_sound());
}

#[test]
fn a_production_with_everything_is_erased_by_its_name_and_only_counts_are_kept() {
    let folder = Scratch::new("erase-production");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let erased = enter_everything(&mut desk, &server, &production);
    let minor = desk.add_minor(&production, "QXMINOR", 9).expect("added");
    desk.consent(&minor, true).expect("recorded");
    let posted = desk.post_readings(&minor, &[reading("left", "hand_length", "140")]);
    expect(posted.expect("posted"), 200).expect("kept");
    let fabric = fabric_of(&mut desk, &erased);
    batch_and_lay(&mut desk, &production);
    let other = desk.add_production("The Tin Orchard").expect("added");
    let stays = desk.add_performer(&other, "TO01").expect("added");
    let everything = get(&mut desk, &format!("/productions/{production}/export.json"));
    assert_eq!(everything.as_array().map(Vec::len), Some(2), "two performers");
    let table = desk.client.get(&format!("/performers/{erased}/readings.csv")).expect("answered");
    // Four imported, two typed (one withdrawn since), one from home.
    assert_eq!(table.text().lines().count(), 1 + 7, "{}", table.text());

    let path = format!("/productions/{production}/erase");
    post(&mut desk, &path, &[("name", "The Salt")], 422);
    post(&mut desk, &path, &[("name", "The Salt Stair")], 303);
    let own = [b"QXMINOR".to_vec(), b"The Salt Stair".to_vec(), b"Kelp".to_vec()];
    for needle in needles().into_iter().chain(other_ways()).chain(own) {
        let shown = String::from_utf8_lossy(&needle).into_owned();
        assert!(!found(folder.path(), &needle), "{shown:?} is still in the data folder");
    }
    assert_eq!(files(&folder.path().join("batches")), Vec::<std::path::PathBuf>::new());
    let memory = desk.client.get(&format!("/api/fabrics/{fabric}/memory")).expect("answered");
    assert_eq!(memory.status, 404);
    let page = desk.client.get("/keeping").expect("answered").text();
    assert!(page.contains("2 performers, 8 readings"), "{page}");
    expect(desk.client.get(&format!("/performers/{stays}")).expect("answered"), 200).expect("kept");
    server.kill().expect("killed");
    assert!(check::file(&folder.path().join("handcall.sqlite")).expect("checked").is_sound());
}

#[test]
fn erasing_while_a_batch_or_a_lay_runs_leaves_no_file_of_either() {
    let folder = Scratch::new("erase-running");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let batches = folder.path().join("batches");
    let production = desk.add_production("The Salt Stair").expect("added");
    import_cast(&mut desk, &production);
    // Again and again at other moments: a thread must not write after its files were removed.
    for moment in 0..8 {
        let code = format!("K{moment:02}");
        let performer = desk.performer(&production, &code).expect("on the board");
        let batch = start_batch(&mut desk, &production);
        if moment % 2 == 1 {
            wait(&mut desk, &format!("/api/batches/{batch}"));
            start_lay(&mut desk, &batch, 60);
        }
        std::thread::sleep(Duration::from_millis(40 * moment));
        post(&mut desk, &format!("/performers/{performer}/erase"), &[("code", &code)], 303);
        std::thread::sleep(Duration::from_millis(100));
        assert_eq!(files(&batches), Vec::<std::path::PathBuf>::new(), "moment {moment}");
        assert!(!found(folder.path(), code.as_bytes()), "{code} is still in the data folder");
    }
    let unsound = Command::new("find").arg(&batches).args(["-mindepth", "1"]).output();
    let left = String::from_utf8_lossy(&unsound.expect("find").stdout).into_owned();
    assert_eq!(left, "", "a folder is left");
}
