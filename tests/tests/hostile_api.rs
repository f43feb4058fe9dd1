//! Hostile bodies for the API, and clients that take their time: refused with a code or cut off, and
//! nobody else notices.

#![expect(clippy::expect_used, reason = "a test stops at what it did not expect")]

use std::io::{ErrorKind, Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use handcall_tests::hostile;
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::Workshop;
use serde_json::json;
use uuid::Uuid;

fn house(folder: &Scratch) -> (Running, Workshop) {
    let server = Running::start(folder.path()).expect("started");
    let mut desk = Workshop::open(&server).expect("signed in");
    let production = desk.add_production("The Salt Stair").expect("added");
    desk.add_performer(&production, "TW01").expect("added");
    (server, desk)
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
    for text in hostile::strings() {
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
