//! Which files are taken, and which are left as they are.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{open, place};
use rusqlite::Connection;
use std::path::Path;
use store::{OpenError, Options, Store};

fn refuse(file: &Path) -> OpenError {
    Store::open(file, Options::default()).unwrap_err()
}

/// Opens in vain, and sees that not a byte has changed.
fn refuse_untouched(file: &Path) -> OpenError {
    let before = std::fs::read(file).unwrap();
    let error = refuse(file);
    assert_eq!(std::fs::read(file).unwrap(), before, "a refused file stays as it was");
    let said = error.to_string();
    assert!(said.contains("room.db"), "{said}");
    error
}

#[test]
fn a_missing_and_an_empty_file_become_a_store() {
    let (_folder, file) = place();
    open(&file).close();
    open(&file).close();
    std::fs::write(&file, b"").unwrap();
    open(&file).close();
    let conn = Connection::open(&file).unwrap();
    let number = |sql: &str| conn.query_row(sql, [], |r| r.get::<_, i64>(0)).unwrap();
    assert_eq!(number("PRAGMA application_id"), 0x4857_646e);
    assert_eq!(number("PRAGMA user_version"), 4);
    let mode: String = conn.query_row("PRAGMA journal_mode", [], |r| r.get(0)).unwrap();
    assert_eq!(mode, "wal");
}

#[test]
fn a_file_from_the_future_is_left_alone() {
    let (_folder, file) = place();
    open(&file).close();
    Connection::open(&file).unwrap().pragma_update(None, "user_version", 999).unwrap();
    let error = refuse_untouched(&file);
    assert!(matches!(error, OpenError::Newer { found: 999, known: 4, .. }), "{error}");
    assert!(error.to_string().contains("newer version"), "{error}");
}

#[test]
fn a_database_of_another_program_is_left_alone() {
    let (_folder, file) = place();
    Connection::open(&file)
        .unwrap()
        .execute_batch("CREATE TABLE songs(title); PRAGMA user_version = 1")
        .unwrap();
    let error = refuse_untouched(&file);
    assert!(matches!(error, OpenError::NotAStore { .. }), "{error}");
    assert!(error.to_string().contains("another program"), "{error}");
}

#[test]
fn a_text_file_is_left_alone() {
    let (_folder, file) = place();
    for text in ["x", &"shopping list\n".repeat(1_000)] {
        std::fs::write(&file, text).unwrap();
        let error = refuse_untouched(&file);
        assert!(matches!(error, OpenError::NotAStore { .. }), "{error}");
        assert!(error.to_string().contains("name another file"), "{error}");
    }
}

#[test]
fn a_missing_folder_is_named_and_not_made() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("card/room.db");
    let error = refuse(&file);
    assert!(matches!(error, OpenError::NoFolder { .. }), "{error}");
    assert!(error.to_string().contains("card is not there"), "{error}");
    assert!(!folder.path().join("card").exists());
}

#[test]
fn a_folder_in_place_of_the_file_is_refused() {
    let (_folder, file) = place();
    std::fs::create_dir(&file).unwrap();
    let error = refuse(&file);
    assert!(error.to_string().contains("room.db"), "{error}");
}

#[test]
fn a_second_opener_is_told_who_holds_it() {
    let (_folder, file) = place();
    let store = open(&file);
    let error = refuse(&file);
    assert!(matches!(error, OpenError::InUse { .. }), "{error}");
    let said = error.to_string();
    assert!(said.contains(&std::process::id().to_string()) && said.contains("stop that one first"), "{said}");
    let other = store.clone();
    drop(store);
    assert!(matches!(refuse(&file), OpenError::InUse { .. }), "a clone still holds it");
    drop(other);
    open(&file).close();
}

#[test]
#[cfg(unix)]
fn a_link_is_the_same_store() {
    let (folder, file) = place();
    let store = open(&file);
    let link = folder.path().join("link.db");
    std::os::unix::fs::symlink(&file, &link).unwrap();
    assert!(matches!(refuse(&link), OpenError::InUse { .. }));
    store.close();
    assert_eq!(open(&link).path(), file.canonicalize().unwrap());
}

#[test]
fn a_failed_opening_holds_nothing() {
    let (_folder, file) = place();
    std::fs::write(&file, "not a database").unwrap();
    assert!(matches!(refuse(&file), OpenError::NotAStore { .. }));
    std::fs::remove_file(&file).unwrap();
    open(&file).close();
}
