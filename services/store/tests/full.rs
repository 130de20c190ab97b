//! A file that may not grow, and one that may again.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{open, place, probe, reading, readings};
use store::{Batch, CommitError, Options, ReadingRow, RefusalRow, Store};

fn rows(from: i64, n: i64) -> Vec<ReadingRow> {
    (from..from + n).map(|s| reading("V1/temperature", s, 26.0 + s as f64 / 1e6)).collect()
}

#[tokio::test]
async fn a_full_disk_gives_the_batch_back_whole_and_goes_on_once_there_is_room() {
    let (_folder, file) = place();
    let store = Store::open(&file, Options { max_pages: Some(60), ..Options::default() }).unwrap();
    store.commit(readings(rows(0, 100))).await.unwrap();

    let big = Batch {
        readings: rows(100, 20_000),
        refusals: vec![RefusalRow {
            place: "V2/temperature".into(),
            reason: "no number".into(),
            at: common::t(0),
            excerpt: "nan".into(),
        }],
        notes: vec![("room".into(), "undercroft".into())],
        ..Batch::default()
    };
    for _ in 0..3 {
        let failed = store.commit(big.clone()).await.unwrap_err();
        assert!(matches!(failed.error, CommitError::Full { .. }), "{failed}");
        let said = failed.to_string();
        assert!(said.contains("room.db") && said.contains("make room"), "{said}");
        assert!(!failed.error.is_lasting());
        assert_eq!(failed.batch, big);
        let reader = store.reader().unwrap();
        assert_eq!(reader.count_readings(&probe("V1/temperature")).unwrap(), 100, "nothing of it is left");
        assert_eq!(reader.refusals().unwrap(), []);
    }
    // What fits is still taken.
    assert_eq!(store.commit(readings(rows(-1, 1))).await.unwrap().new_readings, 1);

    store.allow_pages(1_000_000).await.unwrap();
    assert_eq!(store.commit(big).await.unwrap().new_readings, 20_000);
    assert_eq!(store.reader().unwrap().refusals().unwrap()[0].count, 1, "counted once for four tries");
    store.close();
    assert_eq!(open(&file).reader().unwrap().count_readings(&probe("V1/temperature")).unwrap(), 20_101);
}

#[tokio::test]
async fn a_probe_first_seen_in_a_batch_that_failed_is_known_afterwards() {
    let (_folder, file) = place();
    let store = Store::open(&file, Options { max_pages: Some(60), ..Options::default() }).unwrap();
    let mut all = vec![reading("TU1/air-flow", 0, 1.5)];
    all.extend(rows(0, 20_000));
    let failed = store.commit(readings(all)).await.unwrap_err();
    assert!(matches!(failed.error, CommitError::Full { .. }), "{failed}");
    // Both probes had numbers inside the transaction that is gone; in turned order they get others.
    store.commit(readings(rows(0, 1))).await.unwrap();
    store.commit(readings(vec![reading("TU1/air-flow", 0, 1.5)])).await.unwrap();
    let last = store.reader().unwrap().last_readings().unwrap();
    assert_eq!(last, [reading("TU1/air-flow", 0, 1.5), reading("V1/temperature", 0, 26.0)]);
}
