//! The one thread that writes, with commits shared by the jobs that wait.

use std::sync::mpsc;
use std::thread;

use rusqlite::Connection;
use tokio::sync::oneshot;

use super::{StoreError, StoreResult};

/// Jobs committed together at most (assumed: keeps the wait of the first one short).
const LARGEST_GROUP: usize = 64;

/// What a job does once its group is committed or lost.
type Answer = Box<dyn FnOnce(Result<(), StoreError>) + Send>;

/// A job: run within a transaction, or told why there is none, and then it touches nothing.
type Job = Box<dyn FnOnce(Result<&Connection, StoreError>) -> Answer + Send>;

#[derive(Debug)]
pub(super) struct Writer {
    jobs: mpsc::Sender<Job>,
}

impl Writer {
    pub(super) fn start(connection: Connection) -> StoreResult<Writer> {
        let (jobs, waiting) = mpsc::channel();
        thread::Builder::new()
            .name("store-writer".to_owned())
            .spawn(move || run(&connection, &waiting))?;
        Ok(Writer { jobs })
    }

    pub(super) fn send<T: Send + 'static>(
        &self,
        job: impl FnOnce(&Connection) -> StoreResult<T> + Send + 'static,
    ) -> StoreResult<oneshot::Receiver<StoreResult<T>>> {
        let (reply, receiver) = oneshot::channel();
        let job: Job = Box::new(move |connection| {
            let result = connection.and_then(|connection| in_savepoint(connection, job));
            Box::new(move |committed| {
                // A caller that went away no longer waits for the answer.
                let _ = reply.send(match (committed, result) {
                    (Err(lost), Ok(_)) => Err(lost),
                    (_, result) => result,
                });
            })
        });
        self.jobs.send(job).map_err(|_| StoreError::Closed)?;
        Ok(receiver)
    }
}

fn run(connection: &Connection, waiting: &mpsc::Receiver<Job>) {
    while let Ok(first) = waiting.recv() {
        if let Err(error) = connection.execute_batch("BEGIN IMMEDIATE") {
            first(Err(error.into()))(Ok(()));
            continue;
        }
        let mut answers = vec![first(Ok(connection))];
        while answers.len() < LARGEST_GROUP {
            let Ok(job) = waiting.try_recv() else { break };
            answers.push(job(Ok(connection)));
        }
        let committed = connection.execute_batch("COMMIT");
        if committed.is_err() {
            // The failed commit may have ended the transaction already.
            let _ = connection.execute_batch("ROLLBACK");
        }
        let lost = committed.err().map(|error| error.to_string());
        if let Some(reason) = &lost {
            tracing::error!(reason, "commit failed");
        }
        for answer in answers {
            // A job that failed by itself keeps its own reason; the others learn that the group
            // could not be written.
            answer(lost.as_ref().map_or(Ok(()), |reason| Err(StoreError::Storage(reason.clone()))));
        }
    }
}

fn in_savepoint<T>(
    connection: &Connection,
    job: impl FnOnce(&Connection) -> StoreResult<T>,
) -> StoreResult<T> {
    connection.execute_batch("SAVEPOINT job")?;
    let result = job(connection);
    if result.is_ok() {
        connection.execute_batch("RELEASE job")?;
    } else if connection.execute_batch("ROLLBACK TO job; RELEASE job").is_err() {
        // A full or failing disk ends the whole transaction, savepoints and all. Should anything of
        // it be left, it goes too: then the commit fails, and the whole group is told.
        let _ = connection.execute_batch("ROLLBACK");
    }
    result
}
