//! Refusals, as one counter per place and reason, and for about a year by the quarter of an hour too.

use super::{all, time};
use crate::{RefusalCount, RefusalRow, RefusedBetween};
use rusqlite::{Connection, params};
use units::Time;

/// Length of a quarter of an hour, ms.
const QUARTER: i64 = 900_000;
/// So many of them are kept behind the newest: 400 days. A device that babbles all the time fills 38,400 rows.
const KEPT: i64 = 400 * 96;

/// Counts refusals. The excerpt kept is that of the latest to arrive.
pub(crate) fn count(conn: &Connection, rows: &[RefusalRow]) -> rusqlite::Result<()> {
    let mut count = conn.prepare_cached(
        "INSERT INTO refusals (place, reason, count, first, last, excerpt) VALUES (?1, ?2, 1, ?3, ?3, ?4)
         ON CONFLICT (place, reason) DO UPDATE SET
             count = count + 1,
             first = min(first, excluded.first),
             excerpt = CASE WHEN excluded.last >= last THEN excluded.excerpt ELSE excerpt END,
             last = max(last, excluded.last)",
    )?;
    for r in rows {
        count.execute(params![r.place, r.reason, r.at.millis(), r.excerpt])?;
    }
    count_by_quarters(conn, rows)
}

fn quarter(t: Time) -> i64 {
    t.millis().div_euclid(QUARTER)
}

fn count_by_quarters(conn: &Connection, rows: &[RefusalRow]) -> rusqlite::Result<()> {
    let Some(newest) = rows.iter().map(|r| quarter(r.at)).max() else { return Ok(()) };
    let mut count = conn.prepare_cached(
        "INSERT INTO refusal_quarters (quarter, place, reason, count) VALUES (?1, ?2, ?3, 1)
         ON CONFLICT (quarter, place, reason) DO UPDATE SET count = count + 1",
    )?;
    for r in rows {
        count.execute(params![quarter(r.at), r.place, r.reason])?;
    }
    conn.prepare_cached("DELETE FROM refusal_quarters WHERE quarter < ?1")?.execute([newest - KEPT])?;
    Ok(())
}

/// Refusals of the whole quarters of an hour from `from` to before `to`.
pub(crate) fn between(conn: &Connection, from: Time, to: Time) -> rusqlite::Result<RefusedBetween> {
    // A store that no service of this version has opened yet has no such table.
    let counted: bool = conn
        .prepare_cached("SELECT count(*) FROM sqlite_schema WHERE name = 'refusal_quarters'")?
        .query_row([], |r| r.get(0))?;
    let counts = if counted { counts_between(conn, from, to)? } else { Vec::new() };
    let of_pair = "coalesce((SELECT sum(q.count) FROM refusal_quarters q WHERE q.place = r.place AND q.reason = r.reason), 0)";
    let dated = if counted { of_pair } else { "0" };
    let sql =
        format!("SELECT count(*) > 0 FROM refusals r WHERE first < ?2 AND last >= ?1 AND count > {dated}");
    let more = conn.prepare_cached(&sql)?.query_row([from.millis(), to.millis()], |r| r.get(0))?;
    Ok(RefusedBetween { counts, more })
}

fn counts_between(conn: &Connection, from: Time, to: Time) -> rusqlite::Result<Vec<(String, String, u64)>> {
    let sql = "SELECT place, reason, sum(count) FROM refusal_quarters WHERE quarter >= ?1 AND quarter < ?2
               GROUP BY place, reason ORDER BY place, reason";
    all(conn, sql, [quarter(from), quarter(to)], |row| {
        Ok((row.get(0)?, row.get(1)?, row.get::<_, i64>(2)?.unsigned_abs()))
    })
}

/// Every counter.
pub(crate) fn counts(conn: &Connection) -> rusqlite::Result<Vec<RefusalCount>> {
    let sql = "SELECT place, reason, count, first, last, excerpt FROM refusals ORDER BY place, reason";
    all(conn, sql, [], |row| {
        Ok(RefusalCount {
            place: row.get(0)?,
            reason: row.get(1)?,
            count: row.get::<_, i64>(2)?.unsigned_abs(),
            first: time(row, 3)?,
            last: time(row, 4)?,
            excerpt: row.get(5)?,
        })
    })
}
