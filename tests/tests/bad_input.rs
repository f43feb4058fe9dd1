//! Bad input: each gets a clear message at its place, a stable code, a 4xx status, and nothing that
//! was entered before is lost.

use std::io::Result;

use handcall_tests::page::forms;
use handcall_tests::place::Scratch;
use handcall_tests::running::Running;
use handcall_tests::workshop::{Sent, Workshop, expect};
use serde_json::{Value, json};
use uuid::Uuid;

struct House {
    workshop: Workshop,
    production: String,
    performer: String,
    _server: Running,
    _data: Scratch,
}

fn house(name: &str) -> Result<House> {
    let data = Scratch::new(name);
    let server = Running::start(data.path())?;
    let mut workshop = Workshop::open(&server)?;
    let production = workshop.add_production("The Paper Lantern")?;
    let performer = workshop.add_performer(&production, "PL-01")?;
    Ok(House { workshop, production, performer, _server: server, _data: data })
}

fn code(answer: &Value) -> &str {
    answer.get("code").and_then(Value::as_str).unwrap_or("none")
}

fn fact(performer: &str, dimension: &str, value: &str, unit: &str) -> Value {
    json!({ "device": "test", "facts": [{
        "fact": "reading", "id": Uuid::now_v7(), "performer": performer, "side": "left",
        "dimension": dimension, "value": value, "unit": unit,
    }] })
}

#[test]
fn values_that_are_no_measurement_are_refused_with_their_code_and_the_rest_is_kept() -> Result<()> {
    let mut house = house("bad-values")?;
    let good = Sent {
        id: Uuid::now_v7(),
        side: "left",
        dimension: "hand_length",
        value: "181".to_owned(),
    };
    expect(house.workshop.post_readings(&house.performer, &[good])?, 200)?;
    for (value, expected) in [
        ("abc", "value_not_a_number"),
        ("", "value_empty"),
        ("-80", "value_negative"),
        ("0", "value_zero"),
        ("10000", "value_too_large"),
        ("10,000", "value_ambiguous"),
        ("7 3/8 ft", "unit_unknown"),
        ("7 3/0", "value_zero_divisor"),
        ("0.2", "value_too_small"),
        ("1e3", "unit_unknown"),
        ("'; DROP TABLE reading; --", "value_not_a_number"),
        ("<script>", "value_not_a_number"),
    ] {
        let body = fact(&house.performer, "palm_length", value, "mm");
        let token = house.workshop.token.clone();
        let answer = house.workshop.client.post_json("/api/facts", &token, &body)?;
        assert_eq!(answer.status, 422, "{value}: {}", answer.text());
        assert_eq!(code(&answer.json()), expected, "{value}");
        let field = answer.json().get("field").and_then(Value::as_str).map(str::to_owned);
        assert_eq!(field.as_deref(), Some("value"), "{value}");
    }
    assert_eq!(house.workshop.reading_ids(&house.performer)?.len(), 1);
    Ok(())
}

#[test]
fn unknown_performers_dimensions_sides_units_and_ids_are_named_as_such() -> Result<()> {
    let mut house = house("bad-names")?;
    let nobody = Uuid::now_v7().to_string();
    let token = house.workshop.token.clone();
    let performer = house.performer.clone();
    let mut post = |body: &Value| house.workshop.client.post_json("/api/facts", &token, body);
    for (body, status, expected) in [
        (fact(&nobody, "hand_length", "181", "mm"), 404, "not_found"),
        (fact("nobody", "hand_length", "181", "mm"), 404, "not_found"),
        (fact(&performer, "nose_length", "181", "mm"), 422, "dimension_unknown"),
        (fact(&performer, "hand_length", "181", "furlong"), 422, "unit_unknown"),
        (json!({ "facts": [] }), 422, "facts_count"),
        (json!({ "facts": "all" }), 400, "unreadable"),
        (json!([1, 2]), 400, "unreadable"),
    ] {
        let answer = post(&body)?;
        assert_eq!((answer.status, code(&answer.json())), (status, expected), "{body}");
    }
    let mut wrong_id = fact(&performer, "hand_length", "181", "mm");
    if let Some(slot) = wrong_id.pointer_mut("/facts/0/id") {
        *slot = json!("7");
    }
    assert_eq!(code(&post(&wrong_id)?.json()), "id_unreadable");
    for path in ["/performers/7", "/productions/x/import", "/api/performers/-1"] {
        assert_eq!(house.workshop.client.get(path)?.status, 404, "{path}");
    }
    let path = format!("/performers/{nobody}");
    assert_eq!(house.workshop.client.get(&path)?.status, 404);
    Ok(())
}

#[test]
fn a_form_comes_back_filled_in_with_the_message_at_its_field() -> Result<()> {
    let mut house = house("bad-forms")?;
    let path = format!("/performers/{}/measure?side=left&step=ring_length", house.performer);
    let page = expect(house.workshop.client.get(&path)?, 200)?.text();
    let form = forms(&page)
        .into_iter()
        .find(|form| form.value("value").is_some())
        .unwrap_or_else(|| panic!("no measuring form on {page}"));
    let mut fields = form.with("value", "seven & a half");
    fields.retain(|(name, _)| *name != "action");
    fields.push(("action", "keep"));
    let back = house.workshop.client.post_form(&form.action, &fields)?;
    assert_eq!(back.status, 422);
    let again = forms(&back.text());
    let again = again.iter().find(|form| form.value("value").is_some());
    assert_eq!(again.and_then(|form| form.value("value")), Some("seven & a half"));
    assert_eq!(again.and_then(|form| form.value("step")), Some("ring_length"));
    assert!(back.text().contains("id=\"value-error\""));

    let path = format!("/productions/{}/performers", house.production);
    let token = house.workshop.token.clone();
    let fields =
        [("csrf", token.as_str()), ("code", "pl-01"), ("name", "Zoë <b>"), ("population", "men")];
    let back = house.workshop.client.post_form(&path, &fields)?;
    assert_eq!(back.status, 422);
    assert!(back.text().contains("id=\"code-error\""), "{}", back.text());
    assert!(back.text().contains("Zoë &lt;b&gt;"));
    Ok(())
}

#[test]
fn rosters_that_cannot_be_used_are_shown_with_their_lines_and_store_nothing() -> Result<()> {
    let mut house = house("bad-rosters")?;
    let token = house.workshop.token.clone();
    let path = format!("/productions/{}/import/check", house.production);
    for (csv, status, sentence) in [
        ("", 422, "The file is empty"),
        ("code,name\n", 422, "The file is empty"),
        ("person,shoe size\nA,44\n", 422, "column"),
        ("code,shoe size\nPL-02,44\n", 200, "shoe size"),
        ("code,left_hand_length\nPL-03,long\n", 200, "is not a number"),
        ("code\nPL-01\n", 200, "is on this roster already"),
        ("code\nPL-04\nPL-04\n", 200, "PL-04"),
    ] {
        let fields = [("csrf", token.as_str()), ("csv", csv)];
        let answer = house.workshop.client.post_form(&path, &fields)?;
        assert_eq!(answer.status, status, "{csv:?}");
        assert!(answer.text().contains(sentence), "{csv:?}: {}", answer.text());
    }
    let board = format!("/api/productions/{}/board", house.production);
    let rows = expect(house.workshop.client.get(&board)?, 200)?.json();
    assert_eq!(rows.get("performers"), Some(&json!(1)));
    Ok(())
}

#[test]
fn an_upload_of_50_mb_is_refused_with_a_page_and_the_server_goes_on() -> Result<()> {
    let mut house = house("bad-upload")?;
    let boundary = "handcall-test-boundary";
    let mut body = format!(
        "--{boundary}\r\ncontent-disposition: form-data; name=\"csrf\"\r\n\r\n{}\r\n--{boundary}\r\n\
         content-disposition: form-data; name=\"file\"; filename=\"big.csv\"\r\n\r\n",
        house.workshop.token
    )
    .into_bytes();
    body.resize(body.len() + 50_000_000, b'a');
    body.extend_from_slice(format!("\r\n--{boundary}--\r\n").as_bytes());
    let kind = format!("multipart/form-data; boundary={boundary}");
    let path = format!("/productions/{}/import", house.production);
    let answer = house.workshop.client.send("POST", &path, &[("content-type", &kind)], &body)?;
    assert_eq!(answer.status, 413);
    assert!(answer.text().contains("more than the 2 MB taken here"), "{}", answer.text());
    let long = "9".repeat(2_000_000);
    let body = fact(&house.performer, "hand_length", &long, "mm");
    let token = house.workshop.token.clone();
    let mut other = house.workshop.twin();
    let answer = other.client.post_json("/api/facts", &token, &body)?;
    assert_eq!((answer.status, code(&answer.json())), (413, "too_large"));
    let page = format!("/performers/{}", house.performer);
    expect(house.workshop.client.get(&page)?, 200)?;
    Ok(())
}

#[test]
fn a_batch_with_nobody_measured_is_refused_at_the_form() -> Result<()> {
    let mut house = house("bad-batch")?;
    let token = house.workshop.token.clone();
    let path = format!("/productions/{}/batches", house.production);
    let fields = [("csrf", token.as_str()), ("paper", "a4")];
    let answer = house.workshop.client.post_form(&path, &fields)?;
    assert_eq!(answer.status, 422);
    assert!(answer.text().contains("has been measured yet"), "{}", answer.text());
    let fields = [("csrf", token.as_str()), ("paper", "papyrus")];
    assert_eq!(house.workshop.client.post_form(&path, &fields)?.status, 422);
    Ok(())
}
