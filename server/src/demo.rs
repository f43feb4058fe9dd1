//! `handcall demo`: the invented company of `demo-data`, loaded, checked, filled, drafted, served.
//!
//! The company is embedded in the program, so that the command needs nothing but itself. A second
//! run finds what the first one stored, with whatever was entered since, and writes the drafts anew.

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use analysis::draft::GloveOptions;
use analysis::model::{HandModel, Population};
use analysis::units::Unit;
use serde::{Deserialize, Serialize};
use thiserror::Error;
use uuid::Uuid;

use crate::app::{self, StartError};
use crate::batch::{self, BatchError, BatchOrder, BatchPerformer, FolderSink};
use crate::command::draft::{progress_bar, today, write_table};
use crate::config::Config;
use crate::export::pdf::Paper;
use crate::facts::instrument_key;
use crate::import::roster::{self, RosterRow};
use crate::person::Person;
use crate::store::audit::{self, Action};
use crate::store::fabric::{self, Fabric};
use crate::store::performer::{self, NewPerformer};
use crate::store::reading::{self, Reading};
use crate::store::{Conn, Store, StoreError, StoreResult, now_ms, production};

const ROSTER: &[u8] = include_bytes!("../../demo-data/roster.csv");
const FABRICS: &[u8] = include_bytes!("../../demo-data/fabrics.csv");

/// The invented company's invented show.
const PRODUCTION: &str = "The Salt Stair";

/// Who the audit trail and the readings name.
const ACTOR: &str = "demo";

/// `handcall demo`: an invented company, checked, filled, drafted and served.
#[derive(Debug, clap::Args)]
pub struct DemoArgs {
    /// Folder of the demo's database; the drafts go into its folder "drafts".
    #[arg(long, default_value = "data/demo")]
    data: PathBuf,
    /// Port on this machine; 0 takes a free one.
    #[arg(long, default_value_t = 0)]
    port: u16,
    /// Write the drafts and the table, then stop instead of serving.
    #[arg(long)]
    no_serve: bool,
}

/// Why the demo stopped.
#[derive(Debug, Error)]
pub enum DemoError {
    /// The database.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The drafts.
    #[error(transparent)]
    Batch(#[from] BatchError),
    /// The folder of the drafts.
    #[error("{0} cannot be made: {1}")]
    Folder(PathBuf, std::io::Error),
    /// The embedded company.
    #[error("The embedded company cannot be read: {0}")]
    Company(String),
    /// The server.
    #[error(transparent)]
    Start(#[from] StartError),
}

/// One line of `fabrics.csv`: a stretch test in one direction.
#[derive(Debug, Clone, Deserialize, Serialize)]
struct StretchTest {
    key: String,
    name: String,
    composition: String,
    direction: String,
    strip_width_mm: f64,
    mass_g: f64,
    before_mm: f64,
    loaded_mm: f64,
    released_mm: f64,
}

/// Runs the command.
///
/// # Errors
/// [`DemoError`] says what is in the way.
pub fn run(args: &DemoArgs) -> Result<(), DemoError> {
    let config = Config::local(args.data.clone(), args.port);
    let drafts = args.data.join("drafts");
    draft_company(&Store::open(&config.database())?, &drafts)?;
    if args.no_serve {
        return Ok(());
    }
    Ok(app::serve(config)?)
}

fn draft_company(store: &Store, drafts: &Path) -> Result<(), DemoError> {
    let known = store.read_now(production::list)?.into_iter().find(|p| p.name == PRODUCTION);
    let home = match known {
        Some(known) => {
            println!("The demo is here already, with whatever was entered since.");
            known.id
        }
        None => load(store)?,
    };
    let (people, fabrics) =
        store.read_now(|c| Ok((Person::load_all(c, home)?, fabric::list(c, home)?)))?;
    let performers = people.iter().map(|person| to_draft(person, &fabrics)).collect();
    let order = BatchOrder::of_one_version(PRODUCTION, ("1", &today()), Paper::A4, performers);
    let mut sink =
        FolderSink::new(drafts).map_err(|error| DemoError::Folder(drafts.to_owned(), error))?;
    let never = AtomicBool::new(false);
    let report = batch::run(&HandModel::published(), &order, &mut sink, &progress_bar(), &never)?;
    println!("{PRODUCTION}, an invented production. Drafts are in {}.", drafts.display());
    // A closed pipe behind us is no failure of the drafts.
    let _ = write_table(&mut std::io::stdout().lock(), &report);
    Ok(())
}

fn to_draft(person: &Person, fabrics: &[Fabric]) -> BatchPerformer {
    let fabric = fabrics.iter().find(|fabric| Some(fabric.id) == person.performer.fabric);
    let defaults = GloveOptions::default();
    BatchPerformer {
        kept_flags: Vec::new(),
        code: person.performer.code.clone(),
        population: person.performer.population,
        hands: person.hands(),
        fabric: fabric.map_or_else(String::new, |fabric| fabric.name.clone()),
        options: GloveOptions {
            reduction: fabric.and_then(|f| f.reduction).unwrap_or(defaults.reduction),
            ..defaults
        },
    }
}

/// Stores the company in one transaction, so that a demo stopped half-way starts afresh.
fn load(store: &Store) -> Result<Uuid, DemoError> {
    let preview = roster::read(ROSTER, Unit::Mm);
    if let Some(problem) = preview.problems.first() {
        return Err(DemoError::Company(format!("line {}: {}", problem.line, problem.message)));
    }
    let tests: Vec<StretchTest> = csv::Reader::from_reader(FABRICS)
        .deserialize()
        .collect::<Result<_, _>>()
        .map_err(|error| DemoError::Company(error.to_string()))?;
    Ok(store.write_now(move |c| {
        let home = production::add(c, PRODUCTION)?;
        let fabrics = add_fabrics(c, home, &tests)?;
        for row in &preview.rows {
            let fabric = fabrics.iter().find(|(key, _)| *key == row.fabric).map(|(_, id)| *id);
            add_performer(c, home, row, fabric)?;
        }
        audit::add(c, ACTOR, Action::RosterImported, Some(home))?;
        Ok(home)
    })?)
}

fn add_fabrics(c: &Conn, home: Uuid, tests: &[StretchTest]) -> StoreResult<Vec<(String, Uuid)>> {
    let mut fabrics: Vec<(String, Uuid)> = Vec::new();
    for test in tests {
        if fabrics.iter().any(|(key, _)| *key == test.key) {
            continue;
        }
        let both: Vec<&StretchTest> = tests.iter().filter(|other| other.key == test.key).collect();
        let json = serde_json::to_string(&both).unwrap_or_default();
        let id = fabric::add(c, home, &test.name, &test.composition, None, Some(&json))?;
        fabrics.push((test.key.clone(), id));
    }
    Ok(fabrics)
}

fn add_performer(c: &Conn, home: Uuid, row: &RosterRow, fabric: Option<Uuid>) -> StoreResult<()> {
    let new = NewPerformer {
        code: row.code.clone(),
        name: row.name.clone(),
        population: row.population.unwrap_or(Population::Adults),
        fabric,
        note: row.note.clone(),
    };
    let performer = performer::add(c, home, &new)?;
    for read in &row.readings {
        let reading = Reading {
            id: Uuid::now_v7(),
            performer,
            side: read.side,
            dimension: read.dimension,
            typed: read.typed.clone(),
            unit: read.unit.key().to_owned(),
            mm: read.mm,
            instrument: instrument_key(read.dimension.instrument()).to_owned(),
            origin: "import".to_owned(),
            measurer: ACTOR.to_owned(),
            device: ACTOR.to_owned(),
            taken_ms: now_ms(),
        };
        reading::add(c, &reading)?;
    }
    Ok(())
}
