//! Takes the performers of a roster into a production, with their readings and fabrics.

use std::collections::HashMap;

use analysis::model::Population;
use uuid::Uuid;

use crate::facts::instrument_key;
use crate::import::{RosterReading, RosterRow};
use crate::store::consent::{self, Consent};
use crate::store::fabric::{self, NewFabric};
use crate::store::performer::{self, NewPerformer};
use crate::store::reading::{self, Reading};
use crate::store::{Conn, StoreResult, now_ms};

/// Stores the performers of a roster with their readings. A fabric that is not known is added by
/// its name.
///
/// # Errors
/// Refused when the production is full, or a minor has readings but no consent; then nothing is stored.
pub fn enrol(c: &Conn, production: Uuid, rows: &[RosterRow], who: &str) -> StoreResult<()> {
    let mut fabrics: HashMap<String, Uuid> = fabric::list(c, production)?
        .into_iter()
        .map(|fabric| (fabric.name.to_lowercase(), fabric.id))
        .collect();
    for row in rows {
        let fabric = match row.fabric.as_str() {
            "" => None,
            name => Some(match fabrics.get(&name.to_lowercase()) {
                Some(id) => *id,
                None => {
                    let id = fabric::add(c, production, &NewFabric::named(name), who)?;
                    fabrics.insert(name.to_lowercase(), id);
                    id
                }
            }),
        };
        let new = NewPerformer {
            code: row.code.clone(),
            name: row.name.clone(),
            population: row.population.unwrap_or(Population::Adults),
            fabric,
            call: row.call.clone(),
            note: row.note.clone(),
        };
        let performer = performer::add(c, production, &new)?;
        if let Some(manner) = &row.consent {
            consent::add(c, &agreed(performer, manner, who))?;
        }
        let choices = row.choices().to_keep();
        if !choices.is_empty() {
            performer::keep_choices(c, performer, &choices)?;
        }
        for read in &row.readings {
            reading::add(c, &imported(performer, read, who))?;
        }
    }
    Ok(())
}

/// Consent as a roster states it; the words it was given by are not in the file.
fn agreed(performer: Uuid, manner: &str, who: &str) -> Consent {
    Consent {
        id: Uuid::now_v7(),
        performer,
        is_given: true,
        manner: manner.to_owned(),
        words: String::new(),
        recorded_by: who.to_owned(),
        at_ms: 0,
    }
}

fn imported(performer: Uuid, read: &RosterReading, who: &str) -> Reading {
    Reading {
        id: Uuid::now_v7(),
        performer,
        side: read.side,
        dimension: read.dimension,
        typed: read.typed.clone(),
        unit: read.unit.key().to_owned(),
        mm: read.mm,
        instrument: instrument_key(read.dimension.instrument()).to_owned(),
        origin: "import".to_owned(),
        measurer: who.to_owned(),
        device: "file".to_owned(),
        taken_ms: now_ms(),
    }
}
