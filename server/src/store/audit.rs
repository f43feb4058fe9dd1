//! The audit trail: who did what to what, and when, in a chain of hashes. It carries no
//! measurement and no performer's name or code, so that erasing a performer leaves it whole.

use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::Serialize;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::{StoreResult, now_ms};

/// Entries listed at most.
const LIST_LIMIT: i64 = 1000;

macro_rules! actions {
    ($($variant:ident, $key:literal, $words:literal;)+) => {
        /// What was done.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Action {
            $(#[doc = $words] $variant,)+
        }

        impl Action {
            /// Every action.
            pub const ALL: [Action; [$($key),+].len()] = [$(Action::$variant),+];

            /// Stable key, as stored.
            #[must_use]
            pub fn key(self) -> &'static str { match self { $(Action::$variant => $key),+ } }

            /// For people, from the key.
            #[must_use]
            pub fn words_of(key: &str) -> &'static str {
                Action::ALL.iter().find(|action| action.key() == key).map_or("", |a| a.words())
            }

            /// For people.
            #[must_use]
            pub fn words(self) -> &'static str { match self { $(Action::$variant => $words),+ } }
        }
    };
}

actions! {
    SignedIn, "signed_in", "Signed in";
    SignInRefused, "sign_in_refused", "Sign-in refused";
    SignedOut, "signed_out", "Signed out";
    PassphraseSet, "passphrase_set", "Set a passphrase";
    AccountAdded, "account_added", "Added an account";
    LinkMade, "link_made", "Made a link";
    ProductionAdded, "production_added", "Added a production";
    PerformerAdded, "performer_added", "Added a performer";
    RosterImported, "roster_imported", "Imported a roster";
    CallChanged, "call_changed", "Changed who is called together";
    MeasureAgainAsked, "measure_again_asked", "Asked for a performer to be measured again";
    MeasureAgainEnded, "measure_again_ended", "Took back that a performer is to be measured again";
    RosterExported, "roster_exported", "Exported a roster";
    ReferenceChanged, "reference_changed", "Compared a performer with other published people";
    ReadingWithdrawn, "reading_withdrawn", "Withdrew a reading";
    FlagAccepted, "flag_accepted", "Accepted a flag";
    FabricAdded, "fabric_added", "Added a fabric";
    FabricChanged, "fabric_changed", "Changed a fabric";
    FabricChosen, "fabric_chosen", "Chose the fabric of gloves";
    ChoicesKept, "choices_kept", "Kept choices for drafts";
    FittingAdded, "fitting_added", "Recorded a fitting";
    FittingWithdrawn, "fitting_withdrawn", "Withdrew a fitting";
    GloveChanged, "glove_changed", "Set or undid changes of the next glove";
    GloveKept, "glove_kept", "Kept a version of gloves";
    MemoryBegun, "memory_begun", "Began a fabric's memory anew";
    DraftDownloaded, "draft_downloaded", "Downloaded a draft";
    BatchStarted, "batch_started", "Started a batch";
    BatchCancelled, "batch_cancelled", "Cancelled a batch";
    BatchDownloaded, "batch_downloaded", "Downloaded a batch";
    LayStarted, "lay_started", "Started a lay";
    ConsentRecorded, "consent_recorded", "Recorded a guardian's consent";
    ConsentWithdrawn, "consent_withdrawn", "Recorded that consent was taken back";
    ConsentWordsSet, "consent_words_set", "Changed the words of consent";
    SecondFactorSet, "second_factor_set", "Set up a second factor";
    SecondFactorRemoved, "second_factor_removed", "Removed a second factor";
    CodeRefused, "code_refused", "Code of the second factor refused";
    KeepingSet, "keeping_set", "Changed until when a production is kept";
    ProductionExported, "production_exported", "Exported everything about a production";
    PerformerExported, "performer_exported", "Exported everything about a performer";
    PerformerErased, "performer_erased", "Erased a performer";
    ProductionErased, "production_erased", "Erased a production";
    ModelLearned, "model_learned", "Let the hand model learn from the workshop's readings";
    ModelReset, "model_reset", "Reset the hand model to the published figures";
    BackupMade, "backup_made", "Made a backup";
    BackupRestored, "backup_restored", "Restored a backup";
}

/// One row of the trail.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Entry {
    /// Number, counted from 1 without gaps.
    pub number: i64,
    /// When, ms since 1970.
    pub at_ms: i64,
    /// Account that did it, or `command` for the command line.
    pub actor: String,
    /// Key of an [`Action`].
    pub action: String,
    /// Id of what it was done to, or empty.
    pub object: String,
}

/// What a walk along the chain found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Chain {
    /// How many entries there are.
    pub entries: i64,
    /// Hash of the last entry, hexadecimal. Noted elsewhere (a backup's list, a book), it also shows
    /// a trail that was cut at its end.
    pub head: String,
    /// Number of the first entry that does not follow from the one before it.
    pub broken_at: Option<i64>,
}

/// Adds an entry, in the same transaction as what it tells of.
///
/// # Errors
/// Database errors only.
pub fn add(c: &Connection, actor: &str, action: Action, object: Option<Uuid>) -> StoreResult<()> {
    let last: Option<(i64, Vec<u8>)> = c
        .prepare_cached("SELECT number, hash FROM audit ORDER BY number DESC LIMIT 1")?
        .query_row([], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    let (number, before) = last.unwrap_or_default();
    let entry = Entry {
        number: number + 1,
        at_ms: now_ms(),
        actor: actor.to_owned(),
        action: action.key().to_owned(),
        object: object.map(|id| id.to_string()).unwrap_or_default(),
    };
    c.prepare_cached(
        "INSERT INTO audit (number, at_ms, actor, action, object, hash)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?
    .execute(params![
        entry.number,
        entry.at_ms,
        entry.actor,
        entry.action,
        entry.object,
        hash(&before, &entry)
    ])?;
    Ok(())
}

fn from_row(row: &Row<'_>) -> rusqlite::Result<Entry> {
    Ok(Entry {
        number: row.get(0)?,
        at_ms: row.get(1)?,
        actor: row.get(2)?,
        action: row.get(3)?,
        object: row.get(4)?,
    })
}

/// The latest entries, newest first.
///
/// # Errors
/// Database errors only.
pub fn list(c: &Connection) -> StoreResult<Vec<Entry>> {
    let mut statement = c.prepare(
        "SELECT number, at_ms, actor, action, object FROM audit ORDER BY number DESC LIMIT ?1",
    )?;
    let rows = statement.query_map([LIST_LIMIT], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// What its holder should recognise of an account, newest first: sign-ins, and changes of what it is
/// signed in by.
///
/// # Errors
/// Database errors only.
pub fn about_account(c: &Connection, account: Uuid, most: i64) -> StoreResult<Vec<Entry>> {
    let actions = [
        Action::SignedIn,
        Action::PassphraseSet,
        Action::LinkMade,
        Action::SecondFactorSet,
        Action::SecondFactorRemoved,
        Action::CodeRefused,
    ];
    let keys = actions.map(|action| format!("'{}'", action.key())).join(", ");
    let mut statement = c.prepare_cached(&format!(
        "SELECT number, at_ms, actor, action, object FROM audit
         WHERE object = ?1 AND action IN ({keys}) ORDER BY number DESC LIMIT ?2"
    ))?;
    let rows = statement.query_map(params![account.to_string(), most], from_row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Walks the whole chain.
///
/// # Errors
/// Database errors only.
pub fn verify(c: &Connection) -> StoreResult<Chain> {
    let mut statement =
        c.prepare("SELECT number, at_ms, actor, action, object, hash FROM audit ORDER BY number")?;
    let mut rows = statement.query([])?;
    let mut chain = Chain { entries: 0, head: String::new(), broken_at: None };
    let mut before: Vec<u8> = Vec::new();
    while let Some(row) = rows.next()? {
        let entry = Entry {
            number: row.get(0)?,
            at_ms: row.get(1)?,
            actor: row.get(2)?,
            action: row.get(3)?,
            object: row.get(4)?,
        };
        let stored: Vec<u8> = row.get(5)?;
        chain.entries += 1;
        let follows = entry.number == chain.entries && stored == hash(&before, &entry);
        if !follows && chain.broken_at.is_none() {
            chain.broken_at = Some(entry.number);
        }
        before = stored;
    }
    chain.head = before.iter().map(|byte| format!("{byte:02x}")).collect();
    Ok(chain)
}

/// SHA-256 over the hash before and every field, each text behind its length so that no two
/// entries are written alike.
fn hash(before: &[u8], entry: &Entry) -> Vec<u8> {
    let mut digest = Sha256::new();
    digest.update(before);
    digest.update(entry.number.to_be_bytes());
    digest.update(entry.at_ms.to_be_bytes());
    for text in [&entry.actor, &entry.action, &entry.object] {
        digest.update((text.len() as u64).to_be_bytes());
        digest.update(text.as_bytes());
    }
    digest.finalize().to_vec()
}
