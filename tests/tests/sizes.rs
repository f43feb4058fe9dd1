//! Sizes and the cast in figures over HTTP: an empty cast, a cast of one and one of identical hands
//! are answered in words; inputs are refused at their place; the hands of the sizes can be drafted
//! like a roster.

use std::process::Command;

use handcall_tests::place::{Scratch, command};
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use serde_json::Value;
use uuid::Uuid;

/// Readings of an invented right hand, mm.
const HAND: [(&str, &str); 4] = [
    ("hand_length", "186"),
    ("hand_girth", "197"),
    ("middle_length", "79"),
    ("middle_knuckle_girth", "63"),
];

fn readings() -> Vec<Sent> {
    let sent = |(dimension, value): (&'static str, &str)| Sent {
        id: Uuid::now_v7(),
        side: "right",
        dimension,
        value: value.to_owned(),
    };
    HAND.into_iter().map(sent).collect()
}

#[test]
fn an_empty_cast_a_cast_of_one_and_identical_hands_get_words_and_figures() {
    let data = Scratch::new("sizes");
    let server = Running::start(data.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let home = format!("/productions/{production}");
    let get = |desk: &mut Workshop, path: &str| {
        expect(desk.client.get(path).expect("answered"), 200).expect("answered well")
    };
    assert!(get(&mut desk, &format!("{home}/sizes")).text().contains("Nobody is measured yet"));
    assert!(get(&mut desk, &format!("{home}/cast")).text().contains("Nobody is measured yet"));
    for path in ["sizes", "cast"] {
        let path = format!("/api/productions/{production}/{path}");
        assert_eq!(get(&mut desk, &path).json(), Value::Null);
    }
    for path in ["cast.csv", "hands.csv", "sizes.csv", "size-hands.csv"] {
        assert_eq!(get(&mut desk, &format!("{home}/{path}")).text().trim().lines().count(), 1);
    }
    assert!(get(&mut desk, &format!("{home}/sizes.pdf")).body.starts_with(b"%PDF"));
    // Stock needs no cast.
    let stock = format!("/api/productions/{production}/sizes?for=girl_9&sizes=3&by=centres");
    let stock = get(&mut desk, &stock).json();
    assert_eq!(stock["chosen"].as_array().map(Vec::len), Some(3));
    assert_eq!(stock["performers"].as_array().map(Vec::len), Some(0));

    for count in [1, 5] {
        for at in 0..count {
            let code = format!("P{count}{at}");
            let performer = desk.add_performer(&production, &code).expect("added");
            desk.post_readings(&performer, &readings()).expect("posted");
        }
        let sizes = get(&mut desk, &format!("/api/productions/{production}/sizes")).json();
        assert_eq!(sizes["sizes"], 1, "one size serves identical hands");
        assert_eq!(sizes["outside"], 0);
        assert_eq!(sizes["curve"][0]["misfit"], 0.0);
        let cast = format!("/api/productions/{production}/cast?dimension=hand_girth");
        let cast = get(&mut desk, &cast).json();
        let held = |bin: &Value| bin["measured"].as_u64().unwrap_or(0);
        let bins = cast["shown"]["bins"].as_array().expect("columns");
        let everybody: u64 = bins.iter().map(held).sum();
        assert_eq!(Some(everybody), sizes["counted"].as_u64());
        for path in ["sizes", "cast", "sizes.pdf"] {
            get(&mut desk, &format!("{home}/{path}"));
        }
    }
}

#[test]
fn inputs_are_refused_at_their_place_and_what_was_typed_stays() {
    let data = Scratch::new("sizes-refused");
    let server = Running::start(data.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let performer = desk.add_performer(&production, "TW01").expect("added");
    desk.post_readings(&performer, &readings()).expect("posted");
    for (page, field, query, code) in [
        ("sizes", "sizes", "sizes=0", "number_out_of_bounds"),
        ("sizes", "understudies", "understudies=501", "number_out_of_bounds"),
        ("sizes", "for", "for=boy_2", "not_on_the_list"),
        ("sizes", "kept", "kept=TW01+TW77", "performer_code_unknown"),
        ("sizes", "girth", "girth=wide", "value_not_a_number"),
        ("sizes", "knuckle", "knuckle=0", "value_zero"),
        ("cast", "side", "side=both", "not_on_the_list"),
        ("cast", "along", "along=foot_length", "not_on_the_list"),
    ] {
        let answer = desk.client.get(&format!("/api/productions/{production}/{page}?{query}"));
        let answer = answer.expect("answered");
        assert_eq!(answer.status, 422, "{query}");
        let problem = answer.json();
        assert_eq!(problem["code"].as_str(), Some(code), "{query}");
        assert_eq!(problem["field"].as_str(), Some(field), "{query}");
        let address = format!("/productions/{production}/{page}?{query}&length=194");
        let shown = desk.client.get(&address).expect("answered");
        assert_eq!(shown.status, 422, "{query}");
        assert!(shown.text().contains(&format!("id=\"{field}-error\"")), "{query}");
        assert!(page != "sizes" || shown.text().contains("value=\"194\""), "{query}");
    }
}

#[test]
fn kept_sizes_stay_and_their_hands_can_be_drafted_like_a_roster() {
    let data = Scratch::new("sizes-kept");
    let demo = Command::new(command())
        .args(["demo", "--no-serve", "--data"])
        .arg(data.path())
        .output()
        .expect("the command starts");
    assert!(demo.status.success());
    let server = Running::start(data.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let page = desk.client.get("/").expect("the productions").text();
    let home = page.split("/productions/").nth(1).and_then(|r| r.get(..36)).expect("a production");
    let asked = format!("/api/productions/{home}/sizes?kept=TW08+TW11");
    let kept = expect(desk.client.get(&asked).expect("answered"), 200).expect("well").json();
    let names: Vec<&str> = kept["chosen"]
        .as_array()
        .expect("sizes")
        .iter()
        .filter_map(|s| s["drafted_for"].as_str())
        .collect();
    assert_eq!(names.len(), 2);
    assert!(names.contains(&"TW08") && names.contains(&"TW11"));
    let of = |code: &str| {
        let mut all = kept["performers"].as_array().expect("performers").iter();
        all.find(|one| one["code"].as_str() == Some(code)).cloned().expect("listed")
    };
    assert_eq!(of("TW08")["misfit"].as_f64(), Some(0.0));
    assert_eq!(of("TW11")["fits"].as_bool(), Some(true));

    let hands = format!("/productions/{home}/size-hands.csv?for=women&sizes=3&by=centres");
    let hands = expect(desk.client.get(&hands).expect("answered"), 200).expect("well");
    let roster = data.path().join("sizes.csv");
    std::fs::write(&roster, &hands.body).expect("written");
    let out = data.path().join("drafts");
    let drafted = Command::new(command()).arg("draft").arg(&roster).arg("--out").arg(&out).output();
    let drafted = drafted.expect("the command starts");
    let said = String::from_utf8_lossy(&drafted.stdout).into_owned();
    assert!(drafted.status.success(), "{said}{}", String::from_utf8_lossy(&drafted.stderr));
    let files: Vec<String> = std::fs::read_dir(&out)
        .expect("drafts")
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .collect();
    let pdfs = files.iter().filter(|name| name.contains("SIZE") && name.ends_with(".pdf")).count();
    assert_eq!(pdfs, 6, "three pairs: {files:?}");
}
