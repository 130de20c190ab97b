//! Readings: the only place that knows how they are laid out.
//!
//! This is the seam for compressed chunks: they will hold sealed days behind the same insert, range, recent and last.

use super::{Fault, all, limit, time};
use crate::{Committed, ReadingRow};
use rusqlite::types::Type;
use rusqlite::{Connection, OptionalExtension, Row, params};
use std::collections::HashMap;
use units::{ProbeKey, Span, Time};

/// Numbers of probes that are in the table already; must be emptied when a transaction is rolled back.
pub(crate) type Known = HashMap<ProbeKey, i64>;

const INSERT: &str = "INSERT INTO readings (probe, time, value, lag, sequence, fresh, flags)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (probe, time) DO NOTHING";
const COLUMNS: &str = "r.time, r.value, r.lag, r.sequence, r.fresh, r.flags";
const OF_PROBE: &str = "r.probe = (SELECT id FROM probes WHERE key = ?1)";

/// Says what is wrong with a reading that SQLite would quietly turn into NULL or carry on as infinity.
pub(crate) fn check(rows: &[ReadingRow]) -> Result<(), String> {
    let bad = rows.iter().find(|r| !r.value.is_finite());
    bad.map_or(Ok(()), |r| {
        Err(format!(
            "the value of {} at {} is {}; only finite numbers are kept, refuse it instead",
            r.probe, r.time, r.value
        ))
    })
}

/// Adds readings; one whose probe and time stand already changes nothing.
pub(crate) fn insert(conn: &Connection, rows: &[ReadingRow], known: &mut Known) -> Result<Committed, Fault> {
    let mut insert = conn.prepare_cached(INSERT)?;
    let mut new_readings = 0;
    for r in rows {
        new_readings += insert.execute(params![
            number(conn, &r.probe, known)?,
            r.time.millis(),
            r.value,
            (r.received - r.time).millis(),
            r.sequence.map(u64::cast_signed),
            r.fresh,
            r.flags,
        ])?;
    }
    Ok(Committed { new_readings, repeats: rows.len() - new_readings })
}

fn number(conn: &Connection, probe: &ProbeKey, known: &mut Known) -> rusqlite::Result<i64> {
    if let Some(number) = known.get(probe) {
        return Ok(*number);
    }
    let key = probe.to_string();
    let found = conn
        .prepare_cached("SELECT id FROM probes WHERE key = ?1")?
        .query_row([&key], |r| r.get(0))
        .optional()?;
    let number = match found {
        Some(number) => number,
        None => conn
            .prepare_cached("INSERT INTO probes (key) VALUES (?1) RETURNING id")?
            .query_row([&key], |r| r.get(0))?,
    };
    known.insert(probe.clone(), number);
    Ok(number)
}

/// The newest reading of every probe. One seek per probe, however many readings there are.
pub(crate) fn last(conn: &Connection) -> rusqlite::Result<Vec<ReadingRow>> {
    all(conn, &last_sql(), [], |row| reading(row, probe(row, 6)?))
}

fn last_sql() -> String {
    format!(
        "SELECT {COLUMNS}, p.key FROM probes p CROSS JOIN readings r
         ON r.probe = p.id AND r.time = (SELECT max(time) FROM readings n WHERE n.probe = p.id) ORDER BY p.key"
    )
}

/// Times and values of a probe from `from` to `to`, both included, oldest first.
pub(crate) fn range(
    conn: &Connection,
    probe: &ProbeKey,
    from: Time,
    to: Time,
) -> rusqlite::Result<Vec<(Time, f64)>> {
    let sql = format!(
        "SELECT r.time, r.value FROM readings r WHERE {OF_PROBE} AND r.time BETWEEN ?2 AND ?3 ORDER BY r.time"
    );
    all(conn, &sql, params![probe.to_string(), from.millis(), to.millis()], |row| {
        Ok((time(row, 0)?, row.get(1)?))
    })
}

/// The same, of each stretch of `slot` the first alone. Beside one `min` a bare column is that of its row: SQLite's own rule.
pub(crate) fn thinned(
    conn: &Connection,
    probe: &ProbeKey,
    (from, to): (Time, Time),
    slot: Span,
) -> rusqlite::Result<Vec<(Time, f64)>> {
    let sql = format!(
        "SELECT min(r.time), r.value FROM readings r WHERE {OF_PROBE} AND r.time BETWEEN ?2 AND ?3
         GROUP BY r.time / ?4 ORDER BY 1"
    );
    let slot = slot.millis().max(1);
    all(conn, &sql, params![probe.to_string(), from.millis(), to.millis(), slot], |row| {
        Ok((time(row, 0)?, row.get(1)?))
    })
}

/// The same as whole rows.
pub(crate) fn range_rows(
    conn: &Connection,
    probe: &ProbeKey,
    from: Time,
    to: Time,
) -> rusqlite::Result<Vec<ReadingRow>> {
    let sql = format!(
        "SELECT {COLUMNS} FROM readings r WHERE {OF_PROBE} AND r.time BETWEEN ?2 AND ?3 ORDER BY r.time"
    );
    all(conn, &sql, params![probe.to_string(), from.millis(), to.millis()], |row| reading(row, probe.clone()))
}

/// At most the first `n` of those.
pub(crate) fn first_rows(
    conn: &Connection,
    probe: &ProbeKey,
    from: Time,
    to: Time,
    n: usize,
) -> rusqlite::Result<Vec<ReadingRow>> {
    let sql = format!(
        "SELECT {COLUMNS} FROM readings r WHERE {OF_PROBE} AND r.time BETWEEN ?2 AND ?3 ORDER BY r.time LIMIT ?4"
    );
    let of = params![probe.to_string(), from.millis(), to.millis(), limit(n)];
    all(conn, &sql, of, |row| reading(row, probe.clone()))
}

/// The newest `n` of a probe, newest first.
pub(crate) fn recent(conn: &Connection, probe: &ProbeKey, n: usize) -> rusqlite::Result<Vec<ReadingRow>> {
    recent_until(conn, probe, Time::from_millis(i64::MAX), n)
}

/// The same up to a time, included.
pub(crate) fn recent_until(
    conn: &Connection,
    probe: &ProbeKey,
    until: Time,
    n: usize,
) -> rusqlite::Result<Vec<ReadingRow>> {
    let sql = format!(
        "SELECT {COLUMNS} FROM readings r WHERE {OF_PROBE} AND r.time <= ?2 ORDER BY r.time DESC LIMIT ?3"
    );
    let of = params![probe.to_string(), until.millis(), limit(n)];
    all(conn, &sql, of, |row| reading(row, probe.clone()))
}

/// Every probe that has ever sent a reading.
pub(crate) fn probes(conn: &Connection) -> rusqlite::Result<Vec<ProbeKey>> {
    all(conn, "SELECT key FROM probes ORDER BY key", [], |row| probe(row, 0))
}

/// How many readings of a probe are kept.
pub(crate) fn count(conn: &Connection, probe: &ProbeKey) -> rusqlite::Result<u64> {
    let sql = format!("SELECT count(*) FROM readings r WHERE {OF_PROBE}");
    let count: i64 = conn.prepare_cached(&sql)?.query_row([probe.to_string()], |r| r.get(0))?;
    Ok(count.unsigned_abs())
}

fn probe(row: &Row<'_>, column: usize) -> rusqlite::Result<ProbeKey> {
    let key: String = row.get(column)?;
    key.parse().map_err(|e| rusqlite::Error::FromSqlConversionFailure(column, Type::Text, Box::new(e)))
}

fn reading(row: &Row<'_>, probe: ProbeKey) -> rusqlite::Result<ReadingRow> {
    let time = time(row, 0)?;
    Ok(ReadingRow {
        probe,
        time,
        value: row.get(1)?,
        received: time + Span::from_millis(row.get(2)?),
        sequence: row.get::<_, Option<i64>>(3)?.map(i64::cast_unsigned),
        fresh: row.get(4)?,
        flags: row.get(5)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_reading_is_sought_and_not_searched_for() {
        let mut conn = Connection::open_in_memory().unwrap();
        crate::schema::migrate(&mut conn, 0).unwrap();
        let plan =
            all(&conn, &format!("EXPLAIN QUERY PLAN {}", last_sql()), [], |r| r.get::<_, String>(3)).unwrap();
        let scans: Vec<_> = plan.iter().filter(|step| step.starts_with("SCAN")).collect();
        assert_eq!(scans.len(), 1, "only the probes are gone through: {plan:?}");
        assert!(scans[0].starts_with("SCAN p"), "{plan:?}");
        assert_eq!(
            plan.iter().filter(|s| s.contains("USING PRIMARY KEY (probe=? AND time=?)")).count(),
            1,
            "{plan:?}"
        );
    }
}
