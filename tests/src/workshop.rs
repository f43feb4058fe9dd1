//! What a supervisor and a measurer do, over HTTP: a method for each thing the tests need.

use std::io::{Error, Result};
use std::net::SocketAddr;

use serde_json::{Value, json};
use uuid::Uuid;

use crate::client::{Answer, Client};
use crate::page::decoded;
use crate::running::Running;

/// Somebody signed in, with the token their forms carry.
#[derive(Debug)]
pub struct Workshop {
    /// Their browser.
    pub client: Client,
    /// Token of their forms.
    pub token: String,
}

/// One reading as a phone sends it.
#[derive(Debug, Clone)]
pub struct Sent {
    /// Made by the phone.
    pub id: Uuid,
    /// Key of the side.
    pub side: &'static str,
    /// Key of the dimension.
    pub dimension: &'static str,
    /// As typed, in mm.
    pub value: String,
}

impl Workshop {
    /// Signs in with the link that the server printed.
    ///
    /// # Errors
    /// When a request fails or is not answered as it should be.
    pub fn open(server: &Running) -> Result<Workshop> {
        Workshop::of(server.signed_in()?)
    }

    /// For a client that is signed in.
    ///
    /// # Errors
    /// When it is not.
    pub fn of(mut client: Client) -> Result<Workshop> {
        let session = expect(client.get("/api/session")?, 200)?.json();
        let token = session.get("form_token").and_then(Value::as_str);
        let token = token.ok_or_else(|| Error::other("no form token"))?.to_owned();
        Ok(Workshop { client, token })
    }

    /// A second device of the same person.
    #[must_use]
    pub fn twin(&self) -> Workshop {
        Workshop { client: self.client.twin(), token: self.token.clone() }
    }

    /// The same browser at a server that was started again.
    #[must_use]
    pub fn at(&self, address: SocketAddr) -> Workshop {
        Workshop { client: self.client.at(address), token: self.token.clone() }
    }

    /// Adds an account and gives its one-time sign-in link.
    ///
    /// # Errors
    /// As [`Workshop::open`].
    pub fn add_account(&mut self, name: &str, role: &str) -> Result<String> {
        let fields = [("csrf", self.token.as_str()), ("name", name), ("role", role)];
        let page = decoded(&expect(self.client.post_form("/accounts", &fields)?, 200)?.text());
        let link = page
            .split("/sign-in/")
            .nth(1)
            .map(|rest| rest.chars().take_while(char::is_ascii_alphanumeric).collect::<String>());
        link.map(|token| format!("/sign-in/{token}"))
            .ok_or_else(|| Error::other("the page shows no link"))
    }

    /// Adds a production and gives its id.
    ///
    /// # Errors
    /// As [`Workshop::open`].
    pub fn add_production(&mut self, name: &str) -> Result<String> {
        let answer = self.client.post_form("/", &[("csrf", &self.token), ("name", name)])?;
        let answer = expect(answer, 303)?;
        let place = answer.header("location").unwrap_or_default();
        Ok(place.rsplit('/').next().unwrap_or_default().to_owned())
    }

    /// Adds a performer and gives their id.
    ///
    /// # Errors
    /// As [`Workshop::open`].
    pub fn add_performer(&mut self, production: &str, code: &str) -> Result<String> {
        let fields = [
            ("csrf", self.token.as_str()),
            ("code", code),
            ("name", ""),
            ("population", "adults"),
            ("fabric", ""),
            ("note", ""),
        ];
        let path = format!("/productions/{production}/performers");
        expect(self.client.post_form(&path, &fields)?, 303)?;
        self.performer(production, code)
    }

    /// Adds a minor of these years and gives their id; no consent is recorded yet.
    ///
    /// # Errors
    /// As [`Workshop::open`].
    pub fn add_minor(&mut self, production: &str, code: &str, years: u8) -> Result<String> {
        let age = years.to_string();
        let fields = [
            ("csrf", self.token.as_str()),
            ("code", code),
            ("population", "child"),
            ("age", age.as_str()),
        ];
        let path = format!("/productions/{production}/performers");
        expect(self.client.post_form(&path, &fields)?, 303)?;
        self.performer(production, code)
    }

    /// Records a guardian's consent, or that it was taken back, as a phone does.
    ///
    /// # Errors
    /// As [`Workshop::open`].
    pub fn consent(&mut self, performer: &str, is_given: bool) -> Result<()> {
        let fact = json!({
            "fact": "consent", "id": Uuid::now_v7(), "performer": performer,
            "is_given": is_given, "manner": "spoken", "words": "I agree.",
        });
        let body = json!({ "device": "test", "facts": [fact] });
        expect(self.client.post_json("/api/facts", &self.token, &body)?, 200).map(drop)
    }

    /// The id of the performer with this code.
    ///
    /// # Errors
    /// As [`Workshop::open`], or when nobody of the production has it.
    pub fn performer(&mut self, production: &str, code: &str) -> Result<String> {
        let path = format!("/api/productions/{production}/board");
        let board = expect(self.client.get(&path)?, 200)?.json();
        let rows = board.get("rows").and_then(Value::as_array).cloned().unwrap_or_default();
        rows.iter()
            .find(|row| row.get("code").and_then(Value::as_str) == Some(code))
            .and_then(|row| row.get("id")?.as_str().map(ToOwned::to_owned))
            .ok_or_else(|| Error::other(format!("{code} is not on the board")))
    }

    /// Posts readings of one performer in one request.
    ///
    /// # Errors
    /// When the request fails; a refusal is an answer.
    pub fn post_readings(&mut self, performer: &str, readings: &[Sent]) -> Result<Answer> {
        let facts: Vec<Value> = readings
            .iter()
            .map(|reading| {
                json!({
                    "fact": "reading", "id": reading.id, "performer": performer,
                    "side": reading.side, "dimension": reading.dimension,
                    "value": reading.value, "unit": "mm",
                })
            })
            .collect();
        let body = json!({ "device": "test", "facts": facts });
        self.client.post_json("/api/facts", &self.token, &body)
    }

    /// Ids of the readings of a performer that are in use.
    ///
    /// # Errors
    /// As [`Workshop::open`].
    pub fn reading_ids(&mut self, performer: &str) -> Result<Vec<Uuid>> {
        let path = format!("/api/performers/{performer}");
        let held = expect(self.client.get(&path)?, 200)?.json();
        let readings = held.get("readings").and_then(Value::as_array).cloned().unwrap_or_default();
        Ok(readings.iter().filter_map(|r| r.get("id")?.as_str()?.parse().ok()).collect())
    }
}

/// The answer, if it has this status.
///
/// # Errors
/// With status and body otherwise.
pub fn expect(answer: Answer, status: u16) -> Result<Answer> {
    if answer.status == status {
        return Ok(answer);
    }
    Err(Error::other(format!("{} instead of {status}: {}", answer.status, answer.text())))
}
