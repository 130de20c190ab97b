//! Opening the file: who may, what it is, and with which settings.

use crate::OpenError;
use crate::schema::{self, Kind};
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How the store is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Options {
    /// True, the default: a commit is on disk when it returns, even if the power goes the next moment. False: the
    /// last commits may be lost with the power; the file stays sound. For demonstrations.
    pub synchronous_full: bool,
    /// Most pages of 4,096 bytes that the file may take; `None` for as many as the disk has.
    pub max_pages: Option<u32>,
    /// How long a commit waits for another program that holds the file locked.
    pub busy_wait: Duration,
}

impl Default for Options {
    fn default() -> Self {
        Self { synchronous_full: true, max_pages: None, busy_wait: Duration::from_secs(5) }
    }
}

/// Page of a new file, in bytes; a file that is there keeps its own. A batch touches the newest page of every probe that
/// has sent something, and all of each goes through the log: small pages carry a flood of a thousand probes a fifth
/// faster than SQLite's usual 4,096 (figures in DESIGN.md).
const PAGE: i64 = 1_024;
/// Length of the write-ahead log, in bytes, after which the writer itself folds it into the file: only when the folder
/// beside it cannot keep up.
const FOLD_BYTES: i64 = 48 * 1024 * 1024;
/// Memory for pages of the writer, in kB: the newest page of each of a thousand probes, so that a flood does not read
/// a page for every row it writes.
const CACHE_KB: i64 = 4_500;
/// What is left of the write-ahead log's file after a flood, in bytes.
const LOG_KEPT: i64 = 64 * 1024 * 1024;
/// Statements kept prepared; more than there are.
const STATEMENTS: usize = 64;

/// A file that is open for writing.
pub(crate) struct Opened {
    /// Absolute, links resolved.
    pub(crate) path: PathBuf,
    pub(crate) conn: Connection,
    /// Held as long as it is open; keeps a second opener out.
    pub(crate) lock: File,
}

/// Opens or makes the file and brings it to the known schema.
pub(crate) fn open(path: &Path, options: &Options) -> Result<Opened, OpenError> {
    let path = resolve(path)?;
    let lock = lock(&path)?;
    look(&path)?;
    let failed = |error: rusqlite::Error| failed(&path, &error);
    let flags =
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut conn = Connection::open_with_flags(&path, flags).map_err(failed)?;
    conn.busy_timeout(options.busy_wait).map_err(failed)?;
    let version = version(&conn, &path)?;
    settle(&conn, options).map_err(failed)?;
    schema::migrate(&mut conn, version).map_err(failed)?;
    tracing::info!(file = %path.display(), schema = schema::KNOWN, "store opened");
    Ok(Opened { path, conn, lock })
}

/// A connection that folds the log of a file that is open already. What it folds is flushed as commits are.
pub(crate) fn open_folder(path: &Path, synchronous_full: bool) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    conn.pragma_update(None, "synchronous", if synchronous_full { "FULL" } else { "NORMAL" })?;
    conn.pragma_update(None, "journal_size_limit", LOG_KEPT)?;
    Ok(conn)
}

/// A read-only connection to a file that is open already.
pub(crate) fn open_reader(path: &Path, busy_wait: Duration) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    conn.busy_timeout(busy_wait)?;
    conn.set_prepared_statement_cache_capacity(STATEMENTS);
    Ok(conn)
}

/// A connection for a short change of people while `holder` has the file open. Its schema must be ours: who holds it has
/// brought it there, or is of an older version.
pub(crate) fn open_beside(path: &Path, holder: &str, busy_wait: Duration) -> Result<Connection, OpenError> {
    let fail = |error: rusqlite::Error| failed(path, &error);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags).map_err(fail)?;
    conn.busy_timeout(busy_wait).map_err(fail)?;
    conn.pragma_update(None, "synchronous", "FULL").map_err(fail)?;
    match version(&conn, path)? {
        schema::KNOWN => Ok(conn),
        old => Err(OpenError::Failed {
            path: path.to_owned(),
            reason: format!(
                "{holder} has it open and is of an older version (schema {old}); start the service with this version, then try again"
            ),
        }),
    }
}

/// One name per file, so that a link to it is not taken for another.
fn resolve(path: &Path) -> Result<PathBuf, OpenError> {
    let fail = |reason: String| OpenError::Failed { path: path.to_owned(), reason };
    if let Ok(found) = path.canonicalize() {
        return Ok(found);
    }
    let whole = std::path::absolute(path).map_err(|e| fail(e.to_string()))?;
    let (Some(folder), Some(name)) = (whole.parent(), whole.file_name()) else {
        return Err(fail("it has no file name; name a file such as room.db".to_owned()));
    };
    let missing = |_| OpenError::NoFolder { path: whole.clone(), folder: folder.to_owned() };
    Ok(folder.canonicalize().map_err(missing)?.join(name))
}

/// A lock on a file beside the store: closing any handle on the store itself would drop SQLite's own locks.
fn lock(path: &Path) -> Result<File, OpenError> {
    let beside = path.with_added_extension("lock");
    let fail = |e: std::io::Error| OpenError::Failed {
        path: path.to_owned(),
        reason: format!(
            "its lock file {} cannot be taken: {e}; check the rights on the folder",
            beside.display()
        ),
    };
    let mut file =
        OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&beside).map_err(fail)?;
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => {
            return Err(OpenError::InUse { path: path.to_owned(), holder: holder(&mut file) });
        }
        Err(TryLockError::Error(e)) => return Err(fail(e)),
    }
    // Who holds it is a courtesy: a disk too full for the number still lets the store be opened.
    let _ = file.set_len(0).and_then(|()| write!(file, "{}", std::process::id()));
    Ok(file)
}

fn holder(file: &mut File) -> String {
    let mut number = String::new();
    let read = file.rewind().and_then(|()| file.read_to_string(&mut number));
    match read {
        Ok(_) if number == std::process::id().to_string() => format!("this very process ({number})"),
        Ok(_) if !number.is_empty() => format!("process {number}"),
        _ => "another process".to_owned(),
    }
}

/// Refuses what is plainly no database: SQLite takes a file of a few bytes for an empty one and writes over it.
///
/// Only under the lock, for closing this handle drops the locks that SQLite holds on the file in this process.
fn look(path: &Path) -> Result<(), OpenError> {
    const MAGIC: &[u8] = b"SQLite format 3\0";
    let Ok(file) = File::open(path) else { return Ok(()) };
    let mut start = Vec::new();
    // What cannot be read is left to SQLite, which has the better words for it.
    match file.take(MAGIC.len() as u64).read_to_end(&mut start) {
        Ok(n) if n > 0 && start != MAGIC => Err(no_database(path.to_owned())),
        _ => Ok(()),
    }
}

fn no_database(path: PathBuf) -> OpenError {
    OpenError::NotAStore { path, what: "it is no database at all".to_owned() }
}

/// The schema of the file, if it is one of ours that we know.
fn version(conn: &Connection, path: &Path) -> Result<i64, OpenError> {
    let path = path.to_owned();
    match schema::kind(conn).map_err(|e| failed(&path, &e))? {
        Kind::Foreign(what) => Err(OpenError::NotAStore { path, what }),
        Kind::Ours(found) if found > schema::KNOWN => {
            Err(OpenError::Newer { path, found, known: schema::KNOWN })
        }
        Kind::Ours(_) if conn.is_readonly(rusqlite::MAIN_DB).unwrap_or(false) => {
            Err(OpenError::ReadOnly { path })
        }
        Kind::Ours(found) => Ok(found),
    }
}

fn settle(conn: &Connection, options: &Options) -> rusqlite::Result<()> {
    conn.set_prepared_statement_cache_capacity(STATEMENTS);
    conn.pragma_update(None, "page_size", PAGE)?;
    let mode: String = conn.pragma_update_and_check(None, "journal_mode", "WAL", |r| r.get(0))?;
    if mode != "wal" {
        tracing::warn!(
            mode,
            "the disk under the store allows no write-ahead log; readers will wait for the writer"
        );
    }
    conn.pragma_update(None, "synchronous", if options.synchronous_full { "FULL" } else { "NORMAL" })?;
    let page: i64 = conn.query_row("PRAGMA page_size", [], |r| r.get(0))?;
    conn.pragma_update(None, "wal_autocheckpoint", FOLD_BYTES / page)?;
    conn.pragma_update(None, "journal_size_limit", LOG_KEPT)?;
    conn.pragma_update(None, "cache_size", -CACHE_KB)?;
    conn.pragma_update(None, "temp_store", "MEMORY")?;
    options.max_pages.map_or(Ok(()), |pages| limit(conn, pages))
}

/// Sets how many pages the file may take.
pub(crate) fn limit(conn: &Connection, pages: u32) -> rusqlite::Result<()> {
    conn.pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()))
}

fn failed(path: &Path, error: &rusqlite::Error) -> OpenError {
    let path = path.to_owned();
    match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => no_database(path),
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => OpenError::ReadOnly { path },
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            OpenError::InUse { path, holder: "another program".to_owned() }
        }
        Some(ErrorCode::DiskFull) => OpenError::Failed {
            path,
            reason: "there is no room left for it; make room on its disk".to_owned(),
        },
        Some(ErrorCode::DatabaseCorrupt) => {
            OpenError::Failed { path, reason: format!("it is damaged ({error}); restore a backup") }
        }
        _ => OpenError::Failed {
            path,
            reason: format!("{error}; check the disk and the rights on file and folder"),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(options: &Options) -> [i64; 5] {
        let folder = tempfile::tempdir().unwrap();
        let conn = open(&folder.path().join("room.db"), options).unwrap().conn;
        ["synchronous", "wal_autocheckpoint", "journal_size_limit", "cache_size", "max_page_count"]
            .map(|name| conn.query_row(&format!("PRAGMA {name}"), [], |r| r.get(0)).unwrap())
    }

    #[test]
    fn a_file_that_is_there_keeps_its_pages_and_folds_at_the_same_length() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("room.db");
        drop(open(&path, &Options::default()).unwrap());
        let conn = Connection::open(&path).unwrap();
        conn.execute_batch("PRAGMA journal_mode = DELETE; PRAGMA page_size = 4096; VACUUM").unwrap();
        drop(conn);
        let conn = open(&path, &Options::default()).unwrap().conn;
        let ask = |name: &str| conn.query_row(&format!("PRAGMA {name}"), [], |r| r.get::<_, i64>(0)).unwrap();
        assert_eq!((ask("page_size"), ask("wal_autocheckpoint")), (4_096, FOLD_BYTES / 4_096));
    }

    #[test]
    fn the_settings_are_those_of_the_design() {
        const MOST: i64 = 4_294_967_294;
        assert_eq!(
            settings(&Options::default()),
            [2, FOLD_BYTES / PAGE, LOG_KEPT, -CACHE_KB, MOST],
            "2 is FULL"
        );
        let quick = Options { synchronous_full: false, max_pages: Some(500), ..Options::default() };
        assert_eq!(settings(&quick), [1, FOLD_BYTES / PAGE, LOG_KEPT, -CACHE_KB, 500], "1 is NORMAL");
    }

    #[test]
    fn a_reader_cannot_write() {
        let folder = tempfile::tempdir().unwrap();
        let opened = open(&folder.path().join("room.db"), &Options::default()).unwrap();
        let reader = open_reader(&opened.path, Duration::ZERO).unwrap();
        let error = reader.execute("DELETE FROM notes", []).unwrap_err();
        assert_eq!(error.sqlite_error_code(), Some(ErrorCode::ReadOnly));
    }
}
