//! The tables, each behind one module that alone reads and writes it.

pub(crate) mod access;
pub(crate) mod account;
pub(crate) mod alarms;
pub(crate) mod answers;
pub(crate) mod audit;
pub(crate) mod clutches;
pub(crate) mod notes;
pub(crate) mod outbox;
pub(crate) mod readings;
pub(crate) mod refusals;

use rusqlite::{Connection, Params, Row};
use units::Time;

/// Why rows could not be written.
#[derive(Debug)]
pub(crate) enum Fault {
    /// The database says no.
    Sql(rusqlite::Error),
    /// The rows themselves cannot be kept: field, value and cure.
    Refused(String),
}

impl From<rusqlite::Error> for Fault {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sql(error)
    }
}

/// The time in a column of milliseconds.
fn time(row: &Row<'_>, column: usize) -> rusqlite::Result<Time> {
    row.get(column).map(Time::from_millis)
}

/// The time in a column that may be empty.
fn time_if_any(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Time>> {
    Ok(row.get::<_, Option<i64>>(column)?.map(Time::from_millis))
}

/// Every row of a query.
fn all<T>(
    conn: &Connection,
    sql: &str,
    params: impl Params,
    read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
) -> rusqlite::Result<Vec<T>> {
    conn.prepare_cached(sql)?.query_map(params, read)?.collect()
}

/// A number of rows as SQLite takes it.
fn limit(rows: usize) -> i64 {
    i64::try_from(rows).unwrap_or(i64::MAX)
}
