//! What can go wrong, in words that name the file and the cure.

use crate::Batch;
use rusqlite::ErrorCode;
use std::path::{Path, PathBuf};

/// Why a store cannot be opened. The file is as it was.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OpenError {
    /// The folder is not there. It is not made here: an unmounted disk would be written beside.
    #[error("the store {} cannot be made: its folder {} is not there; make the folder or mount its disk", .path.display(), .folder.display())]
    NoFolder {
        /// The file asked for.
        path: PathBuf,
        /// The folder that is missing.
        folder: PathBuf,
    },
    /// Another service, or this one, has it open.
    #[error("the store {} is in use by {holder}; stop that one first, or name another file", .path.display())]
    InUse {
        /// The file asked for.
        path: PathBuf,
        /// Who holds it, as it wrote itself down.
        holder: String,
    },
    /// The file is something else.
    #[error("{} is not a store of Hatchwarden: {what}; it was left as it is: name another file, or move this one away", .path.display())]
    NotAStore {
        /// The file asked for.
        path: PathBuf,
        /// What it seems to be.
        what: String,
    },
    /// The file was written by a newer Hatchwarden.
    #[error("the store {} was written by a newer Hatchwarden (its schema is {found}, this one knows up to {known}); it was left as it is: run the newer version, or restore a backup made before it", .path.display())]
    Newer {
        /// The file asked for.
        path: PathBuf,
        /// Schema number in the file.
        found: i64,
        /// Newest schema number known.
        known: i64,
    },
    /// The file cannot be written.
    #[error("the store {} may only be read; give the service's user the right to write the file and its folder", .path.display())]
    ReadOnly {
        /// The file asked for.
        path: PathBuf,
    },
    /// Anything else.
    #[error("the store {} cannot be opened: {reason}", .path.display())]
    Failed {
        /// The file asked for.
        path: PathBuf,
        /// What was said, with a cure where one is known.
        reason: String,
    },
}

/// Why a batch is not on disk.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CommitError {
    /// No room on the disk, or the file has reached the size allowed to it.
    #[error("the store {} cannot be written: there is no room left for it; make room on its disk, or raise the size allowed to it, and it goes on by itself", .path.display())]
    Full {
        /// The store's file.
        path: PathBuf,
    },
    /// Somebody else holds the file.
    #[error("the store {} cannot be written: another program holds it locked; close that program", .path.display())]
    Busy {
        /// The store's file.
        path: PathBuf,
    },
    /// The file does not make sense any more.
    #[error("the store {} is damaged ({reason}); stop the service and restore a backup", .path.display())]
    Damaged {
        /// The store's file.
        path: PathBuf,
        /// What was said.
        reason: String,
    },
    /// The disk or the system failed.
    #[error("the store {} cannot be written ({reason}); check the disk, its cable and the rights on the folder", .path.display())]
    Io {
        /// The store's file.
        path: PathBuf,
        /// What was said.
        reason: String,
    },
    /// The batch itself cannot be kept; trying again will not help.
    #[error("the store {} does not take this: {reason}", .path.display())]
    Refused {
        /// The store's file.
        path: PathBuf,
        /// Field, value and cure.
        reason: String,
    },
    /// The store has been closed.
    #[error("the store {} is closed; the service is stopping", .path.display())]
    Closed {
        /// The store's file.
        path: PathBuf,
    },
}

impl CommitError {
    /// True when the same batch can never be committed, however often it is tried.
    pub fn is_lasting(&self) -> bool {
        matches!(self, Self::Refused { .. } | Self::Closed { .. })
    }

    pub(crate) fn from_sql(path: &Path, error: &rusqlite::Error) -> Self {
        let (path, reason) = (path.to_owned(), error.to_string());
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full { path },
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy { path },
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged { path, reason },
            Some(ErrorCode::ConstraintViolation | ErrorCode::TooBig | ErrorCode::TypeMismatch) => {
                Self::Refused { path, reason }
            }
            // SQLite says "full" only where a write fell short; a full disk met elsewhere is an i/o error to it.
            Some(ErrorCode::SystemIoFailure) if disk_is_full(&path.with_added_extension("trial")) => {
                Self::Full { path }
            }
            _ => Self::Io { path, reason },
        }
    }
}

/// Tries whether a few pages more find room.
fn disk_is_full(probe: &Path) -> bool {
    use std::io::ErrorKind::{QuotaExceeded, StorageFull};
    let tried = std::fs::write(probe, [0_u8; 65_536]);
    // Left behind it would only be overwritten the next time.
    let _ = tried.is_ok().then(|| std::fs::remove_file(probe));
    tried.is_err_and(|e| matches!(e.kind(), StorageFull | QuotaExceeded))
}

/// A batch that is not on disk, given back so that the caller can try again.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{error}")]
pub struct CommitFailed {
    /// Why.
    pub error: CommitError,
    /// What was to be written, unchanged.
    pub batch: Batch,
}

/// Why the store cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// The store has been closed.
    #[error("the store {} is closed; the service is stopping", .path.display())]
    Closed {
        /// The store's file.
        path: PathBuf,
    },
    /// A record makes no sense.
    #[error("the store {} holds a record that cannot be understood: {what}; restore a backup", .path.display())]
    Record {
        /// The store's file.
        path: PathBuf,
        /// Which record and what it says.
        what: String,
    },
    /// The disk, the system or the file failed.
    #[error("the store {} cannot be read ({reason}); check the disk and the rights on the folder, and restore a backup if the file is damaged", .path.display())]
    Failed {
        /// The store's file.
        path: PathBuf,
        /// What was said.
        reason: String,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[cfg(target_os = "linux")]
    fn a_full_disk_is_told_from_a_broken_one() {
        // The device that has never room.
        assert!(disk_is_full(Path::new("/dev/full")));
        let folder = tempfile::tempdir().unwrap();
        assert!(!disk_is_full(&folder.path().join("room.db.trial")));
        assert!(!disk_is_full(&folder.path().join("no/such/folder")));
        assert_eq!(folder.path().read_dir().unwrap().count(), 0, "the trial is removed");
    }

    #[test]
    fn each_kind_of_failure_has_its_own_word() {
        let said = |code| {
            let error = rusqlite::Error::SqliteFailure(rusqlite::ffi::Error::new(code), None);
            CommitError::from_sql(Path::new("/nowhere/room.db"), &error)
        };
        let path = PathBuf::from("/nowhere/room.db");
        assert_eq!(said(rusqlite::ffi::SQLITE_FULL), CommitError::Full { path: path.clone() });
        assert_eq!(said(rusqlite::ffi::SQLITE_BUSY), CommitError::Busy { path });
        assert!(matches!(said(rusqlite::ffi::SQLITE_CORRUPT), CommitError::Damaged { .. }));
        assert!(matches!(said(rusqlite::ffi::SQLITE_IOERR_FSYNC), CommitError::Io { .. }));
        assert!(said(rusqlite::ffi::SQLITE_CONSTRAINT).is_lasting());
        assert!(!said(rusqlite::ffi::SQLITE_FULL).is_lasting());
    }
}
