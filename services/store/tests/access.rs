//! People, sessions, tokens and the audit log.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{open, place, t};
use rusqlite::Connection;
use store::access::{AccessChange as C, AuditRow};
use store::{Batch, Beside, CommitError, Store};

fn person(name: &str, role: &str) -> C {
    C::AddPerson {
        name: name.to_owned(),
        role: role.to_owned(),
        password: format!("hash of {name}"),
        at: t(0),
    }
}

fn session(hash: u8, person: u64, password: &str) -> C {
    let (address, agent) = ("192.0.2.7".to_owned(), "a phone".to_owned());
    C::StartSession { hash: [hash; 32], person, password: password.to_owned(), at: t(1), address, agent }
}

fn line(second: i64) -> AuditRow {
    let text = |s: &str| s.to_owned();
    AuditRow {
        at: t(second),
        who: text("Ada"),
        how: text("session"),
        address: text("192.0.2.7"),
        what: text("took an alarm on"),
        place: format!("/alarms/{second}"),
    }
}

async fn change(store: &Store, access: Vec<C>) -> Result<(), String> {
    let done = store.commit(Batch { access, ..Batch::default() }).await;
    done.map(drop).map_err(|failed| match failed.error {
        CommitError::Refused { reason, .. } => reason,
        other => panic!("{other}"),
    })
}

#[tokio::test]
async fn names_are_one_whatever_their_letters_and_a_number_is_never_given_twice() {
    let (_folder, file) = place();
    let store = open(&file);
    change(&store, vec![person("Ada", "keeper"), person("Bo", "looker")]).await.unwrap();
    let said = change(&store, vec![person(" ADA ", "helper")]).await.unwrap_err();
    assert!(said.contains("\"ADA\" is here already; choose another name"), "{said}");
    let reader = store.reader().unwrap();
    assert_eq!(reader.person("aDa").unwrap().unwrap().name, "Ada");
    assert_eq!(reader.person("Cy").unwrap(), None);
    let bo = reader.person("Bo").unwrap().unwrap().id;
    change(&store, vec![C::RemovePerson { person: bo }, person("Bo", "looker")]).await.unwrap();
    assert_ne!(reader.person("Bo").unwrap().unwrap().id, bo);
}

#[tokio::test]
async fn the_last_keeper_stays_and_stays_one() {
    let (_folder, file) = place();
    let store = open(&file);
    change(&store, vec![person("Ada", "keeper"), person("Bo", "helper")]).await.unwrap();
    let ada = store.reader().unwrap().person("Ada").unwrap().unwrap().id;
    for wish in [C::RemovePerson { person: ada }, C::SetRole { person: ada, role: "helper".to_owned() }] {
        let said = change(&store, vec![wish]).await.unwrap_err();
        assert!(said.contains("last keeper"), "{said}");
    }
    assert_eq!(store.reader().unwrap().person("Ada").unwrap().unwrap().role, "keeper");
    let bo = store.reader().unwrap().person("Bo").unwrap().unwrap().id;
    change(
        &store,
        vec![C::SetRole { person: bo, role: "keeper".to_owned() }, C::RemovePerson { person: ada }],
    )
    .await
    .unwrap();
    let said = change(&store, vec![C::SetRole { person: ada, role: "keeper".to_owned() }]).await.unwrap_err();
    assert!(said.contains(&format!("no person of number {ada}")), "{said}");
}

#[tokio::test]
async fn a_new_password_ends_sessions_and_lets_none_begin_with_the_old_one() {
    let (_folder, file) = place();
    let store = open(&file);
    change(&store, vec![person("Ada", "keeper"), person("Bo", "helper")]).await.unwrap();
    let reader = store.reader().unwrap();
    let (ada, bo) = (reader.person("Ada").unwrap().unwrap(), reader.person("Bo").unwrap().unwrap());
    change(&store, vec![session(1, ada.id, &ada.password), session(2, bo.id, &bo.password)]).await.unwrap();
    assert_eq!(reader.session(&[1; 32]).unwrap().unwrap().1, ada);
    let new = C::SetPassword { person: ada.id, password: "another".to_owned(), at: t(9) };
    change(&store, vec![new]).await.unwrap();
    assert_eq!(reader.session(&[1; 32]).unwrap(), None);
    assert!(reader.session(&[2; 32]).unwrap().is_some(), "somebody else's goes on");
    let said = change(&store, vec![session(3, ada.id, &ada.password)]).await.unwrap_err();
    assert!(said.contains("sign in with the new one"), "{said}");
}

#[tokio::test]
async fn sessions_end_by_age_by_wish_and_with_their_person() {
    let (_folder, file) = place();
    let store = open(&file);
    change(&store, vec![person("Ada", "keeper"), person("Bo", "helper")]).await.unwrap();
    let reader = store.reader().unwrap();
    let bo = reader.person("Bo").unwrap().unwrap();
    let begin = |hash| session(hash, bo.id, &bo.password);
    let token = C::AddToken {
        hash: [9; 32],
        name: "a script".to_owned(),
        scope: "read".to_owned(),
        person: Some(bo.id),
        at: t(3),
    };
    change(&store, vec![begin(1), begin(2), begin(3), token]).await.unwrap();
    change(&store, vec![C::SeenSession { hash: [2; 32], at: t(50) }]).await.unwrap();
    change(&store, vec![C::EndOldSessions { since: t(0), seen: t(40) }]).await.unwrap();
    let left: Vec<_> = reader.sessions().unwrap().iter().map(|s| s.seen).collect();
    assert_eq!(left, [t(50)]);
    change(&store, vec![C::EndSession { hash: [2; 32] }, begin(4)]).await.unwrap();
    let used = reader.token(&[9; 32]).unwrap().unwrap();
    change(&store, vec![C::UsedToken { id: used.id, at: t(60) }]).await.unwrap();
    assert_eq!(reader.tokens().unwrap()[0].used, Some(t(60)));
    let made = |hash, person| {
        let (name, scope) = ("another".to_owned(), "manage".to_owned());
        C::AddToken { hash: [hash; 32], name, scope, person: Some(person), at: t(3) }
    };
    let cy = |role: &str| {
        let person = reader.person("Cy").unwrap().unwrap().id;
        C::SetRole { person, role: role.to_owned() }
    };
    change(&store, vec![person("Cy", "keeper")]).await.unwrap();
    let number = reader.person("Cy").unwrap().unwrap().id;
    change(&store, vec![made(8, number), cy("keeper")]).await.unwrap();
    assert!(reader.token(&[8; 32]).unwrap().is_some());
    change(&store, vec![cy("looker")]).await.unwrap();
    assert_eq!(reader.token(&[8; 32]).unwrap(), None, "a keeper no more has let no program in");
    change(&store, vec![C::RemovePerson { person: bo.id }]).await.unwrap();
    assert_eq!((reader.sessions().unwrap(), reader.tokens().unwrap()), (vec![], vec![]));
}

#[tokio::test]
async fn the_audit_log_is_read_by_pages_and_changed_by_nobody() {
    let (_folder, file) = place();
    let store = open(&file);
    store.commit(Batch { audit: (0..5).map(line).collect(), ..Batch::default() }).await.unwrap();
    let reader = store.reader().unwrap();
    let first = reader.audit(2, None).unwrap();
    assert_eq!(first.iter().map(|i| i.row.at).collect::<Vec<_>>(), [t(4), t(3)]);
    let rest = reader.audit(10, Some(first[1].id)).unwrap();
    assert_eq!(rest.iter().map(|i| &i.row).collect::<Vec<_>>(), [&line(2), &line(1), &line(0)]);
    store.close();
    let conn = Connection::open(&file).unwrap();
    for sql in ["UPDATE audit SET who = 'nobody'", "DELETE FROM audit"] {
        let said = conn.execute(sql, []).unwrap_err().to_string();
        assert!(said.contains("a line of the audit log is never"), "{said}");
    }
}

#[tokio::test]
async fn a_file_of_the_first_schema_is_brought_up_to_date_with_all_that_was_in_it() {
    let (_folder, file) = place();
    let old = Connection::open(&file).unwrap();
    old.execute_batch(include_str!("../src/schema/001.sql")).unwrap();
    old.execute_batch(
        "PRAGMA application_id = 1213686894; PRAGMA user_version = 1;
         INSERT INTO notes VALUES ('claims', '[1]');
         INSERT INTO entries VALUES (1, 5, 'Ada', '{}');",
    )
    .unwrap();
    drop(old);
    let store = open(&file);
    let reader = store.reader().unwrap();
    assert_eq!(reader.note("claims").unwrap().unwrap(), "[1]");
    assert_eq!((reader.entries().unwrap().len(), reader.people().unwrap()), (1, vec![]));
    change(&store, vec![person("Ada", "keeper")]).await.unwrap();
    assert_eq!(reader.people().unwrap().len(), 1);
}

#[tokio::test]
async fn the_machine_changes_people_beside_a_store_that_is_open_and_without_one() {
    let (_folder, file) = place();
    let mut beside = Beside::open(&file).unwrap();
    beside.change(&[person("Ada", "keeper")], &[line(0)]).unwrap();
    drop(beside);
    let store = open(&file);
    let mut beside = Beside::open(&file).unwrap();
    beside.change(&[person("Bo", "helper")], &[line(1)]).unwrap();
    let refused = beside.change(&[person("Cy", "helper"), person("ada", "helper")], &[line(2)]).unwrap_err();
    assert!(matches!(refused, CommitError::Refused { .. }), "{refused}");
    // The open store sees it at once, and goes on writing.
    let names = |store: &Store| -> Vec<String> {
        store.reader().unwrap().people().unwrap().into_iter().map(|p| p.name).collect()
    };
    assert_eq!(names(&store), ["Ada", "Bo"]);
    change(&store, vec![person("Di", "looker")]).await.unwrap();
    assert_eq!(beside.reader().unwrap().people().unwrap().len(), 3);
    assert_eq!(store.reader().unwrap().audit(9, None).unwrap().len(), 2, "nothing of what was refused");
    store.close();
}
