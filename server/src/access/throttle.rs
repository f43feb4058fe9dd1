//! Slows down sign-in tries, by account and by address.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use crate::error::{Kind, Problem};

/// Failures that cost nothing (assumed: a few slips of the fingers).
const FREE_TRIES: u32 = 5;

/// Longest wait after a failure (assumed).
const LONGEST_WAIT: Duration = Duration::from_secs(15 * 60);

/// Names remembered at most; the oldest half is forgotten beyond it.
const REMEMBERED: usize = 10_000;

/// Failed tries by name of account and by address.
#[derive(Debug, Default)]
pub struct Throttle {
    failures: Mutex<HashMap<String, (u32, Instant)>>,
}

impl Throttle {
    /// How long this key has to wait still, if it has to.
    #[must_use]
    pub fn wait(&self, key: &str) -> Option<Duration> {
        let failures = self.failures.lock().unwrap_or_else(PoisonError::into_inner);
        let (count, last) = failures.get(key)?;
        let beyond = count.checked_sub(FREE_TRIES)?;
        let wait = Duration::from_secs(1 << beyond.min(10)).min(LONGEST_WAIT);
        wait.checked_sub(last.elapsed()).filter(|left| !left.is_zero())
    }

    /// Refuses a try while one of its keys has to wait.
    ///
    /// # Errors
    /// [`Kind::TooManyTries`].
    pub fn check(&self, keys: &[String]) -> Result<(), Problem> {
        match keys.iter().filter_map(|key| self.wait(key)).max() {
            Some(wait) => Err(Kind::TooManyTries(wait.as_secs() + 1).into()),
            None => Ok(()),
        }
    }

    /// Notes a failed try.
    pub fn failed(&self, key: &str) {
        let mut failures = self.failures.lock().unwrap_or_else(PoisonError::into_inner);
        if failures.len() > REMEMBERED {
            failures.retain(|_, (_, last)| last.elapsed() < LONGEST_WAIT);
        }
        let entry = failures.entry(key.to_owned()).or_insert((0, Instant::now()));
        *entry = (entry.0.saturating_add(1), Instant::now());
    }

    /// Forgets the failures of a key after a success.
    pub fn succeeded(&self, key: &str) {
        self.failures.lock().unwrap_or_else(PoisonError::into_inner).remove(key);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sixth_failure_makes_the_key_wait_and_no_other() {
        let throttle = Throttle::default();
        for _ in 0..FREE_TRIES - 1 {
            throttle.failed("a");
        }
        assert_eq!(throttle.wait("a"), None);
        throttle.failed("a");
        assert!(throttle.wait("a").is_some_and(|wait| wait <= Duration::from_secs(1)));
        assert_eq!(throttle.wait("b"), None);
        throttle.succeeded("a");
        assert_eq!(throttle.wait("a"), None);
    }
}
