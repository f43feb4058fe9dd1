//! How well the measurers measure, over HTTP: the repeat exercise from start to figures, and a hand
//! model that learns from the workshop's own hands and forgets whoever is erased.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use analysis::dimension::Dimension;
use analysis::hand::Side;
use analysis::model::{HandModel, Population, Sampler};
use handcall_tests::client::Client;
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::seeded::Seeded;
use handcall_tests::workshop::{Sent, Workshop};
use serde_json::Value;
use uuid::Uuid;

/// Measures one hand of an exercise; gives the status.
fn measure(
    desk: &mut Workshop,
    production: &str,
    (round, performer): (&str, &str),
    values: [&str; 2],
) -> (u16, String) {
    let ids = [Uuid::now_v7().to_string(), Uuid::now_v7().to_string()];
    let fields = [
        ("csrf", desk.token.clone()),
        ("round", round.to_owned()),
        ("performer", performer.to_owned()),
        ("side", "right".to_owned()),
        ("unit", "mm".to_owned()),
        ("id-hand_length", ids[0].clone()),
        ("value-hand_length", values[0].to_owned()),
        ("id-wrist_girth", ids[1].clone()),
        ("value-wrist_girth", values[1].to_owned()),
    ];
    let fields: Vec<_> = fields.iter().map(|(k, v)| (*k, v.as_str())).collect();
    let path = format!("/productions/{production}/exercise/hand");
    let answer = desk.client.post_form(&path, &fields).expect("answered");
    (answer.status, answer.text())
}

#[test]
fn hands_measured_twice_blind_give_the_technical_error() {
    let folder = Scratch::new("exercise");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let cast: Vec<String> =
        ["A1", "A2", "A3"].map(|code| desk.add_performer(&production, code).expect("added")).into();
    let page = format!("/productions/{production}/exercise");
    let start = |desk: &mut Workshop, ticks: &[String]| {
        let mut fields = vec![("csrf", desk.token.clone())];
        fields.extend(ticks.iter().map(|tick| (tick.as_str(), "1".to_owned())));
        let fields: Vec<_> = fields.iter().map(|(k, v)| (*k, v.as_str())).collect();
        desk.client.post_form(&page, &fields).expect("answered").status
    };
    assert_eq!(start(&mut desk, &["dimension-hand_length".to_owned()]), 422, "no hand is ticked");
    let mut ticks: Vec<String> = cast.iter().map(|id| format!("hand-{id}-right")).collect();
    ticks.extend(["dimension-hand_length".to_owned(), "dimension-wrist_girth".to_owned()]);
    assert_eq!(start(&mut desk, &ticks), 303);
    let (status, text) =
        measure(&mut desk, &production, ("1", &cast[0]), ["180", "one hundred and fifty"]);
    assert_eq!(status, 422);
    assert!(text.contains("value=\"180\""), "what was entered stays");
    let rounds = [("1", ["180.5", "190.5", "175.5"]), ("2", ["181.5", "188.5", "178.5"])];
    for (round, lengths) in rounds {
        for (performer, length) in cast.iter().zip(lengths) {
            if round == "2" {
                let seen = desk.client.get(&page).expect("the page").text();
                assert!(!seen.contains("175.5"), "the second round is blind");
            }
            let (status, _) = measure(&mut desk, &production, (round, performer), [length, "150"]);
            assert_eq!(status, 303);
        }
    }
    // Differences 1, -2, 3: sqrt((1 + 4 + 9) / 6) = 1.53 (arithmetic).
    let over = desk.client.get(&page).expect("the page").text();
    assert!(over.contains("1.53 mm"), "the figures stand at the end of the exercise");
    let api = format!("/api/productions/{production}/measurers");
    let all = desk.client.get(&api).expect("answered").json();
    let report = &all["measurers"][0];
    assert_eq!(report["name"], "administrator");
    let length = &report["repeats"][0];
    assert_eq!(length["dimension"], "hand_length");
    assert_eq!((&length["pairs"], &length["blind"]), (&3.into(), &true.into()));
    assert_eq!(length["tem_mm"], 1.53);
    assert_eq!((&length["widest_code"], &length["widest_mm"]), (&"A3".into(), &3.0.into()));
    assert_eq!(report["repeats"][1]["tem_mm"], 0.0);
    // The readings are the performers' own.
    assert_eq!(desk.reading_ids(&cast[0]).expect("readings").len(), 4);
    // A measurer is told of nobody else.
    let link = desk.add_account("Second tape", "measurer").expect("a link");
    let mut other = server.signed_in_by(&link).expect("signed in");
    let told = other.get(&api).expect("answered").json();
    assert_eq!(told["measurers"].as_array().map(Vec::len), Some(0));
}

fn model_for(client: &mut Client) -> Value {
    let answer = client.get("/api/model").expect("answered");
    assert_eq!(answer.status, 200);
    answer.json()["model"].clone()
}

fn switch(desk: &mut Workshop, action: &str) -> u16 {
    let fields = [("csrf", desk.token.as_str()), ("action", action)];
    desk.client.post_form("/hand-model", &fields).expect("answered").status
}

#[test]
fn the_model_learns_from_thirty_hands_and_forgets_whoever_is_erased() {
    let folder = Scratch::new("learning");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let mut guest = Client::new(server.address);
    let published = model_for(&mut guest);
    let sampler = Sampler::new(&HandModel::published(), Population::Women).expect("women");
    let mut seeded = Seeded::new(31);
    // Twelve uniform numbers less six are near enough to a normal one.
    let mut normal = || {
        let mut uniform = || u32::try_from(seeded.between(0, 1 << 20)).map_or(0.0, f64::from);
        (0..12).map(|_| uniform()).sum::<f64>() / f64::from(1 << 20) - 6.0
    };
    let mut cast = Vec::new();
    for number in 1..=18 {
        let code = format!("C{number}");
        let performer = desk.add_performer(&production, &code).expect("added");
        let hands = sampler.readings(&mut normal);
        let mut readings = Vec::new();
        for side in Side::BOTH {
            for d in [Dimension::HandLength, Dimension::HandBreadth, Dimension::WristGirth] {
                let mm = hands.side(side)[d].map_or(0.0, |s| s.median_mm);
                readings.push(Sent {
                    id: Uuid::now_v7(),
                    side: side.key(),
                    dimension: d.key(),
                    value: mm.to_string(),
                });
            }
        }
        let answer = desk.post_readings(&performer, &readings).expect("answered");
        assert_eq!(answer.status, 200);
        cast.push((performer, code));
        if number == 14 {
            assert_eq!(switch(&mut desk, "learn"), 409, "28 hands are too few");
        }
    }
    assert_eq!(model_for(&mut desk.client), published, "off until somebody wants it");
    assert_eq!(switch(&mut desk, "learn"), 303);
    let learned = model_for(&mut desk.client);
    assert_ne!(learned, published);
    assert_eq!(model_for(&mut guest), published, "learned figures are for those signed in");
    let page = desk.client.get("/hand-model").expect("the page").text();
    assert!(page.contains("<b>36</b>"), "it says from how many hands");
    // Somebody is erased: what the server answers is what it would have learned without them.
    let (gone, code) = cast.pop().expect("somebody");
    let fields = [("csrf", desk.token.as_str()), ("code", code.as_str())];
    let erased = desk.client.post_form(&format!("/performers/{gone}/erase"), &fields);
    assert_eq!(erased.expect("answered").status, 303);
    let without = model_for(&mut desk.client);
    assert_ne!(without, learned);
    assert_eq!(switch(&mut desk, "reset"), 303);
    assert_eq!(model_for(&mut desk.client), published);
    assert_eq!(switch(&mut desk, "learn"), 303);
    assert_eq!(model_for(&mut desk.client), without);
    // Below thirty hands the published figures are used again.
    for (performer, code) in cast.split_off(14) {
        let fields = [("csrf", desk.token.as_str()), ("code", code.as_str())];
        let erased = desk.client.post_form(&format!("/performers/{performer}/erase"), &fields);
        assert_eq!(erased.expect("answered").status, 303);
    }
    assert_eq!(model_for(&mut desk.client), published);
}
