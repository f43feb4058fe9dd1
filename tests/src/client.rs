//! A small HTTP/1.1 client over one kept connection: what a phone does, without a browser.

use std::collections::BTreeMap;
use std::io::{Error, ErrorKind, Read, Result, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

/// A request that takes longer is a failure.
const PATIENCE: Duration = Duration::from_secs(60);

/// One browser's worth of cookies and one connection.
#[derive(Debug)]
pub struct Client {
    address: SocketAddr,
    connection: Option<TcpStream>,
    cookies: BTreeMap<String, String>,
}

/// What the server answered.
#[derive(Debug, Clone)]
pub struct Answer {
    /// Status code.
    pub status: u16,
    /// Headers, names in lower case.
    pub headers: Vec<(String, String)>,
    /// Body, chunks joined.
    pub body: Vec<u8>,
}

impl Answer {
    /// A header's value.
    #[must_use]
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
    }

    /// The body as text.
    #[must_use]
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The body as JSON, or null.
    #[must_use]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.body).unwrap_or_default()
    }
}

impl Client {
    /// A client without cookies.
    #[must_use]
    pub fn new(address: SocketAddr) -> Client {
        Client { address, connection: None, cookies: BTreeMap::new() }
    }

    /// A second device of the same person: the same cookies, another connection.
    #[must_use]
    pub fn twin(&self) -> Client {
        Client { address: self.address, connection: None, cookies: self.cookies.clone() }
    }

    /// The same browser at a server that has moved: its cookies, another address.
    #[must_use]
    pub fn at(&self, address: SocketAddr) -> Client {
        Client { address, connection: None, cookies: self.cookies.clone() }
    }

    /// Gets a page.
    ///
    /// # Errors
    /// When the connection fails or the answer is not HTTP.
    pub fn get(&mut self, path: &str) -> Result<Answer> {
        self.send("GET", path, &[], b"")
    }

    /// Posts a form, its fields encoded.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn post_form(&mut self, path: &str, fields: &[(&str, &str)]) -> Result<Answer> {
        let pairs: Vec<_> =
            fields.iter().map(|(k, v)| format!("{}={}", encoded(k), encoded(v))).collect();
        let body = pairs.join("&");
        let kind = ("content-type", "application/x-www-form-urlencoded");
        self.send("POST", path, &[kind], body.as_bytes())
    }

    /// Posts JSON with a form token in its header.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn post_json(
        &mut self,
        path: &str,
        token: &str,
        json: &serde_json::Value,
    ) -> Result<Answer> {
        let headers = [("content-type", "application/json"), ("x-form-token", token)];
        self.send("POST", path, &headers, json.to_string().as_bytes())
    }

    /// Follows redirects by GET, at most five.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn follow(&mut self, mut answer: Answer) -> Result<Answer> {
        for _ in 0..5 {
            match (answer.status, answer.header("location")) {
                (301..=308, Some(path)) => {
                    let path = path.to_owned();
                    answer = self.get(&path)?;
                }
                _ => break,
            }
        }
        Ok(answer)
    }

    /// Sends any request. A connection that the server closed in between is opened anew, once,
    /// and only where nothing of the request had been answered.
    ///
    /// # Errors
    /// As [`Client::get`].
    pub fn send(
        &mut self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &[u8],
    ) -> Result<Answer> {
        let mut head = format!("{method} {path} HTTP/1.1\r\nhost: {}\r\n", self.address);
        for (name, value) in headers {
            head += &format!("{name}: {value}\r\n");
        }
        if !self.cookies.is_empty() {
            let pairs: Vec<_> = self.cookies.iter().map(|(k, v)| format!("{k}={v}")).collect();
            head += &format!("cookie: {}\r\n", pairs.join("; "));
        }
        head += &format!("content-length: {}\r\n\r\n", body.len());
        let request = [head.as_bytes(), body].concat();
        let is_kept = self.connection.is_some();
        let answer = match self.exchange(&request) {
            Err(_) if is_kept => {
                self.connection = None;
                self.exchange(&request)
            }
            other => other,
        };
        if answer.is_err() {
            self.connection = None;
        }
        let answer = answer?;
        self.keep_cookies(&answer);
        Ok(answer)
    }

    fn keep_cookies(&mut self, answer: &Answer) {
        for (_, cookie) in answer.headers.iter().filter(|(name, _)| name == "set-cookie") {
            let pair = cookie.split(';').next().unwrap_or_default();
            if let Some((name, value)) = pair.split_once('=') {
                self.cookies.insert(name.trim().to_owned(), value.trim().to_owned());
            }
        }
    }

    fn exchange(&mut self, request: &[u8]) -> Result<Answer> {
        let mut connection = match self.connection.take() {
            Some(connection) => connection,
            None => {
                let connection = TcpStream::connect(self.address)?;
                connection.set_nodelay(true)?;
                connection.set_read_timeout(Some(PATIENCE))?;
                connection
            }
        };
        connection.write_all(request)?;
        let (answer, is_kept) = read_answer(&mut connection)?;
        if is_kept {
            self.connection = Some(connection);
        }
        Ok(answer)
    }
}

fn read_answer(connection: &mut impl Read) -> Result<(Answer, bool)> {
    let mut buffer = Vec::new();
    let head_end = loop {
        if let Some(at) = find(&buffer, b"\r\n\r\n") {
            break at;
        }
        fill(connection, &mut buffer)?;
    };
    let mut body = buffer.split_off(head_end + 4);
    let head = String::from_utf8_lossy(&buffer).into_owned();
    let mut lines = head.split("\r\n");
    let status = lines.next().and_then(|line| line.split(' ').nth(1)).and_then(|s| s.parse().ok());
    let status = status.ok_or_else(|| Error::new(ErrorKind::InvalidData, head.clone()))?;
    let headers: Vec<(String, String)> = lines
        .filter_map(|line| line.split_once(':'))
        .map(|(name, value)| (name.trim().to_lowercase(), value.trim().to_owned()))
        .collect();
    let mut answer = Answer { status, headers, body: Vec::new() };
    if answer.header("transfer-encoding") == Some("chunked") {
        loop {
            let line_end = loop {
                if let Some(at) = find(&body, b"\r\n") {
                    break at;
                }
                fill(connection, &mut body)?;
            };
            let size =
                String::from_utf8_lossy(body.get(..line_end).unwrap_or_default()).into_owned();
            let size = usize::from_str_radix(size.trim(), 16)
                .map_err(|_| Error::new(ErrorKind::InvalidData, size))?;
            while body.len() < line_end + 2 + size + 2 {
                fill(connection, &mut body)?;
            }
            let rest = body.split_off(line_end + 2 + size + 2);
            answer
                .body
                .extend_from_slice(body.get(line_end + 2..line_end + 2 + size).unwrap_or_default());
            body = rest;
            if size == 0 {
                break;
            }
        }
    } else {
        let length = answer.header("content-length").and_then(|v| v.parse().ok()).unwrap_or(0);
        while body.len() < length {
            fill(connection, &mut body)?;
        }
        answer.body = body;
    }
    let is_kept = answer.header("connection") != Some("close");
    Ok((answer, is_kept))
}

fn fill(connection: &mut impl Read, buffer: &mut Vec<u8>) -> Result<()> {
    let mut chunk = [0_u8; 16 * 1024];
    let count = connection.read(&mut chunk)?;
    if count == 0 {
        return Err(Error::new(ErrorKind::UnexpectedEof, "the server closed the connection"));
    }
    buffer.extend_from_slice(chunk.get(..count).unwrap_or_default());
    Ok(())
}

fn find(haystack: &[u8], needle: &[u8]) -> Option<usize> {
    haystack.windows(needle.len()).position(|window| window == needle)
}

/// Percent-encoding of everything but unreserved characters (RFC 3986).
#[must_use]
pub fn encoded(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                char::from(byte).to_string()
            }
            other => format!("%{other:02X}"),
        })
        .collect()
}
