//! What every command that starts from a roster takes.

use std::fs;
use std::path::PathBuf;

use analysis::check::{check_hands, trusted};
use analysis::model::{HandModel, Population};
use analysis::units::Unit;
use thiserror::Error;

use crate::batch::BatchPerformer;
use crate::calls;
use crate::draft_options::DraftForm;
use crate::import::fabrics::{self, FabricRow, FabricsError};
use crate::import::{Outcome, Problem, RosterRow, roster};
use crate::wanted::Base;
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
    /// Stretch tests as CSV: a column "key" or "name" as in the roster's column "fabric", then
    /// direction, mass_g, strip_width_mm, before_mm, loaded_mm, released_mm.
    #[arg(long)]
    fabrics: Option<PathBuf>,
    /// Only performers of this call, as in the roster's column "call".
    #[arg(long)]
    call: Option<String>,
    #[command(flatten)]
    choices: DraftForm,
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
    /// The stretch tests cannot be used.
    #[error("{0} cannot be used: {1}")]
    Fabrics(PathBuf, FabricsError),
    /// Nobody is called so.
    #[error("--call {0}: nobody of the roster has this call")]
    Call(String),
    /// An option cannot be used.
    #[error("--{0}: {1}")]
    Choice(String, String),
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
        let fabrics = self.fabrics()?;
        let called =
            |row: &RosterRow| self.call.as_ref().is_none_or(|call| calls::is_same(call, &row.call));
        let rows: Vec<RosterRow> = preview.rows.into_iter().filter(called).collect();
        if let Some(call) = self.call.as_ref().filter(|_| rows.is_empty()) {
            return Err(RosterError::Call(call.clone()));
        }
        let model = HandModel::published();
        let mut performers = Vec::new();
        let mut refused = None;
        for row in rows {
            let code = row.code.clone();
            match self.performer(&model, &fabrics, row) {
                Ok(performer) => performers.push(performer),
                Err(error) => {
                    eprintln!("{code}: {error}");
                    refused = refused.or(Some(error));
                }
            }
        }
        match refused {
            Some(error) if performers.is_empty() => Err(error),
            _ => Ok(performers),
        }
    }

    fn fabrics(&self) -> Result<Vec<FabricRow>, RosterError> {
        let Some(path) = &self.fabrics else { return Ok(Vec::new()) };
        let bytes = fs::read(path).map_err(|error| RosterError::Open(path.clone(), error))?;
        fabrics::read(&bytes).map_err(|error| RosterError::Fabrics(path.clone(), error))
    }

    fn performer(
        &self,
        model: &HandModel,
        fabrics: &[FabricRow],
        row: RosterRow,
    ) -> Result<BatchPerformer, RosterError> {
        let population = row.population.unwrap_or(self.reference);
        let hands = row.hands();
        let fabric = fabrics.iter().find(|fabric| fabric.is_called(&row.fabric));
        let flags = check_hands(model, population, &hands);
        let filled = model.fill(population, &trusted(&hands, &flags));
        let base = Base::of(fabric.map(|fabric| &fabric.facts), &filled, population);
        let chosen = row.choices().over(&self.choices);
        let wanted = base.wanted(&chosen).map_err(|problem| {
            let field = problem.field.clone().unwrap_or_default();
            let w = words::all().of(words::FALLBACK);
            RosterError::Choice(field.replace('_', "-"), problem.body(w).message)
        })?;
        Ok(BatchPerformer {
            kept_flags: Vec::new(),
            hands,
            code: row.code,
            call: row.call,
            population,
            fabric: fabric.map_or(row.fabric, |fabric| fabric.name.clone()),
            cloth: fabric.map(|fabric| fabric.facts.clone()),
            options: wanted.options,
            master: wanted.master,
        })
    }
}

fn sentence(problem: &Problem) -> String {
    let message = problem.message(words::all().of(words::FALLBACK));
    match &problem.column {
        Some(column) => format!("line {}, {column}: {message}", problem.line),
        None => format!("line {}: {message}", problem.line),
    }
}
