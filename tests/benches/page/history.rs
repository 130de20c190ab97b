//! A year of readings, written into a store whose service is not running.

use crate::room;
use rusqlite::{Connection, params};
use std::path::Path;

const DAY: i64 = 86_400_000;
const YEAR: i64 = 365 * DAY;
/// How long the picture reaches back.
const MONTH: i64 = 30 * DAY;
/// Whose six probes are quicker through the month of the picture.
const QUICK: &str = "V1/";

/// The wall clock, ms since 1970.
#[expect(clippy::disallowed_methods, reason = "the service compares what it finds with its own clock")]
pub(crate) fn now() -> i64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap();
    i64::try_from(since.as_millis()).unwrap()
}

/// Writes it; how many readings there are. One-minute readings of 100 probes would be 52 million rows, so `rhythm` minutes lie between
/// two, and `quick` seconds in the month of the picture.
pub(crate) fn write(store: &Path, rhythm: u32, quick: u32) -> u64 {
    let mut db = Connection::open(store).unwrap();
    db.execute_batch("PRAGMA synchronous = OFF;").unwrap();
    let now = now();
    let mut rows = 0;
    let write = db.transaction().unwrap();
    for (key, middle, swing) in room::probes() {
        let id: i64 = write
            .query_row("INSERT INTO probes (key) VALUES (?1) RETURNING id", [&key], |r| r.get(0))
            .unwrap();
        let mut insert = write
            .prepare_cached(
                "INSERT INTO readings (probe, time, value, lag, sequence, fresh, flags) VALUES (?1, ?2, ?3, 0, NULL, 1, 0)",
            )
            .unwrap();
        let mut time = now - YEAR;
        while time < now {
            insert.execute(params![id, time, value(time, id, middle, swing)]).unwrap();
            rows += 1;
            let quickly = key.starts_with(QUICK) && time >= now - MONTH;
            time += if quickly { i64::from(quick) * 1000 } else { i64::from(rhythm) * 60_000 };
        }
    }
    write.commit().unwrap();
    rows
}

/// A day's swing with a ripple of its own for each probe.
fn value(time: i64, id: i64, middle: f64, swing: f64) -> f64 {
    let day = (time as f64 / DAY as f64 * std::f64::consts::TAU).sin();
    let ripple = ((time / 60_000 * (id + 7)) % 13) as f64 / 13.0 - 0.5;
    ((middle + swing * (0.8 * day + 0.2 * ripple)) * 100.0).round() / 100.0
}
