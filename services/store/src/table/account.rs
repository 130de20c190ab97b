//! Entries of the account: added, never changed, never deleted.

use super::{Fault, all, time};
use crate::EntryRow;
use rusqlite::{Connection, Row, params};

/// Says which id cannot be kept.
pub(crate) fn check(rows: &[EntryRow]) -> Result<(), String> {
    let bad = rows.iter().find(|r| i64::try_from(r.id).is_err());
    bad.map_or(Ok(()), |r| Err(format!("account entry id {} is beyond {}; count from 1", r.id, i64::MAX)))
}

/// Adds entries. The same entry again changes nothing; another one under a number that is taken is refused.
pub(crate) fn insert(conn: &Connection, rows: &[EntryRow]) -> Result<(), Fault> {
    let mut insert = conn.prepare_cached(
        "INSERT INTO entries (id, recorded, author, json) VALUES (?1, ?2, ?3, ?4) ON CONFLICT (id) DO NOTHING",
    )?;
    for row in rows {
        let new = insert.execute(params![row.id.cast_signed(), row.recorded.millis(), row.by, row.json])?;
        if new == 0 && get(conn, row.id)? != *row {
            let id = row.id;
            return Err(Fault::Refused(format!(
                "account entry id {id} is taken by another entry, which stands for ever; give the new one the next free id"
            )));
        }
    }
    Ok(())
}

fn get(conn: &Connection, id: u64) -> rusqlite::Result<EntryRow> {
    conn.prepare_cached("SELECT id, recorded, author, json FROM entries WHERE id = ?1")?
        .query_row([id.cast_signed()], entry)
}

/// All entries in the order of their numbers.
pub(crate) fn entries(conn: &Connection) -> rusqlite::Result<Vec<EntryRow>> {
    all(conn, "SELECT id, recorded, author, json FROM entries ORDER BY id", [], entry)
}

fn entry(row: &Row<'_>) -> rusqlite::Result<EntryRow> {
    let id: i64 = row.get(0)?;
    Ok(EntryRow { id: id.cast_unsigned(), recorded: time(row, 1)?, by: row.get(2)?, json: row.get(3)? })
}
