//! Filling a store from files while no service has it open.
//!
//! A file of a year is more than memory holds, so its rows go one by one into one long transaction, which is ended by
//! [`Filling::keep`] or leaves no trace. A running service would have to wait for it, and holds the account in memory:
//! so the lock of the store is taken, and an open store is refused.

use crate::access::AuditRow;
use crate::open::{self, Opened, Options};
use crate::table::readings::{self, Known};
use crate::table::{Fault, account, audit, notes};
use crate::{CommitError, EntryRow, OpenError, ReadingRow};
use std::path::Path;

/// A store in which rows are being put.
pub struct Filling {
    opened: Opened,
    known: Known,
}

/// What became of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Placed {
    /// It was not there before.
    New,
    /// It stands already.
    Known,
    /// Another value stands for that probe and time, this one; it was kept.
    Other(f64),
}

impl Filling {
    /// Opens the store at `path`, which is made if it is missing, and begins.
    ///
    /// # Errors
    /// [`OpenError`], also when a service has it open.
    pub fn open(path: &Path) -> Result<Self, OpenError> {
        let opened = open::open(path, &Options::default())?;
        Ok(Self { opened, known: Known::new() })
    }

    /// Begins a transaction; what an earlier one left undecided is undone.
    ///
    /// # Errors
    /// [`CommitError`].
    pub fn begin(&mut self) -> Result<(), CommitError> {
        self.undo()?;
        self.tried(|f| Ok(f.opened.conn.execute_batch("BEGIN IMMEDIATE")?))
    }

    /// Puts a reading in; one that stands for its probe and time is kept.
    ///
    /// # Errors
    /// [`CommitError`].
    pub fn reading(&mut self, row: &ReadingRow) -> Result<Placed, CommitError> {
        let one = std::slice::from_ref(row);
        self.tried(|f| {
            readings::check(one).map_err(Fault::Refused)?;
            if readings::insert(&f.opened.conn, one, &mut f.known)?.new_readings == 1 {
                return Ok(Placed::New);
            }
            let stands = readings::first_rows(&f.opened.conn, &row.probe, row.time, row.time, 1)?;
            let other = stands.iter().map(|r| r.value).find(|v| v.to_bits() != row.value.to_bits());
            Ok(other.map_or(Placed::Known, Placed::Other))
        })
    }

    /// Adds entries of the account, and lines of the audit log.
    ///
    /// # Errors
    /// [`CommitError`], also when a number is taken by another entry.
    pub fn add(&mut self, entries: &[EntryRow], lines: &[AuditRow]) -> Result<(), CommitError> {
        self.tried(|f| {
            account::check(entries).map_err(Fault::Refused)?;
            account::insert(&f.opened.conn, entries)?;
            Ok(audit::insert(&f.opened.conn, lines)?)
        })
    }

    /// Replaces a note.
    ///
    /// # Errors
    /// [`CommitError`].
    pub fn note(&mut self, name: &str, value: &str) -> Result<(), CommitError> {
        let notes = [(name.to_owned(), value.to_owned())];
        self.tried(|f| Ok(notes::set(&f.opened.conn, &notes)?))
    }

    /// The account as it stands, with what was added.
    ///
    /// # Errors
    /// [`CommitError`].
    pub fn entries(&mut self) -> Result<Vec<EntryRow>, CommitError> {
        self.tried(|f| Ok(account::entries(&f.opened.conn)?))
    }

    /// A note as it stands.
    ///
    /// # Errors
    /// [`CommitError`].
    pub fn noted(&mut self, name: &str) -> Result<Option<String>, CommitError> {
        self.tried(|f| Ok(notes::get(&f.opened.conn, name)?))
    }

    /// Keeps what was put in since the beginning: it is on disk when this returns.
    ///
    /// # Errors
    /// [`CommitError`]; then nothing of it is kept.
    pub fn keep(&mut self) -> Result<(), CommitError> {
        self.tried(|f| Ok(f.opened.conn.execute_batch("COMMIT")?))
    }

    /// Leaves everything as it was at the beginning.
    ///
    /// # Errors
    /// [`CommitError`].
    pub fn undo(&mut self) -> Result<(), CommitError> {
        // Numbers given to probes are gone with the transaction.
        self.known.clear();
        let open = !self.opened.conn.is_autocommit();
        if open { self.tried(|f| Ok(f.opened.conn.execute_batch("ROLLBACK")?)) } else { Ok(()) }
    }

    fn tried<T>(&mut self, work: impl FnOnce(&mut Self) -> Result<T, Fault>) -> Result<T, CommitError> {
        let path = self.opened.path.clone();
        work(self).map_err(|fault| match fault {
            Fault::Sql(error) => CommitError::from_sql(&path, &error),
            Fault::Refused(reason) => CommitError::Refused { path, reason },
        })
    }
}
