//! The latest projection of each clutch, and the shifts that led to it.

use super::{all, time, time_if_any};
use crate::{ProjectionRow, ShiftRow};
use rusqlite::{Connection, params};

/// Replaces the projections of clutches.
pub(crate) fn project(conn: &Connection, rows: &[ProjectionRow]) -> rusqlite::Result<()> {
    let mut set = conn.prepare_cached(
        "INSERT INTO projections (clutch, at, json) VALUES (?1, ?2, ?3)
         ON CONFLICT (clutch) DO UPDATE SET at = excluded.at, json = excluded.json",
    )?;
    for r in rows {
        set.execute(params![r.clutch, r.at.millis(), r.json])?;
    }
    Ok(())
}

/// Adds shifts.
pub(crate) fn shift(conn: &Connection, rows: &[ShiftRow]) -> rusqlite::Result<()> {
    let mut insert = conn.prepare_cached(
        "INSERT INTO shifts (clutch, at, stage, was, became, cause) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?;
    for r in rows {
        let before = r.before.map(units::Time::millis);
        insert.execute(params![r.clutch, r.at.millis(), r.stage, before, r.after.millis(), r.json])?;
    }
    Ok(())
}

/// The latest projection of every clutch.
pub(crate) fn projections(conn: &Connection) -> rusqlite::Result<Vec<ProjectionRow>> {
    all(conn, "SELECT clutch, at, json FROM projections ORDER BY clutch", [], |row| {
        Ok(ProjectionRow { clutch: row.get(0)?, at: time(row, 1)?, json: row.get(2)? })
    })
}

/// The shifts of a clutch, the last one written first.
pub(crate) fn shifts(conn: &Connection, clutch: &str) -> rusqlite::Result<Vec<ShiftRow>> {
    let sql = "SELECT clutch, at, stage, was, became, cause FROM shifts WHERE clutch = ?1 ORDER BY id DESC";
    all(conn, sql, [clutch], |row| {
        Ok(ShiftRow {
            clutch: row.get(0)?,
            at: time(row, 1)?,
            stage: row.get(2)?,
            before: time_if_any(row, 3)?,
            after: time(row, 4)?,
            json: row.get(5)?,
        })
    })
}
