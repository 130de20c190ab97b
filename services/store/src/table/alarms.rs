//! The log of alarms and the snapshot of each.

use super::{all, limit, time};
use crate::{AlarmLogItem, AlarmRow};
use rusqlite::{Connection, Row, params};
use units::Time;

/// Adds lines to the log.
pub(crate) fn log(conn: &Connection, rows: &[AlarmRow]) -> rusqlite::Result<()> {
    let mut insert = conn
        .prepare_cached("INSERT INTO alarm_log (key, at, was, became, text) VALUES (?1, ?2, ?3, ?4, ?5)")?;
    for r in rows {
        insert.execute(params![r.key, r.at.millis(), r.from, r.to, r.text])?;
    }
    Ok(())
}

/// Keeps or removes snapshots.
pub(crate) fn set_states(conn: &Connection, states: &[(String, Option<String>)]) -> rusqlite::Result<()> {
    let mut set = conn.prepare_cached(
        "INSERT INTO alarm_states (key, json) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET json = excluded.json",
    )?;
    let mut remove = conn.prepare_cached("DELETE FROM alarm_states WHERE key = ?1")?;
    for (key, state) in states {
        match state {
            Some(json) => set.execute([key, json])?,
            None => remove.execute([key])?,
        };
    }
    Ok(())
}

/// The newest `rows` lines written before line `before`, newest first.
pub(crate) fn newest(
    conn: &Connection,
    rows: usize,
    before: Option<u64>,
) -> rusqlite::Result<Vec<AlarmLogItem>> {
    let before = before.and_then(|id| i64::try_from(id).ok()).unwrap_or(i64::MAX);
    let sql = "SELECT key, at, was, became, text, id FROM alarm_log WHERE id < ?1 ORDER BY id DESC LIMIT ?2";
    all(conn, sql, params![before, limit(rows)], |row| {
        Ok(AlarmLogItem { id: row.get::<_, i64>(5)?.cast_unsigned(), row: alarm(row)? })
    })
}

/// Lines from `from` to `to`, both included, oldest first.
pub(crate) fn between(conn: &Connection, from: Time, to: Time) -> rusqlite::Result<Vec<AlarmRow>> {
    let sql = "SELECT key, at, was, became, text FROM alarm_log WHERE at BETWEEN ?1 AND ?2 ORDER BY at, id";
    all(conn, sql, [from.millis(), to.millis()], alarm)
}

/// Every snapshot by its key.
pub(crate) fn states(conn: &Connection) -> rusqlite::Result<Vec<(String, String)>> {
    all(conn, "SELECT key, json FROM alarm_states ORDER BY key", [], |row| Ok((row.get(0)?, row.get(1)?)))
}

fn alarm(row: &Row<'_>) -> rusqlite::Result<AlarmRow> {
    Ok(AlarmRow {
        key: row.get(0)?,
        at: time(row, 1)?,
        from: row.get(2)?,
        to: row.get(3)?,
        text: row.get(4)?,
    })
}
