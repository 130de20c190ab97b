//! The handle that the service holds.

use crate::fold::Folder;
use crate::open::{self, Options};
use crate::pool::Pool;
use crate::writer::{self, Ask, Job};
use crate::{Batch, CommitError, CommitFailed, Committed, OpenError, ReadError, Reader, apply};
use std::fmt;
use std::path::Path;
use std::sync::mpsc::{Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use tokio::sync::oneshot;

/// Rows in a batch that is written aside. With 1,000 of them 99 of 100 alarms left within 13 ms, with 10,000 within 69 ms, while
/// 1,000 readings a second came in; the rows themselves went at 215,000 and 314,000 a second (bench `announce`, release, a quiet
/// two-core machine).
pub const ASIDE_ROWS: usize = 1_000;

/// A store that is open. Clones are handles of the same one; the last to be dropped closes it.
#[derive(Clone)]
pub struct Store {
    inner: Arc<Inner>,
}

struct Inner {
    pool: Arc<Pool>,
    /// `None` once the store is closed.
    writer: Mutex<Option<(Sender<Ask>, JoinHandle<()>)>>,
}

impl Store {
    /// Opens the file at `path`, or makes it; its folder must be there. A file of an older schema is brought up to
    /// date first. Blocks for as long as that takes.
    ///
    /// Beside it lie `<path>-wal` and `<path>-shm` while it is open, and `<path>.lock`, which may stay.
    ///
    /// # Errors
    /// [`OpenError`] when the folder is missing, the file is in use, is not a store, is newer than this version, may
    /// not be written, or the disk fails. The file is then as it was.
    #[expect(clippy::needless_pass_by_value, reason = "written as Store::open(path, Options::default())")]
    pub fn open(path: &Path, options: Options) -> Result<Self, OpenError> {
        let opened = open::open(path, &options)?;
        let path = opened.path.clone();
        let (sender, asks) = channel();
        let failed = |reason: String| OpenError::Failed {
            path: path.clone(),
            reason: format!("no thread for it: {reason}"),
        };
        let conn = open::open_folder(&path, options.synchronous_full).map_err(|e| failed(e.to_string()))?;
        let folder = Folder::start(path.clone(), conn).map_err(|e| failed(e.to_string()))?;
        let thread = std::thread::Builder::new()
            .name("store-writer".to_owned())
            .spawn(move || writer::run(opened, Some(folder), asks))
            .map_err(|e| failed(e.to_string()))?;
        let pool = Arc::new(Pool::new(path, options.busy_wait));
        Ok(Self { inner: Arc::new(Inner { pool, writer: Mutex::new(Some((sender, thread))) }) })
    }

    /// Writes a batch and returns when it is on disk. An empty batch returns at once.
    ///
    /// A caller that stops waiting (a dropped future) may have its batch written all the same.
    ///
    /// # Errors
    /// [`CommitFailed`] with the batch unchanged; nothing of it is in the file. Unless
    /// [`CommitError::is_lasting`], it may be tried again when the cause is gone.
    pub async fn commit(&self, batch: Batch) -> Result<Committed, Box<CommitFailed>> {
        self.write(batch, Ask::Commit).await
    }

    /// As [`Store::commit`], but for what may wait, e.g. an import: it is written when nothing else waits, so that an alarm
    /// waits for one such batch at most. Let it have some [`ASIDE_ROWS`] rows.
    ///
    /// # Errors
    /// As [`Store::commit`].
    pub async fn commit_aside(&self, batch: Batch) -> Result<Committed, Box<CommitFailed>> {
        self.write(batch, Ask::CommitAside).await
    }

    async fn write(&self, batch: Batch, how: fn(Job) -> Ask) -> Result<Committed, Box<CommitFailed>> {
        if batch.is_empty() {
            return Ok(Committed::default());
        }
        if let Err(reason) = apply::check(&batch) {
            let error = CommitError::Refused { path: self.path().to_owned(), reason };
            return Err(Box::new(CommitFailed { error, batch }));
        }
        let batch = Arc::new(batch);
        let done = self.ask(|reply| how(Job { batch: batch.clone(), reply })).await;
        done.map_err(|error| Box::new(CommitFailed { error, batch: Arc::unwrap_or_clone(batch) }))
    }

    /// Changes how many pages of 4,096 bytes the file may take; see [`Options::max_pages`]. A file that is larger
    /// already stays as it is and grows no more.
    ///
    /// # Errors
    /// [`CommitError`] when the store is closed or the disk fails.
    pub async fn allow_pages(&self, pages: u32) -> Result<(), CommitError> {
        self.ask(|reply| Ask::Limit(pages, reply)).await
    }

    async fn ask<T>(
        &self,
        ask: impl FnOnce(oneshot::Sender<Result<T, CommitError>>) -> Ask,
    ) -> Result<T, CommitError> {
        let closed = || CommitError::Closed { path: self.path().to_owned() };
        let (reply, answer) = oneshot::channel();
        let sent = self.inner.writer().as_ref().map(|(sender, _)| sender.send(ask(reply)));
        match sent {
            Some(Ok(())) => answer.await.unwrap_or_else(|_| Err(closed())),
            _ => Err(closed()),
        }
    }

    /// A read-only connection that sees all that is committed when each of its methods is called. Dropping it makes
    /// it ready for the next. Its methods block: use it on a thread that may.
    ///
    /// # Errors
    /// [`ReadError`] when the store is closed or the file cannot be opened.
    pub fn reader(&self) -> Result<Reader, ReadError> {
        Reader::new(self.inner.pool.clone())
    }

    /// The file, as an absolute path.
    pub fn path(&self) -> &Path {
        self.inner.pool.path()
    }

    /// Writes what still waits, folds the log into the file and closes it, for every handle: commits that come later
    /// get [`CommitError::Closed`]. Blocks until it is done.
    pub fn close(self) {
        self.inner.close();
    }
}

impl fmt::Debug for Store {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Store").field("path", &self.path()).finish_non_exhaustive()
    }
}

impl Inner {
    fn close(&self) {
        // First, so that the writer's connection is the last one and leaves a single file behind.
        self.pool.close();
        let Some((sender, thread)) = self.writer().take() else { return };
        drop(sender);
        if thread.join().is_err() {
            tracing::error!(file = %self.pool.path().display(), "the store's writer broke down; its last batch was not written");
        }
    }

    /// A thread that panicked cannot have left it half changed.
    fn writer(&self) -> MutexGuard<'_, Option<(Sender<Ask>, JoinHandle<()>)>> {
        self.writer.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Inner {
    fn drop(&mut self) {
        self.close();
    }
}
