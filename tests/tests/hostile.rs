//! Hostile inputs against every form the crawl finds: no 5xx, nothing of it comes back as markup,
//! the server stays up and its database sound.
//!
//! The list is of kinds (SQL, HTML, template, formula, path, header, Unicode, numbers), after the
//! requirements of OWASP ASVS 4.0.3, chapter 5 (from memory); each string is our own.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::io::{ErrorKind, Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use handcall::store::check;
use handcall_tests::client::{Answer, Client};
use handcall_tests::page::{Field, Form, forms, links};
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop};
use serde_json::json;
use uuid::Uuid;

/// Marks markup that came back unescaped.
const MARKUP: &str = "<script>alert(31337)</script>";

fn hostile() -> Vec<String> {
    let mut all: Vec<String> = [
        "'; DROP TABLE reading; --",
        "\" OR 1=1 --",
        MARKUP,
        "\"><img src=x onerror=alert(31337)>",
        "{{ 31337 * 3 }}{% raw %}",
        "=HYPERLINK(\"http://127.0.0.1\",\"x\")",
        "+1+1",
        "@SUM(A1)",
        "../../../../etc/passwd",
        "..\\..\\con",
        "a\r\nset-cookie: x=1",
        "a\0b",
        "\u{202e}gnp.exe",
        "\u{feff}\u{200b}\u{200d}",
        "e\u{301}\u{301}\u{301}\u{301}\u{301}",
        "\u{1f9e4}\u{1f3fd}",
        "-1e308",
        "1e400",
        "NaN",
        "-0",
        "9999999999999999999999999",
        "0x1F",
        "1,234,567.8",
        "%00%0d%0a",
        "true",
        "[]",
        "null",
    ]
    .map(ToOwned::to_owned)
    .to_vec();
    all.push("x".repeat(100_000));
    all.push("\u{20ac}".repeat(5_000));
    all
}

/// What a person may type into, or choose as a file; the rest is sent as it stands, and hidden
/// fields hostile too.
fn is_typed(field: &Field, form: &Form) -> bool {
    match field.kind.as_str() {
        "file" => true,
        "submit" | "checkbox" | "radio" => false,
        _ => !form.is_multipart,
    }
}

/// A browser sends one button and one radio of a name.
fn once_each<'a>(sent: Vec<(&'a str, &'a str)>) -> Vec<(&'a str, &'a str)> {
    let mut seen = BTreeSet::new();
    sent.into_iter().filter(|(name, _)| seen.insert(*name)).collect()
}

/// Uploads a file of this content, under a name that is hostile too.
fn post_file(desk: &mut Workshop, target: &str, text: &str) -> std::io::Result<Answer> {
    let body = format!(
        "--edge\r\ncontent-disposition: form-data; name=\"csrf\"\r\n\r\n{}\r\n--edge\r\n\
         content-disposition: form-data; name=\"file\"; filename=\"../../{MARKUP}.csv\"\r\n\r\n\
         code,name\n{text},{text}\r\n--edge--\r\n",
        desk.token
    );
    let kind = ("content-type", "multipart/form-data; boundary=edge");
    desk.client.send("POST", target, &[kind], body.as_bytes())
}

/// An address without the ids in it.
fn shape(target: &str) -> String {
    let path = target.split('?').next().unwrap_or_default();
    let part = |part: &str| if part.len() == 36 { "ID".to_owned() } else { part.to_owned() };
    path.split('/').map(part).collect::<Vec<_>>().join("/")
}

fn house(folder: &Scratch) -> (Running, Workshop) {
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    let performer = desk.add_performer(&production, "TW01").expect("added");
    let readings: Vec<Sent> =
        [("hand_length", "181"), ("hand_girth", "18.4"), ("middle_length", "77")]
            .map(|(dimension, value)| Sent {
                id: Uuid::now_v7(),
                side: "right",
                dimension,
                value: value.to_owned(),
            })
            .to_vec();
    desk.post_readings(&performer, &readings).expect("posted");
    (server, desk)
}

/// Every form of every page reachable by links, with the page it stands on, one of a kind.
fn all_forms(client: &mut Client) -> Vec<(String, Form)> {
    let (mut seen, mut found) = (BTreeSet::new(), Vec::new());
    let mut queue = VecDeque::from(["/".to_owned()]);
    while let Some(path) = queue.pop_front() {
        if !seen.insert(path.clone()) || seen.len() > 120 {
            continue;
        }
        let answer = client.get(&path).expect("an answer");
        assert!(answer.status < 500, "{path}: {}", answer.status);
        if !answer.header("content-type").unwrap_or_default().starts_with("text/html") {
            continue;
        }
        let html = answer.text();
        assert!(!html.contains(MARKUP), "{path} holds markup that was typed");
        for form in forms(&html) {
            let target = if form.action.is_empty() { path.clone() } else { form.action.clone() };
            let names: Vec<_> = form.fields.iter().map(|f| f.name.clone()).collect();
            let known = found.iter().any(|(at, f): &(String, Form)| {
                *at == target && f.fields.iter().map(|f| &f.name).eq(&names)
            });
            // What ends the session or the performer would end the test; `erase` asks for the code.
            if !known && !target.contains("sign-out") {
                found.push((target, form));
            }
        }
        queue.extend(links(&html, "/").into_iter().filter(|to| !to.contains("sign-out")));
    }
    found
}

#[test]
fn no_form_breaks_on_hostile_text_and_none_of_it_comes_back_as_markup() {
    let folder = Scratch::new("hostile");
    let (server, mut desk) = house(&folder);
    let found = all_forms(&mut desk.client);
    assert!(found.len() >= 8, "the crawl finds too few forms: {found:?}");
    let (mut asked, mut faults, mut answers) = (0, Vec::new(), BTreeMap::new());
    for (target, form) in &found {
        for field in form.fields.iter().filter(|field| is_typed(field, form)) {
            for text in hostile() {
                let sent = once_each(form.with(&field.name, &text));
                let answer = if form.is_multipart {
                    post_file(&mut desk, target, &text)
                } else if form.method == "POST" {
                    desk.client.post_form(target, &sent)
                } else {
                    let query: Vec<_> = sent
                        .iter()
                        .map(|(k, v)| format!("{k}={}", handcall_tests::client::encoded(v)))
                        .collect();
                    let path = target.split('?').next().unwrap_or("/");
                    desk.client.get(&format!("{path}?{}", query.join("&")))
                };
                asked += 1;
                if let Ok(answer) = &answer {
                    let place = (shape(target), field.name.clone());
                    let counts: &mut BTreeMap<u16, usize> = answers.entry(place).or_default();
                    *counts.entry(answer.status).or_default() += 1;
                }
                let shown: String = text.chars().take(30).collect();
                match answer {
                    Ok(answer) if answer.status < 500 && !answer.text().contains(MARKUP) => {}
                    Ok(answer) => {
                        faults
                            .push(format!("{target} {}: {shown:?}: {}", field.name, answer.status));
                    }
                    // A request line that is too long is cut off by the server, which is an answer.
                    Err(_) if text.len() > 10_000 => {}
                    Err(error) => {
                        faults.push(format!("{target} {}: {shown:?}: {error}", field.name))
                    }
                }
            }
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
    // What was stored is shown on the pages of a second walk, escaped.
    all_forms(&mut desk.client);
    eprintln!("{} forms, {asked} hostile requests; answers by form and field:", found.len());
    for ((target, field), counts) in &answers {
        eprintln!("| {target} | {field} | {counts:?} |");
        // A form that answers nothing but "unreadable" was not tried.
        let is_tried = counts.keys().any(|status| *status != 400 && *status != 413);
        assert!(is_tried, "{target} {field}: {counts:?}");
    }
    server.kill().expect("still running");
    let report = check::file(&folder.path().join("handcall.sqlite")).expect("checked");
    assert!(report.is_sound() && report.readings >= 3, "{report:?}");
}

#[test]
fn the_api_refuses_what_it_cannot_read_with_a_code_and_keeps_what_it_holds() {
    let folder = Scratch::new("hostile-api");
    let (_server, mut desk) = house(&folder);
    let nested = format!("{}{}", "[".repeat(5_000), "]".repeat(5_000));
    let bodies = [
        "".to_owned(),
        "{".to_owned(),
        "[]".to_owned(),
        nested,
        json!({ "facts": "x" }).to_string(),
        json!({ "facts": [{}] }).to_string(),
        json!({ "facts": [{ "fact": "reading" }] }).to_string(),
        json!({ "facts": vec![json!({ "fact": "skip" }); 5_000] }).to_string(),
        format!("{{\"facts\":[{{\"fact\":\"reading\",\"value\":{}}}]}}", "9".repeat(400)),
    ];
    let token = desk.token.clone();
    for body in bodies {
        let headers = [("content-type", "application/json"), ("x-form-token", token.as_str())];
        let answer =
            desk.client.send("POST", "/api/facts", &headers, body.as_bytes()).expect("an answer");
        let shown: String = body.chars().take(60).collect();
        assert!((400..500).contains(&answer.status), "{shown}: {}", answer.status);
        let code = answer.json()["code"].as_str().map(ToOwned::to_owned);
        assert!(code.is_some_and(|code| !code.is_empty()), "{shown}: {}", answer.text());
    }
    for text in hostile() {
        for field in ["id", "performer", "side", "dimension", "value", "unit"] {
            let mut fact = json!({
                "fact": "reading", "id": Uuid::now_v7(), "performer": Uuid::now_v7(),
                "side": "right", "dimension": "hand_length", "value": "180", "unit": "mm",
            });
            fact[field] = json!(text);
            let body = json!({ "facts": [fact] });
            let answer = desk.client.post_json("/api/facts", &token, &body).expect("an answer");
            assert!((400..500).contains(&answer.status), "{field} {text:.30}: {}", answer.status);
        }
    }
    let board = desk.client.get("/").expect("an answer");
    assert_eq!(board.status, 200);
}

#[test]
fn a_client_that_sends_a_byte_a_second_is_cut_off_and_keeps_nobody_waiting() {
    let folder = Scratch::new("slow");
    let (server, mut desk) = house(&folder);
    let slow: Vec<TcpStream> = [
        "POST /sign-in HTTP/1.1\r\nhost: h\r\n\
         content-type: application/x-www-form-urlencoded\r\ncontent-length: 10000\r\n\r\nname=",
        "POST /api/facts HTTP/1.1\r\nhost: h\r\ncontent-type: application/json\r\n\
         content-length: 10000\r\n\r\n{",
        "GET /sign-in HTTP/1.1\r\nhost: h\r\nx-head: never-ends",
    ]
    .into_iter()
    .map(|start| {
        let mut stream = TcpStream::connect(server.address).expect("connected");
        stream.write_all(start.as_bytes()).expect("begun");
        stream
    })
    .collect();
    let dripping: Vec<_> = slow
        .into_iter()
        .map(|mut stream| {
            std::thread::spawn(move || {
                stream.set_read_timeout(Some(Duration::from_secs(1))).expect("set");
                let mut answer = [0; 400];
                // Two minutes are patience enough: the server's own is a quarter of that.
                for _ in 0..120 {
                    let is_open = stream.write_all(b"a").is_ok();
                    match stream.read(&mut answer) {
                        Ok(count) => {
                            return Some(String::from_utf8_lossy(&answer[..count]).into_owned());
                        }
                        Err(error) if is_open && error.kind() == ErrorKind::WouldBlock => {}
                        Err(_) => return Some(String::new()),
                    }
                }
                None
            })
        })
        .collect();
    for _ in 0..20 {
        assert_eq!(desk.client.get("/").expect("others are answered").status, 200);
    }
    for one in dripping {
        let answer = one.join().expect("no panic").expect("it was never cut off");
        // Either it is told so, or the connection ends without a word.
        let status = answer.split(' ').nth(1).unwrap_or("closed").to_owned();
        assert!(["408", "401", "closed"].contains(&status.as_str()), "{answer}");
    }
    assert_eq!(desk.client.get("/").expect("still there").status, 200);
}
