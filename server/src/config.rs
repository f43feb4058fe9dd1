//! What a server is started with.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;

use crate::backups::Schedule;

/// Settings of one server.
#[derive(Debug, Clone)]
pub struct Config {
    /// Folder of the database and of the batches' files.
    pub data: PathBuf,
    /// Where to listen; port 0 takes a free one.
    pub listen: SocketAddr,
    /// How pages are encrypted on their way; never off beyond this machine.
    pub transport: Transport,
    /// Backups made by the server itself, if it makes any.
    pub backups: Option<Schedule>,
    /// Whether administrators must have a second factor.
    pub demands_second_factor: bool,
}

/// How pages are encrypted on their way.
#[derive(Debug, Clone)]
pub enum Transport {
    /// Not at all: on this machine alone.
    Plain,
    /// By a certificate signed by the local authority in the data folder.
    LocalAuthority,
    /// By a certificate and key of one's own, PEM files.
    Certificate(PathBuf, PathBuf),
}

impl Config {
    /// A server for this machine only.
    #[must_use]
    pub fn local(data: PathBuf, port: u16) -> Config {
        Config {
            data,
            listen: SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), port),
            transport: Transport::Plain,
            backups: None,
            demands_second_factor: false,
        }
    }

    /// Whether pages travel over TLS, so that cookies may be marked secure.
    #[must_use]
    pub fn is_tls(&self) -> bool {
        !matches!(self.transport, Transport::Plain)
    }

    /// Folder of the local authority.
    #[must_use]
    pub fn authority(&self) -> PathBuf {
        self.data.join("tls")
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
