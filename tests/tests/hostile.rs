//! Hostile inputs against every form of every page: no 5xx, nothing of it comes back as markup, as a
//! header or as a formula, nothing held is lost, and the database is sound afterwards.
//! `HANDCALL_HOSTILE=all` tries every string in every input.

#![expect(clippy::expect_used, clippy::panic, reason = "a test stops at what it did not expect")]

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::time::{Duration, Instant};

use handcall::store::check;
use handcall_tests::client::{Answer, Client, encoded};
use handcall_tests::hostile::{MARKUP, strings};
use handcall_tests::page::{Field, Form, decoded, forms, links};
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::{Workshop, expect};
use serde_json::{Value, json};
use uuid::Uuid;

/// Forms that the walk must have met, one of each kind; `ID` stands for any id.
const FORMS: &[&str] = &[
    "/",
    "/account",
    "/account/second-factor/confirm",
    "/account/sign-out-everywhere",
    "/accounts",
    "/accounts/ID/link",
    "/batches/ID/lay",
    "/fabrics/ID",
    "/fabrics/ID/give",
    "/fabrics/ID/memory",
    "/home/measure",
    "/keeping/consent",
    "/language",
    "/performers/ID/accept",
    "/performers/ID/choices",
    "/performers/ID/consent",
    "/performers/ID/draft/SIDE",
    "/performers/ID/erase",
    "/performers/ID/fabric",
    "/performers/ID/fitting",
    "/performers/ID/fittings/withdraw",
    "/performers/ID/home",
    "/performers/ID/home/revoke",
    "/performers/ID/measure",
    "/performers/ID/next/SIDE",
    "/performers/ID/reference",
    "/performers/ID/repair",
    "/performers/ID/withdraw",
    "/productions/ID/batches",
    "/productions/ID/cast",
    "/productions/ID/erase",
    "/productions/ID/exercise/hand",
    "/productions/ID/exercise/leave",
    "/productions/ID/fabrics/add",
    "/productions/ID/import",
    "/productions/ID/import/check",
    "/productions/ID/import/store",
    "/productions/ID/keeping",
    "/productions/ID/performers",
    "/productions/ID/sizes",
    "/sign-in",
];

/// Ticks and choices that a page shows unchosen, so that its form does not send them by itself.
const UNCHOSEN: &[(&str, &str)] = &[
    ("/performers/ID/fitting", "answer.palm"),
    ("/performers/ID/fitting", "sign.pain"),
    ("/performers/ID/fitting", "sign.none"),
    ("/batches/ID/lay", "is_one_way"),
    ("/productions/ID/batches", "chosen"),
    ("/productions/ID/batches", "for-x"),
    ("/productions/ID/exercise", "dimension-x"),
];

/// Longest a batch or a lay of a few gloves may take.
const PATIENCE: Duration = Duration::from_secs(120);

/// A browser sends one button and one radio of a name.
fn once_each<'a>(sent: Vec<(&'a str, &'a str)>) -> Vec<(&'a str, &'a str)> {
    let mut seen = BTreeSet::new();
    sent.into_iter().filter(|(name, _)| seen.insert(*name)).collect()
}

/// Uploads a file of this content, under a name that is hostile too.
fn post_file(
    client: &mut Client,
    token: &str,
    target: &str,
    text: &str,
) -> std::io::Result<Answer> {
    let body = format!(
        "--edge\r\ncontent-disposition: form-data; name=\"csrf\"\r\n\r\n{token}\r\n--edge\r\n\
         content-disposition: form-data; name=\"file\"; filename=\"../../{MARKUP}.csv\"\r\n\r\n\
         code,name,hand_length\n{text},{text},181\r\n--edge--\r\n"
    );
    let kind = ("content-type", "multipart/form-data; boundary=edge");
    client.send("POST", target, &[kind], body.as_bytes())
}

/// An address without the ids in it.
fn shape(target: &str) -> String {
    let path = target.split('?').next().unwrap_or_default();
    let part = |part: &str| match part {
        // The two hands have the same forms.
        "left" | "right" => "SIDE".to_owned(),
        id if id.len() == 36 => "ID".to_owned(),
        other => other.to_owned(),
    };
    path.split('/').map(part).collect::<Vec<_>>().join("/")
}

/// An address with the names of its query alone: pages of one kind.
fn kind(target: &str) -> String {
    let query = target.split('?').nth(1).unwrap_or_default();
    let names: BTreeSet<&str> =
        query.split('&').filter_map(|pair| pair.split('=').next()).collect();
    format!("{}?{}", shape(target), names.into_iter().collect::<Vec<_>>().join("&"))
}

struct House {
    _folder: Scratch,
    server: Running,
    desk: Workshop,
    production: String,
    /// Pages from which the walk begins.
    seeds: Vec<String>,
    /// Somebody who measures at home, by a link.
    phone: Client,
}

/// A house in which every form is shown: somebody measured, with a slip, versions, a fitting, a link
/// for home; a minor; an exercise under way; a batch and a lay; a second factor half set up.
fn house() -> House {
    let folder = Scratch::new("hostile");
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let csv = "code,sex,fabric,hand_length,hand_girth,middle_length\n\
               TW01,f,Kelp,181,18.6,77\nTW02,m,Kelp,194,212,83\n";
    let path = format!("/productions/{production}/import/store");
    post(&mut desk, &path, &[("csv", csv)], 303);
    let [first, second] = ["TW01", "TW02"].map(|code| desk.performer(&production, code));
    let (first, second) = (first.expect("stored"), second.expect("stored"));
    let minor = desk.add_minor(&production, "TW03", 9).expect("added");

    post(&mut desk, &format!("/performers/{first}/next/right"), &[("action", "keep")], 303);
    let known = get(&mut desk, &format!("/api/performers/{first}/fittings"));
    let fact = json!({
        "fact": "fitting", "id": Uuid::now_v7(), "performer": first, "side": "right",
        "version": known["gloves"][0]["id"], "answers": { "wrist": "+4" },
    });
    let token = desk.token.clone();
    let facts = json!({ "device": "test", "facts": [fact] });
    expect(desk.client.post_json("/api/facts", &token, &facts).expect("posted"), 200)
        .expect("kept");
    let hands = [format!("hand-{first}-right"), format!("hand-{second}-right")];
    let ticks =
        [(hands[0].as_str(), "1"), (hands[1].as_str(), "1"), ("dimension-hand_length", "1")];
    post(&mut desk, &format!("/productions/{production}/exercise"), &ticks, 303);
    post(&mut desk, "/account/second-factor", &[], 303);
    batch_and_lay(&mut desk, &production);
    let page = decoded(&post(
        &mut desk,
        &format!("/performers/{first}/home"),
        &[("days", "2"), ("uses", "2")],
        200,
    ));
    let start = page.split("<code>").nth(1).and_then(|rest| rest.split("/home/").nth(1));
    let link: String =
        start.unwrap_or_default().chars().take_while(char::is_ascii_hexdigit).collect();
    let mut phone = Client::new(server.address);
    phone.post_form(&format!("/home/{link}"), &[]).expect("begun");
    let seeds = [format!("/performers/{first}"), format!("/performers/{minor}/consent")];
    House { _folder: folder, server, desk, production, seeds: seeds.into(), phone }
}

fn post(desk: &mut Workshop, path: &str, fields: &[(&str, &str)], status: u16) -> String {
    let token = desk.token.clone();
    let fields = [&[("csrf", token.as_str())], fields].concat();
    let answer = desk.client.post_form(path, &fields).expect("answered");
    expect(answer, status).expect(path).text()
}

fn get(desk: &mut Workshop, path: &str) -> Value {
    expect(desk.client.get(path).expect("answered"), 200).expect(path).json()
}

fn batch_and_lay(desk: &mut Workshop, production: &str) {
    let token = desk.token.clone();
    let mut made = |path: &str, body: Value| {
        let made = desk.client.post_json(path, &token, &body).expect("answered");
        let id = expect(made, 201).expect("made").json()["id"].as_str().expect("an id").to_owned();
        let began = Instant::now();
        let kind = if path.ends_with("lay") { "lays" } else { "batches" };
        while get_state(desk, &format!("/api/{kind}/{id}")) == "running" {
            assert!(began.elapsed() < PATIENCE, "{path} never ends");
            std::thread::sleep(Duration::from_millis(50));
        }
        id
    };
    let batch = made(&format!("/api/productions/{production}/batches"), json!({ "paper": "a4" }));
    let order = json!({ "width_mm": 1400.0, "gap_mm": 3.0, "is_one_way": false, "spare_pairs": 0,
                        "seconds": 1 });
    made(&format!("/batches/{batch}/lay"), order);
}

fn get_state(desk: &mut Workshop, path: &str) -> String {
    get(desk, path)["state"].as_str().unwrap_or_default().to_owned()
}

/// Every page of a kind reachable by links, and every form on them, one of a kind. Tables that can
/// be downloaded are read on the way.
fn walk(client: &mut Client, seeds: &[String]) -> Vec<(String, Form)> {
    let (mut seen, mut found) = (BTreeSet::new(), Vec::new());
    let mut queue: VecDeque<String> = seeds.iter().cloned().collect();
    while let Some(path) = queue.pop_front() {
        if path.contains("sign-out") || path.starts_with("/static/") || !seen.insert(kind(&path)) {
            continue;
        }
        let answer = client.get(&path).expect("an answer");
        assert!(answer.status < 500, "{path}: {}", answer.status);
        let content = answer.header("content-type").unwrap_or_default().to_owned();
        if content.starts_with("text/csv") {
            expect_no_formula(&path, &answer.body);
        }
        if !content.starts_with("text/html") {
            continue;
        }
        let html = answer.text();
        assert!(!html.contains(MARKUP), "{path} holds markup that was typed");
        add_forms(&mut found, &path, &html);
        queue.extend(links(&html, "/"));
    }
    found
}

fn add_forms(found: &mut Vec<(String, Form)>, path: &str, html: &str) {
    for form in forms(html) {
        let target = if form.action.is_empty() { path.to_owned() } else { form.action.clone() };
        let same = |(at, known): &(String, Form)| {
            let names = known.fields.iter().map(|field| &field.name);
            shape(at) == shape(&target) && names.eq(form.fields.iter().map(|field| &field.name))
        };
        if !found.iter().any(same) && !target.ends_with("/sign-out") {
            found.push((target, form));
        }
    }
}

fn expect_no_formula(path: &str, bytes: &[u8]) {
    for record in csv::ReaderBuilder::new().flexible(true).from_reader(bytes).records() {
        for cell in &record.expect("a row") {
            let is_formula = cell.starts_with(['=', '+', '@', '\t', '\r'])
                || (cell.starts_with('-') && cell.parse::<f64>().is_err());
            assert!(!is_formula, "{path}: {cell:?}");
        }
    }
}

/// Every how manieth string an input is sent. A form of many inputs gets every string, but not in
/// each of its inputs, nor does a form whose answer takes long to work out; `HANDCALL_HOSTILE=all`
/// sends everything everywhere, which takes minutes.
fn every(form: &Form, name: &str) -> usize {
    match name {
        _ if std::env::var_os("HANDCALL_HOSTILE").is_some() => 1,
        "csrf" => 9,
        _ if form.fields.len() > 8 || form.method == "GET" => 6,
        _ => 1,
    }
}

#[derive(Default)]
struct Outcome {
    asked: usize,
    faults: Vec<String>,
    /// How often each status was answered, by form.
    answers: BTreeMap<String, BTreeMap<u16, usize>>,
    /// The same by form and input.
    inputs: BTreeMap<(String, String), BTreeSet<u16>>,
}

impl Outcome {
    /// Sends every string in every input of a form.
    fn attack(&mut self, client: &mut Client, token: &str, target: &str, form: &Form) {
        let place = shape(target);
        let mut form = form.clone();
        for (_, name) in UNCHOSEN.iter().filter(|(at, _)| *at == place) {
            let (name, value) = ((*name).to_owned(), String::new());
            form.fields.push(Field { name, value, kind: "checkbox".to_owned() });
        }
        let tried = form.fields.iter().filter(|field| match field.kind.as_str() {
            "file" => true,
            "submit" => false,
            _ => !form.is_multipart,
        });
        let names: BTreeSet<String> = tried.map(|field| field.name.clone()).collect();
        for (number, name) in names.into_iter().enumerate() {
            let every = every(&form, &name);
            for (_, text) in
                strings().into_iter().enumerate().filter(|(at, _)| (at + number) % every == 0)
            {
                let sent = once_each(form.with(&name, &text));
                let answer = if form.is_multipart {
                    post_file(client, token, target, &text)
                } else if form.method == "POST" {
                    client.post_form(target, &sent)
                } else {
                    let pair = |(k, v): &(&str, &str)| format!("{k}={}", encoded(v));
                    let query = sent.iter().map(pair).collect::<Vec<_>>().join("&");
                    client.get(&format!("{}?{query}", target.split('?').next().unwrap_or("/")))
                };
                self.note(&place, &name, &text, answer);
            }
        }
    }

    fn note(&mut self, place: &str, name: &str, text: &str, answer: std::io::Result<Answer>) {
        self.asked += 1;
        let shown: String = text.chars().take(30).collect();
        let fault = match answer {
            Ok(answer) => {
                let counts = self.answers.entry(place.to_owned()).or_default();
                *counts.entry(answer.status).or_default() += 1;
                let input = (place.to_owned(), name.to_owned());
                self.inputs.entry(input).or_default().insert(answer.status);
                let injected = answer.headers.iter().any(|(header, value)| {
                    header == "set-cookie" && value.trim_start().starts_with("x=")
                });
                let is_sound = answer.status < 500 && !injected && !answer.text().contains(MARKUP);
                (!is_sound).then(|| answer.status.to_string())
            }
            // A request line that is too long is cut off by the server, which is an answer.
            Err(_) if text.len() > 10_000 => None,
            Err(error) => Some(error.to_string()),
        };
        self.faults.extend(fault.map(|why| format!("{place} {name}: {shown:?}: {why}")));
    }
}

#[test]
fn no_form_breaks_on_hostile_text_and_nothing_of_it_comes_back_or_is_lost() {
    let House { _folder: folder, server, mut desk, production, seeds, mut phone } = house();
    let token = desk.token.clone();
    let before = get(&mut desk, &format!("/productions/{production}/export.json"));
    let mut found = walk(&mut desk.client, &seeds);
    let upload = format!("/productions/{production}/import");
    let looked = post_file(&mut desk.client, &token, &upload, "TW09").expect("looked at").text();
    add_forms(&mut found, &upload, &looked);
    // A second button sends the same form elsewhere.
    let checked = found.iter().find(|(target, _)| target.ends_with("/import/store")).cloned();
    found.extend(checked.map(|(_, form)| (format!("{upload}/check"), form)));
    let at_home = walk(&mut phone, &["/home/measure".to_owned()]);
    let mut guest = Client::new(server.address);
    let sign_in = walk(&mut guest, &["/sign-in".to_owned()]);
    let met: BTreeSet<String> = [&found, &at_home, &sign_in]
        .into_iter()
        .flatten()
        .map(|(target, _)| shape(target))
        .collect();
    let missing: Vec<_> = FORMS.iter().filter(|form| !met.contains(**form)).collect();
    assert!(missing.is_empty(), "the walk did not meet {missing:?}; it met {met:#?}");

    let mut outcome = Outcome::default();
    for (client, forms) in
        [(&mut desk.client, &found), (&mut phone, &at_home), (&mut guest, &sign_in)]
    {
        for (target, form) in forms {
            outcome.attack(client, &token, target, form);
        }
    }
    assert!(outcome.faults.is_empty(), "{:#?}", outcome.faults);
    eprintln!("{} forms, {} hostile requests; answers by form:", met.len(), outcome.asked);
    for (place, counts) in &outcome.answers {
        eprintln!("| {place} | {counts:?} |");
    }
    for ((place, name), statuses) in &outcome.inputs {
        // An input that answers nothing but "unreadable" was not tried.
        let is_tried = statuses.iter().any(|status| ![400, 413].contains(status));
        assert!(is_tried, "{place} {name}: {statuses:?}");
    }

    // What was stored is shown on the pages of a second walk, escaped, and nothing is gone.
    walk(&mut desk.client, &seeds);
    let after = get(&mut desk, &format!("/productions/{production}/export.json"));
    expect_kept(&before, &after);
    server.kill().expect("still running");
    let report = check::file(&folder.path().join("handcall.sqlite")).expect("checked");
    assert!(report.is_sound(), "{report:?}");
}

/// Every performer, reading, version and fitting there was is there still, in use or withdrawn.
fn expect_kept(before: &Value, after: &Value) {
    let ids = |all: &Value| -> BTreeSet<String> {
        let mut ids = BTreeSet::new();
        for subject in all.as_array().into_iter().flatten() {
            ids.extend(subject["performer"]["id"].as_str().map(ToOwned::to_owned));
            for member in ["readings", "withdrawn", "drafts", "fittings"] {
                let held = subject[member].as_array().into_iter().flatten();
                ids.extend(held.filter_map(|one| Some(one["id"].as_str()?.to_owned())));
            }
            let withdrawn = subject["withdrawn_fittings"].as_array().into_iter().flatten();
            ids.extend(withdrawn.filter_map(|one| Some(one[0]["id"].as_str()?.to_owned())));
        }
        ids
    };
    let (before, after) = (ids(before), ids(after));
    assert!(before.len() >= 11, "the house holds too little: {before:?}");
    let lost: Vec<_> = before.difference(&after).collect();
    if !lost.is_empty() {
        panic!("lost: {lost:?}");
    }
}
