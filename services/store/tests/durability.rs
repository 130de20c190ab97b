//! What is committed stays, however the store ends.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{open, place, probe, reading, readings, t};
use rusqlite::Connection;
use std::collections::BTreeSet;
use std::future::poll_fn;
use std::path::Path;
use std::task::Poll;
use store::{Batch, CommitError, EntryRow, Options, ReadError, Store};
use units::ProbeKey;

fn key() -> ProbeKey {
    probe("V1/temperature")
}

/// What the disk would hold if the power went now: file and log, without the shared memory.
fn image(file: &Path, to: &Path) {
    std::fs::copy(file, to).unwrap();
    std::fs::copy(file.with_file_name("room.db-wal"), to.with_file_name("image.db-wal")).unwrap();
}

#[tokio::test]
async fn a_commit_that_has_returned_is_seen_by_everyone() {
    let (_folder, file) = place();
    let store = open(&file);
    let other = Connection::open(&file).unwrap();
    for n in 0..50 {
        store.commit(readings(vec![reading("V1/temperature", n, 26.0)])).await.unwrap();
        let seen: i64 = other.query_row("SELECT count(*) FROM readings", [], |r| r.get(0)).unwrap();
        assert_eq!(seen, n + 1);
        assert_eq!(store.reader().unwrap().count_readings(&key()).unwrap(), (n + 1).unsigned_abs());
    }
}

#[tokio::test]
async fn an_image_taken_while_open_holds_every_commit() {
    let (folder, file) = place();
    let store = open(&file);
    for n in 0..20 {
        store.commit(readings(vec![reading("V1/temperature", n, 26.0)])).await.unwrap();
        let copy = folder.path().join("image.db");
        image(&file, &copy);
        let after = open(&copy);
        assert_eq!(after.reader().unwrap().count_readings(&key()).unwrap(), (n + 1).unsigned_abs());
        let sound: String =
            Connection::open(&copy).unwrap().query_row("PRAGMA integrity_check", [], |r| r.get(0)).unwrap();
        assert_eq!(sound, "ok");
        after.close();
    }
}

#[tokio::test]
async fn an_image_with_a_torn_log_holds_a_beginning_of_the_commits_and_nothing_half() {
    let (folder, file) = place();
    let store = open(&file);
    let two = |n| vec![reading("V1/temperature", n, 26.0), reading("TU1/air-flow", n, 1.5)];
    for n in 0..20 {
        store.commit(readings(two(n))).await.unwrap();
    }
    let (copy, log) = (folder.path().join("image.db"), folder.path().join("image.db-wal"));
    image(&file, &copy);
    let whole = std::fs::read(&log).unwrap();
    let mut counts = Vec::new();
    // Migration is in the log too, so cuts begin behind it.
    for cut in (whole.len() * 3 / 4..=whole.len()).step_by(1_013).chain([whole.len()]) {
        image(&file, &copy);
        std::fs::write(&log, &whole[..cut]).unwrap();
        let reader = open(&copy).reader().unwrap();
        let seen = reader.count_readings(&key()).unwrap();
        assert_eq!(seen, reader.count_readings(&probe("TU1/air-flow")).unwrap(), "cut at {cut}");
        counts.push(seen);
    }
    assert!(counts.is_sorted(), "{counts:?}");
    assert_eq!(counts.last(), Some(&20));
    assert!(counts[0] < 20, "the cuts must bite: {counts:?}");
}

#[tokio::test]
async fn closing_writes_what_waits_and_leaves_one_file() {
    let (folder, file) = place();
    let store = open(&file);
    let mut waiting = Vec::new();
    for n in 0..50 {
        let mut commit = Box::pin(store.commit(readings(vec![reading("V1/temperature", n, 26.0)])));
        // Polled once it is in the queue, whether or not it has been written.
        poll_fn(|cx| Poll::Ready(commit.as_mut().poll(cx).is_ready())).await;
        waiting.push(commit);
    }
    drop(waiting);
    let other = store.clone();
    store.close();
    let names = folder.path().read_dir().unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
    let left: BTreeSet<_> = names.collect();
    assert_eq!(left, ["room.db", "room.db.lock"].map(str::to_owned).into());

    let late = readings(vec![reading("V1/temperature", 999, 26.0)]);
    let failed = other.commit(late.clone()).await.unwrap_err();
    assert!(matches!(failed.error, CommitError::Closed { .. }));
    assert_eq!(failed.batch, late);
    assert!(matches!(other.reader(), Err(ReadError::Closed { .. })));
    assert_eq!(open(&file).reader().unwrap().count_readings(&key()).unwrap(), 50);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn many_callers_at_once_each_get_their_own_answer() {
    let (_folder, file) = place();
    let store = open(&file);
    let entry = |json: &str| EntryRow { id: 7, recorded: t(0), by: "ana".into(), json: json.into() };
    store.commit(Batch { entries: vec![entry("stands")], ..Batch::default() }).await.unwrap();
    let tasks: Vec<_> = (0..300)
        .map(|n| {
            // Every tenth wants to put another entry in the place of the one that stands.
            let mut batch = readings(vec![reading("V1/temperature", n, 26.0)]);
            batch.entries.push(entry(if n % 10 == 3 { "another" } else { "stands" }));
            let store = store.clone();
            tokio::spawn(async move { store.commit(batch).await })
        })
        .collect();
    for (n, task) in tasks.into_iter().enumerate() {
        let done = task.await.unwrap();
        assert_eq!(done.is_err(), n % 10 == 3, "{n}: {done:?}");
    }
    assert_eq!(store.reader().unwrap().count_readings(&key()).unwrap(), 270);
}

#[tokio::test]
async fn readers_go_on_while_another_program_holds_the_file_and_the_batch_comes_back() {
    let (_folder, file) = place();
    let options = Options { busy_wait: std::time::Duration::ZERO, ..Options::default() };
    let store = Store::open(&file, options).unwrap();
    let batch = readings(vec![reading("V1/temperature", 0, 26.0)]);
    let other = Connection::open(&file).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let failed = store.commit(batch.clone()).await.unwrap_err();
    assert!(matches!(failed.error, CommitError::Busy { .. }), "{failed}");
    assert!(!failed.error.is_lasting());
    assert_eq!(store.reader().unwrap().probes().unwrap(), []);
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(store.commit(failed.batch).await.unwrap().new_readings, 1);
}

#[tokio::test]
async fn a_reader_outlives_the_store() {
    let (_folder, file) = place();
    let store = open(&file);
    store
        .commit(Batch { notes: vec![("room".into(), "undercroft".into())], ..Batch::default() })
        .await
        .unwrap();
    let reader = store.reader().unwrap();
    drop(store);
    assert_eq!(reader.note("room").unwrap().as_deref(), Some("undercroft"));
    assert_eq!(reader.note("zone").unwrap(), None);
    open(&file).close();
}
