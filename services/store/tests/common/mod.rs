//! What the tests of the store share.
#![allow(dead_code, unreachable_pub, reason = "each test file uses its own part of it")]

use std::path::PathBuf;
use store::{Batch, Options, ReadingRow, Store};
use tempfile::TempDir;
use units::{ProbeKey, Time};

/// An evening of the demo room, in milliseconds.
pub const EVENING: i64 = 1_931_221_060_000;

/// A folder of its own, and the store file in it.
pub fn place() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("room.db");
    (folder, file)
}

pub fn open(file: &std::path::Path) -> Store {
    Store::open(file, Options::default()).unwrap()
}

pub fn t(second: i64) -> Time {
    Time::from_millis(EVENING + second * 1_000)
}

pub fn probe(key: &str) -> ProbeKey {
    key.parse().unwrap()
}

pub fn reading(key: &str, second: i64, value: f64) -> ReadingRow {
    ReadingRow {
        probe: probe(key),
        time: t(second),
        value,
        received: t(second),
        sequence: None,
        fresh: true,
        flags: 0,
    }
}

pub fn readings(rows: Vec<ReadingRow>) -> Batch {
    Batch { readings: rows, ..Batch::default() }
}
