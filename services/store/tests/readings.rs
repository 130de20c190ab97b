//! A random program of commits and reopenings against a plain map.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{place, probe, reading, readings, t};
use proptest::prelude::*;
use std::collections::BTreeMap;
use store::{Batch, Options, ReadingRow, Store};
use units::{ProbeKey, Span, Time};

const PROBES: [&str; 4] = ["V1/temperature", "V1/temperature/28-00b7", "TU1/air-flow", "TU2/air-flow"];

#[derive(Debug, Clone)]
enum Step {
    Commit(Vec<ReadingRow>),
    Reopen,
    Drop,
}

fn any_reading() -> impl Strategy<Value = ReadingRow> {
    let value = prop_oneof![-50.0..150.0, any::<f64>().prop_filter("finite", |v| v.is_finite())];
    let sequence = prop::option::of(prop_oneof![0..5_u64, Just(u64::MAX), any::<u64>()]);
    (0..PROBES.len(), -40..40_i64, value, any::<i32>(), sequence, any::<bool>(), any::<u16>()).prop_map(
        |(p, second, value, lag, sequence, fresh, flags)| ReadingRow {
            received: t(second) + Span::from_millis(i64::from(lag)),
            sequence,
            fresh,
            flags,
            ..reading(PROBES[p], second, value)
        },
    )
}

fn any_step() -> impl Strategy<Value = Step> {
    prop_oneof![
        6 => prop::collection::vec(any_reading(), 0..30).prop_map(Step::Commit),
        1 => Just(Step::Reopen),
        1 => Just(Step::Drop),
    ]
}

type Plain = BTreeMap<(ProbeKey, Time), ReadingRow>;

/// What the map says to the same commit: how many were new.
fn into_plain(plain: &mut Plain, rows: &[ReadingRow]) -> usize {
    let before = plain.len();
    for row in rows {
        plain.entry((row.probe.clone(), row.time)).or_insert_with(|| row.clone());
    }
    plain.len() - before
}

fn compare(store: &Store, plain: &Plain) {
    let reader = store.reader().unwrap();
    let mut last: BTreeMap<String, ReadingRow> = BTreeMap::new();
    for key in PROBES {
        let key = probe(key);
        let rows: Vec<ReadingRow> =
            plain.range((key.clone(), t(-99))..=(key.clone(), t(99))).map(|(_, row)| row.clone()).collect();
        assert_eq!(reader.range_rows(&key, t(-99), t(99)).unwrap(), rows);
        assert_eq!(reader.count_readings(&key).unwrap(), rows.len() as u64);
        let part: Vec<(Time, f64)> =
            rows.iter().filter(|r| r.time >= t(-7) && r.time <= t(9)).map(|r| (r.time, r.value)).collect();
        assert_eq!(reader.range(&key, t(-7), t(9)).unwrap(), part);
        let newest: Vec<ReadingRow> = rows.iter().rev().take(5).cloned().collect();
        assert_eq!(reader.recent(&key, 5).unwrap(), newest);
        last.extend(rows.last().map(|row| (key.to_string(), row.clone())));
    }
    let keys: Vec<String> = reader.probes().unwrap().iter().map(ToString::to_string).collect();
    assert_eq!(keys, last.keys().cloned().collect::<Vec<_>>());
    assert_eq!(reader.last_readings().unwrap(), last.into_values().collect::<Vec<_>>());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_store_is_a_map_of_first_readings(steps in prop::collection::vec(any_step(), 1..12)) {
        let (_folder, file) = place();
        let open = || Store::open(&file, Options { synchronous_full: false, ..Options::default() }).unwrap();
        let (mut store, mut plain) = (open(), Plain::new());
        for step in steps {
            match step {
                Step::Commit(rows) => {
                    let done = tokio_test::block_on(store.commit(readings(rows.clone()))).unwrap();
                    let new = into_plain(&mut plain, &rows);
                    prop_assert_eq!((done.new_readings, done.repeats), (new, rows.len() - new));
                }
                Step::Reopen => {
                    store.close();
                    store = open();
                }
                Step::Drop => {
                    drop(store);
                    store = open();
                }
            }
            compare(&store, &plain);
        }
    }
}

#[tokio::test]
async fn late_readings_fill_history_and_do_not_become_the_newest() {
    let (_folder, file) = place();
    let store = common::open(&file);
    store.commit(readings(vec![reading("V1/temperature", 60, 26.0)])).await.unwrap();
    store.commit(readings(vec![reading("V1/temperature", 0, 25.0)])).await.unwrap();
    let reader = store.reader().unwrap();
    assert_eq!(reader.last_readings().unwrap(), [reading("V1/temperature", 60, 26.0)]);
    assert_eq!(reader.range(&probe("V1/temperature"), t(0), t(60)).unwrap(), [(t(0), 25.0), (t(60), 26.0)]);
    assert!(
        reader.range(&probe("V2/temperature"), t(0), t(60)).unwrap().is_empty(),
        "unknown probes have no readings"
    );
    assert_eq!(
        reader.range(&probe("V1/temperature"), t(60), t(0)).unwrap(),
        [],
        "a span turned round is empty"
    );
}

#[tokio::test]
async fn a_value_that_is_no_number_is_refused_with_its_name_and_nothing_is_kept() {
    let (_folder, file) = place();
    let store = common::open(&file);
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let batch = readings(vec![reading("V1/temperature", 0, 26.0), reading("TU1/air-flow", 0, value)]);
        let failed = store.commit(batch).await.unwrap_err();
        let said = failed.error.to_string();
        assert!(
            said.contains("TU1/air-flow") && said.contains("finite") && said.contains("room.db"),
            "{said}"
        );
        assert!(failed.error.is_lasting());
        assert_eq!(failed.batch.readings.len(), 2);
    }
    assert_eq!(store.reader().unwrap().probes().unwrap(), []);
    assert_eq!(store.commit(Batch::default()).await.unwrap().new_readings, 0);
}
