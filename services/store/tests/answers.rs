//! Answers to changes: written with the change, found again after the file was closed, and forgotten after their time.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use store::{ANSWERS_KEPT, AnswerRow, Batch, EntryRow, Options, Store};
use units::{Span, Time};

fn answer(key: u8, at: Time) -> AnswerRow {
    let kind = Some("application/json".to_owned());
    let location = Some("/api/v1/clutches/C06".to_owned());
    AnswerRow { key: [key; 32], fingerprint: [7; 32], at, status: 201, kind, location, body: "{}".to_owned() }
}

fn entry(id: u64, json: &str) -> EntryRow {
    EntryRow { id, recorded: Time::from_millis(0), by: "Ada".to_owned(), json: json.to_owned() }
}

fn batch(entries: Vec<EntryRow>, answers: Vec<AnswerRow>) -> Batch {
    Batch { entries, answers, ..Batch::default() }
}

#[tokio::test]
async fn an_answer_is_kept_with_its_change_or_neither_is() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("room.db");
    let begin = Time::from_millis(1_931_221_060_000);
    let store = Store::open(&file, Options::default()).unwrap();
    store.commit(batch(vec![entry(1, "{}")], vec![answer(1, begin)])).await.unwrap();
    // Another entry under a number that is taken is refused, and its answer with it.
    store.commit(batch(vec![entry(1, "[]")], vec![answer(2, begin)])).await.unwrap_err();
    store.close();
    let store = Store::open(&file, Options::default()).unwrap();
    let reader = store.reader().unwrap();
    assert_eq!(reader.answer(&[1; 32]).unwrap(), Some(answer(1, begin)));
    assert_eq!(reader.answer(&[2; 32]).unwrap(), None);
}

#[tokio::test]
async fn the_newest_under_a_key_stands_and_old_ones_go_when_one_comes() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("room.db"), Options::default()).unwrap();
    let begin = Time::from_millis(1_931_221_060_000);
    let renewed = AnswerRow { status: 204, ..answer(1, begin) };
    store.commit(batch(vec![], vec![answer(1, begin), answer(2, begin), renewed.clone()])).await.unwrap();
    let reader = store.reader().unwrap();
    assert_eq!(reader.answer(&[1; 32]).unwrap(), Some(renewed));
    assert_eq!(reader.answers_since(begin).unwrap(), 2);
    store.commit(batch(vec![], vec![answer(3, begin + ANSWERS_KEPT)])).await.unwrap();
    assert!(reader.answer(&[1; 32]).unwrap().is_some(), "kept for its whole time");
    let later = begin + ANSWERS_KEPT + Span::from_millis(1);
    store.commit(batch(vec![], vec![answer(4, later)])).await.unwrap();
    assert_eq!(reader.answer(&[1; 32]).unwrap(), None);
    assert_eq!((reader.answers_since(begin).unwrap(), reader.answers_since(later).unwrap()), (2, 1));
}
