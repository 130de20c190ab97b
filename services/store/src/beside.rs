//! Changing who may do what from the machine's command line, whether a service has the store open or not.
//!
//! The lock beside the file keeps a second *service* out, since two of them would each hold a room of their own in memory.
//! Of people, sessions and tokens nobody holds anything in memory: they are read from the file at every request. So one
//! short transaction beside a running service is safe: SQLite's own locks order it between two commits of the writer.

use crate::access::{AccessChange, AuditRow};
use crate::open::{self, Options};
use crate::table::{Fault, access, audit};
use crate::{CommitError, OpenError, Reader};
use rusqlite::{Connection, Transaction, TransactionBehavior};
use std::fs::File;
use std::path::{Path, PathBuf};

/// A store that is open for changes of people only.
pub struct Beside {
    path: PathBuf,
    conn: Connection,
    /// Held where nobody else held it.
    _lock: Option<File>,
}

impl Beside {
    /// Opens the store at `path`: as [`crate::Store::open`] does where no service has it open (a file that is missing is made),
    /// else beside the service.
    ///
    /// # Errors
    /// [`OpenError`]; also when a running service is of an older version, whose file has no people.
    pub fn open(path: &Path) -> Result<Self, OpenError> {
        match open::open(path, &Options::default()) {
            Ok(opened) => Ok(Self { path: opened.path, conn: opened.conn, _lock: Some(opened.lock) }),
            Err(OpenError::InUse { path, holder }) => {
                let conn = open::open_beside(&path, &holder, Options::default().busy_wait)?;
                Ok(Self { path, conn, _lock: None })
            }
            Err(error) => Err(error),
        }
    }

    /// Writes changes with their lines of the audit log: all of it or nothing, on disk when this returns.
    ///
    /// # Errors
    /// [`CommitError`]; nothing has been changed.
    pub fn change(&mut self, changes: &[AccessChange], lines: &[AuditRow]) -> Result<(), CommitError> {
        let path = self.path.clone();
        written(&mut self.conn, changes, lines).map_err(|fault| match fault {
            Fault::Sql(error) => CommitError::from_sql(&path, &error),
            Fault::Refused(reason) => CommitError::Refused { path, reason },
        })
    }

    /// Reads the same store.
    ///
    /// # Errors
    /// [`crate::ReadError`].
    pub fn reader(&self) -> Result<Reader, crate::ReadError> {
        Reader::open(&self.path)
    }
}

fn written(conn: &mut Connection, changes: &[AccessChange], lines: &[AuditRow]) -> Result<(), Fault> {
    let tx = Transaction::new(conn, TransactionBehavior::Immediate)?;
    access::change(&tx, changes)?;
    audit::insert(&tx, lines)?;
    Ok(tx.commit()?)
}
