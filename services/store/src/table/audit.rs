//! The audit log: only added to, read by pages.

use super::{all, limit, time};
use crate::access::{AuditItem, AuditRow};
use rusqlite::{Connection, Row, params};

/// Adds lines.
pub(crate) fn insert(conn: &Connection, rows: &[AuditRow]) -> rusqlite::Result<()> {
    let mut insert = conn.prepare_cached(
        "INSERT INTO audit (at, who, how, address, what, place) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?;
    for r in rows {
        insert.execute(params![r.at.millis(), r.who, r.how, r.address, r.what, r.place])?;
    }
    Ok(())
}

/// At most `rows` lines before a number, the last written first.
pub(crate) fn newest(
    conn: &Connection,
    rows: usize,
    before: Option<u64>,
) -> rusqlite::Result<Vec<AuditItem>> {
    let sql =
        "SELECT id, at, who, how, address, what, place FROM audit WHERE id < ?1 ORDER BY id DESC LIMIT ?2";
    let before = before.and_then(|b| i64::try_from(b).ok()).unwrap_or(i64::MAX);
    all(conn, sql, [before, limit(rows)], item)
}

fn item(row: &Row<'_>) -> rusqlite::Result<AuditItem> {
    let line = AuditRow {
        at: time(row, 1)?,
        who: row.get(2)?,
        how: row.get(3)?,
        address: row.get(4)?,
        what: row.get(5)?,
        place: row.get(6)?,
    };
    Ok(AuditItem { id: row.get::<_, i64>(0)?.cast_unsigned(), row: line })
}
