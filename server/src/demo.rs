//! `handcall demo`: the invented company of `demo-data`, loaded, checked, filled, tried on, drafted,
//! served.
//!
//! The company is embedded in the program, so that the command needs nothing but itself. A second
//! run finds what the first one stored, with whatever was entered since, and writes the drafts anew.

mod fittings;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use analysis::units::Unit;
use thiserror::Error;
use uuid::Uuid;

use crate::batch::{self, BatchError, BatchItem, BatchOrder, FolderSink, stems};
use crate::command::draft::{progress_bar, write_table};
use crate::config::Config;
use crate::drafted;
use crate::enrol::enrol;
use crate::export::pdf::Paper;
use crate::import::fabrics::{self, FabricRow};
use crate::import::roster;
use crate::models::{InUse, Models};
use crate::start::{self, StartError};
use crate::store::audit::{self, Action};
use crate::store::fabric::{self, NewFabric};
use crate::store::performer::{self, Performer};
use crate::store::{Store, StoreError, production};
use crate::words;

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
    Ok(start::serve(config)?)
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
    let in_use = Models::default().in_use(store);
    let order = order(store, home, in_use.clone())?;
    let mut sink =
        FolderSink::new(drafts).map_err(|error| DemoError::Folder(drafts.to_owned(), error))?;
    let never = AtomicBool::new(false);
    let report = batch::run(&in_use.model, &order, &mut sink, &progress_bar("performers"), &never)?;
    println!("{PRODUCTION}, an invented production. Drafts are in {}.", drafts.display());
    // A closed pipe behind us is no failure of the drafts.
    let _ = write_table(&mut std::io::stdout().lock(), &report);
    Ok(())
}

/// Everybody's gloves as they stand, each kept as a version.
fn order(store: &Store, home: Uuid, in_use: Arc<InUse>) -> Result<BatchOrder, StoreError> {
    let mut items = store.write_now(move |c| {
        let everybody = performer::list(c, home)?;
        let item = |person: &Performer| {
            let (performer, version) = drafted::keep(c, &in_use, person.id)?;
            let (version, date) = (version.number.to_string(), version.date);
            Ok(BatchItem { performer, stem: String::new(), version, date })
        };
        everybody.iter().map(item).collect::<Result<Vec<BatchItem>, StoreError>>()
    })?;
    let codes: Vec<&str> = items.iter().map(|item| item.performer.code.as_str()).collect();
    for (stem, item) in stems(&codes).into_iter().zip(&mut items) {
        item.stem = stem;
    }
    Ok(BatchOrder { production: PRODUCTION.to_owned(), paper: Paper::A4, items })
}

/// Stores the company in one transaction, so that a demo stopped half-way starts afresh.
fn load(store: &Store) -> Result<Uuid, DemoError> {
    let mut preview = roster::read(ROSTER, Unit::Mm);
    if let Some(problem) = preview.problems.first() {
        let message = problem.message(words::all().of(words::FALLBACK));
        return Err(DemoError::Company(format!("line {}: {message}", problem.line)));
    }
    let fabrics = fabrics::read(FABRICS).map_err(|error| DemoError::Company(error.to_string()))?;
    for row in &mut preview.rows {
        if let Some(fabric) = fabrics.iter().find(|fabric| fabric.is_called(&row.fabric)) {
            row.fabric.clone_from(&fabric.name);
        }
    }
    let fittings = fittings::read()?;
    let in_use = Models::default().in_use(store);
    Ok(store.write_now(move |c| {
        let home = production::add(c, PRODUCTION)?;
        for FabricRow { name, note, facts, .. } in fabrics {
            fabric::add(c, home, &NewFabric { name, note, facts }, ACTOR)?;
        }
        enrol(c, home, &preview.rows, ACTOR)?;
        audit::add(c, ACTOR, Action::RosterImported, Some(home))?;
        fittings::record(c, &in_use, home, fittings)?;
        Ok(home)
    })?)
}
