//! The `handcall` command.

use std::process::ExitCode;

use clap::{Parser, Subcommand};
use handcall::{command, demo, keep, serve};

/// The C library keeps what threads free in arenas of its own; a batch of a thousand performers
/// then holds half a gigabyte that nobody uses.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Measures a cast's hands, checks and fills the readings, drafts gloves and prints them at true
/// size.
#[derive(Debug, Parser)]
#[command(name = "handcall", version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve the site on this machine.
    Serve(serve::ServeArgs),
    /// Draft gloves for everybody in a roster with measurements.
    Draft(command::draft::DraftArgs),
    /// Lay the pieces of everybody in a roster on cloth: what to buy, and where to cut.
    Lay(command::lay::LayArgs),
    /// Draft both gloves of every size of the European chart.
    Chart(command::chart::ChartArgs),
    /// Load, check, fill, draft and serve an invented company.
    Demo(demo::DemoArgs),
    /// Copy the database, in use or not.
    Backup(keep::BackupArgs),
    /// Put a backup in the place of the database. The server must be stopped.
    Restore(keep::RestoreArgs),
    /// Check the database and the audit trail.
    Check(keep::CheckArgs),
    /// Remove the second factor of an account whose phone and recovery codes are lost.
    Unlock(keep::UnlockArgs),
}

fn main() -> ExitCode {
    tracing_subscriber::fmt().with_writer(std::io::stderr).with_env_filter("handcall=info").init();
    let result: Result<(), Box<dyn std::error::Error>> = match Arguments::parse().command {
        Command::Serve(args) => serve::run(args).map_err(Into::into),
        Command::Draft(args) => command::draft::run(&args).map_err(Into::into),
        Command::Lay(args) => command::lay::run(&args).map_err(Into::into),
        Command::Chart(args) => command::chart::run(&args).map_err(Into::into),
        Command::Demo(args) => demo::run(&args).map_err(Into::into),
        Command::Backup(args) => keep::backup(&args).map_err(Into::into),
        Command::Restore(args) => keep::restore(&args).map_err(Into::into),
        Command::Check(args) => keep::check(&args).map_err(Into::into),
        Command::Unlock(args) => keep::unlock(&args).map_err(Into::into),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("handcall: {error}");
            ExitCode::FAILURE
        }
    }
}
