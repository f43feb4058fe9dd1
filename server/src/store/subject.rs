//! Everything held about one performer, to be handed to them; and its erasure.

use std::sync::atomic::Ordering;

use rusqlite::{Connection, params};
use serde::Serialize;
use uuid::Uuid;

use super::consent::{self, Consent};
use super::draft_version::{self, DraftVersion};
use super::fact::{self, Acceptance};
use super::fitting::{self, Edit, Fitting};
use super::measure_again::{self, Asked};
use super::performer::{self, Performer};
use super::reading::{self, Reading};
use super::{Store, StoreResult, now_ms, production};

/// All rows about one performer.
#[derive(Debug, Clone, Serialize)]
pub struct Subject {
    /// The performer.
    pub performer: Performer,
    /// Readings in use, oldest first.
    pub readings: Vec<Reading>,
    /// Readings that were taken out of use.
    pub withdrawn: Vec<Withdrawn>,
    /// A guardian's consent, given or taken back.
    pub consents: Vec<Consent>,
    /// Flags somebody kept, with the reason.
    pub acceptances: Vec<Acceptance>,
    /// Whether somebody decided that they are to be measured again.
    pub measure_again: Option<Asked>,
    /// Steps that were skipped.
    pub skips: Vec<Skip>,
    /// Versions of their gloves, with everything the drafts followed from.
    pub drafts: Vec<DraftVersion>,
    /// Fittings of their test gloves in use, oldest first.
    pub fittings: Vec<Fitting>,
    /// Fittings that were taken out of use, with the reason.
    pub withdrawn_fittings: Vec<(Fitting, String)>,
    /// Changes of their gloves set by hand, undone ones included.
    pub glove_changes: Vec<Edit>,
}

/// A reading that was taken out of use.
#[derive(Debug, Clone, Serialize)]
pub struct Withdrawn {
    /// The reading.
    #[serde(flatten)]
    pub reading: Reading,
    /// Why.
    pub reason: String,
    /// Who withdrew it.
    pub withdrawn_by: String,
    /// When, ms since 1970.
    pub withdrawn_ms: i64,
}

/// A step that was skipped.
#[derive(Debug, Clone, Serialize)]
pub struct Skip {
    /// Key of the side.
    pub side: String,
    /// Key of the dimension.
    pub dimension: String,
    /// Why.
    pub reason: String,
    /// Who skipped it.
    pub measurer: String,
    /// When, ms since 1970.
    pub at_ms: i64,
}

/// Everything about one performer.
///
/// # Errors
/// [`super::StoreError::NotFound`].
pub fn everything(c: &Connection, performer: Uuid) -> StoreResult<Subject> {
    Ok(Subject {
        performer: performer::get(c, performer)?,
        readings: reading::of_performer(c, performer)?,
        withdrawn: withdrawn(c, performer)?,
        consents: consent::of_performer(c, performer)?,
        acceptances: fact::acceptances(c, performer)?,
        measure_again: measure_again::of_performer(c, performer)?,
        skips: skips(c, performer)?,
        drafts: draft_version::list(c, performer)?,
        fittings: fitting::of_performer(c, performer)?,
        withdrawn_fittings: fitting::withdrawn(c, performer)?,
        glove_changes: fitting::edits(c, performer)?,
    })
}

/// Everything about everybody in a production, in the order of its roster.
///
/// # Errors
/// [`super::StoreError::NotFound`].
pub fn of_production(c: &Connection, production: Uuid) -> StoreResult<Vec<Subject>> {
    production::get(c, production)?;
    let performers = performer::list(c, production)?;
    performers.into_iter().map(|performer| everything(c, performer.id)).collect()
}

fn withdrawn(c: &Connection, performer: Uuid) -> StoreResult<Vec<Withdrawn>> {
    let mut statement = c.prepare(
        "SELECT withdrawal.reading, withdrawal.reason, withdrawal.measurer, withdrawal.at_ms
         FROM withdrawal JOIN reading ON reading.id = withdrawal.reading
         WHERE reading.performer = ?1 ORDER BY withdrawal.at_ms, withdrawal.reading",
    )?;
    let rows = statement.query_map([performer], |row| {
        Ok((row.get::<_, Uuid>(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
    })?;
    let mut all = Vec::new();
    for row in rows {
        let (id, reason, withdrawn_by, withdrawn_ms) = row?;
        let reading = reading::get(c, id)?;
        all.push(Withdrawn { reading, reason, withdrawn_by, withdrawn_ms });
    }
    Ok(all)
}

fn skips(c: &Connection, performer: Uuid) -> StoreResult<Vec<Skip>> {
    let mut statement = c.prepare(
        "SELECT side, dimension, reason, measurer, at_ms FROM skip
         WHERE performer = ?1 ORDER BY at_ms, id",
    )?;
    let rows = statement.query_map([performer], |row| {
        Ok(Skip {
            side: row.get(0)?,
            dimension: row.get(1)?,
            reason: row.get(2)?,
            measurer: row.get(3)?,
            at_ms: row.get(4)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Erases one performer: every row about them. Gives the batches of their production, whose files
/// hold their drafts and must be removed by the caller.
///
/// The rows are overwritten in the file (`secure_delete`), but older pages stay in the write-ahead
/// log until [`Store::forget`] has run.
///
/// # Errors
/// [`super::StoreError::NotFound`].
pub fn erase(c: &Connection, performer: Uuid) -> StoreResult<Vec<Uuid>> {
    let production = performer::get(c, performer)?.production;
    let batches = batches_of(c, production)?;
    count_erased(c, "reading.performer = ?1", 1, performer)?;
    c.execute("DELETE FROM batch WHERE production = ?1", [production])?;
    c.execute("DELETE FROM performer WHERE id = ?1", params![performer])?;
    Ok(batches)
}

/// Erases a production with everybody in it. Gives its batches, as [`erase`] does.
///
/// # Errors
/// [`super::StoreError::NotFound`].
pub fn erase_production(c: &Connection, production: Uuid) -> StoreResult<Vec<Uuid>> {
    let performers = production::get(c, production)?.performers;
    let batches = batches_of(c, production)?;
    count_erased(c, "performer.production = ?1", performers, production)?;
    c.execute("DELETE FROM production WHERE id = ?1", [production])?;
    Ok(batches)
}

/// What is kept of the erased: how many.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Erased {
    /// Performers.
    pub performers: i64,
    /// Their readings.
    pub readings: i64,
}

/// How many were erased so far.
///
/// # Errors
/// Database errors only.
pub fn erased(c: &Connection) -> StoreResult<Erased> {
    let sql = "SELECT coalesce(sum(performers), 0), coalesce(sum(readings), 0) FROM erased";
    Ok(c.query_row(sql, [], |row| Ok(Erased { performers: row.get(0)?, readings: row.get(1)? }))?)
}

fn count_erased(c: &Connection, whose: &str, performers: i64, id: Uuid) -> StoreResult<()> {
    let sql = format!(
        "INSERT INTO erased (at_ms, performers, readings)
         SELECT ?2, ?3, count(*) FROM reading JOIN performer ON performer.id = reading.performer
         WHERE {whose}"
    );
    c.execute(&sql, params![id, now_ms(), performers])?;
    Ok(())
}

fn batches_of(c: &Connection, production: Uuid) -> StoreResult<Vec<Uuid>> {
    Ok(c.prepare("SELECT id FROM batch WHERE production = ?1")?
        .query_map([production], |row| row.get(0))?
        .collect::<Result<_, _>>()?)
}

impl Store {
    /// Rewrites the file without what was deleted, empties the write-ahead log, and removes the
    /// copies that were kept before migrations. Nothing erased can be found in the data folder
    /// afterwards; backups elsewhere keep it until they are deleted.
    ///
    /// # Errors
    /// Database errors, for instance when somebody reads for longer than the time-out.
    pub fn forget(&self) -> StoreResult<()> {
        self.inner.erasures.fetch_add(1, Ordering::SeqCst);
        let connection = Connection::open(self.path())?;
        super::prepare(&connection)?;
        connection.execute_batch("VACUUM")?;
        connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
        for copy in super::migrations::copies(self.path())? {
            std::fs::remove_file(copy)?;
        }
        Ok(())
    }
}
