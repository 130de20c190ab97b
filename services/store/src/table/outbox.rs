//! What is still to be delivered, and what became of the rest.

use super::{all, limit, time};
use crate::{OutboxChange, OutboxFate, OutboxItem, OutboxRow};
use rusqlite::{Connection, OptionalExtension, Row, params};
use units::Time;

const COLUMNS: &str = "id, way, created, coalesce(next_try, ended), body, tries, error";

/// Adds deliveries; an id that was here before, delivered or not, changes nothing.
pub(crate) fn insert(conn: &Connection, rows: &[OutboxRow]) -> rusqlite::Result<()> {
    let mut insert = conn.prepare_cached(
        "INSERT INTO outbox (id, way, created, next_try, body) VALUES (?1, ?2, ?3, ?4, ?5)
         ON CONFLICT (id) DO NOTHING",
    )?;
    for r in rows {
        insert.execute(params![r.id, r.way, r.created.millis(), r.next_try.millis(), r.body])?;
    }
    Ok(())
}

/// Notes what became of deliveries that are not done with.
pub(crate) fn change(conn: &Connection, changes: &[OutboxChange]) -> rusqlite::Result<()> {
    for change in changes {
        match change {
            OutboxChange::Delivered { id, at } => conn
                .prepare_cached(
                    "UPDATE outbox SET next_try = NULL, ended = ?2, arrived = 1, body = '', error = NULL
                     WHERE id = ?1 AND ended IS NULL",
                )?
                .execute(params![id, at.millis()])?,
            OutboxChange::Failed { id, at, error, next_try } => conn
                .prepare_cached(
                    "UPDATE outbox SET tries = tries + 1, error = ?3, next_try = ?4,
                         ended = CASE WHEN ?4 IS NULL THEN ?2 END
                     WHERE id = ?1 AND ended IS NULL",
                )?
                .execute(params![id, at.millis(), error, next_try.map(Time::millis)])?,
            OutboxChange::Sooner { after, by } => conn
                .prepare_cached("UPDATE outbox SET next_try = next_try - ?2 WHERE next_try > ?1")?
                .execute(params![after.millis(), by.millis()])?,
        };
    }
    Ok(())
}

/// At most `rows` deliveries whose time has come, the longest waiting first.
pub(crate) fn due(conn: &Connection, now: Time, rows: usize) -> rusqlite::Result<Vec<OutboxItem>> {
    let sql = format!("SELECT {COLUMNS} FROM outbox WHERE next_try <= ?1 ORDER BY next_try, number LIMIT ?2");
    all(conn, &sql, params![now.millis(), limit(rows)], item)
}

/// Everything that is still to be delivered, whenever that is, next first.
pub(crate) fn pending(conn: &Connection) -> rusqlite::Result<Vec<OutboxItem>> {
    let sql = format!("SELECT {COLUMNS} FROM outbox WHERE next_try IS NOT NULL ORDER BY next_try, number");
    all(conn, &sql, [], item)
}

/// The newest `rows` deliveries that were given up, the last written first.
pub(crate) fn given_up(conn: &Connection, rows: usize) -> rusqlite::Result<Vec<OutboxItem>> {
    let sql = format!(
        "SELECT {COLUMNS} FROM outbox WHERE ended IS NOT NULL AND arrived = 0 ORDER BY number DESC LIMIT ?1"
    );
    all(conn, &sql, [limit(rows)], item)
}

/// What has become of one delivery.
pub(crate) fn fate(conn: &Connection, id: &str) -> rusqlite::Result<Option<OutboxFate>> {
    let sql = "SELECT tries, arrived, ended, error FROM outbox WHERE id = ?1";
    let fate = |row: &Row<'_>| {
        let ended: Option<i64> = row.get(2)?;
        Ok(OutboxFate {
            tries: row.get(0)?,
            arrived: row.get(1)?,
            ended: ended.map(Time::from_millis),
            error: row.get(3)?,
        })
    };
    conn.prepare_cached(sql)?.query_row([id], fate).optional()
}

fn item(row: &Row<'_>) -> rusqlite::Result<OutboxItem> {
    let outbox = OutboxRow {
        id: row.get(0)?,
        way: row.get(1)?,
        created: time(row, 2)?,
        next_try: time(row, 3)?,
        body: row.get(4)?,
    };
    Ok(OutboxItem { row: outbox, tries: row.get(5)?, error: row.get(6)? })
}
