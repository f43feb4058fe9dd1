//! `handcall serve`: the site.

use std::path::PathBuf;

use clap::Args;

use crate::app::{self, StartError};
use crate::config::Config;

/// Arguments of `handcall serve`.
#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Folder of the database and of the batches' files.
    #[arg(long, default_value = "data")]
    pub data: PathBuf,
    /// Port on this machine; 0 takes a free one.
    #[arg(long, default_value_t = 8443)]
    pub port: u16,
}

/// Serves until interrupted.
///
/// # Errors
/// [`StartError`] says what is in the way.
pub fn run(args: ServeArgs) -> Result<(), StartError> {
    app::serve(Config::local(args.data, args.port))
}
