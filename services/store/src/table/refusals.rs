//! Refusals, as one counter per place and reason: a device that babbles for a year fills one row.

use super::{all, time};
use crate::{RefusalCount, RefusalRow};
use rusqlite::{Connection, params};

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
    Ok(())
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
