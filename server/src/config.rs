//! What a server is started with.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;

/// Settings of one server.
#[derive(Debug, Clone)]
pub struct Config {
    /// Folder of the database and of the batches' files.
    pub data: PathBuf,
    /// Where to listen; port 0 takes a free one.
    pub listen: SocketAddr,
    /// Whether pages travel over TLS, so that cookies may be marked secure.
    pub is_tls: bool,
}

impl Config {
    /// A server for this machine only.
    #[must_use]
    pub fn local(data: PathBuf, port: u16) -> Config {
        Config {
            data,
            listen: SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), port),
            is_tls: false,
        }
    }

    /// The database file.
    #[must_use]
    pub fn database(&self) -> PathBuf {
        self.data.join("handcall.sqlite")
    }

    /// Folder of the finished batches.
    #[must_use]
    pub fn batches(&self) -> PathBuf {
        self.data.join("batches")
    }
}
