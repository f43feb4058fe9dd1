//! A script that works with the server by its API: every answer is held to the description.

use std::io::{Error, Result};

use serde_json::Value;

use crate::client::{Answer, Client};
use crate::running::Running;
use crate::schema::departures;
use crate::workshop::{Workshop, expect};

/// Somebody's script.
#[derive(Debug)]
pub struct Script {
    /// Who is signed in.
    pub desk: Workshop,
    /// What the server says of itself.
    pub description: Value,
}

impl Script {
    /// Signs in with the link that the server printed.
    ///
    /// # Errors
    /// When a request fails or is not answered as it should be.
    pub fn open(server: &Running) -> Result<Script> {
        let mut desk = Workshop::open(server)?;
        let description = expect(desk.client.get("/api/openapi.json")?, 200)?.json();
        Ok(Script { desk, description })
    }

    /// Asks an address of the description, its `{id}` and the like filled in order.
    ///
    /// # Errors
    /// When the request fails, or the answer is not one that is described.
    pub fn get(&mut self, address: &str, names: &[&str], query: &str) -> Result<Answer> {
        let answer = self.desk.client.get(&(filled(address, names) + query))?;
        self.held("get", address, answer)
    }

    /// Posts JSON to an address of the description with the session's form token.
    ///
    /// # Errors
    /// As [`Script::get`].
    pub fn post(&mut self, address: &str, names: &[&str], body: &Value) -> Result<Answer> {
        let token = self.desk.token.clone();
        let answer = self.desk.client.post_json(&filled(address, names), &token, body)?;
        self.held("post", address, answer)
    }

    /// Posts JSON as somebody else: not signed in, or as a guest.
    ///
    /// # Errors
    /// As [`Script::get`].
    pub fn post_as(
        &self,
        client: &mut Client,
        address: &str,
        names: &[&str],
        body: &Value,
    ) -> Result<Answer> {
        self.held("post", address, client.post_json(&filled(address, names), "", body)?)
    }

    /// The answer, if the description has it.
    fn held(&self, method: &str, address: &str, answer: Answer) -> Result<Answer> {
        let status = answer.status.to_string();
        let mut stated = &self.description["paths"][address][method]["responses"][&status];
        if let Some(place) = stated["$ref"].as_str().and_then(|place| place.strip_prefix('#')) {
            stated = self.description.pointer(place).unwrap_or(stated);
        }
        let schema = &stated["content"]["application/json"]["schema"];
        let found = match schema {
            Value::Null => vec!["no such answer is described".to_owned()],
            schema => departures(&self.description, schema, &answer.json()),
        };
        if found.is_empty() {
            return Ok(answer);
        }
        let text: String = answer.text().chars().take(600).collect();
        Err(Error::other(format!("{method} {address}: {status}: {found:#?}: {text}")))
    }
}

/// An address with its names in place.
fn filled(address: &str, names: &[&str]) -> String {
    let mut parts = address.split('{');
    let mut path = parts.next().unwrap_or_default().to_owned();
    for (part, name) in parts.zip(names) {
        path += name;
        path += part.split_once('}').map_or("", |(_, rest)| rest);
    }
    path
}
