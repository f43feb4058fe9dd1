//! What runs in the background: batches and lays, by the id of the batch, with how far they are and
//! whether they should end.

use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use actix_web::rt::time::sleep;
use uuid::Uuid;

/// How often it is looked whether a thread has ended (assumed: nobody notices such a wait).
const LOOK: Duration = Duration::from_millis(50);

/// The batches that run now.
#[derive(Debug, Default)]
pub struct Jobs(Mutex<HashMap<Uuid, Arc<Job>>>);

/// A batch that runs.
#[derive(Debug)]
pub struct Job {
    pub(crate) cancelled: AtomicBool,
    pub(crate) done: AtomicUsize,
    /// Done before this run, and when this run began: for the time left.
    before: AtomicUsize,
    began: Instant,
}

impl Job {
    /// Notes what an earlier run had done.
    pub(crate) fn begin_after(&self, before: usize) {
        self.before.store(before, Ordering::Relaxed);
        self.done.store(before, Ordering::Relaxed);
    }

    /// Performers done, those of an earlier run included.
    #[must_use]
    pub fn done(&self) -> usize {
        self.done.load(Ordering::Relaxed)
    }

    /// Seconds until all of `total` are done, at the pace so far; `None` before the first.
    #[must_use]
    pub fn seconds_left(&self, total: usize) -> Option<u64> {
        let (done, before) = (self.done(), self.before.load(Ordering::Relaxed));
        let made = done.checked_sub(before).filter(|made| *made > 0)?;
        let each = self.began.elapsed().as_secs_f64() / made as f64;
        Some((each * total.saturating_sub(done) as f64).ceil() as u64)
    }
}

impl Jobs {
    /// The job of a batch, while it runs.
    #[must_use]
    pub fn get(&self, id: Uuid) -> Option<Arc<Job>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&id).cloned()
    }

    /// Asks a batch to end at the next performer. `false` when it does not run.
    pub fn cancel(&self, id: Uuid) -> bool {
        let job = self.get(id);
        if let Some(job) = &job {
            job.cancelled.store(true, Ordering::Relaxed);
        }
        job.is_some()
    }

    /// Asks a batch, or a lay of it, to end, and waits until its thread has. `false` when it still
    /// runs after `patience`.
    pub async fn stop(&self, id: Uuid, patience: Duration) -> bool {
        self.cancel(id);
        let began = Instant::now();
        while self.get(id).is_some() {
            if began.elapsed() >= patience {
                return false;
            }
            sleep(LOOK).await;
        }
        true
    }

    pub(crate) fn add(&self, id: Uuid) -> Option<Arc<Job>> {
        let mut jobs = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if jobs.contains_key(&id) {
            return None;
        }
        let job = Arc::new(Job {
            cancelled: AtomicBool::new(false),
            done: AtomicUsize::new(0),
            before: AtomicUsize::new(0),
            began: Instant::now(),
        });
        jobs.insert(id, job.clone());
        Some(job)
    }

    pub(crate) fn remove(&self, id: Uuid) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).remove(&id);
    }
}

/// Lets the thread that calls it give way to requests: a reading is answered as fast while a batch
/// runs.
pub fn give_way() {
    /// As `nice -n 19`: Linux weighs it 15 against 1,024, about a seventieth of a processor where
    /// requests want it, and all of it where they do not.
    #[cfg(unix)]
    const GIVES_WAY: i32 = 19;
    #[cfg(unix)]
    // Where the system refuses, the work is done all the same.
    let _ = rustix::process::nice(GIVES_WAY);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[actix_web::test]
    async fn what_is_stopped_has_ended_or_is_said_to_run_still() {
        let jobs = Arc::new(Jobs::default());
        let id = Uuid::now_v7();
        let job = jobs.add(id).expect("new");
        let (of_thread, ended) = (jobs.clone(), Arc::new(AtomicBool::new(false)));
        let at_end = ended.clone();
        let thread = std::thread::spawn(move || {
            while !job.cancelled.load(Ordering::Relaxed) {
                std::thread::yield_now();
            }
            // As a batch that still writes the file it is at.
            std::thread::sleep(2 * LOOK);
            at_end.store(true, Ordering::SeqCst);
            of_thread.remove(id);
        });
        assert!(jobs.stop(id, Duration::from_secs(60)).await);
        assert!(ended.load(Ordering::SeqCst), "its thread had ended");
        thread.join().expect("ended");

        jobs.add(id).expect("it may run again");
        assert!(!jobs.stop(id, LOOK).await, "it never ends, and that is said");
    }
}
