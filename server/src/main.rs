//! The `handcall` command.

use std::process::ExitCode;

use clap::{Parser, Subcommand};
use handcall::serve;

/// Measures a cast's hands, checks and fills the readings, drafts gloves and prints them at true size.
#[derive(Debug, Parser)]
#[command(version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve the site on this machine.
    Serve(serve::ServeArgs),
}

fn main() -> ExitCode {
    tracing_subscriber::fmt().with_writer(std::io::stderr).with_env_filter("handcall=info").init();
    let result = match Arguments::parse().command {
        Command::Serve(args) => serve::run(args),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
