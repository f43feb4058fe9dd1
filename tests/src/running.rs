//! The real command serving on loopback, from a data folder of its own.

use std::io::{BufRead, BufReader, Error, ErrorKind, Result};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use crate::client::Client;
use crate::place::command;

/// A server that does not say where it listens within this time is broken.
const PATIENCE: Duration = Duration::from_secs(60);

/// A running server; killed when dropped.
#[derive(Debug)]
pub struct Running {
    child: Child,
    /// Where it listens.
    pub address: SocketAddr,
    /// Path of the sign-in link it printed.
    pub sign_in: String,
}

impl Running {
    /// Starts `handcall serve` on a free port.
    ///
    /// # Errors
    /// When it ends, or does not print a link on 127.0.0.1 in time.
    pub fn start(data: &Path) -> Result<Running> {
        Running::start_command(&command(), data)
    }

    /// Starts the given command, for instance a release build.
    ///
    /// # Errors
    /// As [`Running::start`].
    pub fn start_command(command: &PathBuf, data: &Path) -> Result<Running> {
        Running::start_process(Command::new(command), data, &[])
    }

    /// Starts `handcall serve` with further arguments.
    ///
    /// # Errors
    /// As [`Running::start`].
    pub fn start_with(data: &Path, words: &[&str]) -> Result<Running> {
        Running::start_process(Command::new(command()), data, words)
    }

    /// Starts a process that has been prepared, for instance with variables of its own.
    ///
    /// # Errors
    /// As [`Running::start`].
    pub fn start_process(mut process: Command, data: &Path, words: &[&str]) -> Result<Running> {
        let mut child = process
            .args(["serve", "--port", "0", "--data"])
            .arg(data)
            .args(words)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()?;
        let output = child.stdout.take().ok_or_else(|| Error::other("no output"))?;
        let (lines, arriving) = mpsc::channel();
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                // Nobody listens once the link was found; reading goes on so that the pipe never fills.
                let _ = lines.send(line);
            }
        });
        loop {
            let line = arriving.recv_timeout(PATIENCE).map_err(|_| {
                // Not started is not running; nothing more can be done about it here.
                let _ = child.kill();
                Error::new(ErrorKind::TimedOut, "the server printed no sign-in link")
            })?;
            if let Some((address, path)) = link(&line) {
                return Ok(Running { child, address, sign_in: path });
            }
        }
    }

    /// A client that has used the sign-in link it printed.
    ///
    /// # Errors
    /// When a request fails or the link does not open.
    pub fn signed_in(&self) -> Result<Client> {
        self.signed_in_by(&self.sign_in)
    }

    /// A client that has used this sign-in link.
    ///
    /// # Errors
    /// When a request fails or the link does not open.
    pub fn signed_in_by(&self, link: &str) -> Result<Client> {
        let mut client = Client::new(self.address);
        // The link shows a page with a button, so that a preview of a message does not use it up.
        let answer = client.post_form(link, &[])?;
        let answer = client.follow(answer)?;
        if answer.status == 200 { Ok(client) } else { Err(Error::other(answer.text())) }
    }

    /// Process id.
    #[must_use]
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Resident memory of the process, bytes, as Linux counts it.
    #[must_use]
    pub fn resident_bytes(&self) -> Option<u64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
        let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
        Some(kib * 1024)
    }

    /// Ends it at once (SIGKILL): no handler runs, nothing is flushed.
    ///
    /// # Errors
    /// When it cannot be killed.
    pub fn kill(mut self) -> Result<()> {
        self.child.kill()?;
        self.child.wait()?;
        Ok(())
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn link(line: &str) -> Option<(SocketAddr, String)> {
    let (host, path) = line.split_once("http://")?.1.split_once('/')?;
    let path: String = path.chars().take_while(|c| !c.is_whitespace()).collect();
    (!path.is_empty()).then_some((host.parse().ok()?, format!("/{path}")))
}
