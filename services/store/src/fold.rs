//! Folding the write-ahead log into the file, beside the writer: a commit does not wait for it.
//!
//! The thread has a connection of its own and folds passively, so it never locks the writer out. Where it cannot keep up,
//! the writer folds the rest itself (`wal_autocheckpoint`), so that the log stays bounded.

use rusqlite::Connection;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;

/// Rows after which the log is folded. Each dirties about one page at most, and a commit a few more. Folding flushes the
/// file, and commits meanwhile wait for the disk: seldom is better for the slowest acknowledgements.
pub(crate) const FOLD_ROWS: usize = 30_000;

/// The thread that folds, and how much has been written since it was last told to.
pub(crate) struct Folder {
    wake: SyncSender<()>,
    thread: JoinHandle<()>,
    rows: usize,
}

impl Folder {
    /// Starts the thread with a connection to the file at `path`.
    pub(crate) fn start(path: PathBuf, conn: Connection) -> std::io::Result<Self> {
        let (wake, woken) = sync_channel(1);
        let thread = std::thread::Builder::new()
            .name("store-folder".to_owned())
            .spawn(move || run(path, conn, &woken))?;
        Ok(Self { wake, thread, rows: 0 })
    }

    /// The writer has committed so many rows.
    pub(crate) fn wrote(&mut self, rows: usize) {
        self.rows += rows + 1;
        // Full: it has been told already and looks at all that is there then.
        if self.rows >= FOLD_ROWS && self.wake.try_send(()).is_ok() {
            self.rows = 0;
        }
    }

    /// Ends the thread and waits for it.
    pub(crate) fn end(self) {
        drop(self.wake);
        if self.thread.join().is_err() {
            tracing::error!("the thread that folds the store's log broke down; the writer folds it");
        }
    }
}

#[expect(clippy::needless_pass_by_value, reason = "the thread owns what it uses")]
fn run(path: PathBuf, conn: Connection, woken: &Receiver<()>) {
    while woken.recv().is_ok() {
        // Not folded now means folded later: nothing is lost.
        if let Err(error) = conn.query_row("PRAGMA wal_checkpoint(PASSIVE)", [], |_| Ok(())) {
            tracing::debug!(file = %path.display(), %error, "the store's log was not folded");
        }
    }
}
