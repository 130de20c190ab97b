//! The tables, as a list of steps that bring any older file up to date.

use rusqlite::{Connection, Transaction, TransactionBehavior};

/// Marks a file as ours: the letters `HWdn`.
pub(crate) const APPLICATION_ID: i64 = 0x4857_646e;

/// Step n brings a file of schema n to schema n + 1. A step that has been released is never changed.
const STEPS: &[&str] = &[
    include_str!("schema/001.sql"),
    include_str!("schema/002.sql"),
    include_str!("schema/003.sql"),
    include_str!("schema/004.sql"),
];

/// The schema this version writes.
pub(crate) const KNOWN: i64 = STEPS.len() as i64;

/// What a file says about itself.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Ours, of this schema; 0 is an empty file.
    Ours(i64),
    /// Somebody else's database.
    Foreign(String),
}

/// Reads what the file is without changing it.
pub(crate) fn kind(conn: &Connection) -> rusqlite::Result<Kind> {
    let number = |sql| conn.query_row(sql, [], |r| r.get::<_, i64>(0));
    let (mark, version) = (number("PRAGMA application_id")?, number("PRAGMA user_version")?);
    if mark == APPLICATION_ID {
        return Ok(Kind::Ours(version));
    }
    let objects = number("SELECT count(*) FROM sqlite_schema")?;
    if (mark, version, objects) == (0, 0, 0) {
        return Ok(Kind::Ours(0));
    }
    Ok(Kind::Foreign(format!(
        "it is an SQLite database of another program, application id {mark}, {objects} objects"
    )))
}

/// Runs every step that is still to be run; each is whole or not done at all.
pub(crate) fn migrate(conn: &mut Connection, from: i64) -> rusqlite::Result<()> {
    run(conn, from, STEPS)
}

fn run(conn: &mut Connection, from: i64, steps: &[&str]) -> rusqlite::Result<()> {
    for (number, step) in (1_i64..).zip(steps).filter(|(number, _)| *number > from) {
        let tx = Transaction::new(conn, TransactionBehavior::Immediate)?;
        tx.execute_batch(step)?;
        tx.pragma_update(None, "application_id", APPLICATION_ID)?;
        tx.pragma_update(None, "user_version", number)?;
        tx.commit()?;
        tracing::info!(schema = number, "store brought to a newer schema");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_file_becomes_ours_and_stays_so() {
        let mut conn = Connection::open_in_memory().unwrap();
        assert_eq!(kind(&conn).unwrap(), Kind::Ours(0));
        migrate(&mut conn, 0).unwrap();
        assert_eq!(kind(&conn).unwrap(), Kind::Ours(KNOWN));
        migrate(&mut conn, KNOWN).unwrap();
        assert_eq!(kind(&conn).unwrap(), Kind::Ours(KNOWN));
    }

    #[test]
    fn steps_run_once_each_and_keep_what_was_there() {
        let mut conn = Connection::open_in_memory().unwrap();
        let first = "CREATE TABLE a(x); INSERT INTO a VALUES(1);";
        let second = "ALTER TABLE a ADD COLUMN y; UPDATE a SET y = x + 1;";
        run(&mut conn, 0, &[first]).unwrap();
        run(&mut conn, 1, &[first, second]).unwrap();
        let y: i64 = conn.query_row("SELECT y FROM a", [], |r| r.get(0)).unwrap();
        assert_eq!((y, kind(&conn).unwrap()), (2, Kind::Ours(2)));
    }

    #[test]
    fn a_step_that_fails_half_way_leaves_the_schema_before_it() {
        let mut conn = Connection::open_in_memory().unwrap();
        assert!(run(&mut conn, 0, &["CREATE TABLE a(x);", "CREATE TABLE b(x); CREATE TABLE a(x);"]).is_err());
        assert_eq!(kind(&conn).unwrap(), Kind::Ours(1));
        assert!(conn.prepare("SELECT * FROM b").is_err());
    }

    #[test]
    fn the_database_of_another_program_is_known_as_such() {
        let conn = Connection::open_in_memory().unwrap();
        conn.execute_batch("CREATE TABLE songs(title)").unwrap();
        assert!(matches!(kind(&conn).unwrap(), Kind::Foreign(_)));
    }
}
