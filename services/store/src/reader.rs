//! Reading what is committed.

mod access;

use crate::open::Options;
use crate::pool::Pool;
use crate::table::{account, alarms, clutches, notes, outbox, readings, refusals};
use crate::{
    AlarmLogItem, AlarmRow, EntryRow, OutboxFate, OutboxItem, ProjectionRow, ReadError, ReadingRow,
    RefusalCount, RefusedBetween, ShiftRow,
};
use rusqlite::Connection;
use std::cell::Cell;
use std::fmt;
use std::path::Path;
use std::sync::Arc;
use units::{ProbeKey, Span, Time};

/// A read-only connection. Each method sees what is committed when it is called, and blocks.
///
/// # Errors
/// Every method gives [`ReadError`] when the file cannot be read or holds what makes no sense.
pub struct Reader {
    /// `None` only while it is being dropped.
    conn: Option<Connection>,
    pool: Arc<Pool>,
    /// A connection that has failed is not used again.
    failed: Cell<bool>,
}

impl Reader {
    /// Reads a store that another program may be writing just now; nothing is written and nothing held.
    ///
    /// # Errors
    /// [`ReadError`] when there is no such file, it may not be read, or it is no store.
    pub fn open(path: &Path) -> Result<Self, ReadError> {
        let reader = Self::new(Arc::new(Pool::new(path.to_owned(), Options::default().busy_wait)))?;
        reader.probes()?; // a file that is no store is told at once
        Ok(reader)
    }

    pub(crate) fn new(pool: Arc<Pool>) -> Result<Self, ReadError> {
        Ok(Self { conn: Some(pool.take()?), pool, failed: Cell::new(false) })
    }

    /// The newest reading of every probe; quick however many readings there are.
    pub fn last_readings(&self) -> Result<Vec<ReadingRow>, ReadError> {
        self.read(readings::last)
    }

    /// Times and values of a probe from `from` to `to`, both included, oldest first.
    pub fn range(&self, probe: &ProbeKey, from: Time, to: Time) -> Result<Vec<(Time, f64)>, ReadError> {
        self.read(|c| readings::range(c, probe, from, to))
    }

    /// Whole readings of a probe from `from` to `to`, both included, oldest first.
    pub fn range_rows(&self, probe: &ProbeKey, from: Time, to: Time) -> Result<Vec<ReadingRow>, ReadError> {
        self.read(|c| readings::range_rows(c, probe, from, to))
    }

    /// The oldest of them, at most `n`; to read on, begin after the last.
    pub fn first_rows(
        &self,
        probe: &ProbeKey,
        from: Time,
        to: Time,
        n: usize,
    ) -> Result<Vec<ReadingRow>, ReadError> {
        self.read(|c| readings::first_rows(c, probe, from, to, n))
    }

    /// The newest `n` readings of a probe, newest first.
    pub fn recent(&self, probe: &ProbeKey, n: usize) -> Result<Vec<ReadingRow>, ReadError> {
        self.read(|c| readings::recent(c, probe, n))
    }

    /// The newest `n` readings of a probe up to `until`, included, newest first.
    pub fn recent_until(
        &self,
        probe: &ProbeKey,
        until: Time,
        n: usize,
    ) -> Result<Vec<ReadingRow>, ReadError> {
        self.read(|c| readings::recent_until(c, probe, until, n))
    }

    /// Every probe that has ever sent a reading.
    pub fn probes(&self) -> Result<Vec<ProbeKey>, ReadError> {
        self.read(readings::probes)
    }

    /// How many readings of a probe are kept.
    pub fn count_readings(&self, probe: &ProbeKey) -> Result<u64, ReadError> {
        self.read(|c| readings::count(c, probe))
    }

    /// The account in the order of its numbers.
    pub fn entries(&self) -> Result<Vec<EntryRow>, ReadError> {
        self.read(account::entries)
    }

    /// Key and snapshot of every alarm that has one.
    pub fn alarm_states(&self) -> Result<Vec<(String, String)>, ReadError> {
        self.read(alarms::states)
    }

    /// At most `limit` lines of the alarm log, the last written first; to read on, give the last id as `before`.
    pub fn alarm_log(&self, limit: usize, before: Option<u64>) -> Result<Vec<AlarmLogItem>, ReadError> {
        self.read(|c| alarms::newest(c, limit, before))
    }

    /// Alarm changes from `from` to `to`, both included, oldest first.
    pub fn alarm_log_between(&self, from: Time, to: Time) -> Result<Vec<AlarmRow>, ReadError> {
        self.read(|c| alarms::between(c, from, to))
    }

    /// The latest projection of every clutch.
    pub fn projections(&self) -> Result<Vec<ProjectionRow>, ReadError> {
        self.read(clutches::projections)
    }

    /// The shifts of a clutch, newest first.
    pub fn shifts(&self, clutch: &str) -> Result<Vec<ShiftRow>, ReadError> {
        self.read(|c| clutches::shifts(c, clutch))
    }

    /// Refusals by place and reason.
    pub fn refusals(&self) -> Result<Vec<RefusalCount>, ReadError> {
        self.read(refusals::counts)
    }

    /// Refusals from `from` to before `to`, in whole quarters of an hour.
    pub fn refused_between(&self, from: Time, to: Time) -> Result<RefusedBetween, ReadError> {
        self.read(|c| refusals::between(c, from, to))
    }

    /// At most `limit` deliveries whose time has come at `now`, the longest waiting first.
    pub fn outbox_due(&self, now: Time, limit: usize) -> Result<Vec<OutboxItem>, ReadError> {
        self.read(|c| outbox::due(c, now, limit))
    }

    /// Every delivery that is neither done nor given up, next first.
    pub fn outbox_pending(&self) -> Result<Vec<OutboxItem>, ReadError> {
        self.read(outbox::pending)
    }

    /// At most `limit` deliveries that were given up, the last written first; `next_try` tells when that was.
    pub fn outbox_given_up(&self, limit: usize) -> Result<Vec<OutboxItem>, ReadError> {
        self.read(|c| outbox::given_up(c, limit))
    }

    /// What has become of one delivery; `None` where there never was one of that id.
    pub fn outbox_fate(&self, id: &str) -> Result<Option<OutboxFate>, ReadError> {
        self.read(|c| outbox::fate(c, id))
    }

    /// Readings from `from` to `to`, both included, oldest first: of each stretch of `slot` the first alone.
    pub fn thinned(
        &self,
        probe: &ProbeKey,
        from: Time,
        to: Time,
        slot: Span,
    ) -> Result<Vec<(Time, f64)>, ReadError> {
        self.read(|c| readings::thinned(c, probe, (from, to), slot))
    }

    /// The small value under a name.
    pub fn note(&self, name: &str) -> Result<Option<String>, ReadError> {
        self.read(|c| notes::get(c, name))
    }

    fn read<T>(&self, read: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T, ReadError> {
        let path = || self.pool.path().clone();
        let Some(conn) = &self.conn else { return Err(ReadError::Closed { path: path() }) };
        read(conn).map_err(|error| match error {
            rusqlite::Error::FromSqlConversionFailure(_, _, what) => {
                ReadError::Record { path: path(), what: what.to_string() }
            }
            rusqlite::Error::InvalidColumnType(..) | rusqlite::Error::IntegralValueOutOfRange(..) => {
                ReadError::Record { path: path(), what: error.to_string() }
            }
            _ => {
                self.failed.set(true);
                ReadError::Failed { path: path(), reason: error.to_string() }
            }
        })
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        if let Some(conn) = self.conn.take().filter(|_| !self.failed.get()) {
            self.pool.give(conn);
        }
    }
}

impl fmt::Debug for Reader {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Reader").field("path", self.pool.path()).finish_non_exhaustive()
    }
}
