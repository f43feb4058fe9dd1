//! A guardian's consent to measuring a minor: facts, given or taken back, and the words of it.

use analysis::model::Population;
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::Serialize;
use uuid::Uuid;

use super::limits::{self, demand_room};
use super::performer::Performer;
use super::{StoreError, StoreResult, now_ms};

/// Longest words of consent, characters (assumed: a page).
pub const LONGEST_WORDS: usize = 4000;

/// Ways in which consent is given.
pub const MANNERS: [&str; 3] = ["signed", "spoken", "link"];

/// Consent given, or taken back.
#[derive(Debug, Clone, Serialize)]
pub struct Consent {
    /// Made by whoever records it, so that sending it twice changes nothing.
    pub id: Uuid,
    /// The minor.
    pub performer: Uuid,
    /// Given; otherwise taken back.
    pub is_given: bool,
    /// One of [`MANNERS`].
    pub manner: String,
    /// The words that were read out or signed.
    pub words: String,
    /// Who recorded it.
    pub recorded_by: String,
    /// When it was stored, ms since 1970; set on storing.
    pub at_ms: i64,
}

/// Whether these people are minors: the published children are of 3 to 17 years.
#[must_use]
pub fn is_minor(population: Population) -> bool {
    matches!(population, Population::Child { .. })
}

/// Adds a fact; one that is stored already is left as it is.
///
/// # Errors
/// Refused over the limit; consent can always be taken back.
pub fn add(c: &Connection, consent: &Consent) -> StoreResult<()> {
    if consent.is_given {
        let count = "SELECT count(*) FROM consent WHERE performer = ?1
                     AND NOT EXISTS (SELECT 1 FROM consent WHERE id = ?2)";
        let of = [consent.performer, consent.id];
        demand_room(c, (count, of), limits::FACTS, "words")?;
    }
    c.execute(
        "INSERT INTO consent (id, performer, is_given, manner, words, recorded_by, at_ms)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (id) DO NOTHING",
        params![
            consent.id,
            consent.performer,
            consent.is_given,
            consent.manner,
            consent.words,
            consent.recorded_by,
            now_ms()
        ],
    )?;
    Ok(())
}

fn from_row(row: &Row<'_>) -> rusqlite::Result<Consent> {
    Ok(Consent {
        id: row.get(0)?,
        performer: row.get(1)?,
        is_given: row.get(2)?,
        manner: row.get(3)?,
        words: row.get(4)?,
        recorded_by: row.get(5)?,
        at_ms: row.get(6)?,
    })
}

/// Every fact about one performer's consent, in the order of arrival.
///
/// # Errors
/// Database errors only.
pub fn of_performer(c: &Connection, performer: Uuid) -> StoreResult<Vec<Consent>> {
    let mut statement = c.prepare_cached(
        "SELECT id, performer, is_given, manner, words, recorded_by, at_ms FROM consent
         WHERE performer = ?1 ORDER BY rowid",
    )?;
    let rows = statement.query_map([performer], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The consent in force, if there is one.
///
/// # Errors
/// Database errors only.
pub fn in_force(c: &Connection, performer: Uuid) -> StoreResult<Option<Consent>> {
    let latest = c
        .prepare_cached(
            "SELECT id, performer, is_given, manner, words, recorded_by, at_ms FROM consent
             WHERE performer = ?1 ORDER BY rowid DESC LIMIT 1",
        )?
        .query_row([performer], from_row)
        .optional()?;
    Ok(latest.filter(|consent| consent.is_given))
}

/// Whether a performer is a minor for whom no consent is in force.
///
/// # Errors
/// Database errors only.
pub fn is_missing(c: &Connection, performer: &Performer) -> StoreResult<bool> {
    Ok(is_minor(performer.population) && in_force(c, performer.id)?.is_none())
}

/// Refuses to go on without consent where it is needed.
///
/// # Errors
/// Refused as `consent_missing`.
pub fn demand(c: &Connection, performer: &Performer) -> StoreResult<()> {
    if is_missing(c, performer)? {
        return Err(StoreError::Refused {
            field: "performer",
            code: "consent_missing",
            message: "Record the guardian's consent before measuring a minor.".to_owned(),
        });
    }
    Ok(())
}

/// The workshop's own words; `None` where the built-in ones count.
///
/// # Errors
/// Database errors only.
pub fn words(c: &Connection) -> StoreResult<Option<String>> {
    let words: Option<String> = c
        .query_row("SELECT words FROM consent_text ORDER BY number DESC LIMIT 1", [], |row| {
            row.get(0)
        })
        .optional()?;
    Ok(words.filter(|words| !words.is_empty()))
}

/// Puts other words in force; empty ones bring the built-in words back. Earlier words stay in the
/// consents that were given by them.
///
/// # Errors
/// Database errors only.
pub fn set_words(c: &Connection, words: &str, who: &str) -> StoreResult<()> {
    c.execute(
        "INSERT INTO consent_text (words, written_by, at_ms) VALUES (?1, ?2, ?3)",
        params![words, who, now_ms()],
    )?;
    Ok(())
}
