//! The hand model in use: the published one, or the one that has learned from the workshop's own
//! readings.
//!
//! What was learned is kept nowhere: it is computed from the readings that had arrived when it was
//! switched on, once after each start and again after each erasure, so that nobody erased is in
//! it. Flags are judged by the published figures, or it would come to believe what it has learned.

use std::collections::HashSet;
use std::sync::{Arc, Mutex, PoisonError};

use analysis::check::{check_hands, unflagged};
use analysis::hand::Hands;
use analysis::model::workshop::{Learned, learn};
use analysis::model::{HandModel, Population};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::person::Person;
use crate::store::workshop_model::{self, Switched};
use crate::store::{Conn, Store, StoreResult, production};

/// The model in use and what it rests on.
#[derive(Debug)]
pub struct InUse {
    /// The model.
    pub model: HandModel,
    /// The switch, if it is on.
    pub switched: Option<Switched>,
    /// What was learned; nothing while it is off or there are too few hands.
    pub learned: Option<Learned>,
    /// Names the model in versions of drafts: empty for the published one.
    pub tag: String,
    erasures: u64,
}

/// The published model, and the one in use.
#[derive(Debug)]
pub struct Models {
    published: HandModel,
    current: Mutex<Option<Arc<InUse>>>,
}

impl Default for Models {
    fn default() -> Models {
        Models { published: HandModel::published(), current: Mutex::default() }
    }
}

impl Models {
    /// The model of published figures alone.
    #[must_use]
    pub fn published(&self) -> &HandModel {
        &self.published
    }

    /// The model in use; learned anew where it is switched on and somebody was erased since. When
    /// that cannot be read, the published one.
    #[must_use]
    pub fn in_use(&self, store: &Store) -> Arc<InUse> {
        let mut current = self.current.lock().unwrap_or_else(PoisonError::into_inner);
        let erasures = store.erasures();
        if let Some(known) = current.as_ref() {
            // Without learning there is nothing of anybody in it.
            if known.switched.is_none() || known.erasures == erasures {
                return known.clone();
            }
        }
        let made = Arc::new(self.made(store, erasures).unwrap_or_else(|error| {
            tracing::error!(%error, "the workshop's model could not be learned");
            self.plain(None, erasures)
        }));
        *current = Some(made.clone());
        made
    }

    /// Forgets the model in use, so that the next question makes it again from the switch.
    pub fn renew(&self) {
        *self.current.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    fn plain(&self, switched: Option<Switched>, erasures: u64) -> InUse {
        let (model, tag) = (self.published.clone(), String::new());
        InUse { model, switched, learned: None, tag, erasures }
    }

    fn made(&self, store: &Store, erasures: u64) -> StoreResult<InUse> {
        let Some(switched) = store.read_now(workshop_model::get)? else {
            return Ok(self.plain(None, erasures));
        };
        let until = switched.until_ms;
        let people = store.read_now(|c| learnable(c, &self.published, until))?;
        let (model, learned) = learn(&self.published, &people);
        let tag = learned.as_ref().map_or_else(String::new, tag);
        Ok(InUse { model, switched: Some(switched), learned, tag, erasures })
    }
}

/// Hands of everybody measured here, as far as they may be learned from: readings that arrived up
/// to a time, taken by a measurer of the workshop, no open flag about them.
///
/// # Errors
/// Database errors only.
pub fn learnable(
    c: &Conn,
    published: &HandModel,
    until_ms: i64,
) -> StoreResult<Vec<(Population, Hands)>> {
    let arrived = workshop_model::readings_until(c, until_ms)?;
    let mut people = Vec::new();
    for production in production::list(c)? {
        for person in Person::load_all(c, production.id)? {
            people.push((person.performer.population, clean(person, published, &arrived)));
        }
    }
    Ok(people)
}

fn clean(mut person: Person, published: &HandModel, arrived: &HashSet<Uuid>) -> Hands {
    // Somebody who measures at home has another error than a measurer.
    person.readings.retain(|r| r.origin != "self" && arrived.contains(&r.id));
    let hands = person.hands();
    let kept = person.kept_flags(&hands);
    let flags = check_hands(published, person.performer.population, &hands);
    let open = flags.iter().filter(|flag| !kept.iter().any(|(key, _)| *key == flag.key()));
    unflagged(&hands, open)
}

/// Another model, another tag.
fn tag(learned: &Learned) -> String {
    let mut hash = Sha256::new();
    for figures in learned.ratio.iter().chain(&learned.spread) {
        figures.values().for_each(|figure| hash.update(figure.to_bits().to_le_bytes()));
    }
    hash.finalize().iter().take(4).map(|byte| format!("{byte:02x}")).collect()
}
