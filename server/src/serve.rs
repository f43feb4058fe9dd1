//! `handcall serve`: the site.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;

use clap::Args;

use crate::app::{self, StartError};
use crate::config::{Config, Transport};

/// Arguments of `handcall serve`.
#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Folder of the database and of the batches' files.
    #[arg(long, default_value = "data")]
    pub data: PathBuf,
    /// Port; 0 takes a free one.
    #[arg(long, default_value_t = 8443)]
    pub port: u16,
    /// Serve the whole local network, with a certificate of an authority made on the first run.
    #[arg(long)]
    pub lan: bool,
    /// Address to listen on, when it is neither this machine alone nor all of its networks.
    #[arg(long)]
    pub address: Option<IpAddr>,
    /// Certificate chain, a PEM file.
    #[arg(long, requires = "tls_key")]
    pub tls_cert: Option<PathBuf>,
    /// Key of the certificate, a PEM file.
    #[arg(long, requires = "tls_cert")]
    pub tls_key: Option<PathBuf>,
}

/// Serves until interrupted.
///
/// # Errors
/// [`StartError`] says what is in the way.
pub fn run(args: ServeArgs) -> Result<(), StartError> {
    let everywhere = if args.lan { Ipv4Addr::UNSPECIFIED } else { Ipv4Addr::LOCALHOST };
    let address = args.address.unwrap_or(IpAddr::V4(everywhere));
    let transport = match (args.tls_cert, args.tls_key) {
        (Some(certificate), Some(key)) => Transport::Certificate(certificate, key),
        _ if args.lan => Transport::LocalAuthority,
        _ => Transport::Plain,
    };
    app::serve(Config { data: args.data, listen: SocketAddr::new(address, args.port), transport })
}
