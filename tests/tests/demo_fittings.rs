//! The demo's fittings: what `demo-data/fittings.csv` says is what the pages of fittings show, read
//! here without the product's own reader.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use handcall_tests::place::{Scratch, command, repository};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Workshop, expect};
use serde_json::Value;

fn rows() -> Vec<BTreeMap<String, String>> {
    let path = repository().join("demo-data/fittings.csv");
    let mut reader = csv::Reader::from_path(path).expect("the file");
    reader.deserialize().map(|row| row.expect("a row")).collect()
}

fn get(desk: &mut Workshop, path: &str) -> Value {
    expect(desk.client.get(path).expect("answered"), 200).expect("well").json()
}

#[test]
fn every_fitting_of_the_company_is_kept_and_two_fabrics_have_learned() {
    let folder = Scratch::new("demo-fittings");
    let mut demo = Command::new(command());
    let demo = demo.args(["demo", "--no-serve", "--data"]).arg(folder.path());
    assert!(demo.output().expect("it runs").status.success());
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let home = desk.client.get("/").expect("answered").text();
    let home = home.split("/productions/").nth(1).and_then(|r| r.get(..36)).expect("the show");
    let rows = rows();
    let codes: BTreeSet<&str> = rows.iter().map(|row| row["performer"].as_str()).collect();
    let mut fabrics = BTreeSet::new();
    for code in codes {
        let of_theirs: Vec<_> = rows.iter().filter(|row| row["performer"] == code).collect();
        let id = desk.performer(home, code).expect("on the board");
        let known = get(&mut desk, &format!("/api/performers/{id}/fittings"));
        let kept = known["fittings"].as_array().expect("fittings");
        assert_eq!(kept.len(), of_theirs.len(), "{code}");
        for (kept, row) in kept.iter().zip(of_theirs) {
            assert_eq!(kept["side"], row["side"].as_str(), "{code}");
            assert_eq!(kept["glove"]["number"].to_string(), row["glove"], "{code}");
        }
        let sewn = known["gloves"].as_array().map_or(0, Vec::len);
        assert!(sewn >= 1, "{code} has a glove to try on");
        fabrics.insert(kept[0]["fabric"].as_str().expect("a fabric").to_owned());
    }
    assert_eq!(fabrics.len(), 2);
    for fabric in fabrics {
        let memory = get(&mut desk, &format!("/api/fabrics/{fabric}/memory"));
        let zones = memory["memory"]["zones"].as_array().expect("zones").clone();
        let (zone, least) = match memory["name"].as_str().expect("a name") {
            "Tide moderate knit" => ("wrist", 4),
            _ => ("index_knuckle", 3),
        };
        // The file says of whom: more room was wanted there by everybody who wanted a change first.
        let learned = zones.iter().find(|learned| learned["zone"] == zone).expect("learned");
        assert!(learned["performers"].as_u64() >= Some(least), "{learned}");
        assert!(learned["ease"].as_f64() > Some(0.0), "{learned}");
        let needed = memory["needed"].as_array().expect("counted").clone();
        assert!(needed[0]["hands"].as_u64() >= Some(4), "{needed:?}");
        if zone == "wrist" {
            // Twelve hands: ten, then two that needed fewer gloves.
            let mean = |at: usize| needed[at]["mean"].as_f64().expect("settled");
            assert!(needed.len() == 3 && mean(2) < mean(1), "{needed:?}");
        }
    }
}
