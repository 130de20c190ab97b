//! The one thread that writes.
//!
//! It takes all that has arrived since its last commit into one transaction. There is no timer: when nothing waits, a
//! single batch is committed at once; when the disk is slow, more arrive meanwhile and share the next flush. What may wait
//! goes when nothing else does, so that an alarm never stands behind a queue of it.

mod waiting;

use crate::fold::Folder;
use crate::open::{self, Opened};
use crate::table::Fault;
use crate::table::readings::Known;
use crate::{Batch, CommitError, Committed, apply};
use rusqlite::{Transaction, TransactionBehavior};
use std::sync::Arc;
use std::sync::mpsc::Receiver;
use tokio::sync::oneshot;
use waiting::{Next, Waiting};

/// A batch and who waits for it.
pub(crate) struct Job {
    /// Shared with the caller, who has it back whatever happens here.
    pub(crate) batch: Arc<Batch>,
    pub(crate) reply: oneshot::Sender<Result<Committed, CommitError>>,
}

/// What the writer is asked to do.
pub(crate) enum Ask {
    /// Write this.
    Commit(Job),
    /// Write this when nothing else waits.
    CommitAside(Job),
    /// Let the file take so many pages.
    Limit(u32, oneshot::Sender<Result<(), CommitError>>),
}

/// Works until every sender is gone and the queue is empty, then folds the log into the file.
pub(crate) fn run(opened: Opened, folder: Option<Folder>, asks: Receiver<Ask>) {
    let mut writer = Writer { opened, known: Known::new(), folder };
    let mut waiting = Waiting::new(asks);
    while let Some(next) = waiting.next() {
        match next {
            Next::Commit(jobs) => writer.commit(jobs),
            Next::Limit(pages, reply) => {
                let path = &writer.opened.path;
                let done =
                    open::limit(&writer.opened.conn, pages).map_err(|e| CommitError::from_sql(path, &e));
                // Nobody waits any more: then nobody needs to know.
                let _ = reply.send(done);
            }
        }
    }
    writer.finish();
}

struct Writer {
    opened: Opened,
    known: Known,
    /// Without one the writer folds the log by itself.
    folder: Option<Folder>,
}

impl Writer {
    fn commit(&mut self, jobs: Vec<Job>) {
        match self.write(&jobs) {
            Ok(done) => {
                let rows = jobs.iter().map(|job| job.batch.rows()).sum();
                jobs.into_iter().zip(done).for_each(|(job, done)| answer(job, Ok(done)));
                self.folder.iter_mut().for_each(|f| f.wrote(rows));
            }
            // One batch is at fault: the others must not suffer for it, so each goes by itself.
            Err(CommitError::Refused { .. }) if jobs.len() > 1 => {
                jobs.into_iter().for_each(|job| self.commit(vec![job]));
            }
            Err(error) => jobs.into_iter().for_each(|job| answer(job, Err(error.clone()))),
        }
    }

    /// All of the jobs or none.
    fn write(&mut self, jobs: &[Job]) -> Result<Vec<Committed>, CommitError> {
        let path = self.opened.path.clone();
        let done = self.transact(jobs);
        if done.is_err() {
            // Numbers given to probes inside it are gone with the transaction.
            self.known.clear();
        }
        done.map_err(|fault| match fault {
            Fault::Sql(error) => CommitError::from_sql(&path, &error),
            Fault::Refused(reason) => CommitError::Refused { path, reason },
        })
    }

    fn transact(&mut self, jobs: &[Job]) -> Result<Vec<Committed>, Fault> {
        let conn = &mut self.opened.conn;
        if !conn.is_autocommit() {
            // A rollback that failed with the disk: nothing can be begun before it is done.
            conn.execute_batch("ROLLBACK")?;
        }
        let tx = Transaction::new(conn, TransactionBehavior::Immediate)?;
        let done = jobs
            .iter()
            .map(|job| apply::apply(&tx, &job.batch, &mut self.known))
            .collect::<Result<_, _>>()?;
        tx.commit()?;
        Ok(done)
    }

    fn finish(self) {
        // Before the last folding, so that the writer's connection is the last one and leaves a single file.
        self.folder.into_iter().for_each(Folder::end);
        let Opened { path, conn, lock } = self.opened;
        // Not folded now means folded at the next opening: nothing is lost.
        if let Err(error) = conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())) {
            tracing::warn!(file = %path.display(), %error, "the store's log could not be folded into its file");
        }
        if let Err((_, error)) = conn.close() {
            tracing::warn!(file = %path.display(), %error, "the store did not close cleanly");
        }
        tracing::info!(file = %path.display(), "store closed");
        // Last of all: whoever gets it now finds everything in the file.
        drop(lock);
    }
}

fn answer(job: Job, done: Result<Committed, CommitError>) {
    let Job { batch, reply } = job;
    // Let go first, so that the caller gets the batch back without a copy.
    drop(batch);
    // A caller that has gone away has its rows on disk all the same.
    let _ = reply.send(done);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fold::FOLD_ROWS;
    use crate::{EntryRow, Options};
    use units::Time;

    type Answer = oneshot::Receiver<Result<Committed, CommitError>>;

    fn job(id: u64, json: &str) -> (Job, Answer) {
        let entry = EntryRow { id, recorded: Time::from_millis(0), by: "ana".into(), json: json.into() };
        let (reply, answer) = oneshot::channel();
        (Job { batch: Arc::new(Batch { entries: vec![entry], ..Batch::default() }), reply }, answer)
    }

    fn writer(folder: &tempfile::TempDir) -> Writer {
        let opened = open::open(&folder.path().join("room.db"), &Options::default()).unwrap();
        Writer { opened, known: Known::new(), folder: None }
    }

    #[test]
    fn a_group_is_one_transaction() {
        let folder = tempfile::tempdir().unwrap();
        let mut writer = writer(&folder);
        // Pages in the log, which starts anew after each of these.
        let pages = |w: &Writer| -> i64 {
            w.opened.conn.query_row("PRAGMA wal_checkpoint(PASSIVE)", [], |r| r.get(1)).unwrap()
        };
        pages(&writer);
        (1..18).for_each(|id| writer.commit(vec![job(id, "").0]));
        assert_eq!(pages(&writer), 17, "each alone writes the page again");
        writer.commit((18..35).map(|id| job(id, "").0).collect());
        assert_eq!(pages(&writer), 1, "together they write it once");
    }

    #[test]
    fn the_folder_beside_it_folds_the_log_into_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let mut writer = writer(&folder);
        let path = writer.opened.path.clone();
        let size = || std::fs::metadata(&path).unwrap().len();
        let conn = open::open_folder(&path, true).unwrap();
        let before = size();
        writer.folder = Some(Folder::start(path.clone(), conn).unwrap());
        writer.commit((0..FOLD_ROWS as u64).map(|id| job(id, "").0).collect());
        // Its end waits for what it was told to do.
        writer.folder.take().unwrap().end();
        assert!(size() > before, "still {before} bytes");
    }

    #[test]
    fn one_at_fault_in_a_group_does_not_take_the_others_with_it() {
        let folder = tempfile::tempdir().unwrap();
        let mut writer = writer(&folder);
        let (jobs, mut answers): (Vec<_>, Vec<_>) =
            [job(1, "a"), job(1, "b"), job(2, "c")].into_iter().unzip();
        writer.commit(jobs);
        let mut said = answers.iter_mut().map(|a| a.try_recv().unwrap());
        assert!(said.next().unwrap().is_ok());
        assert!(matches!(said.next().unwrap(), Err(CommitError::Refused { .. })));
        assert!(said.next().unwrap().is_ok());
    }
}
