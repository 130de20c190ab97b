//! The account, alarms, projections, refusals, the outbox and notes.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{open, place, t};
use rusqlite::Connection;
use store::{
    AlarmRow, Batch, CommitError, EntryRow, OutboxChange, OutboxItem, OutboxRow, ProjectionRow, RefusalCount,
    RefusalRow, ShiftRow,
};
use units::{Span, Time};

fn entry(id: u64, json: &str) -> EntryRow {
    EntryRow { id, recorded: t(0), by: "ana".into(), json: json.into() }
}

fn entries(rows: &[EntryRow]) -> Batch {
    Batch { entries: rows.to_vec(), ..Batch::default() }
}

#[tokio::test]
async fn an_entry_stands_for_ever() {
    let (_folder, file) = place();
    let store = open(&file);
    store.commit(entries(&[entry(2, "two"), entry(1, "one")])).await.unwrap();
    store.commit(entries(&[entry(2, "two"), entry(3, "three")])).await.unwrap();

    let failed = store.commit(entries(&[entry(4, "four"), entry(2, "other")])).await.unwrap_err();
    assert!(matches!(failed.error, CommitError::Refused { .. }), "{failed}");
    assert!(failed.to_string().contains("id 2 is taken"), "{failed}");
    let failed = store.commit(entries(&[entry(u64::MAX, "far")])).await.unwrap_err();
    assert!(failed.to_string().contains("18446744073709551615"), "{failed}");

    let other = Connection::open(&file).unwrap();
    for sql in ["UPDATE entries SET json = ''", "DELETE FROM entries"] {
        assert!(other.execute(sql, []).unwrap_err().to_string().contains("never"), "{sql}");
    }
    store.close();
    let kept = open(&file).reader().unwrap().entries().unwrap();
    assert_eq!(kept, [entry(1, "one"), entry(2, "two"), entry(3, "three")]);
}

#[tokio::test]
async fn alarms_keep_their_log_and_their_newest_snapshot() {
    let (_folder, file) = place();
    let store = open(&file);
    let line = |n: i64| AlarmRow {
        key: "TU1/air_stopped".into(),
        at: t(n),
        from: "normal".into(),
        to: "unacknowledged".into(),
        text: format!("line {n}"),
    };
    let state = |key: &str, json: Option<&str>| (key.to_owned(), json.map(str::to_owned));
    let batch = Batch {
        alarm_log: (0..5).map(line).collect(),
        alarm_states: vec![state("a", Some("1")), state("b", Some("2"))],
        ..Batch::default()
    };
    store.commit(batch).await.unwrap();
    let again = vec![state("a", Some("3")), state("b", None), state("never there", None)];
    store.commit(Batch { alarm_states: again, ..Batch::default() }).await.unwrap();

    let reader = store.reader().unwrap();
    assert_eq!(reader.alarm_states().unwrap(), [("a".to_owned(), "3".to_owned())]);
    let page = reader.alarm_log(2, None).unwrap();
    let next = reader.alarm_log(9, page.last().map(|i| i.id)).unwrap();
    let rows: Vec<_> = page.into_iter().chain(next).map(|i| i.row).collect();
    assert_eq!(rows, (0..5).rev().map(line).collect::<Vec<_>>());
    assert_eq!(reader.alarm_log_between(t(1), t(3)).unwrap(), [line(1), line(2), line(3)]);
}

#[tokio::test]
async fn a_projection_replaces_the_one_before_and_its_shifts_stay() {
    let (_folder, file) = place();
    let store = open(&file);
    let shift = |clutch: &str, n: i64, before| ShiftRow {
        clutch: clutch.into(),
        at: t(n),
        stage: "hatch".into(),
        before,
        after: t(n + 9_000),
        json: "{}".into(),
    };
    let projection = |clutch: &str, n: i64| ProjectionRow {
        clutch: clutch.into(),
        at: t(n),
        json: format!("{{\"n\":{n}}}"),
    };
    for n in 0..3 {
        let batch = Batch {
            projections: vec![projection("C02", n)],
            shifts: vec![shift("C02", n, (n > 0).then(|| t(n))), shift("C06", n, None)],
            ..Batch::default()
        };
        store.commit(batch).await.unwrap();
    }
    let reader = store.reader().unwrap();
    assert_eq!(reader.projections().unwrap(), [projection("C02", 2)]);
    let kept = [shift("C02", 2, Some(t(2))), shift("C02", 1, Some(t(1))), shift("C02", 0, None)];
    assert_eq!(reader.shifts("C02").unwrap(), kept);
    assert_eq!(reader.shifts("C11").unwrap(), []);
}

#[tokio::test]
async fn refusals_are_counted_by_place_and_reason() {
    let (_folder, file) = place();
    let store = open(&file);
    let refusal = |reason: &str, n: i64| RefusalRow {
        place: "TU1/air-flow".into(),
        reason: reason.into(),
        at: t(n),
        excerpt: format!("at {n}"),
    };
    let first = vec![refusal("no number", 5), refusal("no number", 9), refusal("out of bounds", 1)];
    store.commit(Batch { refusals: first, ..Batch::default() }).await.unwrap();
    // One that comes late widens the span and does not take the excerpt's place.
    store.commit(Batch { refusals: vec![refusal("no number", 2)], ..Batch::default() }).await.unwrap();
    let count = |reason: &str, count, first, last| RefusalCount {
        place: "TU1/air-flow".into(),
        reason: reason.into(),
        count,
        first: t(first),
        last: t(last),
        excerpt: format!("at {last}"),
    };
    let counts = store.reader().unwrap().refusals().unwrap();
    assert_eq!(counts, [count("no number", 3, 2, 9), count("out of bounds", 1, 1, 1)]);
}

/// A quarter of an hour belongs to the night in which it begins.
#[tokio::test]
async fn refusals_of_a_stretch_are_counted_by_quarters_of_an_hour() {
    let (_folder, file) = place();
    let store = open(&file);
    let refusal = |at: Time| RefusalRow {
        place: "V1/temperature".into(),
        reason: "no number".into(),
        at,
        excerpt: "x".into(),
    };
    let whole = Time::from_millis(t(0).millis().div_euclid(900_000) * 900_000);
    let at = |minutes: i64| whole + Span::minutes(minutes);
    let refusals = [0, 14, 15, 44, 45, 60].map(|m| refusal(at(m))).to_vec();
    store.commit(Batch { refusals, ..Batch::default() }).await.unwrap();
    let between = |from, to| store.reader().unwrap().refused_between(at(from), at(to)).unwrap();
    let counted = |n| vec![("V1/temperature".to_owned(), "no number".to_owned(), n)];
    assert_eq!(between(15, 45), store::RefusedBetween { counts: counted(2), more: false });
    assert_eq!(between(0, 75).counts, counted(6));
    assert_eq!(between(75, 90), store::RefusedBetween::default());
    // What was counted before hours were told apart may have been in any of them.
    rusqlite::Connection::open(&file)
        .unwrap()
        .execute("DELETE FROM refusal_quarters WHERE quarter % 2 = 0", [])
        .unwrap();
    assert!(between(15, 45).more && !between(75, 90).more);
    // A store of an older version that nobody has opened since is read as it is.
    rusqlite::Connection::open(&file).unwrap().execute("DROP TABLE refusal_quarters", []).unwrap();
    assert_eq!(between(15, 45), store::RefusedBetween { counts: vec![], more: true });
    assert!(!between(75, 90).more);
}

fn mail(id: &str, next_try: i64) -> OutboxRow {
    OutboxRow {
        id: id.into(),
        way: "mail".into(),
        created: t(0),
        next_try: t(next_try),
        body: format!("body of {id}"),
    }
}

fn ids(items: &[OutboxItem]) -> Vec<&str> {
    items.iter().map(|i| i.row.id.as_str()).collect()
}

#[tokio::test]
async fn a_delivery_is_due_until_it_arrives_or_is_given_up() {
    let (_folder, file) = place();
    let store = open(&file);
    let outbox = |rows: Vec<OutboxRow>| Batch { outbox: rows, ..Batch::default() };
    let change = |c: OutboxChange| Batch { outbox_changes: vec![c], ..Batch::default() };
    let fail = |id: &str, at: i64, next: Option<i64>| {
        change(OutboxChange::Failed {
            id: id.into(),
            at: t(at),
            error: "no route".into(),
            next_try: next.map(t),
        })
    };
    store.commit(outbox(vec![mail("b", 20), mail("a", 10), mail("c", 99)])).await.unwrap();
    let due = |n: i64, limit| store.reader().unwrap().outbox_due(t(n), limit).unwrap();
    assert_eq!(ids(&due(9, 10)), [""; 0]);
    assert_eq!(ids(&due(20, 10)), ["a", "b"], "the longest waiting first");
    assert_eq!(ids(&due(20, 1)), ["a"]);

    store.commit(fail("a", 20, Some(50))).await.unwrap();
    assert_eq!(ids(&due(49, 10)), ["b"]);
    let again = due(50, 10).pop().unwrap();
    assert_eq!((again.tries, again.error.as_deref(), again.row), (1, Some("no route"), mail("a", 50)));

    store.commit(change(OutboxChange::Delivered { id: "a".into(), at: t(51) })).await.unwrap();
    store.commit(fail("b", 60, None)).await.unwrap();
    // Too late or never known: nothing changes.
    store.commit(fail("a", 70, Some(71))).await.unwrap();
    store.commit(change(OutboxChange::Delivered { id: "b".into(), at: t(72) })).await.unwrap();
    store.commit(change(OutboxChange::Delivered { id: "z".into(), at: t(73) })).await.unwrap();
    store.commit(outbox(vec![mail("a", 10), mail("b", 10)])).await.unwrap();

    store.close();
    let reader = open(&file).reader().unwrap();
    assert_eq!(ids(&reader.outbox_pending().unwrap()), ["c"]);
    assert_eq!(ids(&reader.outbox_due(t(1_000), 10).unwrap()), ["c"]);
    let lost = reader.outbox_given_up(10).unwrap();
    assert_eq!(lost, [OutboxItem { row: mail("b", 60), tries: 1, error: Some("no route".into()) }]);
}

#[tokio::test]
async fn a_delivery_and_its_fate_may_share_a_batch() {
    let (_folder, file) = place();
    let store = open(&file);
    let batch = Batch {
        outbox: vec![mail("a", 0)],
        outbox_changes: vec![OutboxChange::Delivered { id: "a".into(), at: t(1) }],
        ..Batch::default()
    };
    store.commit(batch).await.unwrap();
    assert_eq!(store.reader().unwrap().outbox_pending().unwrap(), []);
}

#[tokio::test]
async fn a_note_replaces_the_one_before() {
    let (_folder, file) = place();
    let store = open(&file);
    for name in ["cellar", "undercroft"] {
        let notes = vec![("room".to_owned(), name.to_owned())];
        store.commit(Batch { notes, ..Batch::default() }).await.unwrap();
    }
    assert_eq!(store.reader().unwrap().note("room").unwrap().as_deref(), Some("undercroft"));
}

/// What was put off is put off by as much as before, and what is due is due.
#[tokio::test]
async fn a_clock_that_goes_back_puts_no_delivery_off() {
    let (_folder, file) = place();
    let store = open(&file);
    let sooner = OutboxChange::Sooner { after: t(40), by: Span::seconds(60) };
    let batch = Batch {
        outbox: vec![mail("new", 40), mail("waits", 110)],
        outbox_changes: vec![sooner],
        ..Batch::default()
    };
    store.commit(batch).await.unwrap();
    let due = |n: i64| store.reader().unwrap().outbox_due(t(n), 10).unwrap();
    assert_eq!(ids(&due(40)), ["new"]);
    assert_eq!(ids(&due(49)), ["new"]);
    assert_eq!(ids(&due(50)), ["new", "waits"]);
}
