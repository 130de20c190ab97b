//! Read-only connections that wait to be used again.

use crate::{ReadError, open};
use rusqlite::Connection;
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Connections kept for the next reader; more than that are closed after use.
const KEPT: usize = 4;

/// Connections of one file.
pub(crate) struct Pool {
    path: PathBuf,
    busy_wait: Duration,
    /// `None` once the store is closed.
    idle: Mutex<Option<Vec<Connection>>>,
}

impl Pool {
    pub(crate) fn new(path: PathBuf, busy_wait: Duration) -> Self {
        Self { path, busy_wait, idle: Mutex::new(Some(Vec::new())) }
    }

    pub(crate) fn path(&self) -> &PathBuf {
        &self.path
    }

    /// A connection that waits, or a new one.
    pub(crate) fn take(&self) -> Result<Connection, ReadError> {
        let waiting = match self.idle().as_mut() {
            Some(idle) => idle.pop(),
            None => return Err(ReadError::Closed { path: self.path.clone() }),
        };
        waiting.map_or_else(|| self.connect(), Ok)
    }

    fn connect(&self) -> Result<Connection, ReadError> {
        open::open_reader(&self.path, self.busy_wait)
            .map_err(|e| ReadError::Failed { path: self.path.clone(), reason: e.to_string() })
    }

    /// Takes a connection back, or closes it if enough wait already.
    pub(crate) fn give(&self, conn: Connection) {
        if let Some(idle) = self.idle().as_mut().filter(|idle| idle.len() < KEPT) {
            idle.push(conn);
        }
    }

    /// Closes all that wait; no more are given out.
    pub(crate) fn close(&self) {
        self.idle().take();
    }

    /// A thread that panicked left the list whole: pushing and popping are all that is done under the lock.
    fn idle(&self) -> MutexGuard<'_, Option<Vec<Connection>>> {
        self.idle.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
