//! Who is being measured just now, and news for the roster boards that are open.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use tokio::sync::broadcast;
use uuid::Uuid;

/// A performer counts as being measured this long after the last fact (assumed).
const BEING_MEASURED: Duration = Duration::from_secs(90);

/// News that a slow board may be behind before it is told to look at everything again.
const BACKLOG: usize = 64;

/// Presence and news, in memory only: after a restart the boards ask again anyway.
#[derive(Debug)]
pub struct Live {
    news: broadcast::Sender<Uuid>,
    measured: Mutex<HashMap<Uuid, (String, Instant)>>,
}

impl Default for Live {
    fn default() -> Live {
        Live { news: broadcast::channel(BACKLOG).0, measured: Mutex::default() }
    }
}

impl Live {
    /// Notes that somebody sends facts about a performer.
    pub fn measured(&self, performer: Uuid, measurer: &str) {
        let mut measured = self.measured.lock().unwrap_or_else(PoisonError::into_inner);
        measured.retain(|_, (_, last)| last.elapsed() < BEING_MEASURED);
        measured.insert(performer, (measurer.to_owned(), Instant::now()));
    }

    /// Who measures a performer just now.
    #[must_use]
    pub fn measurer(&self, performer: Uuid) -> Option<String> {
        let measured = self.measured.lock().unwrap_or_else(PoisonError::into_inner);
        let (measurer, last) = measured.get(&performer)?;
        (last.elapsed() < BEING_MEASURED).then(|| measurer.clone())
    }

    /// Tells the boards of a production that something has changed.
    pub fn tell(&self, production: Uuid) {
        // Nobody may be listening.
        let _ = self.news.send(production);
    }

    /// News from now on: ids of productions in which something has changed.
    #[must_use]
    pub fn listen(&self) -> broadcast::Receiver<Uuid> {
        self.news.subscribe()
    }
}
