//! People, sessions and tokens.

use super::{Fault, all, time, time_if_any};
use crate::access::{AccessChange, Hash, PersonRow, SessionRow, TokenRow};
use rusqlite::{Connection, OptionalExtension, Params, Row, params};
use units::Time;

/// The role of those who may do everything; one of them must stay.
const KEEPER: &str = "keeper";

/// Does each change in its order.
pub(crate) fn change(conn: &Connection, changes: &[AccessChange]) -> Result<(), Fault> {
    changes.iter().try_for_each(|change| one(conn, change))
}

fn one(conn: &Connection, change: &AccessChange) -> Result<(), Fault> {
    use AccessChange as C;
    match change {
        C::AddPerson { name, role, password, at } => add(conn, name, role, password, *at),
        C::SetPassword { person, password, at } => {
            let sql = "UPDATE people SET password = ?2, changed = ?3 WHERE id = ?1";
            somebody(run(conn, sql, params![person.cast_signed(), password, at.millis()])?, *person)?;
            end_all_of(conn, *person)
        }
        C::SetRole { person, role } => {
            let sql = "UPDATE people SET role = ?2 WHERE id = ?1";
            somebody(run(conn, sql, params![person.cast_signed(), role])?, *person)?;
            if role != KEEPER {
                // Whoever may not let programs in any more has let none in.
                run(conn, "DELETE FROM tokens WHERE person = ?1", [person.cast_signed()])?;
            }
            keeper_left(conn)
        }
        C::RemovePerson { person } => remove(conn, *person),
        C::StartSession { .. } => start(conn, change),
        C::SeenSession { hash, at } => {
            run(conn, "UPDATE sessions SET seen = max(seen, ?2) WHERE hash = ?1", params![hash, at.millis()])
                .map(drop)
        }
        C::EndSession { hash } => run(conn, "DELETE FROM sessions WHERE hash = ?1", [hash]).map(drop),
        C::EndSessionNumber { id } => {
            let gone = run(conn, "DELETE FROM sessions WHERE id = ?1", [id.cast_signed()])?;
            something(gone, "session", *id)
        }
        C::EndOldSessions { since, seen } => {
            let sql = "DELETE FROM sessions WHERE since < ?1 OR seen < ?2";
            run(conn, sql, [since.millis(), seen.millis()]).map(drop)
        }
        C::AddToken { hash, name, scope, person, at } => {
            let sql = "INSERT INTO tokens (hash, name, scope, person, since) VALUES (?1, ?2, ?3, ?4, ?5)";
            run(conn, sql, params![hash, name, scope, person.map(u64::cast_signed), at.millis()]).map(drop)
        }
        C::UsedToken { id, at } => {
            let sql = "UPDATE tokens SET used = max(coalesce(used, ?2), ?2) WHERE id = ?1";
            run(conn, sql, [id.cast_signed(), at.millis()]).map(drop)
        }
        C::WithdrawToken { id } => {
            let gone = run(conn, "DELETE FROM tokens WHERE id = ?1", [id.cast_signed()])?;
            something(gone, "token", *id)
        }
    }
}

fn run(conn: &Connection, sql: &str, values: impl Params) -> Result<usize, Fault> {
    Ok(conn.prepare_cached(sql)?.execute(values)?)
}

/// Names are compared without regard to large and small letters.
fn key(name: &str) -> String {
    name.trim().to_lowercase()
}

fn somebody(rows: usize, person: u64) -> Result<(), Fault> {
    something(rows, "person", person)
}

fn something(rows: usize, what: &str, id: u64) -> Result<(), Fault> {
    match rows {
        0 => Err(Fault::Refused(format!("there is no {what} of number {id} any more"))),
        _ => Ok(()),
    }
}

fn add(conn: &Connection, name: &str, role: &str, password: &str, at: Time) -> Result<(), Fault> {
    let sql = "INSERT INTO people (key, name, role, password, since, changed) VALUES (?1, ?2, ?3, ?4, ?5, ?5)
        ON CONFLICT (key) DO NOTHING";
    match run(conn, sql, params![key(name), name.trim(), role, password, at.millis()])? {
        0 => Err(Fault::Refused(format!(
            "{:?} is here already; choose another name, or set a new password for that one",
            name.trim()
        ))),
        _ => Ok(()),
    }
}

fn end_all_of(conn: &Connection, person: u64) -> Result<(), Fault> {
    run(conn, "DELETE FROM sessions WHERE person = ?1", [person.cast_signed()]).map(drop)
}

fn remove(conn: &Connection, person: u64) -> Result<(), Fault> {
    somebody(run(conn, "DELETE FROM people WHERE id = ?1", [person.cast_signed()])?, person)?;
    run(conn, "DELETE FROM tokens WHERE person = ?1", [person.cast_signed()])?;
    end_all_of(conn, person)?;
    keeper_left(conn)
}

/// The whole transaction is rolled back otherwise.
fn keeper_left(conn: &Connection) -> Result<(), Fault> {
    let sql = "SELECT count(*) FROM people WHERE role = ?1";
    let keepers: i64 = conn.prepare_cached(sql)?.query_row([KEEPER], |r| r.get(0))?;
    match keepers {
        0 => Err(Fault::Refused(
            "this is the last keeper, and somebody must be able to let people in; make another one keeper first".to_owned(),
        )),
        _ => Ok(()),
    }
}

fn start(conn: &Connection, change: &AccessChange) -> Result<(), Fault> {
    let AccessChange::StartSession { hash, person, password, at, address, agent } = change else {
        return Ok(());
    };
    // The password may have been changed while it was being checked.
    let sql = "INSERT INTO sessions (hash, person, since, seen, address, agent)
        SELECT ?1, id, ?4, ?4, ?5, ?6 FROM people WHERE id = ?2 AND password = ?3";
    match run(conn, sql, params![hash, person.cast_signed(), password, at.millis(), address, agent])? {
        0 => {
            Err(Fault::Refused("the password has been changed just now; sign in with the new one".to_owned()))
        }
        _ => Ok(()),
    }
}

const PERSON: &str = "people.id, people.name, people.role, people.password, people.since, people.changed";

fn person_at(row: &Row<'_>, c: usize) -> rusqlite::Result<PersonRow> {
    Ok(PersonRow {
        id: row.get::<_, i64>(c)?.cast_unsigned(),
        name: row.get(c + 1)?,
        role: row.get(c + 2)?,
        password: row.get(c + 3)?,
        since: time(row, c + 4)?,
        changed: time(row, c + 5)?,
    })
}

/// All people by name.
pub(crate) fn people(conn: &Connection) -> rusqlite::Result<Vec<PersonRow>> {
    all(conn, &format!("SELECT {PERSON} FROM people ORDER BY key"), [], |r| person_at(r, 0))
}

/// The person of a name, however it is written.
pub(crate) fn person(conn: &Connection, name: &str) -> rusqlite::Result<Option<PersonRow>> {
    let sql = format!("SELECT {PERSON} FROM people WHERE key = ?1");
    conn.prepare_cached(&sql)?.query_row([key(name)], |r| person_at(r, 0)).optional()
}

fn session_row(row: &Row<'_>) -> rusqlite::Result<SessionRow> {
    Ok(SessionRow {
        id: row.get::<_, i64>(0)?.cast_unsigned(),
        person: row.get::<_, i64>(1)?.cast_unsigned(),
        since: time(row, 2)?,
        seen: time(row, 3)?,
        address: row.get(4)?,
        agent: row.get(5)?,
    })
}

const SESSION: &str =
    "sessions.id, sessions.person, sessions.since, sessions.seen, sessions.address, sessions.agent";

/// A session with its person.
pub(crate) fn session(conn: &Connection, hash: &Hash) -> rusqlite::Result<Option<(SessionRow, PersonRow)>> {
    let sql =
        format!("SELECT {SESSION}, {PERSON} FROM sessions JOIN people ON people.id = person WHERE hash = ?1");
    conn.prepare_cached(&sql)?.query_row([hash], |r| Ok((session_row(r)?, person_at(r, 6)?))).optional()
}

/// All sessions, the last used first.
pub(crate) fn sessions(conn: &Connection) -> rusqlite::Result<Vec<SessionRow>> {
    all(conn, &format!("SELECT {SESSION} FROM sessions ORDER BY seen DESC, id DESC"), [], session_row)
}

const TOKEN: &str = "id, name, scope, person, since, used";

fn token_row(row: &Row<'_>) -> rusqlite::Result<TokenRow> {
    Ok(TokenRow {
        id: row.get::<_, i64>(0)?.cast_unsigned(),
        name: row.get(1)?,
        scope: row.get(2)?,
        person: row.get::<_, Option<i64>>(3)?.map(i64::cast_unsigned),
        since: time(row, 4)?,
        used: time_if_any(row, 5)?,
    })
}

/// The token of a hash.
pub(crate) fn token(conn: &Connection, hash: &Hash) -> rusqlite::Result<Option<TokenRow>> {
    let sql = format!("SELECT {TOKEN} FROM tokens WHERE hash = ?1");
    conn.prepare_cached(&sql)?.query_row([hash], token_row).optional()
}

/// All tokens, the oldest first.
pub(crate) fn tokens(conn: &Connection) -> rusqlite::Result<Vec<TokenRow>> {
    all(conn, &format!("SELECT {TOKEN} FROM tokens ORDER BY id"), [], token_row)
}
