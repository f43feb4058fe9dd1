//! Before a batch runs it is decided for each performer: drafted, measured again, left out. What is to
//! be measured again is known to the board and to phones until a new reading arrives.

use std::process::Command;
use std::time::{Duration, Instant};

use analysis::dimension::Dimension;
use analysis::hand::{Hands, Side};
use analysis::model::{HandModel, Population};
use analysis::units::Unit;
use handcall::enrol::enrol;
use handcall::import::roster;
use handcall::store::performer::PRODUCTION_LIMIT;
use handcall::store::{Store, audit, production};
use handcall_tests::client::Answer;
use handcall_tests::page::forms;
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use serde_json::{Value, json};
use uuid::Uuid;

/// A production served: one mostly estimated, one with a slip, one not measured, one complete.
struct House {
    desk: Workshop,
    store: Store,
    home: String,
    ids: Vec<String>,
    _server: Running,
}

fn reading(dimension: &'static str, value: &str) -> Sent {
    Sent { id: Uuid::now_v7(), side: "right", dimension, value: value.to_owned() }
}

/// Every dimension of the middle woman, both hands, as a tape would read it: nothing odd, nothing missing.
fn complete() -> Vec<Sent> {
    let hands = HandModel::published().fill(Population::Women, &Hands::default());
    let one = |side: Side, dimension: Dimension| Sent {
        id: Uuid::now_v7(),
        side: side.key(),
        dimension: dimension.key(),
        value: format!("{:.1}", hands.side(side).mm(dimension)),
    };
    Side::BOTH.into_iter().flat_map(|side| Dimension::ALL.map(|d| one(side, d))).collect()
}

#[expect(clippy::expect_used, reason = "a test cannot go on without its house")]
fn house(folder: &Scratch) -> House {
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    let home = desk.add_production("The Salt Stair").expect("added");
    let mut add = |code: &str, readings: &[Sent]| {
        let id = desk.add_performer(&home, code).expect("added");
        desk.post_readings(&id, readings).expect("posted");
        id
    };
    let few = [reading("hand_length", "181"), reading("hand_girth", "187")];
    let slip = [
        reading("hand_length", "183"),
        reading("hand_girth", "190"),
        reading("middle_length", "780"),
    ];
    let ids = vec![add("FEW", &few), add("SLIP", &slip), add("NONE", &[]), add("ALL", &complete())];
    let store = Store::open(&folder.path().join("handcall.sqlite")).expect("the same database");
    House { desk, store, home, ids, _server: server }
}

impl House {
    #[expect(clippy::expect_used, reason = "a test cannot go on without the page")]
    fn text(&mut self, path: &str) -> String {
        expect(self.desk.client.get(path).expect("answered"), 200).expect("a page").text()
    }

    fn batches(&self) -> String {
        format!("/productions/{}/batches", self.home)
    }

    /// Sends the form with a word for each performer in their order.
    #[expect(clippy::expect_used, reason = "a test cannot go on without an answer")]
    fn decide(&mut self, words: [&str; 4], more: &[(&str, &str)]) -> Answer {
        let names: Vec<String> = self.ids.iter().map(|id| format!("for-{id}")).collect();
        let token = self.desk.token.clone();
        let mut fields = vec![("csrf", token.as_str()), ("decided", "1")];
        if !more.iter().any(|(name, _)| *name == "paper") {
            fields.push(("paper", "a4"));
        }
        fields.extend(names.iter().map(String::as_str).zip(words));
        fields.extend_from_slice(more);
        self.desk.client.post_form(&self.batches(), &fields).expect("answered")
    }

    /// What the form shows for each performer: the word chosen and all that can be.
    fn shown(&mut self) -> Vec<(String, Vec<String>)> {
        let page = self.text(&self.batches());
        decisions(&page)
    }

    fn row(&mut self, at: usize) -> Value {
        let board: Value =
            serde_json::from_str(&self.text(&format!("/api/productions/{}/board", self.home)))
                .unwrap_or_default();
        board["rows"][at].clone()
    }

    /// How many performers the newest batch holds.
    #[expect(clippy::expect_used, reason = "a test cannot go on without the batch")]
    fn newest_total(&mut self) -> u64 {
        let page = self.text(&self.batches());
        let id =
            page.split("data-batch=\"").nth(1).and_then(|rest| rest.get(..36)).expect("a batch");
        let state: Value =
            serde_json::from_str(&self.text(&format!("/api/batches/{id}"))).expect("JSON");
        state["total"].as_u64().expect("a number")
    }
}

impl House {
    /// The call sheet of the newest batch, once it is done.
    #[expect(clippy::expect_used, reason = "a test cannot go on without the batch")]
    fn call_sheet(&mut self, folder: &Scratch) -> String {
        let began = Instant::now();
        loop {
            let page = self.text(&self.batches());
            let card = page.split("data-batch=\"").nth(1).expect("a batch");
            let id = card.get(..36).expect("an id");
            if card.split("</li>").next().is_some_and(|card| card.contains("gloves.zip")) {
                let zip = self.desk.client.get(&format!("/batches/{id}/gloves.zip")).expect("got");
                let path = folder.path().join("got.zip");
                std::fs::write(&path, zip.body).expect("written");
                let sheet =
                    Command::new("unzip").arg("-p").arg(&path).arg("call-sheet.csv").output();
                return String::from_utf8_lossy(&sheet.expect("unzip").stdout).into_owned();
            }
            assert!(began.elapsed() < Duration::from_secs(120), "stuck");
            std::thread::sleep(Duration::from_millis(30));
        }
    }
}

fn decisions(page: &str) -> Vec<(String, Vec<String>)> {
    let lists = page.split("<select name=\"for-").skip(1);
    lists
        .map(|list| {
            let list = list.split("</select>").next().unwrap_or_default();
            let options = list.split("<option value=\"").skip(1);
            let word = |option: &str| option.split('"').next().unwrap_or_default().to_owned();
            let chosen = options
                .clone()
                .find(|option| option.split('>').next().unwrap_or_default().contains("selected"));
            (chosen.map(word).unwrap_or_default(), options.map(word).collect())
        })
        .collect()
}

#[test]
fn each_performer_has_one_choice_and_measuring_again_lasts_until_a_new_reading() {
    let folder = Scratch::new("again");
    let mut house = house(&folder);
    let all = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
    let three = all(&["draft", "again", "out"]);
    assert_eq!(
        house.shown(),
        [
            ("draft".to_owned(), three.clone()),
            ("draft".to_owned(), three.clone()),
            ("out".to_owned(), three.clone()),
            ("draft".to_owned(), all(&["draft", "out"])),
        ]
    );
    assert_eq!(house.row(1)["measure_again"], Value::Null);

    assert_eq!(house.decide(["draft", "again", "again", "out"], &[]).status, 303);
    assert_eq!(house.newest_total(), 1);
    // Whoever is measured again is called for it, though nothing of theirs is drafted.
    let sheet = house.call_sheet(&folder);
    let lines: Vec<_> =
        sheet.lines().skip(1).map(|line| line.split(',').collect::<Vec<_>>()).collect();
    let codes: Vec<_> = lines.iter().map(|cells| cells[1]).collect();
    assert_eq!(codes, ["FEW", "SLIP", "NONE"]);
    assert_eq!(lines[1][4], "measure again: right middle finger length");
    assert!(lines[2][3] == "0 of 50" && lines[2][4].starts_with("measure again: "), "{sheet}");
    // The board, the phones and the page say so, with the reading that would help most: of SLIP the
    // one that is flagged, of NONE the first of the plan.
    let slip = json!({ "helps_most": { "side": "right", "dimension": "middle_length" } });
    assert_eq!(house.row(1)["measure_again"], slip);
    assert!(house.row(2)["measure_again"]["helps_most"]["dimension"].is_string());
    assert_eq!(house.row(0)["measure_again"], Value::Null);
    let pack: Value =
        serde_json::from_str(&house.text(&format!("/api/productions/{}/pack", house.home)))
            .expect("JSON");
    assert_eq!(pack["people"][1]["state"]["measure_again"], slip);
    let board = house.text(&format!("/productions/{}", house.home));
    assert!(
        board.contains("measure again: Right") && board.contains("data-count=\"measure_again\">2<"),
        "{board}"
    );
    let path = format!("/performers/{}", house.ids[1]);
    assert!(house.text(&path).contains("step=middle_length"));
    let export: Value =
        serde_json::from_str(&house.text(&format!("{path}/export.json"))).expect("JSON");
    assert_eq!(export["measure_again"]["asked_by"], "administrator");

    // Who decided is in the audit trail, without a measurement; the same decision again is no new line.
    let lines = |store: &Store| {
        let entries = store.read_now(audit::list).expect("read");
        let ours = entries.into_iter().filter(|entry| entry.action.starts_with("measure_again"));
        ours.map(|entry| (entry.action, entry.object)).collect::<Vec<_>>()
    };
    let asked = |at: usize| ("measure_again_asked".to_owned(), house.ids[at].clone());
    let mut expected = [asked(1), asked(2)];
    expected.sort();
    let mut found = lines(&house.store);
    found.sort();
    assert_eq!(found, expected);
    assert_eq!(house.shown()[1], ("still".to_owned(), all(&["draft", "still", "out"])));
    assert_eq!(house.decide(["draft", "still", "out", "draft"], &[]).status, 303);
    assert_eq!(house.newest_total(), 2);
    // NONE was left out instead, so that is taken back.
    assert_eq!(lines(&house.store).len(), 3);
    assert_eq!(house.row(2)["measure_again"], Value::Null);

    // A script that names nobody leaves SLIP out as well, and may decide itself.
    let token = house.desk.token.clone();
    let path = format!("/api{}", house.batches());
    let order = |house: &mut House, body: Value| {
        house.desk.client.post_json(&path, &token, &body).expect("answered").json()["total"]
            .as_u64()
    };
    assert_eq!(order(&mut house, json!({ "paper": "a4" })), Some(3));
    let first = house.ids[0].clone();
    assert_eq!(order(&mut house, json!({ "paper": "a4", "measure_again": [first] })), Some(2));
    assert!(house.row(0)["measure_again"]["helps_most"].is_object());

    // Taking the repair that the flag suggests is no measuring. A new reading is; a page made before
    // that says "still" drafts them.
    let slip = house.ids[1].clone();
    let repair = json!({ "device": "test", "facts": [{
        "fact": "reading", "id": Uuid::now_v7(), "performer": slip, "side": "right",
        "dimension": "middle_length", "value": "78", "unit": "mm", "is_repair": true,
    }] });
    let token = house.desk.token.clone();
    expect(house.desk.client.post_json("/api/facts", &token, &repair).expect("answered"), 200)
        .expect("kept");
    assert!(house.row(1)["measure_again"].is_object());
    house.desk.post_readings(&slip, &[reading("middle_length", "79")]).expect("posted");
    assert_eq!(house.row(1)["measure_again"], Value::Null);
    assert_eq!(house.decide(["out", "still", "out", "out"], &[]).status, 303);
    assert_eq!(house.newest_total(), 1);
}

#[test]
fn it_is_asked_for_and_taken_back_on_the_page_of_a_performer() {
    let folder = Scratch::new("again-page");
    let mut house = house(&folder);
    let path = format!("/performers/{}", house.ids[3]);
    for (asks, is_asked) in [("1", true), ("1", true), ("", false)] {
        let token = house.desk.token.clone();
        let fields = [("csrf", token.as_str()), ("ask", asks)];
        let answer =
            house.desk.client.post_form(&format!("{path}/again"), &fields).expect("answered");
        assert_eq!(answer.status, 303);
        assert_eq!(house.row(3)["measure_again"].is_object(), is_asked);
        let page = house.text(&path);
        let form =
            forms(&page).into_iter().find(|form| form.action.ends_with("/again")).expect("a form");
        assert_eq!(form.value("ask"), if is_asked { None } else { Some("1") });
    }
    // Erasing forgets it.
    let token = house.desk.token.clone();
    let slip = house.ids[1].clone();
    let ask = house
        .desk
        .client
        .post_form(&format!("/performers/{slip}/again"), &[("csrf", &token), ("ask", "1")]);
    assert_eq!(ask.expect("answered").status, 303);
    let erase = [("csrf", token.as_str()), ("code", "SLIP")];
    let erased = house
        .desk
        .client
        .post_form(&format!("/performers/{slip}/erase"), &erase)
        .expect("answered");
    assert_eq!(erased.status, 303);
    let held = house.store.read_now(|c| {
        Ok(c.query_row("SELECT count(*) FROM measure_again", [], |row| row.get::<_, i64>(0))?)
    });
    assert_eq!(held.expect("read"), 0);
}

#[test]
fn a_refused_form_comes_back_as_it_was_sent_and_decides_nothing() {
    let folder = Scratch::new("again-refused");
    let mut house = house(&folder);
    let narrow = [("paper", "roll"), ("roll_width", "12"), ("which", "changed")];
    let refused = house.decide(["again", "out", "draft", "out"], &narrow);
    assert_eq!(refused.status, 422);
    let page = refused.text();
    let chosen: Vec<String> = decisions(&page).into_iter().map(|(chosen, _)| chosen).collect();
    assert_eq!(chosen, ["again", "out", "draft", "out"]);
    assert!(page.contains("value=\"12\"") && page.contains("value=\"changed\" selected"));
    assert_eq!(house.row(0)["measure_again"], Value::Null);
    let nobody = house.decide(["again", "out", "out", "out"], &[]);
    assert_eq!(nobody.status, 422);
    assert_eq!(house.row(0)["measure_again"], Value::Null);
}

#[test]
fn the_form_of_a_cast_of_a_thousand_is_taken_and_one_beyond_the_limit_refused_with_words() {
    const CAST: usize = 1000;
    let folder = Scratch::new("again-thousand");
    let mut text = "code,sex,hand length,hand girth\n".to_owned();
    for at in 0..CAST {
        text += &format!("T{at:04},f,{},{}\n", 173 + at % 17, 179 + at % 17);
    }
    let rows = roster::read(text.as_bytes(), Unit::Mm).rows;
    let store = Store::open(&folder.path().join("handcall.sqlite")).expect("opened");
    let home = store.write_now(move |c| {
        let home = production::add(c, "The Long Stair")?;
        enrol(c, home, &rows, "test")?;
        Ok(home)
    });
    let home = home.expect("stored");
    let server = Running::start(folder.path()).expect("it starts");
    let mut desk = Workshop::open(&server).expect("signed in");
    let path = format!("/productions/{home}/batches");
    let page = expect(desk.client.get(&path).expect("answered"), 200).expect("a page").text();
    let form = forms(&page).into_iter().find(|form| form.action == path).expect("the form");
    let mut fields = form.with("paper", "a4");
    let mut drafted = 0;
    for (name, value) in &mut fields {
        if name.starts_with("for-") {
            *value = if drafted < 2 { "draft" } else { "again" };
            drafted += 1;
        }
    }
    assert_eq!(drafted, CAST);
    let bytes: usize = fields.iter().map(|(name, value)| name.len() + value.len() + 2).sum();
    assert!(bytes > 32 * 1024, "{bytes} bytes: the limit of other forms is not reached");
    let started = desk.client.post_form(&path, &fields).expect("answered");
    assert_eq!(started.status, 303, "{}", started.text());
    let board =
        desk.client.get(&format!("/api/productions/{home}/board")).expect("answered").json();
    assert_eq!(board["measure_again"].as_u64(), Some(CAST as u64 - 2));

    // As many decisions as the largest production has performers are read; what is beyond is not.
    let decisions = |count: usize| -> Vec<(String, String)> {
        (0..count).map(|_| (format!("for-{}", Uuid::now_v7()), "again".to_owned())).collect()
    };
    let mut send = |decisions: &[(String, String)]| {
        let mut fields = vec![("csrf", desk.token.as_str()), ("paper", "a4"), ("decided", "1")];
        fields.extend(decisions.iter().map(|(name, value)| (name.as_str(), value.as_str())));
        desk.client.post_form(&path, &fields).expect("answered")
    };
    let most = usize::try_from(PRODUCTION_LIMIT).expect("a size");
    assert_eq!(send(&decisions(most)).status, 422, "read: nobody of this production is among them");
    let beyond = send(&decisions(2 * most));
    assert_eq!(beyond.status, 413);
    assert!(beyond.text().contains("more than the"), "{}", beyond.text());
}
