//! `handcall serve`: the site.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use crate::backups::Schedule;
use crate::config::{Config, Transport};
use crate::start::{self, StartError};

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
    /// Make backups into this folder, outside the data folder, by the clock.
    #[arg(long)]
    pub backups: Option<PathBuf>,
    /// Hours from one backup to the next.
    #[arg(long, default_value_t = 24.0, requires = "backups", value_parser = hours)]
    pub backup_hours: f64,
    /// How many backups are kept; the oldest beyond them are removed.
    #[arg(long, default_value_t = 14, requires = "backups", value_parser = clap::value_parser!(u16).range(1..))]
    pub backups_kept: u16,
    /// Administrators must have a second factor: until it is set up, they see their account alone.
    #[arg(long)]
    pub demand_second_factor: bool,
}

fn hours(text: &str) -> Result<f64, String> {
    /// Shortest and longest time between two backups, hours.
    const BOUNDS: std::ops::RangeInclusive<f64> = 1e-6..=24.0 * 365.0;
    let hours: f64 = text.parse().map_err(|_| "is not a number".to_owned())?;
    if BOUNDS.contains(&hours) {
        Ok(hours)
    } else {
        Err("is not a useful number of hours".to_owned())
    }
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
    let backups = args.backups.map(|folder| Schedule {
        folder,
        every: Duration::from_secs_f64(args.backup_hours * 3600.0),
        kept: usize::from(args.backups_kept),
    });
    let listen = SocketAddr::new(address, args.port);
    let demands_second_factor = args.demand_second_factor;
    start::serve(Config { data: args.data, listen, transport, backups, demands_second_factor })
}
