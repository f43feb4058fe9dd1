//! The description of the API against the server: every address of the route table that is for
//! scripts is described, every described one is there, and answers are as they are described.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::collections::BTreeSet;
use std::process::Command;
use std::thread::sleep;
use std::time::{Duration, Instant};

use handcall_tests::place::{Scratch, command, repository};
use handcall_tests::running::Running;
use handcall_tests::script::Script;
use serde_json::{Value, json};

/// Whatever is worked out takes less.
const PATIENCE: Duration = Duration::from_secs(120);

const NOBODY: &str = "00000000-0000-7000-8000-000000000000";

/// Method and address of everything for scripts in the sources of the routes: what is posted, and
/// what is got under `/api`.
fn routed() -> BTreeSet<(&'static str, String)> {
    let folder = repository().join("server/src/routes");
    let mut found = BTreeSet::new();
    for file in std::fs::read_dir(folder).expect("the routes").filter_map(Result::ok) {
        let text = std::fs::read_to_string(file.path()).unwrap_or_default();
        let Some((_, rest)) = text.split_once("fn configure(") else { continue };
        let body = rest.split("\n}\n").next().unwrap_or("");
        let pieces: Vec<&str> = body.split('"').collect();
        for pair in pieces.get(1..).unwrap_or_default().chunks(2) {
            let [path, until] = pair else { continue };
            let may = |method| until.contains(method);
            if may("post()") {
                found.insert(("post", (*path).to_owned()));
            }
            if may("get()") && path.starts_with("/api/") {
                found.insert(("get", (*path).to_owned()));
            }
        }
    }
    found
}

fn company(folder: &Scratch) -> Running {
    let demo = Command::new(command())
        .args(["demo", "--no-serve", "--data"])
        .arg(folder.path())
        .output()
        .expect("the command starts");
    assert!(demo.status.success(), "{}", String::from_utf8_lossy(&demo.stderr));
    Running::start(folder.path()).expect("it starts")
}

/// Asks again until it is over.
fn ended(script: &mut Script, address: &str, id: &str) -> Value {
    let began = Instant::now();
    loop {
        let state = script.get(address, &[id], "").expect("as described").json();
        if state["state"] != "running" {
            return state;
        }
        assert!(began.elapsed() < PATIENCE, "{address} does not end: {state}");
        sleep(Duration::from_millis(50));
    }
}

fn id(answer: &Value) -> String {
    answer["id"].as_str().expect("an id").to_owned()
}

#[test]
fn the_description_and_the_server_say_the_same() {
    let folder = Scratch::new("openapi");
    let server = company(&folder);
    let mut script = Script::open(&server).expect("signed in");
    let paths = script.description["paths"].as_object().expect("paths").clone();
    let described: BTreeSet<(&str, String)> = paths
        .iter()
        .flat_map(|(path, methods)| {
            let known = ["get", "post"].into_iter().filter(|method| methods.get(*method).is_some());
            known.map(|method| (method, path.clone()))
        })
        .collect();
    assert_eq!(described, routed());
    assert!(described.len() > 70, "{}", described.len());

    let productions = script.get("/api/productions", &[], "").expect("as described").json();
    let home = id(&productions[0]);
    let board = script.get("/api/productions/{id}/board", &[&home], "").expect("as described");
    let someone = id(&board.json()["rows"][0]);
    let two = json!([board.json()["rows"][0]["id"], board.json()["rows"][1]["id"]]);
    let fabrics = script.get("/api/productions/{id}/fabrics", &[&home], "").expect("as described");
    let cloth = id(&fabrics.json()[0]);
    let order = json!({ "paper": "a4", "performers": two });
    let made = script.post("/api/productions/{id}/batches", &[&home], &order);
    let batch = id(&made.expect("as described").json());
    assert_eq!(ended(&mut script, "/api/batches/{id}", &batch)["state"], "done");
    let order = json!({
        "width_mm": 1400, "gap_mm": 3, "is_one_way": true, "spare_pairs": 1, "seconds": 1,
    });
    let made = script.post("/batches/{id}/lay", &[&batch], &order).expect("as described");
    assert_eq!(made.status, 201);
    let lay = id(&made.json());
    let laid = ended(&mut script, "/api/lays/{id}", &lay);
    assert_eq!((&laid["state"], &laid["order"]["is_one_way"]), (&json!("done"), &json!(true)));

    for (path, _) in paths.iter().filter(|(_, methods)| methods.get("get").is_some()) {
        if path.ends_with("/events") {
            continue;
        }
        let known = match path {
            _ if path.contains("performers") => &someone,
            _ if path.starts_with("/api/fabrics/") => &cloth,
            _ if path.starts_with("/api/batches/") => &batch,
            _ if path.starts_with("/api/lays/") => &lay,
            _ => &home,
        };
        let answer = script.get(path, &[known], "").unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(answer.status, 200, "{path}");
        if path.contains("{id}") {
            let refused = script.get(path, &[NOBODY], "").unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(refused.status, 404, "{path}");
        }
    }
    for (path, query, field) in [
        ("/api/productions/{id}/sizes", "?sizes=many", "sizes"),
        ("/api/productions/{id}/cast", "?dimension=nose", "dimension"),
    ] {
        let refused = script.get(path, &[&home], query).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!((refused.status, &refused.json()["field"]), (422, &json!(field)), "{path}");
    }
}
