//! What every command that starts from a roster takes.

use std::fs;
use std::path::PathBuf;

use analysis::draft::GloveOptions;
use analysis::model::Population;
use analysis::units::Unit;
use thiserror::Error;

use crate::batch::BatchPerformer;
use crate::import::{Outcome, Problem, roster};
use crate::words;

/// A roster and how to read it.
#[derive(Debug, clap::Args)]
pub struct RosterArgs {
    /// Roster as CSV: a column "code", and columns such as "left hand length (cm)".
    roster: PathBuf,
    /// Published people for performers whose line names none: women, men, adults, girl_9, ...
    #[arg(long, default_value = "adults", value_parser = population)]
    reference: Population,
    /// Unit of values that name none: mm, cm or in.
    #[arg(long, default_value = "mm", value_parser = unit)]
    unit: Unit,
}

fn population(key: &str) -> Result<Population, String> {
    Population::from_key(key)
        .ok_or_else(|| "use women, men, adults, girl_9, boy_9 or child_9 (3 to 17)".to_owned())
}

fn unit(word: &str) -> Result<Unit, String> {
    Unit::from_word(word).ok_or_else(|| "use mm, cm or in".to_owned())
}

/// Why a roster cannot be used.
#[derive(Debug, Error)]
pub enum RosterError {
    /// It cannot be opened.
    #[error("{0} cannot be read: {1}")]
    Open(PathBuf, std::io::Error),
    /// It holds nothing that can be used.
    #[error("The roster cannot be used. {0}")]
    Refused(String),
}

impl RosterArgs {
    /// The performers of the roster. Lines and cells that cannot be used are named on the error
    /// stream.
    ///
    /// # Errors
    /// [`RosterError`].
    pub fn performers(&self) -> Result<Vec<BatchPerformer>, RosterError> {
        let bytes = fs::read(&self.roster)
            .map_err(|error| RosterError::Open(self.roster.clone(), error))?;
        let preview = roster::read(&bytes, self.unit);
        if let Some(problem) = preview.problems.iter().find(|p| p.outcome == Outcome::FileRefused) {
            return Err(RosterError::Refused(sentence(problem)));
        }
        for problem in &preview.problems {
            eprintln!("{}", sentence(problem));
        }
        let performers = preview.rows.into_iter().map(|row| BatchPerformer {
            kept_flags: Vec::new(),
            hands: row.hands(),
            code: row.code,
            population: row.population.unwrap_or(self.reference),
            fabric: row.fabric,
            cloth: None,
            options: GloveOptions::default(),
            master: None,
        });
        Ok(performers.collect())
    }
}

fn sentence(problem: &Problem) -> String {
    let message = problem.message(words::all().of(words::FALLBACK));
    match &problem.column {
        Some(column) => format!("line {}, {column}: {message}", problem.line),
        None => format!("line {}: {message}", problem.line),
    }
}
