//! The store as a second SQLite connection sees it: what stands there is committed.

use crate::Stream;
use rusqlite::{Connection, OpenFlags};
use std::collections::HashSet;
use std::path::Path;
use std::time::Duration;

/// One row of the table of readings: probe, time (ms since 1970), number, value.
type Row = (String, i64, i64, f64);

/// A read-only connection of the test's own.
pub struct Rows(Connection);

impl Rows {
    /// Opens the file that a running service writes.
    pub fn open(store: &Path) -> Self {
        let db = Connection::open_with_flags(store, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
        db.busy_timeout(Duration::from_secs(10)).unwrap();
        Self(db)
    }

    /// How many readings there are.
    pub fn count(&self) -> u64 {
        let count: i64 = self.0.query_one("SELECT count(*) FROM readings", [], |r| r.get(0)).unwrap();
        count as u64
    }

    /// The numbers of all readings.
    pub fn numbers(&self) -> HashSet<u64> {
        let mut all = self.0.prepare("SELECT sequence FROM readings").unwrap();
        all.query_map([], |r| r.get::<_, i64>(0)).unwrap().map(|n| n.unwrap() as u64).collect()
    }

    /// The ids of all messages to people and programs, and whether each has arrived.
    pub fn messages(&self) -> Vec<(String, bool)> {
        let mut all = self.0.prepare("SELECT id, arrived FROM outbox ORDER BY number").unwrap();
        all.query_map([], |r| Ok((r.get(0)?, r.get(1)?))).unwrap().map(Result::unwrap).collect()
    }

    /// That all of these numbers are stored.
    ///
    /// # Panics
    /// When one is not; says how many and which is the first.
    pub fn assert_hold(&self, acknowledged: &[u64]) {
        let stored = self.numbers();
        let lost: Vec<&u64> = acknowledged.iter().filter(|n| !stored.contains(n)).collect();
        assert!(lost.is_empty(), "{} acknowledged readings are lost, the first is {}", lost.len(), lost[0]);
    }

    /// That the stream stands there, each reading once with its probe, time and value, and nothing else; and that the file
    /// is sound. `missing` are numbers that are known not to be there.
    ///
    /// # Panics
    /// When it does not.
    pub fn assert_whole_but(&self, stream: &Stream, missing: &HashSet<u64>) {
        let wanted = (0..stream.len).filter(|n| !missing.contains(n)).map(|n| {
            (stream.devices[stream.device(n)].to_owned(), stream.time(n).millis(), n as i64, stream.value(n))
        });
        let rows = self.by_number();
        assert_eq!(rows.len() as u64, stream.len - missing.len() as u64, "readings are missing or doubled");
        for (row, wanted) in rows.into_iter().zip(wanted) {
            assert_eq!(row, wanted);
        }
        let sound: String = self.0.query_one("PRAGMA integrity_check", [], |r| r.get(0)).unwrap();
        assert_eq!(sound, "ok");
    }

    /// As [`Rows::assert_whole_but`] with nothing missing.
    ///
    /// # Panics
    /// When anything is.
    pub fn assert_whole(&self, stream: &Stream) {
        self.assert_whole_but(stream, &HashSet::new());
    }

    fn by_number(&self) -> Vec<Row> {
        let query =
            "SELECT key, time, sequence, value FROM readings JOIN probes ON probe = id ORDER BY sequence";
        let mut all = self.0.prepare(query).unwrap();
        let row = |r: &rusqlite::Row<'_>| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?));
        all.query_map([], row).unwrap().map(Result::unwrap).collect()
    }
}
