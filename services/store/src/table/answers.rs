//! Answers to changes: the newest under a key counts, old ones go when new ones come.

use super::time;
use crate::AnswerRow;
use crate::access::Hash;
use crate::answers::ANSWERS_KEPT;
use rusqlite::{Connection, OptionalExtension, Row, params};
use units::Time;

/// Keeps answers, and forgets those that have been kept long enough by then.
pub(crate) fn keep(conn: &Connection, rows: &[AnswerRow]) -> rusqlite::Result<()> {
    let Some(newest) = rows.iter().map(|r| r.at).max() else { return Ok(()) };
    conn.prepare_cached("DELETE FROM answers WHERE at < ?1")?.execute([(newest - ANSWERS_KEPT).millis()])?;
    let mut keep = conn.prepare_cached(
        "INSERT OR REPLACE INTO answers (key, fingerprint, at, status, kind, location, body)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?;
    for r in rows {
        keep.execute(params![r.key, r.fingerprint, r.at.millis(), r.status, r.kind, r.location, r.body])?;
    }
    Ok(())
}

/// The answer under a key.
pub(crate) fn get(conn: &Connection, key: &Hash) -> rusqlite::Result<Option<AnswerRow>> {
    let sql = "SELECT key, fingerprint, at, status, kind, location, body FROM answers WHERE key = ?1";
    conn.prepare_cached(sql)?.query_row([key], row).optional()
}

/// How many are not older than a time.
pub(crate) fn since(conn: &Connection, from: Time) -> rusqlite::Result<u64> {
    let sql = "SELECT count(*) FROM answers WHERE at >= ?1";
    conn.prepare_cached(sql)?.query_row([from.millis()], |r| r.get::<_, i64>(0)).map(i64::cast_unsigned)
}

fn row(row: &Row<'_>) -> rusqlite::Result<AnswerRow> {
    Ok(AnswerRow {
        key: row.get(0)?,
        fingerprint: row.get(1)?,
        at: time(row, 2)?,
        status: row.get(3)?,
        kind: row.get(4)?,
        location: row.get(5)?,
        body: row.get(6)?,
    })
}
